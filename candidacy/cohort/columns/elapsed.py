"""Calendar distances as SQL truths.

Against the as-of date a distance only falls as the date rises, so each limit becomes a day, found by asking the
single-case function. Between two columns days are subtracted and months counted as `dates.whole_months` does.
"""

from collections.abc import Callable, Sequence
from datetime import date

from candidacy.cohort.columns import element_tests as compare
from candidacy.cohort.columns.fact_columns import FactColumn, Numbers
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.errors import EngineError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import point
from candidacy.rules.operators import compare_numbers, elapsed

_FIRST, _LAST = date.min.toordinal(), date.max.toordinal()


def elapsed_test(
    since: tuple[FactColumn, ...],
    until: tuple[FactColumn, ...] | None,
    unit: str,
    op: str,
    limits: Sequence[float],
    as_of: date,
    leans: Truth | None = None,
) -> str:
    """Compare the time from one date to another, or to the as-of date; dates too imprecise to tell count as they lean."""
    if not since or until == ():
        return sql.UNKNOWN
    if until is None:
        return _chosen(since, lambda each: _to_day(each, unit, op, limits, as_of, leans))
    between = _days if unit in ("day", "week") else _months

    def passed(start: Numbers, end: Numbers) -> str:
        truth = between(start, end, unit, op, limits)
        known = f"{start.low} IS NOT NULL AND {end.low} IS NOT NULL"
        return truth if leans is None else compare.leaning(truth, leans, known)

    return _chosen(since, lambda a: _chosen(until, lambda b: passed(a, b)))


def _chosen(columns: tuple[FactColumn, ...], test: Callable[[Numbers], str]) -> str:
    """The test on the first column that holds a date."""
    arms = []
    for column in columns:
        if not isinstance(column.cells, Numbers):
            raise EngineError(f"{column.element.name} is not a date in columns")
        arms.append((column.known, test(column.cells)))
    return arms[0][1] if len(arms) == 1 else sql.chosen(arms)


def _first_day(holds: Callable[[int], bool], first: int, last: int) -> int:
    """The first number for which a condition holds that stays true from there; one past the end if none."""
    low, high = first, last + 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _to_day(
    cells: Numbers, unit: str, op: str, limits: Sequence[float], as_of: date, leans: Truth | None
) -> str:
    today = point(as_of.toordinal())

    def passed(day: int) -> float:
        return elapsed(point(day), today, unit).low

    low = cells.low

    def at_least(limit: float) -> str:
        below = _first_day(lambda day: passed(day) < limit, _FIRST, _LAST)
        return _before(cells, below)

    def at_most(limit: float) -> str:
        from_ = _first_day(lambda day: passed(day) <= limit, _FIRST, _LAST)
        return sql.negate(_before(cells, from_))

    truth = compare_numbers(op, limits, compare.primitives(at_least, at_most))
    if leans is not None:
        truth = compare.leaning(truth, leans, f"{low} <= {int(today.low)}")
    # what has not happened yet is not recent
    return f"CASE WHEN {truth} AND {low} > {int(today.low)} THEN NULL ELSE {truth} END"


def _before(cells: Numbers, day: int) -> str:
    if cells.exact:
        return f"({cells.low} < {day})"
    return sql.settled(f"{cells.high} < {day}", f"{cells.low} >= {day}")


def _days(since: Numbers, until: Numbers, unit: str, op: str, limits: Sequence[float]) -> str:
    low = f"({until.low} - {since.high or since.low})"
    high = f"({until.high or until.low} - {since.low})"

    def passed(days: int) -> float:
        return elapsed(point(0), point(days), unit).low

    widest = _LAST - _FIRST

    def at_least(limit: float) -> str:
        from_ = _first_day(lambda days: passed(days) >= limit, -widest, widest)
        return sql.settled(f"{low} >= {from_}", f"{high} < {from_}")

    def at_most(limit: float) -> str:
        above = _first_day(lambda days: passed(days) > limit, -widest, widest)
        return sql.settled(f"{high} < {above}", f"{low} >= {above}")

    return compare_numbers(op, limits, compare.primitives(at_least, at_most))


def _months(since: Numbers, until: Numbers, unit: str, op: str, limits: Sequence[float]) -> str:
    low = _whole_months(since.high or since.low, until.low)
    high = _whole_months(since.low, until.high or until.low)
    if unit == "year":
        low, high = (f"(SIGN({each}) * FLOOR(ABS({each}) / 12e0))" for each in (low, high))
    if since.exact and until.exact:
        return compare.number_test(Numbers(low), op, limits)
    return compare.number_test(Numbers(low, high, sql.FALSE, sql.FALSE), op, limits)


def whole_years(day: str, today: date) -> str:
    """Completed years from a day in a column, not after ``today``, to it."""
    return f"FLOOR(({_months_on(day, str(today.toordinal()))}) / 12e0)"


def _whole_months(earlier: str, later: str) -> str:
    forward, back = _months_on(earlier, later), _months_on(later, earlier)
    return f"CASE WHEN {later} < {earlier} THEN -({back}) ELSE {forward} END"


def _months_on(earlier: str, later: str) -> str:
    """Completed months: one less where the day is not reached, unless the last day of a short month is."""
    a, b = _as_date(earlier), _as_date(later)
    return (
        f"((YEAR({b}) - YEAR({a})) * 12 + MONTH({b}) - MONTH({a}) - CASE WHEN DAY({a}) > DAY({b}) "
        f"AND DAY({b}) < DAY(LAST_DAY({b})) THEN 1 ELSE 0 END)"
    )


def _as_date(ordinal: str) -> str:
    epoch = date(1970, 1, 1).toordinal()
    return f"(DATE '1970-01-01' + CAST({ordinal} - {epoch} AS INT))"
