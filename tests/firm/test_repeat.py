"""What a repeat may show: the worked flips of the reference sheet, and the laws of the error model."""

from collections.abc import Callable
from itertools import pairwise
from math import sqrt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.firm.points import estimate
from candidacy.firm.readers import by_chance, exact_of, kappa_of, model, normal_shares, second
from candidacy.firm.repeat import Scale, below, drawn, reaches, repeats

Sheet = Callable[[str], Path]
ODI, NRS, OPEN = Scale(0, 100, 2), Scale(0, 10, 1), Scale()

# outcome sheet, section 9 [derived]: P(meets rule | true value), normal error, no rounding
FLIPS = [
    *(("ODI >=30", true, 30, 6, p) for true, p in
      ((24, .1587), (27, .3085), (30, .5), (33, .6915), (36, .8413), (42, .9772))),
    *(("ODI >=30", true, 30, 6.49, p) for true, p in ((24, .1776), (27, .3220), (33, .6780), (36, .8224))),
    ("ODI >=30 on mean of two", 27, 30, 6 / sqrt(2), .2398),
    *(("VAS >=40", true, 40, 10.2, p) for true, p in ((36, .3475), (44, .6525), (50, .8366))),
    *(("VAS >=40", true, 40, 13.0, p) for true, p in ((36, .3792), (44, .6208), (50, .7791))),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "true", "cut", "sem", "expected"), FLIPS)
def test_worked_flip(rule: str, true: float, cut: float, sem: float, expected: float, shared: Sheet) -> None:
    assert reaches(true, cut, sem) == pytest.approx(expected, abs=5e-5)
    text = (
        shared("reference/outcome_measures.md")
        .read_text(encoding="utf-8")
        .split("## 9.")[1]
        .split("## 10.")[0]
    )
    assert any(rule in line and f"{expected:.4f}"[1:] in line for line in text.splitlines())


def test_worked_flips_of_two_visits_windows_and_sizes() -> None:
    # outcome sheet, section 9 [derived]
    assert [reaches(t, 30, 6) ** 2 for t in (27, 33, 36)] == pytest.approx([.0952, .4781, .7079], abs=1e-4)  # fmt: skip
    assert reaches(86, 40, 10.2) - reaches(86, 90, 10.2) == pytest.approx(0.6525, abs=5e-5)
    assert [below(4.5, 5, sem) for sem in (0.45, 0.83)] == pytest.approx([0.8667, 0.7265], abs=5e-5)
    of_height = [100 * sem / 9.27 for sem in (0.45, 0.83)]
    assert [below(45, 50, sem) for sem in of_height] == pytest.approx([0.8485, 0.7117], abs=5e-5)


def test_kappa_of_the_published_shares() -> None:
    # outcome sheet, check 30 [Pf01, derived]: chance .2314, kappa .789; section 8.2 [Sch2, derived]: kappa .717
    shares = normal_shares([14, 82, 72, 68, 64])
    assert by_chance(shares) == pytest.approx(0.2314, abs=5e-5)
    assert kappa_of(0.838, shares) == pytest.approx(0.789, abs=5e-4)
    # the second column as printed sums to 101.0; made to sum to 100 it gives .722
    first, other = [0.788, 0.154, 0.042, 0.016], [0.744, 0.186, 0.060, 0.020]
    chance = sum(a * b for a, b in zip(first, other, strict=True))
    assert (0.892 - chance) / (1 - chance) == pytest.approx(0.717, abs=5e-4)
    assert kappa_of(0.892, normal_shares(first, other)) == pytest.approx(0.722, abs=1e-3)
    assert exact_of(kappa_of(0.838, shares), shares) == pytest.approx(0.838)


