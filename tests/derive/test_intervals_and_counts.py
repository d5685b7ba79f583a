"""Time since the latest event, counts of discs and of kinds of care."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta

from candidacy.derive import work_out
from candidacy.foundation.values import Why
from tests.views import AS_OF, case_of, fact_of, told, view_of


def operation(day: str) -> dict[str, str]:
    return {"surgery_kind": "discectomy", "surgery_date": day}


def epidural(day: str) -> dict[str, object]:
    return {"injection_kind": "epidural_steroid", "injection_date": day, "injection_contained_steroid": True}


@pytest.mark.parametrize("day", ["2026-05-25", "2026-05-26", "2025-11-24", "2024-02-29"])
def test_months_since_an_operation_are_those_of_dateutil(day: str) -> None:
    passed = relativedelta(AS_OF, date.fromisoformat(day))
    case = case_of(surgeries=[operation(day)])
    assert told(fact_of("months_since_lumbar_surgery", case)) == passed.years * 12 + passed.months


def test_the_latest_operation_counts() -> None:
    case = case_of(surgeries=[operation("2020-01-10"), operation("2026-01-10"), operation("2023-01-10")])
    assert told(fact_of("months_since_lumbar_surgery", case)) == 10


def test_a_list_that_may_go_on_leaves_a_later_operation_possible() -> None:
    fact = fact_of("months_since_lumbar_surgery", case_of(surgeries=([operation("2026-01-10")], False)))
    assert told(fact) == (0, 10)
    assert "not stated to be complete" in fact.note


def test_an_operation_without_a_date_may_be_the_latest() -> None:
    case = case_of(surgeries=[operation("2026-01-10"), {"surgery_kind": "fusion"}])
    assert told(fact_of("months_since_lumbar_surgery", case)) == (0, 10)


def test_only_undated_operations_have_no_interval() -> None:
    assert (
        fact_of("months_since_lumbar_surgery", case_of(surgeries=[{"surgery_kind": "fusion"}])).value is None
    )


def test_no_operation_at_all_does_not_apply() -> None:
    for case in (case_of(surgeries=[]), case_of({"prior_lumbar_surgery": False})):
        assert fact_of("months_since_lumbar_surgery", case).why is Why.DOES_NOT_APPLY


def test_an_empty_open_list_is_an_open_list() -> None:
    assert fact_of("months_since_lumbar_surgery", case_of(surgeries=([], False))).why is Why.LIST_INCOMPLETE


def test_an_operation_denied_and_listed_is_a_contradiction() -> None:
    case = case_of({"prior_lumbar_surgery": False}, surgeries=[operation("2020-01-10")])
    assert fact_of("months_since_lumbar_surgery", case).why is Why.CONFLICTING


def test_an_event_after_the_as_of_date_has_no_interval_yet() -> None:
    # two sources need not disagree for a date to lie ahead, so it bears a reason of its own
    case = case_of(surgeries=[operation("2026-12-24")])
    assert fact_of("months_since_lumbar_surgery", case).why is Why.AFTER_AS_OF


def test_an_operation_known_to_the_year_gives_a_range() -> None:
    assert told(fact_of("months_since_lumbar_surgery", case_of(surgeries=[operation("2026")]))) == (0, 10)


def test_days_since_a_steroid_reads_injections_and_discs() -> None:
    disc = {"intradiscal_procedure_kind": "steroid", "intradiscal_procedure_date": "2026-11-15"}
    lists = {"injections": [epidural("2026-11-05")], "intradiscal_procedures": [disc]}
    assert told(fact_of("days_since_last_steroid_injection", case_of(**lists))) == 10
    assert told(fact_of("days_since_last_epidural_steroid", case_of(**lists))) == 20
    assert told(fact_of("months_since_last_epidural_steroid", case_of(**lists))) == 0


def test_unknown_disc_injections_leave_a_later_steroid_possible() -> None:
    case = case_of(injections=[epidural("2026-11-05")])
    assert told(fact_of("days_since_last_steroid_injection", case)) == (0, 20)
    never = case_of({"prior_intradiscal_injection": False}, injections=[epidural("2026-11-05")])
    assert told(fact_of("days_since_last_steroid_injection", never)) == 20


def test_an_injection_that_may_have_held_a_steroid_widens_the_interval() -> None:
    facet = {"injection_kind": "facet", "injection_date": "2026-11-20"}
    never = {"prior_intradiscal_injection": False}
    case = case_of(never, injections=[epidural("2026-11-05"), facet])
    assert told(fact_of("days_since_last_steroid_injection", case)) == (5, 20)
    without = case_of(
        never, injections=[epidural("2026-11-05"), {**facet, "injection_contained_steroid": False}]
    )
    assert told(fact_of("days_since_last_steroid_injection", without)) == 20


def test_days_around_discography() -> None:
    case = case_of({"discography_date": "2026-11-15", "planned_procedure_date": "2026-11-29"})
    assert told(fact_of("days_since_discography", case)) == 10
    assert told(fact_of("days_from_discography_to_procedure", case)) == 14
    early = case_of({"discography_date": "2026-11-15", "planned_procedure_date": "2026-11-14"})
    assert told(fact_of("days_from_discography_to_procedure", early)) == -1
    ahead = view_of(case_of({"discography_date": "2026-11-26"}))
    assert work_out("days_since_discography", ahead, "patient").why is Why.AFTER_AS_OF


def test_a_month_of_discography_gives_a_range() -> None:
    assert told(fact_of("days_since_discography", case_of({"discography_date": "2026-10"}))) == (25, 55)


@pytest.mark.parametrize(
    ("levels", "count"),
    [(["L4-L5"], 1), ([], 0), (["L4-L5", "L5-S1"], 2), ({"includes": ["L4-L5"]}, (1, 10))],
)
def test_count_of_discs_considered(levels: object, count: object) -> None:
    case = case_of({"discs_under_consideration": levels})
    assert told(fact_of("discs_considered_count", case)) == count


def test_count_of_kinds_of_care_that_failed() -> None:
    case = case_of({"failed_care_kinds": ["oral_medicine", "injection"]})
    assert told(fact_of("failed_care_kinds_count", case)) == 2
    open_list = case_of({"failed_care_kinds": {"includes": ["oral_medicine", "injection"]}})
    assert told(fact_of("failed_care_kinds_count", open_list)) == (2, 9)


def test_a_birth_after_the_as_of_date_is_a_contradiction() -> None:
    view = view_of(case_of({"birth_date": "2027-01-01"}))
    assert work_out("age", view, "patient").why is Why.CONFLICTING


def test_inputs_that_give_an_impossible_result_give_none() -> None:
    facts = {"body_height": {"value": 250, "unit": "cm"}, "body_weight": {"value": 20, "unit": "kg"}}
    found = work_out("body_mass_index", view_of(case_of(facts)), "patient")
    assert (found.value, found.why) == (None, Why.CONFLICTING)
    assert "check" in found.note
