"""The journeys of the Cohort page in a real browser: from a table to files to share, by mouse and by keyboard."""

import io
import zipfile

import pytest

pd = pytest.importorskip("pandas", reason="cohorts need the cohort extra")
pytest.importorskip("duckdb", reason="cohorts need the cohort extra")
pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, SCREENING, Visitor, absent, server, stranger, violations  # noqa: E402

TABLE = "case_id,body_mass_index [kg/m2],sex,Site\n" + "".join(
    f"r{n:03},{24 + n % 20},{('male', 'female')[n % 2]},north\n" for n in range(60)
)
VIEWS = (
    "Standings",
    "Who is left",
    "Reasons",
    "Criteria",
    "Missing",
    "What if",
    "Compare",
    "Set aside",
    "Cases",
    "Files",
)


@pytest.fixture
def table(tmp_path):
    file = tmp_path / "referrals.csv"
    file.write_text(TABLE + "odd,heavy,male,south\n", encoding="utf-8")
    return file


def upload(person: Visitor, file) -> Visitor:
    table_of_cases = "[class*='st-key-cohort-upload-cases-'] input[type=file]"
    person.page.locator(table_of_cases).set_input_files(str(file))
    return person.reads(file.name, ".st-key-cohort-tables").settle()


def screen(person: Visitor) -> Visitor:
    person.press("Screen the table", patience=SCREENING)
    playwright.expect(person.page.locator(".c-cohort")).to_be_visible()
    return person


def save(person: Visitor, words: str, target):
    with person.page.expect_download() as started:
        person.button(words).click()
    started.value.save_as(target)
    return target


def test_from_a_table_to_masked_files_and_one_case(visitor, table, tmp_path):
    person = screen(upload(visitor(path="cohort"), table))
    person.reads("61 cases read").reads("1 cell not read").reads("1 column was not read")
    person.choose("Set aside")
    playwright.expect(person.button("Cells not read (CSV)")).to_be_visible()

    person.choose("Who is left")
    assert save(person, "Diagram of cases (PNG)", tmp_path / "flow.png").read_bytes().startswith(b"\x89PNG")
    assert b"<svg" in save(person, "Diagram of cases (SVG)", tmp_path / "flow.svg").read_bytes()

    person.choose("What if").press("Try them", patience=SCREENING).reads("Cases by standing for each value")
    assert "urgent" in save(person, "What if (CSV)", tmp_path / "if.csv").read_text("utf-8")

    person.choose("Files").press("Prepare counts masked below 10 (ZIP)")
    packed = zipfile.ZipFile(save(person, "Download counts masked below 10 (ZIP)", tmp_path / "m.zip"))
    assert b"r001" not in b"".join(packed.read(name) for name in packed.namelist())
    page = save(person, "Summary masked below 10 (HTML)", tmp_path / "s.html").read_text("utf-8")
    assert "&lt;10" in page
    person.press("Prepare all results (ZIP)")
    packed = zipfile.ZipFile(save(person, "Download all results (ZIP)", tmp_path / "all.zip"))
    cases = next(name for name in packed.namelist() if name.endswith("cases.parquet"))
    assert "r059" in set(pd.read_parquet(io.BytesIO(packed.read(cases)))["case_id"])

    person.choose("Cases")
    grid = person.page.locator("[class*='st-key-cohort-cases-']").get_by_test_id("stDataFrame")
    grid.scroll_into_view_if_needed()
    person.settle()
    place = grid.bounding_box()
    person.page.mouse.click(place["x"] + 16, place["y"] + 35 + 18)  # the box of the first row
    person.settle()
    playwright.expect(person.field("Case reference")).to_have_value("odd")
    person.write("Case reference", "r007")
    playwright.expect(person.page.locator(".c-standing")).to_be_visible()
    person.press("Open as the referral").tab("Referral").reads("r007", ".c-case")
    person.tab("Cohort").reads("61 cases read")  # results outlive a change of page
    person.reload().reads("61 cases read")  # and a reload


