"""Totals, bands and change of pain where something is missing, imprecise or contradictory."""

from datetime import date

import pytest

from candidacy.derive import work_out
from candidacy.foundation.values import Span, Why
from tests.views import case_of, fact_of, told, view_of

SECTIONS = {f"odi_item{n + 1}": 2 for n in range(10)}
ITEMS = {f"phq9_item{n + 1}": 1 for n in range(9)}


def without(facts: dict[str, object], *names: str) -> dict[str, object]:
    return {name: value for name, value in facts.items() if name not in names}


@pytest.mark.parametrize("why", ["not_stated", "not_asked", "not_applicable"])
def test_a_section_left_blank_on_the_form_lowers_the_denominator(why: str) -> None:
    fact = fact_of("odi_percent", case_of({**SECTIONS, "odi_item8": {"unknown": why}}))
    assert told(fact) == 40
    assert "scored over the 9 answered" in fact.note


@pytest.mark.parametrize("why", ["not_readable", "uncertain_in_source", "conflicting"])
def test_a_section_that_cannot_be_read_may_have_been_answered(why: str) -> None:
    fact = fact_of("odi_percent", case_of({**SECTIONS, "odi_item8": {"unknown": why}}))
    assert told(fact) == (36, 46)  # answered 0 to 5, or left blank


def test_a_section_not_in_the_record_gives_a_range() -> None:
    assert told(fact_of("odi_percent", case_of(without(SECTIONS, "odi_item8")))) == (36, 46)


def test_three_open_sections_give_no_percentage() -> None:
    fact = fact_of("odi_percent", case_of(without(SECTIONS, "odi_item1", "odi_item2", "odi_item3")))
    assert (fact.value, fact.why) == (None, Why.NOT_RECORDED)


def test_an_imprecise_section_gives_a_range() -> None:
    fact = fact_of("odi_percent", case_of({**SECTIONS, "odi_item4": {"one_of": [1, 3]}}))
    assert told(fact) == (38, 42)


def test_a_sum_without_the_number_answered_is_not_scored() -> None:
    assert fact_of("odi_percent", case_of({"odi_items_total": 16})).value is None


def test_a_number_answered_that_may_be_too_low_is_not_scored() -> None:
    answered = {"between": [7, 9]}
    assert (
        fact_of("odi_percent", case_of({"odi_items_total": 16, "odi_items_answered": answered})).value is None
    )


def test_a_sum_higher_than_the_answered_sections_allow_is_a_contradiction() -> None:
    view = view_of(case_of({"odi_items_total": 46, "odi_items_answered": 9}))
    assert work_out("odi_percent", view, "patient").why is Why.CONFLICTING


def test_sections_and_sum_that_disagree_are_a_contradiction() -> None:
    view = view_of(case_of({**SECTIONS, "odi_items_total": 25, "odi_items_answered": 10}))
    found = work_out("odi_percent", view, "patient")
    assert (found.value, found.why) == (None, Why.CONFLICTING)


def test_sections_and_sum_that_agree_give_one_value() -> None:
    assert (
        told(fact_of("odi_percent", case_of({**SECTIONS, "odi_items_total": 20, "odi_items_answered": 10})))
        == 40
    )


def test_a_sum_narrows_what_the_open_sections_leave() -> None:
    facts = {**without(SECTIONS, "odi_item8"), "odi_items_total": 20, "odi_items_answered": 10}
    assert told(fact_of("odi_percent", case_of(facts))) == 40


def test_an_imprecise_score_has_every_band_it_may_be_in() -> None:
    case = case_of({"odi_percent": {"between": [38, 62], "unit": "%"}})
    assert told(fact_of("odi_band", case)) == {"moderate", "severe", "crippling"}


def test_a_score_below_an_open_edge_stays_in_the_lower_band() -> None:
    case = case_of({"odi_percent": {"more_than": 40, "unit": "%"}})
    assert told(fact_of("odi_band", case)) == {"severe", "crippling", "bed_bound"}


def test_the_total_counts_the_ninth_item() -> None:
    assert told(fact_of("phq9_total", case_of({**ITEMS, "phq9_item9": 3}))) == 11


def test_an_unrounded_total_stays_in_the_band_its_points_have_reached() -> None:
    facts = {**{f"phq9_item{n + 1}": 1 for n in range(7)}, "phq9_item1": 2}
    facts |= {"phq9_item8": {"unknown": "not_stated"}, "phq9_item9": {"unknown": "not_stated"}}  # type: ignore[dict-item]
    case = case_of(facts)
    assert told(fact_of("phq9_total", case)) == pytest.approx(8 * 9 / 7)
    assert told(fact_of("phq9_band", case)) == "moderate"
    lower = case_of({**facts, "phq9_item1": 1})
    assert told(fact_of("phq9_band", lower)) == "mild"


