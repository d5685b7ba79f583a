"""What a statement speaks of without a finding being made of it: which kinds, of which discs.

What another statement says of the same kind and disc may then not be all that the report says of it.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from candidacy.reading.elements import mapping
from candidacy.reading.lexer import Group
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
) -> list[Unsaid]:
    """List what a statement names and no finding of it holds; of the discs spoken of before where it names none."""
    discs = tuple(dict.fromkeys(d for g in groups for d in g.discs)) or tuple(last)
    if not discs:
        return []
    held = {i for m in mentions for i in range(m.start, m.end)}
    kinds = [m.kind for m in withdrawn]
    kinds += [h.entry.kind for h in parts.heads if h.start not in held]
    for a in parts.acts:
        if a.start not in held:
            near = [lex.pairs.get((a.entry.kind, o.entry.kind)) for o in parts.objs if o.start not in held]
            kinds += [p.kind for p in near if p is not None]
    known = mapping()["disc"]
    return [Unsaid(number, kind, discs) for kind in dict.fromkeys(kinds) if kind in known]


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
