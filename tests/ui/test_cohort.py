"""The Cohort page: the numbers of the cohort functions, every input they take, and nothing lost or told by accident."""

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest

pytest.importorskip("duckdb", reason="cohorts need the cohort extra")
import pandas as pd

from candidacy.cohort import Cohort, masked_frame
from candidacy.cohort import screen as screen_table
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from candidacy.ui.cohort import run as run_module
from candidacy.ui.cohort.archive import csv_text, full_zip, masked_zip, moved_csv
from candidacy.ui.cohort.run import SHOWN_ROWS, Run
from candidacy.ui.show import label
from tests.deep import only_deep
from tests.ui.conftest import TODAY, demo

VIEW = "cohort.page.cohort"
BMI = "body_mass_index_limit.bmi_upper_limit"
CSV = b"ref,Sex,BMI\na,M,29\nb,F,41.5\nc,F,heavy\n"
MAPPING = """version: '1'
confirmed: true
patients:
  case_id: ref
  columns:
    BMI: {element: body_mass_index, unit: kg/m2}
    Sex: {element: sex, codes: {M: male, F: female}}
"""
PLAIN = b"case_id,body_mass_index [kg/m2]\na,29\nb,41.5\nc,36\n"


def upload(page, content: bytes, name: str = "referrals.csv", place: int = 0):
    page.at.get("file_uploader")[place].set_value((name, content, "application/octet-stream"))
    return page.run()


def add(page, slot: str, content: bytes, name: str):
    page.pick("cohort-slot", slot)
    return upload(page, content, name)


def as_text(page):
    """Show the mapping as text."""
    next(each for each in page.at.toggle if each.key == "kept-cohort-mapping-as-text").set_value(True)
    return page.run()


def screened(screen, content: bytes = PLAIN, name: str = "referrals.csv"):
    return upload(screen(VIEW), content, name).press("cohort-go")


@pytest.fixture(scope="module")
def once() -> Iterator[Callable[..., Cohort]]:
    """Screens the demonstration cases once for all tests that look at them, and every other table anew."""
    kept: list[Cohort] = []

    def screened_once(table, rule_set, as_of, *, progress, **more) -> Cohort:
        asked = Path(table), rule_set.digest, as_of
        demonstrated = asked == (demo_cases_folder(), load_rule_set("practice_baseline").digest, TODAY)
        if not demonstrated or any(more.values()):
            return screen_table(table, rule_set, as_of, progress=progress, **more)
        if not kept:
            kept.append(screen_table(table, rule_set, as_of, progress=progress, **more))
            kept[0].close = lambda: None  # the page lets go of it; the next test takes it up
        return kept[0]

    yield screened_once
    for cohort in kept:
        Cohort.close(cohort)


@pytest.fixture(autouse=True)
def _once(once, monkeypatch) -> None:
    monkeypatch.setattr(run_module, "screen", once)


def demonstration(screen):
    return screen(VIEW).press("cohort-demo").press("cohort-go")


def view(page, name: str):
    return page.tap("kept-cohort-view", name)


def table(page, head: str) -> str:
    """The markup of a table of counts by its caption."""
    return next(b for b in page.bodies if f"<caption>{head}" in b)


def run_of(page) -> Run:
    return page.desk.kept["cohort-run"]


def labels(page) -> list[str]:
    return [b.label for b in page.at.get("download_button")]


# --- results


def test_the_demonstration_cases_give_the_counts_of_the_function_and_one_opens(screen, once):
    page = demonstration(screen)
    cohort = once(demo_cases_folder(), load_rule_set("practice_baseline"), TODAY, progress=None)
    expected = {r["standing"]: r["cases"] for r in cohort.standings().to_dict("records")}
    shown = table(page, "Cases by standing")
    for standing, count in expected.items():
        assert re.search(rf'{standing}">[^<]+</td><td class="n">{count}</td>', shown), standing
    view(page, "Cases").type("cohort-case", "pregnant").press("cohort-open")
    assert page.desk.record.patient == demo("pregnant").patient
    assert page.desk.as_of() == TODAY, "assessed on the day of the cohort, so with the same outcomes"


