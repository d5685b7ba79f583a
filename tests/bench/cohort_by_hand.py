"""The checks of ``practice_baseline`` on the table of `cohort_table`, as a careful person would write them.

Three times: as one SQL query for DuckDB, as one lazy query of Polars that runs in its streaming engine, and in vectorised
pandas with nullable types. No rule engine; limits and dates are typed in for the as-of date 2026-11-25. They are the
baselines of `tests.bench.cohort`, which compares their cells with those of the screening. Checks whose columns the table
does not have are undetermined for every case, or pass where they apply only if something is recorded.

Every outcome is worked out and written, but what one fact says of another (relations, a summary and its signs) is not
written by hand: the columns of `TOUCHED` differ for that reason, and are not compared.
"""

from typing import Any

from tests.bench.cohort_table import LEVELS

# passes while none of these is true
NONE = {
    "emergency_on_imaging": ("cauda_equina_compression_on_imaging", "infection_sign_on_imaging",
                             "tumour_or_mass_on_imaging", "fracture_on_imaging"),
    "suspected_spinal_infection": ("infection_signs",),
    "fracture_red_flags": ("suspected_fracture",),
    "aortic_cause_possible": ("aortic_disease",),
    "fracture_signs_unexplained": ("fracture_risk_signs",),
    "compensation_or_litigation": ("compensation_claim", "litigation"),
    "prior_cell_therapy": ("prior_cell_therapy",),
    "facet_source": ("facet_source_suspected",),
    "sacroiliac_source": ("sacroiliac_source_suspected",),
    "radicular_source": ("radicular_source_suspected",),
    "leg_pain_below_knee": ("leg_pain_below_knee",),
    "hip_source": ("hip_source_suspected",),
    "visceral_source": ("visceral_source_suspected",),
    "inflammatory_source": ("inflammatory_source_suspected", "inflammatory_arthritis"),
    "myofascial_source": ("myofascial_source_suspected",),
    "fibromyalgia": ("fibromyalgia",),
    "other_chronic_pain_source": ("other_chronic_pain_source",),
    "neurogenic_claudication": ("neurogenic_claudication",),
    "neurological_deficit": ("motor_deficit", "sensory_deficit", "reflex_deficit"),
    "vertebrogenic_pathway": ("vertebrogenic_source_suspected",),
    "active_infection_present": ("active_infection",),
    "earlier_spinal_infection": ("spinal_infection_history",),
    "bleeding_disorder_present": ("bleeding_disorder",),
    "immune_suppression_present": ("immune_suppression",),
    "autoimmune_disease_present": ("autoimmune_disease", "inflammatory_arthritis"),
    "active_cancer_present": ("active_cancer",),
    "osteoporosis_present": ("osteoporosis",),
}  # fmt: skip
# fails while this is true; its denial has no date in the table, and so says nothing of today
SIGNS = {
    "cauda_equina_signs_present": "cauda_equina_signs",
    "progressive_neurological_deficit_present": "progressive_neurological_deficit",
    "malignancy_red_flags": "cancer_signs",
    "self_harm_thoughts_voiced": "suicidal_thoughts",
}
# passes while this is true
HOLDS = {
    "able_to_consent": "able_to_consent",
    "conservative_care_failed": "failed_conservative_care",
    "supervised_therapy_completed": "supervised_therapy_completed",
    "axial_pain_dominant": "axial_dominance",
    "level_numbering_not_confirmed": "level_numbering_confirmed_for_procedure",
}
# nothing that the table has bears on them: they do not apply, or they stay open
PASSES = (
    "severe_weakness_measured", "inflammation_marker_raised_with_worse_pain", "fragile_bone_with_minor_trauma",
    "facet_block_positive", "sacroiliac_block_positive", "sacroiliac_tests_several", "weakness_measured", "fever_recorded",
    "inflammation_marker_recorded_raised", "platelets_recorded_very_low", "platelets_recorded_reduced",
    "inr_raised_without_vitamin_k_antagonist", "haemoglobin_low", "hba1c_recorded_high", "glucose_recorded_high",
    "glucose_recorded_low",
    "bone_density_osteoporotic", "residue_allergy_recorded", "anxiety_severe", "distress_present", "catastrophising_high",
    "fear_avoidance_high",
)  # fmt: skip
OPEN = (
    "injected_drug_use", "current_substance_use", "facet_block_relief", "facet_disease_leading_on_imaging",
    "radicular_leg_pain", "straight_leg_raise_positive", "stopped_without_agreement", "opioid_dose_rising", "allergies_asked",
    "product_residue_allergy_present", "severe_mental_illness_not_controlled", "psychosis_present",
    "substance_misuse_interval", "interval_since_intradiscal_procedure", "recent_infection_cleared",
)  # fmt: skip
PASSES_DISC = ("wait_after_anaesthetic_test",)
OPEN_DISC = ("facet_arthropathy_severe", "anaesthetic_relief_adequate")
# columns in which what one fact says of another shows, or that a fact bears no day
TOUCHED = (
    "standing", "suspected_spinal_infection", "fracture_red_flags", "malignancy_flags_together", "conservative_care_failed",
    "smoking_heavy", "number_of_discs_to_treat", "considered_disc_borderline_or_open", "transitional_anatomy_not_numbered",
    "other_chronic_pain_source", "pregnancy_present", "breastfeeding_present", "pregnancy_planned_soon",
    "active_infection_present", "cancer_free_interval", "diabetes_not_controlled", "hba1c_deferral",
    "interval_since_lumbar_surgery", "conservative_care_duration", "neurological_deficit", "antithrombotics_known",
)  # fmt: skip
TOUCHED_DISC = (
    "standing", "disc_height_collapse_in_words", "displacement_limit", "protrusion_size_limit", "protrusion_not_contained",
    "surgery_at_level", "fused_or_replaced_disc", "rudimentary_disc",
)  # fmt: skip
NOT_TESTED = ("sedation_allows_answer", "discography_result_age")
NOT_TESTED_DISC = (
    "contrast_leak", "concordant_provocation", "provoked_pain_not_usual", "discography_valid", "wait_after_discography",
)  # fmt: skip
STOP = ("cauda_equina_signs_present", "emergency_on_imaging", "progressive_neurological_deficit_present",
        "suspected_spinal_infection", "fracture_red_flags", "malignancy_red_flags", "self_harm_thoughts_present",
        "self_harm_thoughts_voiced", "inflammation_marker_raised_with_worse_pain", "severe_weakness_measured")  # fmt: skip
