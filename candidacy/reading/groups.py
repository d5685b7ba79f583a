"""Level names of a statement: which are discs, which head it, and where a vertebra points to."""

from collections.abc import Sequence

from candidacy.reading.directions import ALL, beyond
from candidacy.reading.levels import ORDER, above, below, between
from candidacy.reading.lexer import Group, Tokens
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

OTHERS = ("*others",)
"""Stands for the lumbar discs not otherwise described."""

LUMBOSACRAL = ("*lumbosacral",)
"""Stands for the lowest lumbar disc, L5-S1 or L6-S1 where there are six."""

_LOWEST = (("L5-S1",), ("L6-S1",))
_OVER = grammar("over")
LEAD_IN = grammar("lead_in")
_LEAD_OUT = grammar("lead_out")
_LOWER = frozenset(("inferior", "lower"))
_ENDS = _LOWER | {"superior", "upper"}
"""Words for the two endplates of a vertebra."""
_NEAR_BONE = 9
"""So many words before a vertebra may lie its endplate's word, other vertebrae listed between."""
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
        elif (
            p.entry.kind == "lumbosacral"
            and _BESIDE.isdisjoint(parts.words[max(0, p.start - 2) : p.start])
            and not any(g.discs in _LOWEST for g in discs)
        ):
            discs.append(Group(p.start, p.end, LUMBOSACRAL, ""))
    discs.sort()
    return beyond(parts, discs, bones)


_BESIDE = frozenset(("above", "below", "cranial", "cephalad", "proximal"))
"""Before "the lumbosacral junction": the disc is another one."""


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


def written_as_vertebrae(tokens: Tokens, mentions: Sequence[Mention]) -> None:
    """``Schmorl nodes L1,2``: two vertebrae in a list as well as a disc, so a defect of theirs is at no disc that is told."""
    for m in mentions:
        if m.kind == "endplate_defect" and m.group is not None:
            raw = [t[0] for t in tokens.found[m.group.start : m.group.end]]
            if any("," in r and r != "," for r in raw):
                set_place(m, (), "left_out")


def _endplate(parts: Parts, bones: list[Group], m: Mention) -> None:
    words = parts.words
    found: list[str] = []
    for number, g in enumerate(bones):
        floor = bones[number - 1].end if number else 0
        sides = _sides_of(words, g, floor)
        while not sides and number + 1 < len(bones) and _listed(words, bones[number], bones[number + 1]):
            number += 1  # "L2, L3 and L4 superior endplates"
            sides = _sides_of(words, bones[number], bones[number].start)
        for side in sides:
            found.append(below(g.vertebra) if side in _LOWER else above(g.vertebra))
    if (
        not found and len(bones) == 2 and m.kind != "endplate_defect"
    ):  # a node at L1 and one at L2 face no common disc
        a, b = (ORDER.index(g.vertebra) for g in bones)
        if b == a + 1 and "and" in words[bones[0].end : bones[1].start]:
            found = [f"{bones[0].vertebra}-{bones[1].vertebra}"]
    discs = tuple(dict.fromkeys(d for d in found if d))
    if discs:
        set_place(m, discs, "vertebra", bones[0])


def _listed(words: Sequence[str], a: Group, b: Group) -> bool:
    return all(w in (",", "and", "/", "&") for w in words[a.end : b.start])


def _sides_of(words: Sequence[str], g: Group, floor: int) -> list[str]:
    """Give the endplates that are named for a vertebra: behind it (``L1 inferior``), before it, or before those listed with it.

    ``floor`` is where the vertebra named before it ends.
    """
    behind = words[g.end : g.end + 3]
    if behind and behind[0] in _ENDS:
        return _joined(words, g.end)
    for low in (floor, max(0, g.start - _NEAR_BONE)):
        at = next((i for i in range(g.start - 1, low - 1, -1) if words[i] in _ENDS), -1)
        if at >= 0:
            return _joined(words, at - 2 if at > 1 and words[at - 2] in _ENDS else at)
        if floor == g.start:
            break
    at = next((i for i, w in enumerate(behind, g.end) if w in _ENDS), -1)
    return _joined(words, at) if at >= 0 else []


def _joined(words: Sequence[str], at: int) -> list[str]:
    """``superior and inferior``: one endplate, or both."""
    both = len(words) > at + 2 and words[at + 1] in ("and", "/", "&") and words[at + 2] in _ENDS
    return [words[at], *([words[at + 2]] if both else [])]
