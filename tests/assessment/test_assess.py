"""The front door: from a case, a rule set and a day to standings, notices and missing facts."""

from dataclasses import FrozenInstanceError
from datetime import date
from pathlib import Path
from random import Random

import pytest

from candidacy.assessment.assess import Assessment, Assessor, assess, assessor_for, elements_used
from candidacy.assessment.view import View
from candidacy.case.load import case_from_record, parse_case
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.library import Library
from tests.reads import AS_OF, case_of, view_of
from tests.rules.builder import Builder, Edit
from tests.rules.test_library import put
from tests.strategies import elements_read, random_case

SMALL = Library(Path(__file__).parents[1] / "data" / "rulesets", base=shipped())

# A patient for whom every patient criterion of the small rule set passes, and two discs that pass.
SOUND = """documents:
  letter: {kind: referral_letter, date: 2026-11-20}
patient:
  sex: {value: male, source: letter}
  body_mass_index: {value: 25, unit: kg/m2}
  age: {value: 40, unit: year}
  pain_duration: {value: 12, unit: month}
  platelet_count: {value: 200, unit: 10*9/L, source: letter}
  odi_item1: 3
  odi_item10: 2
  cauda_equina_signs: false
  infection_signs: false
  cancer_signs: false
  pregnancy_status: not_pregnant
  active_infection: false
  local_anaesthetic_allergy: false
  smoking_status: never
  worse_sitting: true
  worse_flexion: true
  antibiotic_allergies: []
  product_residues: []
  antibiotic_course_end_date: 2026-01-01
  discography_date: 2026-10-01
  planned_procedure_date: 2026-11-30
  lumbar_radiograph_date: 2010-01-01
  back_pain_nrs_average: 6
  lumbar_mri_date: 2026-09-01
  discs_under_consideration: [L4-L5, L5-S1]
discs:
  L1-L2: {pfirrmann_grade: II, slip_percent: {value: 0, unit: "%"}, vacuum_sign: false}
  L2-L3: {pfirrmann_grade: II, slip_percent: {value: 0, unit: "%"}, vacuum_sign: false}
  L3-L4: {pfirrmann_grade: II, slip_percent: {value: 0, unit: "%"}, vacuum_sign: false}
  L4-L5: &disc
"""
DISC = '{pfirrmann_grade: IV, displacement: bulge, disc_height_loss: {value: 20, unit: "%"}, modic_type: "1", vacuum_sign: false, slip_percent: {value: 0, unit: "%"}}'
LISTS = """medicines: {complete: true}
treatments: {complete: true, entries: [{treatment_supervised: true}]}
injections: {complete: true}
"""


def sound(**changes: str) -> str:
    """The sound patient, with lines replaced or left out ("" leaves out)."""
    body = SOUND.replace("  L4-L5: &disc\n", f"  L4-L5: {DISC}\n  L5-S1: {DISC}\n") + LISTS
    for name, text in changes.items():
        lines = body.splitlines()
        place = next(
            n for n, line in enumerate(lines) if line.strip().startswith(f"{name.replace('__', '-')}:")
        )
        indent = lines[place][: len(lines[place]) - len(lines[place].lstrip())]
        lines[place : place + 1] = [f"{indent}{name.replace('__', '-')}: {text}"] if text else []
        body = "\n".join(lines) + "\n"
    return body


def assessed(body: str, name: str = "every_operator", as_of: date = AS_OF) -> Assessment:
    return assess(case_of(body), SMALL.rule_set(name), as_of)


def outcome(assessment: Assessment, criterion: str, subject: str = "patient") -> str:
    (found,) = [r.outcome for r in assessment.results if (r.id, r.subject) == (criterion, subject)]
    return found


def test_a_case_in_which_every_deciding_criterion_passes_is_a_candidate() -> None:
    found = assessed(sound())
    open_ = [
        (r.id, r.subject, r.outcome)
        for r in found.results
        if r.outcome != "pass" and r.subject in ("patient", "L4-L5", "L5-S1")
    ]
    assert [row for row in open_ if row[0] != "disc_with_its_neighbours"] == []
    assert found.standing == "candidate"
    assert found.decision.rule == "all_criteria_pass"
    assert [(d.level, d.decision.standing) for d in found.discs if d.considered is Truth.MET] == [
        ("L4-L5", "candidate"),
        ("L5-S1", "candidate"),
    ]


