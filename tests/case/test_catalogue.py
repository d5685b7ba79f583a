"""The shipped catalogue: it covers the clinical scope, and agrees with published scales and codes.

Reference sheets are read from the folder ``shared`` beside the project where it exists.
"""

import re
from pathlib import Path

import pytest

from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.element import BURDENS, LISTS, Element
from candidacy.foundation import units
from tests.rows import each_row

SHARED = Path(__file__).resolve().parents[2].parent / "shared"

CATALOGUE: Catalogue = catalogue()
ALL = CATALOGUE.all

# Row of the table "Data elements" in clinical_scope.md -> the elements that carry it.
SCOPE: dict[str, str] = {
    "person": """birth_date age sex body_height body_weight body_mass_index pregnancy_status pregnancy_possible
        breastfeeding able_to_consent""",
    "pain and function": """pain_duration back_pain_nrs_worst back_pain_nrs_average back_pain_nrs_current
        back_pain_vas leg_pain_nrs_average axial_dominance worse_sitting worse_flexion odi_percent odi_item1
        odi_item10 odi_items_total odi_items_answered promis_pain_interference promis_physical_function
        eq5d_index work_status""",
    "care so far": """treatment_kind treatment_start_date treatment_duration treatment_supervised
        treatment_result failed_conservative_care conservative_care_duration supervised_therapy_completed
        injection_kind injection_levels injection_date injection_contained_steroid injection_relief surgery_kind
        surgery_levels surgery_date intradiscal_procedure_kind intradiscal_procedure_levels
        intradiscal_procedure_date""",
    "examination": """motor_deficit motor_power_lowest reflex_deficit sensory_deficit
        straight_leg_raise_positive centralisation sphincter_tone saddle_sensation
        progressive_neurological_deficit""",
    "red flags": """cauda_equina_signs cancer_history cancer_signs fracture_risk_signs suspected_fracture
        infection_signs intravenous_drug_use unexplained_weight_loss""",
    "general health": """diabetes hba1c body_mass_index smoking_status nicotine_use immune_suppression
        autoimmune_disease inflammatory_arthritis active_cancer cancer_last_treatment_date cancer_free_duration
        osteoporosis bone_density_t_score_lowest bleeding_disorder platelet_count inr creatinine
        creatinine_clearance egfr c_reactive_protein esr white_cell_count body_temperature active_infection
        recent_infection antibiotic_treatment antibiotic_course_end_date skin_at_entry_site""",
    "medicines": """medicine_name medicine_class medicine_agent medicine_dose medicine_doses_per_day
        medicine_route medicine_indication medicine_last_dose_date medicine_last_dose_hours_ago
        antithrombotic_use antithrombotic_list_complete antithrombotic_plan_agreed nsaid_use
        systemic_steroid_use opioid_use opioid_mme_per_day immunosuppressant_use ssri_or_snri_use""",
    "allergies": """local_anaesthetic_allergy contrast_reaction latex_allergy antibiotic_allergy
        antibiotic_allergies product_residue_allergy residue_allergies product_residues""",
    "mind and setting": """phq9_item1 phq9_item8 phq9_item9 phq9_items_total phq9_items_answered phq9_total
        gad7_total pcs_total fabq_pa fabq_w dram_class compensation_claim litigation substance_use""",
    "study": """lumbar_mri_date imaging_modality field_strength imaging_posture numbering_method
        whole_spine_localiser lumbar_vertebra_count transitional_vertebra castellvi_type report_status
        report_covers_every_lumbar_disc degeneration_scale_named infection_sign_on_imaging fracture_on_imaging
        tumour_or_mass_on_imaging cauda_equina_compression_on_imaging""",
    "each disc": """pfirrmann_grade modified_pfirrmann_grade disc_height_anterior disc_height_middle
        disc_height_posterior disc_height_loss disc_height_reference disc_height_loss_words displacement
        displacement_size displacement_containment displacement_site annular_fissure high_intensity_zone
        modic_type endplate_change_extent endplate_defect canal_stenosis recess_stenosis foraminal_stenosis
        schizas_grade lee_central_grade lee_foraminal_grade facet_arthropathy weishaupt_grade fujiwara_grade
        pathria_grade slip slip_percent slip_direction meyerding_grade translation_on_flexion_extension
        angulation_on_flexion_extension pars_defect prior_surgery_at_level implant_at_level vacuum_sign""",
    "discography, each disc": """discography_date discography_levels discography_role
        discography_opening_pressure discography_pain_pressure discography_peak_pressure discography_volume
        discography_end_point discography_pain_nrs discography_concordance discography_fissure_grade
        discography_leak anaesthetic_agent anaesthetic_strength anaesthetic_volume anaesthetic_minutes
        anaesthetic_pain_before anaesthetic_pain_after
        anaesthetic_relief_reported""",
    "logistics": """planned_procedure_date product_received product_storage_as_instructed
        product_storage_temperature product_expiry_date driver_arranged consent_signed
        consent_names_unproven_status cost_notice_given coverage_answer""",
}

