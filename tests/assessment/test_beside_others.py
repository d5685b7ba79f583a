"""What cannot be beside other facts of a record holds the case back: order, totals and their parts, days, lists of discs.

The record is the demonstration candidate; each change is invented and could be a slip of any clinic.
"""

from copy import deepcopy
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.doubtful import CHECKED
from candidacy.case.load import case_from_mapping, load_case
from candidacy.foundation.dates import day
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from tests.rows import each_row

Record = dict[str, Any]


def assessed(change: dict[str, Any], rules: str = "practice_baseline") -> Assessment:
    """The demonstration candidate with a change."""
    record = changed(load_case(demo_cases_folder() / "one-disc-candidate.yaml").record.plain(), change)
    return assess(case_from_mapping(record), load_rule_set(rules), day(record["as_of"]))


def changed(record: Record, change: dict[str, Any]) -> Record:
    """A record with facts set at places such as ``patient.odi_item1``."""
    record = deepcopy(record)
    for place, value in change.items():
        *way, last = place.split(".")
        where: Any = record
        for step in way:
            where = where.setdefault(step, {}) if isinstance(where, dict) else where[int(step)]
        where[last] = value
    return record


BLOCK = {"injection_kind": {"value": "medial_branch_block"}, "injection_date": {"value": "2026-05-04"}}
LATER = {
    "intradiscal_procedure_kind": {"value": "discography"},
    "intradiscal_procedure_date": {"value": "2026-11-20"},
}
SAME_DAY = LATER | {"intradiscal_procedure_date": {"value": "2026-10-20"}}
BRACE = ["oral_medicine", "structured_exercise_or_therapy", "brace"]
HIP = {
    "injection_kind": {"value": "hip"},
    "injection_relief": {"value": 90, "unit": "%"},
    "injection_date": {"value": "2026-05-04"},
}


DISCECTOMY = {
    "surgery_kind": {"value": "discectomy"},
    "surgery_levels": {"value": ["L2-L3"]},
    "surgery_date": {"value": "2026-11-01"},
}


def form(value: Any, **more: Any) -> dict[str, Any]:
    return {"value": value, "source": "forms", **more}


def seen(value: Any, **more: Any) -> dict[str, Any]:
    return {"value": value, "source": "mri", **more}


def told(value: Any, **more: Any) -> dict[str, Any]:
    return {"value": value, "source": "letter", **more}


