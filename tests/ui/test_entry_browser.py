"""Journeys of entry in a real browser: no answer that nobody gave, no question answered by a stray click."""

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from tests.ui.browsing import AXE, Visitor, absent, violations  # noqa: E402

SAID = "This standing does not count"
REPORT = (
    "FINDINGS:\nL4-5: 4 mm central protrusion.\n"
    "IMPRESSION: Lesion in the L3 vertebral body, metastasis not excluded.\n"
)


def _first_answers(person: Visitor):
    return person.page.locator(".st-key-missing [class*='st-key-ask-'] [role=radiogroup]").first


def test_an_unknown_is_not_turned_into_yes_by_the_details(visitor):
    person = visitor().demo("first letter only").choose("Missing (")
    group = _first_answers(person)
    group.get_by_role("radio", name="not known").click()
    person.settle()
    person.page.locator("[class*='st-key-more-ask-'] button").first.click()
    person.settle()
    dialog = person.page.get_by_role("dialog")
    dialog.get_by_label("How exactly").click()
    person.page.get_by_role("option", name="is", exact=True).click()
    person.settle()
    assert dialog.get_by_role("radio", checked=True).count() == 0
    dialog.get_by_role("button", name="Save").click()
    person.settle()
    playwright.expect(dialog).to_contain_text("no answer is chosen yet")
    dialog.get_by_role("button", name="Close").click()
    person.settle()
    assert "not known: not stated in the source" in person.page.locator(".c-changes").inner_text()


@pytest.mark.parametrize("width", [1280, 820])
def test_a_second_click_at_the_same_spot_answers_no_other_question(visitor, width):
    person = visitor(width=width).demo("first letter only").choose("Missing (")
    group = _first_answers(person)
    second = person.page.locator(".st-key-missing [class*='st-key-ask-'] [role=radiogroup]").nth(1)
    below = second.bounding_box()["y"]
    key = group.evaluate(
        "g => [...g.closest('[class*=st-key-ask-]').classList].find(c => c.startsWith('st-key-ask-'))"
    )
    spot = group.get_by_role("radio", name="no", exact=True).bounding_box()
    x, y = spot["x"] + spot["width"] / 2, spot["y"] + spot["height"] / 2
    person.page.mouse.click(x, y)
    person.settle()
    told = person.page.locator(".c-changes").inner_text()
    person.page.mouse.click(x, y)
    person.settle()
    assert person.page.locator(".c-changes").inner_text() == told, "the second click recorded nothing"
    row = person.page.locator(f".{key}")
    playwright.expect(row.get_by_role("radio", name="no", exact=True)).to_be_checked()
    after = row.get_by_role("radio", name="no", exact=True).bounding_box()
    assert abs(after["y"] - spot["y"]) < 3, "the row did not move"
    assert abs(second.bounding_box()["y"] - below) < 3, "nor did the next one"
    changes = person.page.locator(".st-key-missing [class*='st-key-change-'] button")
    changes.first.click()
    person.settle()
    row.get_by_role("radio", name="yes", exact=True).click()
    person.settle()
    assert ": yes (no source named)" in person.page.locator(".c-changes").inner_text()


def test_a_refused_correction_is_told_mended_and_dropped_before_anything_is_undone(visitor):
    person = visitor().demo("one disc candidate").write("Body weight (kg)", "1900")
    assert SAID in person.page.locator(".c-standing").inner_text()
    person.press("Export")
    playwright.expect(person.page.get_by_text("The files would leave out")).to_be_visible()
    assert person.page.get_by_role("button", name="Case file (YAML)").count() == 0
    person.press("Make the files without them")
    playwright.expect(person.page.get_by_role("button", name="Case file (YAML)")).to_be_visible()
    person.page.keyboard.press("Escape")
    person.press("Undo")
    assert SAID not in person.words
    playwright.expect(person.page.get_by_label("Body weight (kg)", exact=True)).to_have_value("71")


def test_a_report_and_a_trial_stay_with_their_referral(visitor):
    person = visitor().demo("one disc candidate").tab("Report check").write("Report text", REPORT)
    person.press("Read it").tab("Referral")
    assert SAID in person.words
    person.page.locator(".st-key-not-counted").get_by_role("button", name="Open the report").click()
    person.settle()
    playwright.expect(person.page.locator(".c-report")).to_be_visible()
    person.tab("Referral").demo("two discs candidate")
    assert "parked with the former referral" in person.words
    assert SAID not in person.words
    person.tab("Report check")
    assert person.page.locator(".c-report").count() == 0
    assert "parked with it" in person.words
    person.press("Undo")
    playwright.expect(person.page.locator(".c-report")).to_be_visible()


def test_an_answer_is_dated_where_it_is_asked(visitor):
    person = visitor().demo("first letter only").choose("Missing (")
    _first_answers(person).get_by_role("radio", name="no", exact=True).click()
    person.settle()
    person.press("asked today", exact=True)
    assert "asked directly)" in person.page.locator(".c-changes").inner_text()


@pytest.mark.parametrize("width", [1280, 820])
def test_rows_dialog_and_what_is_not_counted_are_accessible_and_fit(visitor, width):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = (
        visitor(width=width).demo("first letter only").write("Body weight (kg)", "1900").choose("Missing (")
    )
    _first_answers(person).get_by_role("radio", name="no", exact=True).click()
    person.settle()
    found = violations(person)
    wide = person.page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0
    person.page.locator("[class*='st-key-more-ask-'] button").first.click()
    person.settle()
    found += violations(person)
    assert found == [], "\n".join(found)
