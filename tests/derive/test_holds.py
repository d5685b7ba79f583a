"""Hold rules of medicines: which row applies, when its interval is over, and who must agree."""

from datetime import date, timedelta
from typing import Any

import pytest

from candidacy.derive.hold_table import Wait, read_cell, read_wait
from candidacy.derive.hold_times import LastDose, last_dose_by, over, over_on
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why
from tests.views import AS_OF, case_of, fact_of, told

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
# Below the age from which the bleeding-risk class is raised.
SAFE = {"high_thrombotic_risk": False, "age": {"value": 60, "unit": "year"}}
KIDNEYS = {"creatinine_clearance": {"value": 90, "unit": "mL/min", "date": AS_OF.isoformat()}}


def medicine(agent: str = "clopidogrel", **changes: Any) -> dict[str, Any]:
    entry = {"medicine_agent": agent, "medicine_indication": "coronary_disease", **changes}
    return {name: value for name, value in entry.items() if value is not None}


def days_before(days: int, day: date = AS_OF) -> str:
    return (day - timedelta(days)).isoformat()


def of(element: str, entry: dict[str, Any], patient: dict[str, Any] | None = None,
       others: list[dict[str, Any]] | None = None, complete: bool = True, **settings: Any) -> Any:  # fmt: skip
    facts = {"planned_procedure_date": AS_OF.isoformat(), **SAFE, **(patient or {})}
    case = case_of(
        {k: v for k, v in facts.items() if v is not None}, medicines=([entry, *(others or [])], complete)
    )
    return fact_of(f"medicine_{element}", case, "medicines[1]", **settings)


# --- which rule


@pytest.mark.parametrize(
    ("entry", "risk", "action"),
    [
        (medicine("clopidogrel"), "intermediate", "interval"),
        (medicine("clopidogrel"), "low", "no_stop"),
        (medicine("aspirin"), "intermediate", "shared_decision"),
        (medicine("aspirin", medicine_indication="primary_prevention"), "high", "interval"),
        (medicine("aspirin"), "high", "shared_decision"),
        (medicine("aspirin", medicine_indication=None), "low", "no_stop"),
        (medicine("garlic"), "intermediate", "consider"),
        (medicine("fluoxetine"), "high", "continue"),
        (medicine("other_ssri_or_snri"), "low", "continue"),
        (medicine("ibuprofen"), "intermediate", "no_stop"),
        (medicine("metformin"), "high", "no_rule"),
        (medicine("other", medicine_class="antidiabetic"), "high", "no_rule"),
        (medicine("other", medicine_class="antiplatelet"), "intermediate", "shared_decision"),
        (medicine("other", medicine_class="nsaid"), "intermediate", "no_stop"),
        ({"medicine_class": "acetaminophen"}, "high", "no_rule"),
        ({"medicine_class": "nsaid"}, "intermediate", "no_stop"),
        ({"medicine_class": "ssri_or_snri"}, "high", "continue"),
    ],
)
def test_action_by_medicine_and_risk_class(entry: dict[str, Any], risk: str, action: str) -> None:
    assert told(of("hold_action", entry, bleeding_risk_class=risk)) == action


@pytest.mark.parametrize("entry", [{}, {"medicine_name": "blue tablet"}, {"medicine_agent": "other"}])
def test_a_medicine_that_is_not_known_has_no_action(entry: dict[str, Any]) -> None:
    assert of("hold_action", entry or {"medicine_route": "oral"}).value is None


@pytest.mark.parametrize(
    "reason",
    [
        "coronary_stent",
        "mechanical_valve",
        "venous_thromboembolism",
        "stroke_prevention",
        "atrial_fibrillation",
    ],
)
def test_a_protected_indication_is_never_a_plain_stop(reason: str) -> None:
    entry = medicine("clopidogrel", medicine_indication=reason, medicine_last_dose_date=days_before(30))
    assert told(of("hold_action", entry)) == "written_agreement"
    until = of("hold_until", entry)
    assert (until.value, until.why) == (None, Why.DOES_NOT_APPLY)
    assert "written agreement" in until.note


