"""Interval arithmetic: the result holds what every pair of points inside gives, and no binary noise."""

from hypothesis import given
from hypothesis import strategies as st

from candidacy.derive.arithmetic import (
    common,
    corners,
    hull,
    minus,
    percent_fall,
    percent_of,
    plus,
    product,
    ratio,
    tidy,
    total,
)
from candidacy.foundation.values import Span, point

NUMBERS = st.floats(0.01, 1000, allow_nan=False).map(lambda x: round(x, 4))


@st.composite
def spans_with_points(draw: st.DrawFn) -> tuple[Span, float]:
    low, width, share = draw(NUMBERS), draw(st.floats(0, 100)), draw(st.floats(0.001, 0.999))
    span = Span(low, low + width)
    if width > 0.1 and draw(st.booleans()):
        span = Span(low, low + width, draw(st.booleans()), draw(st.booleans()))
    return span, low + width * share


def holds(span: Span | None, number: float) -> bool:
    """Whether the number lies in the span, allowing for the rounding of results to twelve digits."""
    return span is not None and (span.may_be(tidy(number)) or abs(number - span.low) < 1e-9 * max(1, abs(number))
                                 or abs(number - span.high) < 1e-9 * max(1, abs(number)))  # fmt: skip


@given(spans_with_points(), spans_with_points())
def test_results_hold_every_pair_of_points(one: tuple[Span, float], other: tuple[Span, float]) -> None:
    (a, x), (b, y) = one, other
    assert holds(plus(a, b), x + y)
    assert holds(minus(a, b), x - y)
    assert holds(product(a, b), x * y)
    assert holds(ratio(a, b), x / y)
    assert holds(percent_fall(a, b), 100 * (x - y) / x)
    assert holds(percent_of(a, b), 100 * x / y)
    assert holds(corners(lambda p, q: (p + 3) / q, a, b), (x + 3) / y)
    assert holds(total([a, b, point(1)]), x + y + 1)


@given(spans_with_points(), spans_with_points())
def test_hull_holds_both_and_common_only_what_both_hold(
    one: tuple[Span, float], other: tuple[Span, float]
) -> None:
    (a, x), (b, y) = one, other
    joined = hull([a, b])
    assert joined is not None
    assert joined.may_be(x) or not a.may_be(x)
    assert joined.may_be(y) or not b.may_be(y)
    shared = common(a, b)
    for number in (x, y):
        assert (shared is not None and shared.may_be(number)) is (a.may_be(number) and b.may_be(number))


def test_hull_of_nothing_and_total_of_nothing() -> None:
    assert hull([]) is None
    assert total([]) == point(0)


def test_a_divisor_that_may_be_zero_gives_nothing() -> None:
    assert percent_of(point(1), Span(0, 5)) is None
    assert percent_fall(Span(0, 5), point(1)) is None
    assert ratio(point(1), Span(0, 5)) is None


def test_an_open_end_stays_open_with_one_imprecise_input_and_closes_with_two() -> None:
    half_open = Span(4, 8, True, False)
    assert corners(lambda x: -x, half_open) == Span(-8, -4, False, True)
    assert corners(lambda x, y: x * y, half_open, point(2)) == Span(8, 16, True, False)
    assert corners(lambda x, y: x * y, half_open, Span(1, 2)) == Span(4, 16)


def test_binary_noise_never_decides() -> None:
    assert plus(point(0.1), point(0.2)) == point(0.3)
    assert percent_of(point(0.7), point(1.4)) == point(50)
