"""The day in a real browser: by keyboard alone from disc and day to an answer, a STOP, and its reason."""

import re

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")


def test_a_line_is_answered_by_keyboard_and_a_stop_stays_until_its_reason_stands_there(visitor):
    person = visitor(width=820, path="day", case="morning-of-the-procedure")
    keys = person.page.keyboard
    person.page.get_by_role("combobox", name="Planned disc", exact=True).focus()
    keys.type("L4-L5")
    keys.press("Enter")
    person.settle()
    person.write("Day of the injection (YYYY-MM-DD)", "2026-12-10").write(
        "Who checks (role or local id)", "nurse"
    )
    person.reads("31 of 31 lines not answered yet")
    assert person.overflow() <= 0
    answers = person.keyed("day-line-0").get_by_role("radio")
    playwright.expect(answers).to_have_count(2)
    playwright.expect(person.keyed("day-line-0").get_by_role("radio", checked=True)).to_have_count(0)
    answers.nth(0).focus()
    keys.press("ArrowRight")
    keys.press("Space")
    person.settle().reads("STOP: 1 line not resolved", ".c-day")
    person.keyed("day-line-0").get_by_label("Reason, and how it was resolved (required)", exact=True).fill(
        "a new label was printed"
    )
    keys.press("Tab")
    person.settle().lacks("STOP:", ".c-day")
    person.reads(re.compile("Resolved: a new label was printed"), ".st-key-day-line-0")