def test_leg_pain_is_compared_on_one_scale_only() -> None:
    both = {"back_pain_nrs_average": 8, "leg_pain_vas": {"value": 20, "unit": "mm"}}
    for scale in ("vas", "average_nrs", "worst_nrs"):
        assert fact_of("leg_to_back_pain_ratio", case_of(both), leg_to_back_scale=scale).value is None


@pytest.mark.parametrize(("scale", "expected"), [("vas", 50), ("average_nrs", 40), ("worst_nrs", (37.5, 50))])
def test_leg_pain_as_a_share_of_back_pain(scale: str, expected: object) -> None:
    case = case_of(
        {
            "back_pain_vas": {"value": 60, "unit": "mm"}, "leg_pain_vas": {"value": 30, "unit": "mm"},
            "back_pain_nrs_average": 5, "leg_pain_nrs_average": 2,
            "back_pain_nrs_worst": 8, "leg_pain_nrs_worst": {"between": [3, 4]},
        }
    )  # fmt: skip
    assert told(fact_of("leg_to_back_pain_ratio", case, leg_to_back_scale=scale)) == expected


def test_without_back_pain_there_is_no_share() -> None:
    facts = {"back_pain_vas": {"value": 0, "unit": "mm"}, "leg_pain_vas": {"value": 30, "unit": "mm"}}
    assert work_out("leg_to_back_pain_ratio", view_of(case_of(facts)), "patient").why is Why.DOES_NOT_APPLY


def test_change_is_negative_when_worse_and_undefined_at_baseline_zero() -> None:
    worse = case_of({"back_pain_nrs_baseline": 4, "back_pain_nrs_follow_up": 6})
    assert told(fact_of("pain_change_percent", worse)) == -50
    none = view_of(case_of({"back_pain_nrs_baseline": 0, "back_pain_nrs_follow_up": 3}))
    assert work_out("pain_change_percent", none, "patient").why is Why.DOES_NOT_APPLY


def test_an_open_end_stays_open() -> None:
    case = case_of({"back_pain_nrs_baseline": 8, "back_pain_nrs_follow_up": {"less_than": 4}})
    found = fact_of("pain_change_percent", case).value
    assert (found.low, found.low_open) == (50, True)  # type: ignore[union-attr]


def lasted(value: object, **more: object) -> dict[str, object]:
    form = value if isinstance(value, dict) else {"value": value}
    return {"pain_duration": {**form, "unit": "month", **more}}


ON = {"date": "2026-03-01"}


@pytest.mark.parametrize(("facts", "first", "last"), [
    ({"pain_onset_date": "2024-09"}, "2024-09-01", "2024-09-30"),
    (lasted(7, **ON), "2025-06-30", "2025-08-31"),  # counted to the month
    (lasted(12, **ON), "2024-11-29", "2025-06-01"),  # may have been rounded to a quarter of a year
    (lasted({"between": [7, 12]}, **ON), "2024-11-29", "2025-09-23"),
    (lasted(7), "2026-03-26", "2026-05-27"),  # told on no day: on the as-of date
    ({"pain_onset_date": "2025", **lasted(12, **ON)}, "2025-01-01", "2025-06-01"),
])  # fmt: skip
def test_the_pain_began_within_what_its_date_and_its_length_leave(
    facts: dict[str, object], first: str, last: str
) -> None:
    value = fact_of("pain_began", case_of(facts)).value
    assert isinstance(value, Span)
    assert [date.fromordinal(int(end)).isoformat() for end in (value.low, value.high)] == [first, last]


def test_a_length_without_an_upper_end_leaves_only_the_last_day_on_which_the_pain_began() -> None:
    value = fact_of("pain_began", case_of(lasted({"more_than": 6}, **ON))).value
    assert isinstance(value, Span)
    assert date.fromordinal(int(value.low)).year < 1930
    assert date.fromordinal(int(value.high)) == date(2025, 10, 16)


def test_a_date_and_a_length_of_the_pain_that_do_not_fit_conflict() -> None:
    apart = case_of({"pain_onset_date": "2024-10-01", **lasted(12, **ON)})
    assert fact_of("pain_began", apart).why is Why.CONFLICTING
