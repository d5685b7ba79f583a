"""Holds where several rules are possible, by renal function, by age, by the hour, and against a prescriber's word.

Rows are those of the reference sheet on procedural safety: 1a (class), 1b (intervals), 1c (renal function); each check
names its row and tag. The planned date and the as-of date are 2026-11-25 unless a check says otherwise.
"""

from datetime import date, timedelta
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.derive.hold_rules import _agreed
from candidacy.derive.hold_table import Rule, Wait, read_wait
from candidacy.derive.hold_times import LastDose, last_dose_by, over
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.tree import Compare, walk
from tests.derive.test_holds import days_before, medicine, of
from tests.views import AS_OF, told

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
MAYBE = {True, False}
YEARS = {"age": {"value": 80, "unit": "year"}}


def clearance(value: Any) -> dict[str, Any]:
    inside = {"between": list(value)} if isinstance(value, tuple) else {"value": value}
    return {"creatinine_clearance": {**inside, "unit": "mL/min", "date": AS_OF.isoformat()}}


def hours_ago(hours: float) -> dict[str, Any]:
    return {"value": hours, "unit": "hour", "date": AS_OF.isoformat()}


def free_days(agent: str, days: int, **changes: Any) -> dict[str, Any]:
    return medicine(agent, medicine_last_dose_date=days_before(days + 1), **changes)


# --- renal function


@pytest.mark.parametrize(
    ("agent", "at", "days"),
    [
        # Narouze 2018 [memory]: 4 d, 5-6 d with renal impairment; JABFM table 2A [seen]: >=48, >=72, >96, >=120 h
        ("dabigatran", 80, 4), ("dabigatran", 79.9, 4), ("dabigatran", 50, 4), ("dabigatran", 49.9, 6),
        ("dabigatran", 40, 6), ("dabigatran", 30, 6), ("dabigatran", 29.9, 6), ("dabigatran", 15, 6),
        ("dabigatran", 14.9, None),
        # Narouze 2018 [memory]: 3 d; JABFM table 6 [seen]: >30 at least 3 d, 15-30 at least 4 d
        ("rivaroxaban", 30.1, 3), ("rivaroxaban", 30, 4), ("rivaroxaban", 15, 4), ("rivaroxaban", 14.9, None),
        # Narouze 2018 [memory]: 3 d; JABFM table 6 [seen]: >50 at least 3 d, 30-50 4-5 d
        ("apixaban", 50.1, 3), ("apixaban", 50, 5), ("apixaban", 30, 5), ("apixaban", 29.9, None),
        # Narouze 2018 [memory]: 3 d; nothing read by renal function [seen: not studied]; 50 [common practice]
        ("edoxaban", 50.1, 3), ("edoxaban", 50, None), ("edoxaban", 20, None),
        # Narouze 2018 [memory]: 4 d; cardiac text [seen]: 48 h, 4-6 d below 50
        ("fondaparinux", 50, 4), ("fondaparinux", 49.9, 6),
    ],
)  # fmt: skip
def test_the_longer_interval_counts_at_every_edge(agent: str, at: float, days: int | None) -> None:
    patient = clearance(at)
    if days is None:
        assert told(of("hold_action", medicine(agent), patient)) == "shared_decision"
        found = of("hold_over", free_days(agent, 30), patient)
        assert (found.value, found.why) == (None, Why.DOES_NOT_APPLY)
        assert "no interval was read for this renal function" in found.note
        return
    assert told(of("hold_over", free_days(agent, days), patient)) is True
    assert told(of("hold_over", free_days(agent, days - 1), patient)) is False
    until = told(of("hold_until", free_days(agent, days - 1), patient))
    assert date.fromordinal(int(until)) == AS_OF + timedelta(1)


