"""Journeys of entry in a real browser: no answer that nobody gave, no question answered by a stray click."""

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, Visitor, absent, violations  # noqa: E402

SAID = "This standing does not count"
REPORT = (
    "FINDINGS:\nL4-5: 4 mm central protrusion.\n"
    "IMPRESSION: Lesion in the L3 vertebral body, metastasis not excluded.\n"
)


def _answers(person: Visitor, place: int = 0):
    """The answers of one row among the missing facts, counted from the top."""
    return person.page.locator(".st-key-missing [class*='st-key-ask-'] [role=radiogroup]").nth(place)


def _more(person: Visitor, place: int = 0) -> None:
    """Open the dialog of one row."""
    person.page.locator(".st-key-missing [class*='st-key-more-ask-']").nth(place).get_by_role(
        "button"
    ).click()
    person.settle()


def test_an_unknown_is_not_turned_into_yes_by_the_details(visitor):
    person = visitor(case="first-letter-only", view="Missing")
    group = _answers(person)
    group.get_by_role("radio", name="not known", exact=True).click()
    person.settle()
    _more(person)
    dialog = person.page.get_by_role("dialog")
    person.pick("How exactly", "is")
    playwright.expect(dialog.get_by_role("radio", checked=True)).to_have_count(0)
    dialog.get_by_role("button", name="Save", exact=True).click()
    person.settle()
    playwright.expect(dialog).to_contain_text("no answer is chosen yet")
    dialog.get_by_role("button", name="Close", exact=True).click()
    person.settle().reads("not known: not stated in the source", ".c-changes")


@pytest.mark.parametrize("width", [1280, pytest.param(820, marks=only_deep)])
def test_a_second_click_at_the_same_spot_answers_no_other_question_and_the_answer_is_dated_there(
    visitor, width
):
    person = visitor(width=width, case="first-letter-only", view="Missing")
    group = _answers(person)
    second = _answers(person, 1)
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
    changes = person.page.locator(".st-key-missing [class*='st-key-change-']")
    changes.nth(0).get_by_role("button").click()
    person.settle()
    row.get_by_role("radio", name="yes", exact=True).click()
    person.settle().reads(": yes (no source named)", ".c-changes")
    _an_answer_is_dated_where_it_is_asked(person)


@only_deep
def test_a_refused_correction_is_told_mended_and_dropped_before_anything_is_undone(visitor):
    person = visitor(case="one-disc-candidate").write("Body weight (kg)", "1900")
    person.reads(SAID, ".c-standing").press("Export").reads("The files would leave out")
    playwright.expect(person.button("Case file (YAML)")).to_have_count(0)
    person.press("Make the files without them")
    playwright.expect(person.button("Case file (YAML)")).to_be_visible()
    person.leave().undo().lacks(SAID)
    playwright.expect(person.field("Body weight (kg)")).to_have_value("71")


def test_a_report_and_a_trial_stay_with_their_referral(visitor):
    person = visitor(case="one-disc-candidate", path="report").write("Report text", REPORT)
    person.press("Read it").tab("Referral").reads(SAID)
    person.keyed("not-counted").get_by_role("button", name="Open the report", exact=True).click()
    person.settle()
    playwright.expect(person.page.locator(".c-report")).to_be_visible()
    person.tab("Referral").demo("two discs candidate").reads("parked with the former referral").lacks(SAID)
    person.tab("Report check").reads("parked with it")
    playwright.expect(person.page.locator(".c-report")).to_have_count(0)
    person.undo()
    playwright.expect(person.page.locator(".c-report")).to_be_visible()


def _an_answer_is_dated_where_it_is_asked(person: Visitor) -> None:
    person.lacks("asked directly)", ".c-changes")
    today = person.page.locator(".st-key-missing [class*='st-key-today-']").nth(0)
    today.get_by_role("button").click()
    person.settle().reads("asked directly)", ".c-changes")


@pytest.mark.parametrize("width", [1280, pytest.param(820, marks=only_deep)])
def test_rows_dialog_and_what_is_not_counted_are_accessible_and_fit(visitor, width):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = visitor(width=width, case="first-letter-only")
    person.write("Body weight (kg)", "1900").choose("Missing")
    _answers(person).get_by_role("radio", name="no", exact=True).click()
    person.settle()
    found = violations(person)
    assert person.overflow() <= 0
    _more(person)
    found += violations(person)
    assert found == [], "\n".join(found)
