"""Worked check values of the sheet on disc imaging and discography: slip, height, ratios, discography classes.

Every row names the number it has in the sheet, its source and how far that was verified. Rows that describe images
rather than recorded values have no element here and are left out.
"""

from typing import Any

import pytest

from candidacy.case.load import parse_case
from candidacy.derive.likelihood import post_test
from candidacy.foundation.errors import CaseError, Code
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Why, point
from candidacy.rules.libraries import shipped
from tests.published.rows import Row, rows
from tests.views import case_of, fact_of, meets, told, view_of

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
MEYERDING = "radiology_reference_meyerding"


def mm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "mm"}


def percent(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "%"}


def psi(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "psi"}


# --- slip

HIGHER = {"meyerding_edge": "in_higher_grade"}


@rows(
    Row("W1", 26, "II", MEYERDING, "seen"),
    Row("W3", 51, "III", MEYERDING, "seen"),
    Row("W3", 76, "IV", MEYERDING, "seen"),
    Row("W3", 101, "V", MEYERDING, "seen"),
    Row("W4", 25, "I", MEYERDING, "seen"),
    Row("W4, other wording", 25, "II", "slip_grading_page", "seen", HIGHER),
    Row("W4, edge 50", 50, "II", MEYERDING, "seen"),
    Row("W4, edge 100", 100, "IV", MEYERDING, "seen"),
    Row("T13, gap of the printed table", 25.5, "II", "common_practice", "common practice"),
)
def test_meyerding_grade_of_a_slip(row: Row) -> None:
    case = case_of(disc={"slip_percent": percent(row.given), "slip_direction": "anterior"})
    assert told(fact_of("meyerding_grade", case, "L4-L5", **row.settings)) == row.expected


@pytest.mark.parametrize("edge", [25, 50, 75, 100])
def test_w4_a_slip_on_an_edge_carries_a_remark(edge: int) -> None:
    # 25 % is grade I in one wording and II in another [seen]
    case = case_of(disc={"slip_percent": percent(edge), "slip_direction": "anterior"})
    assert "printed tables differ" in fact_of("meyerding_grade", case, "L4-L5").note


def test_t14_a_posterior_slip_has_no_meyerding_grade() -> None:
    # the grades were made for forward slip (trap T14) [seen]
    case = case_of(disc={"slip_percent": percent(12), "slip_direction": "posterior"})
    fact = fact_of("meyerding_grade", case, "L4-L5")
    assert (fact.value, fact.why) == (None, Why.DOES_NOT_APPLY)


@rows(
    Row("W2, percent", "slip_percent", 23.5, MEYERDING, "seen"),
    Row("W2, grade", "meyerding_grade", "I", MEYERDING, "seen"),
)
def test_slip_of_8_on_34_millimetres(row: Row) -> None:
    case = case_of(disc={"slip": mm(8), "endplate_length": mm(34), "slip_direction": "anterior"})
    found = told(fact_of(row.given, case, "L4-L5"))
    assert found == (
        pytest.approx(row.expected, abs=0.05) if isinstance(row.expected, float) else row.expected
    )


@rows(
    Row("W28, cut 3 mm", 3, M, "global_spine_j_2023_523", "seen"),
    Row("W28, cut 4 mm", 4, N, "older_instability_definitions", "memory"),
    Row("W28, cut 4.5 mm", 4.5, N, "older_instability_definitions", "memory"),
)
def test_w28_translation_of_3_5_mm_against_three_cuts(row: Row) -> None:
    view = view_of(case_of(disc={"translation_on_flexion_extension": mm(3.5)}))
    condition = {"element": "translation_on_flexion_extension", "op": "more_than", "value": row.given}
    assert meets(condition, view, "L4-L5") is row.expected


@pytest.mark.parametrize("cut", [3, 4, 4.5])
def test_w28_within_the_error_band_no_cut_is_settled(cut: float) -> None:
    # reading error of 1.5 mm either way (eur_j_radiol_1994_227 [seen], margin derived)
    band = {"between": [2.0, 5.0], "unit": "mm"}
    view = view_of(case_of(disc={"translation_on_flexion_extension": band}))
    condition = {"element": "translation_on_flexion_extension", "op": "more_than", "value": cut}
    assert meets(condition, view, "L4-L5") is U


