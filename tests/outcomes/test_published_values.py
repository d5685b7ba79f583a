"""Statistics against published worked values and values worked out by hand."""

from itertools import pairwise
from math import exp

import pytest

from candidacy.outcomes.intervals import (
    Interval,
    clopper_pearson,
    difference,
    fall_of_the_chosen,
    number_needed,
    paired_difference,
    poisson_exact,
    proportion,
    wilson,
)
from candidacy.outcomes.responding import response
from candidacy.outcomes.running import cusum, funnel, limit_for, tail, weight
from candidacy.outcomes.survival import FollowedUp, cumulative_incidence, kaplan_meier

# Remission of leukaemia in weeks, 6-mercaptopurine against placebo [source: Freireich 1963, Blood 21:699].
DRUG = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
DRUG_EVENTS = [
    True, True, True, False, True, False, True, False, False, True, True, False, False, False, True, True, False, False, False,
    False, False,
]  # fmt: skip
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605),  # Newcombe 1998, Stat Med 17:857
        (0, 20, 0, 0.1611), (1, 29, 0.0061, 0.1718), (7, 10, 0.3968, 0.8922), (8, 16, 0.28, 0.72), (12, 40, 0.1807, 0.4543),
        (26, 40, 0.4951, 0.7787), (20, 20, 0.8389, 1),
    ],
)  # fmt: skip
def test_wilson(count: int, of: int, low: float, high: float) -> None:
    assert wilson(count, of) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (15, 148, 0.0578, 0.1617), (0, 20, 0, 0.1684), (1, 29, 0.0009, 0.1776),
     (0, 30, 0, 0.116), (0, 100, 0, 0.0362)],
)  # fmt: skip
def test_clopper_pearson(count: int, of: int, low: float, high: float) -> None:
    assert clopper_pearson(count, of) == pytest.approx((low, high), abs=5.1e-4 if of in (30, 100) else 6e-5)


def test_none_of_many_one_sided() -> None:
    # one-sided 95 % is the two-sided one at 90 %
    found = [clopper_pearson(0, of, 0.9).high for of in (20, 30, 100)]
    assert found == pytest.approx([0.139, 0.095, 0.0295], abs=5.1e-4)


@pytest.mark.parametrize(
    ("counts", "found", "low", "high"),
    [
        ((56, 70, 48, 80), 0.2, 0.0524, 0.3339), ((9, 10, 3, 10), 0.6, 0.1705, 0.8090),  # Newcombe 1998, Stat Med 17:873
        ((10, 10, 0, 20), 1, 0.6791, 1), ((6, 7, 2, 7), 0.5714, 0.0582, 0.8062), ((5, 56, 0, 29), 0.0893, -0.0381, 0.1926),
        ((0, 10, 0, 20), 0, -0.1611, 0.2775), ((21, 44, 16, 45), 0.1217, -0.0804, 0.3109),
    ],
)  # fmt: skip
def test_newcombe(counts: tuple[int, int, int, int], found: float, low: float, high: float) -> None:
    share, interval = difference(*counts)
    assert (share, *interval) == pytest.approx((found, low, high), abs=6e-5)


def test_newcombe_agrees_with_statsmodels() -> None:
    from statsmodels.stats.proportion import confint_proportions_2indep

    for counts in ((56, 70, 48, 80), (6, 7, 2, 7), (5, 56, 0, 29), (13, 40, 30, 41)):
        theirs = confint_proportions_2indep(*counts, method="newcomb", compare="diff")
        assert tuple(difference(*counts)[1]) == pytest.approx(tuple(theirs), abs=1e-9)


def test_newcombe_of_pairs() -> None:
    share, interval = paired_difference(36, 12, 2, 0)
    assert (share, *interval) == pytest.approx((0.2, 0.0569, 0.3404), abs=6e-5)


@pytest.mark.parametrize(
    ("found", "interval", "words"),
    [
        (0.1, (-0.05, 0.25), "NNTB 10.0 (NNTB 4.0 to infinity to NNTH 20.0)"),
        (0.1655, (0.009, 0.322), "NNTB 6.0 (3.1 to 111.1)"),
        (0.12171717, (-0.08043, 0.31086), "NNTB 8.2 (NNTB 3.2 to infinity to NNTH 12.4)"),
        (-0.1, (-0.25, -0.05), "NNTH 10.0 (4.0 to 20.0)"),
        (0, (-0.1, 0.1), "none: there is no difference"),
    ],
)
def test_number_needed(found: float, interval: tuple[float, float], words: str) -> None:
    assert number_needed(found, Interval(*interval)) == words


def test_poisson() -> None:
    for events, low, high in (
        (0, 0, 3.69),
        (1, 0.0253, 5.57),
        (3, 0.619, 8.77),
        (5, 1.62, 11.67),
        (10, 4.80, 18.39),
    ):
        assert poisson_exact(events) == pytest.approx((low, high), abs=5.1e-3)


def test_bounds_of_missing_answers() -> None:
    found = response(["responded"] * 18 + ["not_responded"] * 6 + ["missing"] * 6)
    for each, share, low, high in (
        (found.complete, 0.75, 0.551, 0.880),
        (found.worst, 0.60, 0.423, 0.754),
        (found.best, 0.80, 0.627, 0.905),
    ):
        assert each.share == pytest.approx(share)
        assert each.interval == pytest.approx((low, high), abs=6e-4)


