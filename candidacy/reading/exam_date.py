"""The day of the study, where the words of a report give it; any doubt becomes a question, never a day."""

import re
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import cache
from typing import Any, NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.day_order import order_said
from candidacy.reading.model import ExamDate, Question, Reading, Span, Statement
from candidacy.reading.phrases import any_of

_NOT_HERE = frozenset(("comparison", "history", "recommendation"))
"""Sections whose days are those of other studies or events."""
_LONGEST = 300
"""Words further than this before a day say nothing of it."""
_YEAR = r"(?:\d{4}|\d{2})"
_WORD = re.compile(r"[a-z]+|\d+", re.IGNORECASE)
_GAP = r"[\s/._-]+"
_STOP = re.compile(r"\n[ \t]*\n|[.;!?](?=\s)|\|")


class _Written(NamedTuple):
    """A day as written: where, and the days it may be."""

    span: Span
    days: tuple[date, ...]
    why: str


class _Words(NamedTuple):
    """The data file, ready to match."""

    day: re.Pattern[str]
    hint: re.Pattern[str]
    """Without it no day is written; it begins with a digit, which the engine has a quick search for."""
    study: re.Pattern[str]
    field: re.Pattern[str]
    line: re.Pattern[str]
    open: re.Pattern[str]
    alone: re.Pattern[str]
    other: re.Pattern[str]
    title: re.Pattern[str]
    spine: re.Pattern[str]
    filler: frozenset[str]
    after: frozenset[str]
    months: dict[str, int]
    joins: frozenset[str]
    data: dict[str, Any]


def _any_of(phrases: Iterable[str]) -> str:
    return any_of(phrases, _GAP).pattern


@cache
def _words() -> _Words:
    data = rows_of("exam_dates")
    month = "|".join(sorted(data["months"], key=len, reverse=True))
    day = re.compile(
        rf"(?<![\w./-])(?:"
        rf"(?P<y1>\d{{4}})(?P<s1>[-/.])(?P<m1>\d{{1,2}})(?P=s1)(?P<d1>\d{{1,2}})"
        rf"|(?P<y2>(?:19|20)\d\d)(?P<m2>\d\d)(?P<d2>\d\d)"
        rf"|(?P<m3>\d{{1,2}})(?P<s3>\s?[-/.]\s?)(?P<d3>\d{{1,2}})(?P=s3)(?P<y3>{_YEAR})"
        rf"|(?P<m4>{month})\.?[\s-]{{1,3}}(?P<d4>\d{{1,2}})(?:st|nd|rd|th)?(?:\s?,\s?|[\s-]{{1,3}})(?P<y4>\d{{4}})"
        rf"|(?P<d5>\d{{1,2}})(?:st|nd|rd|th)?[\s-]{{0,3}}(?P<m5>{month})\.?(?:\s?,\s?|[\s-]{{0,3}})(?P<y5>{_YEAR})"
        rf")(?=[Tt]\d|[^\w/-]|-(?!\d)|$)(?!\.\d)",
        re.IGNORECASE,
    )

    hint = re.compile(
        rf"\d(?:\d{{3}}|\s?[-/.]\s?\d{{1,2}}\s?[-/.]\s?\d|(?i:(?:st|nd|rd|th)?[\s-]{{0,3}}(?:{month})))"
    )

    def of(name: str) -> re.Pattern[str]:
        return any_of(data[name], _GAP)

    field = re.compile(rf"{_any_of(data['field'])}\s*:", re.IGNORECASE)
    label = "|".join((_any_of(data["study"]), _any_of(data["field"]), _any_of(data["open"])))
    return _Words(
        day,
        hint,
        of("study"),
        field,
        re.compile(rf"(?:{label})\s*[:#=.-]", re.IGNORECASE),
        of("open"),
        re.compile(rf"\W*{_any_of(data['alone'])}\W*", re.IGNORECASE),
        of("other"),
        of("title"),
        of("spine"),
        frozenset(data["filler"].split()),
        frozenset(data["after"].split()),
        data["months"],
        frozenset(map(str, data["joins_days"])),
        data,
    )


