"""Whether a condition certainly holds on a case, and nothing more: no trace, and no more read than needed.

Relations ask hundreds of conditions of every case and most do not hold, so only those that do are read again for their
details. It says met exactly where the direct reading does; the tests hold the two together.
"""

from collections.abc import Callable, Mapping
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.comparisons import comparison
from candidacy.evaluate import compiled
from candidacy.rules.conditions import Condition, ParameterRef
from candidacy.rules.resolved import ResolvedParameter
from candidacy.truth import Truth
from candidacy.view import View

Certainly = Callable[[View, str], bool]


def certainly(
    c: Condition, parameters: Mapping[str, ResolvedParameter], wanted: Truth = Truth.MET
) -> Certainly:
    """A test that a condition is met, or not met, whichever is wanted; unknown is neither."""
    other = Truth.NOT_MET if wanted is Truth.MET else Truth.MET

    def part(each: Condition, truth: Truth = wanted) -> Certainly:
        return certainly(each, parameters, truth)

    if c.element is not None and c.op != "known":
        return _element(c, parameters, wanted)
    if c.not_ is not None:
        return part(c.not_, other)
    if c.all is not None:
        parts = [part(each) for each in c.all]
        return _every(parts) if wanted is Truth.MET else _some(parts)
    if c.any is not None:
        parts = [part(each) for each in c.any]
        return _some(parts) if wanted is Truth.MET else _every(parts)
    if c.none is not None:
        parts = [part(each, other) for each in c.none]
        return _every(parts) if wanted is Truth.MET else _some(parts)
    over = c.any_entry or c.every_entry
    if over is not None:
        one_is_enough = (c.any_entry is not None) is (wanted is Truth.MET)
        return _entries(over.of, part(over.that), one_is_enough)
    test = compiled(c, parameters)
    return lambda view, subject: test.read(view, subject).truth is wanted


def _element(c: Condition, parameters: Mapping[str, ResolvedParameter], wanted: Truth) -> Certainly:
    assert c.element is not None
    assert c.op is not None
    limits: list[Any] = []
    for operand in (c.value, c.low, c.high):
        value: Any = parameters[operand.parameter].value if isinstance(operand, ParameterRef) else operand
        if value is not None:
            limits += value if isinstance(value, tuple) else [value]
    element, name = catalogue()[c.element], c.element
    compare, of_patient = comparison(element, c.op, tuple(limits)), element.scope == "patient"

    def holds(view: View, subject: str) -> bool:
        value = view.fact(name, "patient" if of_patient else subject).value
        return value is not None and compare(value) is wanted

    return holds


def _every(parts: list[Certainly]) -> Certainly:
    def holds(view: View, subject: str) -> bool:
        for part in parts:
            if not part(view, subject):
                return False
        return True

    return parts[0] if len(parts) == 1 else holds


def _some(parts: list[Certainly]) -> Certainly:
    def holds(view: View, subject: str) -> bool:
        for part in parts:
            if part(view, subject):
                return True
        return False

    return parts[0] if len(parts) == 1 else holds


def _entries(name: str, that: Certainly, one_is_enough: bool) -> Certainly:
    def holds(view: View, subject: str) -> bool:
        complete, entries = view.entries(name)
        if one_is_enough:
            return any(that(view, entry) for entry in entries)
        return complete and all(that(view, entry) for entry in entries)

    return holds
