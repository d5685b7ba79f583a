"""Calendar arithmetic against python-dateutil, which nobody on this project wrote."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation.dates import (
    DateError,
    add,
    date_span,
    day,
    days_between,
    months_between,
    whole_months,
    words,
    years_between,
)
from candidacy.foundation.values import Span
from tests.views import case_of, fact_of, told

DAYS = st.dates(date(1900, 1, 1), date(2100, 1, 1))


def span(first: date, last: date | None = None) -> Span:
    return Span(first.toordinal(), (last or first).toordinal())


@given(DAYS, DAYS)
def test_completed_months_are_those_of_dateutil(one: date, other: date) -> None:
    earlier, later = sorted((one, other))
    passed = relativedelta(later, earlier)
    assert whole_months(earlier, later) == passed.years * 12 + passed.months


@given(DAYS, DAYS)
def test_months_the_other_way_round_are_negative(one: date, other: date) -> None:
    assert whole_months(one, other) == -whole_months(other, one)


@given(DAYS, st.integers(-90, 90), st.sampled_from(["day", "week", "month", "year"]))
def test_adding_is_that_of_dateutil(start: date, amount: int, unit: str) -> None:
    step = {f"{unit}s": amount}
    assert add(start, amount, unit) == start + relativedelta(**step)  # type: ignore[arg-type]


@given(DAYS, DAYS)
def test_completed_years_are_those_of_dateutil(one: date, other: date) -> None:
    earlier, later = sorted((one, other))
    years = relativedelta(later, earlier).years
    assert years_between(span(earlier), span(later)) == Span(years, years)


@given(DAYS, st.integers(0, 400), DAYS, st.integers(0, 400), st.data())
def test_distance_of_partial_dates_holds_that_of_every_day_in_them(
    start: date, width: int, end: date, other_width: int, data: st.DataObject
) -> None:
    first, second = span(start, start + timedelta(width)), span(end, end + timedelta(other_width))
    one = start + timedelta(data.draw(st.integers(0, width)))
    other = end + timedelta(data.draw(st.integers(0, other_width)))
    assert days_between(first, second).may_be((other - one).days)
    assert months_between(first, second).may_be(whole_months(one, other))


@pytest.mark.parametrize(
    ("born", "today", "years"),
    [
        ("2000-02-29", "2026-02-28", 26),  # where a month is too short the last day counts, as in dateutil
        ("2000-02-29", "2026-02-27", 25),
        ("1960-11-25", "2026-11-25", 66),
        ("1960-11-26", "2026-11-25", 65),
    ],
)
def test_age_on_a_day(born: str, today: str, years: int) -> None:
    as_of = date.fromisoformat(today)
    assert told(fact_of("age", case_of({"birth_date": born}), as_of=as_of)) == years
    assert relativedelta(as_of, date.fromisoformat(born)).years == years


@given(st.dates(date(1930, 1, 1), date(2026, 11, 25)))
def test_age_is_that_of_dateutil(born: date) -> None:
    expected = relativedelta(date(2026, 11, 25), born).years
    assert told(fact_of("age", case_of({"birth_date": born.isoformat()}))) == expected


def test_a_year_of_birth_gives_a_range_of_ages() -> None:
    assert told(fact_of("age", case_of({"birth_date": "1960"}))) == (65, 66)


@given(DAYS)
def test_a_whole_date_reads_back(found: date) -> None:
    assert date_span(found.isoformat()) == span(found)
    assert words(span(found)) == found.isoformat()
    assert day(found.isoformat()) == found


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2024", "2024-01-01", "2024-12-31"),
        ("2024-02", "2024-02-01", "2024-02-29"),
        ("2025-12", "2025-12-01", "2025-12-31"),
    ],
)
def test_a_partial_date_is_every_day_in_it(text: str, first: str, last: str) -> None:
    assert date_span(text) == span(date.fromisoformat(first), date.fromisoformat(last))
    assert words(date_span(text)) == text


@pytest.mark.parametrize(
    "text",
    ["2026-02-30", "2026-13-01", "2026-00-01", "2026-01-00", "2026-00", "0226-01-01", "26-01-01", "2026-1-1", "today",
     "", "2026-02-03T00:00", "٢٠٢٦-٠١-٠١"],
)  # fmt: skip
def test_what_is_no_date_is_refused(text: str) -> None:
    with pytest.raises(DateError):
        date_span(text)


def test_a_partial_date_is_not_a_day() -> None:
    with pytest.raises(DateError, match="a whole date is needed"):
        day("2026-02")


def test_an_unknown_calendar_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="not a calendar unit"):
        add(date(2026, 1, 1), 1, "fortnight")
