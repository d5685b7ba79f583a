"""Intervals for proportions, differences and rates, and what may be said of a number needed.

Wilson is shown, Clopper-Pearson where the bound must hold, Newcombe's hybrid for a difference [source: Newcombe 1998,
Stat Med 17:857 and 17:873]. statsmodels works them out; what it has not stands here.
"""

from math import sqrt
from typing import NamedTuple


class Interval(NamedTuple):
    """Both limits of an interval, lower first."""

    low: float
    high: float


class Proportion(NamedTuple):
    """How many of how many, with the Wilson interval at 95 %; ``share`` is None of nobody."""

    yes: int
    of: int
    share: float | None
    interval: Interval | None

    @property
    def exact(self) -> Interval | None:
        """The Clopper-Pearson interval."""
        return clopper_pearson(self.yes, self.of) if self.of else None


def proportion(count: int, of: int) -> Proportion:
    """A share with its Wilson interval.

    Examples
    --------
    >>> found = proportion(81, 263)
    >>> [round(limit, 4) for limit in found.interval]
    [0.2553, 0.3662]
    """
    if not of:
        return Proportion(count, of, None, None)
    return Proportion(count, of, count / of, wilson(count, of))


def wilson(count: int, of: int, level: float = 0.95) -> Interval:
    """The score interval of Wilson; it never leaves 0 to 1 and always holds the share itself.

    Raises
    ------
    ValueError
        If the count is negative or above ``of``, or ``of`` is 0.
    """
    return _of_one(count, of, level, "wilson")


def clopper_pearson(count: int, of: int, level: float = 0.95) -> Interval:
    """The exact interval: it covers at least as often as it says, and so is wider.

    Raises
    ------
    ValueError
        If the count is negative or above ``of``, or ``of`` is 0.
    """
    return _of_one(count, of, level, "beta")


def _of_one(count: int, of: int, level: float, method: str) -> Interval:
    from statsmodels.stats.proportion import proportion_confint

    if not 0 <= count <= of or not of:
        raise ValueError(f"{count} of {of} is no share")
    low, high = proportion_confint(count, of, alpha=1 - level, method=method)
    share = count / of  # rounding alone could leave a limit of 0 or 1 on its wrong side
    return Interval(min(max(float(low), 0.0), share), max(min(float(high), 1.0), share))


def difference(count1: int, of1: int, count2: int, of2: int) -> tuple[float, Interval]:
    """The first share less the second, with Newcombe's hybrid interval at 95 %.

    Raises
    ------
    ValueError
        If either is no share.
    """
    one, two = wilson(count1, of1), wilson(count2, of2)
    share1, share2 = count1 / of1, count2 / of2
    found = share1 - share2
    low = found - sqrt((share1 - one.low) ** 2 + (two.high - share2) ** 2)
    high = found + sqrt((one.high - share1) ** 2 + (share2 - two.low) ** 2)
    return found, Interval(low, high)


def paired_difference(both: int, first: int, second: int, neither: int) -> tuple[float, Interval]:
    """Two shares of the same people, the first less the second, with Newcombe's interval for pairs at 95 %.

    Parameters
    ----------
    both, first, second, neither
        People with both answers yes, only the first, only the second, and none.

    Raises
    ------
    ValueError
        If there is nobody.
    """
    people = both + first + second + neither
    one, two = wilson(both + first, people), wilson(both + second, people)
    share1, share2 = (both + first) / people, (both + second) / people
    margins = (both + first) * (second + neither) * (both + second) * (first + neither)
    cross: float = both * neither - first * second
    if cross > 0:  # the correction of his tenth method
        cross = max(cross - people / 2, 0)
    phi = cross / sqrt(margins) if margins else 0.0
    low1, high1, low2, high2 = share1 - one.low, one.high - share1, share2 - two.low, two.high - share2
    found = share1 - share2
    low = sqrt(max(low1**2 - 2 * phi * low1 * high2 + high2**2, 0))
    high = sqrt(max(high1**2 - 2 * phi * high1 * low2 + low2**2, 0))
    return found, Interval(found - low, found + high)


def poisson_exact(events: int, level: float = 0.95) -> Interval:
    """Exact interval of an expected number of events, given how many there were."""
    from statsmodels.stats.rates import confint_poisson

    low, high = confint_poisson(events, 1, method="exact-c", alpha=1 - level)
    return Interval(float(low), float(high))


def number_needed(found: float, interval: Interval) -> str:
    """The number needed in words: to benefit (NNTB) or to harm (NNTH); limits are inverted and exchanged.

    Where the interval of the difference holds 0, the two limits lie on both sides of infinity [source: Altman 1998;
    Bender 2001].

    Examples
    --------
    >>> number_needed(0.10, Interval(-0.05, 0.25))
    'NNTB 10.0 (NNTB 4.0 to infinity to NNTH 20.0)'
    """
    if found == 0:
        return "none: there is no difference"
    name, other = ("NNTB", "NNTH") if found > 0 else ("NNTH", "NNTB")
    near, far = (interval.high, interval.low) if found > 0 else (-interval.low, -interval.high)
    told = f"{name} {1 / abs(found):.1f}"
    if far > 0:
        return f"{told} ({1 / near:.1f} to {1 / far:.1f})"
    if far == 0:
        return f"{told} ({name} {1 / near:.1f} to infinity)"
    return f"{told} ({name} {1 / near:.1f} to infinity to {other} {1 / -far:.1f})"


def fall_of_the_chosen(mean: float, deviation: float, reliability: float, cut: float) -> float:
    """How far a group chosen at ``cut`` or above falls on average at the next reading, with no effect at all.

    SD (1 - ICC) phi(z) / (1 - Phi(z)) with z = (cut - mean) / SD [memory, Barnett 2005]. In the unit of the measure.
    """
    from scipy.stats import norm

    z = (cut - mean) / deviation
    return float(deviation * (1 - reliability) * norm.pdf(z) / norm.sf(z))