ABSOLUTE = ("aortic_cause_possible", "able_to_consent", "age_lower_limit", "pain_duration_minimum",
            "conservative_care_failed", "conservative_care_duration", "number_of_discs_to_treat",
            "transitional_anatomy_not_numbered", "pregnancy_present", "active_infection_present",
            "bleeding_disorder_present", "active_cancer_present", "fever_recorded", "fragile_bone_with_minor_trauma",
            "inr_raised_without_vitamin_k_antagonist", "leg_dominant_radicular_pain", "platelets_recorded_very_low",
            "psychosis_present", "stenosis_with_claudication", "stopped_without_agreement")  # fmt: skip
ADVISORY = ("odi_maximum", "compensation_or_litigation", "prior_cell_therapy", "fibromyalgia",
            "other_chronic_pain_source", "vertebrogenic_pathway", "level_numbering_not_confirmed",
            "depression_screen_positive", "facet_block_relief", "facet_disease_leading_on_imaging", "opioid_dose_rising",
            "pregnancy_planned_soon", "sacroiliac_tests_several", "straight_leg_raise_positive",
            "substance_misuse_interval")  # fmt: skip
DISC_ABSOLUTE = ("degeneration_grade_window", "displacement_limit", "central_stenosis_severe", "slip_grade_limit",
                 "pars_defect", "implant_at_level", "provoked_pain_not_usual", "earlier_infection_of_disc",
                 "fused_or_replaced_disc")  # fmt: skip
DISC_ADVISORY = ("disc_height_collapse_in_words", "full_thickness_fissure", "high_intensity_zone", "vacuum_sign",
                 "facet_arthropathy_severe")  # fmt: skip

