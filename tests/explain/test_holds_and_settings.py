"""Holds and settings in the document and its forms: what stands there, and what must never be said."""

import io
import re
from typing import Any

import pytest
from rich.console import Console

from candidacy.assessment.assess import assess
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.explain.holds_document import HoldInfo
from candidacy.explain.page import page
from candidacy.explain.text import print_document
from candidacy.rules.libraries import load_rule_set, shipped
from tests.views import AS_OF, case_of

PLANNED = "2026-12-10"
STENT = {"medicine_name": "Clopidogrel", "medicine_agent": "clopidogrel", "medicine_indication": "coronary_stent",
         "medicine_last_dose_date": "2026-11-25"}  # fmt: skip
LIST: list[dict[str, Any]] = [
    STENT,
    {"medicine_agent": "other_ssri_or_snri", "medicine_indication": "depression_or_anxiety"},
    {"medicine_agent": "clopidogrel", "medicine_indication": "primary_prevention", "medicine_held": True,
     "medicine_last_dose_date": "2026-12-02"},
    {"medicine_agent": "warfarin", "medicine_indication": "atrial_fibrillation", "medicine_held": True,
     "medicine_last_dose_date": "2026-11-20", "medicine_prescriber_agrees_to_hold": True},
    {"medicine_name": "Unreadable"},
]  # fmt: skip
PATIENT: dict[str, Any] = {"planned_procedure_date": PLANNED, "high_thrombotic_risk": False}


def document(
    medicines: list[dict[str, Any]], rules: str = "procedural_safety", **patient: Any
) -> AssessmentDocument:
    case = case_of({**PATIENT, **patient}, medicines=medicines)
    return build_document(assess(case, load_rule_set(rules), AS_OF))


@pytest.fixture(scope="module")
def whole() -> AssessmentDocument:
    return document(LIST)


def held(whole: AssessmentDocument) -> list[HoldInfo]:
    assert whole.holds is not None
    return whole.holds.medicines


def text_of(whole: AssessmentDocument) -> str:
    buffer = io.StringIO()
    print_document(Console(file=buffer, width=400, no_color=True), whole)
    return buffer.getvalue()


# --- holds


def test_every_medicine_has_a_line_with_guideline_and_class(whole: AssessmentDocument) -> None:
    assert whole.holds is not None
    assert [m.subject for m in whole.holds.medicines] == [f"medicines[{n}]" for n in range(1, len(LIST) + 1)]
    assert whole.holds.planned == PLANNED
    assert "2018" in whole.holds.guideline
    assert whole.holds.risk_class.startswith("Intermediate")


def test_a_date_stands_only_where_the_medicine_may_be_held(whole: AssessmentDocument) -> None:
    stent, antidepressant, aspirin_like, warfarin, unreadable = held(whole)
    assert (aspirin_like.hold_until, aspirin_like.agreement) == (PLANNED, "not_needed")
    assert (warfarin.hold_until, warfarin.agreement) == ("2026-11-26", "given")
    assert warfarin.inr_normal == "unknown"
    assert aspirin_like.restart
    for medicine in (stent, antidepressant, unreadable):
        assert (medicine.hold_until, medicine.last_dose_by) == ("", "")
        assert medicine.no_date_because


def test_a_stent_medicine_waits_for_the_prescriber(whole: AssessmentDocument) -> None:
    stent = held(whole)[0]
    assert (stent.agreement, stent.who_must_agree) == ("needed", "the prescriber, in writing")
    assert stent.says == ["Never stopped without the written agreement of the prescriber"]
    labels = dict(hold_lines(stent, PLANNED))
    assert "Interval, if the prescriber agrees" in labels
    assert "Interval" not in labels


ANTIDEPRESSANTS = [
    {"medicine_agent": "fluoxetine"},
    {"medicine_agent": "other_ssri_or_snri"},
    {"medicine_class": "ssri_or_snri"},
]
STENT_MEDICINES = ["clopidogrel", "prasugrel", "ticagrelor", "aspirin", "cilostazol", "warfarin", "apixaban"]


@pytest.mark.parametrize("given", ANTIDEPRESSANTS)
def test_nobody_is_told_to_stop_an_antidepressant(given: dict[str, Any]) -> None:
    medicine = held(document([{**given, "medicine_last_dose_date": "2026-11-25"}]))[0]
    assert medicine.says == ["Continued; never stopped for this procedure"]
    assert (medicine.intervals, medicine.hold_until, medicine.last_dose_by, medicine.restart) == (
        [],
        "",
        "",
        "",
    )
    assert medicine.ready == "met"