OLD = {"date": "2026-05-04"}
OXYCODONE = {
    "medicine_class": {"value": "opioid"}, "medicine_agent": {"value": "oxycodone"}, "medicine_route": {"value": "oral"},
    "medicine_dose": {"value": 40, "unit": "mg"}, "medicine_doses_per_day": {"value": 3},
}  # fmt: skip
ITEMS = {f"patient.phq9_item{number}": form(3) for number in (1, 2, 3)}
HELD = [
    ({"patient.product_received_date": {"value": "2026-11-20"}, "patient.product_expiry_date": {"value": "2026-11-01"}}, "product_expiry_date"),
    ({"patient.back_pain_nrs_worst": form(7), "patient.back_pain_nrs_current": form(10)}, "back_pain_nrs_worst"),
    ({"patient.leg_pain_nrs_worst": form(0)}, "leg_pain_nrs_worst"),
    ({"patient.conservative_care_duration": {"value": 30, "unit": "month", "source": "letter"}}, "pain_duration"),
    (ITEMS, "phq9_total"),
    ({"patient.phq9_total": form(0), "patient.phq9_item9": form(2)}, "phq9_total"),
    ({"patient.phq9_total": form(27), "patient.phq9_item1": form(0)}, "phq9_total"),
    ({"patient.phq2_total": form(6)}, "phq9_total"),
    ({"patient.phq9_items_total": form(20)}, "phq9_total"),
    ({"patient.odi_items_total": form(41)}, "odi_percent"),
    ({"patient.odi_items_total": form(6)}, "odi_percent"),
    ({"patient.phq9_items_total": form(0)}, "phq9_total"),
    ({"patient.eq5d_index": form(1)}, "odi_percent"),
    ({"patient.gad2_total": form(6)}, "gad7_total"),
    ({f"patient.odi_item{number}": form(5) for number in range(1, 7)}, "odi_percent"),
    ({"discs.L5-S1.discography_peak_pressure": {"value": 19, "unit": "psi"}}, "discography_peak_pressure"),
    ({"discs.L5-S1.discography_pain_pressure": {"value": 12, "unit": "psi"}}, "discography_pain_pressure"),
    ({"discs.L2-L3.discography_pain_nrs": {"value": 8}}, "discography_pain_nrs"),
    ({"documents.letter.date": "1970-10-05"}, "birth_date"),
    ({"documents.forms.date": "2027-01-05"}, "back_pain_nrs_average"),
    ({"patient.eq5d_index": {"value": 0.5, "date": "1975-01-01"}}, "eq5d_index"),
    ({"patient.red_flag_screen_date": {"value": "1970-01-01"}}, "red_flag_screen_date"),
    ({"patient.body_height": {"value": 185, "unit": "cm"}, "patient.body_weight": {"value": 45, "unit": "kg"}}, "body_mass_index"),
    ({"patient.planned_procedure_date": {"value": "2036-12-10"}}, "planned_procedure_date"),
    ({"patient.product_expiry_date": {"value": "2096-03-31"}}, "product_expiry_date"),
    ({"patient.leg_pain_vas": {"value": 85, "unit": "mm", "source": "forms"}}, "leg_pain_vas"),
    ({"patient.consent_date": {"value": "2016-12-08"}}, "consent_date"),
    ({"patient.antibiotic_course_end_date": {"value": "2026-11-25"}}, "recent_infection"),
    ({"patient.thoracic_pain": {"unknown": "conflicting"}}, "thoracic_pain"),
    # scales of one day that no one person can answer so
    ({"patient.rmdq_total": form(0)}, "odi_percent"),
    ({"patient.eq5d_profile": form("11111")}, "odi_percent"),
    ({"patient.eq5d_profile": form("21213")}, "back_pain_nrs_average"),
    ({"patient.promis_pain_interference": form(39)}, "back_pain_nrs_average"),
    # a letter of October that tells of November
    ({"patient.conservative_care_last_date": {"value": "2026-11-20", "source": "letter"}}, "conservative_care_last_date"),
    ({"injections.entries": [{"injection_kind": {"value": "facet"}, "injection_date": {"value": "2026-10-25", "source": "letter"}}]}, "injection_date"),
    # a steroid of which the day, or the month, is missing
    ({"injections.entries": [{"injection_kind": {"value": "epidural_steroid"}}]}, "injection_steroid_just_given"),
    ({"injections.entries": [{"injection_kind": {"value": "epidural_steroid"}, "injection_date": {"value": "2026"}}]}, "injection_steroid_just_given"),
    # at discs that nobody considers
    ({"discs.L3-L4.disc_desiccation": {"value": True}}, "disc_desiccation"),
    ({"discs.L3-L4.prior_surgery_at_level": {"value": True}}, "prior_surgery_at_level"),
    # a disc that is there only with a sixth lumbar vertebra
    ({"discs.L6-S1": {"modified_pfirrmann_grade": {"value": 2}}}, "modified_pfirrmann_grade"),
    # a medicine that a code names otherwise than its name, and blocks of which each took the pain away
    ({"medicines.entries": [{"medicine_name": {"value": "aspirin"}, "medicine_agent": {"value": "acetaminophen"}, "medicine_class": {"value": "acetaminophen"}}]}, "medicine_agent"),
    ({"injections.entries": [BLOCK | {"injection_relief": {"value": 95, "unit": "%"}}]}, "facet_source_suspected"),
    ({"injections.entries": [HIP]}, "hip_source_suspected"),
    ({"discs.L4-L5.dural_sac_area": {"value": 40, "unit": "mm2"}}, "dural_sac_area"),
    ({"discs.L3-L4.anaesthetic_pain_before": {"value": 8}, "discs.L3-L4.anaesthetic_pain_after": {"value": 0}}, "discography_role"),
    ({"patient.supervised_therapy_duration": {"value": 30, "unit": "month", "source": "letter"}}, "conservative_care_duration"),
    # kinds of care that failed, and complete lists that hold none of them
    ({"patient.failed_care_kinds": {"value": ["oral_medicine", "brace"], "source": "letter"}}, "failed_care_kinds"),
    ({"patient.failed_care_kinds": {"value": ["oral_medicine", "injection"], "source": "letter"}}, "failed_care_kinds"),
    ({"treatments.entries": [], "patient.failed_care_kinds": {"value": ["oral_medicine"], "source": "letter"}}, "failed_care_kinds"),
    # a discography of the list that is later than the one on record
    ({"intradiscal_procedures.entries": [LATER]}, "intradiscal_procedure_date"),
    ({"patient.odi_items_answered": form(3), "patient.odi_scoring_rule": form("all_items_required")}, "odi_scoring_rule"),
    # two scales of one image, and what a study of that day cannot show
    ({"patient.imaging_modality": seen("ct")}, "field_strength"),
    ({"patient.imaging_modality": seen("radiograph"), "patient.field_strength": {"unknown": "not_stated"}}, "modic_type"),
    ({"discs.L4-L5.schizas_grade": seen("B")}, "canal_stenosis"),
    ({"discs.L4-L5.canal_stenosis": seen("mild"), "discs.L4-L5.dural_sac_area": seen(35, unit="mm2")}, "canal_stenosis"),
    ({"discs.L4-L5.lee_foraminal_grade": seen(2)}, "foraminal_stenosis"),
    ({"discs.L4-L5.facet_arthropathy": seen("none"), "discs.L4-L5.pathria_grade": seen("moderate")}, "facet_arthropathy"),
    ({"discs.L4-L5.disc_height_middle": seen(2, unit="mm")}, "disc_height_loss"),
    ({"discs.L3-L4.vacuum_sign": seen(True)}, "vacuum_sign"),
    ({"patient.scoliosis": seen(True), "patient.scoliosis_angle": seen(3, unit="deg")}, "scoliosis"),
    ({"discs.L4-L5.anaesthetic_agent": {"value": "bupivacaine", "source": "disco"}}, "anaesthetic_agent"),
    ({"patient.eq5d_version": form("three_level"), "patient.eq5d_profile": form("34543")}, "eq5d_version"),
    ({"patient.promis_pain_interference": form(70), "patient.promis_pain_interference_raw": form(4)}, "promis_pain_interference"),
    ({"patient.sitting_tolerance": form(300, unit="min"), "patient.odi_item5": form(5)}, "sitting_tolerance"),
    ({"patient.dram_class": form("normal"), "patient.modified_zung_total": form(28)}, "dram_class"),
    # what ended, or was done, before the pain began, and a discography before or after it
    ({"patient.pain_onset_date": told("2024-09-01"), "patient.conservative_care_last_date": told("2024-08-01")}, "failed_conservative_care"),
    ({"patient.conservative_care_last_date": told("2024-05-20")}, "failed_conservative_care"),
    ({"patient.pain_duration": told(10, unit="month"), "patient.conservative_care_duration": told(9, unit="month"),
      "patient.conservative_care_last_date": told("2025-09-01")}, "failed_conservative_care"),
    ({"patient.pain_onset_date": told("2024-08-20"), "patient.discography_date": {"value": "2024-07-20"}}, "discography_date"),
    ({"discs.L4-L5.anaesthetic_test_date": {"value": "2026-06-15", "source": "disco"}}, "anaesthetic_test_date"),
    ({"treatments.entries.0.treatment_start_date": told("2026-11-01")}, "treatment_duration"),
    ({"treatments.entries.0.treatment_result": told("ongoing")}, "supervised_therapy_completed"),
    ({"surgeries.entries": [DISCECTOMY], "patient.prior_lumbar_surgery": told(True)}, "surgery_date"),
    ({"patient.antithrombotic_plan_agreed": {"value": True}, "patient.antithrombotic_plan_date": {"value": "2024-01-10"}}, "antithrombotic_plan_date"),
    # medicines that suppress immunity by their name alone, and what is still to be taken
    ({"medicines.entries": [{"medicine_name": {"value": "imatinib"}}]}, "immunosuppressant_use"),
    ({"medicines.entries": [{"medicine_name": {"value": "methotrexate"}}]}, "immunosuppressant_use"),
    ({"medicines.entries": [{"medicine_class": {"value": "biologic"}, "medicine_last_dose_date": {"value": "2026-12-20"}}]}, "immunosuppressant_use"),
    ({"medicines.entries": [{"medicine_class": {"value": "systemic_steroid"}, "medicine_last_dose_date": {"value": "2026-12-20"}}]}, "systemic_steroid_use"),
    ({"medicines.entries": [{"medicine_name": {"value": "amlodipine"}, "medicine_class": {"value": "opioid"}}], "patient.opioid_use": {"value": True}}, "medicine_class"),
    ({"medicines.entries": [{"medicine_name": {"value": "zorbelin"}}]}, "medicine_not_recognised"),
    ({"medicines.entries": [{"medicine_class": {"value": "conventional_dmard"}, "medicine_agent": {"value": "hydroxychloroquine"}}]}, "inflammatory_arthritis"),
    ({"medicines.entries": [{"medicine_class": {"value": "other"}, "medicine_indication": {"value": "infection"}}]}, "active_infection"),
    ({"medicines.entries": [{"medicine_class": {"value": "antibiotic"}, "medicine_last_dose_date": {"value": "2026-11-12"}}]}, "recent_infection"),
    ({"patient.systemic_steroid_last_date": {"value": "2026-12-15"}}, "systemic_steroid_use"),
    ({"patient.nsaid_last_dose_date": {"value": "2026-12-15"}}, "nsaid_use"),
    # blocks that took the pain away
    ({"injections.entries": [HIP | {"injection_kind": {"value": "selective_nerve_root"}}]}, "radicular_source_suspected"),
    ({"injections.entries": [HIP | {"injection_kind": {"value": "basivertebral"}}]}, "vertebrogenic_source_suspected"),
    # one of before the pain that failed hides none of now, and one of a year in which the pain began may be of it
    ({"injections.entries": [BLOCK | {"injection_relief": {"value": 95, "unit": "%"}}, BLOCK | {"injection_relief": {"value": 0, "unit": "%"}, "injection_date": {"value": "2019-05-04"}}]}, "facet_source_suspected"),
    ({"injections.entries": [HIP | {"injection_date": {"value": "2024"}}]}, "hip_source_suspected"),
    # a discography of the list, of the day of the one on record, at a disc that this one does not name
    ({"intradiscal_procedures.entries": [SAME_DAY | {"intradiscal_procedure_levels": {"value": ["L2-L3", "L4-L5"]}}]}, "intradiscal_procedure_levels"),
    # no class, and a name that ends as that of a harmless one does
    ({"medicines.entries": [{"medicine_name": {"value": "azacitidine"}}]}, "immunosuppressant_use"),
    # a share told beside ratings of another scale
    ({"patient.leg_to_back_pain_ratio": form(120, unit="%")}, "leg_to_back_pain_ratio"),
    # nearly as long as she has lived
    ({"patient.pain_duration": told(500, unit="month")}, "pain_duration"),
    # dates and times too rough to tell on which side of a limit they lie
    ({"patient.antibiotic_course_end_date": {"value": "2026-11"}}, "recent_infection"),
    ({"patient.antibiotic_course_end_date": {"between": ["2026-11-24", "2026-11-28"]}}, "active_infection"),
    ({"patient.infection_resolved_date": {"value": "2026-10"}}, "recent_infection"),
    ({"patient.recent_systemic_steroid": {"value": False}, "patient.systemic_steroid_last_date": {"value": "2026"}}, "recent_systemic_steroid"),
    ({"medicines.entries": [{"medicine_class": {"value": "antibiotic"}, "medicine_last_dose_date": {"value": "2026-11"}}]}, "antibiotic_treatment"),
    ({"medicines.entries": [{"medicine_class": {"value": "antibiotic"}, "medicine_last_dose_hours_ago": {"less_than": 900, "unit": "hour"}}]}, "antibiotic_treatment"),
    ({"medicines.entries": [{"medicine_agent": {"value": "methotrexate"}, "medicine_last_dose_date": {"value": "2025"}}]}, "immune_suppression"),
    ({"patient.herbal_antithrombotic_use": {"value": False}, "medicines.entries": [{"medicine_name": {"value": "ginkgo"}}]}, "herbal_antithrombotic_use"),
    ({"medicines.entries": [{"medicine_agent": {"value": "clopidogrel"}, "medicine_last_dose_date": {"not_before": "2026-09-20"}}]}, "antithrombotic_use"),
    # of one day, however long ago: the answer speaks of the time of what contradicts it
    ({"patient.ssri_or_snri_use": OLD | {"value": False}, "medicines.entries": [{"medicine_class": OLD | {"value": "ssri_or_snri"}}]}, "ssri_or_snri_use"),
    ({"patient.bleeding_disorder": OLD | {"value": False}, "patient.platelet_count": OLD | {"value": 20, "unit": "10*9/L"}}, "bleeding_disorder"),
    ({"patient.diabetes": {"value": "type_2"}, "patient.diabetes_uncontrolled": OLD | {"value": False}, "patient.hba1c": OLD | {"value": 11, "unit": "%"}}, "diabetes_uncontrolled"),
    # a dose that is not that of its list: 120 mg of oxycodone are 180 mg of morphine
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d"}, "medicines.entries": [OXYCODONE]}, "opioid_mme_per_day"),
    # beside another medicine that was stopped, and taken since the dose was told
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d"},
      "medicines.entries": [OXYCODONE, {"medicine_class": {"value": "nsaid"}, "medicine_last_dose_date": {"value": "2026-10-01"}}]}, "opioid_mme_per_day"),
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d", "source": "meds"},
      "medicines.entries": [OXYCODONE | {"medicine_last_dose_date": {"value": "2026-11-24"}}]}, "opioid_mme_per_day"),
    # beside one that ended long ago, and undated beside a list of which the last dose was that of its eve
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d", "source": "meds"},
      "medicines.entries": [OXYCODONE, OXYCODONE | {"medicine_last_dose_date": {"value": "2019-05-01"}}]}, "opioid_mme_per_day"),
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d"},
      "medicines.entries": [OXYCODONE | {"medicine_last_dose_date": {"value": "2026-11-11", "source": "meds"}}]}, "opioid_mme_per_day"),
    # raised after its last dose
    ({"medicines.entries": [{"medicine_name": {"value": "methotrexate"}, "medicine_last_dose_date": {"value": "2023-01-01"},
      "medicine_dose_increase_date": {"value": "2026-09-01"}}]}, "medicine_last_dose_date"),
    # an antirheumatic by its name alone tells of the disease
    *(({"medicines.entries": [{"medicine_name": {"value": name}}]}, "inflammatory_arthritis") for name in ("sulfasalazine", "hydroxychloroquine 200 mg")),
    # of which the effect on immunity outlasts a year
    *(({"medicines.entries": [{"medicine_name": {"value": name}, "medicine_last_dose_date": {"value": last}}]}, "immune_suppression")
      for name, last in [("rituximab", "2025-08-20"), ("ocrelizumab", "2025-02"), ("cladribine", "2025"), ("leflunomide 20 mg", "2025-03-01")]),
    ({"medicines.entries": [{"medicine_agent": {"value": "leflunomide"}, "medicine_class": {"value": "conventional_dmard"},
      "medicine_indication": {"value": "pain"}, "medicine_last_dose_date": {"value": "2025-03-01"}}]}, "immune_suppression"),
    # and taken the day before it was told
    ({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d"},
      "medicines.entries": [OXYCODONE | {"medicine_last_dose_date": {"value": "2026-11-24"}}]}, "opioid_mme_per_day"),
    # about the day the pain began, which its 26 months tell roughly: August 2024
    *(({"injections.entries": [HIP | {"injection_kind": {"value": kind}, "injection_date": {"value": "2024-08-01"}}]}, element)
      for kind, element in (("hip", "hip_source_suspected"), ("sacroiliac", "sacroiliac_source_suspected"),
                            ("medial_branch_block", "facet_source_suspected"), ("basivertebral", "vertebrogenic_source_suspected"))),
    ({"patient.pain_onset_date": {"value": "2024-07"}, "injections.entries": [HIP | {"injection_date": {"value": "2024-06-10"}}]}, "hip_source_suspected"),
    # lists that name a disc of a sixth lumbar vertebra
    ({"injections.entries": [BLOCK | {"injection_levels": {"value": ["L6-S1"]}}]}, "injection_levels"),
    ({"patient.discography_levels": {"value": ["L3-L4", "L4-L5", "L5-S1", "L6-S1"], "source": "disco"}}, "discography_levels"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "element"), HELD, ids=[f"{n}-{e}" for n, (_, e) in enumerate(HELD)])
