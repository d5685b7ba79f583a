"""When a length of time written in days or weeks counts as so many months. Uses the calendar only."""

from bisect import bisect_left, bisect_right
from calendar import monthrange
from functools import lru_cache
from itertools import accumulate, cycle, islice
from math import inf, isinf, ulp

from candidacy.foundation.values import Span

# A year of 52 weeks has four quarters: 13 weeks are three months [common practice].
_QUARTER_DAYS, _QUARTER_MONTHS = 13 * 7, 3
# Days from which a shorter time may be meant as so many months: 8 weeks, 12 weeks, 180 days [common practice].
_MEANT_FROM = {2: 8 * 7, 3: 12 * 7, 6: 180}
# Shortest and longest month.
_SHORT, _LONG = 28, 31
# A hundred years, more than any element may hold; longer times keep the plain range.
_MOST_MONTHS = 1200


@lru_cache(1)
def _runs() -> tuple[list[float], list[int]]:
    """Fewest and most days that count as 0, 1, 2, ... whole months, where every fourth year is a leap year."""
    lengths = [monthrange(year, month)[1] for year in range(2001, 2005) for month in range(1, 13)]
    starts = [0, *accumulate(islice(cycle(lengths), _MOST_MONTHS + len(lengths)))]
    least: list[float] = []
    most: list[int] = []
    for months in range(_MOST_MONTHS + 1):
        runs = [starts[at + months] - starts[at] for at in range(len(lengths))]
        least.append(min(min(runs), months * _QUARTER_DAYS / _QUARTER_MONTHS))
        most.append(max(runs))
    return least, most


def months_of_days(days: Span) -> Span:
    """Months that a length of time in days may be.

    The rule, a convention [common practice]: a number of days counts as whole months where so many calendar months
    can have that many days, or where it is at least 13 weeks for every three months. So 89 to 92 days and 13 weeks
    are three months, 181 to 184 days and 26 weeks are six, 364 to 366 days and 52 weeks are twelve. Anything else
    lies between two whole months and is neither, except that 8 weeks may be meant as two months, 12 weeks as three
    and 180 days as six, which stays open. Beyond some 23 years these counts run into each other, and a range of
    months is given. A longer time never gives fewer months.

    Parameters
    ----------
    days
        Days, or weeks times seven. A negative number stays negative, so that it is refused later.

    Returns
    -------
    Span
        Months; one number where the days count as whole months.
    """
    low, low_open = _fewest(days.low, days.low_open)
    high, high_open = _most(days.high, days.high_open)
    return Span(low, high, low_open, high_open)


def _fewest(days: float, above: bool) -> tuple[float, bool]:
    """Fewest months of so many days, or of all longer times; and whether that number itself is left out."""
    least, most = _runs()
    if isinf(days) or days < 0:
        return days / _SHORT, above
    if days >= most[-1]:
        plain = days / _LONG
        return (plain, above) if plain > _MOST_MONTHS else (_MOST_MONTHS, False)
    # the first number of months that is not yet over after so many days
    whole = (bisect_right if above else bisect_left)(most, days)
    if least[whole] <= days:
        return whole, False
    plain = days / _LONG
    return (plain, above) if plain > whole - 1 else (whole - 1, True)


def _most(days: float, below: bool) -> tuple[float, bool]:
    """Most months of so many days, or of all shorter times; and whether that number itself is left out."""
    least, most = _runs()
    if isinf(days) or days <= 0:
        return days / _LONG, below
    if days > most[-1]:
        return days / _SHORT, below
    # the last number of months that so many days reach
    whole = (bisect_left if below else bisect_right)(least, days) - 1
    if days <= most[whole]:
        return whole, False
    following = whole + 1
    if days < _SHORT * following:
        return max(days / _SHORT, ulp(0.0)), below  # a time too short to be divided is still some time
    meant_from = _MEANT_FROM.get(following, inf)
    return following, not (days > meant_from or (days == meant_from and not below))
