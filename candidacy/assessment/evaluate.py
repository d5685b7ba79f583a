"""The direct evaluation: one criterion on one subject, in three truths, keeping a tree of what was read.

Pure: no input or output, no clock. A criterion is compiled once per rule set and read per case.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf
from typing import Any, NamedTuple, Protocol

from candidacy.assessment.operators import MARGINS, comparison, comparison_of_numbers, elapsed
from candidacy.assessment.view import View
from candidacy.case.catalogue import Element, catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.truth import Truth, all_of, any_of, at_least, negate, of
from candidacy.foundation.values import Span, Value, Why
from candidacy.rules.conditions import Condition, Operand, ParameterRef
from candidacy.rules.criterion import Recency
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter
from candidacy.rules.vocabulary import Outcome


class Trace(NamedTuple):
    """One node of the tree of what was read.

    ``limits`` are the operands in use and ``parameters`` their names (empty for a literal). ``age`` is how
    many days old the fact was, where that mattered; ``tally`` is what was counted.
    """

    kind: str
    truth: Truth
    subject: str
    parts: tuple["Trace", ...] = ()
    element: str = ""
    op: str = ""
    limits: tuple[Any, ...] = ()
    parameters: tuple[str, ...] = ()
    unit: str = ""
    fact: Fact | None = None
    why: Why | None = None
    age: Span | None = None
    tally: Span | None = None

    @property
    def margin(self) -> tuple[float, float] | None:
        """Distance of a number to its nearest limit, in its unit, as a range; positive where the test is met."""
        if self.op not in MARGINS or self.kind not in ("test", "elapsed"):
            return None
        value = self.tally if self.kind == "elapsed" else self.fact.value if self.fact else None
        return MARGINS[self.op](value, self.limits) if isinstance(value, Span) else None


_make_trace = Trace._make  # half the time of the constructor, which counts for the most frequent node


class Evaluation(NamedTuple):
    """A criterion read for a subject: its condition's truth, whether it applies, and its outcome."""

    criterion: str
    subject: str
    outcome: Outcome
    truth: Truth
    applies: Truth
    trace: Trace
    applies_trace: Trace | None = None


class Test(Protocol):
    """A compiled condition."""

    def read(self, view: View, subject: str) -> Trace: ...


@dataclass(frozen=True, slots=True)
class _Fresh:
    """How old a fact may be."""

    amount: float
    unit: str
    dated_by: str | None


class _ElementTest:
    """A test of one element of one subject."""

    __slots__ = (
        "_compare",
        "_element",
        "_fresh",
        "_limits",
        "_of_patient",
        "_op",
        "_parameters",
        "_presence",
        "_unit",
    )

    def __init__(
        self,
        element: Element,
        op: str,
        limits: tuple[Any, ...],
        parameters: tuple[str, ...],
        fresh: _Fresh | None,
    ) -> None:
        self._element, self._op, self._limits, self._parameters = element.name, op, limits, parameters
        self._unit = element.unit or ""
        self._fresh = fresh
        self._presence = op == "known"
        self._compare = comparison(element, op, limits)
        self._of_patient = element.scope == "patient"

    def read(self, view: View, subject: str) -> Trace:
        fact = view.fact(self._element, "patient" if self._of_patient else subject)
        value, why, age = fact.value, fact.why, None
        if self._presence:
            # of a fact about which sources conflict nobody may say that there is none
            truth = Truth.UNKNOWN if value is None and why is Why.CONFLICTING else of(value is not None)
        elif value is None:
            truth = Truth.UNKNOWN
        else:
            truth = self._compare(value)
            if truth is Truth.UNKNOWN:
                why = Why.TOO_IMPRECISE
        if self._fresh is not None and value is not None:
            recent, age = view.recent(fact, self._fresh.amount, self._fresh.unit, self._fresh.dated_by)
            if recent is not Truth.MET:
                truth = Truth.UNKNOWN
                why = Why.UNDATED if age is None else Why.AFTER_AS_OF if age.high < 0 else Why.OUT_OF_DATE
        return _make_trace((
            "test", truth, fact.subject, (), self._element, self._op, self._limits, self._parameters,
            self._unit, fact, why, age, None,
        ))  # fmt: skip


class _Join:
    """all, any, none, not and at-least-k-of; every part is read, so that every part can be shown."""

    __slots__ = ("_join", "_kind", "_limits", "_parameters", "_parts")

    def __init__(
        self,
        kind: str,
        parts: tuple[Test, ...],
        join: Callable[[list[Truth]], Truth],
        limits: tuple[Any, ...] = (),
        parameters: tuple[str, ...] = (),
    ) -> None:
        self._kind, self._parts, self._join, self._limits, self._parameters = (
            kind,
            parts,
            join,
            limits,
            parameters,
        )

    def read(self, view: View, subject: str) -> Trace:
        parts = tuple([part.read(view, subject) for part in self._parts])
        truth = self._join([part.truth for part in parts])
        return Trace(self._kind, truth, subject, parts, limits=self._limits, parameters=self._parameters)


