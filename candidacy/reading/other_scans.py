"""Passages of another study in a report that tells of several: ``Prior MRI: ... Current MRI: ...``, ``MRI 2020: ... MRI today: ...``.

Which of the sentences behind such a label belong to it is only told where a label of today's study stands in the report as well.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.levels import PATTERN
from candidacy.reading.model import BODY, Statement
from candidacy.reading.times import label_words

SECTION = "comparison"
_LABEL = re.compile(r"(?:^|(?<=[.;\n]))[ \t]*(?P<label>[A-Za-z][^.:;\n]{1,38}):(?=(?P<rest>[^\n]{0,80}))")
_HEAD = re.compile(r"(?:findings|impression|conclusions?|summary|opinion|addendum)\b", re.IGNORECASE)
_WORD = re.compile(r"[a-z]+|(?:19|20)\d\d")
_TODAY = frozenset(("today", "todays", "current", "currently", "now", "present"))
_ON = frozenset(("on",))
_STAYS = re.compile(r"\b(?:now|today|currently|still|unchanged|remains?|persist\w*)\b", re.IGNORECASE)
_LEVEL = re.compile(PATTERN)
_BLANK = re.compile(r"\S[^\n]*\n[ \t]*(?:\n|$)")


class _Label(NamedTuple):
    start: int
    end: int
    words: frozenset[str]
    year: str
    scan: bool
    content: bool


def of_other_scans(text: str, rows: Sequence[Statement]) -> list[Statement]:
    """Put the statements of another study, where this one has its own label, among those of a comparison."""
    labels = [found for m in _LABEL.finditer(text) if (found := _label(m)) is not None]
    today = [k for k in labels if _of_today(k)]
    years = {k.year for k in labels if k.scan and k.year}
    if not (today or len(years) > 1):
        return list(rows)
    newest = "" if today else max(years)
    spans = [
        (k.start, _end(text, k, labels[n:]))
        for n, k in enumerate(labels, 1)
        if k.scan and k not in today and (k.words & label_words().with_scan or (k.year and k.year != newest))
    ]
    return [
        r._replace(section=SECTION)
        if r.section in BODY
        and any(a <= r.start < b for a, b in spans)
        and not _STAYS.search(text, r.start, r.end)
        else r
        for r in rows
    ]


def _label(m: re.Match[str]) -> _Label | None:
    """Give a label that names a study, a day or a part of the report."""
    words = frozenset(_WORD.findall(m["label"].lower().replace("'", "")))
    known = label_words()
    scan = not words.isdisjoint(known.scans)
    if words & (known.beside - _ON) or not (scan or words <= _TODAY or _HEAD.match(m["label"])):
        return None
    if not scan and words <= _TODAY and not _LEVEL.search(m["rest"]):
        return None
    year = max((w for w in words if w.isdigit()), default="")
    return _Label(m.start("label"), m.end("label"), words, year, scan, bool(m["rest"].strip()))


def _of_today(k: _Label) -> bool:
    return not k.words.isdisjoint(_TODAY)


def _end(text: str, k: _Label, behind: Sequence[_Label]) -> int:
    """Say where the passage of a label ends: at the next one, or else with its line or block."""
    if behind:
        return behind[0].start
    if k.content:
        return (text.find("\n", k.end) + 1 or len(text) + 1) - 1
    blank = _BLANK.search(text, k.end + 1)
    return blank.end() if blank is not None else len(text)