@pytest.mark.parametrize("agreement", ["own", "plan"])
def test_with_the_prescribers_agreement_there_is_a_date(agreement: str) -> None:
    own = {"medicine_prescriber_agrees_to_hold": True} if agreement == "own" else {}
    plan = {"antithrombotic_plan_agreed": True} if agreement == "plan" else {}
    entry = medicine(
        "clopidogrel", medicine_indication="coronary_stent", medicine_last_dose_date=days_before(8), **own
    )
    assert told(of("hold_until", entry, plan)) == AS_OF.toordinal()


def test_a_high_thrombotic_risk_protects_whatever_the_indication() -> None:
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(30))
    assert told(of("hold_action", entry, {"high_thrombotic_risk": True})) == "written_agreement"
    assert of("hold_until", entry, {"high_thrombotic_risk": True}).value is None


@pytest.mark.parametrize("missing", ["medicine_indication", "high_thrombotic_risk"])
def test_an_unknown_reason_for_the_medicine_gives_no_date(missing: str) -> None:
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(30))
    patient = {"high_thrombotic_risk": None} if missing == "high_thrombotic_risk" else {}
    if missing == "medicine_indication":
        del entry["medicine_indication"]
    assert told(of("hold_action", entry, patient)) == {"interval", "written_agreement"}
    until = of("hold_until", entry, patient)
    assert until.value is None
    assert missing in {part.element for part in until.derived_from if part.value is None}


@pytest.mark.parametrize("risk", ["low", "intermediate", "high"])
@pytest.mark.parametrize("agent", ["fluoxetine", "other_ssri_or_snri"])
def test_an_antidepressant_is_never_stopped(agent: str, risk: str) -> None:
    entry = medicine(
        agent, medicine_indication="depression_or_anxiety", medicine_last_dose_date=days_before(0)
    )
    assert told(of("hold_action", entry, bleeding_risk_class=risk)) == "continue"
    assert told(of("hold_over", entry, bleeding_risk_class=risk)) is True
    assert of("restart_after", entry, bleeding_risk_class=risk).why is Why.DOES_NOT_APPLY


def test_dipyridamole_follows_aspirin() -> None:
    alone = medicine("dipyridamole")
    beside = medicine("aspirin", medicine_indication="coronary_disease")
    assert told(of("hold_action", alone)) == "no_stop"
    assert told(of("hold_action", alone, others=[beside])) == "shared_decision"
    assert told(of("hold_action", alone, complete=False)) == {"no_stop", "shared_decision"}


def test_unknown_dose_intensity_leaves_both_rows_possible() -> None:
    entry = medicine("enoxaparin", medicine_intensity=None, medicine_last_dose_date=days_before(1))
    assert told(of("hold_over", {**entry, "medicine_last_dose_date": days_before(3)}, KIDNEYS)) is True
    hours = {"value": 13, "unit": "hour", "date": AS_OF.isoformat()}
    open_ = medicine("enoxaparin", medicine_last_dose_hours_ago=hours)
    assert told(of("hold_over", open_, KIDNEYS)) == {True, False}


@pytest.mark.parametrize(
    ("clearance", "action"),
    [(31, "interval"), (15, "interval"), (14.9, "shared_decision"), (None, {"interval", "shared_decision"})],
)
def test_below_the_published_bands_the_prescriber_decides(clearance: float | None, action: Any) -> None:
    kidneys = {"creatinine_clearance": {"value": clearance, "unit": "mL/min", "date": AS_OF.isoformat()}}
    patient = {} if clearance is None else kidneys
    assert told(of("hold_action", medicine("rivaroxaban"), patient)) == action


