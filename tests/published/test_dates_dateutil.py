"""Calendar arithmetic against python-dateutil (``relativedelta``), the reference library for calendar months.

https://dateutil.readthedocs.io/en/stable/relativedelta.html
"""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given
from hypothesis import strategies as st

from candidacy.foundation import dates
from candidacy.foundation.values import Span, point

days = st.dates(date(1900, 1, 1), date(2100, 12, 31))


def on(day: date) -> Span:
    return point(day.toordinal())


@given(days, days)
@example(date(2024, 1, 31), date(2024, 2, 29))
@example(date(2023, 1, 31), date(2023, 2, 28))
@example(date(2024, 2, 29), date(2025, 2, 28))
def test_completed_months_and_years_are_those_of_dateutil(a: date, b: date) -> None:
    first, last = sorted((a, b))
    passed = relativedelta(last, first)
    months = passed.years * 12 + passed.months
    assert dates.whole_months(first, last) == months
    assert dates.whole_months(last, first) == -months
    assert dates.months_between(on(first), on(last)) == point(months)
    assert dates.years_between(on(first), on(last)) == point(passed.years)
    assert dates.days_between(on(first), on(last)) == point((last - first).days)


@given(days, st.integers(0, 600), st.sampled_from(["day", "week", "month", "year"]))
@example(date(2024, 1, 31), 1, "month")
@example(date(2024, 2, 29), 1, "year")
def test_a_date_some_time_later_is_that_of_dateutil(day: date, amount: int, unit: str) -> None:
    assert dates.add(day, amount, unit) == day + relativedelta(**{f"{unit}s": amount})
    assert dates.add(day, -amount, unit) == day - relativedelta(**{f"{unit}s": amount})


@given(days, st.integers(0, 120), days)
@example(date(2025, 11, 25), 12, date(2026, 11, 25))
@example(date(2025, 11, 24), 12, date(2026, 11, 25))
@example(date(2025, 8, 31), 6, date(2026, 2, 28))
@example(date(2025, 8, 31), 6, date(2026, 3, 1))
def test_age_within_a_number_of_months_is_that_of_dateutil(then: date, limit: int, today: date) -> None:
    oldest = dates.oldest_within(limit, "month", today)
    assert (then >= oldest) is (then + relativedelta(months=limit) >= today)
    assert dates.oldest_within(limit, "day", today) == today - timedelta(days=limit)
    assert dates.oldest_within(limit, "week", today) == today - timedelta(weeks=limit)
    assert dates.oldest_within(2, "year", today) == dates.oldest_within(24, "month", today)


@given(st.dates(date(1900, 1, 1), date(2090, 1, 1)), st.integers(0, 800), days)
def test_partial_dates_give_the_range_of_all_days_they_may_be(start: date, length: int, day: date) -> None:
    end = start + timedelta(length)
    span, each = Span(start.toordinal(), end.toordinal()), [start + timedelta(n) for n in range(length + 1)]
    for between, count in (
        (dates.months_between, lambda a, b: (lambda r: r.years * 12 + r.months)(relativedelta(b, a))),
        (dates.years_between, lambda a, b: relativedelta(b, a).years),
    ):
        later = [count(one, day) for one in each if one <= day]
        found = between(span, on(day))
        if len(later) == len(each):
            assert (found.low, found.high) == (min(later), max(later))


def test_the_far_ends_of_the_calendar_do_no_harm() -> None:
    ever = Span(date.min.toordinal(), date.max.toordinal())
    today = on(date(2026, 11, 25))
    assert dates.months_between(ever, today).low < 0 < dates.months_between(ever, today).high
    assert dates.oldest_within(12, "month", date.max) == date(9998, 12, 31)
    for unit in ("day", "week", "month", "year"):
        assert dates.oldest_within(100_000, unit, date(20, 1, 1)) == date.min


# Worked by hand on the calendar.
@pytest.mark.parametrize(
    ("born", "day", "age"),
    [
        ("1986-11-25", "2026-11-25", 40),
        ("1986-11-26", "2026-11-25", 39),
        ("2008-02-29", "2026-02-28", 18),
        ("2008-03-01", "2026-02-28", 17),
    ],
)
def test_age_in_completed_years(born: str, day: str, age: int) -> None:
    assert dates.years_between(dates.date_span(born), dates.date_span(day)) == point(age)


@pytest.mark.parametrize(
    "text",
    ["2026-02-30", "2026-13-01", "2026-00", "2026-01-00", "2026-00-10", "1879", "2200-01", "26-01-01", "2026/01/01", "2026-1-1", "", "2026-01-01T10:00", "２０２６", "2026-01-01\n"],
)  # fmt: skip
def test_what_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(dates.DateError):
        dates.date_span(text)


def test_a_partial_date_is_not_a_whole_day() -> None:
    assert dates.day("2026-11-25") == date(2026, 11, 25)
    with pytest.raises(dates.DateError):
        dates.day("2026-11")


@given(days, days)
def test_a_span_of_days_in_words_names_both_its_ends(a: date, b: date) -> None:
    first, last = sorted((a, b))
    words = dates.words(Span(first.toordinal(), last.toordinal()))
    if first == last:
        assert words == first.isoformat()
    elif " to " in words:
        assert words == f"{first.isoformat()} to {last.isoformat()}"
    else:  # a month or a year, which must be read back as the same span
        assert dates.date_span(words) == Span(first.toordinal(), last.toordinal())
