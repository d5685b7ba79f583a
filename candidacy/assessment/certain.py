"""Whether a condition certainly holds on a case, and by which facts: no trace, and no more read than needed.

Relations ask hundreds of conditions of every case, and most do not hold. It says met exactly where the direct evaluation does,
and names the facts that its trace would; the tests hold the two together.
"""

from collections.abc import Callable, Iterator

from candidacy.assessment.evaluate import Trace, compiled
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why
from candidacy.rules.operators import comparison, comparison_of_numbers, elapsed
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
    every_part_tells,
)

# The known facts that make a condition met, or nothing where it is not certainly met.
Certainly = Callable[[View, str], tuple[Fact, ...] | None]


def certainly(node: Node) -> Certainly:
    """A test that a condition is met, which gives the facts that make it so."""
    match node:
        case Compare(age=None, leans=None):
            return _known(node) if node.op == "known" else _compared(node)
        case Elapsed(leans=None):
            return _passed(node)
        case AllOf(of=tuple() as parts):
            return _every([certainly(part) for part in parts])
        case AnyOf(of=tuple() as parts):
            return _some([certainly(part) for part in parts])
        case NoneOf(of=(Compare(age=None, leans=None) as only,)):
            return _unknown(only) if only.op == "known" else _compared(only, Truth.NOT_MET)
        case AllOf(of=Each() as each) | AnyOf(of=Each() as each):
            return _over(each.over, certainly(each.that), isinstance(node, AnyOf))
        case Compare() | Elapsed() | Complete() | AllOf() | AnyOf() | NoneOf() | CountOf():
            return _traced(node)


def _traced(node: Node) -> Certainly:
    test = compiled(node)

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        trace = test.read(view, subject)
        return tuple(details(node, trace)) if trace.truth is Truth.MET else None

    return holds


def details(node: Node, trace: Trace) -> Iterator[Fact]:
    """The known facts that made a condition come out as met."""
    match node:
        case Compare():
            facts = [trace.fact]
        case Elapsed():
            facts = [part.fact for part in trace.parts]
        case Complete():
            facts = []
        case AllOf(of=of) | AnyOf(of=of) | NoneOf(of=of) | CountOf(of=of):
            facts = []
            every = every_part_tells(node)
            for place, part in enumerate(trace.parts):
                if every or part.truth is Truth.MET:
                    yield from details(of.that if isinstance(of, Each) else of[place], part)
    yield from (fact for fact in facts if fact is not None and fact.value is not None)


def _known(node: Compare) -> Certainly:
    name, of_patient = node.element, catalogue()[node.element].scope == "patient"

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        fact = view.fact(name, "patient" if of_patient else subject)
        return (fact,) if fact.value is not None else None

    return holds


def _unknown(node: Compare) -> Certainly:
    name, of_patient = node.element, catalogue()[node.element].scope == "patient"

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        fact = view.fact(name, "patient" if of_patient else subject)
        return () if fact.value is None and fact.why is not Why.CONFLICTING else None

    return holds


def _compared(node: Compare, met: Truth = Truth.MET) -> Certainly:
    element, name = catalogue()[node.element], node.element
    compare, of_patient = comparison(element, node.op, node.limits), element.scope == "patient"

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        whose = "patient" if of_patient else subject
        fact = view.known.get((name, whose)) or view.fact(name, whose)  # most were asked for before
        value = fact.value
        return (fact,) if value is not None and compare(value) is met else None

    return holds


def _passed(node: Elapsed) -> Certainly:
    since, until, unit, met = node.since, node.until, node.unit, Truth.MET
    compare = comparison_of_numbers(node.op, node.limits)

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        begun = view.fact(since, subject)
        ended = view.fact(until, subject) if until != AS_OF else None
        start, end = begun.value, view.today if ended is None else ended.value
        if (
            not isinstance(start, Span)
            or not isinstance(end, Span)
            or compare(elapsed(start, end, unit)) is not met
        ):
            return None
        if ended is not None:
            return begun, ended
        # what has not happened yet is not recent
        return None if start.low > end.high else (begun,)

    return holds


def _every(parts: list[Certainly]) -> Certainly:
    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        found: tuple[Fact, ...] = ()
        for part in parts:
            facts = part(view, subject)
            if facts is None:
                return None
            found += facts
        return found

    return holds


def _some(parts: list[Certainly]) -> Certainly:
    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        found: tuple[Fact, ...] | None = None
        for part in parts:
            facts = part(view, subject)
            if facts is not None:
                found = facts if found is None else found + facts
        return found

    return holds


def _over(name: str, that: Certainly, one_is_enough: bool) -> Certainly:
    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        complete, subjects = (True, view.levels()) if name == DISCS else view.entries(name)
        if not one_is_enough and not complete:
            return None
        found: tuple[Fact, ...] | None = None if one_is_enough else ()
        for each in subjects:
            facts = that(view, each)
            if facts is not None:
                found = facts if found is None else found + facts
            elif not one_is_enough:
                return None
        return found

    return holds
