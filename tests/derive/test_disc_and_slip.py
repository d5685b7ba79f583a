"""Disc height, slip, likelihood: what is missing, imprecise or not comparable gives no false precision."""

from typing import Any

import pytest

from candidacy.derive.likelihood import post_test
from candidacy.foundation.values import Span, Why, point
from tests.views import case_of, fact_of, told

HEIGHTS = {
    "disc_height_anterior": {"value": 12, "unit": "mm"},
    "disc_height_middle": {"value": 9, "unit": "mm"},
    "disc_height_posterior": {"value": 6, "unit": "mm"},
    "disc_height_reference": "adjacent_disc",
    "disc_height_reference_value": {"value": 12, "unit": "mm"},
}


def loss(disc: dict[str, Any], level: str = "L4-L5", **settings: Any) -> Any:
    return fact_of("disc_height_loss", case_of(disc=disc, level=level), level, **settings)


@pytest.mark.parametrize(("method", "expected"), [("middle", 25), ("two_point", 25), ("three_point", 25)])
def test_each_method_uses_its_own_heights(method: str, expected: float) -> None:
    assert told(loss({**HEIGHTS, "disc_height_method": method})) == expected


def test_methods_are_told_apart() -> None:
    disc = {**HEIGHTS, "disc_height_posterior": {"value": 5.4, "unit": "mm"}}
    assert told(loss({**disc, "disc_height_method": "middle"})) == 25
    assert told(loss({**disc, "disc_height_method": "two_point"})) == pytest.approx(27.5)
    assert told(loss({**disc, "disc_height_method": "three_point"})) == pytest.approx(26.6667, abs=1e-3)


@pytest.mark.parametrize(
    "missing", ["disc_height_reference", "disc_height_reference_value", "disc_height_middle"]
)
def test_without_reference_method_or_height_there_is_no_loss(missing: str) -> None:
    disc = {k: v for k, v in HEIGHTS.items() if k != missing}
    assert loss({**disc, "disc_height_method": "middle"}).value is None
    assert loss(HEIGHTS).value is None


@pytest.mark.parametrize(
    "change",
    [
        {"disc_height_reference": "not_stated"},
        {"disc_height_method": "not_stated"},
        {"disc_height_method": "other"},
    ],
)
def test_a_reference_or_method_that_is_not_stated_gives_no_loss(change: dict[str, str]) -> None:
    assert loss({**HEIGHTS, "disc_height_method": "middle", **change}).value is None


def test_a_taller_disc_has_a_negative_loss() -> None:
    disc = {**HEIGHTS, "disc_height_method": "middle", "disc_height_middle": {"value": 15, "unit": "mm"}}
    assert told(loss(disc)) == -25


def test_an_imprecise_height_gives_a_range_across_the_limit() -> None:
    disc = {
        **HEIGHTS,
        "disc_height_method": "middle",
        "disc_height_middle": {"between": [5, 7], "unit": "mm"},
    }
    assert told(loss(disc)) == (pytest.approx(41.6667, abs=1e-3), pytest.approx(58.3333, abs=1e-3))


def test_the_topmost_disc_has_no_published_ratio_to_the_one_above() -> None:
    disc = {
        **HEIGHTS,
        "disc_height_method": "middle",
        "disc_height_reference": "adjacent_disc_level_corrected",
    }
    assert loss(disc, level="L1-L2").why is Why.DOES_NOT_APPLY
    assert loss({**disc, "disc_height_method": "two_point"}, level="L4-L5").why is Why.DOES_NOT_APPLY


def test_a_norm_that_the_data_set_lacks_does_not_apply() -> None:
    disc = {**HEIGHTS, "disc_height_method": "middle", "disc_height_reference": "level_norm"}
    assert loss(disc, "L3-L4", disc_height_norms="nepal").why is Why.DOES_NOT_APPLY
    assert told(loss(disc, "L4-L5", disc_height_norms="nepal")) == pytest.approx(24.749, abs=1e-3)


