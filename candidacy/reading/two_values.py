"""One thing told twice with different values: normal and not, turned into another degree, a grade that is another's."""

import itertools
import re
from collections.abc import Sequence
from functools import cache

from candidacy.reading.clause_data import clause_data
from candidacy.reading.grades import ROMAN
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import HISTORICAL, PRESENT

_TODAY = grammar("today")
_GRADED = frozenset(
    ("pfirrmann_grade", "modified_pfirrmann_grade", "endplate_change", "schizas_grade", "meyerding_grade")
)
EVERYWHERE = frozenset(("throughout", "everywhere", "elsewhere", "otherwise", "generally"))
_GRADES_AGAIN = re.compile(r"[1-5](?:[-–/][1-5])?")
_ARROWS = frozenset((">", "→", "⇒", "➔", "➜"))
_DASHES = frozenset(("-", "--", "–", "—", "=", "=="))
_COMPARES = _ARROWS | {"<"}
_CUES = grammar("grade_cue")
_SIGNS = _COMPARES | _DASHES | _CUES
_OF_TWO_DEGREES = _GRADED | {"displacement"}
_UNITS = grammar("unit")
_ROMAN = frozenset(map(str.lower, ROMAN[1:]))
_JOINS = ([","], ["and"], ["&"], ["but"])
_BEHIND_GRADE = frozenset((",", ";", ".", "and", "&", "at", "in", "from", "for", "<disc>", "change"))
_TO_LEVEL = frozenset(("at", "in", "of", "the", "level", "disc"))
_INTO = (["to"], ["into"])
_ALSO_ELSE = frozenset(("change", "now"))


def normal_and_not(mentions: Sequence[Mention]) -> list[Mention]:
    """List what calls a disc normal and what says in the same statement that it is displaced."""
    if len(mentions) < 2:
        return []
    rows = [m for m in mentions if m.kind == "displacement" and m.status == PRESENT]
    normal = [m for m in rows if m.value == "none"]
    if not normal:
        return []
    other = [m for m in rows if m.value != "none"]
    hit = [(n, x) for n in normal for x in other if set(n.discs) & set(x.discs)]
    return list(dict.fromkeys(m for pair in hit for m in pair))


@cache
def _turns() -> frozenset[str]:
    return frozenset(map(lexicon().spell, clause_data()["turned"].split()))


_THERE_WAS = frozenset((("there", "was"), ("there", "were"), ("there", "had")))
_THERE_IS = frozenset((("there", "is"), ("there", "are"), ("is", "now"), ("are", "now")))
_NEAR_WAS = 4


def turned(words: Sequence[str], mentions: Sequence[Mention]) -> list[Mention]:
    """List what has become another degree of itself: ``decrease of the extrusion, now a protrusion``, ``Modic 2, converted to 1``.

    Of anything but a displacement only the words that mean nothing else count ("Modic 1 changes and Modic 2").
    """
    if len(mentions) < 2:
        return []
    rows = [m for m in mentions if m.status == PRESENT and m.value != "none" and m.kind not in LASTING]
    return [
        a
        for a, b in itertools.pairwise(rows)
        if a.kind == b.kind
        and a.value != b.value
        and set(a.discs) & set(b.discs)
        and (_tells_of_turning(words[a.end : b.start], a.kind) or _was_and_is(words, a, b))
    ]


def _was_and_is(words: Sequence[str], a: Mention, b: Mention) -> bool:
    """``There was an extrusion; there is a bulge``: the first is of another time."""
    before = list(itertools.pairwise(words[: a.start]))[-_NEAR_WAS:]
    between = list(itertools.pairwise(words[a.end : b.start]))
    return not _THERE_WAS.isdisjoint(before) and not _THERE_IS.isdisjoint(between)


def _tells_of_turning(words: Sequence[str], kind: str) -> bool:
    turns = _turns() if kind == "displacement" else _turns() - _ALSO_ELSE
    return not turns.isdisjoint(words) or ("change", "to") in itertools.pairwise(words)


