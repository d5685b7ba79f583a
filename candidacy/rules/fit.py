"""Whether a criterion, with the parameters in use, fits the catalogue: what does not could not be read on a case.

Elements, scopes, operators, operands, units. Loading refuses a misfit; the check of rules reports it with the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from candidacy.case.catalogue import LISTS, Element, catalogue
from candidacy.foundation.errors import Code, shown
from candidacy.rules.conditions import CODED, NUMERIC, Condition, ParameterRef, elements_of, operands_of
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder

if TYPE_CHECKING:
    from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter

Path = tuple[str | int, ...]
CALENDAR = ("day", "week", "month", "year")
_SEVERAL = frozenset(("one_of", "none_of", "contains_any"))


class Misfit(NamedTuple):
    """One thing that does not fit, with its path inside the criterion file."""

    path: Path
    code: Code
    message: str
    found: str = ""
    expected: str = ""
    next_step: str = ""


def possible_operators(element: Element) -> frozenset[str]:
    """Operators that make sense for an element."""
    comparisons = frozenset(("at_least", "at_most", "more_than", "less_than", "between"))
    codes = frozenset(("is", "is_not", "one_of", "none_of"))
    known = frozenset(("known",))
    if element.kind in ("number", "integer"):
        return comparisons | known | (codes if element.kind == "integer" else frozenset())
    if element.kind == "choice":
        return codes | known | (comparisons if element.ordered else frozenset())
    if element.kind == "boolean":
        return frozenset(("is", "known"))
    if element.kind == "members":
        return frozenset(("contains", "contains_any", "empty", "known"))
    return known


def misfits(item: ResolvedCriterion) -> list[Misfit]:
    """Everything that does not fit, in the order of the file."""
    criterion, reader = item.criterion, _Reader(item.criterion.subject, item.parameters)
    found: list[Misfit] = []
    for start, condition in (("when", criterion.when), ("applies_when", criterion.applies_when)):
        if condition is not None:
            found += reader.condition(condition, (start,), criterion.subject)
    found += _recency(criterion, item.parameters)
    read = {
        *elements_of(criterion.when),
        *(elements_of(criterion.applies_when) if criterion.applies_when else ()),
    }
    found += [
        Misfit(("weighs",), Code.BAD_RULE, "weighs an element that the criterion does not read", name)
        for name in criterion.weighs
        if name not in read
    ]
    return list(dict.fromkeys(found))


def condition_misfits(
    condition: Condition, scope: str, parameters: Mapping[str, ResolvedParameter], place: Path
) -> Iterator[Misfit]:
    """Everything about one condition, read for a subject of a scope, that does not fit."""
    return _Reader(scope, parameters).condition(condition, place, scope)


def order_misfits(order: DecisionOrder) -> list[Misfit]:
    """What keeps an order of decision rules from deciding every case exactly once."""
    found: list[Misfit] = []
    ids = [rule.id for rule in order.rules]
    for number, identifier in enumerate(ids):
        if identifier in ids[:number]:
            found.append(
                Misfit(
                    ("rules", number, "id"), Code.DUPLICATE_KEY, "two decision rules have this id", identifier
                )
            )
    if order.rules[-1].when:
        found.append(
            Misfit(
                ("rules",),
                Code.UNDECIDED,
                "some cases are decided by no rule",
                order.id,
                "a last rule without when",
            )
        )
    return found


def inside(condition: Condition, scope: str) -> Iterator[tuple[Path, Condition, str]]:
    """The conditions directly inside a condition, each with its path and the scope it is read in."""
    for head in ("all", "any", "none"):
        for number, part in enumerate(getattr(condition, head) or ()):
            yield (head, number), part, scope
    if condition.not_ is not None:
        yield ("not",), condition.not_, scope
    if condition.at_least_of is not None:
        for number, part in enumerate(condition.at_least_of.conditions):
            yield ("at_least_of", "conditions", number), part, scope
    for head in ("any_disc", "every_disc", "count_discs"):
        over = getattr(condition, head)
        if over is not None:
            yield (head, "that"), over.that, "disc"
            if getattr(over, "where", None) is not None:
                yield (head, "where"), over.where, "disc"
    for head in ("any_entry", "every_entry", "count_entries"):
        over = getattr(condition, head)
        if over is not None:
            yield (head, "that"), over.that, LISTS[over.of]


class _Reader:
    """Walks the conditions of one criterion."""

    def __init__(self, subject: str, parameters: Mapping[str, ResolvedParameter]) -> None:
        self._subject, self._parameters = subject, parameters

    def condition(self, condition: Condition, place: Path, scope: str) -> Iterator[Misfit]:
        for operand in operands_of(condition):
            if isinstance(operand, ParameterRef) and operand.parameter not in self._parameters:
                yield Misfit(
                    place,
                    Code.UNKNOWN_PARAMETER,
                    "no such parameter",
                    operand.parameter,
                    ", ".join(self._parameters) or "declare it under parameters",
                )
        if condition.element is not None:
            yield from self._test(condition, condition.element, place, scope)
        if condition.elapsed is not None:
            yield from self._elapsed(condition, (*place, "elapsed"), scope)
        for head in ("at_least_of", "count_discs", "count_entries"):
            if getattr(condition, head) is not None:
                yield from self._whole_numbers(condition, (*place, head))
        for path, part, inner in inside(condition, scope):
            yield from self.condition(part, (*place, *path), inner)

    def _value(self, operand: object) -> object:
        if isinstance(operand, ParameterRef):
            parameter = self._parameters.get(operand.parameter)
            return parameter.value if parameter else None
        return operand

    def _test(self, condition: Condition, name: str, place: Path, scope: str) -> Iterator[Misfit]:
        shelf = catalogue()
        element, op = shelf.get(name), condition.op or ""
        if element is None:
            close = shelf.nearest(name)
            expected = f"closest is {close}" if close else "candidacy elements lists them"
            yield Misfit((*place, "element"), Code.UNKNOWN_ELEMENT, "not a data element", name, expected)
            return
        if element.scope not in ("patient", scope):
            yield Misfit(
                (*place, "element"),
                Code.BAD_RULE,
                f"an element of {element.scope} read where the subject is {scope}",
                name,
                next_step="use any_disc, count_discs, any_entry or count_entries",
            )
        if name == "disc_standing" and self._subject == "disc":
            yield Misfit(
                (*place, "element"), Code.CYCLE, "a disc criterion reads the standing it helps to decide"
            )
        if op not in possible_operators(element):
            yield Misfit(
                (*place, "op"),
                Code.BAD_RULE,
                f"this operator does not fit {element.kind} {name}",
                op,
                ", ".join(sorted(possible_operators(element))),
            )
            return
        for operand in operands_of(condition):
            yield from self._operand(operand, element, op, place)
        yield from self._order(condition, element, place)

    def _operand(self, operand: object, element: Element, op: str, place: Path) -> Iterator[Misfit]:
        where = place
        if isinstance(operand, ParameterRef):
            if operand.parameter not in self._parameters:
                return
            unit, where = self._parameters[operand.parameter].unit, ("parameters", operand.parameter)
            if op in NUMERIC | CODED and (unit or None) != (element.unit or None):
                yield Misfit(
                    where,
                    Code.UNIT_CONFUSED,
                    "the unit differs from the element's",
                    unit or "none",
                    element.unit or "none",
                )
        value = self._value(operand)
        items = value if isinstance(value, tuple) else (value,)
        if op not in _SEVERAL and isinstance(value, tuple):
            yield Misfit(where, Code.BAD_RULE, f"{op} compares with one value, not a list", shown(value))
            return
        if not items:
            yield Misfit(where, Code.BAD_RULE, "an empty list can match nothing")
        for each in items:
            wrong = _wrong_value(each, element)
            if wrong:
                yield Misfit(where, Code.UNREACHABLE, wrong, shown(each), _allowed(element))

    def _order(self, condition: Condition, element: Element, place: Path) -> Iterator[Misfit]:
        if condition.op == "between":
            low, high = self._value(condition.low), self._value(condition.high)
            if element.kind == "choice" and low in element.codes and high in element.codes:
                low, high = element.codes.index(str(low)), element.codes.index(str(high))
            yield from _rising(low, high, place)

    def _whole_numbers(self, condition: Condition, place: Path) -> Iterator[Misfit]:
        """Counts are compared with whole numbers, that many conditions with one whole number."""
        numbers = [self._value(operand) for operand in operands_of(condition)]
        for number in numbers:
            if number is not None and (isinstance(number, bool) or not isinstance(number, int) or number < 0):
                yield Misfit(place, Code.BAD_RULE, "a count is compared with a whole number", shown(number))
        some, over = condition.at_least_of, condition.count_discs or condition.count_entries
        if some is not None and isinstance(numbers[0], int) and not 1 <= numbers[0] <= len(some.conditions):
            yield Misfit(
                place,
                Code.UNREACHABLE,
                "more conditions are needed than there are, or none",
                shown(numbers[0]),
                f"1 to {len(some.conditions)}",
            )
        if over is not None and over.op == "between":
            yield from _rising(self._value(over.low), self._value(over.high), place)

    def _elapsed(self, condition: Condition, place: Path, scope: str) -> Iterator[Misfit]:
        over = condition.elapsed
        assert over is not None
        if over.unit in ("month", "year") and over.op in ("at_most", "more_than", "between"):
            yield Misfit(
                place,
                Code.BAD_RULE,
                "completed months and years cannot tell at most from a little more",
                over.op,
                "at_least or less_than, or days or weeks",
            )
        for name in (over.since, over.until):
            element = catalogue().get(name)
            if name != "as_of" and (
                element is None or element.kind != "date" or element.scope not in ("patient", scope)
            ):
                yield Misfit(place, Code.UNKNOWN_ELEMENT, "not a date element of this subject", name)
        for operand in operands_of(condition):
            where, value = place, self._value(operand)
            if isinstance(operand, ParameterRef) and operand.parameter in self._parameters:
                where, unit = ("parameters", operand.parameter), self._parameters[operand.parameter].unit
                if unit != over.unit:
                    yield Misfit(
                        where,
                        Code.UNIT_CONFUSED,
                        "the unit of the parameter differs",
                        unit or "none",
                        over.unit,
                    )
            if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
                yield Misfit(where, Code.BAD_RULE, "elapsed time is compared with a number", shown(value))
        if over.op == "between":
            yield from _rising(self._value(over.low), self._value(over.high), place)


def _rising(low: object, high: object, place: Path) -> Iterator[Misfit]:
    if isinstance(low, int | float) and isinstance(high, int | float) and low > high:
        yield Misfit(
            place, Code.UNREACHABLE, "the lower limit is above the upper one", f"{low} is above {high}"
        )


def _wrong_value(value: object, element: Element) -> str:
    if element.kind in ("number", "integer"):
        if isinstance(value, bool) or not isinstance(value, int | float):
            return "not a number, as the element is"
        possible = element.possible
        if possible and (
            (possible.low is not None and value < possible.low)
            or (possible.high is not None and value > possible.high)
        ):
            return "outside the possible range of the element, so this side can never be reached"
    elif element.kind == "boolean":
        return "" if isinstance(value, bool) else "not true or false, as the element is"
    elif element.kind in ("choice", "members") and value not in element.codes:
        return "not a code of the element"
    return ""


def _allowed(element: Element) -> str:
    if element.codes:
        return ", ".join(element.codes)
    if element.possible:
        return f"{element.possible.low} to {element.possible.high}"
    return element.kind


def _recency(criterion: Criterion, parameters: Mapping[str, ResolvedParameter]) -> Iterator[Misfit]:
    recency = criterion.recency
    if recency is None:
        return
    parameter = parameters.get(recency.max_age.parameter)
    place: Path = ("recency",)
    if parameter is None:
        yield Misfit(place, Code.UNKNOWN_PARAMETER, "no such parameter", recency.max_age.parameter)
    elif (
        parameter.unit not in CALENDAR
        or not isinstance(parameter.value, int)
        or isinstance(parameter.value, bool)
        or parameter.value < 0
    ):
        yield Misfit(
            ("parameters", parameter.name),
            Code.UNIT_CONFUSED,
            "an age needs a whole number of a calendar unit",
            f"{shown(parameter.value)} {parameter.unit or ''}".strip(),
            ", ".join(CALENDAR),
        )
    read = set(elements_of(criterion.when))
    if criterion.applies_when is not None:
        read |= set(elements_of(criterion.applies_when))
    for name in recency.elements:
        if name not in read:
            yield Misfit(
                place, Code.BAD_RULE, "recency names an element that the criterion does not read", name
            )
    dated_by = catalogue().get(recency.dated_by) if recency.dated_by else None
    if recency.dated_by is not None and (
        dated_by is None or dated_by.kind != "date" or dated_by.scope != "patient"
    ):
        yield Misfit(
            place, Code.UNKNOWN_ELEMENT, "dated_by must be a date element of the patient", recency.dated_by
        )
