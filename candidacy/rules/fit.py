"""Whether a criterion, with the parameters in use, fits the catalogue: what does not could not be read on a case.

Elements, scopes, operators, operands, units. Loading refuses a misfit; the check of rules reports it with the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.foundation.dates import FIRST_YEAR, LAST_YEAR
from candidacy.foundation.errors import Code, shown
from candidacy.foundation.files import nearest
from candidacy.rules.cited import Parameter
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.operators import CODED, NUMERIC, OPERATORS, possible_operators
from candidacy.rules.tree import (
    AS_OF,
    Compare,
    CountOf,
    Each,
    Elapsed,
    Limit,
    Node,
    NoneOf,
    Path,
    children,
    elements_of,
    kind_of,
    operands_of,
    scope_inside,
)

if TYPE_CHECKING:
    from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter

# What is worked out on the as-of date, of outcomes and not of facts.
STANDING = "disc_standing"
CALENDAR = ("day", "week", "month", "year")


class Misfit(NamedTuple):
    """One thing that does not fit, with its path inside the criterion file."""

    path: Path
    code: Code
    message: str
    found: str = ""
    expected: str = ""
    next_step: str = ""


def misfits(item: ResolvedCriterion) -> list[Misfit]:
    """Everything that does not fit, in the order of the file."""
    criterion, read = item.criterion, set(elements_of(*item.conditions))
    found: list[Misfit] = []
    for root in item.conditions:
        found += condition_misfits(root, criterion.subject, item.parameters)
    found += _recency(criterion, item.parameters, read)
    if item.danger_stands:
        found += _danger_stands(item)
    found += [
        Misfit(("weighs",), Code.BAD_RULE, "weighs an element that the criterion does not read", name)
        for name in criterion.weighs
        if name not in read and not _worked_out_from(name, read)
    ]
    return list(dict.fromkeys(found))


def _worked_out_from(name: str, read: set[str]) -> bool:
    """Whether an element is only worked out, and from nothing but what a criterion reads."""
    element = catalogue().get(name)
    return (
        element is not None
        and not element.statable
        and bool(element.reads)
        and read.issuperset(element.reads)
    )


def condition_misfits(
    root: Node, scope: str, parameters: Mapping[str, ResolvedParameter | Parameter]
) -> Iterator[Misfit]:
    """Everything about one condition, read for a subject of a scope, that does not fit."""
    return _Reader(scope, parameters).node(root, scope)


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


class _Reader:
    """Walks one condition, of a subject of a scope."""

    def __init__(self, subject: str, parameters: Mapping[str, ResolvedParameter | Parameter]) -> None:
        self._subject, self._parameters = subject, parameters

    def node(self, node: Node, scope: str) -> Iterator[Misfit]:
        for operand in operands_of(node):
            if operand.parameter and operand.parameter not in self._parameters:
                yield Misfit(
                    node.place,
                    Code.UNKNOWN_PARAMETER,
                    "no such parameter",
                    operand.parameter,
                    ", ".join(self._parameters) or "declare it under parameters",
                )
        match node:
            case Compare():
                yield from self._test(node, scope)
            case Elapsed():
                yield from _elapsed(node, scope)
            case CountOf():
                yield from _whole_numbers(node)
            case _:
                pass
        for part in children(node):
            yield from self.node(part, scope_inside(node, scope))

    def _test(self, node: Compare, scope: str) -> Iterator[Misfit]:
        shelf, name, op, place = catalogue(), node.element, node.op, node.place
        element = shelf.get(name)
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
        if name == STANDING and self._subject == "disc":
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
        for operand in node.operands:
            if not operand.parameter or operand.parameter in self._parameters:
                yield from _operand(operand, element, op, place)
        ends: list[object] = [operand.value for operand in node.operands]
        if element.kind == "choice" and all(end in element.codes for end in ends):
            ends = [element.codes.index(str(end)) for end in ends]
        yield from _rising(op, ends, place)


def _operand(operand: Limit, element: Element, op: str, place: Path) -> Iterator[Misfit]:
    where, value = _where(operand, place), operand.value
    if operand.parameter and op in NUMERIC | CODED and (operand.unit or None) != (element.unit or None):
        yield Misfit(
            where,
            Code.UNIT_CONFUSED,
            "the unit differs from the element's",
            operand.unit or "none",
            element.unit or "none",
        )
    if OPERATORS[op].takes != "several" and isinstance(value, tuple):
        several = [
            name
            for name, each in OPERATORS.items()
            if each.takes == "several" and name in possible_operators(element)
        ]
        yield Misfit(where, Code.BAD_RULE, f"{op} compares with one value, not a list", shown(value),
                     " or ".join((*several, "one value")))  # fmt: skip
        return
    items = value if isinstance(value, tuple) else (value,)
    if not items:
        yield Misfit(where, Code.BAD_RULE, "an empty list can match nothing")
    for each in items:
        wrong = _wrong_value(each, element)
        if wrong:
            yield Misfit(where, Code.UNREACHABLE, wrong, shown(each), _allowed(element))


def _where(operand: Limit, place: Path) -> Path:
    """Where an operand is written: as a parameter, or in the condition."""
    return ("parameters", operand.parameter) if operand.parameter else place


def _whole_numbers(node: CountOf) -> Iterator[Misfit]:
    """Counts are compared with whole numbers, that many conditions with one whole number."""
    place, numbers = (*node.place, kind_of(node)), [operand.value for operand in node.operands]
    for number in numbers:
        if number is not None and (isinstance(number, bool) or not isinstance(number, int) or number < 0):
            yield Misfit(place, Code.BAD_RULE, "a count is compared with a whole number", shown(number))
    if not isinstance(node.of, Each) and isinstance(numbers[0], int) and not 1 <= numbers[0] <= len(node.of):
        yield Misfit(
            place,
            Code.UNREACHABLE,
            "more conditions are needed than there are, or none",
            shown(numbers[0]),
            f"1 to {len(node.of)}",
        )
    yield from _rising(node.op, numbers, place)


# The time between the first and the last day that a record may hold, `dates.FIRST_YEAR` to `dates.LAST_YEAR`.
_LONGEST = {
    unit: (LAST_YEAR - FIRST_YEAR + 1) * of_a_year
    for unit, of_a_year in (("day", 366), ("week", 53), ("month", 12), ("year", 1))
}


def _elapsed(node: Elapsed, scope: str) -> Iterator[Misfit]:
    place = (*node.place, "elapsed")
    if node.unit in ("month", "year") and node.op in ("at_most", "more_than", "between"):
        yield Misfit(
            place,
            Code.BAD_RULE,
            "completed months and years cannot tell at most from a little more",
            node.op,
            "at_least or less_than, or days or weeks",
        )
    for name in (node.since, node.until):
        element = catalogue().get(name)
        if name != AS_OF and (
            element is None or element.kind != "date" or element.scope not in ("patient", scope)
        ):
            key = "until" if name == node.until else "since"
            yield Misfit(
                (*place, key),
                Code.UNKNOWN_ELEMENT,
                "not a date element of this subject",
                name,
                _dates_like(name, scope),
                "candidacy elements date lists dates",
            )
    for operand in node.operands:
        where, value = _where(operand, place), operand.value
        if operand.parameter and value is not None and operand.unit != node.unit:
            yield Misfit(
                where,
                Code.UNIT_CONFUSED,
                "the unit of the parameter differs",
                operand.unit or "none",
                node.unit,
            )
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            yield Misfit(where, Code.BAD_RULE, "elapsed time is compared with a number", shown(value))
        elif isinstance(value, float) and not value.is_integer() and node.unit in ("month", "year"):
            yield Misfit(
                where,
                Code.BAD_RULE,
                "completed months and years are counted whole, so that a part of one changes nothing",
                f"{shown(value)} {node.unit}",
                "a whole number, or days or weeks",
            )
        elif value is not None and value < 0 and node.until == AS_OF:
            yield Misfit(
                where,
                Code.UNREACHABLE,
                "what lies after the as-of date is not counted, so no time to it is below zero",
                f"{shown(value)} {node.unit}",
                "0 or more; or until: a date of the record",
            )
        elif value is not None and abs(value) > _LONGEST[node.unit]:
            yield Misfit(
                where,
                Code.UNREACHABLE,
                "no such time lies between two dates of a record",
                f"{shown(value)} {node.unit}",
                f"at most {_LONGEST[node.unit]} {node.unit}",
            )
    yield from _rising(node.op, [operand.value for operand in node.operands], place)


def _dates_like(name: str, scope: str) -> str:
    dates = [e.name for e in catalogue().all if e.kind == "date" and e.scope in ("patient", scope)]
    close = nearest(name, dates)
    return f"closest is {close}" if close else f"{AS_OF}, or a date of {scope} or patient"


def _rising(op: str, ends: Sequence[object], place: Path) -> Iterator[Misfit]:
    if op != "between":
        return
    low, high = ends
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


def _recency(
    criterion: Criterion, parameters: Mapping[str, ResolvedParameter], read: set[str]
) -> Iterator[Misfit]:
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
    for name in recency.elements:
        if name not in read:
            yield Misfit(
                (*place, "elements"),
                Code.BAD_RULE,
                "recency names an element that the criterion does not read",
                name,
                ", ".join(sorted(read)) or "an element that its condition tests",
            )
        elif name == STANDING:
            yield Misfit(
                (*place, "elements"),
                Code.BAD_RULE,
                "recency names what never bears a date, so that it would always be too old",
                name,
            )
    dated_by = catalogue().get(recency.dated_by) if recency.dated_by else None
    if recency.dated_by is not None and (
        dated_by is None or dated_by.kind != "date" or dated_by.scope != "patient"
    ):
        yield Misfit(
            place, Code.UNKNOWN_ELEMENT, "dated_by must be a date element of the patient", recency.dated_by
        )


def _danger_stands(item: ResolvedCriterion) -> Iterator[Misfit]:
    """In an emergency a sign acts however old it is: right only where a test that is met can do nothing but fail it."""
    for root in item.conditions:
        for test in _aged_tests(root, speaks_against=item.criterion.kind == "inclusion"):
            yield Misfit(
                test.place,
                Code.BAD_RULE,
                "in a criterion of force stop a sign acts at any age, so a test of a fact with an age may only speak for "
                "the emergency",
                test.element,
                "an exclusion that joins such tests by all and any",
            )


def _aged_tests(node: Node, speaks_against: bool) -> Iterator[Compare]:
    """Tests of facts with an age that are met at any age, and may speak against what the condition asks."""
    speaks_against |= isinstance(node, NoneOf | CountOf)
    if speaks_against and isinstance(node, Compare) and node.met_stands:
        yield node
    for child in children(node):
        yield from _aged_tests(child, speaks_against)
