"""The operators of the rule language, each in one place: its words, what it fits, what it takes, what it means.

`OPERATORS` tells words and fit. The meaning is told once, over a few primitives, and read in whatever a consumer compares in:

- `compare_numbers` for a number, a date, a count or a length of time, over `Primitives` (three truths here, SQL in
  `candidacy.cohort.columns.element_tests`);
- `codes_meant` for a coded value: the codes for which a test is met, and whether it is denied;
- `comparison` is the whole meaning in three truths.
"""

from collections.abc import Callable, Sequence
from math import ceil, floor
from typing import Any, Generic, Literal, NamedTuple, TypeVar

from msgspec import Struct

from candidacy.case.element import Element
from candidacy.derive.arithmetic import tidy
from candidacy.foundation.dates import days_between, months_between, years_between
from candidacy.foundation.truth import Truth, all_of, any_of, negate
from candidacy.foundation.values import Options, Span

_Said = TypeVar("_Said")


class Operator(NamedTuple):
    """One operator.

    Attributes
    ----------
    words, denied
        How a sentence says that a test is met, and that it is not. Each names its boundary.
    fits
        Kinds of element, with ``ordered`` for a choice whose codes have an order.
    takes
        One operand, several (or one), the two ends of a range, or none.
    """

    words: str
    denied: str
    fits: frozenset[str]
    takes: Literal["one", "several", "ends", "none"] = "one"


_NUMBERS = frozenset(("number", "integer", "ordered"))
_CODES = frozenset(("integer", "choice"))
_LISTS = frozenset(("members",))
_ANY_KIND = frozenset(("number", "integer", "boolean", "choice", "members", "date", "words"))

OPERATORS: dict[str, Operator] = {
    "at_least": Operator("is at least", "is not at least", _NUMBERS),
    "at_most": Operator("is at most", "is not at most", _NUMBERS),
    "more_than": Operator("is more than", "is not more than", _NUMBERS),
    "less_than": Operator("is less than", "is not less than", _NUMBERS),
    "between": Operator("is between", "is not between", _NUMBERS, "ends"),
    "is": Operator("is", "is not", _CODES | {"boolean"}),
    "is_not": Operator("is not", "is", _CODES),
    "one_of": Operator("is one of", "is not one of", _CODES, "several"),
    "none_of": Operator("is none of", "is one of", _CODES, "several"),
    "contains": Operator("includes", "does not include", _LISTS),
    "contains_any": Operator("includes any of", "does not include any of", _LISTS, "several"),
    "empty": Operator("is an empty list", "is not an empty list", _LISTS, "none"),
    "known": Operator("is known", "is not known", _ANY_KIND, "none"),
}
NUMERIC = frozenset(op for op, each in OPERATORS.items() if each.fits == _NUMBERS)
CODED = frozenset(op for op, each in OPERATORS.items() if each.fits >= _CODES and op != "known")


def possible_operators(element: Element) -> frozenset[str]:
    """Operators that make sense for an element."""
    kinds = {element.kind, "ordered"} if element.kind == "choice" and element.ordered else {element.kind}
    return frozenset(op for op, each in OPERATORS.items() if not each.fits.isdisjoint(kinds))


def operands_wanted(op: str, value: object, low: object, high: object) -> str:
    """What is wrong with the operands that are written beside an operator, or nothing."""
    given = (value is not None, low is not None, high is not None)
    match OPERATORS[op].takes:
        case "ends":
            return "" if given == (False, True, True) else f"{op} needs low and high, and no value"
        case "none":
            return "" if not any(given) else f"{op} takes no value"
        case "one" | "several":
            return "" if given == (True, False, False) else f"{op} needs value, and neither low nor high"


# --- numbers, dates, counts and lengths of time


class Primitives(Struct, Generic[_Said], frozen=True):
    """What the comparisons of a number are made of, as one consumer says it."""

    at_least: Callable[[float], _Said]
    at_most: Callable[[float], _Said]
    equals: Callable[[float], _Said]
    among: Callable[[Sequence[float]], _Said]
    negate: Callable[[_Said], _Said]
    both: Callable[[_Said, _Said], _Said]


def compare_numbers(op: str, limits: Sequence[Any], say: Primitives[_Said]) -> _Said:
    """Say how a number compares with its limits."""
    numbers = tuple(float(limit) for limit in limits)
    match op:
        case "at_least":
            return say.at_least(numbers[0])
        case "less_than":
            return say.negate(say.at_least(numbers[0]))
        case "at_most":
            return say.at_most(numbers[0])
        case "more_than":
            return say.negate(say.at_most(numbers[0]))
        case "between":
            return say.both(say.at_least(numbers[0]), say.at_most(numbers[1]))
        case "is":
            return say.equals(numbers[0])
        case "is_not":
            return say.negate(say.equals(numbers[0]))
        case "one_of":
            return say.among(numbers)
        case "none_of":
            return say.negate(say.among(numbers))
    raise KeyError(op)


