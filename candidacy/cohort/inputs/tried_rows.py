"""What a mapping makes of the rows of a sample: cells read and not read, rows that would be set aside, and why.

A cell is read by the code that reads the table (`cells`), a column at a time, so that a change of one column costs
that column alone.
"""

import json
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from msgspec import Struct, field

from candidacy.case.catalogue import catalogue
from candidacy.case.facts import normal_level
from candidacy.cohort.inputs.cells import BadCell, days_of, fact_of, text_of
from candidacy.cohort.inputs.fractions import MESSAGE, all_fractions, may_be_fractions
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.cohort.inputs.samples import Sample
from candidacy.foundation.errors import Problem
from candidacy.foundation.usual_forms import NO, YES


class CellsRead(Struct, frozen=True):
    """Cells of one column.

    Attributes
    ----------
    filled
        How many say anything.
    unread
        Texts that cannot be read, with what is wrong and how many cells there are.
    rows
        Places of the rows with such a cell.
    open
        A question that a person has to answer first.
    """

    filled: int
    unread: dict[str, tuple[Problem, int]] = field(default_factory=dict)
    rows: frozenset[int] = frozenset()
    open: str = ""

    @property
    def count(self) -> int:
        """How many cells cannot be read."""
        return len(self.rows)


class TriedRows(Struct, frozen=True):
    """What becomes of the rows of a sample.

    Attributes
    ----------
    aside
        How many rows would be set aside.
    reasons
        Why, with how many rows each concerns.
    cells
        Cells by column.
    """

    rows: int
    aside: int
    reasons: dict[str, int]
    cells: dict[str, CellsRead]