# --- grades without a scale


@pytest.mark.parametrize("name", ["degeneration_grade", "disc_grade", "grade"])
def test_w12_a_grade_without_its_scale_is_refused(name: str) -> None:
    # common practice: never accept a bare "4"
    text = f"schema_version: '1'\nid: a\ndiscs: {{L4-L5: {{{name}: 4}}}}\n"
    with pytest.raises(CaseError) as caught:
        parse_case(text)
    assert [problem.code for problem in caught.value.problems] == [Code.WRONG_SCALE]


# --- disc height

IRAN = "anatomy_iran_2014"


@rows(
    Row("W29", (18.14, 10.14, 33.08), 0.855, IRAN, "derived"),
    Row("2.3, L1-2", (10.82, 7.31, 30.23), 0.600, IRAN, "derived"),
    Row("2.3, L2-3", (13.09, 8.58, 32.03), 0.677, IRAN, "derived"),
    Row("2.3, L3-4", (15.21, 9.08, 32.86), 0.739, IRAN, "derived"),
    Row("2.3, L5-S1", (18.71, 8.51, 31.33), 0.869, IRAN, "derived"),
)
def test_disc_height_index(row: Row) -> None:
    front, back, depth = row.given
    disc = {"disc_height_anterior": mm(front), "disc_height_posterior": mm(back), "disc_depth": mm(depth)}
    found = told(fact_of("disc_height_index", case_of(disc=disc), "L4-L5"))
    assert found == pytest.approx(row.expected, abs=5e-4)


@rows(
    Row("W30", "adjacent_disc", 50.0, "common_practice", "common practice"),
    Row("W30, alpha 0.94", "adjacent_disc_level_corrected", 46.8, IRAN, "derived"),
    Row("2.2, own baseline", "own_baseline", 50.0, "common_practice", "common practice"),
    Row("2.2, norm in the record", "level_norm", 50.0, "common_practice", "common practice"),
    Row("2.2, norm of a data set", "level_norm", 53.8, IRAN, "derived", {"disc_height_norms": "iran_2014"}),
    Row(
        "2.2, norm of another",
        "level_norm",
        45.9,
        "nepal_mri_morphometry",
        "derived",
        {"disc_height_norms": "nepal"},
    ),
)
def test_w30_height_loss_of_6_against_12_mm(row: Row) -> None:
    disc = {
        "disc_height_middle": mm(6),
        "disc_height_method": "middle",
        "disc_height_reference": row.given,
        "disc_height_reference_value": mm(12),
    }
    found = told(fact_of("disc_height_loss", case_of(disc=disc, level="L5-S1"), "L5-S1", **row.settings))
    assert found == pytest.approx(row.expected, abs=0.05)


@rows(
    Row("2.2, L2-3 / L1-2", ("L2-L3", 11.59, 10.00), 1.159, IRAN, "derived"),
    Row("2.2, L3-4 / L2-3", ("L3-L4", 12.45, 11.59), 1.074, IRAN, "derived"),
    Row("2.2, L4-5 / L3-4", ("L4-L5", 13.82, 12.45), 1.110, IRAN, "derived"),
    Row("2.2, L5-S1 / L4-5", ("L5-S1", 12.99, 13.82), 0.940, IRAN, "derived"),
)
def test_ratio_of_neighbours_follows_from_the_published_middle_heights(row: Row) -> None:
    level, below, above = row.given
    assert below / above == pytest.approx(row.expected, abs=5e-4)
    assert shipped().tables()("adjacent_disc_ratios")[level]["ratio"] == row.expected


# --- likelihood ratios


def prior(value: float) -> dict[str, float]:
    return {"disc_pretest_probability_low": value, "disc_pretest_probability_high": value}


def finding(name: str, pretest: float) -> dict[str, Any]:
    return {"post_test_finding": name, **prior(pretest)}


