"""Criteria as SQL: a condition becomes one truth, with its parts kept so that what is missing can be counted."""

from collections.abc import Callable, Iterable, Sequence
from math import inf
from typing import Any

from msgspec import Struct

from candidacy.assessment.evaluate import compiled
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, STANDARD_LEVELS
from candidacy.cohort.columns import element_tests as compare
from candidacy.cohort.columns.elapsed import elapsed_test
from candidacy.cohort.columns.element_columns import ElementColumns
from candidacy.cohort.columns.fact_columns import CodeList, FactColumn, Falling, Numbers, Text, Wanted
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.standings import disc_standing_test, state_column
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import (
    AS_OF,
    DISCS,
    Age,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Node,
    NoneOf,
)


class Answer(Struct, frozen=True):
    """A condition in columns: its truth, its parts, and the stated facts a leaf waits for while unknown."""

    truth: str
    parts: tuple["Answer", ...] = ()
    wanted: tuple[Wanted, ...] = ()

    def missing(self, above: str, define: Callable[[str], str]) -> Iterable[Wanted]:
        """What the condition waits for, wherever it and everything above it is unknown.

        ``define`` makes an expression a column, for all that stands below.
        """
        here = sql.all_of((above, sql.is_unknown(self.truth)))
        if self.parts:
            here = define(here)
        if here == sql.FALSE:
            return
        for want in self.wanted:
            yield replace(want, where=sql.all_of((here, want.where)))
        for part in self.parts:
            yield from part.missing(here, define)


class ColumnarCriterion(Struct, frozen=True):
    """A criterion for one subject: SQL that is true for pass, false for fail and NULL for undetermined."""

    resolved: ResolvedCriterion
    subject: str
    passes: str
    when: Answer
    applies: Answer | None

    @property
    def id(self) -> str:
        return self.resolved.id

    def missing(self, undetermined: str, define: Callable[[str], str]) -> Iterable[Wanted]:
        """The stated facts it waits for where it is undetermined, by two-valued SQL; see `Answer.missing`."""
        yield from self.when.missing(undetermined, define)
        if self.applies is not None:
            yield from self.applies.missing(undetermined, define)


def read_criterion(
    shelf: ElementColumns, rule_set: RuleSet, resolved: ResolvedCriterion, subject: str, states: str = ""
) -> ColumnarCriterion:
    """Turn a criterion into SQL for the patient or one disc.

    ``states`` is put before the names of the columns that hold the states of discs.
    """
    reader = _Reader(shelf, rule_set, states)
    when = reader.answer(resolved.when, subject)
    passes = when.truth if resolved.criterion.kind == "inclusion" else sql.negate(when.truth)
    applies = None
    if resolved.applies_when is not None:
        applies = reader.answer(resolved.applies_when, subject)
        passes = sql.any_of((passes, sql.negate(applies.truth)))
    return ColumnarCriterion(resolved, subject, passes, when, applies)


def condition_truth(shelf: ElementColumns, node: Node, subject: str) -> str:
    """Turn a condition that stands outside any criterion into SQL."""
    reader = _Reader(shelf, shelf.rule_set, "")
    reader.named = shelf.frame.named  # it stands below the layer that names discs
    return reader.answer(node, subject).truth