_Read = Callable[[Any], Truth]
_IN_TRUTHS = Primitives[_Read](
    at_least=lambda limit: lambda value: value.at_least(limit),
    at_most=lambda limit: lambda value: value.at_most(limit),
    equals=lambda point: lambda value: value.equals(point),
    among=lambda points: lambda value: any_of_points(value, points),
    negate=lambda read: lambda value: negate(read(value)),
    both=lambda one, other: lambda value: all_of((one(value), other(value))),
)


def comparison_of_numbers(op: str, limits: Sequence[Any]) -> Callable[[Any], Truth]:
    """How a number, a date, a count or a length of time is compared with its limits, in three truths."""
    return compare_numbers(op, limits, _IN_TRUTHS)


# More whole numbers than any grade or score has; a wider range is not spelled out.
MOST_GRADES = 1000


def any_of_points(span: Span, points: Sequence[float]) -> Truth:
    """Whether a whole number is one of a few; an imprecise one may be any whole number of its range."""
    if not span.bounded or span.high - span.low > MOST_GRADES:
        return any_of(span.equals(point) for point in points)
    possible = [n for n in range(ceil(span.low), floor(span.high) + 1) if span.may_be(n)]
    among = [n in points for n in possible]
    return Truth.MET if among and all(among) else Truth.UNKNOWN if any(among) else Truth.NOT_MET


# --- codes and lists


def codes_meant(element: Element, op: str, limits: Sequence[Any]) -> tuple[frozenset[Any], bool]:
    """The codes that a test of a coded value names, and whether it is met by all others; comparisons follow their order."""
    if op in CODED:
        return frozenset(limits), op in ("is_not", "none_of")
    codes = element.codes
    places = [codes.index(limit) for limit in limits]
    low, high = {
        "at_least": (places[0], len(codes)),
        "more_than": (places[0] + 1, len(codes)),
        "at_most": (0, places[0] + 1),
        "less_than": (0, places[0]),
        "between": (places[0], places[-1] + 1),
    }[op]
    return frozenset(codes[low:high]), False


def comparison(element: Element, op: str, limits: Sequence[Any]) -> Callable[[Any], Truth]:
    """How a known value of an element is compared by an operator with its limits, in three truths."""
    if op == "known":
        return lambda value: Truth.MET
    if element.kind in ("number", "integer", "date"):
        return comparison_of_numbers(op, limits)
    if element.kind == "members":
        if op == "empty":
            return lambda value: value.empty()
        some = tuple(limits)
        return lambda value: value.contains_any(some)
    allowed, denied = codes_meant(element, op, limits)
    return (
        _one_of(allowed, Truth.NOT_MET, Truth.MET) if denied else _one_of(allowed, Truth.MET, Truth.NOT_MET)
    )


def _one_of(allowed: frozenset[str | bool], within: Truth, apart: Truth) -> Callable[[Options], Truth]:
    """What a coded value comes to where all it may be is allowed, and where none of it is.

    As `Options.one_of`, written out: it is the most frequent comparison of all.
    """
    unknown = Truth.UNKNOWN

    def read(value: Options) -> Truth:
        codes = value.codes
        return within if codes <= allowed else apart if codes.isdisjoint(allowed) else unknown

    return read


# --- how far from its limit, and how long


def margin(op: str, value: Span, limits: Sequence[Any]) -> tuple[float, float] | None:
    """How far a number is from its nearest limit, as a range; positive where the test is met. Only for ordered operators."""
    match op:
        case "at_least" | "more_than":
            return tidy(value.low - limits[0]), tidy(value.high - limits[0])
        case "at_most" | "less_than":
            return tidy(limits[0] - value.high), tidy(limits[0] - value.low)
        case "between":
            # the margin grows towards the middle of the limits, so the middle counts where it is possible
            middle = (limits[0] + limits[1]) / 2
            points = (value.low, min(max(middle, value.low), value.high), value.high)
            margins = [min(tidy(x - limits[0]), tidy(limits[1] - x)) for x in points]
            return min(margins), max(margins)
    return None


def elapsed(start: Span, end: Span, unit: str) -> Span:
    """Time from one date to another in days, weeks, completed months or completed years.

    Weeks are days divided by seven, not rounded, so that 13 days are less than two weeks.
    """
    if unit in ("day", "week"):
        days = days_between(start, end)
        return days if unit == "day" else Span(tidy(days.low / 7), tidy(days.high / 7))
    return months_between(start, end) if unit == "month" else years_between(start, end)
