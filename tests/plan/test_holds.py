"""The overview of hold dates: what stands beside each medicine, and what is never left out."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from candidacy.plan.holds import GENERAL_CAUTIONS, HoldPlan, hold_plan
from candidacy.rules.library import load_rule_set
from candidacy.rules.resolved import RuleSet
from candidacy.truth import Truth
from tests.views import AS_OF, case_of

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
PLANNED = date(2026, 12, 10)
LIST = [
    {"medicine_name": "Blood thinner", "medicine_agent": "apixaban", "medicine_indication": "atrial_fibrillation",
     "medicine_last_dose_date": "2026-12-06", "medicine_held": True},
    {"medicine_agent": "clopidogrel", "medicine_indication": "coronary_disease",
     "medicine_last_dose_date": "2026-12-02", "medicine_held": True},
    {"medicine_agent": "fluoxetine", "medicine_indication": "depression_or_anxiety"},
    {"medicine_agent": "ibuprofen"},
    {"medicine_agent": "warfarin", "medicine_indication": "primary_prevention"},
    {"medicine_name": "Unreadable"},
]  # fmt: skip
PATIENT = {
    "age": {"value": 60, "unit": "year"},
    "high_thrombotic_risk": False,
    "creatinine_clearance": {"value": 80, "unit": "mL/min"},
    "severe_liver_disease": True,
}


@pytest.fixture(scope="module")
def rules() -> RuleSet:
    return load_rule_set("practice_baseline")


@pytest.fixture(scope="module")
def plan(rules: RuleSet) -> HoldPlan:
    return hold_plan(case_of(PATIENT, medicines=LIST), rules, AS_OF, PLANNED)


def test_one_line_for_each_medicine_in_the_order_of_the_record(plan: HoldPlan) -> None:
    assert [m.subject for m in plan.medicines] == [f"medicines[{n + 1}]" for n in range(len(LIST))]
    assert [m.agent for m in plan.medicines] == [
        "apixaban",
        "clopidogrel",
        "fluoxetine",
        "ibuprofen",
        "warfarin",
        "",
    ]
    assert plan.medicines[0].name == "Blood thinner"


def test_a_protected_medicine_has_its_interval_but_no_date_without_agreement(plan: HoldPlan) -> None:
    found = plan.medicines[0]
    assert found.actions == ("written_agreement",)
    assert (found.agreement_needed, found.agreement_given) == (M, U)
    assert found.hold_until is None
    assert "written agreement" in found.no_date_because
    assert found.ready is M  # the interval itself is over; the agreement stands apart


def test_an_unprotected_medicine_has_its_dates(plan: HoldPlan) -> None:
    found = plan.medicines[1]
    assert (found.actions, found.intervals) == (("interval",), ("7 days",))
    assert (found.agreement_needed, found.held, found.ready) == (N, M, M)
    assert found.hold_until is not None
    assert date.fromordinal(int(found.hold_until.low)) == PLANNED
    assert found.last_dose_by == found.last_dose
    assert found.restart == "12-24 h after the procedure"


def test_an_antidepressant_goes_on(plan: HoldPlan) -> None:
    found = plan.medicines[2]
    assert (found.actions, found.group, found.intervals, found.ready) == (
        ("continue",),
        "antidepressant",
        (),
        M,
    )
    assert any("never proposed" in caution for caution in found.cautions)


def test_warfarin_waits_for_a_last_dose_and_an_inr(plan: HoldPlan) -> None:
    found = plan.medicines[4]
    assert (found.inr_normal, found.ready, found.last_dose) == (U, U, None)
    assert found.last_dose_by is not None
    assert date.fromordinal(int(found.last_dose_by.low)) == date(2026, 12, 4)


def test_an_unreadable_medicine_is_shown_and_settles_nothing(plan: HoldPlan) -> None:
    found = plan.medicines[5]
    assert (found.actions, found.group, found.agreement_needed, found.ready) == ((), "", U, U)


def test_every_rule_is_cited_with_its_tag(plan: HoldPlan) -> None:
    for found in plan.medicines:
        assert bool(found.rows) is bool(found.cites)
    assert ("renal_holds", "apixaban_above_50") in plan.medicines[0].rows
    assert {cite.tag for cite in plan.medicines[1].cites} == {"memory"}


def test_cautions_name_the_class_and_what_may_raise_it(plan: HoldPlan) -> None:
    text = " ".join(plan.cautions)
    assert set(GENERAL_CAUTIONS) <= set(plan.cautions)
    assert "Risk class used: intermediate" in text
    assert "dose" in text
    assert "recalled" in text
    assert plan.raise_reasons == ("severe liver disease", "several antithrombotics together")


def test_an_open_list_is_said_to_be_open(rules: RuleSet) -> None:
    plan = hold_plan(case_of(medicines=([], False)), rules, AS_OF)
    assert (plan.list_complete, plan.medicines, plan.planned) == (False, (), None)
    assert any("not stated to be complete" in caution for caution in plan.cautions)


def test_the_planned_date_given_replaces_that_of_the_record_for_this_plan_only(rules: RuleSet) -> None:
    case = case_of({**PATIENT, "planned_procedure_date": "2026-12-01"}, medicines=LIST)
    early, late = hold_plan(case, rules, AS_OF), hold_plan(case, rules, AS_OF, PLANNED)
    assert early.medicines[1].ready is N
    assert late.medicines[1].ready is M
    assert hold_plan(case, rules, AS_OF) == early


def test_another_risk_class_changes_the_plan(rules: RuleSet) -> None:
    changed = replace(rules.settings["bleeding_risk_class"], value="low")
    low = replace(rules, settings={**rules.settings, "bleeding_risk_class": changed})
    plan = hold_plan(case_of(PATIENT, medicines=LIST), low, AS_OF, PLANNED)
    assert plan.risk_class == "low"
    assert plan.medicines[1].actions == ("no_stop",)


def test_the_same_case_gives_the_same_plan(rules: RuleSet, plan: HoldPlan) -> None:
    again: Any = hold_plan(case_of(PATIENT, medicines=LIST), rules, AS_OF, PLANNED)
    assert again == plan