def is_title_of(text: str, span: Span, day: ExamDate) -> bool:
    """Say whether a stretch of text holds the whole day of the study and beside it only words of the study's name."""
    if not (span.start <= day.span.start and day.span.end <= span.end):
        return False
    words = _words()
    before, after = text[span.start : day.span.start], text[day.span.end : span.end]
    return words.filler.issuperset(_plain(before)) and _ends_a_title(after, words)


def _written(text: str, words: _Words) -> Iterator[_Written]:
    said = order_said(text)
    for m in words.day.finditer(text):
        got = {k[0]: v for k, v in m.groupdict().items() if v is not None}
        span = Span(m.start(), m.end())
        year = int(got["y"])
        if len(got["y"]) == 2:
            year += 2000 if year <= words.data["last_short"] else 1900
        named = got["m"].lower()
        month, day = words.months.get(named) or int(named), int(got["d"])
        figures = got.get("s", "").strip() if m["m3"] is not None else ""
        orders = [(month, day)]
        if figures and said == "day":
            orders = [(day, month)]
        elif figures == "." or (figures and said == "doubt"):
            orders.append((day, month))  # day first in much of the world
        days = tuple(dict.fromkeys(d for d in (_day(year, *order, words) for order in orders) if d))
        if not days and figures and said != "month" and (only := _day(year, day, month, words)):
            days = (only,)  # a day with its month behind it, and nothing else
        yield _Written(span, days, "" if len(days) == 1 else "either" if days else "impossible")


def _day(year: int, month: int, day: int, words: _Words) -> date | None:
    low, high = words.data["years"]
    try:
        return date(year, month, day) if low <= year <= high else None
    except ValueError:
        return None


def exam_date(text: str, rows: Sequence[Statement]) -> tuple[ExamDate | None, tuple[Question, ...]]:
    """Find the day of the study and what has to be asked about it.

    Days are read with the year first, with the month's name, or in figures: as the report says, else with the day first where
    nothing else can be, else as Americans write them, month first. A day that cannot be, that may be read in two ways (the
    spelling is not American, or another day stands day first), or that stands beside another day of the study is asked, not
    taken; a day of birth, of dictation, of an earlier study is never taken.
    """
    words = _words()
    if words.hint.search(text) is None:
        return None, ()
    found = list(_written(text, words))
    taken: list[_Written] = []
    asked: list[tuple[str, _Written]] = []
    for n, w in enumerate(found):
        before = text[found[n - 1].span.end if n else 0 : w.span.start]
        after = text[w.span.end : found[n + 1].span.start if n + 1 < len(found) else len(text)]
        kind = _of_study(text, w.span, before, after, rows, words)
        joined = n > 0 and any(found[n - 1] is t for t in taken) and before.strip().lower() in words.joins
        if joined or kind == "study":
            taken.append(w)
        elif kind == "open":
            asked.append(("open", w))
    first_day_first = order_said(text) == "" and any(_reversed(text, w, words) for w in found)
    return _settled(text, taken, asked, first_day_first, words)


def _settled(
    text: str,
    taken: Sequence[_Written],
    asked: Sequence[tuple[str, _Written]],
    day_first: bool,
    words: _Words,
) -> tuple[ExamDate | None, tuple[Question, ...]]:
    asks: dict[str, str] = words.data["asks"]

    def question(kind: str, rows: Sequence[_Written]) -> Question:
        quotes = ", ".join(dict.fromkeys(" ".join(text[slice(*w.span)].split()) for w in rows))
        return Question(asks[kind].format(words=quotes), "", "", ())

    bad = [w for w in taken if w.why == "impossible"]
    if bad:
        return None, (question("impossible", bad),)
    either = [w for w in taken if w.why == "either" or (day_first and _both_ways(text, w, words))]
    sure = {w.days[0] for w in taken if w not in either}
    if len(sure) > 1 or any(not sure & set(w.days) for w in either if sure):
        return None, (question("several", taken),)
    if not sure:
        if either:
            return None, (question("either", either),)
        return None, tuple(question(kind, [w]) for kind, w in asked[:1])
    best = next(w for w in taken if w not in either)
    return ExamDate(best.days[0].isoformat(), best.span), ()