@pytest.mark.parametrize(
    ("name", "frame"), [("Criteria", "tallies"), ("Reasons", "reasons"), ("Missing", "missing_ranking")]
)
def test_every_count_of_a_view_is_that_of_the_function(screen, name, frame):
    page = view(demonstration(screen), name)
    found = getattr(run_of(page).cohort, frame)()
    body = next(b for b in page.bodies if "<caption>" in b)
    rows = re.findall(r'<tr><th scope="row">.*?</tr>', body)
    assert len(rows) == len(found) > 3
    counts = {
        "tallies": ["pass", "fail", "undetermined"],
        "reasons": ["failing", "sole"],
        "missing_ranking": ["settles", "waiting"],
    }
    for row, expected in zip(rows, found.to_dict("records"), strict=True):
        assert [int(n) for n in re.findall(r'class="n">(\d+)<', row)] == [expected[k] for k in counts[frame]]


def test_the_flow_is_drawn_and_can_be_taken_as_svg_and_png(screen):
    page = view(demonstration(screen), "Who is left")
    assert "Flow of discs" in table(page, "Flow of discs")
    assert {"Diagram of cases (SVG)", "Diagram of cases (PNG)", "Flow, every criterion (CSV)"} <= set(
        labels(page)
    )
    run = run_of(page)
    for flow in run.flows():
        assert run.diagram(flow, "png").startswith(b"\x89PNG")
        assert str(flow.start).encode() in run.diagram(flow, "svg")


def test_results_outlive_a_change_of_page_and_a_reload(screen):
    page = demonstration(screen)
    again = screen("rule_sets.rule_sets")
    again.at.session_state["desk"] = page.desk
    again.run()
    fresh = screen(VIEW, **page.desk.copy().kept)
    assert "Cases by standing" in fresh.text
    assert run_of(fresh) is run_of(page)


def test_what_was_chosen_since_is_named_and_results_are_of_the_former(screen):
    page = demonstration(screen)
    assert "former" not in page.text
    page.type("kept-cohort-as-of", "2026-10-01")
    assert "results are of the former date." in page.text
    page.desk.rules = "report_completeness"
    page.run()
    assert "results are of the former rule set or local trial, date." in page.text
    page.press("cohort-go")
    assert "former" not in page.text
    assert "Report completeness" in page.text
    assert "as of 2026-10-01" in page.text


def test_a_date_that_cannot_be_read_screens_nothing(screen):
    page = screen(VIEW).press("cohort-demo")
    page.type("kept-cohort-as-of", "2026-02-30").press("cohort-go")
    assert "not a date" in page.text
    assert "2026-02-30" in page.text
    assert "Cases by standing" not in page.text


def test_the_status_and_the_cautions_are_in_view(screen):
    page = demonstration(screen)
    version = load_rule_set("practice_baseline").file.version
    assert f"Practice baseline {version} (draft) as of 2026-11-25" in page.text
    assert "never an instruction" in page.text
    assert "not an order" in page.text


def test_an_empty_page_says_what_a_table_looks_like_and_those_headers_are_read(screen):
    page = screen(VIEW)
    shown = re.findall(r"<code>([^<]+)</code>", next(b for b in page.bodies if "one row per case" in b))
    headers = [name for name in shown if name != "facts_date"]
    cells = {"case_id": "a", "body_weight [kg]": "80", "sex": "male", "L4-L5 pfirrmann_grade": "III",
             "body_weight (date)": "2026-11-01"}  # fmt: skip
    assert set(headers) == set(cells)
    page = upload(page, f"{','.join(headers)}\n{','.join(cells[h] for h in headers)}\n".encode())
    page.press("cohort-go")
    assert "not read" not in page.text
    facts = run_of(page).find("a").case.record
    assert set(facts.patient) == {"body_weight", "sex"}
    assert facts.patient["body_weight"].date == "2026-11-01"
    assert set(facts.discs["L4-L5"]) == {"pfirrmann_grade"}


# --- tables and how they are written


def test_foreign_headers_are_refused_until_a_person_confirms_a_mapping(screen):
    page = as_text(upload(screen(VIEW), CSV)).press("cohort-propose")
    assert "confirmed: false" in page.at.text_area[0].value
    page.press("cohort-go")
    assert "nobody has confirmed this mapping" in page.text or "not a unit" in page.text
    page.at.text_area[0].set_value(MAPPING)
    page.run().press("cohort-go")
    assert "3 cases read" in page.text
    assert "1 cell not read" in page.text
    view(page, "Set aside")
    cells = page.at.dataframe[0].value
    assert list(cells["row"]) == ["4"]
    assert list(cells["value"]) == ["heavy"]


