"""What the operators of the rule language mean: values, counts and times compared in three truths, and their margins."""

from collections.abc import Callable, Iterable
from math import ceil, floor
from typing import Any

from candidacy.case.catalogue import Element
from candidacy.derive.arithmetic import tidy
from candidacy.foundation.dates import days_between, months_between, years_between
from candidacy.foundation.truth import Truth, any_of, negate
from candidacy.foundation.values import Span


def comparison(element: Element, op: str, limits: tuple[Any, ...]) -> Callable[[Any], Truth]:
    """How a value of an element is compared by an operator with its limits."""
    if op == "known":
        return lambda value: Truth.MET
    if element.kind in ("number", "integer", "date"):
        numbers = tuple(float(limit) for limit in limits)
        return {
            "at_least": lambda v: v.at_least(numbers[0]),
            "at_most": lambda v: v.at_most(numbers[0]),
            "more_than": lambda v: v.more_than(numbers[0]),
            "less_than": lambda v: v.less_than(numbers[0]),
            "between": lambda v: v.between(numbers[0], numbers[1]),
            "is": lambda v: v.equals(numbers[0]),
            "is_not": lambda v: negate(v.equals(numbers[0])),
            "one_of": lambda v: any_of_points(v, numbers),
            "none_of": lambda v: negate(any_of_points(v, numbers)),
        }[op]
    if element.kind == "members":
        if op == "empty":
            return lambda v: v.empty()
        return lambda v: v.contains_any(limits)
    allowed = frozenset(_codes(element, op, limits))
    if op in ("is_not", "none_of"):
        return lambda v: negate(v.one_of(allowed))
    return lambda v: v.one_of(allowed)


def any_of_points(span: Span, points: tuple[float, ...]) -> Truth:
    """Whether a whole number is one of a few; an imprecise one may be any whole number of its range."""
    if not span.bounded or span.high - span.low > _MOST_GRADES:
        return any_of(span.equals(point) for point in points)
    possible = [n for n in range(ceil(span.low), floor(span.high) + 1) if span.may_be(n)]
    among = [n in points for n in possible]
    return Truth.MET if among and all(among) else Truth.UNKNOWN if any(among) else Truth.NOT_MET


# More whole numbers than any grade or score has; a wider range is not spelled out.
_MOST_GRADES = 1000


def _codes(element: Element, op: str, limits: tuple[Any, ...]) -> Iterable[Any]:
    """The codes for which a test is met; comparisons need an ordered element."""
    codes = element.codes
    if op in ("is", "is_not", "one_of", "none_of"):
        return limits
    places = [codes.index(limit) for limit in limits]
    return {
        "at_least": lambda: codes[places[0] :],
        "more_than": lambda: codes[places[0] + 1 :],
        "at_most": lambda: codes[: places[0] + 1],
        "less_than": lambda: codes[: places[0]],
        "between": lambda: codes[places[0] : places[1] + 1],
    }[op]()


def _above(value: Span, limits: tuple[Any, ...]) -> tuple[float, float]:
    return tidy(value.low - limits[0]), tidy(value.high - limits[0])


def _below(value: Span, limits: tuple[Any, ...]) -> tuple[float, float]:
    return tidy(limits[0] - value.high), tidy(limits[0] - value.low)


def _within(value: Span, limits: tuple[Any, ...]) -> tuple[float, float]:
    # the margin grows towards the middle of the limits, so the middle counts where it is possible
    middle = (limits[0] + limits[1]) / 2
    points = (value.low, min(max(middle, value.low), value.high), value.high)
    margins = [min(tidy(x - limits[0]), tidy(limits[1] - x)) for x in points]
    return min(margins), max(margins)


# How far a number is from its nearest limit, by operator; positive where the test is met.
MARGINS: dict[str, Callable[[Span, tuple[Any, ...]], tuple[float, float]]] = {
    "at_least": _above,
    "more_than": _above,
    "at_most": _below,
    "less_than": _below,
    "between": _within,
}


def elapsed(start: Span, end: Span, unit: str) -> Span:
    """Time from one date to another in days, weeks, completed months or completed years.

    Weeks are days divided by seven, not rounded, so that 13 days are less than two weeks.
    """
    if unit in ("day", "week"):
        days = days_between(start, end)
        return days if unit == "day" else Span(tidy(days.low / 7), tidy(days.high / 7))
    return months_between(start, end) if unit == "month" else years_between(start, end)


def comparison_of_numbers(op: str, limits: tuple[Any, ...]) -> Callable[[Span], Truth]:
    """How a count or a length of time is compared by an operator with its limits."""
    numbers = tuple(float(limit) for limit in limits)
    return {
        "at_least": lambda v: v.at_least(numbers[0]),
        "at_most": lambda v: v.at_most(numbers[0]),
        "more_than": lambda v: v.more_than(numbers[0]),
        "less_than": lambda v: v.less_than(numbers[0]),
        "between": lambda v: v.between(numbers[0], numbers[1]),
        "is": lambda v: v.equals(numbers[0]),
    }[op]
