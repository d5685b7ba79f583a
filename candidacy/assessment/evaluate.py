"""The direct evaluation: one criterion on one subject, in three truths, keeping a tree of what was read.

Pure: no input or output, no clock. A criterion is compiled once per rule set and read per case.
"""

from collections.abc import Callable
from math import inf
from typing import Any, Protocol

from msgspec import Struct

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.truth import Truth, all_of, any_of, negate, of
from candidacy.foundation.values import Span, Value, Why
from candidacy.rules.operators import comparison, comparison_of_numbers, elapsed, margin
from candidacy.rules.resolved import ResolvedCriterion
from candidacy.rules.tree import (
    AS_OF,
    DISCS,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Node,
    NoneOf,
    kind_of,
)
from candidacy.rules.vocabulary import Outcome

_MET, _UNKNOWN = Truth.MET, Truth.UNKNOWN


class Trace(Struct, frozen=True, gc=False):
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
        if self.kind not in ("test", "elapsed"):
            return None
        value = self.tally if self.kind == "elapsed" else self.fact.value if self.fact else None
        return margin(self.op, value, self.limits) if isinstance(value, Span) else None


class Evaluation(Struct, frozen=True, gc=False):
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


class _Compared:
    """A test of one element of one subject."""

    __slots__ = (
        "_age", "_compare", "_element", "_leans", "_limits", "_met_stands", "_of_patient", "_op", "_parameters",
        "_presence", "_unit",
    )  # fmt: skip

    def __init__(self, node: Compare) -> None:
        element = catalogue()[node.element]
        self._element, self._op, self._age = node.element, node.op, node.age
        self._met_stands, self._leans = node.met_stands, node.leans
        self._limits, self._parameters = node.limits, node.parameters
        self._unit = element.unit or ""
        self._presence = node.op == "known"
        self._compare = comparison(element, node.op, self._limits)
        self._of_patient = (node.element, "patient") if element.scope == "patient" else None

    def read(self, view: View, subject: str) -> Trace:
        # most facts were asked for before
        key = self._of_patient or (self._element, subject)
        fact = view.known.get(key) or view.fact(*key)
        value, why, age = fact.value, fact.why, None
        if self._presence:
            # of a fact about which sources conflict nobody may say that there is none
            truth = _UNKNOWN if value is None and why is Why.CONFLICTING else of(value is not None)
        elif value is None:
            truth = _UNKNOWN
        else:
            truth = self._compare(value)
            if truth is _UNKNOWN:
                why = Why.TOO_IMPRECISE
                truth = _UNKNOWN if self._leans is None else self._leans
        if self._age is not None and value is not None:
            recent, age = view.recent(fact, *self._age)
            if recent is not _MET and not (self._met_stands and truth is _MET):
                truth = _UNKNOWN
                why = Why.UNDATED if age is None else Why.AFTER_AS_OF if age.high < 0 else Why.OUT_OF_DATE
        return Trace(
            "test", truth, fact.subject, (), self._element, self._op, self._limits, self._parameters,
            self._unit, fact, why, age, None,
        )  # fmt: skip


class _Several:
    """Several written conditions joined or counted; every part is read, so that every part can be shown."""

    __slots__ = ("_join", "_kind", "_limits", "_parameters", "_reads")

    def __init__(self, node: AllOf | AnyOf | NoneOf | CountOf, parts: tuple[Node, ...]) -> None:
        self._kind, self._reads = kind_of(node), [compiled(part).read for part in parts]
        self._limits: tuple[Any, ...] = ()
        self._parameters: tuple[str, ...] = ()
        self._join = _join_of(node)
        if isinstance(node, CountOf):
            self._limits, self._parameters = node.limits, node.parameters

    def read(self, view: View, subject: str) -> Trace:
        parts = tuple([read(view, subject) for read in self._reads])
        truth = self._join([part.truth for part in parts])
        return Trace(
            self._kind, truth, subject, parts, "", "", self._limits, self._parameters, "", None, None, None, None,
        )  # fmt: skip


def _join_of(node: AllOf | AnyOf | NoneOf | CountOf) -> Callable[[list[Truth]], Truth]:
    """What several truths make together."""
    match node:
        case AllOf():
            return all_of
        case AnyOf():
            return any_of
        case NoneOf():
            return lambda truths: negate(any_of(truths))
        case CountOf():
            compare = comparison_of_numbers(node.op, node.limits)
            return lambda truths: compare(_count(truths))


def _count(truths: list[Truth], complete: bool = True) -> Span:
    """How many are met: from those that certainly are to those that may be."""
    certain = sum(t is Truth.MET for t in truths)
    return Span(certain, certain + sum(t is Truth.UNKNOWN for t in truths) if complete else inf)