@only_deep
def test_the_keyboard_alone_reaches_the_results(visitor):
    person = visitor(path="cohort")
    for words in ("Take the demonstration cases", "Screen the table"):
        button = person.button(words)
        for _ in range(40):
            if button.evaluate("node => node === document.activeElement"):
                break
            person.page.keyboard.press("Tab")
        assert button.evaluate("node => node === document.activeElement"), words
        person.page.keyboard.press("Enter")
        person.settle(SCREENING)
    person.reads("Cases by standing")
    person.page.get_by_role("radio", name="Standings", exact=True).focus()
    person.page.keyboard.press("ArrowRight")
    person.page.keyboard.press("Enter")
    person.settle().reads("Flow of discs")


@only_deep
def test_masked_for_a_screen_that_others_see(visitor, table):
    person = screen(upload(visitor(path="cohort"), table))
    person.page.get_by_text("Mask small counts, hide case references", exact=True).click()
    person.settle().reads("shown as <10")
    for view in VIEWS:
        if view != "Files":
            person.choose(view).lacks("r001")
    person.choose("Cases")
    playwright.expect(person.page.get_by_test_id("stDataFrame")).to_have_count(0)


@pytest.mark.parametrize(("width", "dark"), [(1280, False), pytest.param(820, True, marks=only_deep)])
def test_no_view_has_a_serious_accessibility_violation_or_scrolls_sideways(visitor, table, width, dark):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = upload(visitor(width=width, dark=dark, path="cohort"), table)
    person.page.locator("summary", has_text="Add a table of discs").click()
    person.page.locator("summary", has_text="What the columns hold").click()
    person.write("Assess as of (YYYY-MM-DD; empty: today)", "2026-02-30")
    found = [f"form: {line}" for line in violations(person)]
    person.write("Assess as of (YYYY-MM-DD; empty: today)", "")
    screen(person)
    for view in VIEWS:
        person.choose(view)
        if view == "What if":
            person.press("Try them", patience=SCREENING)
        if view == "Compare":
            person.press("Compare", patience=SCREENING)
        if view == "Cases":
            person.write("Case reference", "r007")
        found += [f"{view}: {line}" for line in violations(person)]
        assert person.overflow() <= 0, view
    assert found == [], "\n".join(found)


@only_deep
def test_what_was_refused_is_told_in_a_table(visitor, tmp_path):
    file = tmp_path / "odd.csv"
    file.write_text("case_id,body_weight\na,80\n", encoding="utf-8")
    person = upload(visitor(path="cohort"), file).press("Screen the table", patience=SCREENING)
    refused = person.page.locator(".c-problems")
    playwright.expect(refused).to_contain_text("the unit is missing")
    playwright.expect(refused).to_contain_text("odd.csv")
    if AXE.is_file():
        assert violations(person) == []


def test_tables_lie_in_private_folders_and_go_with_the_session_or_the_server(
    browser, table, tmp_path, monkeypatch
):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setenv("TMPDIR", str(scratch))

    def left() -> list:
        return [file for file in scratch.rglob("*") if file.is_file()]

    with server(tmp_path / "log.txt") as address:
        page = stranger(browser)
        person = screen(upload(Visitor(page, address).visit("cohort"), table))
        assert b"r001" in b"".join(file.read_bytes() for file in left() if file.suffix == ".csv")
        for folder in scratch.glob("candidacy-*"):
            assert folder.stat().st_mode & 0o077 == 0, "nobody else may look into it"
        person.press("Referral").press("Close and forget")
        person.until(
            lambda: not [file for file in left() if file.suffix == ".csv"],
            "the tables are removed with the desk",
        )
        screen(upload(Visitor(page.context.new_page(), address).visit("cohort"), table))
        assert left()
        page.context.close()
    assert left() == []