# the rest, one by one
PATIENT_SQL = {
    **{name: "NOT (" + " OR ".join(flags) + ")" for name, flags in NONE.items()},
    **{name: f"CASE WHEN {flag} THEN false END" for name, flag in SIGNS.items()},
    **HOLDS,
    **dict.fromkeys(NOT_TESTED, "CASE WHEN discography_levels = '[]' THEN true END"),
    "self_harm_thoughts_present": "CASE WHEN phq9_item9 >= 1 THEN false END",
    "malignancy_flags_together": "CASE WHEN coalesce(cancer_history, false)::INT + coalesce(unexplained_weight_loss, false)::INT + "
    "coalesce(unremitting_night_pain, false)::INT + coalesce(multiple_pain_sites, false)::INT >= 2 THEN false "
    "WHEN coalesce(cancer_history, true)::INT + coalesce(unexplained_weight_loss, true)::INT + "
    "coalesce(unremitting_night_pain, true)::INT + coalesce(multiple_pain_sites, true)::INT < 2 THEN true END",
    "age_lower_limit": "birth_date <= DATE '2008-11-25'",
    "age_upper_limit": "birth_date > DATE '1955-11-25'",
    "body_mass_index_limit": 'round("body_weight [kg]" / ("body_height [cm]" / 100 * ("body_height [cm]" / 100)), 9) < 35',
    "pain_duration_minimum": '"pain_duration [month]" >= 6',
    "conservative_care_duration": '"conservative_care_duration [month]" >= 3',
    "conservative_care_content": "(failed_care_kinds LIKE '%oral_medicine%')::INT + "
    "(failed_care_kinds LIKE '%structured_exercise%')::INT + (failed_care_kinds LIKE '%injection%')::INT >= 2",
    "back_pain_nrs_minimum": "CASE WHEN visit_date >= DATE '2026-05-25' THEN back_pain_nrs_average >= 4 END",
    "odi_minimum": "CASE WHEN visit_date >= DATE '2026-05-25' THEN \"odi_percent [%]\" >= 30 END",
    "odi_maximum": "CASE WHEN visit_date >= DATE '2026-05-25' THEN \"odi_percent [%]\" <= 90 END",
    "smoking_heavy": "NOT (smoking_status = 'current' AND cigarettes_per_day > 20)",
    "transitional_anatomy_not_numbered": "numbering_method IN ('counted_from_c2', 'last_rib', 'l5_nerve_morphology') "
    "OR NOT transitional_vertebra",
    "antithrombotic_plan_agreed_with_prescriber": "antithrombotic_plan_agreed OR antithrombotic_use = 'none'",
    "pregnancy_present": "CASE WHEN visit_date >= DATE '2026-10-26' THEN pregnancy_status <> 'pregnant' END "
    "OR sex = 'male' OR NOT pregnancy_possible",
    "breastfeeding_present": "NOT breastfeeding OR sex = 'male'",
    "antithrombotics_known": "antithrombotic_use = 'none' OR antithrombotic_list_complete",
    "cancer_free_interval": 'CASE WHEN "cancer_free_duration [month]" >= 60 THEN true END OR NOT cancer_history '
    "OR cancer_kind IN ('non_melanoma_skin', 'in_situ')",
    "diabetes_not_controlled": "NOT diabetes_uncontrolled OR diabetes = 'none'",
    "opioid_dose_high": '"opioid_mme_per_day [mg/d]" < 90',
    "depression_severe": "CASE WHEN visit_date >= DATE '2026-08-25' THEN phq9_total < 20 END",
    "lumbar_mri_recent": "lumbar_mri_date > DATE '2025-11-25'",
    "interval_since_lumbar_surgery": "CASE WHEN NOT prior_lumbar_surgery THEN true END",
    "malignancy_flag_unexplained": "NOT (unexplained_weight_loss OR unremitting_night_pain OR multiple_pain_sites)",
    "stenosis_with_claudication": "CASE WHEN NOT neurogenic_claudication THEN true WHEN neurogenic_claudication AND "
    "lumbar_mri_date >= DATE '2025-11-25' AND ("
    + " OR ".join(f"coalesce(\"{level} canal_stenosis\" = 'severe', false)" for level in LEVELS)
    + ") THEN false END",
    "leg_dominant_radicular_pain": "CASE WHEN axial_dominance THEN true END",
    "pregnancy_planned_soon": "CASE WHEN sex = 'male' THEN true END",
    "hba1c_deferral": "CASE WHEN diabetes = 'none' THEN true END",
    "depression_screen_positive": "phq9_total < 10",
    **dict.fromkeys(PASSES, "true"),
    **dict.fromkeys(OPEN, "NULL::BOOLEAN"),
}
_SEEN = "CASE WHEN lumbar_mri_date >= DATE '2025-11-25' THEN {} END"
DISC_SQL = {
    "degeneration_grade_window": _SEEN.format('"{l} modified_pfirrmann_grade" BETWEEN 3 AND 7'),
    "disc_height_loss_limit": _SEEN.format('"{l} disc_height_loss [%]" < 50'),
    "disc_height_collapse_in_words": _SEEN.format("\"{l} disc_height_loss_words\" <> 'severe'"),
    "displacement_limit": _SEEN.format("\"{l} displacement\" NOT IN ('extrusion', 'sequestration')"),
    "protrusion_size_limit": _SEEN.format("\"{l} displacement\" IN ('none', 'bulge')")
    + " OR "
    + _SEEN.format('"{l} displacement_size [mm]" < 5'),
    "protrusion_not_contained": _SEEN.format("\"{l} displacement\" IN ('none', 'bulge')")
    + " OR "
    + _SEEN.format("\"{l} displacement_containment\" = 'contained'"),
    "endplate_change_type": _SEEN.format("\"{l} modic_type\" <> '3'"),
    "endplate_defect": _SEEN.format("\"{l} endplate_defect\" NOT IN ('erosion', 'fracture')"),
    "central_stenosis_severe": _SEEN.format("\"{l} canal_stenosis\" <> 'severe'"),
    "foraminal_stenosis_severe": _SEEN.format(
        "NOT (\"{l} foraminal_stenosis\" = 'severe' OR \"{l} recess_stenosis\" = 'severe')"
    ),
    "neural_compression": _SEEN.format('NOT "{l} neural_compression"'),
    "slip_grade_limit": _SEEN.format("\"{l} meyerding_grade\" NOT IN ('II', 'III', 'IV', 'V')"),
    "unstable_slip": "CASE WHEN flexion_extension_date >= DATE '2025-11-25' THEN "
    'NOT ("{l} translation_on_flexion_extension [mm]" > 3 OR "{l} angulation_on_flexion_extension [deg]" > 15) END '
    "OR \"{l} meyerding_grade\" = 'none'",
    "pars_defect": _SEEN.format('NOT "{l} pars_defect"'),
    "surgery_at_level": 'NOT "{l} prior_surgery_at_level"',
    "implant_at_level": 'NOT "{l} implant_at_level"',
    "earlier_injection_of_disc": 'NOT "{l} prior_intradiscal_injection_at_level"',
    "full_thickness_fissure": _SEEN.format('NOT "{l} annular_fissure_full_thickness"'),
    "high_intensity_zone": _SEEN.format('NOT "{l} high_intensity_zone"'),
    "vacuum_sign": _SEEN.format('NOT "{l} vacuum_sign"'),
    "rudimentary_disc": _SEEN.format('NOT "{l} disc_under_transitional_vertebra"')
    + " OR NOT transitional_vertebra",
    "instability_recorded": 'NOT (coalesce("{l} translation_on_flexion_extension [mm]" > 3, false) '
    'OR coalesce("{l} angulation_on_flexion_extension [deg]" > 15, false))',
    "fused_or_replaced_disc": 'CASE WHEN NOT "{l} prior_surgery_at_level" THEN true END',
    "earlier_infection_of_disc": "CASE WHEN NOT spinal_infection_history THEN true END",
    "discography_positive": "CASE WHEN discography_levels = '[]' THEN true WHEN discography_levels = '{l}' THEN false END",
    **dict.fromkeys(PASSES_DISC, "true"),
    **dict.fromkeys(OPEN_DISC, "NULL::BOOLEAN"),
    **dict.fromkeys(NOT_TESTED_DISC, "CASE WHEN discography_levels = '[]' THEN true END"),
}