def test_on_an_edge_that_two_bands_share_the_longer_one_counts() -> None:
    # older bands [seen]: 50-80 48-72 h, 30-50 96 h; under 2 d of the pain physicians 2024 [seen] the bands decide
    settings = {
        "renal_hold_bands": "emergency_medicine_review",
        "antithrombotic_guideline": "holds_pain_physicians_2024",
        "bleeding_risk_class": "high",
    }
    for at, need in ((50.1, 72), (50, 96), (49.9, 96)):
        for hours, expected in ((need, True), (need - 1, False)):
            entry = medicine("dabigatran", medicine_last_dose_hours_ago=hours_ago(hours))
            found = of("hold_over", entry, clearance(at), hold_days_mean="hours", **settings)
            assert told(found) is expected, (at, hours)


def test_an_imprecise_clearance_settles_only_what_every_band_settles() -> None:
    # dabigatran 4 d from 50, 6 d below [memory]
    spread = clearance((40, 60))
    assert told(of("hold_over", free_days("dabigatran", 3), spread)) is False
    for days in (4, 5):
        assert told(of("hold_over", free_days("dabigatran", days), spread)) == MAYBE
    assert told(of("hold_over", free_days("dabigatran", 6), spread)) is True
    until = told(of("hold_until", medicine("dabigatran", medicine_last_dose_date="2026-11-15"), spread))
    assert [date.fromordinal(int(day)) for day in until] == [date(2026, 11, 20), date(2026, 11, 22)]


@pytest.mark.parametrize(
    "agent", ["dabigatran", "rivaroxaban", "apixaban", "edoxaban", "fondaparinux", "enoxaparin", "dalteparin"]
)
def test_without_a_clearance_the_shorter_interval_never_counts(agent: str) -> None:
    entry = free_days(agent, 4, medicine_intensity="therapeutic")
    if agent in ("enoxaparin", "dalteparin"):
        entry["medicine_last_dose_hours_ago"] = hours_ago(30)
        del entry["medicine_last_dose_date"]
    found = of("hold_over", entry)
    assert told(found) in (None, MAYBE)
    assert any(part.element == "creatinine_clearance" and part.value is None for part in found.derived_from)


def test_an_older_patient_waits_longer_through_the_clearance() -> None:
    # Cockcroft-Gault [memory]: 55 kg, 1.2 mg/dL, male: (140 - 50) x 55 / 86.4 = 57.3; at 74: 42.0
    for age, days in ((50, 4), (74, 6)):
        patient = {
            "age": {"value": age, "unit": "year"}, "sex": "male", "body_weight": {"value": 55, "unit": "kg"},
            "creatinine": {"value": 1.2, "unit": "mg/dL", "date": AS_OF.isoformat()},
        }  # fmt: skip
        assert told(of("hold_over", free_days("dabigatran", days), patient)) is True
        assert told(of("hold_over", free_days("dabigatran", days - 1), patient)) is False


# --- class raised by one


@pytest.mark.parametrize(
    ("entry", "risk", "younger", "older"),
    [
        # 1b, naproxen 4 d at high risk alone; aspirin, primary prevention, 6 d at high risk alone [seen]
        (medicine("naproxen"), "intermediate", "no_stop", "interval"),
        (medicine("aspirin", medicine_indication="primary_prevention"), "intermediate", "shared_decision", "interval"),
        (medicine("garlic"), "intermediate", "consider", "interval"),
        (medicine("clopidogrel"), "low", "no_stop", "interval"),
        (medicine("clopidogrel"), "high", "interval", "interval"),
    ],
)  # fmt: skip
def test_old_age_raises_the_class_by_one(entry: dict[str, Any], risk: str, younger: str, older: str) -> None:
    # 1a: one class up for old age [seen]; from 75 years [common practice]
    for age, expected in (("74", younger), ("75", older)):
        patient = {"age": {"value": float(age), "unit": "year"}}
        assert told(of("hold_action", entry, patient, bleeding_risk_class=risk)) == expected
    if younger != older:
        unknown = told(of("hold_action", entry, {"age": None}, bleeding_risk_class=risk))
        assert unknown == {younger, older}


def test_subcutaneous_heparin_waits_a_day_in_old_age() -> None:
    # 1b: 24 h at high, 6 h at intermediate risk [seen]
    entry = medicine("heparin", medicine_route="subcutaneous", medicine_last_dose_hours_ago=hours_ago(7))
    assert told(of("hold_over", entry)) is True
    assert told(of("hold_over", entry, YEARS)) is False
    assert told(of("hold_over", {**entry, "medicine_last_dose_hours_ago": hours_ago(24)}, YEARS)) is True