@pytest.mark.parametrize("missing", ["disc_height_anterior", "disc_height_posterior", "disc_depth"])
def test_the_height_index_needs_all_three(missing: str) -> None:
    disc = {**HEIGHTS, "disc_depth": {"value": 36, "unit": "mm"}}
    assert told(fact_of("disc_height_index", case_of(disc=disc), "L4-L5")) == 0.5
    short = {k: v for k, v in disc.items() if k != missing}
    assert fact_of("disc_height_index", case_of(disc=short), "L4-L5").value is None


# --- slip


def grade(**disc: Any) -> Any:
    return fact_of("meyerding_grade", case_of(disc=disc), "L4-L5")


def test_no_slip_has_no_direction_and_no_grade() -> None:
    assert told(grade(slip_percent={"value": 0, "unit": "%"})) == "none"


def test_a_slip_of_unknown_direction_has_no_grade() -> None:
    assert grade(slip_percent={"value": 20, "unit": "%"}).value is None
    assert (
        grade(
            slip_percent={"value": 20, "unit": "%"}, slip_direction={"one_of": ["anterior", "posterior"]}
        ).value
        is None
    )


def test_a_range_of_slip_has_every_grade_in_it() -> None:
    slip = {"between": [20, 60], "unit": "%"}
    assert told(grade(slip_percent=slip, slip_direction="anterior")) == {"I", "II", "III"}
    assert told(grade(slip_percent={"between": [0, 5], "unit": "%"}, slip_direction="anterior")) == {
        "none",
        "I",
    }


@pytest.mark.parametrize(("edge", "expected"), [("in_lower_grade", {"II"}), ("in_higher_grade", {"II"})])
def test_more_than_25_up_to_below_50_is_grade_two_either_way(edge: str, expected: set[str]) -> None:
    case = case_of(disc={"slip_percent": {"between": [26, 49], "unit": "%"}, "slip_direction": "anterior"})
    found = told(fact_of("meyerding_grade", case, "L4-L5", meyerding_edge=edge))
    assert {found} == expected


def test_slip_percent_needs_the_endplate() -> None:
    assert fact_of("slip_percent", case_of(disc={"slip": {"value": 8, "unit": "mm"}}), "L4-L5").value is None


# --- likelihood


def test_the_prior_is_a_range_unless_the_rule_set_narrows_it() -> None:
    fact = fact_of(
        "post_test_probability_of_disc_source", case_of(disc={"high_intensity_zone": True}), "L4-L5"
    )
    assert told(fact) == (pytest.approx(52.1, abs=0.05), pytest.approx(69.2, abs=0.05))


def test_an_unknown_finding_gives_no_probability() -> None:
    fact = fact_of("post_test_probability_of_disc_source", case_of(disc={"modic_type": "1"}), "L4-L5")
    assert fact.value is None


@pytest.mark.parametrize("mixed", ["1-2", "2-1"])
def test_mixed_marrow_change_neither_shows_nor_excludes_modic_1(mixed: str) -> None:
    same = {
        "disc_pretest_probability_low": 42,
        "disc_pretest_probability_high": 42,
        "post_test_finding": "modic_1",
    }
    fact = fact_of(
        "post_test_probability_of_disc_source", case_of(disc={"modic_type": mixed}), "L4-L5", **same
    )
    assert told(fact) == (pytest.approx(37.8, abs=0.05), pytest.approx(87.9, abs=0.05))


def test_a_ratio_of_one_changes_nothing_and_a_certain_prior_is_refused() -> None:
    assert post_test(point(42), 1).low == pytest.approx(42)
    for prior in (point(0), point(100), Span(0, 40)):
        with pytest.raises(ValueError, match="nothing to learn"):
            post_test(prior, 2)


def test_findings_are_never_chained() -> None:
    disc = {"high_intensity_zone": True, "annular_fissure": True, "modic_type": "1", "pfirrmann_grade": "V"}
    alone = fact_of(
        "post_test_probability_of_disc_source", case_of(disc={"high_intensity_zone": True}), "L4-L5"
    )
    together = fact_of("post_test_probability_of_disc_source", case_of(disc=disc), "L4-L5")
    assert told(alone) == told(together)
