"""Interval arithmetic for derived values: an interval in gives an interval out.

Results are rounded to twelve significant digits, so that binary noise never decides a threshold.
"""

from candidacy.values import Span

_DIGITS = 12


def tidy(number: float) -> float:
    """Round to twelve significant digits."""
    return float(f"{number:.{_DIGITS}g}")


def plus(a: Span, b: Span) -> Span:
    """Sum of two independent values."""
    return Span(
        tidy(a.low + b.low), tidy(a.high + b.high), a.low_open or b.low_open, a.high_open or b.high_open
    )


def minus(a: Span, b: Span) -> Span:
    """Difference of two independent values."""
    return Span(
        tidy(a.low - b.high), tidy(a.high - b.low), a.low_open or b.high_open, a.high_open or b.low_open
    )


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