def test_other_reasons_raise_the_class_where_the_rule_set_names_them() -> None:
    named = ["old_age", "severe_liver_disease"]
    for liver, expected in ((True, "interval"), (False, "no_stop"), (None, {"interval", "no_stop"})):
        found = of(
            "hold_action", medicine("naproxen"), {"severe_liver_disease": liver}, risk_class_raised_by=named
        )
        assert told(found) == expected


# --- intervals without an end, and hours


def test_more_than_96_hours_gives_a_date() -> None:
    # JABFM table 2A [seen], clearance 40, beside 2 d of the pain physicians 2024 [seen]
    settings = {"antithrombotic_guideline": "holds_pain_physicians_2024", "bleeding_risk_class": "high"}
    entry = medicine("dabigatran", medicine_last_dose_date="2026-11-15")
    until = told(of("hold_until", entry, clearance(40), **settings))
    # from 00:00 of the 15th the 96 hours end at 00:00 of the 19th, from 24:00 at 24:00 of the 19th
    assert date.fromordinal(int(until)) == date(2026, 11, 19)


@given(hours=st.integers(1, 400), beyond=st.booleans())
def test_the_last_day_for_a_dose_is_the_last_that_is_early_enough_at_any_hour(
    hours: int, beyond: bool
) -> None:
    wait, planned = Wait(hours, hours, "h", beyond), Span(AS_OF.toordinal(), AS_OF.toordinal())
    last = last_dose_by(wait, planned, "dose_free_days", "longest")

    def taken(day: float) -> LastDose:
        return LastDose(Span(day * 24, day * 24 + 24, False, True))

    assert over(wait, taken(last.low), planned, "dose_free_days", "longest") is M
    assert over(wait, taken(last.low + 1), planned, "dose_free_days", "longest") is not M


@pytest.mark.parametrize(
    ("agent", "changes", "hours"),
    [  # 1b [seen]; ginkgo at high risk
        ("heparin", {"medicine_route": "intravenous"}, 6),
        ("enoxaparin", {"medicine_intensity": "prophylactic"}, 12),
        ("enoxaparin", {"medicine_intensity": "therapeutic"}, 24),
        ("dalteparin", {}, 24),
    ],
)
def test_hours_are_counted_in_hours(agent: str, changes: dict[str, Any], hours: int) -> None:
    for passed, expected in ((hours, True), (hours - 0.5, False)):
        entry = medicine(agent, medicine_last_dose_hours_ago=hours_ago(passed), **changes)
        assert told(of("hold_over", entry, clearance(90))) is expected
    # a date alone leaves a day open on either side
    for days, expected_by_date in ((0, False if hours == 24 else MAYBE), (1, MAYBE), (3, True)):
        entry = medicine(agent, medicine_last_dose_date=days_before(days), **changes)
        assert told(of("hold_over", entry, clearance(90))) == expected_by_date


# --- several possible rules


def test_over_needs_every_possible_rule_and_not_over_needs_every_one_too() -> None:
    for answers in product((M, N, U), repeat=3):
        expected = M if set(answers) == {M} else N if set(answers) == {N} else U
        assert _agreed(list(answers)) is expected


AGENTS = {  # 1b at intermediate risk, clearance 90, dose-free days: [memory] but warfarin and acenocoumarol [seen]
    "clopidogrel": 7, "prasugrel": 10, "ticagrelor": 5, "warfarin": 5, "acenocoumarol": 3,
    "dabigatran": 4, "rivaroxaban": 3, "apixaban": 3, "edoxaban": 3, "fondaparinux": 4,
}  # fmt: skip