@pytest.mark.parametrize(
    ("table", "risk", "free", "expected"),
    [
        ("holds_pain_2018", "intermediate", 3, True),
        ("holds_pain_2018", "intermediate", 2, False),
        ("holds_pain_physicians_2024", "high", 2, True),
        ("holds_pain_physicians_2024", "intermediate", 1, True),
        ("holds_pain_physicians_2024", "intermediate", 0, False),
    ],
)
def test_guidelines_differ_and_the_rule_set_names_one(
    table: str, risk: str, free: int, expected: bool
) -> None:
    # Narouze 2018: apixaban 3 d [memory]; pain physicians 2024: 2 d at high and 1 d at moderate risk [seen]
    entry = medicine("apixaban", medicine_last_dose_date=days_before(free + 1))
    settings = {"antithrombotic_guideline": table, "bleeding_risk_class": risk, "renal_hold_bands": "none"}
    assert told(of("hold_over", entry, **settings)) is expected


def test_a_cell_that_was_not_read_leaves_it_to_the_prescriber() -> None:
    settings = {"antithrombotic_guideline": "holds_pain_physicians_2024", "bleeding_risk_class": "low"}
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(30))
    assert told(of("hold_action", entry, **settings)) == "shared_decision"
    over_ = of("hold_over", entry, **settings)
    assert (over_.value, over_.why) == (None, Why.DOES_NOT_APPLY)
    assert "as far as it was read" in over_.note


def test_half_lives_are_not_turned_into_days() -> None:
    entry = medicine("other", medicine_class="nsaid", medicine_last_dose_date=days_before(30))
    found = of("hold_until", entry, bleeding_risk_class="high")
    assert found.value is None
    assert "half-li" in found.note


# --- when it is over


@pytest.mark.parametrize(("free", "expected"), [(6, False), (7, True), (8, True)])
def test_dose_free_days_are_whole_days(free: int, expected: bool) -> None:
    # clopidogrel 7 d at intermediate risk (Narouze 2018) [memory]
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(free + 1))
    assert told(of("hold_over", entry)) is expected


@pytest.mark.parametrize(("days", "expected"), [(6, False), (7, {True, False}), (8, True)])
def test_days_as_hours_depend_on_the_hour_of_the_day(days: int, expected: Any) -> None:
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(days))
    assert told(of("hold_over", entry, hold_days_mean="hours")) == expected


@pytest.mark.parametrize(("mean", "days"), [("dose_free_days", 8), ("hours", 7)])
def test_first_day_the_interval_is_over(mean: str, days: int) -> None:
    entry = medicine("clopidogrel", medicine_last_dose_date="2026-11-10")
    until = told(of("hold_until", entry, hold_days_mean=mean))
    assert date.fromordinal(int(until)) == date(2026, 11, 10) + timedelta(days)


@pytest.mark.parametrize(("end", "free"), [("longest", 10), ("shortest", 7)])
def test_a_printed_range_is_waited_out_to_the_end_the_rule_set_names(end: str, free: int) -> None:
    # prasugrel 7-10 d (Narouze 2018) [memory]
    for days, expected in ((free, True), (free - 1, False)):
        entry = medicine("prasugrel", medicine_last_dose_date=days_before(days + 1))
        assert told(of("hold_over", entry, hold_range_end=end)) is expected


def test_before_the_day_a_last_dose_counts_only_when_the_medicine_is_held() -> None:
    later = {"planned_procedure_date": "2026-12-10"}
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(1))
    assert told(of("hold_over", entry, later)) == {True, False}
    assert of("hold_until", entry, later).value is None
    assert told(of("hold_over", {**entry, "medicine_held": True}, later)) is True
    assert told(of("hold_over", {**entry, "medicine_held": False}, later)) is False
    until = told(of("hold_until", {**entry, "medicine_held": True}, later))
    assert date.fromordinal(int(until)) == date(2026, 12, 2)


def test_without_a_last_dose_or_a_proposed_date_nothing_is_over() -> None:
    assert of("hold_over", medicine("clopidogrel")).value is None
    entry = medicine("clopidogrel", medicine_last_dose_date=days_before(30))
    assert of("hold_over", entry, {"planned_procedure_date": None}).value is None


