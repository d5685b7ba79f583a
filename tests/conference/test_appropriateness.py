"""Median, thirds and disagreement, held against published examples and, for percentiles, against numpy.

Rows: BMJ Open 2012;2:e001431 table 1 [seen] for the first; the others are worked out by hand from the rules in
BMC Med Inform Decis Mak 2012;12:93 table 7 [seen] and from IPRAS [seen, 2.35 memory].
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.conference.appropriateness import spread, tally

ROWS = [
    # ratings, median, thirds, disagreement by size, (IPR, IPRAS) linear, (IPR, IPRAS) by n + 1
    ([4, 5, 6, *[7] * 5, *[8] * 5, 9, 9], 7, (0, 3, 12), "no", (1, 6.1), (1, 6.1)),
    ([7, 7, 7, 8, 8, 8, 8, 9, 9], 8, (0, 0, 9), "no", (0.6, 6.4), (1, 6.1)),
    ([1, 2, 3, 7, 7, 8, 8, 9, 9], 7, (3, 0, 6), "yes", (3.4, 4.3), (5, 3.1)),
    ([1, 1, 2, 2, 5, 8, 8, 9, 9], 5, (4, 1, 4), "yes", (6, 2.35), (6, 2.35)),
    ([4, 5, 5, 5, 6, 6, 6, 7, 7], 6, (0, 7, 2), "no", (1, 3.1), (1, 3.1)),
    ([3, 4, 5, 7, 7, 7, 8, 8, 9], 7, (1, 2, 6), "no", (1.8, 4.9), (3, 4.6)),
    ([1, 2, 7, 7, 8, 8, 8, 9, 9], 8, (2, 0, 7), "no", (1, 6.1), (1, 6.1)),
    ([1, 1, 1, 2, 2, 2, 3, 3, 8], 2, (8, 0, 1), "no", (1.2, 6.85), (2, 6.85)),
    ([*[1] * 5, *[9] * 4], 1, (5, 0, 4), "yes", (8, 2.35), (8, 2.35)),
    ([2, 3, 3, 3, 4, 4, 6, 7], 3.5, (4, 3, 1), "no", (1, 4.6), (1.6, 4.15)),
    ([6, 6, 6, 6, 7, 7, 7, 7], 6.5, (0, 4, 4), "no", (1, 4.6), (1, 4.6)),
]  # fmt: skip


@pytest.mark.parametrize(("values", "median", "thirds", "by_size", "linear", "weibull"), ROWS)
def test_the_published_and_worked_examples(values, median, thirds, by_size, linear, weibull):
    found = tally(list(reversed(values)))
    assert (float(found.median), found.thirds, found.verdicts[0].answer) == (median, thirds, by_size)
    for rule, wanted in (("linear", linear), ("n_plus_1", weibull)):
        one = spread(values, rule)
        assert (float(one.ipr), float(one.ipras)) == pytest.approx(
            wanted, abs=0.051 if rule == "linear" else 0.01
        )
    answers = {linear[0] > linear[1], weibull[0] > weibull[1]}
    expected = "no answer" if len(answers) > 1 else "yes" if answers.pop() else "no"
    assert found.verdicts[1].answer == expected


def test_ratings_of_which_the_verdict_hangs_on_the_percentiles_get_no_answer_and_say_so():
    verdict = tally([1, 2, 3, 7, 7, 8, 8, 9, 9]).verdicts[1]
    assert verdict.disagreement is None
    assert "3.4 against 4.3" in verdict.words
    assert "5 against 3.1" in verdict.words
    assert "2.35 [memory]" in verdict.source


@pytest.mark.parametrize(
    ("low", "high", "size", "disagree"),
    [(2, 6, 8, False), (3, 5, 8, True), (3, 7, 10, True), (3, 8, 11, False), (4, 7, 11, True), (4, 9, 13, True), (4, 10, 14, False),
     (5, 9, 14, True), (5, 11, 16, True), (2, 5, 7, False), (3, 4, 7, True), (5, 12, 17, False), (6, 11, 17, True)],
)  # fmt: skip
def test_each_side_of_each_boundary_by_panel_size(low, high, size, disagree):
    assert low + high == size
    verdict = tally([1] * low + [9] * high).verdicts[0]
    assert verdict.disagreement is disagree
    assert ("table 7" in verdict.source) == (8 <= size <= 16)


@pytest.mark.parametrize("size", range(1, 7))
def test_fewer_than_seven_get_counts_and_no_verdict(size):
    found = tally([1, 9, 1, 9, 1, 9][:size])
    assert [verdict.answer for verdict in found.verdicts] == ["no answer"]
    assert sum(found.counts) == size


@given(st.lists(st.integers(1, 9), min_size=1, max_size=40))
def test_percentiles_are_those_of_numpy(values):
    numpy = pytest.importorskip("numpy")
    for rule, method in (("linear", "linear"), ("n_plus_1", "weibull")):
        low, high = numpy.percentile(values, [30, 70], method=method)
        assert float(spread(values, rule).ipr) == pytest.approx(high - low, abs=1e-9)
        asymmetry = abs(5 - (low + high) / 2)
        assert float(spread(values, rule).ipras) == pytest.approx(2.35 + 1.5 * asymmetry, abs=1e-9)


@pytest.mark.parametrize("values", [[], [0], [10], [5.0], [True], ["7"]])
def test_what_is_no_rating_is_refused(values):
    with pytest.raises(ValueError, match="whole numbers from 1 to 9"):
        tally(values)