# The paragraph on derived elements in clinical_scope.md.
DERIVED = """age body_mass_index months_since_lumbar_surgery days_since_discography
    days_since_last_steroid_injection months_since_last_epidural_steroid days_from_discography_to_procedure
    days_since_last_epidural_steroid medicine_hold_action medicine_hold_over medicine_stopped
    pain_began odi_percent odi_band phq9_total phq9_band gad7_band pain_change_percent leg_to_back_pain_ratio
    disc_height_loss disc_height_index slip_percent meyerding_grade discography_pressure_above_opening
    discography_class pressure_category anaesthetic_relief local_anaesthetic_load opioid_mme_per_day
    creatinine_clearance medicine_hold_until medicine_restart_after discs_considered_count
    considered_for_treatment disc_standing failed_care_kinds_count degeneration_scale
    post_test_probability_of_disc_source discography_levels severe_central_stenosis discography_done
    discography_counts_as_control anaesthetic_test_done facet_block_done sacroiliac_block_done
    bone_densitometry_done discography_ct_done
    moderate_central_stenosis pregnant pregnancy_to_be_asked time_free_of_cancer
    medicine_named_class medicine_not_recognised danger_in_text planned_date_passed injection_steroid_just_given
    product_expired_by_planned_day"""

# Concept and code as in standards_and_terminology.md 6.1, only rows whose "Verified" cell names a seen source
# ([s:USC], [s:PACIO], [s:MIMIC]). Left out on purpose: 72514-3 (pain severity, names neither site nor period)
# and the report codes of whole imaging studies, which are not the code of any one fact.
LOINC_SEEN = {
    "body_height": ("8302-2", "Body height"),
    "body_weight": ("29463-7", "Body weight"),
    "body_mass_index": ("39156-5", "Body mass index"),
    "odi_percent": ("97909-6", "ODI score"),
    "phq9_total": ("44261-6", "PHQ-9 total, reported"),
    "hba1c": ("4548-4", "HbA1c / total Hb in blood"),
    "c_reactive_protein": ("1988-5", "CRP, serum/plasma"),
    "esr": ("4537-7", "ESR Westergren"),
    "white_cell_count": ("6690-2", "WBC, automated"),
    "platelet_count": ("777-3", "Platelets, automated"),
    "inr": ("6301-6", "INR, platelet-poor plasma"),
    "creatinine": ("2160-0", "Creatinine, serum/plasma"),
    "smoking_status": ("72166-2", "Tobacco smoking status"),
    "pregnancy_status": ("82810-3", "Pregnancy status"),
    "serum_hcg": ("19080-1", "hCG serum quantitative"),
}

# Range of an instrument, and where it is defined.
INSTRUMENTS = [
    ("modified_pfirrmann_grade", 1, 8),  # Griffith, Spine 2007;32:E708-12 [seen: GRTAB]
    ("total_endplate_score", 2, 12),  # sum of two endplates of 1 to 6 [seen: POC190, derived]
    ("lee_central_grade", 0, 3),  # [seen: RADSTEN]
    ("lee_foraminal_grade", 0, 3),  # [seen: LEEF10]
    ("weishaupt_grade", 0, 3),  # [seen: WEITAB]
    ("fujiwara_grade", 1, 4),  # [seen: FUJISL]
    ("discography_fissure_grade", 0, 5),  # modified Dallas; 0-4 [seen: ALPF], 5 [memory]
    ("back_pain_nrs_average", 0, 10),  # Chiarotto, Pain 2018;159:481 [seen]
    ("back_pain_vas", 0, 100),  # 100 mm line [common practice]
    ("odi_item1", 0, 5),  # scoring handout [seen: ODI-form]
    ("odi_items_total", 0, 50),  # ten sections of 0 to 5 [seen: ODI-form]
    ("odi_percent", 0, 100),  # [seen: ODI-form]
    ("phq9_item9", 0, 3),  # Kroenke 2001 [seen: PHQ-K]
    ("phq9_total", 0, 27),  # nine items of 0 to 3, and not 0 to 21 as one page prints [seen: PHQ-K]
    ("phq2_total", 0, 6),  # [seen: PHQ-K]
    ("gad7_total", 0, 21),  # Spitzer 2006 [weak: S130]
    ("pcs_total", 0, 52),  # Sullivan 1995 [seen: S132]
    ("fabq_pa", 0, 24),  # Waddell 1993 [seen: S133]
    ("fabq_w", 0, 42),  # seven items of 0 to 6 [seen: S133]
    ("paindetect_total", -1, 38),  # Freynhagen 2006 [seen: S136]
    ("rmdq_total", 0, 24),  # [seen: RF]
    ("promis_pain_interference_raw", 4, 20),  # four items of 1 to 5 [seen: PROMIS scoring page]
]