def turned_into_unread(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Modic 1 (since converted to II)``: it has become something that no finding holds."""
    if m.status != PRESENT or m.kind not in _GRADED or any(k.start >= m.end for k in mentions):
        return False
    words = parts.words
    return any(w in _turns() and words[i + 1 : i + 2] in _INTO for i, w in enumerate(words) if i >= m.end)


def becomes(words: Sequence[str], at: int) -> bool:
    """Say whether an arrow to another value stands at a token: ``Pfirrmann 3 -> 4``."""
    signs = words[at : at + 2]
    arrow = signs[:1] and (signs[0] in _ARROWS or (signs[0] in _DASHES and signs[1:] == [">"]))
    at += 2 if signs[:1] and signs[0] in _DASHES else 1
    at += "".join(words[at : at + 1]) in _CUES  # "type 2 > type 1"
    behind = words[at : at + 1]
    return bool(arrow) and bool(behind) and (behind[0][0].isdigit() or behind[0] in _ROMAN)


def has_become(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """A grade with an arrow to another behind it: which of the two is today's is not asserted."""
    return m.kind in _GRADED and becomes(parts.words, m.end)


def beside_a_sign(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Modic 2 > Modic 1``, ``bulge > protrusion``: more of one than of the other, or the one turned into the other."""
    if m.status != PRESENT or m.kind not in _OF_TWO_DEGREES or _COMPARES.isdisjoint(parts.words):
        return False
    if m.kind in _GRADED and parts.words[m.end : m.end + 1] == ["<"]:
        behind = parts.words[m.end + 1 : m.end + 3]
        if behind and _GRADES_AGAIN.fullmatch(behind[0]) and not _UNITS.intersection(behind[1:]):
            return True
    return any(
        x.kind == m.kind
        and x.value != m.value
        and set(x.discs) & set(m.discs)
        and _only_signs(parts.words[min(x.end, m.end) : max(x.start, m.start)])
        for x in mentions
    )


def _only_signs(words: Sequence[str]) -> bool:
    return not _COMPARES.isdisjoint(words) and _SIGNS.issuperset(words)


def graded_for_today(m: Mention, parts: Parts) -> bool:
    """``Previously mild stenosis at L3-4, now severe at L4-5``: the later grade is none of an earlier time."""
    if m.severity_at is None:
        return False
    grade = m.severity_at[0]
    return any(
        x.entry.kind == "historical" and not _TODAY.isdisjoint(parts.words[x.end : grade]) for x in m.mods
    )


def goes_on_today(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``The previously described extrusion now measures 4 mm``: it is told of an earlier time, and what of it is left today."""
    if m.status != HISTORICAL or m.kind in LASTING or _TODAY.isdisjoint(parts.words[m.end :]):
        return False
    if any(graded_for_today(k, parts) for k in mentions):
        return False  # told already
    return not any(k.start >= m.end and k.kind == m.kind for k in mentions)


def graded_and_denied(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Foramina: mild left, no right narrowing``: a grade of one side and a denial of the other in one finding."""
    at = m.severity_at
    if at is None or not m.mods:
        return False
    inner = [x.start for x in m.mods if x.entry.kind == "negation" and m.start < x.start < m.end]
    return any(m.start < at[0] < start for start in inner)


def holds_another_grade(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Foramina: mild right, moderate left stenosis``: a second grade within the words of one that no finding took."""
    if m.severity_at is None or not m.severity_graded:
        return False
    used = {x.severity_at for x in mentions}
    return any(
        m.start <= s and e <= m.end and v != m.severity and (s, e) not in used for s, e, v in parts.severities
    )


def graded_throughout(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Pfirrmann 2 throughout, 4 at L5-S1``: a grade of all is not the one of the level behind it."""
    if m.group is None or m.group.start < m.end or m.kind not in _GRADED:
        return False
    return not EVERYWHERE.isdisjoint(parts.words[m.end : m.group.start])


def lists_more_grades(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Pfirrmann 3, 4 at L4-5 and L5-S1``, ``Pfirrmann 4 (3-4)``, ``not Modic 1 but 2``: which disc has which grade is not said, or not read."""
    words, at = parts.words, m.end + 1
    if m.kind in _GRADED and words[m.end : at] == ["("] and words[at + 1 : at + 2] == [")"]:
        return bool(_GRADES_AGAIN.fullmatch(words[at])) and words[at] != words[m.end - 1]
    if m.kind not in _GRADED or words[m.end : at] not in _JOINS or at >= len(words):
        return False
    if not words[at].isdigit() or len(words[at]) > 1 or any(x.start <= at < x.end for x in mentions):
        return False
    return words[at + 1 : at + 2] == [] or words[at + 1] in _BEHIND_GRADE


def has_the_side_of_another(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """``Left foraminal stenosis at L4-5, right at L5-S1``: a level with a side of its own does not have the one before."""
    if not m.sides or m.group is None:
        return False
    starts = {x.group.start for x in mentions if x.group is not None}
    for a in parts.attributes if len(starts) > 1 else ():
        at = a.end
        while parts.words[at : at + 1] and parts.words[at] in _TO_LEVEL:
            at += 1
        if a.entry.kind == "side" and a.start == m.group.end and not set(m.sides) <= set(a.entry.value):
            return True  # "bilateral stenosis, severe L5-S1 left, mild L5-S1 right"
        if a.entry.kind != "side" or at not in starts:
            continue
        if at == m.group.start:
            if set(a.entry.value) != set(m.sides):
                return True
        elif m.start <= a.start < m.end and set(a.entry.value) <= set(m.sides):
            return True
    return False
