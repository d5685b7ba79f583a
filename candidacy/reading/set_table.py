"""Tables of which each row is full: a level for each row or for each column, cells apart by bars, tabs or blanks.

Cells apart by blanks, or with the level above them, are read only if every row has as many as the first one names;
else no line of the table is.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.levels import PATTERN
from candidacy.reading.model import Span
from candidacy.reading.table import FIRST, cells

_APART = re.compile(r" {2,}|\t|\|")
_SEVERAL = re.compile(r"\||\s\s|[^\S \xa0]")
"""What stands between two cells; without it a line is one cell, which heads no table."""
_SET = re.compile(r"[^\s|]+(?:[ \xa0][^\s|]+)*")
_LEVEL = re.compile(rf"\s*(?:{PATTERN})\s*\Z")
_LINE = re.compile(r"[^\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")
_RULE = re.compile(r"[\s|+\-=_:–—]*\Z")
_INDENT = 2


class Cell(NamedTuple):
    """A cell of a table with the name of its column or row, and where its level stands if not in its own row."""

    span: Span
    label: Span | None = None
    level: Span | None = None


class Line(NamedTuple):
    """A line of a table: its cells, or the whole of it where the table cannot be read with certainty."""

    cells: tuple[Cell, ...]
    name: Span | None
    unsure: bool


def tables(text: str) -> dict[int, Line]:
    """Give the lines of such tables, each by where it starts."""
    if not _APART.search(text):
        return {}
    rows = [(m.start(), m.end()) for m in _LINE.finditer(text)]
    out: dict[int, Line] = {}
    at = 0
    while at < len(rows):
        if not _SEVERAL.search(text, *rows[at]):
            at += 1
            continue
        head = _cut(text, *rows[at])
        turned = _levels_of(text, head)
        names = [] if turned else _names_of(text, head)
        if not (turned or names):
            at += 1
            continue
        body, sure = _body(text, rows, at + 1, turned, len(turned) + 1 if turned else len(names))
        end = body[-1] + 1 if body else at + 1
        marked = re.search(r"[|\t]", text[rows[at][0] : rows[at][1]]) is not None
        if not body or (marked and names and not sure):  # bars keep the place of a cell that is left out
            at += 1
            continue
        for n in (at, *body):
            found = _cut(text, *rows[n])
            if not sure:
                out[rows[n][0]] = Line((), None, True)
            elif n == at or _RULE.match(text, *rows[n]):
                out[rows[n][0]] = Line((), None, False)
            elif turned:
                pairs = zip(found[1:], turned, strict=True)
                out[rows[n][0]] = Line(tuple(Cell(c, found[0], lv) for c, lv in pairs), found[0], False)
            else:
                first, *rest = found
                more = [Cell(c, name) for c, name in zip(rest, names[1:], strict=True)]
                out[rows[n][0]] = Line((Cell(first), *more), None, False)
        at = end
    return out


def _cut(text: str, start: int, end: int) -> list[Span]:
    """Give the cells of a line: apart by bars or tabs where it has them, else by two blanks or more."""
    line = text[start:end]
    if "|" in line or "\t" in line:
        return cells(text, start, end)
    return [Span(m.start(), m.end()) for m in _SET.finditer(text, start, end)]


def _is_level(text: str, cell: Span) -> bool:
    return _LEVEL.match(text, cell.start, cell.end) is not None


def _levels_of(text: str, head: Sequence[Span]) -> list[Span]:
    """Give the levels that a first row names, one for each column behind the first, each once."""
    levels = list(head[1:] if head and not _is_level(text, head[0]) else head)
    named = [" ".join(text[c.start : c.end].upper().split()) for c in levels]
    alike = len(levels) > 1 and len(set(named)) == len(named) and all(_is_level(text, c) for c in levels)
    return levels if alike else []


def _names_of(text: str, head: Sequence[Span]) -> list[Span]:
    """Give the names of the columns of a table of levels."""
    first = text[head[0].start : head[0].end].lower() if head else ""
    return list(head) if len(head) > 2 and first in FIRST else []


def _body(
    text: str, rows: Sequence[tuple[int, int]], start: int, turned: Sequence[Span], size: int
) -> tuple[list[int], bool]:
    """Give the lines that belong to a table, and whether each is a full row of it."""
    body: list[int] = []
    sure = True
    for n in range(start, len(rows)):
        begin, end = rows[n]
        if not text[begin:end].strip() or _blank(text, rows[n - 1][1], begin):
            break
        if _RULE.match(text, begin, end):
            body.append(n)
            continue
        found = _cut(text, begin, end)
        first = _is_level(text, found[0])
        goes_on = len(found) > 1 and first != bool(turned)
        indented = len(text[begin:end]) - len(text[begin:end].lstrip()) >= _INDENT
        if not goes_on and not indented and len(found) < size:
            break  # a sentence below the table
        body.append(n)
        full = all(any(c.isalnum() or c in "-–—+" for c in text[s:e]) for s, e in found)
        sure = sure and goes_on and len(found) == size and full
    filled = [n for n in body if not _RULE.match(text, *rows[n])]
    return (body if filled else []), sure


def _blank(text: str, end: int, start: int) -> bool:
    gap = text[end:start].replace("\r\n", "\n")
    return gap.count("\n") + gap.count("\r") > 1