@each_row("rules", ["practice_baseline", "wide_screen"])
def test_what_cannot_be_beside_other_facts_is_settled_first(
    change: dict[str, Any], element: str, rules: str
) -> None:
    found = assessed(change, rules)
    if rules == "wide_screen" and element == "body_mass_index":
        assert found.decision.standing != "candidate"
        return
    # an emergency in the same answer outranks it
    assert found.decision.standing == ("urgent" if "patient.phq9_item9" in change else "incomplete")
    assert element in [fact.element for fact in found.conflicts]


SMALL = OXYCODONE | {"medicine_dose": {"value": 5, "unit": "mg"}}


@pytest.mark.parametrize(
    "element",
    [
        "pregnancy_status",
        "serum_hcg",
        "body_temperature",
        "c_reactive_protein",
        "cancer_kind",
        "life_expectancy",
    ],
)
@pytest.mark.parametrize("why", ["conflicting", "not_readable", "uncertain_in_source"])
@each_row("rules", ["practice_baseline", "wide_screen", "disc_source"])
def test_a_sign_of_danger_that_a_source_tells_and_leaves_unknown_is_asked_about(
    element: str, why: str, rules: str
) -> None:
    """Whether a criterion reads it or not: one of an optional measurement does not wait for it."""
    found = assessed({f"patient.{element}": {"unknown": why, "source": "labs"}}, rules)
    assert found.standing == "incomplete"
    assert element in [fact.element for fact in found.conflicts]