class _OverSubjects:
    """Quantifiers and counts over discs or list entries."""

    __slots__ = ("_compare", "_each", "_kind", "_limits", "_list", "_op", "_parameters")

    def __init__(
        self,
        kind: str,
        each: Test,
        list_name: str | None = None,
        compare: Callable[[Span], Truth] | None = None,
        op: str = "",
        limits: tuple[Any, ...] = (),
        parameters: tuple[str, ...] = (),
    ) -> None:
        self._kind, self._each, self._list, self._compare = kind, each, list_name, compare
        self._op, self._limits, self._parameters = op, limits, parameters

    def read(self, view: View, subject: str) -> Trace:
        if self._list is None:
            complete, subjects = True, list(view.levels())
        else:
            complete, subjects = view.entries(self._list)
        parts = [self._each.read(view, each) for each in subjects]
        truths = [part.truth for part in parts]
        if not complete:
            truths.append(Truth.UNKNOWN)
        count = None
        if self._compare is not None:
            certain = sum(t is Truth.MET for t in truths)
            possible = inf if not complete else certain + sum(t is Truth.UNKNOWN for t in truths)
            count = Span(certain, possible)
            truth = self._compare(count)
        else:
            truth = any_of(truths) if self._kind.startswith("any") else all_of(truths)
        why = None
        if truth is Truth.UNKNOWN and not complete and not any(p.truth is Truth.UNKNOWN for p in parts):
            why = Why.LIST_INCOMPLETE
        return Trace(
            self._kind, truth, subject, tuple(parts), self._list or "", self._op, self._limits,
            self._parameters, "", None, why, None, count,
        )  # fmt: skip


class _CompleteList:
    """Presence: whether a list is stated to be complete."""

    __slots__ = ("_list",)

    def __init__(self, name: str) -> None:
        self._list = name

    def read(self, view: View, subject: str) -> Trace:
        return Trace("complete_list", of(view.entries(self._list)[0]), subject, (), self._list)


class _ElapsedTest:
    """Calendar time between two dates, either perhaps partial."""

    __slots__ = ("_compare", "_limits", "_op", "_parameters", "_since", "_unit", "_until")

    def __init__(
        self, since: str, until: str, unit: str, op: str, limits: tuple[Any, ...], parameters: tuple[str, ...]
    ) -> None:
        self._since, self._until, self._unit, self._op = since, until, unit, op
        self._limits, self._parameters = limits, parameters
        self._compare = comparison_of_numbers(op, limits)

    def read(self, view: View, subject: str) -> Trace:
        since = view.fact(self._since, subject)
        until = view.fact(self._until, subject) if self._until != "as_of" else None
        parts = tuple(
            Trace("test", Truth.UNKNOWN if fact.value is None else Truth.MET, fact.subject, (), fact.element,
                  "known", fact=fact, why=fact.why)
            for fact in (since, until)
            if fact is not None
        )  # fmt: skip
        start = since.value
        end: Value | None = view.today if until is None else until.value
        if not isinstance(start, Span) or not isinstance(end, Span):
            return Trace("elapsed", Truth.UNKNOWN, subject, parts, self._since, self._op, self._limits,
                         self._parameters, self._unit, since, Why.INPUT_MISSING)  # fmt: skip
        passed = elapsed(start, end, self._unit)
        truth = self._compare(passed)
        why = Why.TOO_IMPRECISE if truth is Truth.UNKNOWN else None
        if until is None and start.low > view.today.high and truth is Truth.MET:
            # what has not happened yet is not recent
            truth, why = Truth.UNKNOWN, Why.AFTER_AS_OF
        return Trace("elapsed", truth, subject, parts, self._since, self._op, self._limits, self._parameters,
                     self._unit, since, why, None, passed)  # fmt: skip


class CompiledCriterion:
    """A criterion of a rule set, ready to be read on any case."""

    __slots__ = ("_applies", "_id", "_when", "inclusion", "resolved", "subject")

    def __init__(self, resolved: ResolvedCriterion) -> None:
        criterion = resolved.criterion
        self.resolved = resolved
        self._id = criterion.id
        self.subject = criterion.subject
        self.inclusion = criterion.kind == "inclusion"
        compiler = _Compiler(resolved.parameters, criterion.recency)
        self._when = compiler.test(criterion.when)
        self._applies = compiler.test(criterion.applies_when) if criterion.applies_when else None

    def read(self, view: View, subject: str) -> Evaluation:
        """Read the criterion for the patient or one disc."""
        trace = self._when.read(view, subject)
        truth = trace.truth
        passes = truth if self.inclusion else negate(truth)
        applies, applies_trace = Truth.MET, None
        if self._applies is not None:
            applies_trace = self._applies.read(view, subject)
            applies = applies_trace.truth
            passes = any_of((passes, negate(applies)))
        outcome: Outcome = (
            "pass" if passes is Truth.MET else "fail" if passes is Truth.NOT_MET else "undetermined"
        )
        return Evaluation(self._id, subject, outcome, truth, applies, trace, applies_trace)