def test_each_list_of_the_record_comes_from_a_table_of_its_own(screen):
    page = upload(screen(VIEW), b"case_id,sex,medicines complete,injections complete\na,male,true,true\n")
    add(page, "medicines", b"case_id,medicine_class,medicine_agent\na,antiplatelet,aspirin\n", "med.csv")
    add(
        page,
        "injections",
        b"case_id,injection_kind,injection_date\na,epidural_steroid,2026-10-01\n",
        "inj.csv",
    )
    add(page, "surgeries", b"case_id,surgery_kind,surgery_date\na,discectomy,2020-01-01\n", "ops.csv")
    add(page, "treatments", b"case_id,treatment_kind\na,physical_therapy\n", "care.csv")
    for name in ("med.csv", "inj.csv", "ops.csv", "care.csv"):
        assert name in page.text
    page.press("cohort-go")
    facts = run_of(page).find("a").case.facts
    assert {
        n: len(facts.lists[n].entries) for n in ("medicines", "injections", "surgeries", "treatments")
    } == {
        "medicines": 1,
        "injections": 1,
        "surgeries": 1,
        "treatments": 1,
    }
    assert facts.lists["medicines"].complete
    assert not facts.lists["surgeries"].complete


def test_earlier_procedures_and_discs_are_taken_too(screen):
    page = upload(screen(VIEW), b"case_id,sex\na,male\n")
    add(page, "discs", b"case_id,disc,pfirrmann_grade\na,L4-L5,III\n", "discs.csv")
    columns = b"case_id,intradiscal_procedure_kind,intradiscal_procedure_date\na,discography,2026-01-05\n"
    add(page, "intradiscal_procedures", columns, "earlier.csv")
    page.press("cohort-go")
    assert run_of(page).cohort.levels == ("L4-L5",)
    assert len(run_of(page).find("a").case.facts.lists["intradiscal_procedures"].entries) == 1


def test_a_workbook_of_several_sheets_asks_for_one_and_has_a_field_for_it(screen):
    book = io.BytesIO()
    with pd.ExcelWriter(book) as writer:
        pd.DataFrame({"note": ["other"]}).to_excel(writer, sheet_name="Notes", index=False)
        pd.read_csv(io.BytesIO(PLAIN)).to_excel(writer, sheet_name="Cases", index=False)
    page = screened(screen, book.getvalue(), "referrals.xlsx")
    assert "the workbook has several sheets" in page.text
    assert "Notes, Cases" in page.text
    assert "--part" not in page.text
    page.pick("kept-cohort-part-cases", "Cases").press("cohort-go")
    assert "3 cases read" in page.text


def test_a_sheet_may_be_named_for_every_table_and_is_forgotten_with_it(screen):
    book = io.BytesIO()
    discs = pd.DataFrame({"case_id": ["a"], "disc": ["L4-L5"], "pfirrmann_grade": ["III"]})
    with pd.ExcelWriter(book) as writer:
        pd.read_csv(io.BytesIO(PLAIN)).to_excel(writer, sheet_name="Cases", index=False)
        discs.to_excel(writer, sheet_name="Discs / MRI".replace("/", "+"), index=False)
    page = upload(screen(VIEW), book.getvalue(), "all.xlsx")
    add(page, "discs", book.getvalue(), "all.xlsx")
    page.pick("kept-cohort-part-cases", "Cases").press("cohort-go")
    assert "Sheet or table of discs" in page.text
    page.pick("kept-cohort-part-discs", "Discs + MRI").press("cohort-go")
    assert "3 cases read" in page.text
    assert run_of(page).cohort.levels == ("L4-L5",)
    page.pick("kept-cohort-part-discs", "Cases")
    assert "results are of the former sheet or delimiter." in page.text
    page.press("cohort-drop")
    upload(page, PLAIN).press("cohort-go")
    assert "3 cases read" in page.text
    assert run_of(page).asked.setup.parts == {}


