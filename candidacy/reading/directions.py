"""Discs named by where they lie: ``above L4-5``, ``from L3 down``, ``L3-4 and above``, ``the level below``.

Where the words may mean the next disc or all of them, or how far something reaches, no disc is given.
"""

from collections.abc import Sequence

from candidacy.reading.levels import LUMBAR, ORDER
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT

ALL = ("*all",)
"""Stands for every lumbar disc until the whole report is read."""
_LIES = grammar("lies_beyond")
_SEVERAL = grammar("of_several")
_UP = grammar("upward")
_DOWN = grammar("downward")
_NONE = ("none", "absent")
_CLAUSE_ENDS = frozenset((",", ";", ":", ".", "and", "or", "but", "with", "while"))
_PARTS = frozenset(
    ("upper", "lower", "mid", "middle", "proximal", "distal", "cranial", "caudal", "superior", "inferior")
)
_OF_SPINE = frozenset(("spine", "lumbar", "level", "segment", "region", "column"))
_ENDS_AT = frozenset(("down", "up"))
_JOINED = frozenset(("and", "on"))
_BUT = frozenset(
    (":", "none", "but", "at", "anywhere", "is", "are", "seen", "present", "noted", "found", "the")
)
_AWAY = frozenset(("above", "below"))
_NEARLY = frozenset(("just", "immediately", "directly", "right", "slightly", "change", "changes"))
_ENDS = frozenset(("", ".", ",", ";", ")"))
_OPENS = frozenset((",", ":", "there", "is", "are", "a", "an", "lies"))
_STOPS = frozenset((";", "."))
BESIDE = frozenset(("beyond", "above", "below", "and_above", "and_below"))


NEXT = ("next_up", "next_down")
_GOES_ON = frozenset(
    (
        ",",
        ":",
        ";",
        ".",
        "there",
        "is",
        "are",
        "seen",
        "shows",
        "a",
        "an",
        "mild",
        "moderate",
        "severe",
        "no",
        "has",
    )
)


def of_a_range(p: Match, groups: Sequence[Group]) -> bool:
    """``From L1-2 down to L3-4``: the word lies in a range of levels and points nowhere."""
    return p.entry.kind == "beyond" and any(
        g.start < p.end < g.end or (g.start < p.start and p.end == g.end) for g in groups
    )


def next_to(parts: Parts, last: Sequence[str], p: Match) -> tuple[str, ...]:
    """``one level up``: the disc above the one spoken of, if it is one and nothing else tells which is meant."""
    following = parts.words[p.end : p.end + 1]
    said = any(p.end == row.start for rows in (parts.heads, parts.acts) for row in rows)
    if len(last) != 1 or last[0] not in LUMBAR or not (said or _GOES_ON.issuperset(following)):
        return ()
    at = LUMBAR.index(last[0]) + (1 if p.entry.kind == NEXT[1] else -1)
    return (LUMBAR[at],) if 0 <= at < len(LUMBAR) else ()


def neighbours(parts: Parts) -> list[Match]:
    """List the words by which a neighbour of a disc is told."""
    return [p for p in parts.places if p.entry.kind in NEXT]


def beyond(parts: Parts, discs: list[Group], bones: list[Group]) -> tuple[list[Group], list[Group]]:
    """Put the discs meant in place of each level that only says where they lie; perhaps none."""
    marks = [p for p in parts.places if p.entry.kind in BESIDE]
    if not marks:
        return discs, bones
    discs, bones = list(discs), list(bones)
    for p in marks:
        g, kind = _level_of(parts, p, (*discs, *bones))
        if g is None:
            continue
        behind = kind.startswith("and_")
        if not kind or (behind and not _closes(parts, p, g)):
            continue
        meant: tuple[str, ...] = ()
        if behind or _of_several(parts, p):
            meant = _there(g, kind.endswith("above"), behind)
        elif not _LIES.intersection(parts.words[max(0, p.start - 1) : p.end]) and not _ends_finding(parts, p):
            continue  # "endplate changes above the L4-5 disc" keep their level
        if not meant and (g in bones or p.entry.kind == "beyond"):
            continue
        discs = [d for d in discs if d.discs != ALL or d.end != p.start]  # "all discs above L4-5"
        rows = discs if g in discs else bones
        rows.remove(g)
        start = p.start if p.start <= g.start < p.end else g.start
        discs.append(Group(start, max(g.end, p.end), meant, ""))
    discs.sort()
    return discs, bones


