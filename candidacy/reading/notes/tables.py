"""Tables of a note: columns apart by bars, tabs or wide gaps; a row for each disc, or a column for each."""

import itertools
import re
from typing import NamedTuple

from candidacy.reading.model import Span
from candidacy.reading.notes.model import Clause
from candidacy.reading.notes.vocabulary import OTHER_PRESSURE, PRESSURE_UNITS, Item, items, words_for

_LINE = re.compile(r"[^\r\n]+")
_RULE = re.compile(r"[\s|+:=\-–—_]*\Z")
_GAP = re.compile(r"\t+| {2,}")
_PRESSURES = ("opening", "pain_pressure", "peak", "above_opening")


class _Column(NamedTuple):
    label: str
    unit: str
    discs: tuple[str, ...]
    span: Span


def tables(text: str, unit: str) -> tuple[list[Clause], list[Span]]:
    """Give the cells of every table as clauses, and the stretches of text that the tables take.

    ``unit`` is the unit of pressure that the note gives for all its pressures, or nothing.
    """
    out: list[Clause] = []
    taken: list[Span] = []
    head: list[_Column] = []
    turned = False
    last = 0
    for m in _LINE.finditer(text):
        line = Span(m.start(), m.end())
        if text[last : line.start].count("\n") > 1:
            head = []
        last = line.end
        cells = _cells(text, line)
        if len(cells) > 1 and (made := _head(text, cells, unit)) is not None:
            head, turned = made
            taken.append(line)
            out.append(Clause(line, "table", skip="head"))
        elif head and _RULE.match(m[0]):
            taken.append(line)
        elif head and len(cells) > 1:
            taken.append(line)
            out += _turned_row(text, line, cells, head, unit) if turned else _row(text, line, cells, head)
        else:
            head = []
    return out, taken


def _cells(text: str, line: Span) -> list[Span]:
    """Cut a line at its bars, else at tabs and wide gaps; the blanks around each cell are left out."""
    start, end = line
    body = text[start:end]
    if body.count("|") > 1:
        edges = [start + at for at, ch in enumerate(body) if ch == "|"]
        edges = ([] if body.lstrip().startswith("|") else [start - 1]) + edges
        edges += [] if body.rstrip().endswith("|") else [end]
        raw = [Span(a + 1, b) for a, b in itertools.pairwise(edges)]
    else:
        at = start + len(body) - len(body.lstrip())
        raw = []
        for gap in _GAP.finditer(text, at, end):
            raw.append(Span(at, gap.start()))
            at = gap.end()
        raw.append(Span(at, end))
        raw = [s for s in raw if text[s.start : s.end].strip()]
    return [_trimmed(text, s) for s in raw]


def _trimmed(text: str, span: Span) -> Span:
    body = text[span.start : span.end]
    start = span.start + len(body) - len(body.lstrip())
    return Span(start, max(start, span.start + len(body.rstrip())))


def _head(text: str, cells: list[Span], unit: str) -> tuple[list[_Column], bool] | None:
    """Read a line as the head of a table; the second value says whether discs name the columns."""
    read = [items(text, *c) for c in cells]
    first = read[0]
    if (
        len(cells) > 1
        and all(len(r) == 1 and r[0].role("discs") for r in read)
        and len({_discs(r) for r in read}) == len(read)
    ):
        corner = _Column(
            "", "", (), Span(cells[0].start, cells[0].start)
        )  # nothing stands above the names of the rows
        return [corner, *(_Column("", "", _discs(r), c) for r, c in zip(read, cells, strict=True))], True
    if any(i.role("discs") or i.role("number") for i in first):
        return None
    if len(cells) < 3 and not (first and any(r.value == "levels" for r in first[0].roles_of("label"))):
        return None
    if all(len(r) == 1 and r[0].role("discs") for r in read[1:]) and len(cells) > 2:
        return [_Column("", "", _discs(r), c) for r, c in zip(read, cells, strict=True)], True
    if not first or not any(r.value == "levels" for i in first for r in i.roles_of("label")):
        return None
    score = any(_is_score(r) for r in read[1:])
    columns = [_Column("levels", "", (), cells[0])]
    columns += [_column(r, c, score, unit) for r, c in zip(read[1:], cells[1:], strict=True)]
    if not any(c.label for c in columns[1:]):
        return None
    names = [c.label for c in columns]
    return [c._replace(label="twice") if c.label and names.count(c.label) > 1 else c for c in columns], False


