"""Every word of a report accounted for: one entry for each statement, and for the layout between two."""

import re
from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence, Set
from functools import cache, lru_cache

from candidacy.reading.account import Entry
from candidacy.reading.coverage import Heard, ledger_words
from candidacy.reading.exam_date import is_title_of
from candidacy.reading.headings import heading, numeral
from candidacy.reading.levels import PATTERN
from candidacy.reading.lexicon import Lexicon, lexicon
from candidacy.reading.model import (
    ABSENT,
    KNOWN,
    PARTLY,
    UNREAD,
    USED,
    Account,
    ExamDate,
    Finding,
    Span,
    Statement,
    Unplaced,
)
from candidacy.reading.set_table import tables
from candidacy.reading.table import columns

_WORD = re.compile(r"[^\W_]+")
_LINE = re.compile(r"[^\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")
_LEVEL_BEFORE = re.compile(rf"(?:{PATTERN})\s*:\s*$")
_LEVEL_BEHIND = re.compile(rf"[.)]\s*(?:{PATTERN})")
_LONGEST_NAME = 40
_LETTER = re.compile(r"[^\W\d_]")
_MARKUP = " \t*#_=[]<>~-–—.,;()0123456789"


def of_title(text: str, accounts: Sequence[Account], day: ExamDate | None) -> tuple[Account, ...]:
    """Count a title as read where its day was taken and beside it stands the study's name alone: ``MRI LUMBAR SPINE 14 March 2026``."""
    return tuple(
        a._replace(
            state=USED if a.findings else KNOWN, rule="layout", why=ledger_words().reasons["day"], missed=()
        )
        if day is not None and a.state in (UNREAD, PARTLY) and not a.danger and is_title_of(text, a.span, day)
        else a
        for a in accounts
    )


def ledger(
    text: str,
    rows: Sequence[Statement],
    heard: Mapping[int, Heard],
    findings: Sequence[Finding],
    left_over: Sequence[Unplaced],
    dangers: Mapping[str, str],
) -> tuple[Account, ...]:
    """Account for every word of the text, in its order; each statement has exactly one entry.

    Parameters
    ----------
    dangers
        What a kind of finding would put on top of the reading, by kind.
    """
    mine: dict[int, list[int]] = {}
    listed = 0
    of_study = [n for n, f in enumerate(findings) if f.statement < 0]
    for n, f in enumerate(findings):
        mine.setdefault(f.statement, []).append(n)
    out: list[Account] = []
    starts = sorted(u.span.start for u in left_over)
    study_starts = sorted(findings[n].evidence.start for n in of_study)
    heads = cache(lambda: tables(text).keys())
    at = 0
    for number, row in enumerate(rows):
        if row.start > at and _WORD.search(text, at, row.start):
            out += _between(text, at, row.start, heads)
        numbers = mine.get(number, [])
        if bisect_left(study_starts, row.start) < bisect_left(study_starts, row.end):
            numbers = numbers + [n for n in of_study if row.start <= findings[n].evidence.start < row.end]
        told: list[Unplaced] = []
        if bisect_left(starts, row.start) < bisect_left(starts, row.end):
            told = [u for u in left_over if row.start <= u.span.start < row.end]
        hearing = heard.get(number)
        account = Entry(text, number, row, hearing, findings, numbers, told, dangers).account()
        count = sum(o.status != ABSENT for o in hearing.seen) if hearing is not None and hearing.seen else 0
        if count:
            account = account._replace(outside=tuple(range(listed, listed + count)))
            listed += count
        out.append(account)
        if row.end > at:
            at = row.end
    return (*out, *_between(text, at, len(text), heads))


def _between(text: str, start: int, end: int, heads: Callable[[], Set[int]]) -> list[Account]:
    """Account for what stands between two statements: headings, the numbers of a list, names of columns."""
    found = list(_WORD.finditer(text, start, end))
    if not found:
        return []
    span = Span(found[0].start(), found[-1].end())
    lex, reasons = lexicon(), ledger_words().reasons
    if all(m[0].isdigit() for m in found):
        if _LEVEL_BEFORE.search(text, max(0, start - _LONGEST_NAME), span.start) and _LEVEL_BEHIND.match(
            text, span.end
        ):
            return [Account(span, UNREAD, -1, why=reasons["no_rule"], missed=(span,))]  # "L3-4: 3. L4-5: 4."
        return [Account(span, KNOWN, -1, rule="layout", why=reasons["item"])]
    rows = [(m.start(), m[0]) for m in _LINE.finditer(text, start, span.end)]
    if all(_is_layout(p, lex) for at, p in rows if at not in heads()):
        return [Account(span, KNOWN, -1, rule="layout", why=reasons["heading"])]
    return [Account(span, UNREAD, -1, why=reasons["gap"], missed=(span,))]


@lru_cache(maxsize=1024)
def _is_layout(line: str, lex: Lexicon) -> bool:
    """Say whether a line between two statements holds only headings, or the names of the columns of a table."""
    if not _WORD.search(line) or columns(line, 0, len(line)):
        return True
    parts = _parts(line, Span(0, len(line)))
    return all(heading(p, 0, len(p), lex, colon=True, whole=True) is not None for p in parts)


def _parts(text: str, span: Span) -> list[str]:
    """Give what stands between colons and line ends, without the numbers of items and what marks a heading up."""
    lines = re.split(r"[:\r\n]", text[span.start : span.end])
    return [
        line[numeral(line, 0, len(line)) :]
        for line in (m.strip(_MARKUP) for m in lines)
        if _LETTER.search(line)
    ]