@pytest.mark.parametrize("why", ["not_asked", "not_stated", "not_applicable"])
def test_a_sign_of_danger_that_no_source_tells_holds_nothing_back(why: str) -> None:
    for element in ("serum_hcg", "body_temperature", "cancer_kind", "life_expectancy"):
        assert assessed({f"patient.{element}": {"unknown": why}}).standing == "candidate"


# A list that is complete and empty tells of the day that it bears; answers on antithrombotics speak for 90 days [common practice].
EMPTY_LIST: Record = {
    "patient.antithrombotic_use": {"unknown": "not_stated"}, "patient.antithrombotic_list_complete": {"unknown": "not_stated"},
    "medicines.entries": [],
}  # fmt: skip
DAYS_OF_LISTS: list[tuple[Record, bool]] = [
    ({}, False),
    ({"medicines.source": "meds"}, True),
    ({"medicines.source": "letter"}, True),
    ({"medicines.date": "2026-11"}, True),
    ({"medicines.date": "2026-08-27"}, True),
    ({"medicines.date": "2026-08-26"}, False),
    ({"medicines.source": "meds", "medicines.date": "2026-06-01"}, False),
    ({"medicines.date": "2026"}, False),
    ({"medicines.date": "2026-12-20"}, False),
    ({"medicines.source": "meds", "medicines.complete": False}, False),
]