# Codes of a published scale, in its order.
SCALES = [
    ("pfirrmann_grade", "I II III IV V", True),  # Pfirrmann, Spine 2001;26:1873-8 [seen: MEDALG]
    ("schizas_grade", "A1 A2 A3 A4 B C D", True),  # Schizas, Spine 2010;35:1919-24 [seen: RADSTEN]
    ("meyerding_grade", "none I II III IV V", True),  # [seen: RADMEY]
    ("castellvi_type", "none Ia Ib IIa IIb IIIa IIIb IV", False),  # Castellvi 1984 [seen: CAST]
    ("modic_type", "0 1 1-2 2-1 2 2-3 3", False),  # [seen: RADMOD, MIXMOD]
    ("displacement", "none bulge protrusion extrusion sequestration", True),  # Fardon 2014 [seen: RADNOM]
    ("disc_height_loss_words", "none mild moderate severe", True),
    ("canal_stenosis", "none mild moderate severe", True),
    ("recess_stenosis", "none mild moderate severe", True),
    ("foraminal_stenosis", "none mild moderate severe", True),
    ("facet_arthropathy", "none mild moderate severe", True),
    ("endplate_defect", "none schmorl_node irregular erosion fracture other", False),
    ("discography_concordance", "none unfamiliar similar exact", True),
    ("discography_class", "positive negative indeterminate not_valid", False),
    ("disc_standing", "candidate borderline incomplete not_candidate urgent", False),  # words of the design
    ("phq9_band", "minimal mild moderate moderately_severe severe", True),  # Kroenke 2001 [seen: S128]
    ("gad7_band", "minimal mild moderate severe", True),  # Spitzer 2006 [weak: S130]
    ("dram_class", "normal at_risk distressed_somatic distressed_depressive", False),  # Main 1992 [memory]
]


def _sheet(name: str) -> str:
    path = SHARED / name
    if not path.is_file():
        pytest.skip(f"the reference sheet {name} is not beside this project")
    return path.read_text(encoding="utf-8")


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def _named(element: Element) -> str:
    return element.name


@pytest.mark.parametrize("row", SCOPE)
def test_every_fact_of_a_scope_row_has_its_elements(row: str) -> None:
    missing = [name for name in SCOPE[row].split() if name not in CATALOGUE]
    assert missing == []


def test_the_mapping_names_every_row_of_the_scope_table() -> None:
    text = _sheet("clinical_scope.md").split("## Data elements")[1].split("Derived,")[0]
    rows = {_cells(line)[0] for line in text.splitlines() if line.startswith("|")}
    assert rows - {"group", "---"} == set(SCOPE)


def test_each_row_stands_in_the_scope_it_belongs_to() -> None:
    for name in [*SCOPE["each disc"].split(), *SCOPE["discography, each disc"].split()]:
        wanted = "patient" if name in ("discography_date", "discography_levels") else "disc"
        assert CATALOGUE[name].scope == wanted, name
    for prefix, scope in [
        ("medicine_", "medicine"),
        ("treatment_", "treatment"),
        ("injection_", "injection"),
    ]:
        assert {e.scope for e in ALL if e.name.startswith(prefix)} == {scope}


def test_every_repeated_list_has_elements_of_its_scope() -> None:
    for scope in LISTS.values():
        assert CATALOGUE.of_scope(scope), scope