def _figures(text: str, w: _Written) -> tuple[int, ...]:
    parts = re.split(r"\s?[-/.]\s?", text[w.span.start : w.span.end])
    return tuple(int(p) for p in parts) if len(parts) == 3 and all(p.isdecimal() for p in parts) else ()


def _reversed(text: str, w: _Written, words: _Words) -> bool:
    """Say whether figures are a day only with the day first."""
    figures = _figures(text, w)
    return len(figures) == 3 and figures[0] <= 31 and figures[0] > 12 and 1 <= figures[1] <= 12


def _both_ways(text: str, w: _Written, words: _Words) -> bool:
    """Say whether figures may be month first or day first, and mean two days."""
    figures = _figures(text, w)
    return len(figures) == 3 and figures[0] <= 12 and figures[1] <= 12 and figures[0] != figures[1]


def _of_study(
    text: str, span: Span, before: str, after: str, rows: Sequence[Statement], words: _Words
) -> str:
    """Say whose day it is: ``study``, ``open`` where the report does not tell, or nothing where it is another's."""
    if _section(span.start, rows) in _NOT_HERE:
        return ""
    before = before[-_LONGEST:]
    said = _STOP.split(before)[-1]
    lines = said.split("\n")
    for at in range(len(lines) - 1, -1, -1):
        if words.line.match(lines[at].lstrip(" \t#*-•")):
            said = "\n".join(lines[at:])
            break
        if at < len(lines) - 1 and words.alone.fullmatch(lines[at]):
            said = "\n".join(lines[at + 1 :])
            break
    else:
        # A finished label or a column of its own before the words of the study says nothing of the day behind them.
        parts = re.split(r"\t|\s{3,}", lines[-1])
        if len(parts) > 1 and words.line.match(parts[-1]):
            said = parts[-1]
    if words.other.search(said):
        return ""
    kind = _label(text, span, said, after, words)
    behind = _STOP.split(after.split("\n")[0])[0]
    if kind and any(not behind[m.end() :].lstrip().startswith(":") for m in words.other.finditer(behind)):
        return "open" if kind == "study" and not words.title.search(said) else ""
    return kind


def _label(text: str, span: Span, said: str, after: str, words: _Words) -> str:
    for pattern in (words.study, words.field):
        last = _last(pattern, said)
        if last is not None and words.filler.issuperset(_plain(said[last.end() :])):
            return "study"
    line_before = text[text.rfind("\n", 0, span.start) + 1 : span.start]
    line_after = after.split("\n")[0]
    if _is_title(line_before, line_after, said, words):
        return "study"
    last = _last(words.open, said)
    return "open" if last is not None and not said[last.end() :].strip(" \t\n:#=-") else ""


def _last(pattern: re.Pattern[str], words: str) -> re.Match[str] | None:
    return next(iter(deque(pattern.finditer(words), maxlen=1)), None)


def _is_title(before: str, after: str, said: str, words: _Words) -> bool:
    """Say whether a line names the study of the spine and ends on its day."""
    if len(said.strip()) > len(before.strip()):
        return False  # the sentence began on a line before
    found = _plain(before)
    if not words.filler.issuperset(found) or not words.title.search(before):
        return False
    return words.spine.search(before) is not None and _ends_a_title(after, words)


def _ends_a_title(after: str, words: _Words) -> bool:
    """Say whether no more than an hour or the contrast stands behind the day."""
    return words.after.issuperset(w for w in _plain(after) if not w.isdigit())


def _plain(words: str) -> list[str]:
    return [w.lower() for w in _WORD.findall(words)]


def _section(at: int, rows: Sequence[Statement]) -> str:
    """Give the section that is in force at a place of the text."""
    section = ""
    for row in rows:
        if row.start > at:
            break
        section = row.section
    return section


def with_day(reading: Reading, given: str) -> Reading:
    """Ask which day is right where the one given (``YYYY-MM-DD``) is not the one that the report states."""
    stated = reading.exam_date
    if not given or stated is None or stated.day == given:
        return reading
    words = " ".join(reading.words(stated.span).split())
    about = _words().data["asks"]["given"].format(given=given, words=words)
    question = Question(about, "", "", ())
    return (
        reading
        if question in reading.questions
        else reading._replace(questions=(question, *reading.questions))
    )