def compared(columns: list[str]) -> list[str]:
    """The columns whose cells the hand-written queries have to have as the screening has them."""
    touched = {*TOUCHED, *(f"{level}: {name}" for level in LEVELS for name in TOUCHED_DISC)}
    return [column for column in columns if column not in touched]


def query(table: str, columns: list[str]) -> str:
    """The hand-written query; ``columns`` is only the order in which outcomes are written."""
    discs, standings = [], []
    for n, level in enumerate(LEVELS):
        discs += [f"{sql.format(l=level)} AS d{n}_{name}" for name, sql in DISC_SQL.items()]
        discs.append(f"discs_under_consideration LIKE '%{level}%' AS considered_{n}")
        absolute = " AND ".join(f"d{n}_{name}" for name in DISC_ABSOLUTE)
        relative = " AND ".join(
            f"d{n}_{name}" for name in DISC_SQL if name not in DISC_ABSOLUTE + DISC_ADVISORY
        )
        standings += [f"({absolute}) AS absolute_{n}", f"({relative}) AS relative_{n}"]
    patient = [f"({sql}) AS p_{name}" for name, sql in PATIENT_SQL.items()]
    count = (
        "CASE WHEN certain >= 1 AND certain + unsure <= 2 THEN true "
        "WHEN certain + unsure < 1 OR certain > 2 THEN false END"
    )
    suitable = [
        f"considered_{n} AND CASE WHEN absolute_{n} IS FALSE THEN false "
        f"WHEN absolute_{n} AND relative_{n} IS NOT NULL THEN true END"
        for n in range(len(LEVELS))
    ]
    certain = " + ".join(f"(({each}) IS TRUE)::INT" for each in suitable)
    unsure = " + ".join(f"(({each}) IS NULL)::INT" for each in suitable)
    unsure += " + CASE WHEN discs_under_consideration IS NULL THEN 3 ELSE 0 END"
    open_ = " AND ".join(
        f"(NOT considered_{n} OR CASE WHEN absolute_{n} IS FALSE THEN true WHEN absolute_{n} THEN relative_{n} END)"
        for n in range(len(LEVELS))
    )
    open_ += " AND CASE WHEN discs_under_consideration IS NOT NULL THEN true END"
    ids = [*PATIENT_SQL, "number_of_discs_to_treat", "considered_disc_borderline_or_open"]
    relative = [name for name in ids if name not in STOP + ABSOLUTE + ADVISORY]
    stop, absolute, rest = (" AND ".join(f"p_{n}" for n in names) for names in (STOP, ABSOLUTE, relative))
    standing = (
        f"CASE WHEN ({stop}) IS FALSE THEN 'urgent' WHEN ({absolute}) IS FALSE THEN 'not_candidate' "
        f"WHEN ({stop}) IS NULL OR ({absolute}) IS NULL THEN 'incomplete' "
        f"WHEN ({rest}) IS FALSE THEN 'borderline' WHEN ({rest}) IS NULL THEN 'incomplete' "
        "ELSE 'candidate' END"
    )
    chosen = ["case_id"]
    for column in columns:
        level, _, name = column.rpartition(": ")
        n = LEVELS.index(level) if level else 0
        if name == "considered":
            chosen.append(f'considered_{n} AS "{column}"')
        elif name == "standing" and level:
            chosen.append(
                f"CASE WHEN absolute_{n} IS FALSE THEN 'not_candidate'::standing_word WHEN absolute_{n} IS NULL THEN "
                f"'incomplete'::standing_word WHEN relative_{n} IS FALSE THEN 'borderline'::standing_word "
                f"WHEN relative_{n} IS NULL THEN 'incomplete'::standing_word ELSE 'candidate'::standing_word END AS \"{column}\""
            )
        elif name == "standing":
            chosen.append(f"({standing})::standing_word AS standing")
        else:
            passes = f"d{n}_{name}" if level else f"p_{name}"
            chosen.append(
                f"CASE WHEN {passes} THEN 'pass'::outcome WHEN NOT {passes} THEN 'fail'::outcome "
                f"ELSE 'undetermined'::outcome END AS \"{column}\""
            )
    return (
        f"SELECT {', '.join(chosen)} FROM (SELECT *, {count} AS p_number_of_discs_to_treat, "
        f"{open_} AS p_considered_disc_borderline_or_open FROM (SELECT *, {certain} AS certain, {unsure} AS unsure "
        f"FROM (SELECT *, {', '.join(standings)} FROM (SELECT *, {', '.join(discs + patient)} "
        f"FROM read_parquet('{table}')))))"
    )