class _Over:
    """One condition read for every disc, or for every entry of a list, and joined or counted."""

    __slots__ = ("_compare", "_each", "_join", "_kind", "_limits", "_list", "_op", "_parameters")

    def __init__(self, node: AllOf | AnyOf | CountOf, each: Each) -> None:
        self._kind, self._each = kind_of(node), compiled(each.that)
        self._list = "" if each.over == DISCS else each.over
        self._join = _join_of(node)
        self._op, self._compare = "", None
        self._limits: tuple[Any, ...] = ()
        self._parameters: tuple[str, ...] = ()
        if isinstance(node, CountOf):
            self._op, self._limits, self._parameters = node.op, node.limits, node.parameters
            self._compare = comparison_of_numbers(node.op, node.limits)

    def read(self, view: View, subject: str) -> Trace:
        complete, subjects = view.entries(self._list) if self._list else (True, list(view.levels()))
        parts = [self._each.read(view, each) for each in subjects]
        truths = [part.truth for part in parts]
        if not complete:
            truths.append(Truth.UNKNOWN)
        count = None
        if self._compare is not None:
            count = _count(truths, complete)
            truth = self._compare(count)
        else:
            truth = self._join(truths)
        why = None
        if truth is Truth.UNKNOWN and not complete and not any(p.truth is Truth.UNKNOWN for p in parts):
            why = Why.LIST_INCOMPLETE
        return Trace(
            self._kind, truth, subject, tuple(parts), self._list, self._op, self._limits,
            self._parameters, "", None, why, None, count,
        )  # fmt: skip


class _Completeness:
    """Presence: whether a list is stated to be complete."""

    __slots__ = ("_list",)

    def __init__(self, node: Complete) -> None:
        self._list = node.of

    def read(self, view: View, subject: str) -> Trace:
        return Trace("complete_list", of(view.entries(self._list)[0]), subject, (), self._list)


class _TimePassed:
    """Calendar time between two dates, either perhaps partial."""

    __slots__ = ("_compare", "_leans", "_limits", "_op", "_parameters", "_since", "_unit", "_until")

    def __init__(self, node: Elapsed) -> None:
        self._since, self._until, self._unit, self._op = node.since, node.until, node.unit, node.op
        self._limits, self._parameters = node.limits, node.parameters
        self._compare, self._leans = comparison_of_numbers(node.op, self._limits), node.leans

    def read(self, view: View, subject: str) -> Trace:
        since = view.fact(self._since, subject)
        until = view.fact(self._until, subject) if self._until != AS_OF else None
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
        ahead = until is None and start.low > view.today.high
        if ahead and truth is Truth.MET:
            # what has not happened yet is not recent
            truth, why = Truth.UNKNOWN, Why.AFTER_AS_OF
        elif why is not None and self._leans is not None and not ahead:
            truth = self._leans
        return Trace("elapsed", truth, subject, parts, self._since, self._op, self._limits, self._parameters,
                     self._unit, since, why, None, passed)  # fmt: skip


def compiled(node: Node) -> Test:
    """A condition ready to be read on any case."""
    match node:
        case Compare():
            return _Compared(node)
        case Elapsed():
            return _TimePassed(node)
        case Complete():
            return _Completeness(node)
        case AllOf(of=of) | AnyOf(of=of) | CountOf(of=of):
            return _Over(node, of) if isinstance(of, Each) else _Several(node, of)
        case NoneOf(of=parts):
            return _Several(node, parts)


class CompiledCriterion:
    """A criterion of a rule set, ready to be read on any case; its conditions are compiled when first read."""

    __slots__ = ("_applies", "_id", "_when", "inclusion", "resolved", "subject")
    _when: Test | None
    _applies: Test | None

    def __init__(self, resolved: ResolvedCriterion) -> None:
        criterion = resolved.criterion
        self.resolved = resolved
        self._id = criterion.id
        self.subject = criterion.subject
        self.inclusion = criterion.kind == "inclusion"
        self._when = self._applies = None

    def _compiled(self) -> Test:
        applies = self.resolved.applies_when
        # first what is looked at last, for another thread may read meanwhile
        self._applies = compiled(applies) if applies is not None else None
        when = self._when = compiled(self.resolved.when)
        return when

    def read(self, view: View, subject: str) -> Evaluation:
        """Read the criterion for the patient or one disc."""
        trace = (self._when or self._compiled()).read(view, subject)
        truth = trace.truth
        outcome: Outcome = (
            "undetermined" if truth is _UNKNOWN else "pass" if (truth is _MET) is self.inclusion else "fail"
        )
        applies, applies_trace = _MET, None
        if self._applies is not None:
            applies_trace = self._applies.read(view, subject)
            applies = applies_trace.truth
            # what does not apply passes, and what may not apply has not failed yet
            if applies is Truth.NOT_MET:
                outcome = "pass"
            elif applies is _UNKNOWN and outcome == "fail":
                outcome = "undetermined"
        return Evaluation(self._id, subject, outcome, truth, applies, trace, applies_trace)
