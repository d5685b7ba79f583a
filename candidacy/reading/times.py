"""Years and months in a statement that tell of another time than the study's."""

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.clause_data import clause_data
from candidacy.reading.lexicon import lexicon
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import PRESENT

_LABEL = 6
"""The colon of such a label stands among so many words."""
_BESIDE = frozenset(("with", "to", "since", "as", "on", "than", "versus"))
"""With one of these a label only sets this study beside another: ``Comparison with prior MRI:``."""
_STAYED = ("persists", "comparison")


class LabelWords(NamedTuple):
    """Words of labels: for a study, for another one than this, and those with which they only set this one beside another."""

    scans: frozenset[str]
    with_scan: frozenset[str]
    beside: frozenset[str]


class _Times(NamedTuple):
    year: re.Pattern[str]
    months: frozenset[str]
    compares: frozenset[str]
    scans: frozenset[str]
    past: frozenset[str]
    told: frozenset[str]
    reach: int
    change: frozenset[str]
    before_year: frozenset[str]
    labels: frozenset[str]
    with_scan: frozenset[str]
    olds: frozenset[str]


@cache
def _times() -> _Times:
    spell = lexicon().spell
    data = clause_data()["times"]
    months, compares, scans, past, told = (
        frozenset(map(spell, data[n].split())) for n in ("months", "compares", "scans", "past", "told")
    )
    return _Times(
        re.compile(data["year"]), months, compares, scans, past, told, data["reach"],
        frozenset(data["change"].split()), frozenset(data["before_year"].split()),
        frozenset(map(spell, data["labels"].split())), frozenset(map(spell, data["with_scan"].split())),
        frozenset(map(spell, data["olds"].split())),
    )  # fmt: skip


def label_words() -> LabelWords:
    """Give the words by which a label tells of a study."""
    times = _times()
    return LabelWords(times.scans, times.with_scan, _BESIDE)


def other_times(parts: Parts, mentions: Sequence[Mention]) -> list[int]:
    """Give the tokens by which something else was seen at another time: ``a protrusion in 2019``, ``on the last scan``."""
    times = _times()
    words = parts.words
    found = [
        i
        for i, w in enumerate(words)
        if w in times.months
        or (len(w) == 4 and not w.isalpha() and times.year.fullmatch(w))
        or (w in times.olds and not times.scans.isdisjoint(words[i + 1 : i + 3]))
    ]
    label = _label(words, times)
    if label or not found:
        return label
    stayed = any(x.entry.kind in _STAYED for x in parts.mods) and times.told.isdisjoint(words)
    if stayed and len({m.value for m in mentions if m.kind == "displacement"}) < 2:
        return []
    this_study = times.past.isdisjoint(words[found[-1] :])
    return [
        i
        for i in found
        if times.compares.isdisjoint(words[max(0, i - times.reach) : i])
        and not (this_study and _heads(words, i, mentions, times.scans))
        and not _lasts(i, mentions)
    ]


def _label(words: Sequence[str], times: _Times) -> list[int]:
    """``Then: extrusion L5-S1``, ``First scan: extrusion``: a label that names another time."""
    at = words.index(":") if ":" in words[1:_LABEL] else 0
    told = [i for i, w in enumerate(words[:at]) if w in times.labels]
    if not told and not times.scans.isdisjoint(words[:at]) and _BESIDE.isdisjoint(words[:at]):
        told = [i for i, w in enumerate(words[:at]) if w in times.with_scan]
    return told


def _heads(words: Sequence[str], at: int, mentions: Sequence[Mention], scans: frozenset[str]) -> bool:
    """Say whether a date stands with the name of a study, in front of everything that was found."""
    return not scans.isdisjoint(words[:at]) and all(m.start > at for m in mentions)


def _lasts(at: int, mentions: Sequence[Mention]) -> bool:
    """Say whether a year is that of an operation or the like, which stays true: ``discectomy at L4-5 in 2018``."""
    before = [m for m in mentions if m.start < at]
    near = max(before, key=lambda m: m.start) if before else None
    return near.kind in LASTING if near is not None else all(m.kind in LASTING for m in mentions)


def years_of_change(words: Sequence[str], mentions: Sequence[Mention]) -> Iterator[int]:
    """``protrusion (bulge in 2018)``: a year, where two degrees of one thing are told."""
    times = _times()
    if len({str(m.value) for m in mentions if m.kind in times.change and m.status == PRESENT}) > 1:
        for i, word in enumerate(words[1:], 1):
            if times.year.fullmatch(word) and words[i - 1] in times.before_year:
                yield i