def test_a_database_of_several_tables_asks_for_one(screen, tmp_path):
    import duckdb

    with duckdb.connect(str(tmp_path / "t.duckdb")) as base:
        base.execute("CREATE TABLE notes AS SELECT 1 AS x")
        base.execute("CREATE TABLE people AS SELECT 'a' AS case_id, 29.0 AS \"body_mass_index [kg/m2]\"")
    page = screened(screen, (tmp_path / "t.duckdb").read_bytes(), "registry.duckdb")
    assert "notes, people" in page.text
    page.pick("kept-cohort-part-cases", "people").press("cohort-go")
    assert "1 case read" in page.text


def test_a_delimiter_that_is_not_clear_can_be_chosen(screen):
    page = screened(screen, b"case_id;body_mass_index [kg/m2],x\na;29\nb;30\n")
    assert "the delimiter is not clear" in page.text
    assert "--delimiter" not in page.text
    page.pick("kept-cohort-delimiter", ";").press("cohort-go")
    assert "the delimiter is not clear" not in page.text


def test_a_refusal_names_file_column_and_what_is_allowed(screen):
    page = screened(screen, b"case_id,body_mass_index [kg/m2],body_weight\na,29,80\n", "second.csv")
    body = next(b for b in page.bodies if "Refused; nothing was screened" in b)
    for words in ("second.csv", "body_weight", "the unit is missing", "kg"):
        assert words in body
    assert "candidacy-table-" not in page.text, "no path of the machine"
    assert "cohort-run" not in page.desk.kept


def test_a_refusal_leaves_the_former_results_and_says_so(screen):
    page = screened(screen)
    former = run_of(page)
    page.desk.kept["cohort-mapping-as-text"] = True
    page.run().at.text_area[0].set_value(MAPPING)
    page.run().press("cohort-go")
    assert "Refused; nothing was screened" in page.text
    assert "the table has no such column" in page.text
    assert run_of(page) is former
    assert "results are of the former mapping." in page.text


def test_every_wrong_cell_is_told_with_its_row_and_column(screen):
    page = screened(screen, b"case_id,body_mass_index [kg/m2]\na,heavy\nb,29\nc,tall\n")
    assert "2 cells not read" in page.text
    view(page, "Set aside")
    cells = page.at.dataframe[0].value
    assert list(cells["row"]) == ["2", "4"]
    assert list(cells["value"]) == ["heavy", "tall"]
    assert set(cells["column"]) == {"body_mass_index [kg/m2]"}


def test_a_table_of_which_no_row_can_be_used_is_refused(screen):
    page = screened(screen, b"case_id,body_mass_index [kg/m2]\n,29\n,30\n")
    body = next(b for b in page.bodies if "Refused; nothing was screened" in b)
    assert "no row can be used" in body
    assert "case_id" in body


def test_every_step_that_a_command_would_take_has_a_way_on_the_page():
    """Words for the command line must not reach the page, whatever module they come from."""
    from candidacy.foundation.errors import Code, Problem
    from candidacy.ui.cohort.setup import Setup, Table, on_page

    here = Setup({"cases": Table(Path("c.csv"), "mine.csv", object())})
    texts = []
    for file in (Path(__file__).parents[2] / "candidacy" / "cohort").rglob("*.py"):
        texts += re.findall(r'next_step=f?"([^"]*--[a-z][^"]*)"', file.read_text("utf-8"))
    assert texts
    for text in texts:
        told = on_page(Problem(Code.BAD_TABLE, "x", "c.csv", next_step=text), here)
        assert "--" not in told.next_step
        assert told.next_step
        assert told.file == "mine.csv"


def test_columns_that_were_not_read_are_named(screen):
    page = screened(screen, b"case_id,body_mass_index [kg/m2],Arm,Site\na,29,p,fell last week\n")
    body = next(b for b in page.bodies if "not read" in b)
    assert "2 columns were not read" in body
    assert "<code>Arm</code>" in body
    assert re.search("<code>Site</code> of [^<]+: words in 1 row, which no rule reads", body)
    page = view(page, "How firm").press("cohort-firm")
    assert "All cases: standings that one repeat of what was measured would change" in page.text