@rows(
    Row(
        "W31, present", {"pfirrmann_grade": "IV"}, 64.7, "han_2023", "seen", finding("disc_degeneration", 42)
    ),
    Row("W31, absent", {"pfirrmann_grade": "I"}, 9.8, "han_2023", "seen", finding("disc_degeneration", 42)),
    Row("W32, present", {"modic_type": "1"}, 87.9, "han_2023", "seen", finding("modic_1", 42)),
    Row("W32, absent", {"modic_type": "0"}, 37.8, "han_2023", "seen", finding("modic_1", 42)),
    Row(
        "W33, present",
        {"high_intensity_zone": True},
        52.1,
        "han_2023",
        "seen",
        finding("high_intensity_zone", 26),
    ),
    Row(
        "W33, absent",
        {"high_intensity_zone": False},
        17.6,
        "han_2023",
        "seen",
        finding("high_intensity_zone", 26),
    ),
)
def test_post_test_probability(row: Row) -> None:
    fact = fact_of("post_test_probability_of_disc_source", case_of(disc=row.given), "L4-L5", **row.settings)
    assert told(fact) == pytest.approx(row.expected, abs=0.05)


@rows(
    Row("W34", (39, 2.8), 64.2, "hancock_2007", "seen"),
    Row("W31", (42, 2.53), 64.7, "han_2023", "seen"),
)
def test_bayes_rule_on_a_ratio(row: Row) -> None:
    before, ratio = row.given
    assert post_test(point(before), ratio).low == pytest.approx(row.expected, abs=0.05)


@rows(
    Row("W35, positive", 0, 2.58, "jain_2021", "seen"),
    Row("W35, negative", 1, 0.11, "jain_2021", "seen"),
)
def test_w35_ratios_from_sensitivity_and_specificity(row: Row) -> None:
    table = shipped().tables()("disc_likelihood_ratios")["pfirrmann_three_or_more"]
    sensitivity, specificity = 0.93, 0.64
    ratios = (sensitivity / (1 - specificity), (1 - sensitivity) / specificity)  # by definition
    assert ratios[row.given] == pytest.approx(row.expected, abs=0.005)
    assert (table["positive"], table["negative"])[row.given] == row.expected


# --- discography

SEEN_BY_ALL = {"discography_sedation": "none", "discography_levels": ["L3-L4", "L4-L5"]}
# A painless control as the patient page asks: pressed to 50 psi above opening [seen], without a leak.
PAINLESS = {
    "discography_concordance": "none",
    "discography_pain_nrs": 0,
    "discography_leak": False,
    "discography_opening_pressure": psi(25),
    "discography_peak_pressure": psi(75),
}


def injected(concordance: str, nrs: float, above_opening: float, leak: bool = False) -> dict[str, Any]:
    return {
        "discography_concordance": concordance,
        "discography_pain_nrs": nrs,
        "discography_opening_pressure": psi(20),
        "discography_pain_pressure": psi(20 + above_opening),
        "discography_leak": leak,
    }


@rows(
    Row("W38", injected("exact", 7, 12), "positive", "spine_questions_page", "seen"),
    Row("W39, cut 7", injected("exact", 6, 12), "negative", "spine_questions_page", "seen"),
    Row("W39, cut 6", injected("exact", 6, 12), "positive", "derby_2010", "seen", {"discography_intensity_cut": "6"}),
    Row("W39, series with cut 6", injected("exact", 6, 12), "positive", "derby_2010", "seen",
        {"discography_definition": "pressure_controlled_series"}),
    Row("T17, cut 8", injected("exact", 7, 12), "negative", "xi_2016", "seen", {"discography_intensity_cut": "8"}),
    Row("T17, series with cut 8", injected("exact", 8, 60), "positive", "xi_2016", "seen",
        {"discography_definition": "fusion_selection_series"}),
    Row("W40", injected("unfamiliar", 9, 10), "negative", "spine_questions_page", "seen"),
    Row("T16, 40 psi above opening is 60 absolute", injected("exact", 8, 40), "indeterminate",
        "spine_questions_page", "seen"),
    Row("T16, the same under 50 psi above opening", injected("exact", 8, 40), "positive",
        "spine_society_discography", "memory", {"discography_definition": "pressure_controlled_series"}),
)  # fmt: skip
def test_class_of_a_disc_beside_a_painless_neighbour(row: Row) -> None:
    case = case_of(SEEN_BY_ALL, discs={"L3-L4": PAINLESS, "L4-L5": row.given})
    assert told(fact_of("discography_class", case, "L4-L5", **row.settings)) == row.expected