@pytest.mark.parametrize(("change", "answers"), DAYS_OF_LISTS)
def test_an_empty_complete_list_answers_on_the_day_that_it_bears(change: Record, answers: bool) -> None:
    found = assessed(EMPTY_LIST | change)
    (known,) = [each for each in found.results if each.id == "antithrombotics_known"]
    assert known.outcome == ("pass" if answers else "undetermined")
    assert found.standing == ("candidate" if answers else "incomplete")


PASS = [
    # what ended need not be in the dose of today
    *({"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": dose, "unit": "mg/d", "source": "meds"},
      "medicines.entries": [SMALL, OXYCODONE | {"medicine_last_dose_date": {"value": ended, "source": "meds"}}]}
      for dose, ended in ((22, "2019-05-01"), (30, "2026-11-01"))),
    {"patient.odi_items_total": form(23), "patient.phq9_items_total": form(4)},
    {"patient.odi_items_total": form(19), "patient.odi_items_answered": form(8)},
    {"patient.back_pain_nrs_worst": form(6)},  # one step is how people answer
    {"patient.back_pain_nrs_worst": form(7), "patient.back_pain_nrs_current": form(10, date="2026-11-20")},
    {"patient.phq9_item1": form(1), "patient.phq9_item2": form(1), "patient.phq9_item3": form(3)},
    {"patient.phq2_total": form(6, date="2026-03-01")},  # another day, another answer
    {f"patient.odi_item{n}": form(v) for n, v in zip(range(1, 11), (3, 2, 2, 3, 2, 2, 3, 2, 2, 2), strict=True)},
    {"patient.product_expiry_date": {"value": "2026-12-10"}},
    {"patient.planned_procedure_date": {"value": "2029-01-10", "note": f"{CHECKED}: waits for a trial"}},
    {"patient.product_expiry_date": {"value": "2031-12-10"}},
    {"patient.consent_date": {"value": "2026-12-14"}},
    {"patient.rmdq_total": form(0, date="2026-03-01")},
    {"patient.rmdq_total": form(9), "patient.eq5d_profile": form("21342"), "patient.promis_pain_interference": form(61)},
    {"documents.letter.date": "2026-10", "patient.conservative_care_last_date": {"value": "2026-10-20", "source": "letter"}},
    {"injections.entries": [{"injection_kind": {"value": "epidural_steroid"}, "injection_date": {"value": "2025"}}]},
    {"patient.antibiotic_course_end_date": {"value": "2026-06-01"}},
    {"discs.L2-L3.modified_pfirrmann_grade": {"value": 2}},
    {"patient.thoracic_pain": {"unknown": "not_asked"}},
    {"medicines.entries": [{"medicine_name": {"value": "paracetamol"}, "medicine_agent": {"value": "acetaminophen"}, "medicine_class": {"value": "acetaminophen"}}]},
    {"injections.entries": [BLOCK | {"injection_relief": {"value": 60, "unit": "%"}}]},
    # the second of two did not confirm the first
    {"injections.entries": [BLOCK | {"injection_relief": {"value": 95, "unit": "%"}}, BLOCK | {"injection_relief": {"value": 10, "unit": "%"}}]},
    {"injections.entries": [BLOCK | {"injection_relief": {"value": 95, "unit": "%"}}], "patient.facet_block_result": {"value": "negative"}},
    {"discs.L4-L5.dural_sac_area": {"value": 140, "unit": "mm2"}},
    {"patient.odi_items_answered": form(9), "patient.odi_scoring_rule": form("answered_items")},
    {"patient.supervised_therapy_duration": {"value": 9, "unit": "month", "source": "letter"}},
    {"intradiscal_procedures.entries": [SAME_DAY | {"intradiscal_procedure_levels": {"value": ["L4-L5", "L5-S1"]}}]},
    {"intradiscal_procedures.entries": [LATER | {"intradiscal_procedure_date": {"value": "2024-10-20"}, "intradiscal_procedure_levels": {"value": ["L2-L3"]}}]},
    {"intradiscal_procedures.entries": [LATER | {"intradiscal_procedure_kind": {"value": "anaesthetic_test"}}]},
    # an open list of treatments; another kind, which may have been a brace
    {"patient.failed_care_kinds": {"value": BRACE, "source": "letter"}, "treatments.complete": False},
    {"patient.failed_care_kinds": {"value": BRACE, "source": "letter"}, "treatments.entries": [{"treatment_kind": {"value": "other"}}]},
    # a device may have come after the scan; medicine before contrast is given for asthma too
    {"patient.mri_contraindication": {"value": True}},
    {"patient.contrast_premedication_done": {"value": True}},
    # a CT of another day; neighbouring grades; two readers of different days
    {"patient.lumbar_ct_date": told("2026-08-10")},
    {"discs.L4-L5.schizas_grade": seen("A4"), "discs.L4-L5.weishaupt_grade": seen(1)},
    {"discs.L4-L5.schizas_grade": {"value": "B", "date": "2026-03-02"}},
    {"patient.pain_onset_date": told("2024"), "patient.conservative_care_last_date": told("2026-08-20")},
    {"patient.pain_duration": told(24, unit="month"), "patient.conservative_care_last_date": told("2024-07-01")},
    {"discs.L4-L5.anaesthetic_test_date": {"value": "2026-10-27"}},
    {"treatments.entries.0.treatment_start_date": told("2026-01-10"), "treatments.entries.0.treatment_end_date": told("2026-06-12")},
    {"patient.antibiotic_allergy": {"value": True}, "patient.antibiotic_allergies": {"value": ["clindamycin"]},
     "patient.planned_antibiotic": {"value": "cefazolin"}},
    {"patient.diagnosis_code": {"value": "M51.360; M54.50"}},
    # names without bearing need no class, and may bear one that lists count them in
    {"medicines.entries": [{"medicine_name": {"value": name}} for name in ("amlodipine", "omeprazole", "cholecalciferol", "levothyroxine")]},
    {"medicines.entries": [{"medicine_class": {"value": "antibiotic"}, "medicine_last_dose_date": {"value": "2026-10-12"}}]},
    {"injections.entries": [HIP | {"injection_kind": {"value": "selective_nerve_root"}, "injection_relief": {"value": 30, "unit": "%"}}]},
    {"injections.entries": [HIP | {"injection_kind": {"value": "selective_nerve_root"}, "injection_date": {"value": "2020-05-04"}}]},
    {"medicines.entries": [{"medicine_name": {"value": "evolocumab"}, "medicine_class": {"value": "other"}}]},
    {"medicines.entries": [{"medicine_name": {"value": name}} for name in ("mirtazapine", "bupropion", "clotrimazole", "hydrocortisone cream", "diclofenac gel")]},
    {"medicines.entries": [{"medicine_name": {"value": "diclofenac gel"}, "medicine_class": {"value": "nsaid"}, "medicine_route": {"value": "topical"}}]},
    {"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 40, "unit": "mg/d"},
     "medicines.entries": [OXYCODONE | {"medicine_dose": {"value": 10, "unit": "mg"}}]},
    # what acts for long, and ended longer ago; and what acts for weeks
    *({"medicines.entries": [{"medicine_name": {"value": name}, "medicine_last_dose_date": {"value": last}}]}
      for name, last in [("rituximab", "2024-09-01"), ("cladribine", "2023"), ("adalimumab", "2025-08-20"), ("methotrexate", "2025-08-20")]),
    # one that may have ended since the dose was told
    {"patient.opioid_use": {"value": True}, "patient.opioid_mme_per_day": {"value": 10, "unit": "mg/d", "source": "meds"},
     "medicines.entries": [OXYCODONE | {"medicine_last_dose_date": {"value": "2026-11-01"}}]},
    # blocks of before the pain began, whatever they gave then
    {"injections.entries": [BLOCK | {"injection_relief": {"value": 95, "unit": "%"}, "injection_date": {"value": "2019-05-04"}}]},
    {"injections.entries": [HIP | {"injection_kind": {"value": "basivertebral"}, "injection_date": {"value": "2021"}}]},
    # of two days, the detail of long ago
    {"patient.ssri_or_snri_use": {"value": False, "date": "2026-11-12"}, "medicines.entries": [{"medicine_class": OLD | {"value": "ssri_or_snri"}, "medicine_name": OLD | {"value": "sertraline"}}]},
    # rough, and yet long enough ago
    {"patient.antibiotic_course_end_date": {"value": "2026-10"}, "patient.infection_resolved_date": {"value": "2026-09"}},
    {"patient.recent_systemic_steroid": {"value": False}, "patient.systemic_steroid_last_date": {"value": "2025"}},
    {"medicines.entries": [{"medicine_class": {"value": "antibiotic"}, "medicine_last_dose_date": {"value": "2026-10"}}]},
]  # fmt: skip


