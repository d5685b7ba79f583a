"""What one clause says of its discs: labels, numbers and words brought together, each used once.

Whatever weighs and is not used takes back what stands beside it: a number without its label, a denial of nothing, a
doubt. The clause is cut into stretches, one for each disc it names, and these at commas.
"""

import re
from functools import cache

from candidacy.reading.model import Span
from candidacy.reading.notes.cells import cell
from candidacy.reading.notes.model import Said
from candidacy.reading.notes.places import stretches
from candidacy.reading.notes.quantities import Part, parts_of
from candidacy.reading.notes.settle import read_stretch
from candidacy.reading.notes.stretch import Bound, Stretch
from candidacy.reading.notes.vocabulary import items, words_for
from candidacy.reading.renamed import renames

OF_OTHERS = "of the other discs"


def bind(
    text: str,
    span: Span,
    discs: tuple[str, ...],
    kind: str,
    anaesthetic: bool,
    label: str = "",
    unit: str = "",
) -> Bound:
    """Read one clause.

    Parameters
    ----------
    discs
        The disc that the place of the clause gives it, where it names none itself.
    anaesthetic
        The note is of an anaesthetic test of discs.
    label, unit
        Of the column, for a cell; elsewhere ``unit`` is the one that the note gives for all its pressures.
    """
    parts = parts_of(items(text, *span))
    if _all_but().search(text, span.start, span.end) and _weighs(parts):
        return Bound([], [(span, "an exception is made")])
    if len(renames(text[span.start : span.end]) or ()) > 1 and _weighs(parts):
        return Bound([], [(span, "a disc is given another name")])
    for name, why in (
        ("past", "of an earlier time"),
        ("mood", "not said to be so"),
        ("others", "of another person or place"),
        ("exceptions", "an exception is made"),
        ("other_discs", OF_OTHERS),
        *(
            [("another_time", "of another time than the injection")]
            if kind == "discography" and not anaesthetic
            else []
        ),
    ):
        if any(p.is_(name) for p in parts) and not (name == "another_time" and _of_a_drug(parts)):
            return Bound([], [(span, why)] if _weighs(parts) else [])
    questioned = bool(parts) and parts[-1].item.text == "?"
    if (questioned or any(p.is_("hedges_all") for p in parts)) and (label or _weighs(parts)):
        return Bound([], [(span, "doubted")])
    if label:
        return cell(text, parts, span, discs, kind, anaesthetic, label, unit)
    if any(p.is_("compare") for p in parts) and any(p.is_("discs") for p in parts):
        return Bound([], [(span, "compares discs")] if _weighs(parts) else [])
    said: list[Said] = []
    missed: list[tuple[Span, str]] = []
    rows = stretches(parts, discs)
    if rows is None:
        return Bound([], [(span, "which value belongs to which disc is open")])
    for row, subjects in rows:
        some = read_stretch(Stretch(row, subjects, kind, anaesthetic, unit))
        said += some.said
        missed += some.missed
    return Bound(said, missed)


@cache
def _all_but() -> re.Pattern[str]:
    """``All but L4-5``, ``each of the injected discs but L4-5``."""
    every, among, out = ("|".join(sorted(words_for(n))) for n in ("of_all", "among_all", "leaves_out"))
    return re.compile(rf"\b(?:{every})(?:\s+(?:{among})){{0,5}}\s+(?:{out})\b", re.IGNORECASE)


def _of_a_drug(parts: list[Part]) -> bool:
    """An antibiotic counts whenever it was given."""
    return any("drug" in r.value for p in parts if p.low is None for r in p.item.roles_of("say"))


def _weighs(parts: list[Part]) -> bool:
    return any(p.low is not None or p.is_("say") or (p.is_("label") and not p.is_filler()) for p in parts)
