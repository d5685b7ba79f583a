"""What a statement speaks of without a finding being made of it: which kinds, of which discs.

What another statement says of the same kind and disc may then not be all that the report says of it.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from candidacy.reading.elements import mapping
from candidacy.reading.levels import KEYS
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import Lexicon
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT, BODY, PRESENT, Contradiction, Finding

NOT_READ_BESIDE = "a clause about it was not read and may say otherwise"


class Unsaid(NamedTuple):
    """A kind of finding that a statement names, and the discs that it may be of."""

    statement: int
    kind: str
    discs: tuple[str, ...]


def unsaid(
    number: int,
    parts: Parts,
    groups: Sequence[Group],
    mentions: Sequence[Mention],
    withdrawn: Sequence[Mention],
    last: Sequence[str],
    lex: Lexicon,
    *,
    everywhere: bool = False,
) -> list[Unsaid]:
    """List what a statement names and no finding of it holds; of the discs spoken of before where it names none.

    ``everywhere``: it may correct what was said of any disc, as an addendum does (``The level of the stenosis is L4-5``).
    """
    discs = tuple(dict.fromkeys(d for g in groups for d in g.discs)) if groups else ()
    discs = KEYS if everywhere else discs or tuple(last)
    if not discs:
        return []
    kinds = [m.kind for m in withdrawn]
    kinds += [h.entry.kind for h in _not_held(parts.heads, mentions)]
    acts = _not_held(parts.acts, mentions)
    objs = _not_held(parts.objs, mentions) if acts else []
    for a in acts:
        near = [lex.pairs.get((a.entry.kind, o.entry.kind)) for o in objs]
        if everywhere and not objs:
            near = [pair for (act, _), pair in lex.pairs.items() if act == a.entry.kind]
        kinds += [p.kind for p in near if p is not None]
    if not kinds:
        return []
    known = mapping()["disc"]
    return [Unsaid(number, kind, discs) for kind in dict.fromkeys(kinds) if kind in known]


def _not_held(rows: Sequence[Match], mentions: Sequence[Mention]) -> list[Match]:
    out = []
    for x in rows:
        for m in mentions:
            if m.start <= x.start < m.end:
                break
        else:
            out.append(x)
    return out


def beside_unsaid(findings: Sequence[Finding], rows: Iterable[Unsaid]) -> tuple[Contradiction, ...]:
    """Raise what is said of a disc where another statement speaks of the same and was not read."""
    found: dict[tuple[str, str], set[int]] = {}
    for row in rows:
        for disc in row.discs:
            found.setdefault((disc, row.kind), set()).add(row.statement)
    out: list[Contradiction] = []
    for (disc, kind), statements in found.items():
        said = [f for f in findings if (f.disc, f.kind) == (disc, kind) and f.section in BODY]
        said = [f for f in said if f.status in (PRESENT, ABSENT)]
        if said and not statements.issubset({f.statement for f in said}):
            out.append(Contradiction(NOT_READ_BESIDE, disc, kind, tuple(said)))
    return tuple(out)