@pytest.mark.parametrize("change", PASS)
def test_what_two_honest_entries_may_say_holds_nothing_back(change: dict[str, Any]) -> None:
    assert assessed(change).decision.standing == "candidate"


# as of 2026-11-25: the class, when last taken, and whether it is still to be talked about
ENDED = [
    ({"medicine_class": "antibiotic"}, "2025-11", False),
    ({"medicine_class": "antibiotic"}, "2025-11-24", True),
    ({"medicine_agent": "clopidogrel"}, "2018", True),
    ({"medicine_agent": "clopidogrel"}, None, False),
    ({"medicine_class": "biologic"}, "2025-10", True),
    ({"medicine_class": "biologic"}, {"not_after": "2025-01-01"}, True),
    ({"medicine_class": "biologic"}, {"not_before": "2018-01-01"}, False),
    ({"medicine_class": "conventional_dmard"}, "2018", False),  # the disease stays
    ({"medicine_agent": "clopidogrel", "medicine_indication": "coronary_stent"}, "2018", False),  # and the stent
]  # fmt: skip


@each_row(("medicine", "last", "past"), ENDED)
def test_a_medicine_that_ended_over_a_year_ago_is_history(
    medicine: dict[str, str], last: str | dict[str, str] | None, past: bool
) -> None:
    entry = {name: {"value": value} for name, value in medicine.items()}
    if last is not None:
        entry["medicine_last_dose_date"] = last if isinstance(last, dict) else {"value": last}
    unsaid = {
        f"patient.{name}": {"unknown": "not_asked"}
        for name in ("immune_suppression", "immunosuppressant_use", "inflammatory_arthritis")
    }
    found = assessed({"medicines.entries": [entry], **unsaid}, "wide_screen")
    dangers = {u.fact.element for u in found.unread if u.dangers} & {
        "medicine_class",
        "medicine_agent",
        "medicine_indication",
    }
    assert (not dangers) is past


