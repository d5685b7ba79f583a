"""An invented table of referrals with exact values: 145 columns, two discs in each row, a twentieth unknown."""

from pathlib import Path
from typing import Any

from candidacy.cohort import Mapping

LEVELS = ("L4-L5", "L5-S1")
FLAGS = (  # mostly false
    "cauda_equina_signs", "cauda_equina_compression_on_imaging", "infection_sign_on_imaging",
    "tumour_or_mass_on_imaging", "fracture_on_imaging", "progressive_neurological_deficit", "infection_signs",
    "suspected_fracture", "cancer_signs", "suicidal_thoughts",
    "aortic_disease", "fracture_risk_signs", 
    "cancer_history", "unexplained_weight_loss", "unremitting_night_pain",
    "multiple_pain_sites", "compensation_claim", "litigation", "prior_cell_therapy", "transitional_vertebra",
    "facet_source_suspected", "sacroiliac_source_suspected", "radicular_source_suspected", "leg_pain_below_knee",
    "hip_source_suspected", "visceral_source_suspected", "inflammatory_source_suspected", "inflammatory_arthritis",
    "myofascial_source_suspected", "fibromyalgia", "other_chronic_pain_source", "neurogenic_claudication",
    "motor_deficit", "sensory_deficit", "reflex_deficit", "vertebrogenic_source_suspected", "pregnancy_possible",
    "breastfeeding", "active_infection", "recent_infection", "spinal_infection_history", "bleeding_disorder",
    "immune_suppression", "autoimmune_disease", "active_cancer", "diabetes_uncontrolled", "osteoporosis",
    "prior_lumbar_surgery",
)  # fmt: skip
GOOD = (  # mostly true
    "able_to_consent", "failed_conservative_care", "supervised_therapy_completed", "axial_dominance",
    "level_numbering_confirmed_for_procedure", "antithrombotic_plan_agreed", "antithrombotic_list_complete",
)  # fmt: skip
NUMBERS = {  # low, high, decimals
    "body_height [cm]": (150, 200, 0), "body_weight [kg]": (48, 130, 1), "pain_duration [month]": (3, 120, 0),
    "conservative_care_duration [month]": (1, 24, 0), "back_pain_nrs_average": (2, 10, 0),
    "odi_percent [%]": (10, 95, 0), "cigarettes_per_day": (0, 30, 0), "phq9_item9": (0, 0, 0), "phq9_total": (0, 22, 0),
    "cancer_free_duration [month]": (20, 200, 0), "opioid_mme_per_day [mg/d]": (0, 100, 0),
}  # fmt: skip
CODES = {
    "smoking_status": ("never", "former", "current"),
    "numbering_method": ("counted_from_c2", "last_rib", "iliac_crest"),
    "antithrombotic_use": ("none", "none", "antiplatelet"),
    "pregnancy_status": ("not_pregnant",),
    "sex": ("female", "male"),
    "cancer_kind": ("non_melanoma_skin", "other"),
    "diabetes": ("none", "none", "type_2"),
    "discography_levels": ("[]", "[]", "L4-L5"),
    "discs_under_consideration": ("L4-L5", "L5-S1", "L4-L5;L5-S1"),
    "failed_care_kinds": ("oral_medicine;structured_exercise_or_therapy", "oral_medicine", "injection;oral_medicine;education"),
}  # fmt: skip
DISC_FLAGS = (
    "neural_compression", "pars_defect", "prior_surgery_at_level", "implant_at_level",
    "prior_intradiscal_injection_at_level", "annular_fissure_full_thickness", "high_intensity_zone", "vacuum_sign",
    "disc_under_transitional_vertebra",
)  # fmt: skip
DISC_NUMBERS = {
    "modified_pfirrmann_grade": (2, 8, 0), "disc_height_loss [%]": (0, 70, 0), "displacement_size [mm]": (0, 8, 0),
    "translation_on_flexion_extension [mm]": (0, 4, 1), "angulation_on_flexion_extension [deg]": (2, 18, 0),
}  # fmt: skip
DISC_CODES = {
    "disc_height_loss_words": ("none", "mild", "moderate", "severe"),
    "displacement": ("none", "bulge", "bulge", "protrusion", "extrusion"),
    "displacement_containment": ("contained", "not_contained"),
    "modic_type": ("0", "0", "1", "2", "3"),
    "endplate_defect": ("none", "schmorl_node", "erosion"),
    "foraminal_stenosis": ("none", "mild", "severe"),
    "recess_stenosis": ("none", "mild"),
    "canal_stenosis": ("none", "none", "mild", "severe"),
    "meyerding_grade": ("none", "none", "I", "II"),
}
DATED = ("back_pain_nrs_average", "odi_percent", "phq9_total", "pregnancy_status")