def polars_query(table: str, columns: list[str]) -> Any:
    """The same as one lazy query of Polars, for its streaming engine; each check is its expression of the same text."""
    from functools import reduce
    from operator import add, and_

    import polars as pl

    def all_of(names: list[str]) -> Any:
        return reduce(and_, map(pl.col, names))

    def is_false(truth: Any) -> Any:
        return (~truth).fill_null(False)

    def first(arms: list[tuple[Any, int]], last: int, kind: Any) -> Any:
        found = pl.lit(last, pl.UInt8)
        for when, answer in reversed(arms):
            found = pl.when(when).then(pl.lit(answer, pl.UInt8)).otherwise(found)
        return found.cat.to(kind)

    outcome = pl.Enum(["pass", "fail", "undetermined"])
    standing = pl.Enum(["urgent", "not_candidate", "incomplete", "borderline", "candidate"])
    checks = [pl.sql_expr(sql).alias(f"p_{name}") for name, sql in PATIENT_SQL.items()]
    both, suits, opens = [], [], []
    for n, level in enumerate(LEVELS):
        checks += [pl.sql_expr(sql.format(l=level)).alias(f"d{n}_{name}") for name, sql in DISC_SQL.items()]
        checks.append(
            pl.col("discs_under_consideration").str.contains(level, literal=True).alias(f"considered_{n}")
        )
        relative = [f"d{n}_{name}" for name in DISC_SQL if name not in DISC_ABSOLUTE + DISC_ADVISORY]
        both.append(all_of([f"d{n}_{name}" for name in DISC_ABSOLUTE]).alias(f"absolute_{n}"))
        both.append(all_of(relative).alias(f"relative_{n}"))
        absolute, rest, considered = (
            pl.col(f"{name}_{n}") for name in ("absolute", "relative", "considered")
        )
        settled = pl.when(is_false(absolute)).then(False).when(absolute & rest.is_not_null()).then(True)
        suits.append(considered & settled)
        opens.append(~considered | pl.when(is_false(absolute)).then(True).when(absolute).then(rest))
    listed = pl.col("discs_under_consideration").is_not_null()
    certain = reduce(add, (each.fill_null(False).cast(pl.Int8) for each in suits)).alias("certain")
    unsure = reduce(add, (each.is_null().cast(pl.Int8) for each in suits))
    unsure = (unsure + pl.when(listed).then(0).otherwise(3)).alias("unsure")
    sure, most = pl.col("certain"), pl.col("certain") + pl.col("unsure")
    count = pl.when((sure >= 1) & (most <= 2)).then(True).when((most < 1) | (sure > 2)).then(False)
    open_ = reduce(and_, opens) & pl.when(listed).then(True)
    ids = [*PATIENT_SQL, "number_of_discs_to_treat", "considered_disc_borderline_or_open"]
    left = [name for name in ids if name not in STOP + ABSOLUTE + ADVISORY]
    stop, ends, rest = (all_of([f"p_{name}" for name in names]) for names in (STOP, ABSOLUTE, left))
    chosen = [pl.col("case_id")]
    for column in columns:
        level, _, name = column.rpartition(": ")
        n = LEVELS.index(level) if level else 0
        absolute, relative_ = pl.col(f"absolute_{n}"), pl.col(f"relative_{n}")
        if name == "considered":
            made = pl.col(f"considered_{n}")
        elif name == "standing" and level:
            arms = [
                (is_false(absolute), 1),
                (absolute.is_null(), 2),
                (is_false(relative_), 3),
                (relative_.is_null(), 2),
            ]
            made = first(arms, 4, standing)
        elif name == "standing":
            arms = [(is_false(stop), 0), (is_false(ends), 1), (stop.is_null() | ends.is_null(), 2)]
            made = first([*arms, (is_false(rest), 3), (rest.is_null(), 2)], 4, standing)
        else:
            passes = pl.col(f"d{n}_{name}" if level else f"p_{name}")
            made = first([(passes, 0), (~passes, 1)], 2, outcome)
        chosen.append(made.alias(column))
    return (
        pl.scan_parquet(table)
        .with_columns(checks)
        .with_columns(both)
        .with_columns(certain, unsure, open_.alias("p_considered_disc_borderline_or_open"))
        .with_columns(count.alias("p_number_of_discs_to_treat"))
        .select(chosen)
    )