class _Reader:
    """Reads conditions of one rule set."""

    def __init__(self, shelf: ElementColumns, rule_set: RuleSet, states: str) -> None:
        self._shelf, self._rule_set, self._states = shelf, rule_set, states
        self.named: Callable[[str], str] = lambda level: f"named_{LEVELS.index(level)}"

    def answer(self, node: Node, subject: str) -> Answer:
        """Read one condition."""
        match node:
            case Compare():
                return self._compared(node, subject)
            case Elapsed():
                return self._elapsed(node, subject)
            case Complete(of=name):
                found = self._shelf.frame.lists.get(name)
                return Answer(found.complete if found is not None else sql.FALSE)
            case AllOf(of=of) | AnyOf(of=of) | NoneOf(of=of) | CountOf(of=of):
                if not isinstance(of, Each):
                    return self._joined(node, [(sql.TRUE, self.answer(part, subject)) for part in of])
                if of.over == DISCS:
                    return self._joined(node, self._over_discs(of))
                return self._over_entries(node, of.over, subject)

    # --- one element

    def _compared(self, node: Compare, subject: str) -> Answer:
        op, age, limits = node.op, node.age, node.limits
        if node.element == "disc_standing":
            return Answer(self._standing(op, limits, subject))
        columns = self._shelf.fact(node.element, subject, age)
        truth = self._truth(columns, op, limits, age, node.met_stands)
        if op == "known":
            own = self._shelf.own(node.element, subject, age)
            in_doubt = sql.all_of((sql.any_of((own.unknowable, own.doubted)), sql.negate(truth)))
            truth = sql.chosen([(in_doubt, sql.UNKNOWN)], truth)
        if node.leans is not None:
            truth = compare.leaning(truth, node.leans, sql.negate(_unknown(columns)))
        return Answer(truth, wanted=_wants(node.element, subject, columns))

    def _truth(
        self,
        columns: tuple[FactColumn, ...],
        op: str,
        limits: tuple[Any, ...],
        age: Age | None,
        met_stands: bool,
    ) -> str:
        """The test on the first column that holds a value."""
        arms = []
        for column in columns:
            test = sql.TRUE if op == "known" else column_test(column, op, limits)
            if age is not None:
                recent = self._shelf.recent(column, age)
                if met_stands and recent != sql.TRUE:
                    test = self._shelf.define(test)
                    test = sql.any_of((test, self._shelf.known_where(recent, test)))
                else:
                    test = self._shelf.known_where(recent, test)
            arms.append((column, test))
        if not arms:
            return sql.FALSE if op == "known" else sql.UNKNOWN
        if len(arms) == 1 and op != "known":
            return arms[0][1]
        otherwise = sql.FALSE if op == "known" else sql.UNKNOWN
        return sql.chosen([(column.known, test) for column, test in arms], otherwise)

    def _standing(self, op: str, limits: tuple[Any, ...], subject: str) -> str:
        if subject not in self._shelf.frame.levels:
            return sql.FALSE if op == "known" else sql.UNKNOWN
        column = self._states + state_column(subject)
        return self._shelf.define(disc_standing_test(self._rule_set, column, op, limits))

    # --- many

    def _joined(self, node: AllOf | AnyOf | NoneOf | CountOf, many: Sequence[tuple[str, Answer]]) -> Answer:
        """Many answers as one, each beside two-valued SQL that says for which cases it counts."""
        match node:
            case AllOf():
                truth = sql.all_of(sql.any_of((sql.negate(here), each.truth)) for here, each in many)
            case AnyOf():
                truth = sql.any_of(sql.all_of((here, each.truth)) for here, each in many)
            case NoneOf():
                truth = sql.negate(sql.any_of(sql.all_of((here, each.truth)) for here, each in many))
            case CountOf():
                certain = sql.count_true(sql.all_of((here, sql.is_met(each.truth))) for here, each in many)
                open_ = sql.count_true(sql.all_of((here, sql.is_unknown(each.truth))) for here, each in many)
                certain = self._shelf.define(certain)
                possible = self._shelf.define(f"({certain} + {open_})")
                truth = compare.tally_test(certain, possible, node.op, node.limits)
        return Answer(truth, tuple(_where_it_counts(here, each) for here, each in many))

    def _over_discs(self, each: Each) -> list[tuple[str, Answer]]:
        """What each disc answers, with two-valued SQL that says whether a case has that disc."""
        found = []
        for level in self._shelf.frame.counted_levels:
            answer = self.answer(each.that, level)
            # the quantifier asks for it more than once
            answer = replace(answer, truth=self._shelf.define(answer.truth))
            found.append((sql.TRUE if level in STANDARD_LEVELS else self.named(level), answer))
        return found

    def _over_entries(self, node: Node, name: str, subject: str) -> Answer:
        """A quantifier over a list has no columns: the single-case evaluation answers it per combination."""
        wanted = (Wanted(name, "patient", sql.TRUE),)
        if name not in self._shelf.frame.lists:
            unlisted = sql.UNKNOWN
            if isinstance(node, CountOf):
                unlisted = compare.span_test(Span(0, inf), node.op, node.limits)
            return Answer(unlisted, wanted=wanted)
        test = compiled(node)

        def answer(view: RowView) -> bool | None:
            return {Truth.MET: True, Truth.NOT_MET: False, Truth.UNKNOWN: None}[
                test.read(view, subject).truth
            ]

        found = look_up(self._shelf.frame, self._rule_set, self._shelf.as_of, answer)
        (truth,) = self._shelf.answers.join(found, [(value,) for value in found.answers], ["bool"])
        return Answer(truth, wanted=wanted)

    # --- calendar distances

    def _elapsed(self, node: Elapsed, subject: str) -> Answer:
        since = self._shelf.fact(node.since, subject)
        until = self._shelf.fact(node.until, subject) if node.until != AS_OF else None
        truth = elapsed_test(since, until, node.unit, node.op, node.limits, self._shelf.as_of, node.leans)
        wants = _wants(node.since, subject, since)
        parts = [Answer(sql.UNKNOWN, wanted=_where(wants, _unknown(since)))]
        ends = [since]
        if until is not None:
            late = _where(_wants(node.until, subject, until), _unknown(until))
            parts.append(Answer(sql.UNKNOWN, wanted=late))
            ends.append(until)
        both = sql.all_of(sql.negate(_unknown(end)) for end in ends)
        return Answer(truth, tuple(parts), _where(wants, both))


def column_test(column: FactColumn, op: str, limits: tuple[Any, ...]) -> str:
    """The test of one column of an element."""
    cells, element = column.cells, column.element
    if isinstance(cells, Numbers):
        return compare.number_test(cells, op, limits)
    if isinstance(cells, Falling):
        return compare.falling_test(cells, op, limits)
    if isinstance(cells, CodeList):
        return compare.list_test(cells, element, op, limits)
    if isinstance(cells, Text):
        raise EngineError(f"{element.name} is free text and is never compared")
    return compare.code_test(cells, element, op, limits)


def _where_it_counts(here: str, answer: Answer) -> Answer:
    """A disc that only some cases name has a part in the answer of those alone."""
    if here == sql.TRUE:
        return answer
    return Answer(sql.all_of((here, answer.truth)), (answer,))


def _unknown(columns: tuple[FactColumn, ...]) -> str:
    return sql.negate(sql.any_of(column.known for column in columns))


def _where(wants: tuple[Wanted, ...], condition: str) -> tuple[Wanted, ...]:
    return tuple(replace(want, where=sql.all_of((condition, want.where))) for want in wants)


def _wants(name: str, subject: str, columns: tuple[FactColumn, ...]) -> tuple[Wanted, ...]:
    """What a test of an element waits for: the element, or the inputs of one that cannot be stated."""
    element = catalogue()[name]
    subject = "patient" if element.scope == "patient" else subject
    if element.statable:
        return (Wanted(name, subject, sql.TRUE),)
    found = [want for column in columns for want in column.inputs or ()]
    return tuple(found)