def as_far_as(parts: Parts, bones: Sequence[Group], mentions: Sequence[Mention]) -> list[Mention]:
    """List denials that a vertebra or a part of the spine limits, which are not of all discs.

    ``Above L4 no herniation``, ``no contact with the L5 root``, ``no herniation in the upper lumbar spine``.
    """
    part = _names_a_part(parts.words)
    marks = [p for p in parts.places if p.entry.kind in BESIDE]
    return [
        m
        for m in mentions
        if not m.discs
        and not m.placed
        and m.scope == "disc"
        and (m.status == ABSENT or m.value in _NONE)
        and (
            part
            or any(_limits(parts, g, m, marks, mentions) for g in bones)
            or (m.obj == "root" and "<vert>" in parts.words[m.start : m.end])
        )
    ]


def beside_it(parts: Parts, mentions: Sequence[Mention]) -> list[Mention]:
    """List what lies above or below a disc that the statement names: ``bulge at L4-5 and fissure below``.

    The next disc or all of them may be meant, or a place behind a vertebra.
    """
    words = parts.words
    marks = [i for i, w in enumerate(words) if w in _AWAY]
    return [
        m
        for m in mentions if marks and m.scope == "disc"
        for i in marks
        if (m.end <= i and _NEARLY.issuperset(words[m.end : i]) and "".join(words[i + 1 : i + 2]) in _ENDS)
        or (
            i < m.start
            and (i == 0 or (words[i - 1] in _CLAUSE_ENDS and words[i - 2] != "<disc>"))
            and words[i + 1] in _OPENS
            and not any(w == "<disc>" or w in _STOPS for w in words[i + 1 : m.end])
            and (m.group is None or m.group.start < i)
        )
    ]  # fmt: skip


def but_there(parts: Parts, mentions: Sequence[Mention]) -> list[Mention]:
    """List what is denied but for the disc behind it: ``no bulge but at L4-5``, ``no fissure anywhere but L4-5``."""
    words = parts.words
    out: list[Mention] = []
    for m in mentions if "but" in words else ():
        if m.group is None or m.status != ABSENT or m.end >= m.group.start:
            continue
        between = words[m.end : m.group.start]
        ends = "".join(words[m.group.end : m.group.end + 1]) in _ENDS
        if (
            ends
            and between[:1]
            and between[-1] in ("but", "at")
            and "but" in between
            and _BUT.issuperset(between)
        ):
            out.append(m)
    return out


def _names_a_part(words: Sequence[str]) -> bool:
    return any(w in _PARTS and not _OF_SPINE.isdisjoint(words[i + 1 : i + 3]) for i, w in enumerate(words))


def _limits(parts: Parts, g: Group, m: Mention, marks: Sequence[Match], mentions: Sequence[Mention]) -> bool:
    if any(p.end <= g.start <= p.end + 1 or g.end <= p.start <= g.end + 1 for p in marks):
        return True
    low, high = min(m.end, g.end), max(m.start, g.start)
    starts = [x.start for x in mentions if x is not m] + [k.start for k in parts.known]
    others = any(low <= start < high for start in starts)
    beside = any(x is not m and g.end == x.start for x in mentions)  # "or L2 fracture"
    return not beside and not others and _CLAUSE_ENDS.isdisjoint(parts.words[low:high])


