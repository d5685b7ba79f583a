"""What details say about a summary, read with the language of criteria: pairs that cannot both be true, and pairs that can.

The pairs are those that a physician would call a contradiction or not (common practice); limits stand in the relation files with
their sources. How a conflict is shown and what it does to a criterion is tested with the assessment.
"""

from datetime import date
from typing import Any

import pytest

from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.assessment.relate import view_of
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.case.facts import Fact
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import TRUE, Why
from candidacy.rules.criterion import Criterion
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter
from tests.rows import each_row
from tests.rules.test_relations_data import RELATIONS
from tests.views import written_for_disc

TODAY = date(2026, 11, 25)
SETTINGS = {name: setting.value for name, setting in shipped().settings().items()}


def view(record: dict[str, Any]) -> View:
    """A view of a record written in short: the value alone stands for a fact."""

    def table(entries: dict[str, Any]) -> dict[str, Any]:
        return {
            name: entry if isinstance(entry, dict) else {"value": entry} for name, entry in entries.items()
        }

    lists = {
        name: {"complete": record[name][0], "entries": [table(entry) for entry in record[name][1]]}
        for name in LISTS
        if name in record
    }
    full = {
        "schema_version": "1",
        "id": "details",
        "patient": table(record.get("patient", {})),
        "discs": {level: table(entries) for level, entries in record.get("discs", {}).items()},
        **lists,
    }
    case = case_from_record(CaseRecord.model_validate(full), "details")
    return View(case.facts, TODAY, SETTINGS, shipped().tables())


def left_by(element: str, subject: str, record: dict[str, Any], *, only_told: bool = False) -> set[object]:
    """The values that the details leave to a summary; with ``only_told``, by what it may be worked out from."""
    relation, known = RELATIONS[element], catalogue()[element]
    left: set[object] = {True, False} if known.kind == "boolean" else set(known.codes)
    parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in relation.parameters.items()}
    for each in relation.implied:
        when = written_for_disc(each.when, subject) if known.scope == "disc" else each.when
        criterion = Criterion.model_construct(
            id="detail_of_a_summary", kind="inclusion", subject=known.scope, when=when, applies_when=None,
            recency=None, parameters={},
        )  # fmt: skip
        evaluation = CompiledCriterion(ResolvedCriterion(criterion, "advisory", parameters))
        met = evaluation.read(view(record), subject).truth is Truth.MET
        if met and (each.infer or not only_told):
            left &= each.codes
    return left


def medicine(complete: bool = False, **entry: Any) -> dict[str, Any]:
    return {"medicines": (complete, [entry])}


