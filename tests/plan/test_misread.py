"""What a reader could take for settled: calendars and tables read alone, doses by the hour, and an older discography."""

import csv
import io
from datetime import date, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from candidacy.case.load import Case, load_case
from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.plan.content import load_plan
from candidacy.plan.ics import plan_calendar, read_calendar
from candidacy.plan.make import plan
from candidacy.plan.table import plan_csv
from candidacy.rules.libraries import load_rule_set, open_folder
from tests.plan.plans import TODAY, case, entered, made, step
from tests.plan.test_plan import LOG, MONDAY, MORNING, _anticoagulated, _morning, _own


def _events(calendar: bytes) -> dict[str, object]:
    return {str(e["x-candidacy-step"]): e for e in Calendar.from_ical(calendar).walk("VEVENT")}


def test_a_calendar_of_another_case_is_refused() -> None:
    text = plan_calendar(made("anticoagulated", MONDAY)).decode()
    with pytest.raises(InputError, match="calendar of another case"):
        read_calendar(text, "plan.ics", "first-letter-only")
    assert read_calendar(text, "plan.ics", "anticoagulated").day == MONDAY.isoformat()


def test_facts_in_an_earlier_calendar_do_not_come_back_in_one_without() -> None:
    first = made(_anticoagulated(True), MONDAY)
    earlier = read_calendar(plan_calendar(first, with_facts=True).decode(), "plan.ics", "anticoagulated")
    assert not [each for each in earlier.steps if "apixaban" in each.title]
    assert {each.id: each.title for each in earlier.steps}[
        "medicines_2_last_dose"
    ] == "Last dose of a medicine"


def test_a_day_that_is_open_is_tentative_and_one_that_is_settled_is_not() -> None:
    open_, settled = (
        _events(plan_calendar(made("anticoagulated", MONDAY))),
        _events(plan_calendar(_morning())),
    )
    assert str(open_["injection"]["status"]) == "TENTATIVE"  # type: ignore[index]
    assert "Not settled" in str(open_["injection"]["description"])  # type: ignore[index]
    assert all("status" not in settled[name] for name in ("injection", "order_material"))  # type: ignore[operator]


@pytest.mark.parametrize(("name", "kind"), [("cauda-equina-signs", "urgent"), ("pregnant", "no_plan")])
def test_where_nothing_is_planned_calendar_and_table_say_so(name: str, kind: str) -> None:
    found = made(name, MONDAY)
    assert found.kind == kind
    event = _events(plan_calendar(found))["no_plan"]
    assert "No injection is planned" in str(event["summary"])  # type: ignore[index]
    rows = list(csv.DictReader(io.StringIO(plan_csv(found))))
    assert rows[0]["step"] == kind
    assert rows[0]["what"]


def test_the_table_holds_what_stands_against_the_day() -> None:
    found = made("discography-nine-days-ago", date(2026, 11, 27))
    rows = list(csv.DictReader(io.StringIO(plan_csv(found))))
    told = [(row["what"], row["earliest"]) for row in rows if row["step"] == "against_the_day"]
    assert told == [(each.words, each.earliest) for each in found.conflicts]
    assert told


def test_an_older_discography_does_not_stand_for_one_that_is_wanted() -> None:
    assert _morning().gate.open is True
    for booked in ("2026-11-20", ""):
        found = _morning(discography={"wanted": True, "on": booked})
        assert "discography" in {item.id for item in found.gate.items if not item.settled}
    done = _morning(discography={"wanted": True, "on": "2026-10-20"})  # the day of the one in the record
    assert "discography" in {item.id for item in done.gate.items if item.settled}


def _by_the_hour() -> object:
    found = _anticoagulated(True, None).with_fact("high_thrombotic_risk", False)
    agent = {"medicine_name": "enoxaparin", "medicine_class": "low_molecular_weight_heparin", "medicine_agent": "enoxaparin",
             "medicine_intensity": "therapeutic", "medicine_indication": "other"}  # fmt: skip
    for name, value in agent.items():
        found = found.with_fact(name, value, entry="medicines[2]")
    return found.with_fact("creatinine", 0.8, unit="mg/dL", on="2026-11-20")


def test_a_dose_of_unknown_hour_today_is_not_24_hours_before_tomorrow() -> None:
    record = _by_the_hour()
    tomorrow = TODAY + timedelta(1)
    blind = made(record, tomorrow)  # type: ignore[arg-type]
    known = made(record, tomorrow, entries=entered("anticoagulated", injection_time="08:30"))  # type: ignore[arg-type]
    late = [each.earliest for each in blind.conflicts if each.id == "medicines[2].interval"]
    assert late == [(TODAY + timedelta(2)).isoformat()]
    assert not [each for each in known.conflicts if each.id == "medicines[2].interval"]
    assert (step(known, "medicines_2_last_dose").due, step(known, "medicines_2_last_dose").clock) == (
        TODAY.isoformat(),
        "08:30",
    )


@pytest.mark.parametrize("hour", ["8:05", " 8:30", "24:00", "08:30:00"])
def test_an_hour_of_another_shape_is_refused(hour: str) -> None:
    with pytest.raises(InputError, match="not an hour of the day"):
        entered("anticoagulated", injection_time=hour)


def _morning_case(tmp_path: Path, clearance: str) -> Case:
    text = (demo_cases_folder() / "morning-of-the-procedure.yaml").read_text(encoding="utf-8")
    said = "{value: 88, unit: mL/min, source: labs}"
    assert said in text
    (tmp_path / "case.yaml").write_text(text.replace(said, clearance))
    return load_case(tmp_path / "case.yaml")


def test_a_clearance_in_more_than_one_band_does_not_settle_the_kidney_function(tmp_path: Path) -> None:
    said = entered("morning-of-the-procedure", order_lead_days=0, material=LOG)
    states = []
    for clearance in (
        "{value: 88, unit: mL/min, source: labs}",
        "{between: [20, 88], unit: mL/min, source: labs}",
    ):
        found = made(_morning_case(tmp_path, clearance), MORNING, as_of=MORNING, entries=said)
        states.append(step(found, "medicines_2_renal").state)
    assert states == ["done", "planned"]


def test_a_medicine_without_an_interval_for_its_kidney_function_stands_against_the_day(
    tmp_path: Path,
) -> None:
    record = _morning_case(tmp_path, "{value: 25, unit: mL/min, source: labs}")
    found = made(record, MORNING, as_of=MORNING)
    told = {each.id: each for each in found.conflicts}["medicines[2].date"]
    assert "no interval was read for this renal function" in told.words
    assert (told.earliest, found.earliest) == ("", "")


def test_facts_that_are_not_known_are_counted_where_nothing_else_stands_against_the_day() -> None:
    found = made("one-disc-candidate", MONDAY)
    unknown = sum(bool(row.element) for row in found.facts)
    assert (found.conflicts, unknown > 0) == ([], True)
    assert f"{unknown}. Each of them may stand against it." in found.earliest_says[-1]


def test_a_step_that_the_gate_does_not_show_hides_no_criterion(tmp_path: Path) -> None:
    own = _own(
        tmp_path,
        "steps: [{id: asked_for, part: facts, title: Asked for, owner: physician, when: {amount: -14}, by_order: true, "
        "covers: [degeneration_grade_window], cites: [{source: local_trial, supports: value, tag: local}]}]\n",
    )
    ours = load_plan(open_folder(own), "our_plan")
    found = plan(case("stale-mri"), load_rule_set("practice_baseline"), ours, MONDAY, TODAY, engine="direct")
    assert "degeneration_grade_window" in {
        item.id.split(".")[0] for item in found.gate.items if not item.settled
    }
