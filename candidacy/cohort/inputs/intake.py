"""A mapped table as a frame: columns that need no translation are read as they are, the others cell by cell.

Each different cell text is checked once, by the code that checks case records. A cell that cannot be used
makes its fact unknown and is listed; where the mapping says so, its row is set aside whole. It never spoils others.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import inf
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import Fact, normal_level
from candidacy.cohort.columns.fact_columns import (
    Cells,
    Code,
    CodeList,
    FactColumn,
    Flag,
    Numbers,
    cells_from,
    encode,
    layout,
)
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine, one
from candidacy.cohort.inputs.cells import BadCell, days_of, fact_of
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.cohort.inputs.plain_cells import plain_value
from candidacy.cohort.translate import Translation
from candidacy.foundation.dates import FIRST_YEAR, LAST_YEAR
from candidacy.foundation.errors import Problem
from candidacy.foundation.values import Members, Span, Why

# A column with so few different cells is translated by an expression; one with more, in a pass of its own.
_FEW_CELLS = 24


@dataclass
class Fault:
    """Why rows may be set aside: two-valued SQL, and what to say of the column."""

    where: str
    column: str
    problems: dict[Any, Problem] = field(default_factory=dict)
    message: str = ""
    expected: str = ""
    count: int = 0
    # Column with the problem of each row, as `candidacy.cohort.inputs.entry_lists` writes it.
    told_by: str = ""


@dataclass
class Intake:
    """The columns of one relation made into facts.

    Attributes
    ----------
    faults
        Reasons for setting rows aside, with SQL over `source`.
    unread
        Cells that cannot be read and leave their row in use, by column, in the same form.
    """

    engine: Engine
    relation: str
    types: dict[str, str]
    table: TableMap
    facts: dict[tuple[str, str], FactColumn] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    unread: list[Fault] = field(default_factory=list)
    levels: set[str] = field(default_factory=set)
    joins: list[str] = field(default_factory=list)
    present: dict[str, list[str]] = field(default_factory=dict)
    translations: list[Translation] = field(default_factory=list)
    _days: dict[str, tuple[str, str]] = field(default_factory=dict)
    _staged: str = ""
    _odd: dict[str, int] = field(default_factory=dict)

    @property
    def source(self) -> str:
        """The relation with the translated cells and what else belongs to a row, for a FROM clause."""
        return " ".join((self.staged, *self.joins))

    @property
    def staged(self) -> str:
        """The relation with the translated cells; they are translated when it is first asked for."""
        if not self._staged:
            self._staged = self.relation
            if self.translations:
                self._staged = f"{self.relation}_translated"
                self.engine.translate(self._staged, self.relation, self.translations)
        return self._staged

    def raw(self, column: str) -> tuple[str, str]:
        """A column as one of five types, and that type."""
        name = sql.identifier(column)
        kind = self.types[column]
        if kind == "other":
            return sql.list_text(name), "text"
        types = {
            "number": "DOUBLE",
            "integer": "BIGINT",
            "date": "DATE",
            "text": "VARCHAR",
        }
        return (f"CAST({name} AS {types[kind]})" if kind in types else name), kind

    def take(self, column: str, item: ColumnMap, subject: str) -> None:
        """Make the facts of one column."""
        element = catalogue()[item.element]
        raw, kind = self.raw(column)
        taken = self._direct(element, item, column, raw, kind)
        if subject != "patient":
            # text that is taken as it is holds codes alone, and so no blanks
            blanks = kind == "text" and taken is None
            filled = f"COALESCE({sql.trimmed(raw)}, '') <> ''" if blanks else f"{raw} IS NOT NULL"
            self.present.setdefault(subject, []).append(f"({filled})")
        cells, why = taken if taken is not None else self._translated(element, item, column, raw, kind)
        dated_by, on = self.table.dating(item)
        day, last = self._day(dated_by) if dated_by else _same_for_all(on) if on else ("", "")
        self.facts[element.name, subject] = FactColumn(element, subject, cells, day, why, last_day=last)

    # --- columns read as they are

    def _direct(
        self, element: Element, item: ColumnMap, column: str, raw: str, kind: str
    ) -> tuple[Cells, str] | None:
        if not item.plain:
            return None
        if element.kind in ("number", "integer") and kind in ("number", "integer"):
            if item.unit is not None and element.unit is not None and item.unit != element.unit:
                return None
            value = f"CAST({raw} AS DOUBLE)"
            value, why = self._possible(element, item, column, raw, kind, value)
            return Numbers(value), why
        if element.kind == "boolean" and kind == "boolean":
            return Flag(raw, f"({raw} IS NOT NULL)"), ""
        if element.kind == "date" and kind == "date":
            value, why = self._possible(element, item, column, raw, kind, sql.days(raw))
            return Numbers(value), why
        if element.kind == "choice" and kind == "text":
            return (Code(raw), "") if not self._count(_no_code(element, raw)) else None
        return None

    def look(self, columns: Iterable[tuple[str, ColumnMap]]) -> None:
        """Count what columns that may be read as they are hold and may not, all in one pass."""
        wheres = []
        for column, item in columns:
            element, (raw, kind) = catalogue()[item.element], self.raw(column)
            if item.plain and kind in ("number", "integer", "date"):
                wheres += [fault.where for fault in impossible(element, column, raw, kind)]
            elif item.plain and kind == "text" and element.kind == "choice":
                wheres.append(_no_code(element, raw))
        if wheres:
            self._odd |= dict(
                zip(
                    wheres,
                    one(self.engine, [sql.rows_with(where) for where in wheres], self.relation),
                    strict=True,
                )
            )

    def _count(self, where: str) -> int:
        """How many rows meet a condition; mostly counted already, see `look`."""
        if where not in self._odd:
            (self._odd[where],) = one(self.engine, [sql.rows_with(where)], self.relation)
        return self._odd[where]

    def _possible(
        self, element: Element, item: ColumnMap, column: str, raw: str, kind: str, value: str
    ) -> tuple[str, str]:
        """SQL of a typed value without what is impossible, and of the reason where it is left out."""
        found = [fault for fault in impossible(element, column, raw, kind) if self._odd.get(fault.where, 1)]
        if not self.table.keeps_row(item):
            self.faults += found
            return value, ""
        self.unread += found
        if not found:
            return value, ""
        odd = " OR ".join(fault.where for fault in found)
        reason = sql.text(Why.NOT_READABLE.value)
        return f"CASE WHEN {odd} THEN NULL ELSE {value} END", f"CASE WHEN {odd} THEN {reason} END"

    # --- columns translated cell by cell

    def _translated(
        self, element: Element, item: ColumnMap, column: str, raw: str, kind: str
    ) -> tuple[Cells, str]:
        plain = plain_value(element, item, raw) if kind == "text" else ""
        # what is different is looked at once, and mostly is much less than all cells
        different = f"(SELECT DISTINCT {raw} AS cell FROM {self.relation}) AS different"
        where = f" AND ({plain_value(element, item, 'cell')}) IS NULL" if plain else ""
        found = self.engine.rows(f"SELECT cell FROM {different} WHERE cell IS NOT NULL{where}")
        facts: dict[Any, Fact | None] = {}
        bad: dict[Any, Problem] = {}
        for (cell,) in found:
            try:
                facts[cell] = fact_of(cell, item)
            except BadCell as error:
                bad[cell] = error.problem
                if self.table.keeps_row(item):
                    facts[cell] = fact_of(f"?{Why.NOT_READABLE.value}", item)
        stated = {cell: fact for cell, fact in facts.items() if fact is not None}
        exact = not any(isinstance(f.value, Span) and not f.value.exact for f in stated.values())
        names = self._cells(element, item, column, raw, kind, stated, bad)
        cells = cells_from(element, names[:-1], exact)
        if isinstance(cells, CodeList) and element.levels:
            for fact in stated.values():
                self.levels |= fact.value.certain if isinstance(fact.value, Members) else set()
        if plain and isinstance(cells, Numbers):
            low = f"COALESCE({plain}, {cells.low})"
            cells = (
                Numbers(low)
                if exact
                else Numbers(
                    low,
                    f"COALESCE({plain}, {cells.high})",
                    f"COALESCE({cells.low_open}, FALSE)",
                    f"COALESCE({cells.high_open}, FALSE)",
                )
            )
        reasons = any(fact.value is None for fact in stated.values())
        return cells, names[-1] if reasons else ""

    def _cells(
        self,
        element: Element,
        item: ColumnMap,
        column: str,
        raw: str,
        kind: str,
        stated: dict[Any, Fact],
        bad: dict[Any, Problem],
    ) -> list[str]:
        """Translate different cells; gives the names of the columns of their facts and of the reason."""
        rows = [encode(element, fact.value) for fact in stated.values()]
        columns: list[tuple[str, list[Any]]] = [
            (type_, [row[place] for row in rows]) for place, (_, type_) in enumerate(layout(element))
        ]
        reasons = [f.why.value if f.why not in (None, Why.NOT_RECORDED) else None for f in stated.values()]
        keeps = self.table.keeps_row(item)
        return self._translate(column, raw, kind, list(stated), [*columns, ("text", reasons)], bad, keeps)

    def _translate(
        self,
        column: str,
        raw: str,
        kind: str,
        cells: list[Any],
        columns: list[tuple[str, list[Any]]],
        bad: dict[Any, Problem],
        keeps: bool,
    ) -> list[str]:
        """Name new columns by cell; a bad cell is noted, and has none of them unless it stands among the cells."""
        apart = [cell for cell in bad if cell not in set(cells)]
        noted = self.unread if keeps else self.faults
        if kind == "text" and len(cells) + len(apart) <= _FEW_CELLS:
            if bad:
                wrong = ", ".join(sql.string(cell) for cell in bad)
                noted.append(Fault(f"COALESCE({raw} IN ({wrong}), FALSE)", column, bad))
            return self._spelled_out(raw, cells, columns)
        import pyarrow as pa

        types = {"double": pa.float64(), "long": pa.int64(), "bool": pa.bool_(), "text": pa.string()}
        base = f"translated_{len(self.translations)}"
        made = {
            f"{base}_{place}": pa.array([*values, *(None for _ in apart)], types[type_])
            for place, (type_, values) in enumerate(columns)
        }
        names = list(made)
        if bad:
            made[f"{base}_bad"] = pa.array([*(cell in bad for cell in cells), *(True for _ in apart)])
            noted.append(Fault(f"COALESCE({base}_bad, FALSE)", column, bad))
        self.translations.append(Translation(raw, pa.array([*cells, *apart], _raw_types(pa)[kind]), made))
        return names

    def _spelled_out(self, raw: str, cells: list[Any], columns: list[tuple[str, list[Any]]]) -> list[str]:
        """The same for a few different cells, as expressions: the table need not be written again."""
        made = []
        for kind, values in columns:
            arms = [
                f"WHEN {sql.string(cell)} THEN {sql.literal(value, kind)}"
                for cell, value in zip(cells, values, strict=True)
                if value is not None
            ]
            made.append(f"CASE {raw} {' '.join(arms)} END" if arms else sql.literal(None, kind))
        return made

    def _day(self, column: str) -> tuple[str, str]:
        """The first and the last day that a fact may be of, from a column of dates; no last one where they are the same."""
        if column not in self._days:
            raw, kind = self.raw(column)
            if kind == "date":
                self._days[column] = sql.days(raw), ""
            else:
                self._days[column] = self._translated_day(column, raw, kind)
        return self._days[column]

    def _translated_day(self, column: str, raw: str, kind: str) -> tuple[str, str]:
        days: dict[Any, Span | None] = {}
        bad: dict[Any, Problem] = {}
        for (cell,) in self.engine.rows(
            f"SELECT DISTINCT {raw} AS cell FROM {self.relation} WHERE {raw} IS NOT NULL"
        ):
            try:
                days[cell] = days_of(cell, self.table.date_forms)
            except BadCell as error:
                bad[cell] = error.problem
        keeps = self.table.keeps_row()
        ends = [(None, None) if each is None else (each.low, each.high) for each in days.values()]
        exact = all(low == high for low, high in ends)
        columns: list[tuple[str, list[Any]]] = [
            ("double", [each[place] for each in ends]) for place in ((0,) if exact else (0, 1))
        ]
        first, *last = self._translate(column, raw, kind, list(days), columns, bad, keeps)
        return first, last[0] if last else ""

    # --- faults of whole rows

    def check_rows(self) -> None:
        """Rows that the case loader refuses: one disc graded on two scales."""
        for (name, subject), column in list(self.facts.items()):
            scales = [self.facts.get((other, subject)) for other in column.element.excludes]
            if any(scales):
                both = sql.any_of(other.known for other in scales if other is not None)
                self.faults.append(
                    Fault(
                        sql.all_of((column.known, both)),
                        name,
                        message="two grading scales are stated for the same disc",
                        expected="one of them, the scale that the reader used",
                    )
                )

    def count_faults(self) -> int:
        """Count the rows of every fault in one pass, and keep those that occur. Gives the number of rows."""
        noted = [*self.faults, *self.unread]
        counted = [sql.rows_with(fault.where) for fault in noted]
        total, *counts = one(self.engine, ["COUNT(*)", *counted], self.source)
        for fault, count in zip(noted, counts, strict=True):
            fault.count = count
        self.faults = [fault for fault in self.faults if fault.count]
        self.unread = [fault for fault in self.unread if fault.count]
        return int(total)


def _same_for_all(day: str) -> tuple[str, str]:
    """The first and the last day of a mapping that dates all facts; no last one where they are the same."""
    days = days_of(day)
    if days is None:
        return sql.number(0), ""
    return sql.number(days.low), "" if days.exact else sql.number(days.high)


def impossible(element: Element, column: str, raw: str, kind: str) -> list[Fault]:
    """What a typed column may hold and the element may not: numbers out of range, days before our time."""
    if element.kind == "date":
        return [Fault(
            f"({raw} < DATE '{FIRST_YEAR}-01-01' OR {raw} > DATE '{LAST_YEAR}-12-31')", column,
            message="not a date of our time", expected=f"{FIRST_YEAR} to {LAST_YEAR}",
        )] if kind == "date" else []  # fmt: skip
    if element.kind not in ("number", "integer") or kind not in ("number", "integer"):
        return []
    value = f"CAST({raw} AS DOUBLE)"
    possible = element.possible
    low = possible.low if possible and possible.low is not None else -inf
    high = possible.high if possible and possible.high is not None else inf
    # what is no number stands above every number
    if low != -inf and high != inf:
        beyond = f"({value} NOT BETWEEN {sql.number(low)} AND {sql.number(high)})"
    else:
        ends = [f"{value} < {sql.number(low)}"] * (low != -inf) + [f"{value} > {sql.number(high)}"] * (
            high != inf
        )
        beyond = f"({' OR '.join((f'isnan({value})', *ends, f'ABS({value}) = {sql.number(inf)}'))})"
    found = [Fault(
        beyond, column, message="outside the possible range",
        expected=f"{low:g} to {high:g} {element.unit or ''}".strip(),
    )]  # fmt: skip
    if element.kind == "integer" and kind == "number":
        found.append(Fault(f"({value} <> FLOOR({value}))", column, message="not a whole number"))
    return found


def _no_code(element: Element, raw: str) -> str:
    """SQL that a text is none of the codes of an element."""
    return f"({raw} IS NOT NULL AND {sql.place_among(element.codes, raw)} IS NULL)"


def _raw_types(pa: Any) -> dict[str, Any]:
    return {
        "number": pa.float64(),
        "integer": pa.int64(),
        "text": pa.string(),
        "boolean": pa.bool_(),
        "date": pa.date32(),
    }


def subject_of(item: ColumnMap, level: str | None) -> str:
    """The subject of a column: a disc named in the mapping or by the table, else the patient."""
    disc = item.disc or level
    return (normal_level(disc) or disc) if disc else "patient"