PER_LITRE = {"unit": "10*9/L"}
CONTRADICTIONS: list[tuple[str, str, object, dict[str, Any]]] = [
    ("antithrombotic_use", "patient", "none", medicine(medicine_agent="apixaban")),
    ("antithrombotic_use", "patient", "none", medicine(medicine_class="low_molecular_weight_heparin")),
    ("antithrombotic_use", "patient", "anticoagulant", medicine(medicine_agent="clopidogrel")),
    ("antithrombotic_use", "patient", "anticoagulant", {"medicines": (True, [])}),
    ("immune_suppression", "patient", False, medicine(medicine_agent="methotrexate")),
    ("immune_suppression", "patient", False, medicine(medicine_indication="transplant")),
    ("immunosuppressant_use", "patient", False, medicine(medicine_class="biologic")),
    ("recent_systemic_steroid", "patient", False, medicine(medicine_class="systemic_steroid")),
    ("recent_nsaid", "patient", False, medicine(medicine_agent="ibuprofen")),
    ("opioid_use", "patient", False, medicine(medicine_class="opioid")),
    ("ssri_or_snri_use", "patient", True, {"medicines": (True, [])}),
    ("high_thrombotic_risk", "patient", False, medicine(medicine_indication="mechanical_valve")),
    ("prior_lumbar_surgery", "patient", False, {"discs": {"L4-L5": {"prior_surgery_at_level": True}}}),
    ("prior_lumbar_surgery", "patient", False, {"surgeries": (False, [{"surgery_date": "2019"}])}),
    ("prior_lumbar_surgery", "patient", True, {"surgeries": (True, [])}),
    ("prior_surgery_at_level", "L4-L5", False, {"surgeries": (False, [{"surgery_levels": ["L4-L5"]}])}),
    ("prior_surgery_at_level", "L4-L5", True, {"surgeries": (True, [{"surgery_levels": ["L5-S1"]}])}),
    ("prior_surgery_at_level", "L4-L5", False, {"discs": {"L4-L5": {"implant_at_level": True}}}),
    ("prior_intradiscal_injection", "patient", False,
     {"intradiscal_procedures": (False, [{"intradiscal_procedure_kind": "platelet_rich_plasma"}])}),
    ("prior_cell_therapy", "patient", False,
     {"intradiscal_procedures": (False, [{"intradiscal_procedure_kind": "cells"}])}),
    ("pregnancy_possible", "patient", False, {"patient": {"pregnancy_status": "pregnant"}}),
    ("pregnancy_status", "patient", "not_pregnant", {"patient": {"pregnancy_test_result": "positive"}}),
    ("sex", "patient", "male", {"patient": {"pregnancy_status": "pregnant"}}),
    ("fever", "patient", False, {"patient": {"body_temperature": {"value": 38.0, "unit": "Cel"}}}),
    ("diabetes", "patient", "none", {"patient": {"hba1c": {"value": 6.5, "unit": "%"}}}),
    ("diabetes_uncontrolled", "patient", False, {"patient": {"hba1c": {"value": 11, "unit": "%"}}}),
    ("bleeding_disorder", "patient", False, {"patient": {"platelet_count": {"value": 40, **PER_LITRE}}}),
    ("bleeding_disorder", "patient", False, {"patient": {"inr": 3, "antithrombotic_use": "none"}}),
    ("spinal_infection_history", "patient", False, {"discs": {"L4-L5": {"spinal_infection_at_level": True}}}),
    ("suicidal_thoughts", "patient", False, {"patient": {"phq9_item9": 1}}),
    ("severe_motor_deficit", "patient", False, {"patient": {"motor_power_lowest": 3}}),
    ("motor_deficit", "patient", False, {"patient": {"motor_power_lowest": 4}}),
    ("substance_use", "patient", "none", {"patient": {"intravenous_drug_use": True}}),
    ("cancer_history", "patient", False, {"patient": {"cancer_kind": "non_melanoma_skin"}}),
    ("smoking_status", "patient", "never", {"patient": {"smoking_stop_date": "2020"}}),
    ("axial_dominance", "patient", True, {"patient": {"back_pain_nrs_average": 4, "leg_pain_nrs_average": 7}}),
    ("facet_source_suspected", "patient", False, {"patient": {"facet_block_result": "positive"}}),
    ("product_residue_allergy", "patient", False,
     {"patient": {"antibiotic_allergies": ["gentamicin"], "product_residues": ["gentamicin"]}}),
    ("dynamic_instability", "L4-L5", False,
     {"discs": {"L4-L5": {"translation_on_flexion_extension": {"value": 6, "unit": "mm"}}}}),
    ("displacement", "L4-L5", "protrusion", {"discs": {"L4-L5": {"displacement_migrated": True}}}),
    ("slip_direction", "L4-L5", "none", {"discs": {"L4-L5": {"slip": {"value": 4, "unit": "mm"}}}}),
    ("discography_leak", "L4-L5", False, {"discs": {"L4-L5": {"discography_fissure_grade": 5}}}),
    ("transitional_vertebra", "patient", False, {"patient": {"castellvi_type": "IIb"}}),
]  # fmt: skip
COMPATIBLE: list[tuple[str, str, object, dict[str, Any]]] = [
    ("antithrombotic_use", "patient", "none", medicine(medicine_agent="clopidogrel", medicine_last_dose_date="2025-03-01")),
    ("antithrombotic_use", "patient", "both", medicine(medicine_agent="apixaban")),
    ("nsaid_use", "patient", False, medicine(medicine_agent="diclofenac", medicine_route="topical")),
    ("nsaid_use", "patient", False, medicine(complete=True, medicine_agent="acetaminophen")),
    ("nsaid_use", "patient", False, {"treatments": (True, [{"treatment_kind": "nsaid", "treatment_result": "no_benefit"}])}),
    ("immune_suppression", "patient", False, medicine(medicine_agent="hydroxychloroquine")),
    ("diabetes", "patient", "none", medicine(medicine_agent="metformin")),
    ("diabetes", "patient", "none", {"patient": {"hba1c": {"value": 6.4, "unit": "%"}}}),
    ("smoking_status", "patient", "former", {"patient": {"cigarettes_per_day": 0, "pack_years": 12}}),
    ("bleeding_disorder", "patient", False, {"patient": {"inr": 3, "antithrombotic_use": "anticoagulant"}}),
    ("bleeding_disorder", "patient", False, {"patient": {"platelet_count": {"value": 50, **PER_LITRE}}}),
    ("prior_lumbar_surgery", "patient", False, {"surgeries": (False, [{"surgery_kind": "stimulator"}])}),
    ("prior_lumbar_surgery", "patient", True, {"surgeries": (False, [])}),
    ("prior_surgery_at_level", "L4-L5", False, {"surgeries": (True, [{"surgery_levels": ["L5-S1"]}])}),
    ("prior_intradiscal_injection", "patient", False,
     {"intradiscal_procedures": (True, [{"intradiscal_procedure_kind": "discography"}])}),
    ("osteoporosis", "patient", True, {"patient": {"bone_density_t_score_lowest": -1.8}}),
    ("fever", "patient", True, {"patient": {"body_temperature": {"value": 36.8, "unit": "Cel"}}}),
    ("fever", "patient", False, {"patient": {"body_temperature": {"value": 37.9, "unit": "Cel"}}}),
    ("axial_dominance", "patient", True, {"patient": {"back_pain_nrs_average": 6, "leg_pain_nrs_average": 6}}),
    ("antithrombotic_plan_agreed", "patient", True,
     medicine(medicine_agent="clopidogrel", medicine_prescriber_agrees_to_hold=False)),
    ("slip_direction", "L4-L5", "none", {"discs": {"L4-L5": {"slip": {"value": 1, "unit": "mm"}}}}),
    ("annular_fissure", "L4-L5", False, {"discs": {"L4-L5": {"discography_fissure_grade": 2}}}),
    ("disc_height_loss_words", "L4-L5", "mild", {"discs": {"L4-L5": {"modified_pfirrmann_grade": 4}}}),
    ("product_residue_allergy", "patient", False,
     {"patient": {"residue_allergies": ["gentamicin"], "product_residues": ["glycerol"]}}),
]  # fmt: skip
TOLD: list[tuple[str, str, set[object], dict[str, Any]]] = [
    ("antithrombotic_use", "patient", {"anticoagulant", "both"}, medicine(medicine_agent="warfarin")),
    ("antithrombotic_use", "patient", {"none"}, medicine(complete=True, medicine_class="acetaminophen")),
    ("antithrombotic_use", "patient", {"both"},
     {"medicines": (False, [{"medicine_agent": "aspirin"}, {"medicine_agent": "warfarin"}])}),
    ("antithrombotic_use", "patient", {"none", "antiplatelet", "anticoagulant", "both"},
     {"medicines": (True, [{"medicine_name": "a name alone"}])}),
    ("opioid_use", "patient", {True, False}, medicine(medicine_class="acetaminophen")),
    ("diabetes", "patient", {"none", "type_1", "type_2", "other"}, medicine(medicine_agent="metformin")),
    ("prior_surgery_kind_at_level", "L4-L5", {"fusion"},
     {"surgeries": (False, [{"surgery_kind": "discectomy", "surgery_levels": ["L4-L5"]},
                            {"surgery_kind": "fusion", "surgery_levels": ["L4-L5", "L5-S1"]}])}),
    ("axial_dominance", "patient", {True}, {"patient": {"back_pain_nrs_average": 7, "leg_pain_nrs_average": 2}}),
    ("pregnancy_status", "patient", {"pregnant", "not_pregnant"}, {"patient": {"pregnancy_test_result": "negative"}}),
    ("fracture_on_imaging", "patient", {True, False}, {"discs": {"L4-L5": {"endplate_defect": "fracture"}}}),
    ("displacement", "L4-L5", {"none", "bulge", "protrusion", "extrusion", "sequestration"},
     {"discs": {"L4-L5": {"displacement_size": {"value": 4, "unit": "mm"}}}}),
]  # fmt: skip


