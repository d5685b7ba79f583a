"""Turn one written entry into a typed value of its element, or say why that cannot be done."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from math import inf

from candidacy.case.element import LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.case.record import FactEntry
from candidacy.foundation import units
from candidacy.foundation.dates import DateError, date_span
from candidacy.foundation.errors import Code, Problem, shorten, shown
from candidacy.foundation.values import Members, Options, Span, Value, Words, few_digits, number_words, point

Found = list[tuple[tuple[str | int, ...], Problem]]


@dataclass(slots=True)
class Place:
    """Where a fact stands, for messages."""

    path: tuple[str | int, ...]
    problems: Found

    def refuse(
        self, code: Code, message: str, *, found: str = "", expected: str = "", next_step: str = ""
    ) -> None:
        label = ".".join(str(step) for step in self.path)
        self.problems.append(
            (
                self.path,
                Problem(code, message, field=label, found=found, expected=expected, next_step=next_step),
            )
        )


def _number(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    raw = getattr(entry, form)
    numbers = list(raw) if form in ("between", "one_of") else [raw]
    if form in ("not_before", "not_after", "includes") or not all(
        isinstance(n, int | float) and not isinstance(n, bool) for n in numbers
    ):
        hint = "a number, without quotes"
        if (
            element.name == "modified_pfirrmann_grade"
            and isinstance(raw, str)
            and raw in ("I", "II", "III", "IV", "V")
        ):
            where.refuse(
                Code.WRONG_SCALE,
                "Roman grades belong to the 5-grade scale",
                found=raw,
                expected="1 to 8 here; I to V under pfirrmann_grade",
                next_step="ask which scale the reader used; the two are never converted",
            )
            return None
        where.refuse(Code.WRONG_TYPE, "not a number", found=shown(raw), expected=hint)
        return None
    if element.kind == "integer" and not all(float(n).is_integer() for n in numbers):
        where.refuse(Code.WRONG_TYPE, "not a whole number", found=shown(raw), expected="a whole number")
        return None
    span = _span(form, numbers, where)
    if span is None:
        return None
    if not _unit_fits(element, entry, where):
        return None
    given = units.normal_spelling(entry.unit) if entry.unit else None
    if element.unit is not None and given is not None and given != element.unit:
        span = units.convert(span, given, element.unit)
    return _inside(element, span, entry, where)


def _span(form: str, numbers: list[float], where: Place) -> Span | None:
    if form == "one_of":
        return Span(min(numbers), max(numbers))
    if form == "between":
        if numbers[0] > numbers[1]:
            where.refuse(
                Code.IMPOSSIBLE_VALUE, "the range runs backwards", found=f"{numbers[0]} to {numbers[1]}"
            )
            return None
        return Span(numbers[0], numbers[1])
    number = numbers[0]
    match form:
        case "value":
            return point(number)
        case "at_least":
            return Span(number, inf)
        case "more_than":
            return Span(number, inf, low_open=True)
        case "at_most":
            return Span(-inf, number)
        case "less_than":
            return Span(-inf, number, high_open=True)
    raise KeyError(form)


def _unit_fits(element: Element, entry: FactEntry, where: Place) -> bool:
    allowed = element.accepted_units
    if element.unit is None:
        if entry.unit is None or entry.unit in ("1", "score", "{score}"):
            return True
        where.refuse(Code.BAD_UNIT, "this element has no unit", found=shorten(entry.unit), expected="no unit")
        return False
    if entry.unit is None:
        where.refuse(
            Code.BAD_UNIT,
            "the unit is missing",
            expected=", ".join(allowed),
            next_step=f"write {{value: ..., unit: {element.unit}}}",
        )
        return False
    if units.normal_spelling(entry.unit) not in allowed:
        where.refuse(
            Code.BAD_UNIT,
            "not a unit of this element",
            found=shorten(entry.unit),
            expected=", ".join(allowed),
        )
        return False
    return True


def _found(element: Element, span: Span, entry: FactEntry, allowed: tuple[float, float]) -> str:
    """Numbers that were refused, in the unit of the range; of what was converted, also as it was written."""
    given = units.normal_spelling(entry.unit) if entry.unit else element.unit
    ends = [end for end in dict.fromkeys((span.low, span.high)) if abs(end) != inf]
    if given != element.unit:
        # not rounded into the range that it lies outside of
        ends = [few if not allowed[0] <= (few := few_digits(end)) <= allowed[1] else end for end in ends]
    words = " to ".join(map(number_words, ends)) + (f" {element.unit}" if element.unit else "")
    if given == element.unit:
        return words
    return f"{words} (written {'in' if entry.value is None else f'as {entry.value}'} {entry.unit})"


def _inside(element: Element, span: Span, entry: FactEntry, where: Place) -> Span | None:
    """Refuse what lies outside the possible range; let an open side end where the possible range ends."""
    possible = element.possible
    low = possible.low if possible and possible.low is not None else -inf
    high = possible.high if possible and possible.high is not None else inf
    stated_low, stated_high = span.low, span.high
    if (stated_low != -inf and not low <= stated_low <= high) or (
        stated_high != inf and not low <= stated_high <= high
    ):
        unit = f" {element.unit}" if element.unit else ""
        where.refuse(
            Code.IMPOSSIBLE_VALUE,
            "outside the possible range",
            found=_found(element, span, entry, (low, high)),
            expected=f"{number_words(low)} to {number_words(high)}{unit}",
            next_step="check the value and its unit against the source",
        )
        return None
    new_low, low_open = (low, False) if stated_low == -inf else (stated_low, span.low_open)
    new_high, high_open = (high, False) if stated_high == inf else (stated_high, span.high_open)
    if element.kind == "integer":
        new_low, low_open = (new_low + 1, False) if low_open else (new_low, False)
        new_high, high_open = (new_high - 1, False) if high_open else (new_high, False)
    try:
        return Span(new_low, new_high, low_open, high_open)
    except ValueError:
        where.refuse(Code.IMPOSSIBLE_VALUE, "leaves no possible value", expected=f"{low} to {high}")
        return None


def _boolean(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    if form == "value" and isinstance(entry.value, bool):
        return Options(frozenset((entry.value,)))
    where.refuse(
        Code.WRONG_TYPE,
        "not true or false",
        found=shown(getattr(entry, form)),
        expected="true or false, without quotes",
    )
    return None


def _choice(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    raw = entry.one_of if form == "one_of" else (entry.value,) if form == "value" else None
    if raw is None or isinstance(entry.value, tuple):
        where.refuse(Code.WRONG_TYPE, "not a code", found=form, expected="value or one_of")
        return None
    return Options(frozenset(str(code) for code in raw)) if _codes_fit(element, raw, where) else None


def _codes_fit(element: Element, codes: tuple[object, ...], where: Place) -> bool:
    fine = True
    for code in codes:
        if isinstance(code, str) and code in element.codes:
            continue
        fine = False
        if element.name == "pfirrmann_grade" and str(code).isdigit():
            where.refuse(
                Code.WRONG_SCALE,
                "Arabic grades belong to the modified 8-grade scale",
                found=shorten(code),
                expected="I to V here; 1 to 8 under modified_pfirrmann_grade",
                next_step="ask which scale the reader used; the two are never converted",
            )
        else:
            quoted = " (in quotes)" if str(code) in element.codes else ""
            where.refuse(
                Code.BAD_CHOICE,
                "not one of the codes of this element",
                found=shown(code),
                expected=", ".join(element.codes) + quoted,
            )
    return fine


def _members(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    raw = entry.includes if form == "includes" else entry.value if form == "value" else None
    if not isinstance(raw, tuple):
        where.refuse(
            Code.WRONG_TYPE, "not a list of codes", found=form, expected="a list, or includes: a list"
        )
        return None
    if element.levels:
        levels = [normal_level(str(code)) for code in raw]
        if None in levels:
            where.refuse(
                Code.BAD_LEVEL,
                "not a lumbar disc level",
                found=shorten(list(raw)),
                expected=", ".join(LEVELS),
            )
            return None
        raw = tuple(level for level in levels if level)
    elif not _codes_fit(element, raw, where):
        return None
    certain = frozenset(str(code) for code in raw)
    return Members(certain, certain if form == "value" else None)


def _date(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    raw = getattr(entry, form)
    parts = list(raw) if form == "between" else [raw]
    if form not in ("value", "between", "not_before", "not_after") or not all(
        isinstance(p, str) for p in parts
    ):
        where.refuse(
            Code.BAD_DATE, "not a date", found=shown(raw), expected="YYYY-MM-DD, YYYY-MM or YYYY, in quotes"
        )
        return None
    try:
        spans = [date_span(part) for part in parts]
    except DateError as error:
        where.refuse(Code.BAD_DATE, str(error), found=shown(raw), expected="YYYY-MM-DD, YYYY-MM or YYYY")
        return None
    first, last = spans[0], spans[-1]
    low = float(date.min.toordinal()) if form == "not_after" else first.low
    high = float(date.max.toordinal()) if form == "not_before" else last.high
    if low > high:
        where.refuse(Code.BAD_DATE, "the range runs backwards", found=shown(raw))
        return None
    return Span(low, high)


def _words(element: Element, entry: FactEntry, form: str, where: Place) -> Value | None:
    if form == "value" and isinstance(entry.value, str):
        return Words(entry.value)
    where.refuse(Code.WRONG_TYPE, "not text", found=shown(getattr(entry, form)), expected="text, in quotes")
    return None


VALUE_OF: dict[str, Callable[[Element, FactEntry, str, Place], Value | None]] = {
    "number": _number,
    "integer": _number,
    "boolean": _boolean,
    "choice": _choice,
    "members": _members,
    "date": _date,
    "words": _words,
}