def test_discs_without_a_place_are_counted_and_told(screen):
    page = upload(screen(VIEW), PLAIN)
    add(page, "discs", b"case_id,disc,pfirrmann_grade\na,L4-L5,III\nzz,L4-L5,III\na,L9,III\n", "discs.csv")
    page.press("cohort-go")
    assert "2 rows of the other tables set aside" in page.text
    view(page, "Set aside")
    reasons = " ".join(page.at.dataframe[0].value["reason"])
    assert "zz" in reasons
    assert "L9" in reasons
    assert "candidacy-table-" not in reasons


# --- nothing is lost


def test_what_was_removed_can_be_brought_back_with_its_results(screen):
    page = screened(screen)
    former = run_of(page)
    page.press("cohort-remove-cases")
    assert "cohort-run" not in page.desk.kept
    assert "referrals.csv" not in page.text
    page.press("cohort-back")
    assert run_of(page) is former
    assert "referrals.csv" in page.text
    assert "3 cases read" in page.text
    assert not page.has("button", "cohort-back")


def test_a_mapping_written_by_hand_is_not_lost_to_a_proposal(screen):
    page = as_text(upload(screen(VIEW), CSV))
    page.at.text_area[0].set_value(MAPPING)
    page.run().press("cohort-propose")
    assert "confirmed: false" in page.at.text_area[0].value
    page.press("cohort-back")
    assert page.at.text_area[0].value.strip() == MAPPING.strip()


def test_a_screening_can_be_stopped_and_leaves_the_former_results(screen, monkeypatch):
    import threading

    import candidacy.ui.cohort.page as page_module

    page = screened(screen)
    former, goes_on = run_of(page), threading.Event()

    def slow(asked, tell):
        tell("reading every case", 2, 4)
        goes_on.wait(20)
        tell("done", 4, 4)
        raise AssertionError("went on after it was stopped")

    monkeypatch.setattr(page_module, "run", slow)
    monkeypatch.setattr(page_module, "_watch", lambda: None)
    page.press("cohort-go")
    job = page.desk.kept["cohort-job"]
    assert job.running
    assert job.step == ("reading every case", 2, 4)
    page.press("cohort-stop")
    assert "Stopped; nothing was screened" in page.text
    goes_on.set()
    job.wait(20)
    assert not job.running
    assert job.result is None
    assert not job.failed
    assert run_of(page) is former


def test_progress_tells_the_step_and_the_seconds(screen, monkeypatch):
    import candidacy.ui.cohort.page as page_module

    told = []
    monkeypatch.setattr(page_module.st, "progress", lambda share, text: told.append(text))
    screened(screen)
    assert re.fullmatch(r"Step [1-4] of [14]: [a-z ]+; \d+ s", told[0])


# --- masking


def test_masked_counts_are_those_of_the_function_and_references_are_hidden(screen):
    page = demonstration(screen)
    page.at.get("toggle")[0].set_value(True)
    page.run().type("kept-cohort-below", "5")
    masked = masked_frame(run_of(page).cohort.standings(), 5)
    shown = table(page, "Cases by standing")
    for row in masked.to_dict("records"):
        escaped = row["cases"].replace("<", "&lt;")
        assert re.search(rf'{row["standing"]}">[^<]+</td><td class="n">{re.escape(escaped)}</td>', shown)
    assert all("masked" in str(n) for n in _file_names(page))
    view(page, "Cases")
    assert len(page.at.dataframe) == 0
    assert "hidden" in page.text
    view(page, "Set aside")
    assert len(page.at.dataframe) == 0


def _file_names(page) -> list[str]:
    names = [b.key for b in page.at.get("download_button")]
    assert names
    return names


@pytest.mark.parametrize("wrong", ["1", "0", "many", "", "-5", "²"])
def test_a_threshold_that_masks_nothing_shows_nothing(screen, wrong):
    page = demonstration(screen)
    page.at.get("toggle")[0].set_value(True)
    page.run().type("kept-cohort-below", wrong)
    assert "Nothing is shown until the threshold can be used" in page.text
    assert "Cases by standing" not in page.text
    assert not page.has("button_group", "kept-cohort-view")