def _level_of(parts: Parts, p: Match, groups: Sequence[Group]) -> tuple[Group | None, str]:
    """Give the level beside a place, and which way the words point from it, as a kind of place or nothing."""
    kind = p.entry.kind
    words = parts.words[p.start : p.end]
    if kind == "beyond":
        inside = next((g for g in groups if g.start < p.end and p.start < g.end), None)
        up, down = (bool(known.intersection(words)) for known in (_UP, _DOWN))
        if inside is None and "<disc>" not in words:
            inside = next((g for g in groups if _follows(parts, p, g)), None)
        if inside is None:
            return None, kind
        way = "" if up == down else "above" if up else "below"
        if way and (words[-1] != "<disc>" and words[0] in ("from", "<disc>")):
            way = f"and_{way}"
        elif words[0] in _ENDS_AT and words[1:2] == ["to"]:
            way = ""  # "discs down to L3-4" end there
        elif {"one", "two"}.intersection(words):
            way = ""
        return inside, way
    if kind.startswith("and_"):
        return next((g for g in groups if _precedes(parts, p, g)), None), kind
    return next((g for g in groups if _follows(parts, p, g)), None), kind


def _follows(parts: Parts, p: Match, g: Group) -> bool:
    return p.end <= g.start and all(w in ("the", "level", "disc") for w in parts.words[p.end : g.start])


def _precedes(parts: Parts, p: Match, g: Group) -> bool:
    return g.end <= p.start <= g.end + 1 and _LIES.issuperset(parts.words[g.end : p.start])


def _closes(parts: Parts, p: Match, g: Group) -> bool:
    """``from L3 down``, ``at L3-4 and above``: nothing else follows that the word could belong to."""
    joined = parts.words[p.start] in _JOINED
    following = parts.words[p.end : p.end + 1]
    if p.entry.kind == "beyond":
        joined = not _JOINED.isdisjoint(parts.words[p.start : p.end])
        if "from" in parts.words[p.start : p.end]:
            return True
    ends = following in (
        [],
        [","],
        ["."],
        [";"],
        [":"],
        [")"],
        ["is"],
        ["are"],
        ["with"],
        ["without"],
        ["and"],
        ["there"],
    )
    return ends and (joined or "from" in parts.words[max(0, g.start - 2) : g.start])


def _of_several(parts: Parts, p: Match) -> bool:
    """Say whether all discs there are meant: a denial, or a subject of several."""
    before = parts.words[max(0, p.start - 1) : p.start] + parts.words[p.start : p.end]
    if _LIES.intersection(before):
        called = any(a.entry.kind == "normal" and a.end in (p.start - 1, p.start) for a in parts.acts)
        told = called or bool(_SEVERAL.intersection(parts.words))  # "normal discs above L4-5"
        return (parts.several or "any" in parts.words) and told
    denied = [m for m in parts.mods if m.entry.kind == "negation" and m.start < p.start]
    return bool(denied) and _ends_finding(parts, p)


def _ends_finding(parts: Parts, p: Match) -> bool:
    """``bulge above L4-5``: a displacement or a narrowing ends right before the word."""
    rows = [h for h in (*parts.heads, *parts.objs, *parts.acts) if h.end <= p.start]
    return bool(rows) and any(h.end == p.start and h.entry.group in ("findings", "actions") for h in rows)


def _there(g: Group, up: bool, itself: bool) -> tuple[str, ...]:
    if g.discs and any(d not in LUMBAR for d in g.discs):
        return ()
    if g.discs:
        first, last = (LUMBAR.index(g.discs[i]) for i in (0, -1))
        return LUMBAR[: last + 1 if itself else first] if up else LUMBAR[first if itself else last + 1 :]
    at = ORDER.index(g.vertebra)
    tops = [ORDER.index(d.split("-")[0]) for d in LUMBAR]
    return tuple(d for d, top in zip(LUMBAR, tops, strict=True) if (top < at if up else top >= at))
