"""Whether a condition certainly holds on a case, and by which facts: no trace, and no more read than needed.

Relations ask hundreds of conditions of every case, and most do not hold. It says met exactly where the direct evaluation does,
and names the facts that its trace would; the tests hold the two together.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from candidacy.assessment.evaluate import Trace, compiled
from candidacy.assessment.operators import comparison
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.truth import Truth
from candidacy.rules.conditions import Condition, ParameterRef
from candidacy.rules.resolved import ResolvedParameter

# The known facts that make a condition met, or nothing where it is not certainly met.
Certainly = Callable[[View, str], tuple[Fact, ...] | None]
# Kinds of which every part counts as a detail; of others the parts that are met.
_EVERY_PART = frozenset(
    ("all", "none", "not", "every_disc", "every_entry", "count_discs", "count_entries", "elapsed")
)


def certainly(c: Condition, parameters: Mapping[str, ResolvedParameter]) -> Certainly:
    """A test that a condition is met, which gives the facts that make it so."""
    if c.element is not None and c.op != "known":
        return _element(c, parameters)
    if c.all is not None:
        return _every([certainly(each, parameters) for each in c.all])
    if c.any is not None:
        return _some([certainly(each, parameters) for each in c.any])
    over = c.any_entry or c.every_entry
    if over is not None:
        return _entries(over.of, certainly(over.that, parameters), c.any_entry is not None)
    test = compiled(c, parameters)

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        trace = test.read(view, subject)
        return tuple(details(trace)) if trace.truth is Truth.MET else None

    return holds


def details(trace: Trace) -> Iterator[Fact]:
    """The known facts that made a condition come out as met."""
    if trace.kind == "test":
        if trace.fact is not None and trace.fact.value is not None:
            yield trace.fact
        return
    for part in trace.parts:
        if trace.kind in _EVERY_PART or part.truth is Truth.MET:
            yield from details(part)


def _element(c: Condition, parameters: Mapping[str, ResolvedParameter]) -> Certainly:
    assert c.element is not None
    assert c.op is not None
    limits: list[Any] = []
    for operand in (c.value, c.low, c.high):
        value: Any = parameters[operand.parameter].value if isinstance(operand, ParameterRef) else operand
        if value is not None:
            limits += value if isinstance(value, tuple) else [value]
    element, name, met = catalogue()[c.element], c.element, Truth.MET
    compare, of_patient = comparison(element, c.op, tuple(limits)), element.scope == "patient"

    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        fact = view.fact(name, "patient" if of_patient else subject)
        return (fact,) if fact.value is not None and compare(fact.value) is met else None

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


def _entries(name: str, that: Certainly, one_is_enough: bool) -> Certainly:
    def holds(view: View, subject: str) -> tuple[Fact, ...] | None:
        complete, entries = view.entries(name)
        if not one_is_enough and not complete:
            return None
        found: tuple[Fact, ...] | None = None if one_is_enough else ()
        for entry in entries:
            facts = that(view, entry)
            if facts is not None:
                found = facts if found is None else found + facts
            elif not one_is_enough:
                return None
        return found

    return holds
