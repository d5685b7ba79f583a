"""Known, imprecise and unknown values: a comparison is settled exactly where every possible point agrees."""

from fractions import Fraction
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation.truth import Truth
from candidacy.foundation.values import (
    EITHER,
    FALSE,
    RECORDABLE,
    TRUE,
    Members,
    Options,
    Span,
    Why,
    few_digits,
    from_truth,
    number_words,
    point,
    truth_of,
)

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
GRID = [Fraction(n, 4) for n in range(-9, 50)]  # quarters: finer than any bound below


@st.composite
def spans(draw: st.DrawFn) -> Span:
    """Spans with whole bounds, with and without open or missing ends."""
    low, high = sorted(draw(st.tuples(st.integers(0, 10), st.integers(0, 10))))
    if low == high:
        return point(low)
    shape = draw(st.sampled_from(["closed", "low", "high", "both", "below", "above"]))
    if shape == "below":
        return Span(-inf, high, high_open=draw(st.booleans()))
    if shape == "above":
        return Span(low, inf, low_open=draw(st.booleans()))
    return Span(low, high, shape in ("low", "both"), shape in ("high", "both"))


def points_of(span: Span) -> list[Fraction]:
    """Points of the grid inside a span, worked out without the code under test."""
    found = []
    for number in GRID:
        above = number > span.low or (number == span.low and not span.low_open)
        below = number < span.high or (number == span.high and not span.high_open)
        if above and below:
            found.append(number)
    return found


def agreed(answers: list[bool]) -> Truth:
    if len(set(answers)) == 1:
        return M if answers[0] else N
    return U


@given(spans(), st.integers(-1, 11), st.integers(-1, 11))
def test_comparison_of_a_range_is_that_of_all_its_points(span: Span, a: int, b: int) -> None:
    inside, (low, high) = points_of(span), sorted((a, b))
    assert span.at_most(a) is agreed([p <= a for p in inside])
    assert span.at_least(a) is agreed([p >= a for p in inside])
    assert span.more_than(a) is agreed([p > a for p in inside])
    assert span.less_than(a) is agreed([p < a for p in inside])
    assert span.equals(a) is agreed([p == a for p in inside])
    assert span.between(low, high) is agreed([low <= p <= high for p in inside])
    assert span.may_be(a) is (Fraction(a) in inside)


@given(spans(), spans(), st.integers(0, 10))
def test_knowing_a_range_more_exactly_never_unsettles_a_comparison(
    wide: Span, narrow: Span, limit: int
) -> None:
    if not set(points_of(narrow)) <= set(points_of(wide)) or not points_of(narrow):
        return
    if (narrow.low < wide.low) or (narrow.high > wide.high):
        return
    for name in ("at_most", "at_least", "more_than", "less_than", "equals"):
        before, after = getattr(wide, name)(limit), getattr(narrow, name)(limit)
        assert before is U or before is after


@pytest.mark.parametrize(
    ("low", "high", "low_open", "high_open"),
    [(2, 1, False, False), (1, 1, True, False), (1, 1, False, True), (float("nan"), 1, False, False)],
)
def test_an_empty_range_cannot_be_made(low: float, high: float, low_open: bool, high_open: bool) -> None:
    with pytest.raises(ValueError, match="empty"):
        Span(low, high, low_open, high_open)


codes = st.sampled_from("abcd")


@given(st.frozensets(codes, min_size=1), st.frozensets(codes))
def test_a_code_known_as_one_of_several_is_settled_where_all_agree(
    options: frozenset[str], allowed: frozenset[str]
) -> None:
    assert Options(frozenset(options)).one_of(frozenset(allowed)) is agreed([c in allowed for c in options])


@given(st.frozensets(codes), st.frozensets(codes), st.booleans(), st.lists(codes, min_size=1))
def test_a_list_is_settled_where_every_list_it_may_be_agrees(
    certain: frozenset[str], more: frozenset[str], is_open: bool, wanted: list[str]
) -> None:
    members = Members(certain, None if is_open else certain | more)
    free = sorted((frozenset("abcd") if is_open else certain | more) - certain)
    lists = [certain | {c for n, c in enumerate(free) if mask >> n & 1} for mask in range(2 ** len(free))]
    assert members.contains_any(wanted) is agreed([bool(x & set(wanted)) for x in lists])
    assert members.contains(wanted[0]) is agreed([wanted[0] in x for x in lists])
    assert members.empty() is agreed([not x for x in lists])
    assert members.exact is (not is_open and more <= certain)


def test_an_open_list_may_hold_codes_nobody_has_listed() -> None:
    assert Members(frozenset(), None).empty() is U
    assert Members(frozenset(), frozenset()).empty() is M
    assert Members(frozenset(("latex",)), None).contains("iodine") is U


def test_yes_or_no_and_truth_are_two_sides_of_one_thing() -> None:
    for truth, value in ((M, TRUE), (N, FALSE), (U, EITHER)):
        assert from_truth(truth) == value
        assert truth_of(value) is truth
    assert truth_of(None) is U
    assert truth_of(point(1)) is U


def test_every_reason_for_not_knowing_has_words_of_its_own() -> None:
    words = [why.words for why in Why]
    assert len(set(words)) == len(words)
    assert all(words)
    # what only evaluation can find is not for a person to write
    assert set(Why) - set(RECORDABLE) == {
        Why.NOT_RECORDED,
        Why.OUT_OF_DATE,
        Why.UNDATED,
        Why.TOO_IMPRECISE,
        Why.INPUT_MISSING,
        Why.NOT_INTERPRETABLE,
        Why.LIST_INCOMPLETE,
        Why.DOES_NOT_APPLY,
        Why.AFTER_AS_OF,
        Why.DOUBTFUL,
    }
    assert Why.AFTER_AS_OF.words == "lies after the as-of date"


@pytest.mark.parametrize(
    ("number", "words"),
    [(30.0, "30"), (0.1, "0.1"), (-0.0, "0"), (1e6, "1000000"), (2 / 3, "0.666667"), (inf, "no limit")],
)
def test_numbers_are_printed_as_a_person_writes_them(number: float, words: str) -> None:
    assert number_words(number) == words


@pytest.mark.parametrize(
    ("number", "shown"),
    [(107.954984, "107.95"), (0.14142, "0.14"), (0.0049876, "0.005"), (-0.056789, "-0.057"), (0, "0"), (1200, "1200"), (inf, "no limit")],
)  # fmt: skip
def test_a_converted_number_is_shown_with_a_few_digits_and_a_small_one_is_not_none(
    number: float, shown: str
) -> None:
    assert number_words(few_digits(number)) == shown