def write_table(path: Path, rows: int, seed: int = 1) -> None:
    """Write the table as Parquet, in row groups, a million rows at a time."""
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    random = np.random.default_rng(seed)
    today = np.datetime64("2026-11-25")

    def gaps(count: int, share: float = 0.06) -> Any:
        return random.random(count) < share

    def part(start: int, count: int) -> Any:
        def days(first: int, last: int) -> Any:
            return pa.array(
                today - random.integers(first, last, count).astype("timedelta64[D]"), mask=gaps(count)
            )

        def numbers(low: float, high: float, decimals: int) -> Any:
            found = np.round(random.uniform(low, high, count), decimals)
            return pa.array(found, pa.float64(), mask=gaps(count))

        def codes(words: tuple[str, ...]) -> Any:
            return pa.array(
                np.array(words)[random.integers(0, len(words), count)], pa.string(), mask=gaps(count)
            )

        def flags(share: float) -> Any:
            return pa.array(random.random(count) < share, mask=gaps(count))

        columns: dict[str, Any] = {"case_id": pa.array([f"R{start + n:08d}" for n in range(count)])}
        columns["birth_date"] = days(17 * 365, 75 * 365)
        columns["visit_date"] = days(0, 250)
        columns["lumbar_mri_date"] = days(0, 500)
        columns["flexion_extension_date"] = days(0, 500)
        columns |= {name: flags(0.01) for name in FLAGS} | {name: flags(0.97) for name in GOOD}
        columns |= {name: numbers(*shape) for name, shape in NUMBERS.items()}
        columns |= {name: codes(words) for name, words in CODES.items()}
        for level in LEVELS:
            columns |= {f"{level} {name}": flags(0.02) for name in DISC_FLAGS}
            columns |= {f"{level} {name}": numbers(*shape) for name, shape in DISC_NUMBERS.items()}
            columns |= {f"{level} {name}": codes(words) for name, words in DISC_CODES.items()}
        return pa.table(columns)

    writer = None
    for start in range(0, rows, 1_000_000):
        table = part(start, min(1_000_000, rows - start))
        writer = writer or pq.ParquetWriter(path, table.schema)
        writer.write_table(table, row_group_size=122_880)
    assert writer is not None
    writer.close()


def mapping() -> Mapping:
    """Canonical columns; the scores and the pregnancy answer are dated by the visit."""
    from candidacy.cohort.inputs.mapping import canonical

    columns = [
        "case_id",
        "birth_date",
        "lumbar_mri_date",
        "flexion_extension_date",
        *FLAGS,
        *GOOD,
        *NUMBERS,
        *CODES,
    ]
    for level in LEVELS:
        columns += [f"{level} {name}" for name in (*DISC_FLAGS, *DISC_NUMBERS, *DISC_CODES)]
    table = canonical(columns)
    dated = {
        name: item.model_copy(update={"dated_by": "visit_date"}) if item.element in DATED else item
        for name, item in table.columns.items()
    }
    return Mapping(version="1", confirmed=True, patients=table.model_copy(update={"columns": dated}))