def test_derived_elements_are_exactly_those_declared() -> None:
    assert {e.name for e in ALL if e.derived} == set(DERIVED.split())


def test_what_only_evaluation_may_say_cannot_be_written_into_a_record() -> None:
    never = ("considered_for_treatment", "disc_standing", "discography_class", "medicine_hold_until")
    for name in (*never, "anaesthetic_relief", "severe_central_stenosis"):
        element = CATALOGUE[name]
        assert name not in CATALOGUE.statable(element.scope)
    for name in ("odi_percent", "slip_percent", "disc_height_loss", "creatinine_clearance"):
        assert name in CATALOGUE.statable(CATALOGUE[name].scope)


@pytest.mark.parametrize(("name", "low", "high"), INSTRUMENTS, ids=[row[0] for row in INSTRUMENTS])
def test_possible_range_is_that_of_the_instrument(name: str, low: int, high: int) -> None:
    possible = CATALOGUE[name].possible
    assert possible is not None
    assert (possible.low, possible.high) == (low, high)
    assert CATALOGUE[name].unit in (None, "%", "mm")


@pytest.mark.parametrize(("name", "codes", "ordered"), SCALES, ids=[row[0] for row in SCALES])
def test_codes_are_those_of_the_scale(name: str, codes: str, ordered: bool) -> None:
    assert CATALOGUE[name].codes == tuple(codes.split())
    assert CATALOGUE[name].ordered is ordered


def test_the_two_degeneration_scales_cannot_be_mistaken_for_each_other() -> None:
    # trap T1 of the disc imaging sheet: "grade 4" alone is ambiguous and clinically opposite [seen: MEDALG, GRTAB]
    assert CATALOGUE["pfirrmann_grade"].kind == "choice"
    assert CATALOGUE["modified_pfirrmann_grade"].kind == "integer"
    for element in ALL:
        assert not {"pfirrmann", "degeneration_grade"} & {element.name, *element.synonyms}, element.name


@each_row("element", ALL, ids=_named)
def test_element_tells_what_it_means_where_it_is_found_and_how_to_ask_for_it(element: Element) -> None:
    for text in (element.meaning, element.found_in, element.ask):
        assert text.strip() == text
        assert len(text) >= 3
    assert element.meaning.endswith(".")
    assert len(element.ask) <= 90
    assert element.ask[-1] not in ".?"
    assert element.burden in BURDENS
    assert not element.name.endswith("_mm")


def test_the_answer_yes_to_the_asked_phrase_is_the_value_true() -> None:
    # a phrase of the other polarity ("stable" for an instability) would be answered into the opposite fact
    for element in (e for e in ALL if e.kind == "boolean" and e.statable):
        assert element.ask.startswith(("Whether ", "Confirmation ", "Agreement ", "Written agreement ")), (
            element.name
        )
    assert CATALOGUE["diabetes_uncontrolled"].ask.endswith(" uncontrolled")
    assert CATALOGUE["haemodynamic_instability"].ask.endswith(" unstable")
    assert CATALOGUE["pain_unchanged_by_position"].ask.endswith(" stays the same in every position")


@each_row("element", [e for e in ALL if e.kind in ("number", "integer")], ids=_named)
def test_likely_range_lies_inside_the_possible_one(element: Element) -> None:
    possible, likely = element.possible, element.likely
    assert possible is not None
    for span in filter(None, (possible, likely)):
        if span.low is not None and span.high is not None:
            assert span.low < span.high
    if likely is None:
        return
    assert likely.low is not None or likely.high is not None
    if possible.low is not None and likely.low is not None:
        assert possible.low <= likely.low
    if possible.high is not None and likely.high is not None:
        assert likely.high <= possible.high
    assert likely != possible  # it would question nothing


@each_row("element", [e for e in ALL if e.unit], ids=_named)
def test_unit_is_accepted_and_comes_first(element: Element) -> None:
    assert element.accepted_units[0] == element.unit
    assert all(units.known(unit) for unit in element.accepted_units)


def test_choice_codes_are_words_no_reader_of_yaml_could_mistake() -> None:
    scales = {code for name, codes, _ in SCALES for code in codes.split() if name.endswith(("grade", "type"))}
    for element in ALL:
        for code, meaning in (element.choices or {}).items():
            assert code.lower() not in ("yes", "no", "on", "off", "y", "n", "true", "false", "null"), (
                element.name
            )
            assert code in scales or re.fullmatch(r"[a-z][a-z0-9_]*", code), (element.name, code)
            assert meaning.strip(), (element.name, code)


