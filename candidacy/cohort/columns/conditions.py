"""Criteria as SQL: a condition becomes one truth, with its parts kept so that what is missing can be counted."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from candidacy.assessment.evaluate import compiled
from candidacy.case.catalogue import LEVELS, STANDARD_LEVELS, catalogue
from candidacy.cohort.columns import element_tests as compare
from candidacy.cohort.columns.elapsed import elapsed_test
from candidacy.cohort.columns.element_columns import Age, Shelf
from candidacy.cohort.columns.fact_columns import CodeList, FactColumn, Falling, Numbers, Text, Wanted
from candidacy.cohort.columns.lookups import RowView, look_up
from candidacy.cohort.columns.standings import disc_standing_test, state_column
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.rules.conditions import Condition, Operand, ParameterRef
from candidacy.rules.criterion import Recency
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter, RuleSet


@dataclass(frozen=True)
class Node:
    """A condition in columns: its truth, its parts, and the stated facts a leaf waits for while unknown."""

    truth: str
    parts: tuple["Node", ...] = ()
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


@dataclass(frozen=True)
class ColumnarCriterion:
    """A criterion for one subject: SQL that is true for pass, false for fail and NULL for undetermined."""

    resolved: ResolvedCriterion
    subject: str
    passes: str
    when: Node
    applies: Node | None

    @property
    def id(self) -> str:
        return self.resolved.id

    def missing(self, undetermined: str, define: Callable[[str], str]) -> Iterable[Wanted]:
        """The stated facts it waits for where it is undetermined, by two-valued SQL; see `Node.missing`."""
        yield from self.when.missing(undetermined, define)
        if self.applies is not None:
            yield from self.applies.missing(undetermined, define)


def read_criterion(
    shelf: Shelf, rule_set: RuleSet, resolved: ResolvedCriterion, subject: str, states: str = ""
) -> ColumnarCriterion:
    """Turn a criterion into SQL for the patient or one disc.

    ``states`` is put before the names of the columns that hold the states of discs.
    """
    reader = _Reader(shelf, rule_set, resolved.parameters, resolved.criterion.recency, states)
    criterion = resolved.criterion
    when = reader.node(criterion.when, subject)
    passes = when.truth if criterion.kind == "inclusion" else sql.negate(when.truth)
    applies = None
    if criterion.applies_when is not None:
        applies = reader.node(criterion.applies_when, subject)
        passes = sql.any_of((passes, sql.negate(applies.truth)))
    return ColumnarCriterion(resolved, subject, passes, when, applies)


def condition_node(
    shelf: Shelf, condition: Condition, parameters: Mapping[str, ResolvedParameter], subject: str
) -> Node:
    """Turn a condition that stands outside any criterion into SQL."""
    reader = _Reader(shelf, shelf.rule_set, parameters, None, "")
    reader.named = shelf.frame.named  # it stands below the layer that names discs
    return reader.node(condition, subject)


class _Reader:
    """Reads the conditions of one criterion, with its parameters and its limit of age."""

    def __init__(
        self,
        shelf: Shelf,
        rule_set: RuleSet,
        parameters: Mapping[str, ResolvedParameter],
        recency: Recency | None,
        states: str,
    ) -> None:
        self._states = states
        self._shelf, self._rule_set, self._parameters = shelf, rule_set, parameters
        self._recency = recency
        self.named: Callable[[str], str] = lambda level: f"named_{LEVELS.index(level)}"
        self._ages: dict[str, Age] = {}
        if recency is not None:
            limit = parameters[recency.max_age.parameter]
            age = (float(str(limit.value)), limit.unit or "day", recency.dated_by)
            self._ages = dict.fromkeys(recency.elements, age)

    def node(self, condition: Condition, subject: str) -> Node:
        """Read one condition."""
        made: Node = getattr(self, f"_{condition.head.rstrip('_')}")(condition, subject)
        return made

    def _operands(self, *operands: Operand | None) -> tuple[Any, ...]:
        values: list[Any] = []
        for operand in operands:
            value: Any = operand
            if isinstance(operand, ParameterRef):
                value = self._parameters[operand.parameter].value
            if value is not None:
                values += value if isinstance(value, tuple) else [value]
        return tuple(values)

    # --- one element

    def _element(self, c: Condition, subject: str) -> Node:
        assert c.element is not None
        assert c.op is not None
        limits = self._operands(c.value, c.low, c.high)
        if c.element == "disc_standing":
            return Node(self._standing(c.op, limits, subject))
        age = self._ages.get(c.element)
        columns = self._shelf.fact(c.element, subject, age)
        truth = self._truth(columns, c.op, limits, age)
        if c.op == "known":
            own = self._shelf.own(c.element, subject, age)
            in_doubt = sql.all_of((sql.any_of((own.unknowable, own.doubted)), sql.negate(truth)))
            if in_doubt != sql.FALSE:
                truth = f"CASE WHEN {in_doubt} THEN NULL ELSE {truth} END"
        return Node(truth, wanted=_wants(c.element, subject, columns))

    def _truth(
        self, columns: tuple[FactColumn, ...], op: str, limits: tuple[Any, ...], age: Age | None
    ) -> str:
        """The test on the first column that holds a value."""
        arms = []
        for column in columns:
            test = sql.TRUE if op == "known" else column_test(column, op, limits)
            if age is not None:
                recent = self._shelf.recent(column, age)
                if recent == sql.FALSE:
                    test = sql.UNKNOWN
                elif recent != sql.TRUE:
                    test = f"CASE WHEN {recent} THEN {test} END"
            arms.append((column, test))
        if not arms:
            return sql.FALSE if op == "known" else sql.UNKNOWN
        if len(arms) == 1 and op != "known":
            return arms[0][1]
        otherwise = " ELSE FALSE" if op == "known" else ""
        return "CASE " + " ".join(f"WHEN {c.known} THEN {test}" for c, test in arms) + otherwise + " END"

    def _standing(self, op: str, limits: tuple[Any, ...], subject: str) -> str:
        if subject not in self._shelf.frame.levels:
            return sql.FALSE if op == "known" else sql.UNKNOWN
        column = self._states + state_column(subject)
        return self._shelf.define(disc_standing_test(self._rule_set, column, op, limits))

    # --- joins

    def _parts(self, conditions: Iterable[Condition] | None, subject: str) -> tuple[Node, ...]:
        return tuple(self.node(part, subject) for part in conditions or ())

    def _all(self, c: Condition, subject: str) -> Node:
        return _joined(self._parts(c.all, subject), sql.all_of)

    def _any(self, c: Condition, subject: str) -> Node:
        return _joined(self._parts(c.any, subject), sql.any_of)

    def _none(self, c: Condition, subject: str) -> Node:
        return _joined(self._parts(c.none, subject), lambda truths: sql.negate(sql.any_of(truths)))

    def _not(self, c: Condition, subject: str) -> Node:
        assert c.not_ is not None
        part = self.node(c.not_, subject)
        return Node(sql.negate(part.truth), (part,))

    def _at_least_of(self, c: Condition, subject: str) -> Node:
        some = c.at_least_of
        assert some is not None
        needed = int(self._operands(some.count)[0])
        parts = self._parts(some.conditions, subject)
        certain = sql.count_true(sql.is_met(part.truth) for part in parts)
        closed = sql.count_true(sql.is_not_met(part.truth) for part in parts)
        return Node(sql.settled(f"{certain} >= {needed}", f"{len(parts)} - {closed} < {needed}"), parts)

    # --- discs

    def _over_discs(self, that: Condition, where: Condition | None, every: bool) -> list[tuple[str, Node]]:
        found = []
        for level in self._shelf.frame.counted_levels:
            node = self.node(that, level)
            if where is not None:
                among = self.node(where, level)
                if every:
                    node = _joined((Node(sql.negate(among.truth), (among,)), node), sql.any_of)
                else:
                    node = _joined((among, node), sql.all_of)
            # the quantifier asks for it more than once
            node = replace(node, truth=self._shelf.define(node.truth))
            found.append((sql.TRUE if level in STANDARD_LEVELS else self.named(level), node))
        return found

    def _any_disc(self, c: Condition, subject: str) -> Node:
        assert c.any_disc is not None
        discs = self._over_discs(c.any_disc.that, c.any_disc.where, False)
        truth = sql.any_of(sql.all_of((named, node.truth)) for named, node in discs)
        return Node(truth, tuple(_if_named(named, node) for named, node in discs))

    def _every_disc(self, c: Condition, subject: str) -> Node:
        assert c.every_disc is not None
        discs = self._over_discs(c.every_disc.that, c.every_disc.where, True)
        truth = sql.all_of(sql.any_of((sql.negate(named), node.truth)) for named, node in discs)
        return Node(truth, tuple(_if_named(named, node) for named, node in discs))

    def _count_discs(self, c: Condition, subject: str) -> Node:
        over = c.count_discs
        assert over is not None
        limits = [float(limit) for limit in self._operands(over.value, over.low, over.high)]
        discs = self._over_discs(over.that, None, False)
        certain = sql.count_true(sql.all_of((named, sql.is_met(node.truth))) for named, node in discs)
        open_ = sql.count_true(sql.all_of((named, sql.is_unknown(node.truth))) for named, node in discs)
        certain = self._shelf.define(certain)
        possible = self._shelf.define(f"({certain} + {open_})")
        truth = compare.tally_test(certain, possible, over.op, limits)
        return Node(truth, tuple(_if_named(named, node) for named, node in discs))

    # --- lists of the record

    def _any_entry(self, c: Condition, subject: str) -> Node:
        assert c.any_entry is not None
        return self._over_entries(c, c.any_entry.of, sql.UNKNOWN, subject)

    def _every_entry(self, c: Condition, subject: str) -> Node:
        assert c.every_entry is not None
        return self._over_entries(c, c.every_entry.of, sql.UNKNOWN, subject)

    def _count_entries(self, c: Condition, subject: str) -> Node:
        over = c.count_entries
        assert over is not None
        limits = [float(limit) for limit in self._operands(over.value, over.low, over.high)]
        return self._over_entries(
            c, over.of, compare.span_test(Span(0, float("inf")), over.op, limits), subject
        )

    def _over_entries(self, c: Condition, name: str, without: str, subject: str) -> Node:
        """A quantifier over a list has no columns: the single-case evaluation answers it per combination."""
        if name not in self._shelf.frame.lists:
            return Node(without, wanted=(Wanted(name, "patient", sql.TRUE),))
        test = compiled(c, self._parameters, self._recency)

        def answer(view: RowView) -> bool | None:
            return {Truth.MET: True, Truth.NOT_MET: False, Truth.UNKNOWN: None}[
                test.read(view, subject).truth
            ]

        found = look_up(self._shelf.frame, self._rule_set, self._shelf.as_of, answer)
        (truth,) = self._shelf.join(found, [(value,) for value in found.answers], ["bool"])
        return Node(truth, wanted=(Wanted(name, "patient", sql.TRUE),))

    def _complete_list(self, c: Condition, subject: str) -> Node:
        found = self._shelf.frame.lists.get(c.complete_list or "")
        return Node(found.complete if found is not None else sql.FALSE)

    # --- calendar distances

    def _elapsed(self, c: Condition, subject: str) -> Node:
        over = c.elapsed
        assert over is not None
        limits = [float(limit) for limit in self._operands(over.value, over.low, over.high)]
        since = self._shelf.fact(over.since, subject)
        until = self._shelf.fact(over.until, subject) if over.until != "as_of" else None
        truth = elapsed_test(since, until, over.unit, over.op, limits, self._shelf.as_of)
        parts = [Node(sql.UNKNOWN, wanted=_where(_wants(over.since, subject, since), _unknown(since)))]
        ends = [since]
        if until is not None:
            parts.append(
                Node(sql.UNKNOWN, wanted=_where(_wants(over.until, subject, until), _unknown(until)))
            )
            ends.append(until)
        both = sql.all_of(sql.negate(_unknown(end)) for end in ends)
        return Node(truth, tuple(parts), _where(_wants(over.since, subject, since), both))


def column_test(column: FactColumn, op: str, limits: tuple[Any, ...]) -> str:
    """The test of one column of an element."""
    cells, element = column.cells, column.element
    if isinstance(cells, Numbers):
        return compare.number_test(cells, op, [float(limit) for limit in limits])
    if isinstance(cells, Falling):
        return compare.falling_test(cells, op, [float(limit) for limit in limits])
    if isinstance(cells, CodeList):
        return compare.list_test(cells, element, op, limits)
    if isinstance(cells, Text):
        raise EngineError(f"{element.name} is free text and is never compared")
    return compare.code_test(cells, element, op, limits)


def _joined(parts: tuple[Node, ...], join: Any) -> Node:
    return Node(join([part.truth for part in parts]), parts)


def _if_named(named: str, node: Node) -> Node:
    """A disc that only some cases name has a part in the answer of those alone."""
    if named == sql.TRUE:
        return node
    return Node(f"CASE WHEN {named} THEN {node.truth} ELSE FALSE END", (node,))


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
