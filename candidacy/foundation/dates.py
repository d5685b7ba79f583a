"""Calendar dates, whole or partial, and distances between them as intervals. Uses the calendar only."""

import calendar
import re
from datetime import date, timedelta
from functools import lru_cache

from candidacy.foundation.values import Span

_SHAPE = re.compile(r"([0-9]{4})(?:-([0-9]{2})(?:-([0-9]{2}))?)?\Z")
FIRST_YEAR = 1880  # nobody alive was born earlier; catches 0226 and 1026
LAST_YEAR = 2199  # catches 9999, a common word for "never", and leaves room in the calendar for what is reckoned from a day
MEAN_DAYS = {"day": 1.0, "week": 7.0, "month": 30.4375, "year": 365.25}
"""Days of a unit of time on average, where no calendar day is meant; every fourth year is a leap year."""


class DateError(ValueError):
    """Raised when text is not a calendar date of the form YYYY-MM-DD, YYYY-MM or YYYY."""


def date_span(text: str) -> Span:
    """Read a whole or partial date as the span of days it may be.

    Examples
    --------
    >>> date_span("2026-02-03").exact, int(date_span("2026-02").high - date_span("2026-02").low)
    (True, 27)

    Raises
    ------
    DateError
        If the text is not such a date, the day does not exist, or its year is not of our time.
    """
    match = _SHAPE.match(text)
    if match is None:
        raise DateError("not a date")
    year, month, day = (int(part) if part else None for part in match.groups())
    if year is None or not FIRST_YEAR <= year <= LAST_YEAR:
        raise DateError(f"not a year from {FIRST_YEAR} to {LAST_YEAR}")
    try:
        first = date(year, 1 if month is None else month, 1 if day is None else day)
        last_month = 12 if month is None else month
        last = date(year, last_month, calendar.monthrange(year, last_month)[1] if day is None else day)
    except (ValueError, calendar.IllegalMonthError):
        raise DateError("this day does not exist") from None
    return Span(first.toordinal(), last.toordinal())


def day(text: str) -> date:
    """Read a whole date.

    Raises
    ------
    DateError
        If it is not a whole date.
    """
    span = date_span(text)
    if not span.exact:
        raise DateError("a whole date is needed, YYYY-MM-DD")
    return date.fromordinal(int(span.low))


def whole_months(earlier: date, later: date) -> int:
    """Count completed calendar months from one day to a later one; negative the other way round.

    A month is complete on the same day of the month; where a month is too short for that day, on its last day
    (as python-dateutil counts; the tests compare).
    """
    if later < earlier:
        return -whole_months(later, earlier)
    months = (later.year - earlier.year) * 12 + later.month - earlier.month
    short = earlier.day > later.day and later.day < calendar.monthrange(later.year, later.month)[1]
    return months - short


def _month_after(start: date, months: int) -> date:
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    return date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def add(start: date, amount: int, unit: str) -> date:
    """The date ``amount`` days, weeks, months or years after ``start``.

    Raises
    ------
    ValueError
        If the unit is another, or the date leaves the calendar.
    """
    if unit == "day":
        return start + timedelta(days=amount)
    if unit == "week":
        return start + timedelta(weeks=amount)
    if unit == "month":
        return _month_after(start, amount)
    if unit == "year":
        return _month_after(start, 12 * amount)
    raise ValueError(f"{unit} is not a calendar unit")


def days_between(earlier: Span, later: Span) -> Span:
    """Days from one (perhaps partial) date to another."""
    return Span(later.low - earlier.high, later.high - earlier.low)


def months_between(earlier: Span, later: Span) -> Span:
    """Completed calendar months from one (perhaps partial) date to another."""
    return Span(_months(earlier.high, later.low), _months(earlier.low, later.high))


@lru_cache(maxsize=4096)
def _months(earlier: float, later: float) -> int:
    """The same between two days; one pair is asked about again and again, as of a birth and today."""
    return whole_months(date.fromordinal(int(earlier)), date.fromordinal(int(later)))


def years_between(earlier: Span, later: Span) -> Span:
    """Completed years from one (perhaps partial) date to another; ages are counted this way."""
    months = months_between(earlier, later)
    return Span(int(months.low / 12), int(months.high / 12))  # towards zero, as months are counted


def oldest_within(amount: int, unit: str, today: date) -> date:
    """The oldest day that is at most so many days, weeks, months or years before ``today``; that many still count.

    A day is within a number of months if the same day that many months later has not passed, where a month that
    is too short for that day ends on its last.
    """
    if unit in ("day", "week"):
        days = amount * (7 if unit == "week" else 1)
        return date.fromordinal(max(today.toordinal() - days, 1))
    months = amount * (12 if unit == "year" else 1)
    if today.year * 12 + today.month - 1 - months < 12:
        return date.min
    day = _month_after(today, -months)
    # from the last day of a shorter month, that many months lead to a day before today
    return day if day.day == today.day else day + timedelta(days=1)


def words(span: Span) -> str:
    """Print a span of days as a person writes it."""
    if span.exact:
        return date.fromordinal(int(span.low)).isoformat()
    first, last = date.fromordinal(int(span.low)), date.fromordinal(int(span.high))
    if first == date.min:
        return f"not after {last.isoformat()}"
    if last == date.max:
        return f"not before {first.isoformat()}"
    if first.day == 1 and last.day == calendar.monthrange(last.year, last.month)[1]:
        if (first.year, first.month) == (last.year, last.month):
            return first.isoformat()[:7]
        if first.year == last.year and first.month == 1 and last.month == 12:
            return str(first.year)
    return f"{first.isoformat()} to {last.isoformat()}"
