"""Every fact a rule set may ask for, as columns: stated ones from the table, derived ones worked out."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, Element
from candidacy.case.facts import CaseFacts, Fact, Provenance
from candidacy.cohort.columns.derived_columns import form_of, needed_of
from candidacy.cohort.columns.fact_columns import (
    Cells,
    Code,
    FactColumn,
    Falling,
    Flag,
    Numbers,
    Wanted,
    cells_from,
    encode,
    layout,
)
from candidacy.cohort.columns.facts_table import FactsTable
from candidacy.cohort.columns.joined_answers import JoinedAnswers
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.reconciled import Own, doubted, reconciled, unless
from candidacy.cohort.columns.tellings import Told, absent_code, flag_test, sign_absent
from candidacy.cohort.engines import sqltext as sql
from candidacy.derive import work_out
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Value, Why, point
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import PRESENT, Age, Node


def fresh_enough(view: View, fact: Fact, age: Age | None) -> bool:
    """Whether a fact of a case is as recent as was asked for."""
    if age is None or (fact.value is None and not fact.derived_from and fact.provenance.day is None):
        return False
    if age.unit == PRESENT:
        return view.present(fact, age.amount)
    return view.recent(fact, *age)[0] is Truth.MET


class _WorkedOut(NamedTuple):
    """What a formula gives for a combination: value, whether it may be recent, is in conflict, waits for, and rests on.

    It is recent where ``recent`` is true and each of the stated facts in ``dated`` is.
    """

    value: Value | None
    recent: bool
    against: bool
    wanted: tuple[tuple[str, str], ...]
    dated: tuple[tuple[str, str], ...]


# The subjects of facts that have columns of their own.
_OF_COLUMNS = frozenset(("patient", *LEVELS))


def _dates(view: RowView, fact: Fact, age: Age | None) -> tuple[tuple[tuple[str, str], ...], bool]:
    """The stated facts that must each be recent for a derived one to be, and whether it may be.

    As `View.age_of` has it: a derived fact is as old as the oldest part that has a value. Days are not read, as they would
    multiply the combinations; only where a part is itself worked out or told by others is the view asked, or stands in a
    list, which is read whole.
    """
    if age is None or fact.value is None:
        return (), False
    parts = [part for part in fact.derived_from if part.value is not None]
    if any(
        part.subject not in _OF_COLUMNS or part is not view.as_written(part.element, part.subject)
        for part in parts
    ):
        return (), fresh_enough(view, fact, age)
    return tuple((part.element, part.subject) for part in parts), bool(parts) or age.unit == PRESENT


class ElementColumns:
    """Finds or makes the columns of a fact for one rule set on one day."""

    def __init__(self, frame: FactsTable, rule_set: RuleSet, as_of: date, prefix: str) -> None:
        self.frame, self.rule_set, self.as_of = frame, rule_set, as_of
        self._prefix = prefix
        self._names: dict[str, str] = {}
        self._defined: set[str] = set()
        self.answers = JoinedAnswers(frame, prefix, self.define)
        self._own: dict[tuple[str, str, Age | None], Own] = {}
        # what lists of the record say of an element, answered for all its subjects at once
        self.list_tellings: dict[tuple[str, Age | None], dict[tuple[int, str], Told]] = {}
        self._columns: dict[tuple[str, str, Age | None], tuple[FactColumn, ...]] = {}
        self._oldest: dict[tuple[float, str], int] = {}

    @property
    def definitions(self) -> dict[str, str]:
        """Every worked-out column: its expression by its name."""
        return {name: expression for expression, name in self._names.items()}

    def fact(self, name: str, subject: str, age: Age | None = None) -> tuple[FactColumn, ...]:
        """The columns of a fact: the first that holds a value counts. None at all: recorded for no case."""
        element = catalogue()[name]
        subject = "patient" if element.scope == "patient" else subject
        key = name, subject, age if self._told(element) else None
        if key not in self._columns:
            self._columns[key] = tuple(self._find(*key))
        return self._columns[key]

    def own(self, name: str, subject: str, age: Age | None = None) -> Own:
        """What the record and its details tell of a fact, before a denied summary is looked at."""
        element = catalogue()[name]
        subject = "patient" if element.scope == "patient" else subject
        key = name, subject, age if self._told(element) else None
        if key not in self._own:
            self._own[key] = reconciled(self, *key, self._first(*key))
        return self._own[key]

    def _told(self, element: Element) -> bool:
        """Whether anything beside the record as written bears on an element."""
        return element.derived or _summarises(element.name) or element.name in self.rule_set.relations

    def truth(self, node: Node, subject: str) -> str:
        """The truth of a condition that stands outside any criterion."""
        from candidacy.cohort.columns.conditions import condition_truth  # which reads its facts from here

        return condition_truth(self, node, subject)

    def _find(self, name: str, subject: str, age: Age | None) -> Iterator[FactColumn]:
        own = self.own(name, subject, age)
        summary = self.frame.facts.get((catalogue().covered_by.get(name, ""), subject))
        if summary is None:
            yield from own.columns
            return
        element = catalogue()[name]
        denied = sql.is_not_met(flag_test(summary.cells))
        known = sql.all_of((denied, sql.negate(own.unknowable), sql.negate(own.doubted)))
        cells: Cells = Flag(sql.settled(sql.FALSE, known), known)
        if element.kind == "choice":
            cells = Code(f"CASE WHEN {known} THEN {sql.text(str(absent_code(element)))} END")
        fresh = {age: self.recent(summary, age)} if age is not None else {}
        for column in own.columns:
            if age is not None:
                # a sign that its denied summary tells again is as recent as the fresher telling
                again = sql.all_of((denied, sign_absent(column), sql.negate(own.told_again), fresh[age]))
                column = replace(column, fresh={age: sql.any_of((self.recent(column, age), again))})
            yield column
        yield FactColumn(element, subject, cells, fresh=fresh)

    def _first(self, name: str, subject: str, age: Age | None) -> Own:
        """A fact as stated, or worked out by its formula, or both brought together."""
        element, stated = catalogue()[name], self.frame.facts.get((name, subject))
        if not element.derived:
            if stated is None:
                return Own(())
            if stated.apart:
                return Own(
                    (unless(stated, stated.apart),), stated.apart, stated.apart, doubted=doubted(stated)
                )
            return Own((stated,), doubted=doubted(stated))
        open_rows = f"(NOT {stated.known})" if stated is not None else ""
        impossible: list[str] = []
        worked_out = tuple(self._derived(name, subject, age, open_rows, impossible))
        wrong = sql.any_of(impossible)
        if stated is None:
            return Own(worked_out, wrong, wrong)
        both = self._stated_with_inputs(element, subject, stated)
        if both == sql.FALSE:
            return Own((stated, *worked_out), wrong, wrong, doubted=doubted(stated))
        together, conflict = self._together(name, subject, age, both)
        # a lookup also answers rows of the same inputs for which it was not wanted
        alone = (unless(column, stated.known) for column in worked_out)
        columns, conflict = (*together, unless(stated, both), *alone), sql.any_of((conflict, wrong))
        return Own(columns, conflict, conflict, doubted=doubted(stated))

    def _stated_with_inputs(self, element: Element, subject: str, stated: FactColumn) -> str:
        """Two-valued SQL: a derived element is stated beside everything of some set that it is worked out from."""
        sets = []
        for inputs in element.inputs:
            columns = [self.stated(each, subject) for each in inputs]
            if all(column is not None for column in columns):
                sets.append(sql.all_of(column.known for column in columns if column is not None))
        return sql.all_of((stated.known, sql.any_of(sets)))

    def _together(self, name: str, subject: str, age: Age | None, where: str) -> tuple[list[FactColumn], str]:
        """Columns of what is stated and worked out, by lookup, and two-valued SQL that the two conflict."""
        element = catalogue()[name]
        formed = self._together_by_form(name, subject, age, where)
        if formed is not None:
            return formed

        def answer(view: RowView) -> tuple[Value | None, bool, bool]:
            fact = view.first_telling(name, subject)
            recent = fact.value is not None and fresh_enough(view, fact, age)
            return fact.value, recent, fact.value is None

        found = look_up(self.frame, self.rule_set, self.as_of, answer, where)
        if not found.answers:
            return [], sql.FALSE
        rows = [
            (*encode(element, value), recent or None, against or None)
            for value, recent, against in found.answers
        ]
        names = self.answers.join(found, rows, [*(kind for _, kind in layout(element)), "bool", "bool"])
        count = len(layout(element))
        cells = cells_from(element, names[:count], False)
        fresh = {age: _flag(names[count])} if age is not None else {}
        column = FactColumn(element, subject, cells, fresh=fresh)
        conflict = self.define(sql.all_of((where, _flag(names[count + 1]))))
        return [unless(column, f"(NOT {where})")], conflict

    def _together_by_form(
        self, name: str, subject: str, age: Age | None, where: str
    ) -> tuple[list[FactColumn], str] | None:
        """The same by an expression, where the formula has one and every number is exact and surely rounded."""
        element, stated = catalogue()[name], self.stated(name, subject)
        form = form_of(name, subject, self)
        if form is None or stated is None:
            return None
        cells: Cells = form.cells
        if isinstance(cells, Falling):
            there = f"{cells.day} BETWEEN {cells.first} AND {cells.last}"
            cells = Numbers(f"CASE WHEN {there} THEN {cells.number} END")
        if not isinstance(cells, Numbers) or not cells.exact:
            return None
        if not isinstance(stated.cells, Numbers) or not stated.cells.exact:
            return None
        if form.unless and self._any(form.unless, where):
            return None
        said, found, slack = stated.cells.low, self.define(cells.low), sql.number(element.agrees_within)
        within = sql.all_of((f"({said} <= {found} + {slack})", f"({found} <= {said} + {slack})"))
        conflict = self.define(sql.all_of((where, f"NOT COALESCE({within}, FALSE)")))
        both = Numbers(f"LEAST({said}, {found})", f"GREATEST({said}, {found})", sql.FALSE, sql.FALSE)
        same = f"({said} = {found})"
        fresh = {}
        if age is not None:
            inputs = sql.any_of((same, sql.all_of(self.recent(column, age) for column in form.columns)))
            fresh = {age: sql.all_of((self.recent(stated, age), inputs))}
        column = FactColumn(element, subject, both, fresh=fresh)
        return [unless(unless(column, f"(NOT {where})"), conflict)], conflict

    def _derived(
        self, name: str, subject: str, age: Age | None, open_rows: str, impossible: list[str]
    ) -> Iterator[FactColumn]:
        """Columns of what a formula gives, wanted for some rows only.

        Two-valued SQL that its inputs give an impossible result is added to ``impossible``.
        """
        form = form_of(name, subject, self)
        if form is None:
            yield from self._worked_out(name, subject, age, open_rows, impossible)
            return
        element = catalogue()[name]
        known, cells = form.columns, form.cells
        if isinstance(cells, Numbers):
            cells = replace(cells, low=self.define(cells.low))
        made = FactColumn(element, subject, cells)
        unsure = bool(form.unless) and self._any(form.unless, open_rows)
        if element.inputs:
            given = sql.all_of(column.known for column in known)
            kept = sql.negate(form.unless) if unsure else sql.TRUE
            wrong = (given, open_rows or sql.TRUE, kept, f"(NOT COALESCE({made.known}, FALSE))")
            impossible.append(self.define(sql.all_of(wrong)))
        if isinstance(cells, Numbers) and unsure:
            where = sql.all_of((form.unless, open_rows or sql.TRUE))
            yield from self._worked_out(name, subject, age, where, impossible)
            low = f"CASE WHEN {form.unless} THEN NULL ELSE {cells.low} END"
            cells = replace(cells, low=self.define(low))
        yield FactColumn(
            element,
            subject,
            cells,
            fresh={age: sql.all_of(self.recent(column, age) for column in known)} if age is not None else {},
            inputs=None if element.statable else _wanted_of_form(known, form.inputs),
        )

    def define(self, expression: str) -> str:
        """Work an expression out once, as a column."""
        if sql.is_constant(expression) or expression in self._defined:
            return expression
        name = self._names.get(expression)
        if name is None:
            name = self._names[expression] = f"{self._prefix}_column{len(self._names)}"
            self._defined.add(name)
        return name

    def _any(self, condition: str, open_rows: str) -> bool:
        where = sql.all_of((condition, open_rows or sql.TRUE))
        found = self.frame.engine.rows(f"SELECT COUNT(*) FROM {self.frame.relation} WHERE {where}")
        return bool(found[0][0])

    def known_where(self, condition: str, truth: str) -> str:
        """A truth where two-valued SQL holds, unknown elsewhere."""
        if sql.is_constant(condition) or truth == sql.UNKNOWN:
            return truth if condition == sql.TRUE else sql.UNKNOWN
        # to equal what is true or unknown takes a fraction of a CASE, and many truths share a condition
        here = self.define(f"CASE WHEN {condition} THEN TRUE END")
        return f"({truth} = {here})"

    def stated(self, name: str, subject: str) -> FactColumn | None:
        """The column of a fact as written; a disc also sees the patient's."""
        element = catalogue()[name]
        return self.frame.facts.get((name, "patient" if element.scope == "patient" else subject))

    def _given(self, name: str, subject: str) -> str:
        """Two-valued SQL: an element is recorded."""
        column = self.stated(name, subject)
        return column.known if column is not None else sql.FALSE

    def _worked_out(
        self, name: str, subject: str, age: Age | None, where: str, impossible: list[str]
    ) -> Iterator[FactColumn]:
        """Columns of a derived fact by lookup."""
        element = catalogue()[name]
        given = sql.any_of(
            sql.all_of(sql.any_of(self._given(each, subject) for each in one_of) for one_of in some)
            for some in needed_of(element)
        )
        where = sql.all_of((where or sql.TRUE, given if element.inputs else sql.TRUE))
        if where == sql.FALSE:
            return  # no case has what it takes
        where = "" if where == sql.TRUE else where

        def answer(view: RowView) -> _WorkedOut:
            derived = work_out(name, view, subject)
            fact = Fact(name, subject, derived.value, derived.why, derived_from=derived.read)
            wanted = () if element.statable else tuple(dict.fromkeys(missing_inputs(fact)))
            dated, recent = _dates(view, fact, age)
            return _WorkedOut(derived.value, recent, derived.why is Why.CONFLICTING, wanted, dated)

        found = look_up(self.frame, self.rule_set, self.as_of, answer, where)
        answers: list[_WorkedOut] = found.answers
        if not answers:
            return  # no case asks for it
        wanted = sorted({want for each in answers for want in each.wanted})
        if not found.keys and answers[0].value is None and not wanted:
            return
        exact = not any(isinstance(a.value, Span) and not a.value.exact for a in answers)
        dated = sorted({each for a in answers for each in a.dated})
        rows = [
            (
                *encode(element, a.value)[: 1 if exact and isinstance(a.value, Span) else None],
                *((None,) * (len(layout(element)) - 1) if exact and isinstance(a.value, Span) else ()),
                a.recent or None,  # these are read as true or not
                a.against or None,
                *(want in a.wanted or None for want in wanted),
                *(each in a.dated for each in dated),
            )
            for a in answers
        ]
        kinds = [*(kind for _, kind in layout(element)), *("bool" for _ in (0, 1, *wanted, *dated))]
        names = self.answers.join(found, rows, kinds)
        count = len(layout(element))
        asked = names[count + 2 : count + 2 + len(wanted)]
        if any(a.against for a in answers):
            impossible.append(sql.all_of((where or sql.TRUE, _flag(names[count + 1]))))
        yield FactColumn(
            element,
            subject,
            cells_from(element, names[:count], exact),
            fresh={age: self._all_recent(names[count], age, dated, names[count + 2 + len(wanted) :])}
            if age is not None
            else {},
            inputs=None
            if element.statable
            else tuple(Wanted(each, of, _flag(flag)) for (each, of), flag in zip(wanted, asked, strict=True)),
        )

    def _all_recent(self, recent: str, age: Age, dated: list[tuple[str, str]], counts: list[str]) -> str:
        """Two-valued SQL that an answer is recent: where its days were not read, each stated fact behind it is."""
        parts = [_flag(recent)]
        for (name, subject), here in zip(dated, counts, strict=True):
            parts.append(sql.any_of((f"(NOT {here})", self.recent(self.frame.facts[name, subject], age))))
        return sql.all_of(parts)

    def recent(self, column: FactColumn, age: Age) -> str:
        """Two-valued SQL: the fact is recent enough; an undated one is not."""
        return (
            column.fresh[age]
            if age in column.fresh
            else self._recent([column.day] if column.day else [], age)
        )

    def undated_is_recent(self, age: Age) -> str:
        """Two-valued SQL: what bears no day counts as recent enough, by the element of the patient that dates such facts."""
        return self._recent([], age)

    def _recent(self, days: list[str], age: Age) -> str:
        amount, unit, dated_by = age
        if dated_by is not None:
            dates = self.fact(dated_by, "patient")
            if len(dates) > 1 or (dates and not isinstance(dates[0].cells, Numbers)):
                raise EngineError(f"{dated_by} is not a stated date, so it dates nothing in columns")
            days += [each.cells.low for each in dates if isinstance(each.cells, Numbers)]
        if not days:
            return sql.TRUE if unit == PRESENT else sql.FALSE
        day = days[0] if len(days) == 1 else f"COALESCE({', '.join(days)})"
        # a day after the as-of date is never recent
        oldest = self._oldest_day(amount, "day" if unit == PRESENT else unit)
        # many facts are of the same day
        recent = self.define(sql.is_met(f"({day} BETWEEN {oldest} AND {self.as_of.toordinal()})"))
        return f"({day} IS NULL OR {recent})" if unit == PRESENT else recent

    def _oldest_day(self, amount: float, unit: str) -> int:
        """The earliest day that is still recent enough, asked of the single-case evaluation itself."""
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
    if element.statable or not fact.derived_from or fact.why is Why.DOES_NOT_APPLY:
        yield fact.element, fact.subject
        return
    for part in unknown or fact.derived_from:
        yield from missing_inputs(part)


def _summarises(name: str) -> bool:
    return name in catalogue().covered_by or bool(catalogue()[name].covers)


def _wanted_of_form(columns: Sequence[FactColumn], names: tuple[str, ...]) -> tuple[Wanted, ...]:
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


def _flag(column: str) -> str:
    """Two-valued SQL: a yes-or-no answer was looked up, and it is yes."""
    return sql.is_met(column) if sql.is_constant(column) else f"COALESCE({column}, FALSE)"