class Tries:
    """Tries mappings on one sample, and remembers what each column gave."""

    def __init__(self, sample: Sample) -> None:
        self.sample = sample
        self._kept: dict[tuple[str, str], CellsRead] = {}

    def column(self, column: str, item: ColumnMap) -> CellsRead:
        """Read the cells of a column as one element."""
        key = json.dumps(item.model_dump(exclude={"dated_by", "on_bad_cell", "disc"}), sort_keys=True)
        return self._once(column, key, lambda: self._facts(column, item))

    def days(self, column: str, forms: tuple[str, ...]) -> CellsRead:
        """Read the cells of a column as days."""
        return self._once(
            column, f"day {forms}", lambda: self._read(column, lambda cell: days_of(cell, forms))
        )

    def answers(self, column: str) -> CellsRead:
        """Read the cells of a column that says whether a list is complete."""
        return self._once(column, "answers", lambda: self._read(column, _answer))

    def table(self, table: TableMap, columns: dict[str, ColumnMap], scope: str) -> TriedRows:
        """Read every row of the sample.

        Parameters
        ----------
        columns
            The columns that can be read; those with an open question are left out.
        scope
            ``patient``, ``disc`` or the scope of a list.
        """
        cells = {
            name: self.column(name, item) for name, item in columns.items() if name in self.sample.columns
        }
        aside: dict[str, set[int]] = {}
        for name, found in cells.items():
            if found.rows and not table.keeps_row(columns[name]):
                aside[f"{name}: a cell that cannot be read"] = set(found.rows)
        for name in sorted(_days(table, columns) & set(self.sample.columns)):
            cells.setdefault(name, found := self.days(name, table.date_forms))
            if found.rows and not table.keeps_row():
                aside[f"{name}: a day that cannot be read"] = set(found.rows)
        for name in table.lists_complete.values():
            if name in self.sample.columns:
                cells[name] = found = self.answers(name)
                if found.rows and not table.keeps_row():
                    aside[f"{name}: not true or false"] = set(found.rows)
        aside |= self._references(table, scope)
        if scope == "patient":
            aside |= self._two_scales(columns)
        rows: set[int] = set().union(*aside.values()) if aside else set()
        reasons = {reason: len(found) for reason, found in aside.items() if found}
        lost = self.sample.unreadable
        if lost:
            reasons["the row cannot be parted into the columns"] = lost
        return TriedRows(self.sample.rows + lost, len(rows) + lost, reasons, cells)

    # --- columns

    def _once(self, column: str, key: str, make: Callable[[], CellsRead]) -> CellsRead:
        if (column, key) not in self._kept:
            self._kept[column, key] = make()
        return self._kept[column, key]

    def _facts(self, column: str, item: ColumnMap) -> CellsRead:
        element = catalogue()[item.element]
        if item.fractions is None and may_be_fractions(element, item.unit):
            texts = self.sample.texts(column, self.sample.rows)
            if all_fractions(texts, item.decimal):
                return CellsRead(len(texts), open=MESSAGE)
        return self._read(column, lambda cell: fact_of(cell, item))

    def _read(self, column: str, read: Callable[[Any], Any]) -> CellsRead:
        known: dict[Any, Problem | None] = {}
        unread: dict[str, tuple[Problem, int]] = {}
        rows, filled = set(), 0
        for place, cell in enumerate(self.sample.columns[column]):
            if cell is None or cell == "":
                continue
            filled += 1
            key = (type(cell), cell)
            if key not in known:
                known[key] = _problem(read, cell)
            problem = known[key]
            if problem is not None:
                rows.add(place)
                text = text_of(cell)
                unread[text] = problem, unread.get(text, (problem, 0))[1] + 1
        return CellsRead(filled, unread, frozenset(rows))

    # --- rows

    def _references(self, table: TableMap, scope: str) -> dict[str, set[int]]:
        references = [_reference(cell) for cell in self._column(table.case_id)]
        found = {"there is no case reference": {n for n, each in enumerate(references) if not each}}
        if scope == "patient":
            counts = Counter(references)
            twice = {n for n, each in enumerate(references) if each and counts[each] > 1}
            found["the case reference occurs more than once"] = twice
        if scope == "disc":
            levels = [
                normal_level(text_of(cell)) if cell else None for cell in self._column(table.disc or "")
            ]
            found["not a lumbar disc level"] = {n for n, each in enumerate(levels) if each is None}
            discs = Counter(zip(references, levels, strict=True))
            found["this disc is listed twice"] = {
                n
                for n, each in enumerate(zip(references, levels, strict=True))
                if each[1] and discs[each] > 1
            }
        return found

    def _column(self, name: str) -> Sequence[Any]:
        return self.sample.columns.get(name, [None] * self.sample.rows)

    def _two_scales(self, columns: dict[str, ColumnMap]) -> dict[str, set[int]]:
        stated = {(item.element, item.disc): name for name, item in columns.items()}
        found: set[int] = set()
        for (element, disc), name in stated.items():
            for other in catalogue()[element].excludes:
                if (other, disc) in stated:
                    found |= self._says(name, columns) & self._says(stated[other, disc], columns)
        return {"two grading scales are stated for the same disc": found}

    def _says(self, name: str, columns: dict[str, ColumnMap]) -> set[int]:
        """Rows in which a column tells a value."""
        item, told = columns[name], {}
        for cell in set(self._column(name)) - {None, ""}:
            try:
                fact = fact_of(cell, item)
            except BadCell:
                fact = None
            told[cell] = fact is not None and fact.value is not None
        return {place for place, cell in enumerate(self._column(name)) if told.get(cell)}


def _problem(read: Callable[[Any], Any], cell: Any) -> Problem | None:
    try:
        read(cell)
    except BadCell as error:
        return error.problem
    return None


def _answer(cell: Any) -> None:
    if not isinstance(cell, bool) and text_of(cell).lower() not in (*YES, *NO):
        raise BadCell("not true or false", cell, "true or false, yes or no")


def _days(table: TableMap, columns: dict[str, ColumnMap]) -> set[str]:
    days = {item.dated_by for item in columns.values() if item.dated_by}
    return days | ({table.facts_dated_by} if table.facts_dated_by else set())


def _reference(cell: Any) -> str:
    return "" if cell is None or cell != cell else text_of(cell)
