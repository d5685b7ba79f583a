"""Lengths of time in days or weeks against limits in months.

The rule is a convention of ours [common practice]; what is checked against is the calendar, walked by python-dateutil.
"""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given
from hypothesis import strategies as st

from candidacy.foundation.months import months_of_days
from candidacy.foundation.truth import Truth
from candidacy.foundation.units import convert
from candidacy.foundation.values import Span, point

INF = float("inf")
M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
DAYS = st.one_of(st.integers(0, 1000), st.integers(0, 40_000), st.floats(0, 40_000))


@pytest.mark.parametrize(
    ("amount", "unit", "months"),
    [
        (4, "week", 1), (13, "week", 3), (26, "week", 6), (39, "week", 9), (52, "week", 12), (78, "week", 18), (104, "week", 24),
        (260, "week", 60), (0, "week", 0),
        (28, "day", 1), (30, "day", 1), (31, "day", 1), (59, "day", 2), (60, "day", 2), (62, "day", 2),
        (89, "day", 3), (90, "day", 3), (91, "day", 3), (92, "day", 3), (181, "day", 6), (182, "day", 6), (183, "day", 6),
        (184, "day", 6), (364, "day", 12), (365, "day", 12), (366, "day", 12), (730, "day", 24), (731, "day", 24), (1826, "day", 60),
    ],
)  # fmt: skip
def test_what_an_examiner_would_call_whole_months(amount: int, unit: str, months: int) -> None:
    assert convert(point(amount), unit, "month") == point(months)


@pytest.mark.parametrize(
    ("amount", "unit", "limit", "at_least", "at_most", "more_than", "less_than"),
    [
        (25, "week", 6, N, M, N, M), (26, "week", 6, M, M, N, N), (27, "week", 6, M, N, M, N),
        (179, "day", 6, N, M, N, M), (180, "day", 6, U, M, N, U), (181, "day", 6, M, M, N, N), (184, "day", 6, M, M, N, N),
        (185, "day", 6, M, N, M, N),
        (11, "week", 3, N, M, N, M), (12, "week", 3, U, M, N, U), (13, "week", 3, M, M, N, N), (14, "week", 3, M, N, M, N),
        (83, "day", 3, N, M, N, M), (88, "day", 3, U, M, N, U), (89, "day", 3, M, M, N, N), (93, "day", 3, M, N, M, N),
        (7, "week", 2, N, M, N, M), (8, "week", 2, U, M, N, U), (9, "week", 2, M, N, M, N),
        (27, "day", 1, N, M, N, M), (32, "day", 1, M, N, M, N),
        (51, "week", 12, N, M, N, M), (52, "week", 12, M, M, N, N), (53, "week", 12, M, N, M, N), (363, "day", 12, N, M, N, M),
    ],
)  # fmt: skip
def test_each_side_of_a_limit_in_months(
    amount: int, unit: str, limit: int, at_least: Truth, at_most: Truth, more_than: Truth, less_than: Truth
) -> None:
    found = convert(point(amount), unit, "month")
    assert (found.at_least(limit), found.at_most(limit)) == (at_least, at_most)
    assert (found.more_than(limit), found.less_than(limit)) == (more_than, less_than)


def test_between_two_limits() -> None:
    # A3: pain of 6 to 60 months [seen, eligibility sheet table A]
    inside = {
        weeks: convert(point(weeks), "week", "month").between(6, 60) for weeks in (25, 26, 100, 260, 262)
    }
    assert inside == {25: N, 26: M, 100: M, 260: M, 262: N}


@given(DAYS, DAYS)
@example(0, 5e-324)
def test_a_longer_time_never_gives_fewer_months(one: float, other: float) -> None:
    shorter, longer = (months_of_days(point(days)) for days in sorted((one, other)))
    assert shorter.low <= longer.low
    assert shorter.high <= longer.high


@given(st.integers(0, 8000), st.integers(1, 250), st.sampled_from(["at_least", "more_than"]))
def test_more_days_never_unmeet_a_lower_limit(days: int, limit: int, op: str) -> None:
    order = [Truth.NOT_MET, Truth.UNKNOWN, Truth.MET]
    now, next_day = (getattr(months_of_days(point(d)), op)(limit) for d in (days, days + 1))
    assert order.index(now) <= order.index(next_day)


@given(st.dates(date(1950, 1, 1), date(2040, 1, 1)), st.integers(0, 250))
def test_days_from_one_date_to_another_count_as_their_calendar_months(start: date, months: int) -> None:
    # a run of calendar months is never called shorter or longer than it is
    end = start + relativedelta(months=months)
    if end.day == start.day:
        assert months_of_days(point((end - start).days)) == point(months)


@given(st.integers(0, 3000), st.sampled_from([0, 1, 5, 30, 400]))
def test_the_same_time_is_the_same_in_days_and_in_weeks(weeks: int, more: int) -> None:
    as_weeks, as_days = Span(weeks, weeks + more), Span(7 * weeks, 7 * (weeks + more))
    assert convert(as_weeks, "week", "month") == convert(as_days, "day", "month")


@given(DAYS, st.one_of(st.just(0), st.floats(0.01, 500)), st.booleans(), st.booleans(), st.floats(0, 1))
@example(36525.0, 1.0, True, False, 0.5)  # just over a hundred years, where counting in whole months ends
def test_a_range_holds_what_each_of_its_days_gives(
    low: float, width: float, low_open: bool, high_open: bool, place: float
) -> None:
    if width == 0:
        low_open = high_open = False
    days = Span(low, low + width, low_open, high_open)
    inner = low + place * width
    if days.may_be(inner):
        found, one = months_of_days(days), months_of_days(point(inner))
        assert found.low <= one.low
        assert one.high <= found.high
        assert not (found.low == one.low and found.low_open and not one.low_open)
        assert not (found.high == one.high and found.high_open and not one.high_open)


@pytest.mark.parametrize(
    ("days", "limit", "at_least"),
    [
        # "more than 26 weeks" and "at least 26 weeks" reach six months; "less than 181 days" does not
        (Span(182, INF, low_open=True), 6, M), (Span(182, INF), 6, M), (Span(180, INF), 6, U),
        (Span(-INF, 181, high_open=True), 6, U), (Span(-INF, 180, high_open=True), 6, N), (Span(-INF, 181), 6, U),
        (Span(-INF, 28, high_open=True), 1, N), (Span(84, 91), 3, U), (Span(91, 182), 3, M),
    ],
)  # fmt: skip
def test_a_time_known_on_one_side_only(days: Span, limit: int, at_least: Truth) -> None:
    assert months_of_days(days).at_least(limit) is at_least


def test_a_negative_time_stays_negative_and_is_left_to_the_range_of_the_element() -> None:
    found = months_of_days(point(-3))
    assert found.high < 0
