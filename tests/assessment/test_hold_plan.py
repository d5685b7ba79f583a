"""The overview of hold dates: what stands beside each medicine, and what is never left out."""

from datetime import date
from typing import Any

import pytest

from candidacy.assessment.assess import assess
from candidacy.assessment.hold_plan import GENERAL_CAUTIONS, HoldPlan, MedicineHold, hold_plan
from candidacy.derive import hold_rules
from candidacy.derive.base import Inputs
from candidacy.derive.hold_table import possible_agents
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Span
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet
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
    "creatinine_clearance": {"value": 80, "unit": "mL/min", "date": "2026-11-20"},
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


# --- refusals, hours, renal function and age


def one(rules: RuleSet, medicine: dict[str, Any], **patient: Any) -> MedicineHold:
    case = case_of({**PATIENT, **patient}, medicines=[medicine])
    return hold_plan(case, rules, AS_OF, PLANNED).medicines[0]


def day(span: Span | None) -> date | None:
    return None if span is None else date.fromordinal(int(span.low))


def clearance(value: float) -> dict[str, Any]:
    return {"creatinine_clearance": {"value": value, "unit": "mL/min", "date": "2026-11-20"}}


@pytest.mark.parametrize("plan_agreed", [True, False])
@pytest.mark.parametrize("reason", ["coronary_stent", "coronary_disease"])
def test_a_refused_medicine_has_no_date_whatever_else_is_recorded(
    rules: RuleSet, reason: str, plan_agreed: bool
) -> None:
    given = {**LIST[1], "medicine_indication": reason, "medicine_prescriber_agrees_to_hold": False}
    found = one(rules, given, antithrombotic_plan_agreed=plan_agreed)
    assert (found.last_dose_by, found.last_dose_by_hours, found.hold_until) == (None, (), None)
    assert (found.agreement_given, found.stopped, found.ready) == (N, M, U)


def test_dates_by_the_rows_of_the_sheet(rules: RuleSet) -> None:
    # Planned 2026-12-10. Dose-free days before it, by row, with tag: dabigatran 4 d, 5-6 d impaired [memory];
    # apixaban 3 d [memory], 4-5 d at 30-50 [seen]; warfarin 5 d [seen]; prasugrel 7-10 d [memory].
    for agent, at, last in (
        ("dabigatran", 50, date(2026, 12, 5)), ("dabigatran", 40, date(2026, 12, 3)),
        ("apixaban", 51, date(2026, 12, 6)), ("apixaban", 50, date(2026, 12, 4)),
        ("warfarin", 20, date(2026, 12, 4)), ("prasugrel", 20, date(2026, 11, 29)),
    ):  # fmt: skip
        given = {"medicine_agent": agent, "medicine_indication": "other"}
        found = one(rules, given, **clearance(at))
        assert day(found.last_dose_by) == last, agent
        assert found.last_dose_by_hours == ()
        taken = {**given, "medicine_held": True, "medicine_last_dose_date": last.isoformat()}
        assert day(one(rules, taken, **clearance(at)).hold_until) == PLANNED, agent


def test_edoxaban_with_impaired_kidneys_is_the_prescribers(rules: RuleSet) -> None:
    given = {"medicine_agent": "edoxaban", "medicine_indication": "other", "medicine_held": True,
             "medicine_last_dose_date": "2026-12-01"}  # fmt: skip
    found = one(rules, given, **clearance(20))
    assert (found.actions, found.last_dose_by, found.hold_until) == (("shared_decision",), None, None)
    assert "no interval was read for this renal function" in found.no_date_because


