"""Local anaesthetic load, morphine equivalents and creatinine clearance where facts are missing or imprecise."""

from typing import Any

import pytest

from candidacy.assessment.relate import view_of as as_the_rules_see
from candidacy.derive.anaesthetic import limit_mg
from candidacy.foundation.values import Span, Why
from candidacy.rules.libraries import load_rule_set, shipped
from tests.views import AS_OF, case_of, fact_of, told

PLAN = {
    "body_weight": {"value": 60, "unit": "kg"},
    "planned_local_anaesthetics": ["lidocaine"],
    "planned_lidocaine_strength": {"value": 1, "unit": "%"},
    "planned_lidocaine_volume": {"value": 13.5, "unit": "mL"},
    "planned_lidocaine_with_epinephrine": False,
}


def load(changes: dict[str, Any] | None = None, **settings: Any) -> Any:
    facts = {k: v for k, v in {**PLAN, **(changes or {})}.items() if v is not None}
    return fact_of("local_anaesthetic_load", case_of(facts), **settings)


def test_half_the_limit() -> None:
    assert told(load()) == 0.5


def test_unknown_epinephrine_leaves_both_limits_possible() -> None:
    assert told(load({"planned_lidocaine_with_epinephrine": None})) == (pytest.approx(135 / 420), 0.5)


def test_nothing_planned_is_no_load_and_nothing_recorded_is_unknown() -> None:
    assert told(load({"planned_local_anaesthetics": []})) == 0
    assert load({"planned_local_anaesthetics": None}).value is None
    assert load({"body_weight": None}).value is None


def test_an_agent_without_its_volume_leaves_a_lower_bound() -> None:
    both = {"planned_local_anaesthetics": ["lidocaine", "bupivacaine"]}
    low, high = told(load(both))
    assert low == 0.5
    assert high == float("inf")


def test_an_open_list_leaves_a_lower_bound() -> None:
    assert told(load({"planned_local_anaesthetics": {"includes": ["lidocaine"]}}))[0] == 0.5


def test_an_agent_of_volume_zero_adds_nothing() -> None:
    more = {
        "planned_local_anaesthetics": ["lidocaine", "ropivacaine"],
        "planned_ropivacaine_volume": {"value": 0, "unit": "mL"},
    }
    assert told(load(more)) == 0.5


def test_an_agent_without_a_limit_is_said_to_have_none() -> None:
    assert load({"planned_local_anaesthetics": ["lidocaine", "other"]}).why is Why.DOES_NOT_APPLY


def test_the_cautious_limit_is_lower() -> None:
    assert told(load(local_anaesthetic_limit="cautious")) == pytest.approx(135 / 180)


def test_ideal_weight_where_the_setting_asks_for_it() -> None:
    # men cm - 100, women cm - 105, a secondary page [weak]
    heavy = {"body_weight": {"value": 100, "unit": "kg"}, "body_height": {"value": 160, "unit": "cm"}}
    setting = {"local_anaesthetic_weight": "lower_of_actual_and_ideal"}
    assert told(load({**heavy, "sex": "male"}, **setting)) == pytest.approx(135 / 270)
    assert told(load({**heavy, "sex": "female"}, **setting)) == pytest.approx(135 / 247.5)
    assert told(load(heavy, **setting)) == (pytest.approx(135 / 270), pytest.approx(135 / 247.5))
    assert told(load(heavy)) == pytest.approx(135 / 300)
    assert load({"body_weight": {"value": 100, "unit": "kg"}}, **setting).value is None


def test_beyond_the_cap_several_weights_share_a_limit() -> None:
    row = shipped().tables()("local_anaesthetic_limits")["lidocaine_plain"]
    assert limit_mg(row, "usual", Span(50, 90, False, True)) == Span(225, 300)


# --- opioids


def opioid(**changes: Any) -> dict[str, Any]:
    entry = {
        "medicine_agent": "oxycodone",
        "medicine_class": "opioid",
        "medicine_route": "oral",
        "medicine_dose": {"value": 10, "unit": "mg"},
        "medicine_doses_per_day": 2,
        **changes,
    }
    return {name: value for name, value in entry.items() if value is not None}


def mme(
    *entries: dict[str, Any], complete: bool = True, patient: dict[str, Any] | None = None, **settings: Any
) -> Any:
    case = case_of(patient, medicines=(list(entries), complete))
    return fact_of("opioid_mme_per_day", case, **settings)


def test_an_open_list_leaves_only_a_lower_bound() -> None:
    fact = mme(opioid(), complete=False)
    assert told(fact) == (30, 5000)
    assert "least" in fact.note


