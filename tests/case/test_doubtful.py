"""A number unlike the one in the words of its source is doubtful; words that tell no single number say nothing about it.

Passages are invented; conversions are those of `candidacy.foundation.units`.
"""

import json

import pytest

from candidacy.case.doubtful import doubt
from tests.reads import case_of

SAME = [
    ("body_mass_index", 31, "kg/m2", "BMI 31"),
    ("body_mass_index", 31, "kg/m2", "BMI of 31.2 today"),
    ("body_weight", 70, "kg", "weight 154 lb"),
    ("body_weight", 154, "lb", "weighs 70 kg"),
    ("body_height", 168, "cm", "height 66 in"),
    ("pain_duration", 24, "month", "low back pain for 2 years"),
    ("hba1c", 6.1, "%", "HbA1c 6.1 %"),
    ("hba1c", 6.1, "%", "HbA1c 43 mmol/mol"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score -2.1 at L1"),
    ("disc_height_loss", 60, "%", "L4-5: 40 % of the height is left"),
    ("disc_height_loss", 60, "%", "disc height 40 % of normal"),
    ("disc_height_loss", 60, "%", "disc height reduced to 40 %"),
    ("disc_height_loss", 60, "%", "60 % loss of height"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score minus 2.1"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score: − 2.1"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score –2.1"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score 2.1"),  # without a sign it tells nothing of it
    ("bone_density_t_score_lowest", 1.2, "", "T-score +1.2"),
    ("bone_density_t_score_lowest", 1.2, "", "T-score-1.2"),  # a dash that joins
    ("displacement_size", 3, "mm", "L5-S1 protrusion -3 mm"),  # what cannot lie below zero has no sign
    # tells no single number, or not exactly
    ("body_mass_index", 31, "kg/m2", "BMI went from 41 to 31"),
    ("pain_duration", 20, "month", "for almost 2 years"),
    ("odi_percent", 44, "%", "22/50 points"),
    ("cigarettes_per_day", 20, "", "1 pack daily"),
    ("opioid_mme_per_day", 60, "mg/d", "oxycodone 40 mg a day"),
    ("hba1c", 6.1, "%", "HbA1c 6,1"),
    ("age", 44, "year", "born 1982-05-17"),
    ("displacement_size", 4, "mm", "grade 2 protrusion"),
    ("platelet_count", 245, "10*9/L", "platelets 245000/uL"),
    ("pain_duration", 18, "month", "for 1½ years"),
    ("body_height", 168, "cm", "height 5'6"),
    ("body_height", 168, "cm", "5 ft 6 in."),
    ("phq9_total", 4, "", "PHQ-9 total low"),
    ("discography_pain_nrs", 8, "", "8/10 pain"),
    ("pain_duration", 24, "month", "since 2 years"),
    ("pain_duration", 24, "month", "since 2019"),
    ("discography_pain_nrs", 8, "", "2 injections"),
]
OTHER = [
    ("body_mass_index", 31, "kg/m2", "BMI 41"),
    ("body_weight", 70, "kg", "weight 190 lb"),
    ("hba1c", 6.1, "%", "HbA1c 8.1 %"),
    ("pain_duration", 24, "month", "pain for 3 months"),
    ("odi_percent", 44, "%", "ODI 24 %"),
    ("displacement_size", 3, "mm", "L5-S1 protrusion, 8 mm"),
    ("platelet_count", 210, "10*9/L", "platelets 90"),
    ("phq9_total", 4, "", "PHQ-9: 14"),
    ("bone_density_t_score_lowest", -2.1, "", "T-score +2.1"),
    ("bone_density_t_score_lowest", 2.1, "", "T-score -2.1"),
    ("bone_density_t_score_lowest", 2.1, "", "T-score minus 2.1"),
    ("bone_density_t_score_lowest", 2.1, "", "T-score −2.1"),
    ("odi_percent", 56, "%", "ODI 44"),
    ("discography_pain_nrs", 8, "", "2/10 pain"),
    ("pain_duration", 24, "month", "pain since 3 months"),
    ("back_pain_nrs_average", 7, "", "3 out of 10 this week"),
    ("odi_percent", 44, "%", "ODI 56 %"),
    ("disc_height_loss", 60, "%", "40 % loss of disc height"),
    ("disc_height_loss", 40, "%", "height reduced by 60 % of normal"),
    ("facet_block_relief", 70, "%", "30 % relief"),
    ("body_height", 168, "cm", "height: 5'1\""),
    ("body_height", 168, "cm", "5 ft 1 in"),
]


def said(element: str, value: float, unit: str, words: str, note: str = "") -> str:
    scope = "discs: {L4-L5: {%s}}" if element.startswith("dis") else "patient: {%s}"
    fact = (
        {"value": value, "words": words} | ({"unit": unit} if unit else {}) | ({"note": note} if note else {})
    )
    case = case_of(scope % f"{element}: {json.dumps(fact)}")
    (found,) = (each for each in case.facts.stated() if each.element == element)
    return doubt(found)


@pytest.mark.parametrize(("element", "value", "unit", "words"), SAME)
def test_words_that_say_the_same_or_nothing_leave_the_value_alone(
    element: str, value: float, unit: str, words: str
) -> None:
    assert said(element, value, unit, words) == ""


@pytest.mark.parametrize(("element", "value", "unit", "words"), OTHER)
def test_words_with_another_number_are_told_until_somebody_checked(
    element: str, value: float, unit: str, words: str
) -> None:
    assert words in said(element, value, unit, words)
    assert said(element, value, unit, words, "Checked at the source by the coordinator") == ""
