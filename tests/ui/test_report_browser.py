"""Journeys of the report desk in a real browser: panes, links by keyboard, one queue, notes and letters, the request."""

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, Visitor, absent, violations  # noqa: E402
from tests.ui.test_report_kinds import LETTER, NOTE  # noqa: E402

expect = playwright.expect
REPORT = (
    "MRI LUMBAR SPINE\nFINDINGS:\n"
    + "".join(f"L{n}-L{n + 1}: Disc desiccation with {n} mm central protrusion.\n" for n in (1, 2, 3))
    + "The filum dances with the conus.\n"
    + "\n".join(f"Line {n} of the technique is of no weight.\n" for n in range(40))
    + "\nL4-L5: 4 mm left foraminal protrusion and annular fissure.\nL5-S1: Possible small extrusion.\n"
)


def _read(person: Visitor, text: str) -> Visitor:
    return person.write("Report text", text).press("Read it")


def _more(person: Visitor) -> None:
    """Open the form for further documents; it folds itself up behind the first."""
    field = person.field("Report text")
    expect(field).not_to_be_visible()
    person.page.get_by_text("Add reports, notes and letters", exact=True).click()
    expect(field).to_be_visible()


def _both_panes_scroll_and_a_finding_and_its_words_lead_to_each_other_by_keyboard(person: Visitor) -> None:
    page = person.page
    for pane in (".c-report", ".st-key-findings-pane"):
        assert page.locator(pane).evaluate("e => e.scrollHeight > e.clientHeight + 100"), pane
        assert page.locator(pane).evaluate("e => e.clientHeight < innerHeight"), pane
    words = page.locator(".c-report a", has_text="annular fissure")
    finding = page.locator(f"[id='{words.get_attribute('href')[1:]}']")
    back = finding.locator("a.c-words")
    expect(words).not_to_be_in_viewport()
    back.focus()
    page.keyboard.press("Enter")
    expect(words).to_be_focused()
    expect(words).to_be_in_viewport()
    page.locator(".st-key-findings-pane").evaluate("e => { e.scrollTop = 0; }")
    words.press("Enter")
    expect(finding).to_be_focused()
    expect(finding).to_be_in_viewport()
    page.keyboard.press("Tab")
    expect(back).to_be_focused()
    grey = page.locator(".c-report mark.unread", has_text="The filum dances")
    expect(grey).to_have_css("border-bottom-style", "dashed")
    plain = page.locator(".c-report").evaluate("e => getComputedStyle(e).color")
    assert grey.evaluate("e => getComputedStyle(e).color") != plain
    assert person.overflow() <= 0


def test_a_report_a_note_and_a_letter_stand_in_one_queue_and_go_into_the_referral(visitor):
    person = visitor(case="report-only", path="report")
    _read(person, REPORT)
    _more(person)
    _read(person, NOTE)
    _read(person, LETTER)
    queue = person.page.locator(".c-queue tbody tr")
    expect(queue).to_have_count(3)
    expect(queue.nth(0)).to_contain_text("referral letter")
    expect(queue.nth(0)).to_contain_text("look at first")
    row = person.page.locator(".c-finding", has_text="She has saddle numbness")
    expect(row).to_be_visible()
    person.press("Accept all").press("Confirm this day")
    person.keyed("take-2").get_by_role("button").click()
    person.settle()
    expect(person.page.locator(".c-note", has_text="are now in the referral")).to_be_visible()
    expect(person.page.locator(".c-line")).to_contain_text("Urgent", ignore_case=True)
    expect(queue.nth(2)).to_contain_text("referral letter")
    person.press("Next to decide")
    expect(person.page.locator(".c-queue .c-open")).to_contain_text("imaging report")
    person.undo()
    expect(person.page.locator(".c-line")).not_to_contain_text("Urgent", ignore_case=True)
    person.press("Take this report off the desk").press("Next to decide")
    expect(queue).to_have_count(2)
    expect(person.page.locator(".c-report")).to_be_visible()


@only_deep
def test_a_point_of_the_request_is_unticked_and_the_letter_lacks_it(visitor):
    person = _read(visitor(case="first-letter-only", path="report"), REPORT)
    letter = person.page.locator("[data-testid=stCode]")
    box = person.page.locator(".st-key-points").get_by_role("checkbox", name="signs of infection")
    expect(box).to_be_checked()
    expect(letter).to_contain_text("signs of infection")
    box.focus()
    person.page.keyboard.press("Space")
    expect(box).not_to_be_checked()
    expect(letter).not_to_contain_text("signs of infection")
    expect(letter).to_contain_text("Dear colleague")


@pytest.mark.parametrize("width", [1280, pytest.param(900, marks=only_deep)])
def test_the_desk_scrolls_links_and_is_accessible_with_a_report_a_letter_and_an_unsettled_text(
    visitor, width
):
    person = _read(visitor(width=width, case="first-letter-only", path="report"), REPORT)
    _both_panes_scroll_and_a_finding_and_its_words_lead_to_each_other_by_keyboard(person)
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    found = violations(person)
    _more(person)
    for text in (LETTER, "She came in March and went home happy."):
        _read(person, text)
    person.reads("what kind of document is it?")
    found += violations(person)
    assert found == [], "\n".join(found)