@given(st.lists(st.sampled_from(sorted(AGENTS)), min_size=1, max_size=4, unique=True), st.integers(0, 12))
def test_of_several_possible_agents_the_shortest_and_the_longest_decide(agents: list[str], days: int) -> None:
    entry = free_days("", days, medicine_agent={"one_of": agents} if len(agents) > 1 else agents[0])
    needs = [AGENTS[agent] for agent in agents]
    expected = True if days >= max(needs) else False if days < min(needs) else MAYBE
    assert told(of("hold_over", entry, clearance(90))) == expected
    until = of("hold_until", entry, clearance(90)).value
    last = AS_OF.toordinal() - days - 1
    assert (until.low, until.high) == (last + min(needs) + 1, last + max(needs) + 1)


def test_an_agent_that_needs_no_wait_does_not_speak_for_one_that_does() -> None:
    # 1b, intermediate: cilostazol no stop [seen], clopidogrel 7 d [memory], aspirin shared decision [seen]
    either = {"one_of": ["cilostazol", "clopidogrel"]}
    assert told(of("hold_over", free_days("", 3, medicine_agent=either))) == MAYBE
    assert of("hold_until", free_days("", 3, medicine_agent=either)).value is None
    assert told(of("hold_over", free_days("", 7, medicine_agent=either))) is True
    left = {"one_of": ["aspirin", "clopidogrel"]}
    for days in (3, 30):
        found = of("hold_over", free_days("", days, medicine_agent=left))
        assert (found.value, found.why) == (None, Why.INPUT_MISSING)
        until = of("hold_until", free_days("", days, medicine_agent=left))
        assert (until.value, until.why) == (None, Why.INPUT_MISSING)


def test_every_wait_of_a_rule_must_be_over() -> None:
    # apixaban 3 d [memory] and, at 40 mL/min, 4-5 d [seen]: three days are not enough
    assert told(of("hold_over", free_days("apixaban", 3), clearance(40))) is False
    assert told(of("hold_until", free_days("apixaban", 3), clearance(40))) == AS_OF.toordinal() + 2


def test_half_lives_beside_an_interval_are_left_open() -> None:
    # 1b, high: NSAIDs as a class 5 half-lives, naproxen 4 d [seen]
    entry = free_days("", 30, medicine_agent={"one_of": ["naproxen", "other"]}, medicine_class="nsaid")
    found = of("hold_over", entry, bleeding_risk_class="high")
    assert (found.value, found.why) == (None, Why.INPUT_MISSING)


def test_several_restarts_are_none_until_they_agree() -> None:
    # 1b: warfarin 6 h, acenocoumarol 24 h [seen]
    entry = medicine("", medicine_agent={"one_of": ["warfarin", "acenocoumarol"]})
    assert of("restart_after", entry).value is None
    mixed = medicine("", medicine_agent={"one_of": ["cilostazol", "warfarin"]})
    assert of("restart_after", mixed).why is Why.INPUT_MISSING  # not "nothing is stopped"


@pytest.mark.parametrize("key", [row.key for row in shipped().table("renal_holds").rows])
def test_every_band_can_be_read(key: str) -> None:
    row = shipped().tables()("renal_holds")[key]
    assert row["high"] is None or row["low"] < row["high"]
    assert row["interval"] is None or read_wait(row["interval"]).least > 0
    assert Rule("renal_holds", key, "interval", (), False, "").bands == ()


# --- the prescriber's word


