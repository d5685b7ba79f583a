"""Headings, titles, open sections and refusals as assistive technology hears them (WCAG 2.2: 1.3.1, 2.4.2, 2.4.6, 3.3.1, 4.1.2)."""

import re

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")


def _every_page_has_its_title_and_one_first_heading(person):
    for page in (
        "Referral",
        "Report check",
        "Plan",
        "Side by side",
        "Letters",
        "Rule sets",
        "Follow-up",
        "Cohort",
        "Outcomes",
    ):
        person.tab(page)
        person.page.wait_for_function("title => document.title === title", arg=f"{page} – candidacy")
        assert [h.strip() for h in person.page.locator("h1").all_inner_texts()] == [page]


def test_sections_refusals_titles_and_headings_say_what_they_are(visitor):
    """One person meets them one after another, so that the pages are loaded once."""
    person = visitor()
    _tab_leads_into_what_a_button_opened_and_out_again(person)
    _escape_drops_nothing_that_was_typed_or_chosen(person)
    _a_section_says_whether_it_is_open(person)
    _a_refusal_is_tied_to_its_field_and_let_go_of_when_mended(person)
    _every_page_has_its_title_and_one_first_heading(person)


def _tab_leads_into_what_a_button_opened_and_out_again(person):
    keys, opened = person.page.keyboard, person.page.get_by_test_id("stPopoverBody")
    person.page.get_by_test_id("stPopoverButton").filter(has_text="Referral").focus()
    keys.press("Enter")
    first = person.page.get_by_label("Demonstration case (all invented)")
    playwright.expect(first).to_be_visible()
    person.settle()
    keys.press("Tab")
    playwright.expect(first).to_be_focused()
    last = person.page.get_by_label("Assess as of (YYYY-MM-DD; empty: today)")
    last.fill("2026-11-25")
    keys.press("Tab")
    playwright.expect(opened).to_have_count(0)
    person.settle()
    playwright.expect(person.page.get_by_test_id("stMain")).to_contain_text("as of 2026-11-25")


def _escape_drops_nothing_that_was_typed_or_chosen(person):
    keys, opened = person.page.keyboard, person.page.get_by_test_id("stPopoverBody")
    button = person.page.get_by_test_id("stPopoverButton").filter(has_text="Referral")
    button.focus()
    keys.press("Enter")
    person.settle().field("Title").fill("Second visit")
    keys.press("Escape")
    playwright.expect(opened).to_have_count(0)
    playwright.expect(button).to_be_focused()
    person.settle().reads("Second visit", where=".c-case")
    sex = person.pick("Sex", "Male").page.get_by_role("combobox", name="Sex", exact=True)
    for key in ("ArrowDown", ""):
        sex.focus()
        if key:
            keys.press(key)
        keys.press("Escape")
        person.settle()
        playwright.expect(sex).to_have_value("Male")
        playwright.expect(sex).to_be_focused()


def _a_section_says_whether_it_is_open(person):
    section = person.keyed("section-care_so_far").get_by_role("button")
    playwright.expect(section).to_have_attribute("aria-expanded", "false")
    playwright.expect(person.page.get_by_role("heading", name="Care so far", level=2)).to_have_count(1)
    section.focus()
    person.page.keyboard.press("Enter")
    person.settle()
    playwright.expect(section).to_have_attribute("aria-expanded", "true")
    assert "Care so far" in person.page.evaluate("document.activeElement.innerText")  # focus stays


def _a_refusal_is_tied_to_its_field_and_let_go_of_when_mended(person):
    person.write("Body height (cm)", "tall")
    field = person.field("Body height (cm)")
    playwright.expect(field).to_have_attribute("aria-invalid", "true")
    said = person.page.locator(f"[id='{field.get_attribute('aria-describedby')}']").inner_text()
    assert said.startswith("Not taken over")
    person.write("Body height (cm)", "178")
    playwright.expect(person.page.locator("input[aria-invalid=true]")).to_have_count(0)
    assert field.get_attribute("aria-describedby") is None


def test_pages_reflow_at_four_hundred_percent(visitor):
    """WCAG 2.2, 1.4.10: 1280 pixels at 400 % are 320 pixels wide; nothing but tables may scroll sideways."""
    person = visitor(width=320)
    assert person.overflow() <= 0, "a page that is opened enlarged"
    for page in ("Report check", "Side by side", "Letters", "Rule sets", "Cohort", "Outcomes"):
        person.sized(1280).tab(page)
        playwright.expect(person.page.locator("h1")).to_have_text(page)
        assert person.sized(320).overflow() <= 0, page


def test_no_text_is_lost_at_two_hundred_percent(visitor):
    person = visitor(width=640, case="cauda-equina-signs")
    person.stands(re.compile(r"emergency|urgent|stop", re.IGNORECASE))
    box = person.page.locator(".c-standing h2").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 640
