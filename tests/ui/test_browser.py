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
from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, SCREENING, Visitor, absent, violations  # noqa: E402

REPORT = (
    "FINDINGS:\nL4-5: Disc desiccation. 4 mm central protrusion with annular fissure. No canal stenosis.\n"
    "L5-S1: Large extrusion with severe canal stenosis.\n"
)
HOSTILE = "<script>window.hit=1</script><img src=x onerror='window.hit=1'> **x** [a](javascript:window.hit=1)"


def shows(person: Visitor, label: str, text: str) -> None:
    """A field shows a text; the browser may take a moment to fill it in."""
    playwright.expect(person.field(label)).to_have_value(text)


def test_a_changed_value_changes_the_standing_the_reason_stays_in_view_and_the_pdf_can_be_opened(
    visitor, tmp_path
):
    from pypdf import PdfReader

    person = visitor().demo("one disc candidate")
    person.stands("✓ Candidate")
    person.write("Body weight (kg)", "190").stands("≈ Borderline").reads("body weight: 190", ".c-changes")
    far = person.keyed("facts").get_by_role("button").last
    top = far.bounding_box()["y"]
    person.page.mouse.move(300, 500)
    person.page.mouse.wheel(0, 1500)
    person.until(lambda: far.bounding_box()["y"] <= top - 300, "the page is scrolled")
    person.settle()
    panel = person.page.locator(".c-standing").bounding_box()
    assert panel["y"] >= 0
    assert panel["y"] + panel["height"] <= 900
    person.undo().stands("✓ Candidate").press("Export")
    with person.page.expect_download() as started:
        person.button("Assessment (PDF, A4)").click()
    started.value.save_as(tmp_path / "a.pdf")
    assert "Candidate" in PdfReader(tmp_path / "a.pdf").pages[0].extract_text()


def test_a_criterion_opens_in_place_to_its_source(visitor):
    person = visitor(case="one-disc-candidate", view="Criteria")
    row = person.page.locator(".c-criterion", has_text="Body mass index below the limit")
    row.locator("summary").focus()
    person.page.keyboard.press("Enter")
    playwright.expect(row.locator("details")).to_have_attribute("open", "")
    text = row.inner_text()
    for words in ("body_mass_index_limit", "35 kg/m2", "seen", "margin", "worked out from body weight"):
        assert words.lower() in text.lower()


def test_every_page_names_the_rule_set_that_is_in_use(visitor):
    """A widget of the same key on another page is another widget; it once showed its first choice instead."""
    person = visitor(case="one-disc-candidate")
    for page in ("Cohort", "Rule sets", "Referral", "Cohort", "Referral"):
        person.tab(page)
        chosen = person.keyed("kept-rules").get_by_role("combobox")
        playwright.expect(chosen).to_have_value(re.compile(r"Practice baseline"))


def test_a_missing_fact_leads_to_its_field(visitor):
    person = visitor(case="first-letter-only", view="Missing")
    person.button("Go to the field").first.click()  # one in each row, and each leads to its own
    person.settle()
    form = "[class*=st-key-form], [class*=st-key-grid]"
    person.page.wait_for_function(f"document.activeElement.closest('{form}') !== null")


def test_a_report_is_read_accepted_and_changes_the_outcome(visitor, tmp_path):
    file = tmp_path / "report.txt"
    file.write_text(REPORT, encoding="utf-8")
    person = visitor(case="report-only", path="report")
    person.page.locator("input[type=file]").set_input_files(str(file))
    person.page.wait_for_selector(".c-report")
    person.settle()
    playwright.expect(person.page.locator(".c-report mark", has_text="4 mm")).to_have_count(1)
    person.reads("Dear colleague").press("Accept all")
    person.page.get_by_role("button", name=re.compile(r"^Put \d+ accepted into the referral$")).click()
    person.settle().reads("findings are now in the referral")
    person.tab("Referral").choose("Criteria")
    extruded = person.page.locator(".c-criterion.fail", has_text="L5-S1").filter(has_text="xtru")
    first = extruded.first  # of the criteria that fail by it, the one at the top
    first.locator("summary").click()
    playwright.expect(first.locator("details")).to_have_attribute("open", "")
    assert "“extrusion”" in first.inner_text(), "the words of the report stand beside the value"


@only_deep
def test_two_rule_sets_stand_side_by_side(visitor):
    person = visitor(case="one-disc-candidate", path="compare")
    person.reads("Criteria that differ")
    titles = person.page.locator(".c-cards .c-standing strong").all_inner_texts()
    assert titles[0] == "Practice baseline"
    assert len(titles) >= 2