def test_an_imprecise_last_dose_settles_only_what_all_its_days_settle() -> None:
    assert told(of("hold_over", medicine("clopidogrel", medicine_last_dose_date="2026-10"))) is True
    assert told(of("hold_over", medicine("clopidogrel", medicine_last_dose_date="2026-11"))) == {True, False}


def test_date_and_hours_that_exclude_each_other_are_a_contradiction() -> None:
    hours = {"value": 13, "unit": "hour", "date": AS_OF.isoformat()}
    entry = medicine(
        "clopidogrel", medicine_last_dose_date=days_before(5), medicine_last_dose_hours_ago=hours
    )
    assert of("hold_over", entry).why is Why.CONFLICTING


def test_where_nothing_has_to_pass_the_date_is_today() -> None:
    found = of("hold_until", medicine("ibuprofen"))
    assert told(found) == AS_OF.toordinal()
    assert found.note == "no interval has to pass"


def test_restart_in_the_words_of_the_table() -> None:
    # Narouze 2018: warfarin 6 h, enoxaparin 12-24 h at intermediate and 4 h at low risk [seen]
    assert told(of("restart_after", medicine("warfarin"))) == "6 h after the procedure"
    entry = medicine("enoxaparin", medicine_intensity="prophylactic")
    assert told(of("restart_after", entry, KIDNEYS)) == "12-24 h after the procedure"
    assert told(of("restart_after", entry, KIDNEYS, bleeding_risk_class="low")) == "4 h after the procedure"
    assert of("restart_after", medicine("ibuprofen")).why is Why.DOES_NOT_APPLY


# --- cells and times


@pytest.mark.parametrize(
    ("cell", "wait"),
    [
        ("5 d", Wait(5, 5, "d")),
        ("12-24 h", Wait(12, 24, "h")),
        (">96 h", Wait(96, 96, "h", True)),
        ("1 d", Wait(1, 1, "d")),
    ],
)
def test_a_cell_with_an_interval(cell: str, wait: Wait) -> None:
    assert read_cell(cell) == ("interval", wait)


@pytest.mark.parametrize("cell", ["5", "5 days", "d", "", "-5 d", "5 d; 6 d", "maybe", "1e2 h"])
def test_a_cell_that_cannot_be_read_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match="no interval"):
        read_wait(cell)
    with pytest.raises(ValueError, match="no interval"):
        read_cell(cell)


@pytest.mark.parametrize(
    ("wait", "words"),
    [
        (Wait(1, 1, "d"), "1 day"),
        (Wait(7, 10, "d"), "7 to 10 days"),
        (Wait(96, 96, "h", True), "more than 96 hours"),
    ],
)
def test_an_interval_in_words(wait: Wait, words: str) -> None:
    assert wait.words == words


def taken(day: date) -> LastDose:
    start = day.toordinal() * 24
    return LastDose(Span(start, start + 24, False, True))


def test_hours_end_on_the_day_they_reach() -> None:
    dose = taken(date(2026, 11, 10))
    day = date(2026, 11, 10).toordinal()
    for hours, first, last in ((6, 0, 1), (12, 0, 1), (24, 1, 1), (36, 1, 2), (72, 3, 3)):
        found = over_on(Wait(hours, hours, "h"), dose, "dose_free_days", "longest")
        assert (found.low - day, found.high - day) == (first, last), hours


def test_last_day_for_a_dose_leaves_the_dose_free_days_between() -> None:
    planned = Span(AS_OF.toordinal(), AS_OF.toordinal())
    found = last_dose_by(Wait(3, 3, "d"), planned, "dose_free_days", "longest")
    last = date.fromordinal(int(found.low))
    assert AS_OF - last == timedelta(4)
    assert over(Wait(3, 3, "d"), taken(last), planned, "dose_free_days", "longest") is M
    assert over(Wait(3, 3, "d"), taken(last + timedelta(1)), planned, "dose_free_days", "longest") is N
