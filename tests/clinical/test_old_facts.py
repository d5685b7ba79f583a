"""What changes quickly is no answer once it is old or has no date: never passed, never failed; a sign of an emergency still acts."""

from copy import deepcopy
from functools import cache
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.case.load import parse_case
from candidacy.foundation.dates import day
from candidacy.foundation.values import Why
from candidacy.rules.libraries import shipped
from tests.clinical.referral import Referral, record
from tests.quick_yaml import write_yaml
from tests.rows import each_row

COMPLETE = Referral.model_validate(
    {"id": "complete", "expect": "candidate", "because": "nothing stands against it", "source": "base"}
)
OLD = "2023-11-24"


@cache
def assessor(rules: str) -> Assessor:
    return Assessor(shipped().rule_set(rules))


def assess(changes: dict[str, Any], rules: str = "practice_baseline") -> Assessment:
    """The complete referral with some facts of the patient replaced, as they stand in a record."""
    plain = deepcopy(record(COMPLETE))
    plain["patient"] |= changes
    case = parse_case(write_yaml(plain), "complete")
    return assessor(rules).assess(case, day(plain["as_of"]))


def test_the_record_beneath_is_a_candidate() -> None:
    assert assess({}).standing == "candidate"


# element, a value that passes, one that fails, and the unit
AGEING: list[tuple[str, Any, Any, str | None]] = [
    ("platelet_count", 240, 45, "10*9/L"),
    ("inr", 1.0, 3.0, None),
    ("haemoglobin", 14, 8, "g/dL"),
    ("body_temperature", 36.7, 39.0, "Cel"),
    ("c_reactive_protein", 2, 60, "mg/L"),
    ("esr", 8, 90, "mm/h"),
    ("white_cell_count", 6, 18, "10*9/L"),
    ("hba1c", 5.3, 11, "%"),
    ("glucose", 95, 300, "mg/dL"),
    ("active_infection", False, True, None),
    ("recent_infection", False, True, None),
]


def told(value: Any, unit: str | None, **more: Any) -> dict[str, Any]:
    return {"value": value} | ({"unit": unit} if unit else {}) | more


@pytest.mark.parametrize(("element", "passing", "failing", "unit"), AGEING, ids=[row[0] for row in AGEING])
def test_an_old_value_is_asked_for_again_whatever_it_was(
    element: str, passing: Any, failing: Any, unit: str | None
) -> None:
    for value in (passing, failing):
        found = assess({element: told(value, unit, date=OLD)})
        assert found.standing == "incomplete", value
        (asked,) = [each for each in found.missing if each.element == element and each.weight != "no"]
        assert asked.why is Why.OUT_OF_DATE


@pytest.mark.parametrize(("element", "passing", "failing", "unit"), AGEING, ids=[row[0] for row in AGEING])
def test_an_undated_value_does_not_pass(element: str, passing: Any, failing: Any, unit: str | None) -> None:
    found = assess({element: told(passing, unit)})
    assert found.standing == "incomplete"
    (asked,) = [each for each in found.missing if each.element == element and each.weight != "no"]
    assert asked.why is Why.UNDATED


DABIGATRAN = {
    "medicine_agent": "dabigatran", "medicine_class": "direct_oral_anticoagulant", "medicine_route": "oral",
    "medicine_intensity": "therapeutic", "medicine_indication": "atrial_fibrillation",
    "medicine_last_dose_date": "2026-12-03", "medicine_held": True, "medicine_prescriber_agrees_to_hold": True,
}  # fmt: skip
KIDNEYS: dict[str, Any] = {"value": 95, "unit": "mL/min"}


@pytest.mark.parametrize(
    ("clearance", "outcome", "why"),
    [
        (KIDNEYS | {"date": "2026-12-01"}, "pass", None),
        (KIDNEYS | {"date": OLD}, "undetermined", Why.OUT_OF_DATE),
        (KIDNEYS, "undetermined", Why.UNDATED),
    ],
)
def test_a_hold_that_the_kidneys_lengthen_waits_for_a_recent_creatinine(
    clearance: dict[str, Any], outcome: str, why: Why | None
) -> None:
    held = Referral.model_validate(
        {"id": "held", "base": "procedure_day", "rules": "procedural_safety", "expect": "candidate",
         "set": {"antithrombotic_use": "anticoagulant", "antithrombotic_plan_agreed": True},
         "add": {"medicines": [DABIGATRAN]}, "because": "days enough for healthy kidneys", "source": "base"}
    )  # fmt: skip
    plain = deepcopy(record(held))
    plain["patient"]["creatinine_clearance"] = clearance
    case = parse_case(write_yaml(plain), "held")
    found = assessor("procedural_safety").assess(case, day(plain["as_of"]))
    (hold,) = [each for each in found.results if each.id == "antithrombotic_hold_interval_over"]
    assert hold.outcome == outcome
    asked = {each.element: each.why for each in found.missing if hold.id in each.criteria}
    assert asked.get("creatinine_clearance") is why


SIGNS: list[dict[str, Any]] = [
    {"infection_signs": {"value": True}},
    {"chills_or_rigors": {"value": True}},
    {"recent_bacteraemia": {"value": True}},
    {"penetrating_wound": {"value": True}},
    {"body_temperature": {"value": 39.0, "unit": "Cel"}},
    {"back_pain_new_or_worse": {"value": True}, "c_reactive_protein": {"value": 60, "unit": "mg/L"}},
    {"back_pain_new_or_worse": {"value": True}, "esr": {"value": 90, "unit": "mm/h"}},
]
EVERY_SET = ["practice_baseline", "procedural_safety", "trial_style_strict", "wide_screen", "disc_source"]


@pytest.mark.parametrize("rules", EVERY_SET)
@pytest.mark.parametrize("sign", SIGNS, ids=[next(iter(sign)) + str(len(sign)) for sign in SIGNS])
def test_a_sign_of_an_emergency_acts_without_a_date(sign: dict[str, Any], rules: str) -> None:
    assert assess(sign, rules).standing == "urgent"


# element, its denial, and the sign
EMERGENCIES: list[tuple[str, Any, Any]] = [
    ("cauda_equina_signs", False, True),
    ("progressive_neurological_deficit", False, True),
    ("infection_signs", False, True),
    ("suicidal_thoughts", False, True),
    ("phq9_item9", 0, 1),
    ("cancer_signs", False, True),
    ("suspected_fracture", False, True),
]


@pytest.mark.parametrize("dated", [{"date": OLD}, {}], ids=["old", "undated"])
@pytest.mark.parametrize(("element", "denied", "sign"), EMERGENCIES, ids=[row[0] for row in EMERGENCIES])
@each_row("rules", EVERY_SET)
def test_a_sign_of_an_emergency_acts_at_any_age_and_its_denial_does_not(
    rules: str, element: str, denied: Any, sign: Any, dated: dict[str, Any]
) -> None:
    assert assess({element: {"value": sign} | dated}, rules).standing == "urgent"
    found = assess({element: {"value": denied} | dated}, rules)
    assert found.standing not in ("candidate", "urgent")
    why = {each.element: each.why for each in found.missing if each.weight != "no"}
    assert why[element] is (Why.OUT_OF_DATE if dated else Why.UNDATED)


def test_a_fresh_denial_of_all_signs_outlives_an_old_one_of_a_single_sign() -> None:
    assert assess({"chills_or_rigors": {"value": False, "date": OLD}}).standing == "candidate"
    assert assess({"saddle_numbness": {"value": False, "date": OLD}}).standing == "candidate"
