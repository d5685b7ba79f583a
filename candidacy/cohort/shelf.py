"""Every fact a rule set may ask for, as columns: stated ones from the table, derived ones worked out."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

from candidacy.case.catalogue import Element, catalogue
from candidacy.case.facts import CaseFacts, Fact, Provenance
from candidacy.cohort import sqltext as sql
from candidacy.cohort.columns import (
    Cells,
    Code,
    FactColumn,
    Flag,
    Mask,
    Numbers,
    Wanted,
    cells_from,
    encode,
    layout,
)
from candidacy.cohort.comparisons import code_test
from candidacy.cohort.forms import form_of
from candidacy.cohort.frame import Frame
from candidacy.cohort.lookups import Lookup, RowView, look_up
from candidacy.derive import work_out
from candidacy.errors import EngineError
from candidacy.rules.resolved import RuleSet
from candidacy.truth import Truth
from candidacy.values import Span, Value, point
from candidacy.view import View

# Answers to so few combinations stand in the expression itself; more are joined.
_FEW_KEYS = 2
_FEW_ANSWERS = 16
# How old a fact may be: amount, unit, and the element that dates undated facts.
Age = tuple[float, str, str | None]


class Shelf:
    """Finds or makes the columns of a fact for one rule set on one day."""

    def __init__(self, frame: Frame, rule_set: RuleSet, as_of: date, prefix: str) -> None:
        self.frame, self.rule_set, self.as_of = frame, rule_set, as_of
        self._prefix = prefix
        self._joins: list[str] = []
        self._defined: dict[str, str] = {}
        self._columns: dict[tuple[str, str, Age | None], tuple[FactColumn, ...]] = {}
        self._oldest: dict[tuple[float, str], int] = {}

    def over(self, relation: str) -> str:
        """A relation with the columns of the frame, every lookup joined and every worked-out column added."""
        joined = " ".join((relation, *self._joins))
        if not self._defined and not self._joins:
            return joined
        added = "".join(f", {expression} AS {name}" for name, expression in self._defined.items())
        return f"(SELECT *{added} FROM {joined}) AS {self._prefix}_cases"

    def fact(self, name: str, subject: str, age: Age | None = None) -> tuple[FactColumn, ...]:
        """The columns of a fact: the first that holds a value counts. None at all: recorded for no case."""
        element = catalogue()[name]
        subject = "patient" if element.scope == "patient" else subject
        key = name, subject, age if element.derived or _summarises(name) else None
        if key not in self._columns:
            self._columns[key] = tuple(self._find(*key))
        return self._columns[key]

    def _find(self, name: str, subject: str, age: Age | None) -> Iterator[FactColumn]:
        stated = self.frame.facts.get((name, subject))
        summarised = list(self._summarised(name, subject, age))
        if stated is not None:
            yield self._told_again(stated, summarised, age)
        yield from (column for column, _ in summarised)
        if not catalogue()[name].derived:
            return
        open_rows = f"(NOT {stated.known})" if stated is not None else ""
        form = form_of(name, subject, lambda each: self._stated(each, subject), self.rule_set, self.as_of)
        if form is None:
            yield from self._worked_out(name, subject, age, open_rows)
            return
        element = catalogue()[name]
        inputs = [self._stated(each, subject) for each in form.inputs]
        known = [column for column in inputs if column is not None]
        cells = form.cells
        if isinstance(cells, Numbers):
            low = cells.low
            if form.unless and self._any(form.unless, open_rows):
                yield from self._worked_out(
                    name, subject, age, sql.all_of((form.unless, open_rows or sql.TRUE))
                )
                low = f"CASE WHEN {form.unless} THEN NULL ELSE {low} END"
            cells = replace(cells, low=self.define(low))
        yield FactColumn(
            element,
            subject,
            cells,
            fresh={age: sql.all_of(self.recent(column, age) for column in known)} if age is not None else {},
            inputs=None if element.statable else _wanted_of_form(known, form.inputs),
        )

    def _summarised(self, name: str, subject: str, age: Age | None) -> Iterator[tuple[FactColumn, str]]:
        """What a summary that is denied says of a sign it covers, and a sign that is present of its summary.

        Each comes with two-valued SQL that the fact as stated says the same.
        """
        shelf = catalogue()
        element, stated = shelf[name], self.frame.facts.get((name, subject))
        told = [(shelf.covered_by.get(name, ""), False), *((sign, True) for sign in element.covers)]
        for other, answer in told:
            column = self.frame.facts.get((other, subject))
            if column is None:
                continue
            known = sign_present(column) if answer else sql.is_not_met(flag_test(column.cells))
            cells: Cells = Flag(sql.settled(known, sql.FALSE), known)
            same = (
                sql.FALSE
                if stated is None
                else sql.is_met(flag_test(stated.cells))
                if answer
                else sign_absent(stated)
            )
            if not answer:
                cells = Flag(sql.settled(sql.FALSE, known), known)
                if element.kind == "choice":
                    cells = Code(f"CASE WHEN {known} THEN {sql.text(_absent_code(element))} END")
            fresh = {age: self.recent(column, age)} if age is not None else {}
            yield FactColumn(element, subject, cells, fresh=fresh), same

    def _told_again(
        self, stated: FactColumn, tellings: list[tuple[FactColumn, str]], age: Age | None
    ) -> FactColumn:
        """A fact that a summary or sign tells again is as recent as the fresher telling."""
        if age is None or not tellings:
            return stated
        again: list[str] = []
        earlier: list[str] = []
        for telling, same in tellings:
            first = sql.all_of((telling.known, *(sql.negate(each) for each in earlier)))
            again.append(sql.all_of((first, same, self.recent(telling, age))))
            earlier.append(telling.known)
        return replace(stated, fresh={age: sql.any_of((self.recent(stated, age), *again))})

    def define(self, expression: str) -> str:
        """Work an expression out once, as a column."""
        name = f"{self._prefix}_column{len(self._defined)}"
        self._defined[name] = expression
        return name

    def _any(self, condition: str, open_rows: str) -> bool:
        where = sql.all_of((condition, open_rows or sql.TRUE))
        found = self.frame.engine.rows(f"SELECT COUNT(*) FROM {self.frame.relation} WHERE {where}")
        return bool(found[0][0])

    def _stated(self, name: str, subject: str) -> FactColumn | None:
        element = catalogue()[name]
        return self.frame.facts.get((name, "patient" if element.scope == "patient" else subject))

    def _worked_out(self, name: str, subject: str, age: Age | None, where: str) -> Iterator[FactColumn]:
        """Columns of a derived fact by lookup."""
        element = catalogue()[name]

        def answer(view: RowView) -> tuple[Value | None, bool, tuple[tuple[str, str], ...]]:
            derived = work_out(name, view, subject)
            fact = Fact(name, subject, derived.value, derived.why, derived_from=derived.read)
            recent = age is not None and derived.value is not None and view.recent(fact, *age)[0] is Truth.MET
            wanted = () if element.statable else tuple(dict.fromkeys(missing_inputs(fact)))
            return derived.value, recent, wanted

        found = look_up(self.frame, self.rule_set, self.as_of, answer, where)
        values = [value for value, _, _ in found.answers]
        wanted = sorted({want for _, _, wants in found.answers for want in wants})
        if not found.keys and values[0] is None and not wanted:
            return
        exact = not any(isinstance(v, Span) and not v.exact for v in values)
        rows = [
            (
                *encode(element, value)[: 1 if exact and isinstance(value, Span) else None],
                *((None,) * (len(layout(element)) - 1) if exact and isinstance(value, Span) else ()),
                recent,
                *(want in wants for want in wanted),
            )
            for value, recent, wants in found.answers
        ]
        kinds = [*(kind for _, kind in layout(element)), "bool", *("bool" for _ in wanted)]
        names = self.join(found, rows, kinds)
        count = len(layout(element))
        yield FactColumn(
            element,
            subject,
            cells_from(element, names[:count], exact),
            fresh={age: f"COALESCE({names[count]}, FALSE)"} if age is not None else {},
            inputs=None
            if element.statable
            else tuple(
                Wanted(each, of, f"COALESCE({flag}, FALSE)")
                for (each, of), flag in zip(wanted, names[count + 1 :], strict=True)
            ),
        )

    def join(self, found: Lookup, rows: list[tuple[Any, ...]], kinds: list[str]) -> list[str]:
        """Join answers to the cases by their inputs; gives the SQL of the answer columns."""
        engine = self.frame.engine
        if not found.keys:
            return [
                sql.literal(value, kind, engine.dialect) for value, kind in zip(rows[0], kinds, strict=True)
            ]
        if len(found.keys) <= _FEW_KEYS and len(rows) <= _FEW_ANSWERS:
            return [
                self.define(_case(found, [row[number] for row in rows], kind, engine.dialect))
                for number, kind in enumerate(kinds)
            ]
        import pyarrow as pa

        alias = f"{self._prefix}_lookup{len(self._joins)}"
        columns: dict[str, Any] = {}
        for number in range(len(found.keys)):
            columns[f"{alias}_k{number}"] = pa.array(
                [combination[number] for combination in found.combinations]
            )
        types = {"double": pa.float64(), "long": pa.int64(), "bool": pa.bool_(), "text": pa.string()}
        for number, kind in enumerate(kinds):
            columns[f"{alias}_a{number}"] = pa.array([row[number] for row in rows], types[kind])
        engine.table(alias, pa.table(columns))
        same = "<=>" if engine.dialect.name == "spark" else "IS NOT DISTINCT FROM"
        on = " AND ".join(f"{key} {same} {alias}_k{number}" for number, key in enumerate(found.keys))
        self._joins.append(f"LEFT JOIN {alias} ON {on}")
        return [f"{alias}_a{number}" for number in range(len(kinds))]

    def recent(self, column: FactColumn, age: Age) -> str:
        """Two-valued SQL: the fact is recent enough; an undated one is not."""
        if age in column.fresh:
            return column.fresh[age]
        amount, unit, dated_by = age
        days = [column.day] if column.day else []
        if dated_by is not None:
            dates = self.fact(dated_by, "patient")
            if len(dates) > 1 or (dates and not isinstance(dates[0].cells, Numbers)):
                raise EngineError(f"{dated_by} is not a stated date, so it dates nothing in columns")
            days += [each.cells.low for each in dates if isinstance(each.cells, Numbers)]
        if not days:
            return sql.FALSE
        day = days[0] if len(days) == 1 else f"COALESCE({', '.join(days)})"
        return sql.is_met(f"({day} >= {self._oldest_day(amount, unit)})")

    def _oldest_day(self, amount: float, unit: str) -> int:
        """The earliest day that is still recent enough, asked of the single-case reading itself."""
        if (amount, unit) not in self._oldest:
            view = View(CaseFacts("day"), self.as_of, {}, self.rule_set.tables)
            low, high = 1, self.as_of.toordinal()
            while low < high:
                middle = (low + high) // 2
                fact = Fact("age", "patient", point(0), provenance=Provenance(day=point(middle)))
                if view.recent(fact, amount, unit, None)[0] is Truth.MET:
                    high = middle
                else:
                    low = middle + 1
            self._oldest[amount, unit] = low
        return self._oldest[amount, unit]


def missing_inputs(fact: Fact) -> Iterator[tuple[str, str]]:
    """The stated facts that a derived fact waits for, as the list of missing facts of a case has them."""
    element = catalogue()[fact.element]
    unknown = [part for part in fact.derived_from if part.value is None]
    if element.statable or not fact.derived_from:
        yield fact.element, fact.subject
        return
    for part in unknown or fact.derived_from:
        yield from missing_inputs(part)


def _summarises(name: str) -> bool:
    return name in catalogue().covered_by or bool(catalogue()[name].covers)


def flag_test(cells: Cells) -> str:
    """The truth of a yes-or-no column."""
    if isinstance(cells, Flag):
        return cells.truth
    if isinstance(cells, Mask):
        return f"CASE {cells.mask} WHEN 1 THEN TRUE WHEN 2 THEN FALSE END"
    raise EngineError("not a yes-or-no column")


def _absent_code(element: Element) -> Any:
    (code,) = element.absent.codes
    return code


def sign_present(column: FactColumn) -> str:
    """Two-valued SQL: a covered sign is certainly there, that is true, or a code that cannot be normal."""
    if column.element.kind == "choice" and isinstance(column.cells, Code | Mask):
        absent = (_absent_code(column.element),)
        return sql.is_met(code_test(column.cells, column.element, "is_not", absent))
    return sql.is_met(flag_test(column.cells))


def sign_absent(column: FactColumn) -> str:
    """Two-valued SQL: a covered sign is certainly not there."""
    if column.element.kind == "choice" and isinstance(column.cells, Code | Mask):
        absent = (_absent_code(column.element),)
        return sql.is_met(code_test(column.cells, column.element, "is", absent))
    return sql.is_not_met(flag_test(column.cells))


def _wanted_of_form(columns: list[FactColumn], names: tuple[str, ...]) -> tuple[Wanted, ...]:
    found = {column.element.name: column for column in columns}
    some_open = sql.any_of(f"(NOT {found[name].known})" if name in found else sql.TRUE for name in names)
    return tuple(
        Wanted(
            name,
            found[name].subject if name in found else "patient",
            sql.any_of((f"(NOT {found[name].known})", sql.negate(some_open))) if name in found else sql.TRUE,
        )
        for name in names
    )


def _case(found: Lookup, values: list[Any], kind: str, dialect: sql.Dialect) -> str:
    """Answers to a few combinations as one expression."""
    if all(value == values[0] for value in values):
        return sql.literal(values[0], kind, dialect)
    arms = []
    for combination, value in zip(found.combinations, values, strict=True):
        if value is not None:
            same = " AND ".join(
                sql.equals(key, part, dialect) for key, part in zip(found.keys, combination, strict=True)
            )
            arms.append(f"WHEN {same} THEN {sql.literal(value, kind, dialect)}")
    return f"CASE {' '.join(arms)} END"