def compiled(
    condition: Condition, parameters: Mapping[str, ResolvedParameter], recency: Recency | None = None
) -> Test:
    """A condition by itself, ready to be read on any case."""
    return _Compiler(parameters, recency).test(condition)


class _Compiler:
    """Turns conditions into tests, with parameters filled in."""

    def __init__(self, parameters: Mapping[str, ResolvedParameter], recency: Recency | None = None) -> None:
        self._parameters = parameters
        self._fresh: dict[str, _Fresh] = {}
        if recency is not None:
            limit = parameters[recency.max_age.parameter]
            fresh = _Fresh(float(str(limit.value)), limit.unit or "day", recency.dated_by)
            self._fresh = dict.fromkeys(recency.elements, fresh)

    def _operands(self, *operands: Operand | None) -> tuple[tuple[Any, ...], tuple[str, ...]]:
        values: list[Any] = []
        names: list[str] = []
        for operand in operands:
            if operand is None:
                continue
            if isinstance(operand, ParameterRef):
                names.append(operand.parameter)
                value: Any = self._parameters[operand.parameter].value
            else:
                value = operand
            values += value if isinstance(value, tuple) else [value]
        return tuple(values), tuple(names)

    def test(self, condition: Condition) -> Test:
        """Compile one condition."""
        return getattr(self, f"_{condition.head.rstrip('_')}")(condition)  # type: ignore[no-any-return]

    def _element(self, c: Condition) -> Test:
        assert c.element is not None
        assert c.op is not None
        limits, names = self._operands(c.value, c.low, c.high)
        return _ElementTest(catalogue()[c.element], c.op, limits, names, self._fresh.get(c.element))

    def _all(self, c: Condition) -> Test:
        return _Join("all", tuple(self.test(part) for part in c.all or ()), all_of)

    def _any(self, c: Condition) -> Test:
        return _Join("any", tuple(self.test(part) for part in c.any or ()), any_of)

    def _none(self, c: Condition) -> Test:
        return _Join(
            "none", tuple(self.test(part) for part in c.none or ()), lambda parts: negate(any_of(parts))
        )

    def _not(self, c: Condition) -> Test:
        assert c.not_ is not None
        return _Join("not", (self.test(c.not_),), lambda parts: negate(parts[0]))

    def _at_least_of(self, c: Condition) -> Test:
        some = c.at_least_of
        assert some is not None
        limits, names = self._operands(some.count)
        needed = int(limits[0])
        parts = tuple(self.test(part) for part in some.conditions)
        return _Join("at_least_of", parts, lambda truths: at_least(needed, truths), limits, names)

    def _any_disc(self, c: Condition) -> Test:
        over = c.any_disc
        assert over is not None
        each = self.test(over.that)
        return _OverSubjects(
            "any_disc", _Join("all", (self.test(over.where), each), all_of) if over.where else each
        )

    def _every_disc(self, c: Condition) -> Test:
        over = c.every_disc
        assert over is not None
        each = self.test(over.that)
        if over.where:
            each = _Join(
                "any", (_Join("not", (self.test(over.where),), lambda p: negate(p[0])), each), any_of
            )
        return _OverSubjects("every_disc", each)

    def _count_discs(self, c: Condition) -> Test:
        over = c.count_discs
        assert over is not None
        limits, names = self._operands(over.value, over.low, over.high)
        compare = comparison_of_numbers(over.op, limits)
        return _OverSubjects("count_discs", self.test(over.that), None, compare, over.op, limits, names)

    def _any_entry(self, c: Condition) -> Test:
        assert c.any_entry is not None
        return _OverSubjects("any_entry", self.test(c.any_entry.that), c.any_entry.of)

    def _every_entry(self, c: Condition) -> Test:
        assert c.every_entry is not None
        return _OverSubjects("every_entry", self.test(c.every_entry.that), c.every_entry.of)

    def _count_entries(self, c: Condition) -> Test:
        over = c.count_entries
        assert over is not None
        limits, names = self._operands(over.value, over.low, over.high)
        compare = comparison_of_numbers(over.op, limits)
        return _OverSubjects("count_entries", self.test(over.that), over.of, compare, over.op, limits, names)

    def _complete_list(self, c: Condition) -> Test:
        assert c.complete_list is not None
        return _CompleteList(c.complete_list)

    def _elapsed(self, c: Condition) -> Test:
        over = c.elapsed
        assert over is not None
        limits, names = self._operands(over.value, over.low, over.high)
        return _ElapsedTest(over.since, over.until, over.unit, over.op, limits, names)