def test_what_is_shared_is_masked_and_names_no_case(screen):
    page = view(demonstration(screen), "Files")
    page.type("kept-cohort-share-below", "7").press("cohort-prepare-masked")
    assert "Download counts masked below 7 (ZIP)" in labels(page)
    run = run_of(page)
    packed = zipfile.ZipFile(masked_zip(run, 7))
    names = [n.split("/", 1)[1] for n in packed.namelist()]
    assert "summary.html" in names
    assert not [n for n in names if "case" in n and "attrition" not in n]
    everything = b"".join(packed.read(n) for n in packed.namelist())
    for case in run.cohort.outcomes()["case_id"]:
        assert f"{case},".encode() not in everything
    shared = pd.read_csv(io.BytesIO(packed.read("cohort-masked-below-7/standings.csv")), dtype=str)
    assert list(shared["cases"]) == list(masked_frame(run.cohort.standings(), 7)["cases"])
    assert "shown as &lt;7" in run.summary(7)
    page.type("kept-cohort-share-below", "8")
    assert "Download counts masked below 7 (ZIP)" not in labels(page), (
        "a file of another threshold is not offered"
    )


def test_all_results_come_with_a_caution_and_only_when_asked_for(screen):
    page = view(demonstration(screen), "Files")
    assert not [words for words in labels(page) if "all results" in words]
    assert "these files hold case references" in page.text
    page.press("cohort-prepare-all")
    assert "Download all results (ZIP)" in labels(page)
    packed = zipfile.ZipFile(full_zip(run_of(page), True))
    names = {n.split("/", 1)[1] for n in packed.namelist()}
    assert {"cases.csv", "cases.parquet", "set_aside.csv", "run.json", "summary.html"} <= names
    cases = pd.read_csv(io.BytesIO(packed.read("cohort-results-with-case-references/cases.csv")))
    assert len(cases) == run_of(page).cohort.cases
    assert "moves.csv" not in names
    view(page, "Compare").pick("kept-cohort-other", "report_completeness").press("cohort-compare")
    view(page, "Files")
    assert "Download all results (ZIP)" not in labels(page), "a comparison made since belongs to all results"
    packed = zipfile.ZipFile(full_zip(run_of(page), True))
    assert [n for n in packed.namelist() if "move" in n]
    no_csv = zipfile.ZipFile(full_zip(run_of(page), False)).namelist()
    assert not [n for n in no_csv if n.endswith("cases.csv")]


def test_files_are_not_offered_any_more_once_other_values_were_tried(screen):
    page = view(demonstration(screen), "What if").pick("kept-what-if", BMI)
    for typed in ("30, 45", "31, 45"):
        view(page, "What if").type(f"kept-what-if-values-{BMI}", typed).press("what-if-go")
        view(page, "Files")
        for name in ("masked", "all"):
            assert not [words for words in labels(page) if "Download" in words and name in words]
        page.press("cohort-prepare-masked").press("cohort-prepare-all")
        assert len([words for words in labels(page) if "Download" in words]) == 2
        file = run_of(page).ready["masked"][1]
        shared = zipfile.ZipFile(file).read("cohort-masked-below-10/sweep.csv").decode()
        assert shared.splitlines()[1].startswith(f"{typed[:2]},")


def test_no_file_names_a_folder_of_the_machine(screen):
    page = upload(screen(VIEW), PLAIN)
    add(page, "discs", b"case_id,disc,pfirrmann_grade\nzz,L4-L5,III\n", "discs.csv")
    run = run_of(page.press("cohort-go"))
    packed = zipfile.ZipFile(full_zip(run, True))
    for name in packed.namelist():
        assert b"candidacy-table-" not in packed.read(name), name
        assert b"candidacy-results-" not in packed.read(name), name


# --- what if, other rule set


def test_one_parameter_over_a_list_and_over_a_range(screen):
    page = view(demonstration(screen), "What if")
    page.pick("kept-what-if", BMI)
    page.type(f"kept-what-if-values-{BMI}", "30, 45").press("what-if-go")
    expected = run_of(page).cohort.sweep({BMI: [30, 45]})
    assert run_of(page).tried.frame.equals(expected)
    assert {"Plot (SVG)", "Plot (PNG)", "What if (CSV)"} <= set(labels(page))
    assert csv_text(expected).splitlines()[1].startswith("30,")
    page.type(f"kept-what-if-values-{BMI}", "30:31:0.5, 40").press("what-if-go")
    assert list(run_of(page).tried.frame.iloc[:, 0]) == [30, 30.5, 31, 40]