@pytest.mark.parametrize(
    ("changes", "standing"),
    [
        ({"cauda_equina_signs": "true"}, "urgent"),
        ({"cauda_equina_signs": "true", "active_infection": "true"}, "urgent"),
        ({"L5__S1": DISC.replace("vacuum_sign: false", "vacuum_sign: true")}, "urgent"),
        ({"active_infection": "true"}, "not_candidate"),
        ({"active_infection": "true", "cauda_equina_signs": ""}, "not_candidate"),
        ({"active_infection": ""}, "incomplete"),
        ({"cauda_equina_signs": "", "body_mass_index": "{value: 40, unit: kg/m2}"}, "incomplete"),
        ({"body_mass_index": "{value: 40, unit: kg/m2}"}, "borderline"),
        ({"body_mass_index": "{value: 40, unit: kg/m2}", "smoking_status": ""}, "borderline"),
        ({"smoking_status": ""}, "incomplete"),
        ({"odi_item1": "5"}, "candidate"),  # advisory
        ({"L4__L5": DISC.replace("bulge", "extrusion")}, "candidate"),  # the other disc is left
        ({"discs_under_consideration": "[]"}, "not_candidate"),  # nothing to treat
        ({"discs_under_consideration": ""}, "incomplete"),
    ],
)
def test_one_change_leads_to_the_standing_of_the_declared_order(
    changes: dict[str, str], standing: str
) -> None:
    assert assessed(sound(**changes)).standing == standing


def test_discs_are_decided_first_and_the_patient_counts_them() -> None:
    found = assessed(sound(L5__S1=DISC.replace("IV", "V")))
    assert {d.level: d.decision.standing for d in found.discs}["L5-S1"] == "not_candidate"
    trace = next(r for r in found.results if r.id == "count_of_suitable_discs").evaluation.trace
    assert trace.tally == Span(1, 1)


def test_while_a_disc_is_open_the_count_is_a_range() -> None:
    found = assessed(sound(L5__S1=DISC.replace("pfirrmann_grade: IV, ", ""), L4__L5=DISC.replace("IV", "V")))
    trace = next(r for r in found.results if r.id == "count_of_suitable_discs").evaluation.trace
    assert (trace.tally, trace.truth) == (Span(0, 1), Truth.UNKNOWN)
    assert found.standing == "incomplete"


def test_a_failing_disc_that_may_still_turn_out_urgent_is_not_settled() -> None:
    body = sound(L5__S1=DISC.replace("vacuum_sign: false, ", "").replace("IV", "V"))
    found = assessed(body)
    assert {d.level: d.decision.standing for d in found.discs}["L5-S1"] == "not_candidate"
    assert outcome(found, "count_of_urgent_discs") == "undetermined"
    assert outcome(assessed(sound()), "count_of_urgent_discs") == "pass"


def test_a_known_absolute_failure_is_told_at_once_and_missing_emergency_facts_are_still_asked_for() -> None:
    found = assessed(sound(active_infection="true", cauda_equina_signs=""))
    assert found.standing == "not_candidate"
    assert "deciding_fact_missing" in {fired.rule for fired in found.decision.fired}
    assert ("cauda_equina_signs", "stop") in {(m.element, m.force) for m in found.missing}


# --- missing facts


def test_a_missing_fact_names_why_and_who_waits_for_it() -> None:
    found = assessed(sound(smoking_status="{unknown: not_asked}"))
    (missing,) = [m for m in found.missing if m.element == "smoking_status"]
    assert (missing.why, missing.weight, missing.criteria, missing.burden) == (
        Why.NOT_ASKED,
        "alone",
        ("negated",),
        "question",
    )


def test_what_does_not_apply_is_named_itself_and_no_known_fact_behind_it_is_asked_for() -> None:
    text = (demo_cases_folder() / "no-control-disc.yaml").read_text(encoding="utf-8")
    text = text.replace(
        "discs_under_consideration: {value: [L4-L5]", "discs_under_consideration: {value: [L4-L5, L5-S1]"
    )
    found = assess(parse_case(text, "case.yaml"), load_rule_set("practice_baseline"), date(2026, 11, 25))
    unlike = {(m.element, m.subject): m.ask for m in found.missing if m.why is Why.DOES_NOT_APPLY}
    assert set(unlike) >= {("discography_class", "L5-S1")}
    assert ("discography_levels", "patient") not in {(m.element, m.subject) for m in found.missing}
    assert unlike["discography_class", "L5-S1"].endswith(": this disc was not injected at discography")


def test_a_missing_list_is_asked_for_as_a_list() -> None:
    found = assessed(sound(medicines="{complete: false}"))
    (missing,) = [m for m in found.missing if m.element == "medicines"]
    assert (missing.why, missing.ask) == (Why.LIST_INCOMPLETE, "Complete list of medicines")