@each_row(("element", "subject", "stated", "record"), CONTRADICTIONS)
def test_details_rule_out_what_cannot_be_true_beside_them(
    element: str, subject: str, stated: object, record: dict[str, Any]
) -> None:
    left = left_by(element, subject, record)
    assert stated not in left
    assert left, "the details contradict each other"


@pytest.mark.parametrize(("element", "subject", "stated", "record"), COMPATIBLE)
def test_details_leave_what_may_be_true_beside_them(
    element: str, subject: str, stated: object, record: dict[str, Any]
) -> None:
    assert stated in left_by(element, subject, record)


@pytest.mark.parametrize(("element", "subject", "values", "record"), TOLD)
def test_only_what_is_certain_is_worked_out(
    element: str, subject: str, values: set[object], record: dict[str, Any]
) -> None:
    assert left_by(element, subject, record, only_told=True) == values


# Signs that the catalogue lets a summary cover need no implication of their own.
def test_psychosis_beside_no_severe_mental_illness_is_a_contradiction() -> None:
    found = _as_read("severe_mental_illness", {"severe_mental_illness": False, "active_psychosis": True})
    assert (found.value, found.why) == (None, Why.CONFLICTING)


def test_an_aneurysm_on_images_stands_beside_a_denial_of_aortic_disease_and_is_disputed() -> None:
    found = _as_read("aortic_disease", {"aortic_disease": False, "aortic_aneurysm_on_imaging": True})
    assert found.value == TRUE
    assert [fact.element for fact in found.disputed] == ["aortic_disease"]


def _as_read(element: str, patient: dict[str, Any]) -> Fact:
    rule_set = shipped().rule_set("practice_baseline")
    return view_of(view({"patient": patient}).facts, TODAY, rule_set).fact(element, "patient")


@each_row("agent", [code for code in catalogue()["medicine_agent"].codes if code != "other"])
def test_every_agent_has_its_class(agent: str) -> None:
    left = left_by("medicine_class", "medicines[1]", medicine(medicine_agent=agent))
    assert 1 <= len(left) <= 2


def test_the_name_of_another_agent_says_nothing_about_its_class() -> None:
    left = left_by("medicine_class", "medicines[1]", medicine(medicine_agent="other"))
    assert left == set(catalogue()["medicine_class"].codes)