@pytest.mark.parametrize("agent", ["clopidogrel", "warfarin", "apixaban", "ibuprofen", "garlic", "aspirin"])
@pytest.mark.parametrize("reason", ["coronary_stent", "coronary_disease"])
@pytest.mark.parametrize("plan", [True, False, None])
def test_a_refused_medicine_has_no_date(agent: str, reason: str, plan: bool | None) -> None:
    entry = medicine(
        agent, medicine_indication=reason, medicine_last_dose_date=days_before(30), medicine_held=True,
        medicine_prescriber_agrees_to_hold=False,
    )  # fmt: skip
    patient = {"antithrombotic_plan_agreed": plan, **clearance(90)}
    found = of("hold_until", entry, patient, bleeding_risk_class="high")
    assert (found.value, found.why) == (None, Why.DOES_NOT_APPLY)
    assert found.note == "continue; no stop date: its prescriber refused"


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        ({"medicine_held": True}, True),
        ({}, None),
        ({"medicine_held": False}, None),
        # at least once a day [common practice]; a date alone leaves the hour open
        ({"medicine_last_dose_date": days_before(0)}, None),
        ({"medicine_last_dose_date": days_before(1)}, None),
        ({"medicine_last_dose_date": days_before(2)}, True),
        ({"medicine_last_dose_date": days_before(2), "medicine_held": False}, True),
        (
            {"medicine_last_dose_date": days_before(0), "medicine_held": False, "medicine_doses_per_day": 1},
            False,
        ),
        (
            {"medicine_last_dose_date": days_before(0), "medicine_held": False, "medicine_doses_per_day": 2},
            None,
        ),
        ({"medicine_last_dose_date": days_before(0), "medicine_doses_per_day": 1}, None),
        ({"medicine_last_dose_hours_ago": hours_ago(24)}, None),
        ({"medicine_last_dose_hours_ago": hours_ago(24.5)}, True),
        ({"medicine_last_dose_hours_ago": hours_ago(12.5), "medicine_doses_per_day": 2}, True),
        (
            {
                "medicine_last_dose_hours_ago": hours_ago(12),
                "medicine_doses_per_day": 2,
                "medicine_held": False,
            },
            False,
        ),
        ({"medicine_last_dose_date": days_before(3), "medicine_doses_per_day": 0.3}, True),
        ({"medicine_last_dose_date": {"value": "2026-11-15", "date": "2026-11-15"}}, None),
        ({"medicine_last_dose_date": {"value": "2026-11-12", "date": "2026-11-15"}}, True),
    ],
)
def test_stopped(entry: dict[str, Any], expected: bool | None) -> None:
    assert told(of("stopped", medicine("clopidogrel", **entry))) is expected


def test_another_medicine_is_overdue_only_where_it_is_taken_regularly() -> None:
    old = {"medicine_last_dose_date": days_before(9)}
    assert told(of("stopped", medicine("ibuprofen", **old))) is None
    regular = {"medicine_doses_per_day": 3, "medicine_as_needed": False}
    assert told(of("stopped", medicine("ibuprofen", **old, **regular))) is True
    assert (
        told(of("stopped", medicine("ibuprofen", **old, **{**regular, "medicine_as_needed": True}))) is None
    )


def test_a_clearance_that_one_set_of_bands_leaves_out_is_left_to_the_prescriber() -> None:
    # older bands end at 30 [seen]; that the guideline has 5-6 d with renal impairment [memory] does not fill the gap
    found = of(
        "hold_action", medicine("dabigatran"), clearance(20), renal_hold_bands="emergency_medicine_review"
    )
    assert told(found) == "shared_decision"


@pytest.mark.parametrize(("intensity", "hours"), [("prophylactic", 12), ("therapeutic", 24)])
def test_a_fact_narrows_rows_of_which_some_do_not_ask_for_it(intensity: str, hours: int) -> None:
    # neuraxial 2025 [seen]: intravenous 4-6 h at any dose, subcutaneous 12 h or 24 h by dose
    for passed, expected in ((hours, True), (hours - 1, False)):
        entry = medicine(
            "heparin", medicine_route="subcutaneous", medicine_intensity=intensity,
            medicine_last_dose_hours_ago=hours_ago(passed),
        )  # fmt: skip
        assert told(of("hold_over", entry, antithrombotic_guideline="holds_neuraxial_2025")) is expected
    # by an unknown route 6 h or 12 h, never the 24 h of the other dose
    unknown = medicine(
        "heparin", medicine_intensity="prophylactic", medicine_last_dose_hours_ago=hours_ago(13)
    )
    assert told(of("hold_over", unknown, antithrombotic_guideline="holds_neuraxial_2025")) is True


def test_the_criterion_of_a_stop_names_every_antithrombotic_agent() -> None:
    agents = shipped().tables()("bleeding_medicine_groups")["antithrombotic"]["agents"]
    selected = {item.id: item for item in load_rule_set("procedural_safety").criteria}
    nodes = walk(selected["stopped_without_agreement"].when)
    named = [n.limits for n in nodes if isinstance(n, Compare) and n.element == "medicine_agent"]
    assert [set(value) for value in named] == [set(agents)]