def test_synonyms_lead_to_one_element_only() -> None:
    words = [synonym for element in ALL for synonym in element.synonyms]
    assert len(words) == len(set(words))
    assert not [word for word in words if word in CATALOGUE]
    assert CATALOGUE.nearest("slip_mm") == "slip"
    assert CATALOGUE.nearest("bmi") == "body_mass_index"


def test_published_reliability_names_its_source_and_is_tagged() -> None:
    stated = [element.precision for element in ALL if element.precision]
    assert len(stated) >= 30
    for precision in stated:
        assert re.search(r"\d", precision.text)
        assert re.search(r"\d{4}|PMC\d+|n=\d+", precision.source)
        assert precision.tag in ("seen", "weak", "memory", "derived")


def test_loinc_codes_are_the_verified_ones_and_no_others() -> None:
    stated = {e.name: (e.code.code, e.code.name) for e in ALL if e.code}
    assert stated == LOINC_SEEN
    assert {(e.code.system, e.code.tag) for e in ALL if e.code} == {("LOINC", "seen")}


@pytest.mark.parametrize("code", [code for code, _ in LOINC_SEEN.values()])
def test_loinc_check_digit(code: str) -> None:
    # Mod 10 algorithm of the LOINC Users' Guide [memory]
    body, check = code.split("-")
    total = 0
    for place, digit in enumerate(reversed(body)):
        total += int(digit) if place % 2 else sum(divmod(2 * int(digit), 10))
    assert (10 - total % 10) % 10 == int(check)


def test_loinc_rows_are_marked_verified_in_the_terminology_sheet() -> None:
    text = _sheet("reference/standards_and_terminology.md").split("### 6.1")[1].split("Traps:")[0]
    rows: dict[str, tuple[str, str]] = {}
    for line in (line for line in text.splitlines() if line.startswith("|")):
        concept, codes, _, source = _cells(line)
        found = re.findall(r"\d+-\d", codes)
        parts = source.split(" / ")
        for place, code in enumerate(found):
            rows[code] = (concept, parts[place] if len(parts) == len(found) else source)
    for name, (code, label) in LOINC_SEEN.items():
        concept, source = rows[code]
        assert "[s:" in source, name
        if "public code" in source or "seen as variant" in source:  # then the cell names the code it saw
            assert code in source, name
        known = {*re.findall(r"[a-z0-9-]+", concept.lower()), "mass", "index"}  # the row abbreviates BMI
        assert set(re.findall(r"[a-z0-9-]+", label.lower())) <= known, name


def test_agents_cover_the_interval_table_and_the_opioid_table() -> None:
    sheet = _sheet("reference/procedural_safety_and_pathway.md").lower()
    intervals = sheet.split("### 1b.")[1].split("### 1c.")[0]
    opioids = sheet.split("## 8. opioids")[1].split("| threshold")[0]
    agents = CATALOGUE["medicine_agent"].codes
    named = {word for line in (intervals + opioids).splitlines() if line.startswith("|")
             for word in re.findall(r"[a-z]{5,}", _cells(line)[0])}  # fmt: skip
    words = {word.rstrip("s") for agent in agents for word in agent.split("_")}
    plain = """primary prevention secondary class intravenous subcutaneous prophylactic therapeutic
        opioid transdermal nsaids"""
    unmatched = {w for w in named if w.rstrip("s") not in words and w not in plain.split()}
    assert unmatched == set()
    assert {"warfarin", "apixaban", "clopidogrel", "methadone", "fentanyl", "other"} <= set(agents)


def test_fentanyl_patches_are_never_stored_in_milligrams() -> None:
    # trap of the procedural safety sheet: fentanyl is mcg/h, never mg
    assert CATALOGUE["medicine_patch_rate"].unit == "mcg/h"
    assert "mg" not in CATALOGUE["medicine_patch_rate"].accepted_units


def test_missing_facts_can_be_sorted_from_chart_to_needle() -> None:
    def order(name: str) -> int:
        return BURDENS.index(CATALOGUE[name].burden)

    chain = ["body_weight", "worse_sitting", "phq9_total", "hba1c", "pfirrmann_grade", "discography_pain_nrs"]
    assert [order(name) for name in chain] == list(range(6))
