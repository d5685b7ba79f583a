"""Real journeys in a real browser, and the accessibility of every page.

The browser is Debian's Chromium; accessibility is checked with axe-core. Where either is missing the tests
skip and say so, except on the build server, where that is a failure.
"""

import re
from pathlib import Path

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from candidacy.case.load import load_case, parse_case  # noqa: E402
from candidacy.foundation.shipped import demo_cases_folder  # noqa: E402
from tests.ui.browsing import AXE, SCREENING, Visitor, absent, violations  # noqa: E402

REPORT = (
    "FINDINGS:\nL4-5: Disc desiccation. 4 mm central protrusion with annular fissure. No canal stenosis.\n"
    "L5-S1: Large extrusion with severe canal stenosis.\n"
)
HOSTILE = "<script>window.hit=1</script><img src=x onerror='window.hit=1'> **x** [a](javascript:window.hit=1)"


def shows(person: Visitor, label: str, text: str) -> None:
    """A field shows a text; the browser may take a moment to fill it in."""
    playwright.expect(person.page.get_by_label(label, exact=True).first).to_have_value(text)


def test_a_changed_value_changes_the_standing_and_the_reason_stays_in_view(visitor):
    person = visitor().demo("one disc candidate")
    assert person.standing == "✓ Candidate"
    person.write("Body weight (kg)", "190")
    assert person.standing == "≈ Borderline"
    assert "body weight: 190" in person.page.locator(".c-changes").inner_text()
    person.page.mouse.move(300, 500)
    person.page.mouse.wheel(0, 1500)
    person.page.wait_for_timeout(300)
    panel = person.page.locator(".c-standing").bounding_box()
    assert panel["y"] >= 0
    assert panel["y"] + panel["height"] <= 900
    person.press("Undo")
    assert person.standing == "✓ Candidate"


def test_a_criterion_opens_in_place_to_its_source(visitor):
    person = visitor().demo("one disc candidate").choose("Criteria (")
    row = person.page.locator(".c-criterion", has_text="Body mass index below the limit")
    row.locator("summary").focus()
    person.page.keyboard.press("Enter")
    text = row.inner_text()
    for words in ("body_mass_index_limit", "35 kg/m2", "seen", "margin", "worked out from body weight"):
        assert words.lower() in text.lower()


def test_every_page_names_the_rule_set_that_is_in_use(visitor):
    """A widget of the same key on another page is another widget; it once showed its first choice instead."""
    person = visitor().demo("one disc candidate")
    for page in ("Cohort", "Rule sets", "Referral", "Cohort", "Referral"):
        person.tab(page)
        chosen = person.page.locator("[data-testid=stSelectbox] input").first
        playwright.expect(chosen).to_have_value(re.compile(r"Practice baseline"))


def test_a_missing_fact_leads_to_its_field(visitor):
    person = visitor().demo("first letter only").choose("Missing (")
    person.press("Go to the field")
    person.page.wait_for_timeout(600)
    focused = person.page.evaluate(
        "document.activeElement.closest('[class*=st-key-form], [class*=st-key-grid]')?.className || ''"
    )
    assert "st-key-" in focused


def test_a_report_is_read_accepted_and_changes_the_outcome(visitor, tmp_path):
    file = tmp_path / "report.txt"
    file.write_text(REPORT, encoding="utf-8")
    person = visitor().demo("report only").tab("Report check")
    person.page.locator("input[type=file]").set_input_files(str(file))
    person.page.wait_for_selector(".c-report")
    person.settle()
    assert person.page.locator(".c-report mark", has_text="4 mm").count() == 1
    playwright.expect(person.page.get_by_text("Dear colleague")).to_be_visible()
    person.press("Accept all", exact=True).press("accepted into the referral")
    assert "findings are now in the referral" in person.words
    person.tab("Referral").choose("Criteria (")
    extruded = person.page.locator(".c-criterion.fail", has_text="L5-S1").filter(has_text="xtru")
    assert extruded.count() >= 1
    extruded.first.locator("summary").click()
    assert "“extrusion”" in extruded.first.inner_text(), "the words of the report stand beside the value"


def test_two_rule_sets_stand_side_by_side(visitor):
    person = visitor().demo("one disc candidate").tab("Side by side")
    titles = person.page.locator(".c-cards .c-standing strong").all_inner_texts()
    assert titles[0] == "Practice baseline"
    assert len(titles) >= 2
    assert "Criteria that differ" in person.words


def test_a_trial_is_marked_on_every_page_and_can_be_dropped(visitor):
    person = visitor().demo("heavy patient for conference").tab("Rule sets")
    person.pick("Criterion", "Body mass index below the limit").write("Value to try (kg/m2)", "60").press(
        "Try", exact=True
    )
    assert "Local trial, not the shipped rule set" in person.words
    person.tab("Referral")
    assert (
        "Local trial: body_mass_index_limit.bmi_upper_limit = 60"
        in person.page.locator(".c-case").inner_text()
    )
    person.tab("Rule sets").press("Drop the trial")
    assert person.page.locator(".c-trial").count() == 0


