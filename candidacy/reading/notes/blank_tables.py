"""Tables with one blank between their cells, ``Level Opening Pain`` over ``L3-4 15 psi 0/10``, written with bars as other tables are.

Only where every word of the head names a column and each row has as many values; every character keeps its place.
"""

import re

from candidacy.reading.model import Span
from candidacy.reading.notes.vocabulary import Item, items

_LINE = re.compile(r"[^\r\n]+")
_WIDE = re.compile(r"[|\t]|\S {2,}\S")
_FEWEST_ROWS, _FEWEST_COLUMNS = 2, 3
_OF_A_NUMBER = ("units", "out_of", "above")
_VALUES = ("say", "answers", "labelled", "strengths")
_OPENS, _CLOSES = "(", ")"


def with_bars_for_blanks(text: str) -> str:
    """Write a bar for the blank before each cell of such a table; any other text is given as it is.

    Examples
    --------
    >>> print(with_bars_for_blanks("Level Opening Pain\\nL3-4 15 psi 0/10\\nL4-5 12 psi 8/10"))
    Level|Opening|Pain
    L3-4|15 psi|0/10
    L4-5|12 psi|8/10
    """
    bars: list[int] = []
    table: list[list[Span]] = []
    for m in _LINE.finditer(text):
        line = Span(m.start(), m.end())
        plain = not _WIDE.search(m[0].strip())
        row = _row(text, line) if plain and table else []
        below = bool(table) and text.count("\n", table[-1][0].start, line.start) == 1
        if below and len(row) == len(table[0]):
            table.append(row)
            continue
        bars += _bars(table)
        head = _head(text, line) if plain else []
        table = [head] if head else []
    bars += _bars(table)
    marked = list(text)
    for at in bars:
        marked[at] = "|"
    return "".join(marked)


def _bars(table: list[list[Span]]) -> list[int]:
    return [cell.start - 1 for row in table for cell in row[1:]] if len(table) > _FEWEST_ROWS else []


def _head(text: str, line: Span) -> list[Span]:
    """Give the names of the columns, each with the unit that stands with it; nothing if a word names none."""
    out: list[Span] = []
    for i in items(text, *line):
        if i.role("label"):
            if not out and not any(r.value == "levels" for r in i.roles_of("label")):
                return []
            out.append(Span(i.start, i.end))
        elif out and (i.role("units") or i.text in (_OPENS, _CLOSES)):
            out[-1] = Span(out[-1].start, i.end)
        else:
            return []
    return out if len(out) >= _FEWEST_COLUMNS and _apart(text, out) else []


def _row(text: str, line: Span) -> list[Span]:
    """Give the cells of a row that begins with its disc; nothing if one of its words is no value."""
    read = items(text, *line)
    if not read or read[0].role("discs") is None:
        return []
    out = [Span(read[0].start, read[0].end)]
    last: Item | None = None
    for i in read[1:]:
        if last is not None and last.role("number") and any(i.role(name) for name in _OF_A_NUMBER):
            out[-1] = Span(out[-1].start, i.end)
        elif i.role("number") or any(i.role(name) for name in _VALUES):
            out.append(Span(i.start, i.end))
            last = i
        else:
            return []
    return out if _apart(text, out) else []


def _apart(text: str, cells: list[Span]) -> bool:
    return all(text[cell.start - 1] == " " for cell in cells[1:])