def test_an_unusual_index_passes_once_somebody_checked_what_it_is_worked_out_from() -> None:
    note = {"note": f"{CHECKED}: measured twice"}
    tall = {"patient.body_height": {"value": 185, "unit": "cm"}}
    light = {"value": 45, "unit": "kg"}
    assert assessed(tall | {"patient.body_weight": light}).conflicts
    assert not assessed(tall | {"patient.body_weight": light | note}).conflicts


def test_a_product_that_expires_before_the_planned_day_is_a_danger_that_is_not_passed_over() -> None:
    found = assessed({"patient.product_expiry_date": {"value": "2026-12-09"}})
    assert found.decision.standing == "borderline"
    assert "product_expired_by_planned_day" in [u.fact.element for u in found.unread if u.dangers]


def test_a_danger_that_only_a_formula_tells_of_stated_values_is_not_passed_over() -> None:
    """Creatinine of 6 mg/dL at 42 years and 71 kg is a clearance of about 14 mL/min (Cockcroft and Gault, a woman)."""
    found = assessed({"patient.creatinine": {"value": 6, "unit": "mg/dL", "source": "labs"}})
    assert found.decision.standing != "candidate"
    assert "creatinine_clearance" in [u.fact.element for u in found.unread if u.dangers]


@each_row("rules", ["practice_baseline", "wide_screen", "disc_source"])
def test_a_danger_that_only_harmless_details_tell_is_not_passed_over(rules: str) -> None:
    """No allergy to a named antibiotic is a danger by itself, and no planned one is; together they are."""
    found = assessed(
        {
            "patient.antibiotic_allergy": {"value": True},
            "patient.antibiotic_allergies": {"value": ["penicillin", "vancomycin"]},
            "patient.planned_antibiotic": {"value": "vancomycin"},
        },
        rules,
    )
    assert found.decision.standing == "borderline"
    assert "planned_antibiotic_meets_allergy" in [u.fact.element for u in found.unread if u.dangers]


