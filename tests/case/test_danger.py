"""What the catalogue declares to be dangerous: it fits its element, has its source, and no sign was left out unsaid."""

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Danger, Element
from candidacy.rules.libraries import shipped
from candidacy.rules.operators import possible_operators
from tests.rows import each_row

ROWS = [(element, danger) for element in catalogue().all for danger in element.danger]

# Groups in which every element that can be abnormal declares what is, or is listed here with the reason why not.
GUARDED = ("red_flags", "infection_and_laboratory", "allergies", "mind_and_setting")
NOT_A_DANGER = {
    "minor_trauma": "counts only with fragile bone, which a criterion joins",
    "red_flag_screen_date": "a date of asking",
    "back_pain_new_or_worse": "counts only with fever or a raised marker, which criteria join",
    "infection_resolved_date": "a date of recovery",
    "antibiotic_course_end_date": "a date of recovery",
    "creatinine": "has no limit of its own; its clearance and filtration rate have",
    "allergy_list_complete": "completeness of asking, which a criterion asks for",
    "antibiotic_allergy": "counts only against the antibiotic planned, which a criterion compares",
    "antibiotic_allergies": "counts only against the antibiotic planned, which a criterion compares",
    "product_residues": "what a product holds, harmless without the allergy",
    "phq9_band": "worked out from the total, which declares it",
    "gad7_band": "worked out from the total, which declares it",
    "phq2_total": "a screen that leads to the whole questionnaire",
    "gad2_total": "a screen that leads to the whole questionnaire",
    "pcs_total": "a predictor of outcome and no danger",
    "fabq_pa": "a predictor of outcome and no danger",
    "fabq_w": "a predictor of outcome and no danger",
    "mspq_total": "part of the distress class, which declares it",
    "somatization": "a predictor of a false test and no danger",
    "compensation_claim": "a predictor of outcome and no danger",
    "litigation": "a predictor of outcome and no danger",
    "substance_use_last_date": "a date of recovery",
    "expectations_realistic": "a conversation and no danger",
}


def _named(value: object) -> str:
    return value.name if isinstance(value, Element) else value.op if isinstance(value, Danger) else str(value)


@each_row(("element", "danger"), ROWS, ids=_named)
def test_a_danger_fits_its_element_and_names_a_source(element: Element, danger: Danger) -> None:
    assert danger.op in possible_operators(element)
    assert danger.source in shipped().sources()
    assert danger.why.endswith(".")
    assert isinstance(danger.value, tuple) == (danger.op in ("one_of", "contains_any"))
    for limit in danger.limits:
        if element.kind in ("choice", "members"):
            assert limit in element.codes
        elif element.kind == "boolean":
            assert isinstance(limit, bool)
        else:
            assert element.possible is not None
            assert not isinstance(limit, bool | str)
            assert element.possible.low is None or element.possible.low <= limit
            assert element.possible.high is None or limit <= element.possible.high


@pytest.mark.parametrize("element", [e for e in catalogue().all if e.danger and e.codes], ids=_named)
def test_some_answer_is_no_danger(element: Element) -> None:
    named = {limit for danger in element.danger for limit in danger.limits}
    assert element.kind == "members" or set(element.codes) - named


@each_row("element", [e for e in catalogue().all if catalogue().group_of(e.name) in GUARDED], ids=_named)
def test_every_safety_element_declares_its_danger_or_has_a_reason(element: Element) -> None:
    assert bool(element.danger) != (element.name in NOT_A_DANGER)


def test_reasons_are_given_for_elements_that_exist() -> None:
    assert [name for name in NOT_A_DANGER if name not in catalogue()] == []
    assert {catalogue().group_of(name) for name in NOT_A_DANGER} <= set(GUARDED)


def test_a_sign_of_a_dangerous_summary_is_dangerous_too() -> None:
    signs = [name for e in catalogue().all if e.danger for name in e.covers if not catalogue()[name].danger]
    assert signs == []
