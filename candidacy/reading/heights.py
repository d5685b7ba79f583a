"""Height that is lost by a vertebra, not by a disc: ``compression fracture of L1 with 30 % height loss``."""

from collections.abc import Sequence

from candidacy.reading.lexer import Group
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

_BONE = grammar("of_bone")
_DISC = grammar("of_disc")
_DISC_KINDS = frozenset(("displacement", "desiccation", "annular_fissure", "listhesis", "endplate_change"))
_STOPS = frozenset((";", "."))
_FAR = 10_000


def of_vertebrae(parts: Parts, groups: Sequence[Group], mentions: Sequence[Mention]) -> list[Mention]:
    """Give the heights of which the nearest thing named is a vertebra or a fracture; they make no finding."""
    words = parts.words
    if not any(m.kind == "height_loss" for m in mentions):
        return []
    if _BONE.isdisjoint(words) and not any(g.vertebra for g in groups):
        return []
    bone = [i for i, w in enumerate(words) if w in _BONE and words[i + 1 : i + 2] != ["endplate"]]
    disc = [i for i, w in enumerate(words) if w in _DISC]
    disc += [m.start for m in mentions if m.kind in _DISC_KINDS]
    slips = any(m.kind == "listhesis" for m in mentions)  # "L5 on S1" names a disc then
    for g in groups:
        if g.discs or slips:
            disc.append(g.start)
        elif g.vertebra:
            bone.append(g.start)
    lost = [
        m
        for m in mentions
        if m.kind == "height_loss"
        and m.obj != "disc"
        and _DISC.isdisjoint(words[m.start : m.end])
        and (_away(m, bone, words) < _away(m, disc, words) or _of_a_bone(m, groups, words))
    ]
    for m in lost:
        m.kind = "known"
    return lost


def _of_a_bone(m: Mention, groups: Sequence[Group], words: Sequence[str]) -> bool:
    """``L4-5: reduced height of L4``: its vertebra stands right behind it."""
    at = m.end + (words[m.end + 1 : m.end + 2] == ["the"]) + 1
    return words[m.end : m.end + 1] == ["of"] and any(g.vertebra and g.start == at for g in groups)


def _away(m: Mention, places: Sequence[int], words: Sequence[str]) -> int:
    """How many words off the nearest of some places is, within its own clause."""
    return min((_between(m, i, words) for i in places), default=_FAR)


def _between(m: Mention, at: int, words: Sequence[str]) -> int:
    low, high = (at, m.start) if at < m.start else (m.end, at + 1)
    return _FAR if not _STOPS.isdisjoint(words[low:high]) else high - low