def test_w41_without_a_control_disc_the_test_is_not_valid() -> None:
    # textbook page: neighbours are the controls; none, no valid test [seen]
    patient = {**SEEN_BY_ALL, "discography_levels": ["L4-L5"]}
    fact = fact_of("discography_class", case_of(patient, disc=injected("exact", 8, 20)), "L4-L5")
    assert (told(fact), fact.note) == (
        "not_valid",
        "no control disc that is valid and negative by the same definition",
    )


@rows(
    Row("T30, manometer", "discography_pain_pressure", ("indeterminate", "positive"), "common_practice", "common practice"),
    Row("T30, leak", "discography_leak", ("indeterminate", "positive"), "common_practice", "common practice"),
    Row("T30, concordance", "discography_concordance", ("negative", "positive"), "common_practice", "common practice"),
)  # fmt: skip
def test_t30_a_missing_field_is_never_read_as_negative(row: Row) -> None:
    disc = {name: value for name, value in injected("exact", 8, 12).items() if name != row.given}
    case = case_of(SEEN_BY_ALL, discs={"L3-L4": PAINLESS, "L4-L5": disc})
    assert set(row.expected) <= told(fact_of("discography_class", case, "L4-L5"))


def test_t30_a_control_that_is_not_recorded_leaves_the_test_open() -> None:
    patient = {"discography_sedation": "none"}
    fact = fact_of("discography_class", case_of(patient, disc=injected("exact", 8, 12)), "L4-L5")
    assert told(fact) == {"positive", "not_valid"}


@rows(
    Row("W42", 12, "chemical", "derby_1999", "memory"),
    Row("W42", 30, "mechanical", "derby_1999", "memory"),
    Row("W42", 60, "indeterminate", "derby_1999", "memory"),
    Row("7.4, just below the edge", 14.9, "chemical", "derby_1999", "memory"),
    Row("7.4, edge 15", 15, "mechanical", "derby_1999", "memory"),
    Row("7.4, edge 50", 50, "mechanical", "derby_1999", "memory"),
    Row("7.4, edge 90", 90, "indeterminate", "derby_1999", "memory"),
)
def test_pressure_band_at_concordant_pain(row: Row) -> None:
    case = case_of(disc=injected("exact", 8, row.given))
    assert told(fact_of("pressure_category", case, "L4-L5")) == row.expected


def test_w43_relief_after_a_leak_is_not_interpretable() -> None:
    # common practice, on the concern of Bartynski and Rothfus 2006 [seen]
    disc = {
        "anaesthetic_pain_before": 10,
        "anaesthetic_pain_after": 1,
        "anaesthetic_minutes": {"value": 15, "unit": "min"},
    }
    leaked = fact_of("anaesthetic_relief", case_of(disc={**disc, "discography_leak": True}), "L4-L5")
    assert (leaked.value, leaked.why) == (None, Why.NOT_INTERPRETABLE)
    tight = fact_of("anaesthetic_relief", case_of(disc={**disc, "discography_leak": False}), "L4-L5")
    assert told(tight) == 90


def test_w43_relief_as_reported_keeps_the_rule_about_a_leak() -> None:
    # common practice, on the concern of Bartynski and Rothfus 2006 [seen]
    reported = {"anaesthetic_relief_reported": {"value": 90, "unit": "%"}}
    leaked = fact_of("anaesthetic_relief", case_of(disc={**reported, "discography_leak": True}), "L4-L5")
    assert (leaked.value, leaked.why) == (None, Why.NOT_INTERPRETABLE)
    assert fact_of("anaesthetic_relief", case_of(disc=reported), "L4-L5").value is None
    tight = fact_of("anaesthetic_relief", case_of(disc={**reported, "discography_leak": False}), "L4-L5")
    assert told(tight) == 90