@given(
    st.lists(st.integers(5, 100), min_size=2, max_size=5), st.floats(0.5, 0.97), st.booleans()
)  # fmt: skip
@settings(max_examples=40, deadline=None)
def test_model_of_readers_is_a_table_of_probabilities_with_the_printed_agreement(
    counts: list[int], kappa: float, ordered: bool
) -> None:
    shares = tuple(normal_shares(counts))
    exact = exact_of(kappa, shares)
    table = model(shares, exact, ordered=ordered)
    assert sum(table[i][i] for i in range(len(shares))) == pytest.approx(exact, abs=2e-4)
    assert [sum(row) for row in table] == pytest.approx(list(shares), abs=2e-4)
    for first in range(len(shares)):
        assert sum(second(table, first)) == pytest.approx(1)
        assert all(0 <= each <= 1 for each in second(table, first))


def test_model_of_the_published_grades_balances() -> None:
    shares = tuple(normal_shares([14, 82, 72, 68, 64]))
    table = model(shares, 0.838, ordered=True)
    assert [sum(row) for row in table] == pytest.approx(list(shares), abs=1e-6)
    assert sum(table[i][i] for i in range(5)) == pytest.approx(0.838, abs=1e-6)
    assert kappa_of(sum(table[i][i] for i in range(5)), shares) == pytest.approx(0.789, abs=5e-4)
    assert table[0][3] == table[0][4] == 0  # no disagreement by more than two grades


sems = st.floats(0.05, 40)


@given(st.floats(-50, 150), sems)
def test_half_of_all_repeats_fall_below_a_limit_that_is_the_value(value: float, sem: float) -> None:
    cells = repeats(value, sem, OPEN, [value])
    assert sum(c.probability for c in cells if c.value < value) == pytest.approx(0.5)


@given(st.lists(st.floats(0, 100), min_size=2, max_size=6, unique=True), st.floats(0, 100), sems)
def test_farther_from_the_limit_it_is_crossed_less_often(
    values: list[float], limit: float, sem: float
) -> None:
    above = sorted(v for v in values if v >= limit)
    shares = [sum(c.probability for c in repeats(v, sem, OPEN, [limit]) if c.value < limit) for v in above]
    assert all(nearer >= farther for nearer, farther in pairwise(shares))
    assert all(0 <= share <= 0.5 + 1e-12 for share in shares)


@given(
    st.integers(0, 50), sems, st.sampled_from([ODI, Scale(0, 100)]), st.lists(st.floats(0, 100), max_size=3)
)
def test_repeats_stay_on_the_scale_and_make_one(
    place: int, sem: float, scale: Scale, cuts: list[float]
) -> None:
    cells = repeats(place * 2, sem, scale, cuts)
    assert sum(c.probability for c in cells) == pytest.approx(1)
    assert all(0 <= c.value <= 100 and 0 <= c.probability <= 1 for c in cells)
    if scale.step:
        assert {c.value % 2 for c in cells} == {0}


def test_ends_of_a_scale_gather_what_lies_beyond() -> None:
    cells = {c.value: c.probability for c in repeats(10, 1.3, NRS)}
    assert cells[10] == pytest.approx(1 - below(10, 9.5, 1.3 * sqrt(2)))
    assert max(cells) == 10
    assert cells[10] > 0.5
    # a score with a blank section is off the steps, and taken without them
    assert 35.56 not in {c.value for c in repeats(35.56, 6, ODI, [30])}
    assert len(repeats(35.56, 6, ODI, [30])) == 4


@given(st.integers(0, 10), st.floats(-1, 11))
def test_without_error_nothing_moves(value: int, limit: float) -> None:
    assert repeats(value, 0, NRS, [limit]) == [(value, 1.0)]
    assert reaches(value, limit, 0) == (1.0 if value >= limit else 0.0)
    assert drawn(value, 0, OPEN, 0.99) == value


def test_points_fill_the_cube_evenly_and_equal_seeds_give_equal_bytes() -> None:
    found = estimate(3, lambda p: 1.0 if sum(p) < 1.5 else 0.0, 7)
    assert found.value == pytest.approx(0.5, abs=0.01)
    assert abs(found.value - 0.5) <= 5 * found.error
    assert repr(found) == repr(estimate(3, lambda p: 1.0 if sum(p) < 1.5 else 0.0, 7))
    assert found != estimate(3, lambda p: 1.0 if sum(p) < 1.5 else 0.0, 8)