def test_hours_are_said_in_hours_and_more_than_96_has_a_day(rules: RuleSet) -> None:
    # Narouze 2018 [seen]: enoxaparin prophylactic 12 h, therapeutic 24 h
    for intensity, hours, last in (
        ("prophylactic", "12 hours", date(2026, 12, 8)),
        ("therapeutic", "24 hours", date(2026, 12, 8)),
    ):
        given = {
            "medicine_agent": "enoxaparin",
            "medicine_intensity": intensity,
            "medicine_indication": "other",
        }
        found = one(rules, given)
        assert (found.last_dose_by_hours, day(found.last_dose_by)) == ((hours,), last)
    # JABFM table 2A [seen]: dabigatran, 30-49 mL/min, more than 96 h, longer than the 2 d of 2024 [seen]
    guideline = replace(rules.settings["antithrombotic_guideline"], value="holds_pain_physicians_2024")
    risk = replace(rules.settings["bleeding_risk_class"], value="high")
    other = replace(
        rules,
        settings={**rules.settings, "antithrombotic_guideline": guideline, "bleeding_risk_class": risk},
    )
    found = one(other, {"medicine_agent": "dabigatran", "medicine_indication": "other"}, **clearance(40))
    assert (found.last_dose_by_hours, day(found.last_dose_by)) == (("more than 96 hours",), date(2026, 12, 5))
    # from 80 mL/min, 48 h [seen] and 2 dose-free days [seen] end alike: the day is said, as the table has days
    found = one(other, {"medicine_agent": "dabigatran", "medicine_indication": "other"}, **clearance(80))
    assert (found.last_dose_by_hours, day(found.last_dose_by)) == ((), date(2026, 12, 7))


def test_one_rule_in_days_and_one_left_to_the_prescriber_give_no_last_day(rules: RuleSet) -> None:
    either = {
        "medicine_agent": {"one_of": ["clopidogrel", "aspirin"]},
        "medicine_indication": "coronary_disease",
    }
    assert one(rules, either).last_dose_by is None
    both = {**either, "medicine_agent": {"one_of": ["clopidogrel", "ticagrelor"]}}
    assert day(one(rules, both).last_dose_by) == date(2026, 12, 2)  # 7 d and 5 d [memory]: the longer is kept


def test_an_agreement_is_asked_for_while_one_possible_agent_would_be_stopped(rules: RuleSet) -> None:
    either = {
        "medicine_agent": {"one_of": ["cilostazol", "clopidogrel"]},
        "medicine_indication": "coronary_stent",
    }
    assert one(rules, either).agreement_needed is M
    old = {"medicine_last_dose_date": "2026-11-01", "medicine_held": True}
    assert one(rules, {**either, **old}).ready is M
    assert one(rules, {**either, **old, "medicine_prescriber_agrees_to_hold": False}).ready is U


def test_old_age_raises_the_class_and_says_so(rules: RuleSet) -> None:
    for age, expected in ((74, N), (75, M)):
        case = case_of(
            {**PATIENT, "age": {"value": age, "unit": "year"}}, medicines=[{"medicine_agent": "naproxen"}]
        )
        plan = hold_plan(case, rules, AS_OF, PLANNED)
        assert (plan.risk_class, plan.raised_class, plan.raised) == ("intermediate", "high", expected)
        assert ("old age" in plan.raise_reasons) is (expected is M)
        assert plan.medicines[0].intervals == (
            ("4 days",) if expected is M else ()
        )  # naproxen at high [seen]


def test_the_plan_of_an_assessment_is_that_of_its_rule_set_and_there_only_where_a_date_is_planned(
    rules: RuleSet,
) -> None:
    planned = case_of({**PATIENT, "planned_procedure_date": PLANNED.isoformat()}, medicines=LIST)
    assert assess(planned, rules, AS_OF).holds == hold_plan(planned, rules, AS_OF)
    assert assess(case_of(PATIENT, medicines=LIST), rules, AS_OF).holds is None
    assert assess(planned, load_rule_set("report_completeness"), AS_OF).holds is None


def test_each_medicine_is_looked_up_once_for_criteria_and_plan(
    rules: RuleSet, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned = case_of({**PATIENT, "planned_procedure_date": PLANNED.isoformat()}, medicines=LIST)
    looked_up: list[str] = []

    def counted(entry: Inputs) -> tuple[str | None, ...]:
        looked_up.append(entry.subject)
        return possible_agents(entry)

    monkeypatch.setattr(hold_rules, "possible_agents", counted)
    found = assess(planned, rules, AS_OF)
    assert found.holds is not None
    known = [medicine for medicine in found.holds.medicines if medicine.group]
    assert sorted(looked_up) == [medicine.subject for medicine in known]
    # the criteria were read on the same look-up
    for medicine in known:
        action = found.view.fact("medicine_hold_action", medicine.subject).value
        assert isinstance(action, Options)
        assert sorted(action.codes) == list(medicine.actions)
    assert len(looked_up) == len(known)