def test_a_trial_is_marked_on_every_page_and_can_be_dropped(visitor):
    person = visitor(case="heavy-patient-for-conference", path="rules")
    person.pick("Criterion", "Body mass index below the limit").write("Value to try (kg/m2)", "60").press(
        "Try"
    )
    person.reads("Local trial, not the shipped rule set").tab("Referral")
    person.reads("Local trial: body_mass_index_limit.bmi_upper_limit = 60", ".c-case")
    person.stands("✓ Candidate if “body mass index that is itself too high” were 60 kg/m2 (shipped 35 kg/m2)")
    person.press("Export")
    with person.page.expect_download() as made:
        person.button("Assessment (PDF, A4)").click()
    named = "heavy-patient-for-conference-practice_baseline-trial-if-bmi_upper_limit-60-kg-m2.pdf"
    assert made.value.suggested_filename == named
    person.leave()
    person.tab("Rule sets").press("Drop the trial")
    playwright.expect(person.page.locator(".c-trial")).to_have_count(0)


@only_deep
def test_a_table_is_screened_and_a_case_of_it_opens(visitor):
    person = visitor().tab("Cohort").press("Take the demonstration cases")
    person.press("Screen the table", patience=SCREENING).reads("Cases by standing")
    person.choose("Cases").write("Case reference", "pregnant").press("Open as the referral")
    person.tab("Referral").reads(load_case(demo_cases_folder() / "pregnant.yaml").record.title, ".c-case")


def test_a_saved_case_opens_again_exactly(visitor, tmp_path):
    person = visitor(case="imprecise-report").press("Export").reads("The files would leave out")
    person.press("Make the files without them")
    with person.page.expect_download() as started:
        person.button("Case file (YAML)").click()
    saved = tmp_path / "saved.yaml"
    started.value.save_as(saved)
    original = load_case(demo_cases_folder() / "imprecise-report.yaml").record
    assert parse_case(saved.read_text("utf-8")).record == original
    other = visitor()
    other.press("Referral").page.locator("input[type=file]").set_input_files(str(saved))
    other.reads(original.title, ".c-case").settle().leave().stands(person.standing())


def test_nothing_is_lost_on_page_change_or_reload_and_neither_address_nor_log_tells_anything(
    visitor, log: Path
):
    person = visitor().write("Body weight (kg)", "81.234").write("Body height (cm)", "secret words")
    person.tab("Report check").write("Report text", "L4-5: private protrusion").tab("Referral")
    person.reload()
    shows(person, "Body weight (kg)", "81.234")
    shows(person, "Body height (cm)", "secret words")
    person.tab("Report check")
    shows(person, "Report text", "L4-5: private protrusion")
    playwright.expect(person.page).to_have_url(re.compile(r"^http://127\.0\.0\.1:\d+/[a-z]*\?s=[\w-]+$"))
    person.press("Read it")
    written = log.read_text("utf-8")
    for private in ("81.234", "secret words", "private protrusion"):
        assert private not in written
    assert "Traceback" not in written
    assert "E901" not in written


def test_two_people_never_see_each_others_work(visitor):
    first, second = visitor(), visitor()
    first.write("Body weight (kg)", "82")
    second.write("Body weight (kg)", "61")
    for person, weight in ((first, "82"), (second, "61")):
        person.reload().lacks("no longer kept")
        shows(person, "Body weight (kg)", weight)
    second.page.goto(first.page.url)
    second.settle()
    shows(second, "Body weight (kg)", "")
    second.reads("no longer kept here")


def test_hostile_text_in_every_field_runs_nothing(visitor):
    person = visitor()
    person.press("Referral").write("Title", HOSTILE).leave()
    fields = person.keyed("facts").locator("input[type=text]")
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


@pytest.mark.parametrize(("width", "dark"), [(1280, False), pytest.param(1024, True, marks=only_deep)])
def test_no_page_has_a_serious_accessibility_violation_or_scrolls_sideways(visitor, width, dark):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = visitor(width=width, dark=dark, case="cauda-equina-signs")
    views = [("Referral", view) for view in ("Facts", "Missing", "Criteria", "Discs")]
    views += [(page, "") for page in ("Report check", "Side by side", "Rule sets", "Cohort")]
    found: list[str] = []
    for page, view in views:
        person.tab(page)
        if view:
            person.choose(view)
        found += [f"{page} {view}: {line}" for line in violations(person)]
        assert person.overflow() <= 0, (page, view)
    assert found == [], "\n".join(found)


def test_a_plan_is_drawn_and_can_be_taken_away_as_a_calendar(visitor):
    person = visitor(width=820, case="discography-nine-days-ago", path="plan")
    person.reads("No day exists before 2026-12-15 because")
    drawing = person.page.get_by_alt_text(re.compile("^Timeline around 2026-12-10"))
    person.until(lambda: drawing.evaluate("image => image.naturalWidth") > 0, "the timeline is drawn")
    with person.page.expect_download() as taken:
        person.button("Calendar (ics)").click()
    assert Path(taken.value.path()).read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert person.overflow() == 0