def test_what_is_worked_out_is_asked_for_by_what_can_be_stated() -> None:
    found = assessed(sound(discs_under_consideration=""))
    assert "considered_for_treatment" not in {m.element for m in found.missing}
    assert "discs_under_consideration" in {m.element for m in found.missing}


def test_a_fact_that_cannot_change_the_standing_is_asked_for_last() -> None:
    found = assessed(sound(odi_item1="", smoking_status=""))
    weights = {m.element: m.weight for m in found.missing if m.element in ("odi_item1", "smoking_status")}
    assert weights == {"odi_item1": "no", "smoking_status": "alone"}
    assert found.missing[-1].weight == "no"


# --- notices


def test_dates_to_come_are_noticed() -> None:
    found = assessed(
        sound(
            platelet_count="{value: 200, unit: 10*9/L, date: 2027-01-01}",
        )
    )
    text = "\n".join(found.notices)
    assert "platelet count of patient is dated 2027-01-01, after the as-of date" in text
    assert "status draft" in text


def test_a_local_trial_is_noticed(tmp_path: Path) -> None:
    build = Builder(tmp_path)
    edit: Edit = put("parameters.limit.allowed", {"low": 25, "high": 60})
    build.criterion(edit=edit)
    build.rule_set()
    rule_set = build.library().rule_set("a_rule_set")
    case = case_of("patient: {body_mass_index: {value: 33, unit: kg/m2}}\n")
    assert assess(case, rule_set, AS_OF).standing == "candidate"
    trial = assess(case, rule_set.with_trial({("number_less_than", "limit"): 30}), AS_OF)
    assert trial.standing == "borderline"
    assert "Local trial, not the shipped rule set: number_less_than.limit = 30" in trial.notices[0]


# --- the day


def test_the_day_decides_what_is_out_of_date() -> None:
    body = sound()
    assert outcome(assessed(body), "disc_grade_between", "L4-L5") == "pass"
    later = assessed(body, as_of=date(2027, 9, 2))
    assert outcome(later, "disc_grade_between", "L4-L5") == "undetermined"
    last_day = assessed(body, as_of=date(2027, 9, 1))
    assert outcome(last_day, "disc_grade_between", "L4-L5") == "pass"


@pytest.mark.parametrize("as_of", [date.min, date(1900, 1, 1), date(2500, 1, 1), date.max])
def test_any_day_of_the_calendar_gives_an_answer(as_of: date) -> None:
    rule_set = shipped().rule_set("practice_baseline")
    elements = elements_read(rule_set)
    for seed in range(5):
        found = Assessor(rule_set, "direct").assess(
            case_from_record(random_case(Random(seed), elements)), as_of
        )
        assert found.as_of == as_of


# --- how it is made


def test_an_assessment_cannot_be_changed() -> None:
    found = assessed(sound())
    with pytest.raises(FrozenInstanceError):
        found.as_of = date(2020, 1, 1)  # type: ignore[misc]


def test_a_rule_set_is_made_ready_once(tmp_path: Path) -> None:
    rule_set = SMALL.rule_set("every_operator")
    assert assessor_for(rule_set) is assessor_for(SMALL.rule_set("every_operator"))
    assert assessor_for(rule_set) is not assessor_for(rule_set, "direct")


def test_a_rule_set_with_a_criterion_twice_is_refused() -> None:
    rule_set = SMALL.rule_set("every_operator")
    twice = replace(rule_set, criteria=(*rule_set.criteria, rule_set.criteria[0]))
    with pytest.raises(EngineError, match="twice"):
        Assessor(twice)


def test_a_discs_standing_cannot_be_asked_for_before_the_discs_are_assessed() -> None:
    view = view_of()
    fresh = View(view.facts, view.as_of, view.settings, view.tables)
    with pytest.raises(EngineError):
        fresh.fact("disc_standing", "L4-L5")


def test_the_direct_reading_alone_gives_the_same_readings() -> None:
    rule_set = SMALL.rule_set("every_operator")
    assessor, case = Assessor(rule_set), case_of(sound())
    whole = assessor.assess(case, AS_OF)
    alone = assessor.read(assessor.view(case, AS_OF))
    settled = [r for r in alone if not any("disc_standing" in str(p) for p in (r.trace,))]
    by_key = {(r.id, r.subject): r.evaluation for r in whole.results}
    assert len(alone) == len(whole.results)
    assert all(by_key[r.criterion, r.subject] == r for r in settled)


def test_elements_used_are_those_the_criteria_name() -> None:
    used = elements_used(SMALL.rule_set("every_operator"))
    assert {
        "body_mass_index",
        "discography_date",
        "planned_procedure_date",
        "sex",
        "medicine_class",
        "disc_standing",
    } <= set(used)
    assert "body_weight" not in used  # read only to work another out