@rows(
    Row("W20", {"schizas_grade": "C"}, {True}, "radiology_reference_stenosis", "seen"),
    Row("W20", {"schizas_grade": "D"}, {True}, "radiology_reference_stenosis", "seen"),
    Row("W20, one grade less", {"schizas_grade": "B"}, {False}, "pers_2024", "seen"),
    Row("W21", {"lee_central_grade": 2}, {False}, "radiology_reference_stenosis", "seen"),
    Row("W21, one grade more", {"lee_central_grade": 3}, {True}, "radiology_reference_stenosis", "seen"),
    Row("words", {"canal_stenosis": "severe"}, {True}, "nct03692221", "seen"),
    Row("words, one grade less", {"canal_stenosis": "moderate"}, {False}, "nct03692221", "seen"),
)
def test_severe_central_stenosis_by_the_words_of_each_scale(row: Row) -> None:
    found = fact_of("severe_central_stenosis", case_of(disc=row.given), "L4-L5").value
    assert found == Options(frozenset(row.expected))


# The constructed patient of the sheet: L3-L4 control, L4-L5 positive, L5-S1 negative.
CONSTRUCTED = {
    "L3-L4": {
        "discography_role": "control",
        "discography_opening_pressure": psi(25),
        "discography_peak_pressure": psi(75),
        "discography_pain_nrs": 0,
        "discography_concordance": "none",
        "discography_volume": {"value": 1.5, "unit": "mL"},
        "discography_fissure_grade": 0,
        "discography_leak": False,
    },
    "L4-L5": {
        "discography_role": "suspect",
        "discography_opening_pressure": psi(18),
        "discography_pain_pressure": psi(30),
        "discography_pain_nrs": 8,
        "discography_concordance": "exact",
        "discography_volume": {"value": 1.8, "unit": "mL"},
        "discography_fissure_grade": 4,
        "discography_leak": False,
    },
    "L5-S1": {
        "discography_role": "suspect",
        "discography_opening_pressure": psi(20),
        "discography_pain_pressure": psi(58),
        "discography_pain_nrs": 5,
        "discography_concordance": "unfamiliar",
        "discography_volume": {"value": 2.4, "unit": "mL"},
        "discography_fissure_grade": 2,
        "discography_leak": False,
    },
}


@rows(
    Row("constructed, control", ("discography_class", "L3-L4"), "negative", "constructed", "common practice"),
    Row("constructed, control", ("pressure_category", "L3-L4"), "normal", "derby_1999", "memory"),
    Row("constructed", ("discography_pressure_above_opening", "L4-L5"), 12, "constructed", "common practice"),
    Row("constructed", ("discography_class", "L4-L5"), "positive", "constructed", "common practice"),
    Row("constructed", ("pressure_category", "L4-L5"), "chemical", "derby_1999", "memory"),
    Row("constructed", ("discography_pressure_above_opening", "L5-S1"), 38, "constructed", "common practice"),
    Row("constructed", ("discography_class", "L5-S1"), "negative", "constructed", "common practice"),
    Row("constructed, other definition", ("discography_class", "L4-L5"), "positive", "derby_2010", "seen",
        {"discography_definition": "pressure_controlled_series"}),
    Row("constructed, other definition", ("discography_class", "L5-S1"), "negative", "derby_2010", "seen",
        {"discography_definition": "pressure_controlled_series"}),
)  # fmt: skip
def test_the_constructed_patient(row: Row) -> None:
    element, level = row.given
    patient = {"discography_sedation": "none", "discography_levels": list(CONSTRUCTED)}
    assert told(fact_of(element, case_of(patient, discs=CONSTRUCTED), level, **row.settings)) == row.expected