def _is_score(row: list[Item]) -> bool:
    labels = {r.value for i in row for r in i.roles_of("label")}
    return "score" in labels and not _unit(row) and not _is_bare_pain(row)


def _is_bare_pain(row: list[Item]) -> bool:
    return len(row) == 1 and row[0].text.lower() in words_for("bare_pain")


def _unit(row: list[Item]) -> str:
    return next((r.value for i in row for r in i.roles_of("units")), "")


def _column(row: list[Item], span: Span, score: bool, unit: str) -> _Column:
    """Read the name of a column: its label, and the unit that stands there; no label where it could be two things."""
    here = _unit(row)
    named = [i for i in row if i.role("label") or not (i.role("fillers") or i.role("units"))]
    label = next((r.value for i in named for r in i.roles_of("label")), "") if len(named) == 1 else ""
    known = {r.value for i in named for r in i.roles_of("label")}
    if any(i.role("above") for i in row):
        label = "above_opening" if known <= {"score", "pain_pressure", "above_opening"} else ""
        here = here or unit
    elif len(named) == 1 and "concordance" in known:
        label = "concordance"
    elif label == "score":
        bare = _is_bare_pain(row)
        at = len(row) > 1 and row[-1].role("at") is not None  # "Pain at": not how much it was
        label = (
            "pain_pressure"
            if at or here in (*PRESSURE_UNITS, OTHER_PRESSURE) or (score and bare)
            else "score"
        )
    elif not named and here == "mL":
        label = "volume"
    if label in _PRESSURES and not here:
        here = unit
    return _Column(label, here, (), span)


def _discs(row: list[Item]) -> tuple[str, ...]:
    found = [r.value for i in row for r in i.roles_of("discs")]
    return found[0] if len(found) == 1 else ()


def _row(text: str, line: Span, cells: list[Span], head: list[_Column]) -> list[Clause]:
    discs = _discs(items(text, *cells[0]))
    if len(discs) != 1:
        return [Clause(line, "table", skip="a row without its disc")]
    if len(cells) != len(head):
        return [Clause(line, "table", skip="the row has not as many cells as the table has columns")]
    out = []
    for number, (cell, column) in enumerate(zip(cells, head, strict=True)):
        if number == 0:
            out += _first(text, cell, discs)
        elif cell.start < cell.end:
            out.append(_cell(cell, discs, cells[0], column))
    return out


def _first(text: str, cell: Span, discs: tuple[str, ...]) -> list[Clause]:
    """The cell that names the disc may say more of it: ``L3-4 (control)``."""
    return [Clause(cell, "table", discs, cell, skip="" if len(items(text, *cell)) > 1 else "head")]


def _cell(cell: Span, discs: tuple[str, ...], place: Span, column: _Column) -> Clause:
    skip = ""
    if not column.label:
        skip = "the column's name is not known"
    elif column.label == "twice":
        skip = "two columns have the same meaning"
    return Clause(cell, "table", discs, place, column.label, column.unit, skip)


def _turned_row(text: str, line: Span, cells: list[Span], head: list[_Column], unit: str) -> list[Clause]:
    if len(cells) != len(head):
        return [Clause(line, "table", skip="the row has not as many cells as the table has columns")]
    column = _column(items(text, *cells[0]), cells[0], True, unit)
    pairs = zip(cells[1:], head[1:], strict=True)
    made = [_cell(c, h.discs, h.span, column) for c, h in pairs if c.start < c.end]
    return [Clause(cells[0], "table", skip="head"), *made]
