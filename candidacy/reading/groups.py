"""Level names of a statement: which are discs, which head it, and where a vertebra points to."""

from collections.abc import Sequence

from candidacy.reading.directions import ALL, beyond
from candidacy.reading.levels import ORDER, above, below, between
from candidacy.reading.lexer import Group
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

OTHERS = ("*others",)
"""Stands for the lumbar discs not otherwise described."""

LUMBOSACRAL = ("*lumbosacral",)
"""Stands for the lowest lumbar disc, L5-S1 or L6-S1 where there are six."""

_OVER = grammar("over")
LEAD_IN = grammar("lead_in")
_LEAD_OUT = grammar("lead_out")
_SLIP = 8
"""So many words may stand between two vertebrae of which one has slipped: ``L2 lies 3 mm behind L3``."""


def groups_of(parts: Parts, groups: list[Group]) -> tuple[list[Group], list[Group]]:
    """Sort level names into discs and vertebrae; a slip of one vertebra on the next is a disc."""
    if not parts.places and all(g.discs for g in groups):
        return groups, []
    discs: list[Group] = []
    bones: list[Group] = []
    covered = [(o.start, o.end) for o in parts.objs if o.entry.kind == "root"]
    landmarks = [p.start for p in parts.places if p.entry.kind == "landmark"]
    words = parts.words
    at = 0
    while at < len(groups):
        g = groups[at]
        at += 1
        if covered and any(s <= g.start < e for s, e in covered):
            continue
        if landmarks and any(0 <= g.start - m <= 10 for m in landmarks):
            continue
        if g.discs:
            discs.append(g)
            continue
        if at < len(groups) and groups[at].vertebra:
            h = groups[at]
            gap = words[g.end : h.start]
            if len(gap) <= _SLIP and any(w in _OVER for w in gap) and "and" not in gap:
                joined = between(g.vertebra, h.vertebra)
                if len(joined) == 1:
                    discs.append(Group(g.start, h.end, joined, ""))
                    at += 1
                    continue
        bones.append(g)
    for p in parts.places:
        if p.entry.kind == "all_levels":
            discs.append(Group(p.start, p.end, ALL, ""))
        elif p.entry.kind == "other_levels":
            discs.append(Group(p.start, p.end, OTHERS, ""))
        elif p.entry.kind == "lumbosacral":
            discs.append(Group(p.start, p.end, LUMBOSACRAL, ""))
    discs.sort()
    return beyond(parts, discs, bones)


def heading_of(parts: Parts, discs: list[Group]) -> tuple[Group | None, int]:
    """Give the group that heads the statement (``L4-L5:``, ``L4-5 level -``) and where its content begins."""
    if not discs or not discs[0].discs or not LEAD_IN.issuperset(parts.words[: discs[0].start]):
        return None, 0
    words = parts.words
    at = discs[0].end
    while at < len(words) and words[at] in _LEAD_OUT:
        at += 1
    if at == len(words):
        return discs[0], at
    if words[at] in (":", "-", "–", "—", "--", "|"):
        return discs[0], at + 1
    return None, 0


def set_place(m: Mention, discs: tuple[str, ...], placed: str, group: Group | None = None) -> None:
    """Give a mention its discs and say how they were found."""
    m.discs = discs
    m.placed = placed
    m.group = group


def kind_of_group(g: Group) -> str:
    """Name the way in which a group names its discs."""
    if not g.discs:
        return "left_out"
    if g.discs == ALL:
        return "all_levels"
    if g.discs == OTHERS:
        return "other_levels"
    return "named" if len(g.discs) == 1 else "list"


def place_by_vertebra(
    parts: Parts, bones: list[Group], mentions: Sequence[Mention], groups: list[Group]
) -> None:
    """Place a slip or an endplate finding named by its vertebra: a slip lies below it, an endplate tells its side."""
    if not bones:
        return
    for m in mentions:
        if m.kind in ("listhesis", "pars_defect"):
            if groups and m.discs:
                continue
            g = min(bones, key=lambda b: abs(b.start - m.start))
            disc = below(g.vertebra)
            if disc:
                set_place(m, (disc,), "vertebra", g)
        elif m.kind in ("endplate_change", "modic", "endplate_defect") and not groups:
            _endplate(parts, bones, m)


def _endplate(parts: Parts, bones: list[Group], m: Mention) -> None:
    words = parts.words
    found: list[str] = []
    for g in bones:
        around = words[max(0, g.start - 5) : g.start] + words[g.end : g.end + 3]
        if "inferior" in around or "lower" in around:
            found.append(below(g.vertebra))
        elif "superior" in around or "upper" in around:
            found.append(above(g.vertebra))
    if not found and len(bones) == 2:
        a, b = (ORDER.index(g.vertebra) for g in bones)
        if b == a + 1 and "and" in words[bones[0].end : bones[1].start]:
            found = [f"{bones[0].vertebra}-{bones[1].vertebra}"]
    discs = tuple(dict.fromkeys(d for d in found if d))
    if len(discs) == 2 and len(bones) == 2:
        low, high = below(bones[0].vertebra), above(bones[1].vertebra)
        if low == high:
            discs = (low,)
    if discs:
        set_place(m, discs, "vertebra", bones[0])