def pandas_outcomes(t: Any) -> Any:
    """The same in pandas: one column of outcomes after another, all vectorised, nullable types throughout."""
    import numpy as np
    import pandas as pd

    day = pd.Timestamp
    nothing = pd.Series(pd.NA, index=t.index, dtype="boolean")

    def at_once(flags: tuple[str, ...]) -> Any:
        found = t[flags[0]]
        for flag in flags[1:]:
            found = found | t[flag]
        return ~found

    def only(condition: Any, outcome: Any) -> Any:
        return outcome.mask(~condition.fillna(False).astype(bool))

    def since(column: str, first: str) -> Any:
        return (t[column] >= day(first)).astype("boolean").mask(t[column].isna())

    def known(column: str, values: Any) -> Any:
        return values.astype("boolean").mask(t[column].isna())

    def is_(column: str, *codes: str) -> Any:
        return known(column, t[column].isin(codes))

    p: dict[str, Any] = {name: at_once(flags) for name, flags in NONE.items()}
    p |= {name: only(t[flag], ~t[flag]) for name, flag in SIGNS.items()}
    p |= {name: t[flag] for name, flag in HOLDS.items()}
    untested = only(is_("discography_levels", "[]"), is_("discography_levels", "[]"))
    p |= dict.fromkeys(NOT_TESTED, untested)
    p["self_harm_thoughts_present"] = only(t["phq9_item9"] >= 1, t["phq9_item9"] < 1)
    four = [
        t[n]
        for n in (
            "cancer_history",
            "unexplained_weight_loss",
            "unremitting_night_pain",
            "multiple_pain_sites",
        )
    ]
    certain = sum(each.fillna(False).astype("int8") for each in four)
    possible = sum(each.fillna(True).astype("int8") for each in four)
    p["malignancy_flags_together"] = (certain < 2).astype("boolean").mask((certain < 2) & (possible >= 2))
    p["age_lower_limit"] = known("birth_date", t["birth_date"] <= day("2008-11-25"))
    p["age_upper_limit"] = known("birth_date", t["birth_date"] > day("1955-11-25"))
    metres = t["body_height [cm]"] / 100
    p["body_mass_index_limit"] = (t["body_weight [kg]"] / (metres * metres)).round(9) < 35
    p["pain_duration_minimum"] = t["pain_duration [month]"] >= 6
    p["conservative_care_duration"] = t["conservative_care_duration [month]"] >= 3
    kinds = t["failed_care_kinds"]
    counted = sum(
        kinds.str.contains(word, regex=False).fillna(False).astype("int8")
        for word in ("oral_medicine", "structured_exercise", "injection")
    )
    p["conservative_care_content"] = known("failed_care_kinds", counted >= 2)
    half_year = since("visit_date", "2026-05-25")
    p["back_pain_nrs_minimum"] = only(half_year, t["back_pain_nrs_average"] >= 4)
    p["odi_minimum"] = only(half_year, t["odi_percent [%]"] >= 30)
    p["odi_maximum"] = only(half_year, t["odi_percent [%]"] <= 90)
    p["smoking_heavy"] = ~(is_("smoking_status", "current") & (t["cigarettes_per_day"] > 20))
    p["transitional_anatomy_not_numbered"] = (
        is_("numbering_method", "counted_from_c2", "last_rib", "l5_nerve_morphology")
        | ~t["transitional_vertebra"]
    )
    p["antithrombotic_plan_agreed_with_prescriber"] = t["antithrombotic_plan_agreed"] | is_(
        "antithrombotic_use", "none"
    )
    p["pregnancy_present"] = (
        only(since("visit_date", "2026-10-26"), ~is_("pregnancy_status", "pregnant"))
        | is_("sex", "male") | ~t["pregnancy_possible"]
    )  # fmt: skip
    p["breastfeeding_present"] = ~t["breastfeeding"] | is_("sex", "male")
    p["antithrombotics_known"] = is_("antithrombotic_use", "none") | t["antithrombotic_list_complete"]
    p["cancer_free_interval"] = (
        only(t["cancer_free_duration [month]"] >= 60, t["cancer_free_duration [month]"] >= 60)
        | ~t["cancer_history"]
        | is_("cancer_kind", "non_melanoma_skin", "in_situ")
    )
    p["diabetes_not_controlled"] = ~t["diabetes_uncontrolled"] | is_("diabetes", "none")
    p["opioid_dose_high"] = t["opioid_mme_per_day [mg/d]"] < 90
    p["depression_severe"] = only(since("visit_date", "2026-08-25"), t["phq9_total"] < 20)
    p["lumbar_mri_recent"] = known("lumbar_mri_date", t["lumbar_mri_date"] > day("2025-11-25"))
    p["interval_since_lumbar_surgery"] = only(~t["prior_lumbar_surgery"], ~t["prior_lumbar_surgery"])
    p["malignancy_flag_unexplained"] = at_once(
        ("unexplained_weight_loss", "unremitting_night_pain", "multiple_pain_sites")
    )
    p["leg_dominant_radicular_pain"] = only(t["axial_dominance"], t["axial_dominance"])
    p["pregnancy_planned_soon"] = only(is_("sex", "male"), is_("sex", "male"))
    p["hba1c_deferral"] = only(is_("diabetes", "none"), is_("diabetes", "none"))
    p["depression_screen_positive"] = t["phq9_total"] < 10
    always = pd.Series(True, index=t.index, dtype="boolean")
    p |= dict.fromkeys(PASSES, always) | dict.fromkeys(OPEN, nothing)
    severe = nothing.fillna(False)
    for level in LEVELS:
        severe = severe | is_(f"{level} canal_stenosis", "severe").fillna(False)
    claudication = t["neurogenic_claudication"]
    fresh = since("lumbar_mri_date", "2025-11-25").fillna(False)
    p["stenosis_with_claudication"] = only(~claudication | (claudication & fresh & severe), ~claudication)
    seen, flexed = since("lumbar_mri_date", "2025-11-25"), since("flexion_extension_date", "2025-11-25")
    found: dict[str, Any] = {"case_id": t["case_id"]}
    listed = t["discs_under_consideration"]
    suits, opens = [], []
    for level in LEVELS:

        def c(name: str, level: str = level) -> str:
            return f"{level} {name}"

        quiet = only(seen, is_(c("displacement"), "none", "bulge"))
        still = ~(
            (t[c("translation_on_flexion_extension [mm]")] > 3)
            | (t[c("angulation_on_flexion_extension [deg]")] > 15)
        )
        d: dict[str, Any] = {
            "degeneration_grade_window": only(seen, t[c("modified_pfirrmann_grade")].between(3, 7)),
            "disc_height_loss_limit": only(seen, t[c("disc_height_loss [%]")] < 50),
            "disc_height_collapse_in_words": only(seen, ~is_(c("disc_height_loss_words"), "severe")),
            "displacement_limit": only(seen, ~is_(c("displacement"), "extrusion", "sequestration")),
            "protrusion_size_limit": quiet | only(seen, t[c("displacement_size [mm]")] < 5),
            "protrusion_not_contained": quiet | only(seen, is_(c("displacement_containment"), "contained")),
            "endplate_change_type": only(seen, ~is_(c("modic_type"), "3")),
            "endplate_defect": only(seen, ~is_(c("endplate_defect"), "erosion", "fracture")),
            "central_stenosis_severe": only(seen, ~is_(c("canal_stenosis"), "severe")),
            "foraminal_stenosis_severe": only(
                seen, ~(is_(c("foraminal_stenosis"), "severe") | is_(c("recess_stenosis"), "severe"))
            ),
            "slip_grade_limit": only(seen, ~is_(c("meyerding_grade"), "II", "III", "IV", "V")),
            "unstable_slip": only(flexed, still) | is_(c("meyerding_grade"), "none"),
            "surgery_at_level": ~t[c("prior_surgery_at_level")],
            "implant_at_level": ~t[c("implant_at_level")],
            "earlier_injection_of_disc": ~t[c("prior_intradiscal_injection_at_level")],
            "rudimentary_disc": only(seen, ~t[c("disc_under_transitional_vertebra")])
            | ~t["transitional_vertebra"],
            "instability_recorded": ~(
                (t[c("translation_on_flexion_extension [mm]")] > 3).fillna(False)
                | (t[c("angulation_on_flexion_extension [deg]")] > 15).fillna(False)
            ),
            "fused_or_replaced_disc": only(~t[c("prior_surgery_at_level")], ~t[c("prior_surgery_at_level")]),
            "earlier_infection_of_disc": only(~t["spinal_infection_history"], ~t["spinal_infection_history"]),
            "discography_positive": only(
                is_("discography_levels", "[]", level), is_("discography_levels", "[]")
            ),
            **dict.fromkeys(PASSES_DISC, always),
            **dict.fromkeys(OPEN_DISC, nothing),
            **dict.fromkeys(NOT_TESTED_DISC, untested),
        }
        for name, flag in (("neural_compression",) * 2, ("pars_defect",) * 2, ("high_intensity_zone",) * 2,
                           ("vacuum_sign",) * 2, ("full_thickness_fissure", "annular_fissure_full_thickness")):  # fmt: skip
            d[name] = only(seen, ~t[c(flag)])
        considered = known("discs_under_consideration", listed.str.contains(level, regex=False).fillna(False))
        absolute = _all(d[name] for name in DISC_ABSOLUTE)
        relative = _all(v for name, v in d.items() if name not in DISC_ABSOLUTE + DISC_ADVISORY)
        found[f"{level}: considered"] = considered
        found[f"{level}: standing"] = np.select(
            [_false(absolute), absolute.isna(), _false(relative), relative.isna()],
            ["not_candidate", "incomplete", "borderline", "incomplete"], "candidate",
        )  # fmt: skip
        found |= {f"{level}: {name}": _words(each) for name, each in d.items()}
        settled = absolute.mask(absolute.fillna(False).astype(bool) & relative.isna())
        suits.append(considered & settled)
        opens.append(~considered | (~absolute).where(_false(absolute), relative.mask(absolute.isna())))
    certain = sum(each.fillna(False).astype("int8") for each in suits)
    most = certain + sum(each.isna().astype("int8") for each in suits) + 3 * listed.isna()
    met, not_met = (certain >= 1) & (most <= 2), (most < 1) | (certain > 2)
    p["number_of_discs_to_treat"] = met.astype("boolean").mask(~met & ~not_met)
    p["considered_disc_borderline_or_open"] = _all(opens) & only(
        listed.notna().astype("boolean"), listed.notna().astype("boolean")
    )
    stop, absolute = _all(p[n] for n in STOP), _all(p[n] for n in ABSOLUTE)
    rest = _all(each for n, each in p.items() if n not in STOP + ABSOLUTE + ADVISORY)
    found["standing"] = np.select(
        [_false(stop), _false(absolute), stop.isna() | absolute.isna(), _false(rest), rest.isna()],
        ["urgent", "not_candidate", "incomplete", "borderline", "incomplete"], "candidate",
    )  # fmt: skip
    found |= {name: _words(each) for name, each in p.items()}
    return pd.DataFrame(found)


def _all(parts: Any) -> Any:
    found = None
    for part in parts:
        found = part if found is None else found & part
    return found


def _false(truth: Any) -> Any:
    return (~truth).fillna(False).astype(bool)


def _words(passes: Any) -> Any:
    import numpy as np
    import pandas as pd

    codes = np.where(passes.isna(), 2, np.where(passes.fillna(False).astype(bool), 0, 1))
    return pd.Categorical.from_codes(codes, categories=["pass", "fail", "undetermined"])
