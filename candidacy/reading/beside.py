"""Signs beside a finding that change what is said: a dash or a zero as its value, a stroke, ``was`` in brackets.

The signs are data (``clauses.yaml``); each becomes a letter of the row that the clause grammar reads.
"""

import itertools
from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.clause_data import clause_data
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.times import years_of_change

_EMPTY, _EITHER, _WAS = "b", "o", "y"
_SLIP = "listhesis"
"""Of grade 0 there is none at all; the grades of other things may begin there."""
_DESCRIBED = "sequestration"
"""A degree that a dash before it adds to the one before, as its nature."""
_THAN = "than"
_LEVEL = "<disc>"
_ENDS: tuple[list[str], ...] = ([], ["."], [","], [";"], [")"])
_PLUS = "+"
_LEAD = 3
_PAST = ("historical", "resolved")
"""What says so itself: ``which was previously a bulge``."""
_PARTS_CLAUSES = "terminate"
"""The kind of "which was", which holds none of its words."""
"""So many words may stand between ``was`` and what was."""


class _Signs(NamedTuple):
    empty: dict[str, tuple[tuple[str, ...], ...]]
    """By their first word."""
    lead: frozenset[str]
    close: frozenset[str]
    units: frozenset[str]
    stroke: frozenset[str]
    dash: frozenset[str]
    was: frozenset[str]
    opens: frozenset[str]
    graded: frozenset[str]
    zero: frozenset[str]
    ends: frozenset[str]
    sides: frozenset[str]
    between: frozenset[str]


@cache
def _signs() -> _Signs:
    data = clause_data()["beside"]
    named = (frozenset(data[name].split()) for name in _Signs._fields[1:])
    phrases = [tuple(p.split()) for p in data["empty"]]
    empty = {first: tuple(p for p in phrases if p[0] == first) for first in {p[0] for p in phrases}}
    return _Signs(empty, *named)


def beside(parts: Parts, mentions: Sequence[Mention]) -> dict[int, str]:
    """Give the tokens that are such signs, each with its letter."""
    signs, words = _signs(), parts.words
    found: dict[int, str] = {}
    signed = [m.end for m in mentions if m.kind != "known" and words[m.end : m.end + 1] == [_PLUS]]
    joined = {m.start for m in mentions}.issuperset(at + 1 for at in signed)
    for m in mentions:
        if m.kind != "known":
            if (
                signed
                and signs.dash.issuperset(words[m.end : m.end + 1])
                and words[m.end + 1 : m.end + 2] not in ([], ["ve"])
                and not (joined and _told_behind(parts, m.end + 1))
            ):
                found[m.end] = _EMPTY  # "fissure + at L4-5, fissure - at L5-S1"
                continue
            at = _empty(words, m, mentions, signs)
            at = _zero_of_a_side(words, m, signs) if at is None else at
            if at is not None:
                found[at] = _EMPTY
    if _LEVEL in words and any(m.kind != "known" for m in mentions):  # "bulge: L4-5 +, L5-S1 -"
        for i, (word, value) in enumerate(itertools.pairwise(words), 1):
            if word == _LEVEL and value in signs.dash and words[i + 1 : i + 2] in _ENDS:
                found[i] = _EMPTY
    if len(mentions) > 1:
        found.update(dict.fromkeys(_strokes(words, mentions, signs), _EITHER))
        found.update(dict.fromkeys(years_of_change(words, mentions), _WAS))
    if "grade" in words and any(m.kind != "known" for m in mentions):  # "slip: L3-4 grade 0, L4-5 grade 1"
        for i, (word, value) in enumerate(itertools.pairwise(words), 1):
            other = [m for m in mentions if m.kind != _SLIP and m.start <= i < m.end]
            if word == "grade" and value in signs.zero and not other:
                found[i] = _EMPTY
    if signs.was.isdisjoint(words):
        return found
    starts = {m.start for m in mentions} | {s for s, _, _ in parts.severities}
    held = {i for x in parts.mods if x.entry.kind != _PARTS_CLAUSES for i in range(x.start, x.end)}
    for i, word in enumerate(words[1:], 1):
        if word in signs.was and i not in held and words[i - 1] in signs.opens:
            ahead = range(i + 1, min(i + 1 + _LEAD, len(words)))
            told = any(x.start in ahead and x.entry.kind in _PAST for x in parts.mods)
            if not told and any(j in starts or words[j][0].isdigit() for j in ahead):
                found[i] = _WAS
    return found


def _told_behind(parts: Parts, at: int) -> bool:
    """``protrusion + canal stenosis - severe``: the dash leads to what is said of it, and the plus joins two."""
    return any(start == at for start, _, _ in parts.severities) or any(
        a.start == at for a in parts.attributes
    )


def _empty(words: Sequence[str], m: Mention, mentions: Sequence[Mention], signs: _Signs) -> int | None:
    """Find a dash, a zero or nothing at all where the value of a finding should stand."""
    if m.start and words[m.start - 1] in signs.zero and not any(x.start < m.start <= x.end for x in mentions):
        return m.start - 1  # "grade 0 stenosis"
    at = m.end
    while at < len(words) and words[at] in signs.lead:
        at += 1
    if at == len(words):
        return m.end if at > m.end and words[m.end] == ":" else None
    apart = at == m.end and words[at] == ","
    at += apart
    for phrase in signs.empty.get(words[at], ()) if at < len(words) else ():
        end = at + len(phrase)
        if tuple(words[at:end]) != phrase or any(x.start <= at < x.end for x in mentions):
            continue
        start = end
        while end < len(words) and words[end] in signs.units:
            end += 1
        if apart and (start == end or phrase[0] not in signs.zero):
            continue  # only "bulge, 0 mm" tells a value behind a comma
        if end == len(words) or words[end] in signs.close:
            return at
    return None


def _zero_of_a_side(words: Sequence[str], m: Mention, signs: _Signs) -> int | None:
    """``stenosis (R/L): 0/2``, ``stenosis R 0, L 1``: a zero among the values of the two sides."""
    sided = False
    for at in range(m.end, len(words)):
        word = words[at]
        if word in signs.zero and sided:
            return at
        sided |= word in signs.sides
        if not (word in signs.sides or word in signs.lead or word in signs.between or word[0].isdigit()):
            break
    return None


def _strokes(words: Sequence[str], mentions: Sequence[Mention], signs: _Signs) -> Iterator[int]:
    """``bulge/protrusion``, ``more bulge than protrusion``: two degrees of one thing with a stroke or "than" between, and no word that ends the first."""
    rows = sorted((m for m in mentions if m.kind in signs.graded), key=lambda m: m.start)
    for a, b in itertools.pairwise(rows):
        gap = words[a.end : b.start]
        marks = [
            a.end + i
            for i, w in enumerate(gap)
            if (w in signs.stroke and (len(gap) == 1 or not w.isalpha()))
            or (w == _THAN and gap[i - 1 : i] != ["rather"])
        ]
        if a.value != b.value and len(marks) == 1 and signs.ends.isdisjoint(gap):
            if words[marks[0]] in signs.dash and _DESCRIBED in (a.value, b.value):
                continue  # "protrusion - sequestrated"
            yield marks[0]