def test_kaplan_meier_of_leukaemia() -> None:
    from statsmodels.duration.survfunc import survdiff

    drug = kaplan_meier(DRUG, DRUG_EVENTS)
    assert [round(drug.free_at(week), 4) for week in (6, 7, 10, 13, 16, 22, 23)] == [
        0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482,
    ]  # fmt: skip
    assert (drug.events, drug.median) == (9, 23)
    assert drug.interval_at(10) == pytest.approx((0.503, 0.889), abs=6e-4)
    placebo = kaplan_meier(PLACEBO, [True] * 21)
    assert [round(placebo.free_at(week), 4) for week in (1, 8, 12, 22, 23)] == [
        0.9048,
        0.381,
        0.1905,
        0.0476,
        0,
    ]
    assert placebo.median == 8
    assert [drug.at_risk(week) for week in (6, 7, 10, 13, 16, 22, 23)] == [21, 17, 15, 12, 11, 7, 6]
    chi2, p = survdiff(DRUG + PLACEBO, DRUG_EVENTS + [True] * 21, [0] * 21 + [1] * 21)  # the library itself
    assert (chi2, p) == (pytest.approx(16.793, abs=1e-3), pytest.approx(4.17e-5, rel=1e-3))


def test_kaplan_meier_is_not_the_naive_share() -> None:
    months, events = [3, 4, 6, 7, 9, 12, 12, 12], [False, True, False, True, True, False, False, False]
    found = kaplan_meier(months, events)
    assert [round(found.free_at(month), 4) for month in (3, 4, 7, 12)] == [1, 0.8571, 0.6857, 0.5143]
    assert found.free_at(12) != 5 / 8


def test_competing_endings_leave_less_than_one_minus_the_curve() -> None:
    people = [
        FollowedUp(3, "event"),
        FollowedUp(5, "death"),
        FollowedUp(7, "event"),
        FollowedUp(9, "seen_until"),
    ]
    found = cumulative_incidence(people, 8)
    assert found == pytest.approx({"event": 0.5, "death": 0.25, "elsewhere": 0.0})
    curve = kaplan_meier([each.days for each in people], [each.ending == "event" for each in people])
    assert found["event"] < 1 - curve.free_at(8)


@pytest.mark.parametrize(
    ("score", "ratio", "survived", "died"),
    [(0, 2, -0.024, 0.669), (50, 2, -0.433, 0.260), (0, 0.5, 0.012, -0.681), (50, 0.5, 0.316, -0.377)],
)
def test_weights_of_steiner(score: float, ratio: float, survived: float, died: float) -> None:
    expected = 1 / (1 + exp(3.68 - 0.077 * score))  # [source: Steiner 2000, Biostatistics 1:441]
    assert (weight(False, expected, ratio), weight(True, expected, ratio)) == pytest.approx(
        (survived, died), abs=6e-4
    )


def test_running_sum_by_hand() -> None:
    assert (weight(False, 1 / 16, 2), weight(True, 1 / 16, 2)) == pytest.approx((-0.06062, 0.63252), abs=6e-6)
    happened = [bool(each) for each in (0, 0, 1, 0, 1, 1, 1, 0, 1)]
    found = cusum(happened, 1 / 16, 2, limit=99)
    assert found.line == pytest.approx(
        (0, 0, 0.6325, 0.5719, 1.2044, 1.8369, 2.4695, 2.4088, 3.0414), abs=1.1e-4
    )
    assert found.excess[-1] == pytest.approx(4.4375)
    again = cusum(happened, 1 / 16, 2, limit=2.4)
    assert again.signals == (7,)
    assert again.line[7:] == pytest.approx((0, 0.6325), abs=1e-4)


def test_funnel_and_chance() -> None:
    assert tuple(funnel(40, 1 / 16)) == (0, 6, 8)
    assert tail(6, 40, 1 / 16, upper=True) == pytest.approx(0.0367, abs=6e-5)
    low, high = poisson_exact(6)
    assert (6 / 2.5, low / 2.5, high / 2.5) == pytest.approx((2.4, 0.88, 5.22), abs=6e-3)
    for of, chance in ((16, 0.356), (32, 0.127), (48, 0.045)):
        assert tail(0, of, 1 / 16, upper=False) == pytest.approx(chance, abs=6e-4)


def test_regression_to_the_mean() -> None:
    assert fall_of_the_chosen(40, 15, 0.84, 40) == pytest.approx(1.91, abs=6e-3)
    assert fall_of_the_chosen(50, 15, 0.6, 60) == pytest.approx(7.59, abs=6e-3)


def test_the_limit_keeps_false_alarms_by_exact_count() -> None:
    """The share of runs that reach a simulated limit, worked out exactly by following every possible sum."""
    expected, ratio, patients = 1 / 16, 2.0, 40
    limit = limit_for(expected, ratio, patients, 0.1)
    reached = _reaching(expected, ratio, patients, limit)
    assert reached <= 0.105
    assert _reaching(expected, ratio, patients, limit - 0.1) > 0.1


def _reaching(expected: float, ratio: float, patients: int, limit: float) -> float:
    yes, no = weight(True, expected, ratio), weight(False, expected, ratio)
    sums, reached = {0.0: 1.0}, 0.0
    for _ in range(patients):
        after: dict[float, float] = {}
        for height, chance in sums.items():
            for step, of in ((yes, expected), (no, 1 - expected)):
                higher = round(max(0.0, height + step), 9)
                if higher >= limit:
                    reached += chance * of
                else:
                    after[higher] = after.get(higher, 0.0) + chance * of
        sums = after
    return reached


def test_no_share_of_nobody() -> None:
    assert proportion(0, 0).share is None
    with pytest.raises(ValueError, match="no share"):
        wilson(3, 2)


def test_the_curve_is_never_below_its_own_steps() -> None:
    drug = kaplan_meier(DRUG, DRUG_EVENTS)
    assert all(one.free > two.free for one, two in pairwise(drug.steps))
    assert kaplan_meier([], []).free_at(5) == 1
