"""The page of the day: nothing is chosen before a person chooses it, a STOP stops until its reason stands there."""

from datetime import date
from typing import Any

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")

from candidacy.case.edit import with_fact
from candidacy.case.record import FactEntry
from candidacy.course.load import parse_course
from candidacy.day.checklist import checklist
from tests.ui.conftest import Screen, demo

VIEW = "day.page.the_day"
PLAN = "L4-L5 2026-12-10"
MORNING, WAITING = "morning-of-the-procedure", "morning-with-reasons-to-wait"


def opened(screen: Any, name: str, **entries: Any) -> Screen:
    page: Screen = screen(
        VIEW, demo(name), day={"discs": ["L4-L5"], "on": "2026-12-10", "by": "nurse", **entries}
    )
    return page


def line_key(identifier: str, what: str, disc: str = "") -> str:
    return f"day-{PLAN}/{identifier}/{disc}/{what}".replace(" ", "-")


def answered(**more: Any) -> dict[str, Any]:
    """Every line of the good morning answered with yes, and what was done."""
    found: dict[str, Any] = {}
    for line in checklist().lines:
        if not line.only:
            place = f"{PLAN}/{line.id}/{'L4-L5' if line.per_disc else ''}"
            time = "11:30" if line.asked == "leaving" else "09:45"
            found |= {f"{place}/answer": "yes", f"{place}/by": "nurse", f"{place}/at": time}
    disc = {"level": "L4-L5", "material": "donated disc tissue", "volume": "1.2", "contrast_in_injectate": "no",
            "injected_at": "10:00", "ended_because": "volume_given"}  # fmt: skip
    unit = {"code": "W1-7", "lot": "L7", "expires": "2027-03-31", "thaw_began": "9:20", "thaw_ended": "09:40",
            "disposition": "used_whole"}  # fmt: skip
    found |= {f"{PLAN}/disc 0/{name}": value for name, value in disc.items()}
    found |= {f"{PLAN}/disc 0/unit 0/{name}": value for name, value in unit.items()}
    return found | {f"{PLAN}/session/recovery": "well", f"{PLAN}/session/discharged": "12:00"} | more


def test_nothing_is_shown_before_disc_and_day_are_chosen_and_neither_is_chosen_for_you(screen):
    page = screen(VIEW, demo(MORNING))
    assert "Choose the planned disc and the day" in page.text
    assert page.value("multiselect", "day-discs") == []
    page._find("multiselect", "day-discs").set_value(["L4-L5"])
    page.run()
    page.type("day-on", "2026-12-40")
    assert "E207" in page.text
    page.type("day-on", "12/10/2026")
    assert "lines not answered yet" in page.text
    assert not [w for w in page.at.get("button_group") if w.key.startswith(f"day-{PLAN[:5]}") and w.value]


def test_an_answer_bears_who_gave_it_and_nobodys_answer_is_kept(screen):
    page = opened(screen, MORNING, by="")
    page.tap(line_key("identity", "answer"), "yes")
    assert "say first who checks" in page.text
    assert not any("identity" in name for name in page.desk.kept["day"])
    page.type("day-by", "Jane Miller").tap(line_key("identity", "answer"), "yes")
    assert "say first who checks" in page.text
    page.desk.today = lambda: date(2026, 12, 10)
    page.type("day-by", "nurse").tap(line_key("identity", "answer"), "yes")
    kept = page.desk.kept["day"]
    assert (kept[f"{PLAN}/identity//answer"], kept[f"{PLAN}/identity//by"]) == ("yes", "nurse")
    assert len(kept[f"{PLAN}/identity//at"]) == 5
    page.type("day-by", "physician-2").tap(
        line_key("identity", "answer"), "no"
    )  # another answer is of who gives it
    assert page.desk.kept["day"][f"{PLAN}/identity//by"] == "physician-2"


