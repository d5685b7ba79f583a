"""Headings, titles, open sections and refusals as assistive technology hears them (WCAG 2.2: 1.3.1, 2.4.2, 2.4.6, 3.3.1, 4.1.2)."""

import re


def test_every_page_has_its_title_and_one_first_heading(visitor):
    person = visitor()
    for page in ("Referral", "Report check", "Side by side", "Rule sets", "Cohort"):
        person.tab(page)
        person.page.wait_for_function("title => document.title === title", arg=f"{page} – candidacy")
        assert [h.strip() for h in person.page.locator("h1").all_inner_texts()] == [page]


def test_a_section_says_whether_it_is_open(visitor):
    person = visitor()
    section = person.page.locator(".st-key-section-care_so_far button").first
    section.wait_for()
    assert section.get_attribute("aria-expanded") == "false"
    section.focus()
    person.page.keyboard.press("Enter")
    person.page.locator(".st-key-section-care_so_far button[aria-expanded=true]").first.wait_for()
    person.settle()
    assert "Care so far" in person.page.evaluate("document.activeElement.innerText")  # focus stays


def test_a_refusal_is_tied_to_its_field_and_let_go_of_when_mended(visitor):
    person = visitor().write("Body height (cm)", "tall")
    field = person.page.get_by_label("Body height (cm)", exact=True).first
    person.page.locator("input[aria-invalid=true]").wait_for()
    assert field.get_attribute("aria-invalid") == "true"
    said = person.page.locator(f"[id='{field.get_attribute('aria-describedby')}']").inner_text()
    assert said.startswith("Not taken over")
    person.write("Body height (cm)", "178")
    person.page.locator("input[aria-invalid=true]").wait_for(state="detached")
    assert field.get_attribute("aria-describedby") is None


def test_pages_reflow_at_four_hundred_percent(visitor):
    """WCAG 2.2, 1.4.10: 1280 pixels at 400 % are 320 pixels wide; nothing but tables may scroll sideways."""
    person = visitor(width=320)
    for page in ("", "report", "compare", "rules", "cohort"):
        person.visit(page)
        wide = person.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0, page


def test_no_text_is_lost_at_two_hundred_percent(visitor):
    person = visitor(width=640).demo("cauda equina signs")
    assert re.search(r"emergency|urgent|stop", person.standing, re.IGNORECASE)
    box = person.page.locator(".c-standing h2").first.bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 640