def test_no_opioid_in_a_complete_list_is_zero() -> None:
    assert told(mme({"medicine_agent": "apixaban"}, {"medicine_class": "antidiabetic"})) == 0
    assert mme(complete=False).value is None


def test_an_opioid_denied_is_zero_also_beside_one_that_ended_long_ago() -> None:
    assert told(mme(complete=False, patient={"opioid_use": False})) == 0
    rules = load_rule_set("practice_baseline")
    for ended, dose in (("2022-01-01", 0), ("2026-11-20", 30), (None, 30)):
        case = case_of({"opioid_use": False}, medicines=[opioid(medicine_last_dose_date=ended)])
        view = as_the_rules_see(case.facts, AS_OF, rules)
        assert (view.fact("opioid_use", "patient").why is Why.CONFLICTING) is bool(dose)
        assert told(view.fact("opioid_mme_per_day", "patient")) == dose


def test_an_opioid_whose_last_dose_may_be_recent_contradicts_a_denial() -> None:
    case = case_of({"opioid_use": False}, medicines=[opioid(medicine_last_dose_date="2026-10")])
    view = as_the_rules_see(case.facts, AS_OF, load_rule_set("practice_baseline"))
    assert view.fact("opioid_use", "patient").why is Why.CONFLICTING


def test_an_opioid_listed_without_its_last_dose_contradicts_a_denial_however_old_the_list_is() -> None:
    listed = opioid(
        **{
            name: {"value": opioid()[name], "date": "2026-06-01"}
            for name in ("medicine_class", "medicine_agent")
        }
    )
    case = case_of({"opioid_use": {"value": False, "date": "2026-05-01"}}, medicines=[listed])
    view = as_the_rules_see(case.facts, AS_OF, load_rule_set("practice_baseline"))
    assert view.fact("opioid_mme_per_day", "patient").why is Why.CONFLICTING


@pytest.mark.parametrize(
    "change",
    [
        {"medicine_dose": None},
        {"medicine_doses_per_day": None},
        {"medicine_route": None},
        {"medicine_route": "intravenous"},
        {"medicine_agent": "other_opioid"},
    ],
)
def test_an_opioid_that_cannot_be_counted_leaves_a_lower_bound(change: dict[str, Any]) -> None:
    assert told(mme(opioid(), opioid(**change))) == (30, 5000)


def test_a_medicine_of_unknown_kind_may_be_an_opioid() -> None:
    assert told(mme(opioid(), {"medicine_name": "as in the letter"})) == (30, 5000)


def test_an_imprecise_dose_gives_a_range() -> None:
    assert told(mme(opioid(medicine_doses_per_day={"between": [2, 4]}))) == (30, 60)


def test_a_fentanyl_patch_goes_by_its_rate_and_never_by_milligrams() -> None:
    patch = {
        "medicine_agent": "fentanyl",
        "medicine_route": "transdermal",
        "medicine_patch_rate": {"value": 50, "unit": "mcg/h"},
    }
    assert told(mme(patch)) == 120
    in_milligrams = opioid(medicine_agent="fentanyl", medicine_route="transdermal")
    assert mme(in_milligrams).value is None


@pytest.mark.parametrize(
    ("dose", "expected"), [(20, 80), (21, 168), (40, 320), (60, 600), (61, 732), (80, 960)]
)
def test_methadone_of_2016_goes_by_daily_dose(dose: float, expected: float) -> None:
    # factors 4, 8, 10 and 12 by daily dose [memory]
    entry = opioid(
        medicine_agent="methadone", medicine_dose={"value": dose, "unit": "mg"}, medicine_doses_per_day=1
    )
    assert told(mme(entry, mme_factor_edition="2016")) == expected
    assert told(mme(entry)) == pytest.approx(4.7 * dose)


# --- clearance


def test_an_unknown_sex_gives_the_range_of_both() -> None:
    facts = {
        "age": {"value": 70, "unit": "year"},
        "body_weight": {"value": 72, "unit": "kg"},
        "creatinine": {"value": 1, "unit": "mg/dL"},
    }
    assert told(fact_of("creatinine_clearance", case_of(facts))) == (pytest.approx(59.5), pytest.approx(70))


def test_creatinine_in_micromoles_gives_the_same_clearance() -> None:
    facts = {
        "age": {"value": 70, "unit": "year"},
        "body_weight": {"value": 72, "unit": "kg"},
        "sex": "male",
        "creatinine": {"value": 88.4, "unit": "umol/L"},
    }
    assert told(fact_of("creatinine_clearance", case_of(facts))) == pytest.approx(70, abs=0.05)