@pytest.mark.parametrize("agent", STENT_MEDICINES)
def test_nobody_is_told_to_stop_a_stent_medicine(agent: str) -> None:
    given = {**STENT, "medicine_name": agent, "medicine_agent": agent, "medicine_held": True}
    medicine = held(document([given]))[0]
    lines = dict(hold_lines(medicine, PLANNED))
    assert not {"Interval is over on", "Last dose no later than", "Interval"} & set(lines)
    for label, text in lines.items():
        for stop in re.finditer(r"\b(stop|stopped|hold|held|pause)\b", text):
            before = text[: stop.start()].lower()
            assert before.endswith(("never ", "no ")), (label, text)


def test_an_interval_that_is_over_does_not_stand_for_the_agreement() -> None:
    old = {**STENT, "medicine_last_dose_date": "2026-11-01", "medicine_held": True}
    medicine = held(document([old]))[0]
    assert medicine.ready == "met"
    assert dict(hold_lines(medicine, PLANNED))[f"Ready on {PLANNED}"].endswith("agreement is still open")


# No word of a stop, and no day, may stand beside a refused medicine or one without its agreement.
DATED = {"Interval is over on", "Last dose no later than", "Interval", "Restart, if it was stopped"}


@pytest.mark.parametrize("agent", ["clopidogrel", "apixaban", "aspirin", "garlic"])
@pytest.mark.parametrize("agreed", [True, None])
@pytest.mark.parametrize("rules", ["procedural_safety", "practice_baseline"])
def test_a_refused_medicine_goes_on_in_every_form(agent: str, agreed: bool | None, rules: str) -> None:
    given = {**STENT, "medicine_name": agent, "medicine_agent": agent, "medicine_held": True,
             "medicine_prescriber_agrees_to_hold": False}  # fmt: skip
    plan = {"antithrombotic_plan_agreed": agreed} if agreed is not None else {}
    found = document([given], rules, age={"value": 60, "unit": "year"}, **plan)
    medicine = held(found)[0]
    lines = dict(hold_lines(medicine, PLANNED))
    assert lines["Now"] == "continue; no stop date: its prescriber refused"
    assert lines["By the table"] == "Continued, as its prescriber decided"
    assert lines["Today"].startswith(
        "no longer taken, although its prescriber refused: contact the prescriber today"
    )
    assert lines["Who must agree"].startswith("the prescriber, in writing; refused")
    assert not (DATED | {"Interval, if the prescriber agrees"}) & set(lines)
    assert (medicine.hold_until, medicine.last_dose_by, medicine.restart, medicine.intervals) == (
        "",
        "",
        "",
        [],
    )
    for form in (text_of(found), page(found)):
        assert "continue; no stop date: its prescriber refused" in form
    fact = [f for f in found.facts if f.element == "medicine_hold_until"]
    assert not any(f.known and f.value == PLANNED for f in fact)


@pytest.mark.parametrize(
    ("changes", "patient", "why"),
    [
        ({}, {}, "its prescriber has not agreed in writing"),
        ({}, {"antithrombotic_plan_agreed": False}, "its prescriber has not agreed in writing"),
        ({"medicine_indication": None}, {}, "whether its prescriber must agree is not known yet"),
    ],
)
def test_without_the_agreement_it_goes_on(changes: dict[str, Any], patient: dict[str, Any], why: str) -> None:
    given = {k: v for k, v in {**STENT, **changes}.items() if v is not None}
    medicine = held(document([given], **patient))[0]
    lines = dict(hold_lines(medicine, PLANNED))
    assert lines["Now"] == f"continue; no stop date: {why}"
    assert lines["Who must agree"].startswith("the prescriber, in writing")
    assert "Today" not in lines
    assert not DATED & set(lines)


def test_stopped_without_the_agreement_calls_for_the_prescriber() -> None:
    lines = dict(hold_lines(held(document([{**STENT, "medicine_held": True}]))[0], PLANNED))
    assert lines["Today"].endswith("contact the prescriber today; the danger is a clot, not bleeding")