def test_a_stop_stops_visibly_until_its_reason_stands_there(screen):
    page = opened(screen, WAITING)
    assert "STOP: " in page.text
    alarms = [body for body in page.bodies if "c-stop" in body and "c-day-line stop" in body]
    assert alarms
    ask = next(line.ask for line in checklist().lines if line.id == "product_expiry")
    head = next(body for body in page.bodies if 'c-day"' in body)
    assert ask.split(":")[0] in head
    page.tap(line_key("product_expiry", "answer"), "yes")  # an answer alone resolves nothing
    head = next(body for body in page.bodies if 'c-day"' in body)
    assert ask.split(":")[0] in head
    page.type(line_key("product_expiry", "note"), "another unit, expiry 2027-03-31, was brought")
    head = next(body for body in page.bodies if 'c-day"' in body)
    assert ask.split(":")[0] not in head
    assert "Resolved: another unit" in page.text
    # a reason is of what the record said when it was written, and so is a note that was none
    page = opened(screen, MORNING)
    page.tap(line_key("product_expiry", "answer"), "yes").type(
        line_key("product_expiry", "note"), "read twice"
    )
    assert "STOP: " not in page.text
    record = with_fact(page.desk.record, "patient", "product_expiry_date", FactEntry(value="2026-12-01"))
    page.desk.take(record, "another container")
    page.run()
    assert "STOP: 1 line not resolved" in page.text
    assert "write the reason anew" in page.text
    page.type(line_key("product_expiry", "note"), "another unit was brought")
    assert "STOP: 1 line not resolved" not in page.text
    page = opened(screen, MORNING)
    page.tap(line_key("identity", "answer"), "no")
    assert "STOP: 1 line not resolved" in page.text


def test_an_emergency_and_no_candidate_show_the_reason_and_no_line(screen):
    for name in ("cauda-equina-signs", "extruded-disc"):
        page = opened(screen, name)
        assert "There is no checklist for this day" in page.text
        assert not page.has("button_group", line_key("identity", "answer"))


def test_no_other_disc_stands_on_the_page(screen):
    page = opened(screen, WAITING)
    shown = " ".join(body for body in page.bodies if "c-day" in body)
    assert "L4-L5" in shown
    assert "L3-L4" not in shown
    assert "L5-S1" not in shown


def test_another_disc_or_day_begins_blank_and_coming_back_finds_the_answers_again(screen):
    page = opened(screen, "two-discs-candidate", **{f"{PLAN}/identity//answer": "yes"})
    assert page.value("button_group", line_key("identity", "answer")) == "yes"
    page._find("multiselect", "day-discs").set_value(["L5-S1"])
    page.run()
    other = "day-L5-S1 2026-12-10/identity//answer".replace(" ", "-")
    assert not page.value("button_group", other)
    page._find("multiselect", "day-discs").set_value(["L4-L5"])
    page.run()
    assert page.value("button_group", line_key("identity", "answer")) == "yes"


def test_what_was_done_gives_the_course_record_only_when_all_of_it_fits(screen):
    page = opened(screen, MORNING, **answered(**{f"{PLAN}/disc 0/unit 0/lot": ""}))
    page.desk.kept["day-view"] = "Afterwards"
    page.run().press("day-take")
    assert "discs.0.units.0.lot" in page.text
    assert "day-made" not in page.at.session_state
    page.type(f"day-{PLAN}/disc-0/unit-0/lot".replace(" ", "-"), "L7").press("day-take")
    assert "Everything is answered and fits" in page.text
    record = parse_course(page.at.session_state["day-made"][1]).record
    assert (record.case, record.injections[0].discs[0].level) == (MORNING, "L4-L5")
    assert {check.by for check in record.injections[0].checks} == {"nurse"}
    assert record.injections[0].discs[0].units[0].thaw_began == "2026-12-10T09:20"
    page.type(f"day-{PLAN}/session/recovery".replace(" ", "-"), "sore")
    assert "Something was changed since" in page.text