TOLD = [
    ({"medicines.entries": [{"medicine_name": {"value": "adalimumab"}}]}, ["immune_suppression", "immunosuppressant_use"], "medicine_class"),
    ({"patient.cancer_last_treatment_date": {"value": "2015-01-01"}}, ["cancer_history"], "cancer_history"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "unsaid", "element"), TOLD)
@each_row("rules", ["wide_screen", "disc_source"])
def test_a_danger_that_one_detail_tells_weighs_as_if_it_were_stated(
    change: dict[str, Any], unsaid: list[str], element: str, rules: str
) -> None:
    """Where the record does not state the summary, and a criterion reads the detail for another question only."""
    record = changed(load_case(demo_cases_folder() / "one-disc-candidate.yaml").record.plain(), change)
    for name in unsaid:
        del record["patient"][name]
    found = assess(case_from_mapping(record), load_rule_set(rules), day(record["as_of"]))
    assert found.decision.standing == "borderline"
    assert element in [u.fact.element for u in found.unread if u.dangers]


def test_a_code_of_a_diagnosis_is_a_hint_of_danger_for_a_person() -> None:
    for code in ("G83.4", "M51.36, C79.51", "m4646", "Z79.01"):
        found = assessed({"patient.diagnosis_code": {"value": code}})
        assert found.decision.standing == "borderline", code
        assert "danger_in_text" in [u.fact.element for u in found.unread if u.dangers]
