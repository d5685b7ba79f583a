"""Interval arithmetic for derived values: an interval in gives an interval out.

Results are rounded to twelve significant digits, so that binary noise never decides a threshold.
"""

from collections.abc import Callable, Iterable
from itertools import product as combinations
from math import isfinite

from candidacy.foundation.values import Span

_DIGITS = 12


def tidy(number: float) -> float:
    """Round to twelve significant digits."""
    return float(f"{number:.{_DIGITS}g}")


def plus(a: Span, b: Span) -> Span:
    """Sum of two independent values."""
    return _span(a.low + b.low, a.high + b.high, a.low_open or b.low_open, a.high_open or b.high_open)


def minus(a: Span, b: Span) -> Span:
    """Difference of two independent values."""
    return _span(a.low - b.high, a.high - b.low, a.low_open or b.high_open, a.high_open or b.low_open)


def _span(low: float, high: float, low_open: bool, high_open: bool) -> Span:
    """A rounded range; an end without limit is never left out."""
    low, high = tidy(low), tidy(high)
    return Span(low, high, low_open and isfinite(low), high_open and isfinite(high))


def times(a: Span, factor: float) -> Span:
    """Product with a factor that is not negative."""
    if factor == 0:
        return Span(0, 0)
    return Span(tidy(a.low * factor), tidy(a.high * factor), a.low_open, a.high_open)


def product(a: Span, b: Span) -> Span:
    """Product of two values that are not negative."""
    return Span(tidy(a.low * b.low), tidy(a.high * b.high))


def ratio(a: Span, b: Span) -> Span | None:
    """Quotient of two values that are not negative; ``None`` where the divisor may be zero."""
    if b.low <= 0:
        return None
    low_open = (a.low_open or b.high_open) and a.low > 0
    high_open = (a.high_open or b.low_open) and a.high > 0
    low, high = tidy(a.low / b.high), tidy(a.high / b.low)
    return Span(low, high, low_open and low < high, high_open and low < high)


def corners(formula: Callable[..., float], *parts: Span) -> Span:
    """Range of a formula that only rises or only falls in each of its inputs, whichever that is.

    The extremes of such a formula lie at the ends of its inputs. An end is left out of the result only
    where a single input is imprecise and leaves that end out itself.

    Raises
    ------
    ZeroDivisionError
        If the formula divides by an end that is zero; callers exclude that first.
    """
    found = sorted(
        (tidy(formula(*ends)), ends) for ends in combinations(*((part.low, part.high) for part in parts))
    )
    (low, at_low), (high, at_high) = found[0], found[-1]
    vague = [number for number, part in enumerate(parts) if not part.exact]
    if len(vague) != 1 or low == high:
        return Span(low, high)
    only = vague[0]
    return Span(low, high, _left_out(parts[only], at_low[only]), _left_out(parts[only], at_high[only]))


def _left_out(part: Span, end: float) -> bool:
    return part.low_open if end == part.low else part.high_open


def total(parts: Iterable[Span]) -> Span:
    """Sum of independent values; zero for none."""
    answer = Span(0, 0)
    for part in parts:
        answer = plus(answer, part)
    return answer


def hull(parts: Iterable[Span]) -> Span | None:
    """The smallest interval that holds every one of several; ``None`` for none."""
    spans = list(parts)
    if not spans:
        return None
    low = min(spans, key=lambda s: (s.low, s.low_open))
    high = max(spans, key=lambda s: (s.high, not s.high_open))
    return Span(low.low, high.high, low.low_open, high.high_open)


def common(a: Span, b: Span) -> Span | None:
    """What two statements about one number leave possible; ``None`` where they exclude each other."""
    low = b if (b.low, b.low_open) > (a.low, a.low_open) else a
    high = b if (b.high, not b.high_open) < (a.high, not a.high_open) else a
    if low.low > high.high or (low.low == high.high and (low.low_open or high.high_open)):
        return None
    return Span(low.low, high.high, low.low_open, high.high_open)


def percent_fall(before: Span, after: Span) -> Span | None:
    """100 x (before - after) / before, in percent; negative for a rise.

    ``None`` where the first value may be zero or less, since the share is then undefined.

    Source: common practice (percent change from baseline).
    """
    if before.low <= 0:
        return None
    return corners(lambda first, second: 100 * (first - second) / first, before, after)


def percent_of(part: Span, whole: Span) -> Span | None:
    """100 x part / whole, in percent; ``None`` where the whole may be zero or less."""
    if whole.low <= 0:
        return None
    return corners(lambda share, base: 100 * share / base, part, whole)
