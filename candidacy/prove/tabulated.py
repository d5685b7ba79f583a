"""Elements that are worked out from a few codes: the program's own formula, read on every combination of its inputs.

Nothing of a formula is written again here. An element is tabulated where all that its formula looks at is coded, may only be
stated or is tabulated itself, and the combinations are few; any other is left free within its range.
"""

from collections.abc import Mapping
from datetime import date
from functools import cached_property
from itertools import product
from typing import TYPE_CHECKING, Any

import z3

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import CaseFacts, Fact
from candidacy.derive import work_out
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Value, point
from candidacy.prove.symbols import NO, YES, Expr, Seen, Truths
from candidacy.rules.operators import comparison
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import Compare

if TYPE_CHECKING:
    from candidacy.prove.translate import Reader

# More combinations than this are not written out.
_MOST = 1500


class Tabulated:
    """The formulas of one rule set that can be written out, under its settings and tables."""

    def __init__(self, rule_set: RuleSet, as_of: date) -> None:
        self._rule_set, self._as_of = rule_set, as_of
        self._rows: dict[str, list[tuple[tuple[Value | None, ...], Value | None]]] = {}

    def has(self, name: str) -> bool:
        """Whether an element can be tabulated."""
        return name in self._fit

    @cached_property
    def _fit(self) -> frozenset[str]:
        shelf, told = catalogue(), self._rule_set.relations
        return frozenset(
            each.name
            for each in shelf.all
            if each.derived and not each.statable and each.reads
            and not each.covers and each.name not in shelf.covered_by and each.name not in told
            and all(_plain(shelf.get(part), each) for part in each.reads)
            and _combinations([shelf[part] for part in each.reads]) <= _MOST
        )  # fmt: skip

    def rows(self, name: str) -> list[tuple[tuple[Value | None, ...], Value | None]]:
        """Each combination of inputs, ``None`` where one is not known, with what the formula gives."""
        if name not in self._rows:
            element = catalogue()[name]
            inputs = [catalogue()[part] for part in element.reads]
            self._rows[name] = [
                (values, self._worked_out(element, dict(zip(element.reads, values, strict=True))))
                for values in product(*map(_values, inputs))
            ]
        return self._rows[name]

    def _worked_out(self, element: Element, values: Mapping[str, Value | None]) -> Value | None:
        subject = {"patient": "patient", "disc": "L4-L5"}[element.scope]
        patient: dict[str, Fact] = {}
        disc: dict[str, Fact] = {}
        for name, value in values.items():
            if value is not None:
                of_patient = catalogue()[name].scope == "patient"
                (patient if of_patient else disc)[name] = Fact(
                    name, "patient" if of_patient else subject, value
                )
        facts = CaseFacts("combination", patient, {subject: disc} if subject != "patient" else {})
        view = View(facts, self._as_of, self._rule_set.setting_values(), self._rule_set.tables)
        return work_out(element.name, view, subject).value

    def truth(self, reader: "Reader", node: Compare, subject: str) -> Truths:
        """The truth of a test of a tabulated element: over the combinations by which it is met, and is not."""
        element = catalogue()[node.element]
        test = comparison(element, node.op, node.limits)
        seen = [reader.fact(part, subject) for part in element.reads]
        told = []
        for values, value in self.rows(node.element):
            if node.op == "known":
                truth = Truth.MET if value is not None else Truth.NOT_MET
            else:
                truth = Truth.UNKNOWN if value is None else test(value)
            told.append((values, truth))
        held: dict[tuple[int, Value | None], Expr] = {}
        met, unmet = (_where(seen, told, truth, 0, held) for truth in (Truth.MET, Truth.NOT_MET))
        return Truths(met, unmet)


_Told = list[tuple[tuple[Value | None, ...], Truth]]


def _where(
    seen: list[Seen], told: _Told, truth: Truth, place: int, held: dict[tuple[int, Value | None], Expr]
) -> Expr:
    """Where combinations come to a truth: input after input, as far as the inputs matter."""
    answers = {each is truth for _, each in told}
    if len(answers) == 1:
        return YES if answers.pop() else NO
    parts: dict[Value | None, _Told] = {}
    for values, each in told:
        parts.setdefault(values[place], []).append((values, each))
    ways = []
    for value, rows in parts.items():
        below = _where(seen, rows, truth, place + 1, held)
        if below is NO:
            continue
        key = place, value
        if key not in held:
            held[key] = holds(seen[place], value)
        ways.append(held[key] if below is YES else z3.And(held[key], below))
    return z3.Or(ways)


def _plain(part: Element | None, element: Element) -> bool:
    kinds = ("boolean", "choice", "integer")
    return (
        part is not None
        and not part.derived
        and part.kind in kinds
        and part.scope in ("patient", element.scope)
    )


def _combinations(inputs: list[Element]) -> int:
    found = 1
    for each in inputs:
        found *= _size(each)
    return found


def _size(element: Element) -> int:
    if element.kind == "integer":
        possible = element.possible
        if possible is None or possible.low is None or possible.high is None:
            return _MOST + 1
        return int(possible.high - possible.low) + 2
    return (2 if element.kind == "boolean" else len(element.codes)) + 1


def _values(element: Element) -> list[Value | None]:
    if element.kind == "integer":
        assert element.possible is not None
        assert element.possible.low is not None
        assert element.possible.high is not None
        return [None, *(point(n) for n in range(int(element.possible.low), int(element.possible.high) + 1))]
    codes: tuple[Any, ...] = (True, False) if element.kind == "boolean" else element.codes
    return [None, *(Options(frozenset((code,))) for code in codes)]


def holds(seen: Seen, value: Value | None) -> Expr:
    """A fact has exactly this value, or none."""
    if value is None:
        return z3.Not(seen.known)
    if isinstance(value, Options):
        (code,) = value.codes
        if seen.element.kind == "boolean":
            return z3.And(seen.known, seen.value if code is True else z3.Not(seen.value))
        return z3.And(seen.known, seen.value == seen.element.codes.index(str(code)))
    return z3.And(seen.known, seen.value == int(value.low))  # type: ignore[union-attr]
