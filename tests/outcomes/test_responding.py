"""Who responded: check values of the sheet, and what missing, late and early answers do."""

from datetime import date

import pytest

from candidacy.foundation.errors import RuleError
from candidacy.outcomes.responding import fall_meets
from candidacy.rules.outcome_files import ResponseTest
from tests.outcomes.made import MONTH_6, MONTH_12, answer, course, outcomes, visit

PAIN = ("pain_average_week_vas",)


@pytest.mark.parametrize(
    ("before", "after", "test", "met"),
    [
        (46, 36, {"fall_at_least": 10}, True), (46, 36, {"fall_percent_at_least": 30}, False),
        (30, 20, {"fall_at_least": 10}, True), (30, 20, {"fall_percent_at_least": 30}, True),
        (80, 55, {"fall_percent_at_least": 30}, True), (80, 55, {"fall_percent_at_least": 50}, False),
        (80, 55, {"fall_at_least": 15}, True), (40, 27, {"fall_percent_at_least": 30}, True), (40, 27, {"fall_at_least": 15}, False),
        (100, 80, {"fall_percent_at_least": 20, "fall_at_least": 20}, True),
        (50, 40, {"fall_percent_at_least": 20, "fall_at_least": 20}, False), (40, 32, {"fall_percent_at_least": 20}, True),
        (40, 33, {"fall_percent_at_least": 20}, False), (50, 31, {"fall_at_least": 18.8}, True), (50, 31, {"final_below": 31.3}, True),
        (10, 7, {"fall_percent_above": 30}, False), (10, 7, {"fall_percent_at_least": 30}, True), (5, 0, {"final_at_most": 0}, True),
    ],
)  # fmt: skip
def test_falls_of_the_sheet(before: float, after: float, test: dict[str, float], met: bool) -> None:
    assert fall_meets(ResponseTest(measures=PAIN, **test), before, after) is met  # type: ignore[arg-type]


STRICT = "pain_disability_no_intervention"


def operated(when: str) -> dict[str, object]:
    return {
        "procedures": [
            {"date": when, "kind": "surgery", "levels": ["L4-L5"], "because_of_treated_disc": "yes"}
        ]
    }


def test_the_composite_needs_every_part() -> None:
    good = visit(MONTH_12, pain_average_week=3, oswestry_disability_index=35)
    assert answer(outcomes(course(good)), STRICT) == "responded"
    close = visit(MONTH_12, pain_average_week=3, oswestry_disability_index=36)
    assert answer(outcomes(course(close)), STRICT) == "not_responded"
    assert answer(outcomes(course(good, **operated("2025-11-10"))), STRICT) == "not_responded"
    elsewhere = {
        "procedures": [
            {"date": "2025-11-10", "kind": "surgery", "levels": ["L2-L3"], "because_of_treated_disc": "no"}
        ]
    }
    assert answer(outcomes(course(good, **elsewhere)), STRICT) == "responded"


def test_a_definition_of_two_visits_is_not_counted_where_the_schedule_has_one() -> None:
    found = outcomes(course(visit(MONTH_12, pain_average_week=3, oswestry_disability_index=30)))
    assert found.countable("strict_both_visits") == "the schedule has no visit months_24"
    with pytest.raises(RuleError) as refused:
        found.answers("strict_both_visits")
    assert refused.value.problems[0].code.value == "E208"


def test_scales_are_never_mixed_in_one_patient() -> None:
    """The line of 100 mm is not read as the rating of 0 to 10, nor the other way round."""
    other = visit(MONTH_12, pain_average_week_vas=10)
    assert answer(outcomes(course(other)), "pain_half") == "responded"
    assert answer(outcomes(course(other)), "pain_two_points") == "no_score"


def test_what_is_missing_is_never_carried_forward() -> None:
    seen_once = course(visit(MONTH_6, "months_6", pain_average_week=1))
    found = outcomes(seen_once)
    assert answer(found, "pain_half", "months_6") == "responded"
    assert answer(found, "pain_half") == "missing"
    counted = found.response("pain_half")
    assert (counted.complete.share, counted.worst.share, counted.best.share) == (None, 0, 1)


def test_not_yet_due_is_not_missing_even_where_failure_is_known() -> None:
    early = course(**operated("2025-06-01"))
    for on, state in (
        (date(2025, 12, 1), "not_yet_due"),
        (date(2026, 3, 1), "open"),
        (date(2026, 6, 1), "not_responded"),
    ):
        found = outcomes(early, on=on)
        assert answer(found, STRICT) == state
        assert answer(found, "pain_half") == ("missing" if state == "not_responded" else state)


def test_a_death_is_no_response_in_every_count() -> None:
    died = course(last_contact={"date": "2025-08-01", "state": "died"})
    found = outcomes(died, course(visit(MONTH_12, pain_average_week=2), case="M-2")).response("pain_half")
    assert found.counts["died"] == 1
    assert (found.complete.share, found.worst.share, found.best.share) == (0.5, 0.5, 0.5)


def test_a_visit_outside_its_window_is_told_and_not_counted() -> None:
    late = course(visit("2026-08-01", pain_average_week=0, oswestry_disability_index=0))
    found = outcomes(late)
    assert answer(found, "pain_half") == "missing"
    assert [words for _, words in found.told if "outside its window" in words]


def test_of_two_visits_in_the_window_the_nearest_counts() -> None:
    twice = course(
        visit("2026-03-11", pain_average_week=1), visit("2026-04-20", oswestry_disability_index=20)
    )
    found = outcomes(twice)
    assert (answer(found, "pain_half"), answer(found, "disability_third")) == ("responded", "no_score")
    assert [words for _, words in found.told if "made again" in words]


def test_an_unplanned_visit_stands_for_no_planned_one() -> None:
    unplanned = {"date": MONTH_12, "kind": "unplanned", "answers": {"pain_average_week": 0}}
    assert answer(outcomes(course(unplanned)), "pain_half") == "missing"


def test_without_a_baseline_nothing_fell() -> None:
    none_before = course(visit(MONTH_12, pain_average_week=0))
    none_before["visits"] = none_before["visits"][1:]
    found = outcomes(none_before)
    assert answer(found, "recovered") == "no_score"
    assert (
        found.countable("pain_half")
        == "nobody has pain_average_week or pain_average_week_vas both before and at the visit"
    )


def test_the_disability_index_is_scored_from_its_sections() -> None:
    sections = {f"odi_section_{number}": 1 for number in range(1, 11)}
    found = outcomes(course(visit(MONTH_12, **sections)))
    assert answer(found, "disability_third") == "responded"


def test_answers_that_lie_on_one_side_are_told() -> None:
    """Where one part is missing, a settled answer can only be a failure: that is said beside the count."""
    half = course(visit(MONTH_12, pain_average_week=7))
    found = outcomes(
        half, course(visit(MONTH_12, pain_average_week=2, oswestry_disability_index=20), case="M-2")
    )
    assert answer(found, "pain_and_disability") == "not_responded"
    assert found.one_sided("pain_and_disability") == 1


def test_a_definition_or_visit_that_is_none_is_refused_with_those_there_are() -> None:
    for more in ({"declared": "nonsense"}, {"at": "months_7"}):
        with pytest.raises(RuleError) as refused:
            outcomes(course(), **more)
        problem = refused.value.problems[0]
        assert problem.code.value == "E208"
        assert "months_12" in problem.expected or "pain_half" in problem.expected
