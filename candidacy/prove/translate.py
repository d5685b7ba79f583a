"""The one condition tree in the language of the solver: each condition becomes two truths, met and not met.

It is read as `candidacy.assessment.evaluate` reads it, arm by arm; the tests hold the two together on generated records. What
operators mean is told once, in `candidacy.rules.operators`, and said here over variables.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

import z3

from candidacy.case.catalogue import catalogue
from candidacy.foundation.dates import oldest_within
from candidacy.foundation.values import point
from candidacy.prove.symbols import NO, YES, Expr, Seen, Truths, World, number
from candidacy.prove.tabulated import Tabulated
from candidacy.rules.operators import Primitives, codes_meant, compare_numbers, elapsed
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

CONSIDERED, STANDING = "considered_for_treatment", "disc_standing"


def all_of(parts: Iterable[Truths]) -> Truths:
    """Every one holds."""
    parts = list(parts)
    return Truths(all_true(p.met for p in parts), any_true(p.unmet for p in parts))


def any_of(parts: Iterable[Truths]) -> Truths:
    """At least one holds."""
    parts = list(parts)
    return Truths(any_true(p.met for p in parts), all_true(p.unmet for p in parts))


def negate(part: Truths) -> Truths:
    """It does not hold; unknown stays unknown."""
    return Truths(part.unmet, part.met)


def where(here: Expr, part: Truths) -> Truths:
    """A condition that is only known where something else is."""
    return Truths(all_true((here, part.met)), all_true((here, part.unmet)))


def all_true(parts: Iterable[Expr]) -> Expr:
    kept = [part for part in parts if part is not YES]
    return (
        NO
        if any(part is NO for part in kept)
        else kept[0]
        if len(kept) == 1
        else z3.And(kept)
        if kept
        else YES
    )


def any_true(parts: Iterable[Expr]) -> Expr:
    kept = [part for part in parts if part is not NO]
    return (
        YES
        if any(part is YES for part in kept)
        else kept[0]
        if len(kept) == 1
        else z3.Or(kept)
        if kept
        else NO
    )


class Range(NamedTuple):
    """All numbers from ``low`` to ``high``, or without an upper end."""

    low: Expr
    high: Expr
    endless: Expr = NO


def compared(op: str, limits: Sequence[Any], range_: Range) -> Truths:
    """How a number, a count or a length of time stands to its limits."""
    low, high, endless = range_
    bounded = z3.Not(endless) if endless is not NO else YES
    exact = all_true((bounded, low == high)) if low is not high else YES

    def equals(limit: float) -> Truths:
        outside = low > number(limit), all_true((bounded, high < number(limit)))
        return Truths(all_true((exact, low == number(limit))), any_true(outside))

    say = Primitives[Truths](
        at_least=lambda limit: Truths(low >= number(limit), all_true((bounded, high < number(limit)))),
        at_most=lambda limit: Truths(all_true((bounded, high <= number(limit))), low > number(limit)),
        equals=equals,
        among=lambda limits: any_of(equals(limit) for limit in limits),
        negate=negate,
        both=lambda one, other: all_of((one, other)),
    )
    return compare_numbers(op, limits, say)


class Reader:
    """Reads conditions as one rule set does.

    Parameters
    ----------
    eyes
        For an element, what tells this rule set's view of it from another's (`World.fact`).
    tables
        Formulas of the rule set that were read on every combination of their inputs.
    standings
        For a disc, what it may still come to: by standing, whether that is possible. Set before criteria of the patient.
    """

    def __init__(self, world: World, tables: Tabulated, eyes: Callable[[str], int] = lambda name: 0) -> None:
        self.world, self._tables, self._eyes = world, tables, eyes
        self.standings: Mapping[str, Mapping[str, Expr]] = {}
        self._kept: dict[tuple[Node, str], Truths] = {}

    def truth(self, node: Node, subject: str) -> Truths:
        """The truth of a condition for the patient, a disc or an entry of a list."""
        key = node, subject
        if key not in self._kept:
            self._kept[key] = self._read(node, subject)
        return self._kept[key]

    def _read(self, node: Node, subject: str) -> Truths:
        match node:
            case Compare():
                return self._compared(node, subject)
            case Elapsed():
                return self._elapsed(node, subject)
            case Complete(of=name):
                complete = self.world.entries(name).complete
                return Truths(complete, z3.Not(complete))
            case AllOf(of=Each() as each) | AnyOf(of=Each() as each) | CountOf(of=Each() as each):
                return self._over(node, each)
            case AllOf(of=tuple() as parts):
                return all_of(self.truth(part, subject) for part in parts)
            case AnyOf(of=tuple() as parts):
                return any_of(self.truth(part, subject) for part in parts)
            case NoneOf(of=parts):
                return negate(any_of(self.truth(part, subject) for part in parts))
            case CountOf(of=tuple() as parts):
                return compared(node.op, node.limits, _count(self.truth(part, subject) for part in parts))
        raise TypeError(type(node).__name__)

    def tabulated(self, name: str) -> bool:
        """Whether a formula is read on every combination of its inputs."""
        return name == CONSIDERED or self._tables.has(name)

    # --- one element

    def fact(self, name: str, subject: str) -> Seen:
        """The fact of an element as this rule set sees it."""
        return self.world.fact(name, subject, self._eyes(name))

    def _compared(self, node: Compare, subject: str) -> Truths:
        name, op, limits = node.element, node.op, node.limits
        if name == STANDING:
            return self._standing(node, subject)
        if name == CONSIDERED:
            return self._considered(op, limits, subject)
        seen = self.fact(name, subject)
        if self._tables.has(name):
            truth = self._tables.truth(self, node, subject)
            return truth if node.age is None else self._if_recent(seen, node, truth)
        if not seen.element.statable:
            self.world.free.add(name)
        if op == "known":
            truth = Truths(seen.known, z3.Not(seen.known))
        else:
            truth = where(seen.known, value_test(seen, op, limits))
        return truth if node.age is None else self._if_recent(seen, node, truth)

    def _if_recent(self, seen: Seen, node: Compare, truth: Truths) -> Truths:
        """The truth of a test of a fact that may not be too old; that nothing is recorded has no age."""
        assert node.age is not None
        recent = self._recent(seen, node.age)
        return Truths(
            truth.met if node.met_stands else all_true((recent, truth.met)),
            truth.unmet if node.op == "known" else all_true((recent, truth.unmet)),
        )

    def _recent(self, seen: Seen, age: Age) -> Expr:
        oldest = oldest_within(int(age.amount), age.unit, self.world.as_of).toordinal()
        dated, day = self.world.day_of(seen, age.dated_by, self._eyes(age.dated_by) if age.dated_by else 0)
        return z3.And(dated, day <= self.world.today, day >= oldest)

    def _considered(self, op: str, limits: Sequence[Any], subject: str) -> Truths:
        """Whether the record lists a disc among those considered, which is how it is worked out."""
        told = self.fact("discs_under_consideration", "patient")
        if op == "known":
            return Truths(told.known, z3.Not(told.known))
        listed = told.members.get(subject, NO)
        codes, denied = codes_meant(catalogue()[CONSIDERED], op, limits)
        truth = _of_yes_no(listed, codes)
        return where(told.known, negate(truth) if denied else truth)

    def _standing(self, node: Compare, subject: str) -> Truths:
        named = self.world.named(subject)
        if node.op == "known":
            return Truths(named, z3.Not(named))
        codes, denied = codes_meant(catalogue()[STANDING], node.op, node.limits)
        may = self.standings[subject]
        inside = any_true(said for standing, said in may.items() if standing in codes)
        outside = any_true(said for standing, said in may.items() if standing not in codes)
        truth = Truths(z3.Not(outside), z3.Not(inside))
        return where(named, negate(truth) if denied else truth)

    # --- many

    def _over(self, node: AllOf | AnyOf | CountOf, each: Each) -> Truths:
        if each.over == DISCS:
            return self._joined(
                node,
                [(self.world.counted(level), self.truth(each.that, level)) for level in self.world.levels],
                YES,
            )
        entries = self.world.entries(each.over)
        parts = [(there, self.truth(each.that, place)) for place, there in entries.there.items()]
        return self._joined(node, parts, entries.complete)

    def _joined(
        self, node: AllOf | AnyOf | CountOf, parts: list[tuple[Expr, Truths]], complete: Expr
    ) -> Truths:
        match node:
            case AllOf():
                met = all_true([complete, *(any_true((opposite(here), part.met)) for here, part in parts)])
                return Truths(met, any_true(all_true((here, part.unmet)) for here, part in parts))
            case AnyOf():
                unmet = all_true(
                    [complete, *(any_true((opposite(here), part.unmet)) for here, part in parts)]
                )
                return Truths(any_true(all_true((here, part.met)) for here, part in parts), unmet)
            case CountOf():
                counted = _count(
                    Truths(all_true((here, part.met)), any_true((opposite(here), part.unmet)))
                    for here, part in parts
                )
                return compared(node.op, node.limits, counted._replace(endless=opposite(complete)))

    # --- time between dates

    def _elapsed(self, node: Elapsed, subject: str) -> Truths:
        since = self.fact(node.since, subject)
        if node.until == AS_OF:
            truth = self._until_today(node, since)
            # what has not happened yet is not recent
            return where(since.known, Truths(z3.And(truth.met, since.value <= self.world.today), truth.unmet))
        until = self.fact(node.until, subject)
        both = z3.And(since.known, until.known)
        if node.unit in ("day", "week"):
            passed = until.value - since.value
            limits = [limit * (7 if node.unit == "week" else 1) for limit in node.limits]
            return where(both, compared(node.op, limits, Range(passed, passed)))
        # calendar months between two days are left open: a record shows them, or nothing is told
        self.world.free.add(f"{node.unit}s from {node.since} to {node.until}")
        open_ = z3.Bool(f"{subject} {node.since} {node.until} {node.unit} {node.op} {node.limits}")
        return where(both, Truths(open_, z3.Not(open_)))

    def _until_today(self, node: Elapsed, since: Seen) -> Truths:
        """The time up to the day of the proof falls as the first date rises, so that each limit is a last or a first day."""
        today = self.world.as_of

        def last_day(reaches: Callable[[float], bool]) -> int:
            """The last day of which the time since then still reaches a limit."""
            low, high = 1, date.max.toordinal() - 1
            while low < high:
                middle = (low + high + 1) // 2
                passed = elapsed(point(middle), point(today.toordinal()), node.unit)
                low, high = (middle, high) if reaches(passed.low) else (low, middle - 1)
            return low

        def at_least(limit: float) -> Truths:
            met = since.value <= last_day(lambda passed: passed >= limit)
            return Truths(met, z3.Not(met))

        def at_most(limit: float) -> Truths:
            more = since.value <= last_day(lambda passed: passed > limit)
            return Truths(z3.Not(more), more)

        def equals(limit: float) -> Truths:
            return all_of((at_least(limit), at_most(limit)))

        say = Primitives[Truths](
            at_least,
            at_most,
            equals,
            lambda limits: any_of(map(equals, limits)),
            negate,
            lambda a, b: all_of((a, b)),
        )
        return compare_numbers(node.op, node.limits, say)


def value_test(seen: Seen, op: str, limits: Sequence[Any]) -> Truths:
    """How a value that is known stands to the limits of a test."""
    kind = seen.element.kind
    if kind in ("number", "integer", "date"):
        return compared(op, limits, Range(seen.value, seen.value if seen.high is None else seen.high))
    if kind == "members":
        if op == "empty":
            has_any = any_true(seen.members.values())
            return Truths(opposite(has_any), has_any)
        met = any_true(seen.members.get(str(code), NO) for code in limits)
        return Truths(met, opposite(met))
    codes, denied = codes_meant(seen.element, op, limits)
    if seen.may:
        inside, outside = (
            any_true(said for code, said in seen.may.items() if (code in codes) is wanted)
            for wanted in (True, False)
        )
        truth = Truths(opposite(outside), opposite(inside))
    elif kind == "boolean":
        truth = _of_yes_no(seen.value, codes)
    else:
        met = any_true(seen.value == place for place, code in enumerate(seen.element.codes) if code in codes)
        truth = Truths(met, opposite(met))
    return negate(truth) if denied else truth


def _of_yes_no(value: Expr, codes: Collection[Any]) -> Truths:
    met = any_true((*([value] if True in codes else []), *([opposite(value)] if False in codes else [])))
    return Truths(met, opposite(met))


def opposite(part: Expr) -> Expr:
    return NO if part is YES else YES if part is NO else z3.Not(part)


def _count(parts: Iterable[Truths]) -> Range:
    parts = list(parts)
    one, none = z3.IntVal(1), z3.IntVal(0)
    certain = z3.Sum([z3.If(part.met, one, none) for part in parts])
    return Range(certain, z3.Sum([z3.If(part.unmet, none, one) for part in parts]))