def test_two_parameters_give_every_combination(screen):
    page = view(demonstration(screen), "What if")
    items = run_of(page).cohort.rule_set.criteria
    second = next(f"{i.id}.{n}" for i in items for n, p in i.parameters.items()
                  if f"{i.id}.{n}" != BMI and type(p.value) is int and i.force != "stop")  # fmt: skip
    page.pick("kept-what-if", BMI).pick("kept-what-if-second", second)
    page.type(f"kept-what-if-values-{BMI}", "30, 45").press("what-if-go")
    frame = run_of(page).tried.frame
    assert list(frame.columns[:2]) == [BMI, second]
    assert len(frame) >= 2
    assert set(frame[BMI]) == {30, 45}
    assert run_of(page).plot("svg").count(second.encode()) == frame[second].nunique()
    page.pick("kept-what-if-second", "")
    page.press("what-if-go")
    assert second not in run_of(page).tried.frame


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("30, heavy", "not the kind of value"),
        ("4000", "outside the bounds"),
        ("", "no value to try"),
        ("30:x:1", "not a range"),
        ("30:40", "not a range"),
        ("40:30:1", "not a range that can be tried"),
        ("30:40:0", "not a range that can be tried"),
        ("30:40:-1", "not a range that can be tried"),
        ("30:40:0.001", "not a range that can be tried"),
        ("nan:40:1", "not a range"),
        ("30, 30", "stands twice"),
    ],
)
def test_values_that_cannot_be_tried_are_refused_with_what_is_allowed(screen, typed, words):
    page = view(demonstration(screen), "What if")
    page.pick("kept-what-if", BMI)
    page.type(f"kept-what-if-values-{BMI}", typed).press("what-if-go")
    assert "Refused; nothing was tried" in page.text
    assert words in page.text
    assert "allowed:" in page.text
    assert run_of(page).tried is None


def test_all_wrong_values_are_told_at_once(screen):
    page = view(demonstration(screen), "What if")
    page.pick("kept-what-if", BMI)
    page.type(f"kept-what-if-values-{BMI}", "heavy, 4000, 35").press("what-if-go")
    assert "heavy" in page.text
    assert "4000" in page.text


def test_values_tried_are_masked_with_their_parameter_kept(screen):
    page = view(demonstration(screen), "What if")
    page.pick("kept-what-if", BMI)
    page.type(f"kept-what-if-values-{BMI}", "31, 47").press("what-if-go")
    page.at.get("toggle")[0].set_value(True)
    page.run()
    body = next(b for b in page.bodies if "<caption>" in b)
    assert '<th scope="row">31</th>' in body
    assert "&lt;10" in body
    assert "Plot (PNG)" not in labels(page), "a plot would show the counts"


@only_deep
def test_moves_under_another_rule_set_are_those_of_the_function(screen):
    page = view(demonstration(screen), "Compare")
    page.pick("kept-cohort-other", "trial_style_strict").press("cohort-compare")
    expected = run_of(page).cohort.compare("trial_style_strict")
    assert run_of(page).compared.comparison.moves.equals(expected.moves)
    assert f"{len(expected.cases)} cases in another standing" in page.text
    assert {"Moves (CSV)", "Cases that move, with references (CSV)"} <= set(labels(page))
    assert len(csv_text(expected.moves).splitlines()) == len(expected.moves) + 1
    moved = pd.read_csv(io.StringIO(moved_csv(run_of(page))))
    assert list(moved["case_id"]) == list(expected.cases["case_id"])


# --- large tables