def test_a_table_is_screened_and_a_case_of_it_opens(visitor):
    person = visitor().tab("Cohort").press("Take the demonstration cases")
    person.press("Screen the table", patience=SCREENING)
    playwright.expect(person.page.get_by_text("Cases by standing")).to_be_visible()
    person.choose("Cases").write("Case reference", "pregnant").press("Open as the referral")
    person.tab("Referral")
    assert person.page.locator(".c-case").inner_text().startswith("Pregnancy") or "pregnant" in person.words


def test_a_saved_case_opens_again_exactly(visitor, tmp_path):
    person = visitor().demo("imprecise report")
    person.press("Export")
    playwright.expect(person.page.get_by_text("The files would leave out")).to_be_visible()
    person.press("Make the files without them")
    with person.page.expect_download() as started:
        person.page.get_by_role("button", name="Case file (YAML)").click()
    saved = tmp_path / "saved.yaml"
    started.value.save_as(saved)
    original = load_case(demo_cases_folder() / "imprecise-report.yaml").record
    assert parse_case(saved.read_text("utf-8")).record == original
    other = visitor()
    other.press("Referral", exact=True)
    other.page.locator("input[type=file]").set_input_files(str(saved))
    other.page.wait_for_selector(f".c-case:has-text('{original.title}')")
    other.page.keyboard.press("Escape")
    other.settle()
    assert other.standing == person.standing


def test_the_pdf_can_be_opened(visitor, tmp_path):
    from pypdf import PdfReader

    person = visitor().demo("one disc candidate").press("Export")
    with person.page.expect_download() as started:
        person.page.get_by_role("button", name="Assessment (PDF, A4)").click()
    started.value.save_as(tmp_path / "a.pdf")
    assert "Candidate" in PdfReader(tmp_path / "a.pdf").pages[0].extract_text()


def test_nothing_is_lost_on_page_change_or_reload_and_the_address_tells_nothing(visitor):
    person = visitor().write("Body weight (kg)", "82").write("Body height (cm)", "abc")
    person.tab("Report check").write("Report text", "half a report").tab("Referral")
    person.page.reload()
    person.settle()
    shows(person, "Body weight (kg)", "82")
    shows(person, "Body height (cm)", "abc")
    person.tab("Report check")
    shows(person, "Report text", "half a report")
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/[a-z]*\?s=[\w-]+", person.page.url)


def test_two_people_never_see_each_others_work(visitor):
    first, second = visitor(), visitor()
    first.write("Body weight (kg)", "82")
    second.write("Body weight (kg)", "61")
    for person, weight in ((first, "82"), (second, "61")):
        person.page.reload()
        person.settle()
        assert "no longer kept" not in person.words
        shows(person, "Body weight (kg)", weight)
    second.page.goto(first.page.url)
    second.settle()
    shows(second, "Body weight (kg)", "")
    assert "no longer kept here" in second.words


def test_hostile_text_in_every_field_runs_nothing(visitor):
    person = visitor()
    person.press("Referral", exact=True)
    person.write("Title", HOSTILE)
    person.page.keyboard.press("Escape")
    for section in ("Pain and function", "Discs"):
        if "Open" in (
            person.page.get_by_role("button", name=section).first.get_attribute("aria-label") or ""
        ):
            person.press(section)
    fields = person.page.locator(".st-key-facts input[type=text]")
    for place in range(min(fields.count(), 12)):
        fields.nth(place).fill(HOSTILE)
        fields.nth(place).press("Tab")
    person.settle()
    person.tab("Report check").write("Report text", f"L4-5: {HOSTILE} protrusion 4 mm").press("Read it")
    for page in ("Side by side", "Rule sets", "Referral"):
        person.tab(page)
        assert person.page.evaluate("window.hit") is None
        assert person.page.locator("img[src='x']").count() == 0
    assert HOSTILE in person.page.locator(".c-case").inner_text()


@pytest.mark.parametrize(("width", "dark"), [(1280, False), (1024, True)])
def test_no_page_has_a_serious_accessibility_violation_or_scrolls_sideways(visitor, width, dark):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = visitor(width=width, dark=dark).demo("cauda equina signs")
    views = [("Referral", view) for view in ("Facts", "Missing (", "Criteria (", "Discs (")]
    views += [(page, "") for page in ("Report check", "Side by side", "Rule sets", "Cohort")]
    found: list[str] = []
    for page, view in views:
        person.tab(page)
        if view:
            person.choose(view)
        found += [f"{page} {view}: {line}" for line in violations(person)]
        wide = person.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0, (page, view)
    assert found == [], "\n".join(found)


def test_the_server_logs_nothing_that_was_entered(visitor, log: Path):
    person = visitor().write("Body weight (kg)", "81.234").write("Body height (cm)", "secret words")
    person.tab("Report check").write("Report text", "L4-5: private protrusion").press("Read it")
    written = log.read_text("utf-8")
    for private in ("81.234", "secret words", "private protrusion"):
        assert private not in written
    assert "Traceback" not in written
    assert "E901" not in written
