"""What a note of a block or an injection says: of blocks their result, of other injections an entry of the list."""

from collections.abc import Sequence

from candidacy.reading.model import Span
from candidacy.reading.notes.model import INJECTION, PATIENT, Clause, Said
from candidacy.reading.notes.vocabulary import items, words_for

_BLOCKS = {"facet": "facet_block", "sacroiliac": "sacroiliac_block"}
_SKIPPED = ("history", "comparison", "plan")


def of_procedure(
    text: str, rows: Sequence[Clause], said: list[tuple[Said, int]]
) -> tuple[list[tuple[Said, int]], str]:
    """Name the elements of one procedure; a note of several, or of none that is known, gives nothing but its reason."""
    found: dict[str, tuple[Span, int]] = {}
    discs: dict[str, None] = {}
    undone = False
    for n, clause in enumerate(rows):
        if clause.section in _SKIPPED:
            continue
        row = items(text, *clause.span)
        if any(i.role(name) for i in row for name in ("past", "mood", "others")):
            continue
        undone |= any(i.role("undone") for i in row)
        for item in row:
            role = item.role("procedures")
            if role is not None:
                found.setdefault(role.value, (Span(item.start, item.end), n))
                if not discs:
                    discs.update(dict.fromkeys(d for i in row for r in i.roles_of("discs") for d in r.value))
    if undone:
        return [], "the procedure was broken off or was not done"
    if not found:
        return [], "which block or injection it was is not told in words that are known"
    if len(found) > 1:
        return (
            [],
            f"several procedures in one note ({', '.join(sorted(found))}): which values belong to which is open",
        )
    if len({str(s.form["value"]) for s, _ in said if s.element == "date" and "value" in s.form}) > 1:
        return [], "several days in one note: which values belong to which is open"
    kind, (span, at) = next(iter(found.items()))
    if kind == "radiofrequency":
        return [], "radiofrequency treatment is no injection and is not read from notes"
    steroid = any(s.element == "steroid" and s.form == {"value": True} for s, _ in said)
    if kind in _BLOCKS and not steroid:
        return _block(_BLOCKS[kind], said), ""
    return _injection(text, kind, span, at, tuple(discs), said), ""


def _lasting(said: Sequence[tuple[Said, int]]) -> str:
    found = [s.form["value"] for s, _ in said if s.element == "duration"]
    return f"relief lasted {found[0]}" if len(found) == 1 else ""


def _block(stem: str, said: list[tuple[Said, int]]) -> list[tuple[Said, int]]:
    names = {"date": f"{stem}_date", "relief": f"{stem}_relief", "result": f"{stem}_result"}
    out = []
    for one, n in said:
        if one.element in names and one.subject == PATIENT:
            note = "; ".join(w for w in (one.note, _lasting(said) if one.element == "relief" else "") if w)
            out.append((one._replace(element=names[one.element], note=note), n))
    return out


def _injection(
    text: str, kind: str, span: Span, at: int, discs: tuple[str, ...], said: list[tuple[Said, int]]
) -> list[tuple[Said, int]]:
    code = kind
    if kind == "facet":
        words = text[span.start : span.end].lower()
        code = "medial_branch_block" if words_for("medial_branch") & set(words.split()) else "facet"
    named = words_for("named_for_steroid") & set(text[span.start : span.end].lower().split())
    plain = kind == "epidural_steroid" and not named
    given = any(s.element == "steroid" and s.form == {"value": True} for s, _ in said)
    out: list[tuple[Said, int]] = []
    if given or not plain:
        out.append((Said(INJECTION, "injection_kind", {"value": code}, span, ""), at))
    names = {
        "date": "injection_date",
        "relief": "injection_relief",
        "steroid": "injection_contained_steroid",
        "side": "injection_side",
    }
    for one, n in said:
        if one.element in names:
            note = "; ".join(w for w in (one.note, _lasting(said) if one.element == "relief" else "") if w)
            out.append((one._replace(subject=INJECTION, element=names[one.element], note=note), n))
    if discs and kind in ("epidural_steroid", "selective_nerve_root"):
        out.append((Said(INJECTION, "injection_levels", {"value": list(discs)}, span, ""), at))
    return out