@pytest.mark.parametrize("rules", ["procedural_safety", "practice_baseline"])
@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"medicine_held": True}, "fail"),
        ({"medicine_last_dose_date": "2026-11-20"}, "fail"),
        ({"medicine_held": False, "medicine_doses_per_day": 1}, "pass"),
    ],
)
def test_stopped_against_a_refusal_fails_and_decides(
    rules: str, changes: dict[str, Any], expected: str
) -> None:
    given = {**STENT, "medicine_prescriber_agrees_to_hold": False, **changes}
    found = document([given], rules, antithrombotic_plan_agreed=True)
    criterion = next(c for c in found.criteria if c.id == "stopped_without_agreement")
    assert criterion.force == "absolute"
    assert criterion.outcome == expected


def test_hours_and_a_raised_class_are_said() -> None:
    given = {"medicine_agent": "enoxaparin", "medicine_intensity": "prophylactic", "medicine_indication": "other",
             "medicine_last_dose_hours_ago": {"value": 13, "unit": "hour", "date": "2026-11-25"}}  # fmt: skip
    found = document(
        [given],
        age={"value": 80, "unit": "year"},
        creatinine_clearance={"value": 90, "unit": "mL/min", "date": "2026-11-20"},
    )
    lines = dict(hold_lines(held(found)[0], PLANNED))
    assert lines["Last dose"].endswith("13 hours before the record")
    assert lines["Last dose no later than"] == (
        "12 hours before the procedure; at any hour of 2026-12-08, later by its hour"
    )
    assert found.holds is not None
    assert found.holds.risk_class.endswith("raised by one to high for this patient")
    assert any("Hours are counted from the last dose" in caution for caution in found.holds.cautions)


def test_there_is_no_plan_without_a_date_or_without_a_question_about_holds() -> None:
    assert document(LIST, planned_procedure_date={"unknown": "not_stated"}).holds is None
    assert document(LIST, rules="report_completeness").holds is None


def test_an_empty_and_an_open_list_say_so() -> None:
    case = case_of(PATIENT, medicines=([], False))
    found = build_document(assess(case, load_rule_set("procedural_safety"), AS_OF))
    assert found.holds is not None
    assert (found.holds.medicines, found.holds.list_complete) == ([], False)
    assert "No medicine is listed" in text_of(found)
    assert "No medicine is listed" in page(found)


def test_all_forms_say_the_same_about_every_medicine(whole: AssessmentDocument) -> None:
    assert whole.holds is not None
    text, html = text_of(whole), page(whole).replace("&#39;", "'")
    for medicine in whole.holds.medicines:
        for words in [hold_title(medicine), *(t for _, t in hold_lines(medicine, whole.holds.planned))]:
            assert words in text
            assert words in html
    for caution in whole.holds.cautions:
        assert caution in text
        assert caution in html


def test_every_source_of_a_hold_and_of_a_setting_is_listed(whole: AssessmentDocument) -> None:
    listed = {source.key for source in whole.sources}
    assert {c.source for m in held(whole) for c in m.cites} <= listed
    assert {c.source for s in whole.settings for c in s.cites} <= listed
    assert all(m.cites for m in held(whole)[:4])


# --- settings


def test_settings_are_those_that_were_read(whole: AssessmentDocument) -> None:
    names = [setting.name for setting in whole.settings]
    assert {"antithrombotic_guideline", "bleeding_risk_class", "hold_days_mean"} <= set(names)
    assert "discography_definition" not in names  # no disc of this case is asked about
    order = list(shipped().settings())
    assert names == sorted(names, key=order.index)
    assert "normal_inr_limit" not in names  # without an INR there is nothing to compare
    measured = document(LIST, inr={"value": 1.0, "date": PLANNED})
    assert "normal_inr_limit" in [setting.name for setting in measured.settings]


def test_no_setting_stands_where_nothing_was_worked_out() -> None:
    assert document([], rules="report_completeness").settings == []


def test_a_setting_changed_by_the_rule_set_shows_what_it_replaces() -> None:
    case = case_of({"discography_levels": ["L4-L5"]}, disc={"discography_concordance": "exact"})
    found = build_document(assess(case, load_rule_set("practice_baseline"), AS_OF))
    setting = next(s for s in found.settings if s.name == "discography_definition")
    assert setting.replaces
    assert setting.reason
    assert setting.value != "society later form"  # what it means, not its code