def test_of_a_long_table_the_first_rows_are_shown_and_any_case_is_found(screen, monkeypatch):
    asked_for = []
    whole = Cohort.outcomes
    monkeypatch.setattr(
        Cohort, "outcomes", lambda self, limit=None: asked_for.append(limit) or whole(self, limit)
    )
    count = SHOWN_ROWS + 300
    rows = "".join(f"r{n:05},{25 + n % 20}\n" for n in range(count))
    page = screened(screen, b"case_id,body_mass_index [kg/m2]\n" + rows.encode())
    view(page, "Cases")
    assert len(page.at.dataframe[0].value) == SHOWN_ROWS
    assert f"{SHOWN_ROWS:,} of {count:,} cases by reference" in page.text
    last = f"r{count - 1:05}"
    page.type("cohort-case", last)
    assert "c-standing" in " ".join(page.bodies)
    page.type("cohort-case", "nobody")
    assert "Not found" in page.text
    packed = zipfile.ZipFile(full_zip(run_of(page), True))
    assert last.encode() in packed.read("cohort-results-with-case-references/cases.csv")
    assert asked_for == [SHOWN_ROWS], "the outcomes are never held whole"


def test_cases_of_one_standing_alone(screen):
    page = view(demonstration(screen), "Cases")
    outcomes = run_of(page).cohort.outcomes()
    for standing in ("candidate", "borderline", "urgent"):
        page.pick("kept-cohort-only", standing)
        expected = outcomes[outcomes["standing"] == standing]["case_id"]
        assert len(expected) > 1
        assert list(page.at.dataframe[0].value["case_id"]) == list(expected)


def test_a_standing_that_no_case_has_is_said(screen):
    page = view(screened(screen), "Cases").pick("kept-cohort-only", "candidate")
    assert "No case has this standing" in page.text
    assert len(page.at.dataframe[0].value) == 0


# --- foreign text


EVIL = (
    "<script>alert(1)</script><img src=x onerror=alert(2)> **b** :red[x] $x$ [a](javascript:alert(3)) {{7*7}}"
)


def test_foreign_text_stays_text_in_every_view(screen):
    long = "h" * 300
    header = ",".join(f'"{name}"' for name in ("case_id", "body_mass_index [kg/m2]", EVIL, long, "=1+1"))
    rows = f'"{EVIL}",29,1,2,3\n"=cmd()",41,1,2,3\nz,"{EVIL}",1,2,3\n'
    page = upload(screen(VIEW), f"{header}\n{rows}".encode(), f"{EVIL}.csv")
    page.press("cohort-remove-cases")
    assert label(EVIL)[:20] in next(b.label for b in page.at.get("button") if b.key == "cohort-back")
    page.press("cohort-back").press("cohort-propose")
    page.desk.kept["cohort-mapping-as-text"] = True
    page.run().at.text_area[0].set_value("")
    page.run().press("cohort-go")
    assert "3 cases read" in page.text
    assert "1 cell not read" in page.text
    for name in (
        "Standings",
        "Who is left",
        "Reasons",
        "Criteria",
        "Missing",
        "Set aside",
        "Cases",
        "Files",
    ):
        view(page, name)
        for body in page.bodies:
            assert "<img" not in body
            assert "<script>alert" not in body
            assert "49" not in re.findall(r"\{\{.*?\}\}", body)
        for item in page.at.markdown:
            assert "alert(" not in item.value
        for widget in page.at.get("button"):
            assert not re.search(r"(?<!\\)[<\[*:$]", widget.label or ""), widget.label
    view(page, "Cases").type("cohort-case", EVIL)
    assert "Not found" not in page.text
    assert "&lt;script&gt;" in "".join(page.bodies), "the name of the file stands there as written"
    summary = run_of(page).summary()
    assert "<script>alert" not in summary


def test_no_cell_of_a_csv_is_taken_for_a_formula(screen):
    frame = pd.DataFrame({"a": ["=1+1", "@x", "-3", "plain"], "n": [1, 2, 3, 4]})
    assert csv_text(frame).splitlines() == ["a,n", "'=1+1,1", "'@x,2", "-3,3", "plain,4"]


def test_a_mapping_that_is_no_yaml_is_refused_with_its_line(screen):
    page = as_text(upload(screen(VIEW), CSV))
    page.at.text_area[0].set_value("version: '1'\npatients: [\n")
    page.run().press("cohort-go")
    body = next(b for b in page.bodies if "Refused; nothing was screened" in b)
    assert "<td>mapping</td>" in body
    assert "candidacy-mapping" not in body


def test_the_page_says_what_day_it_counts_from(screen):
    page = screened(screen)
    assert f"as of {date(2026, 11, 25).isoformat()}" in page.text
