"""``candidacy plan``: its forms, what it refuses, and the work list."""

import csv
import io
import json
import re
from pathlib import Path

import pytest

from candidacy.cli import main
from candidacy.foundation.shipped import demo_cases_folder

CASE = demo_cases_folder() / "anticoagulated.yaml"
DAY = ("--on", "2026-12-14")


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    try:
        main(["plan", *(str(argument) for argument in arguments)])
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_the_text_tells_cautions_then_what_stands_against_the_day_then_steps(
    capsys: pytest.CaptureFixture[str],
) -> None:
    status, out, _ = run(capsys, CASE, *DAY, "--as-of", "2026-12-01")
    assert status == 0
    order = ["! A plan supports people", "Against this day", "contact the prescriber today", "Before the material is ordered",
             "Steps", "Medicines, as of 2026-12-01"]  # fmt: skip
    told = " ".join(out.split())
    places = [told.index(each) for each in order]
    assert places == sorted(places)
    assert len(out.splitlines()) < 160


def test_equal_input_gives_equal_json_with_digests_and_day(capsys: pytest.CaptureFixture[str]) -> None:
    first, second = (run(capsys, CASE, *DAY, "--format", "json")[1] for _ in range(2))
    assert first == second
    found = json.loads(first)
    assert (found["schema_version"], found["day"], found["as_of"]) == ("1", "2026-12-14", "2026-11-25")
    assert all(found[part]["digest"].startswith("sha256:") for part in ("case", "rule_set", "plan"))


def test_a_calendar_tells_no_fact_of_the_patient_unless_asked(capsys: pytest.CaptureFixture[str]) -> None:
    plain = run(capsys, CASE, *DAY, "--format", "ics")[1].replace("\n ", "")
    assert "apixaban" not in plain
    assert "fibrillation" not in plain
    assert "SUMMARY:Ask the prescriber in writing" in plain
    told = run(capsys, CASE, *DAY, "--format", "ics", "--with-facts")[1].replace("\n ", "")
    assert re.search("SUMMARY:Ask the prescriber of apixaban", told)


def test_the_table_guards_cells_that_look_like_formulas(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = CASE.read_text().replace(
        "medicine_name: {value: apixaban", "medicine_name: {value: '=HYPERLINK(1)'"
    )
    (tmp_path / "case.yaml").write_text(text)
    rows = list(csv.DictReader(io.StringIO(run(capsys, tmp_path / "case.yaml", *DAY, "--format", "csv")[1])))
    assert len(rows) > 20
    assert not [cell for row in rows for cell in row.values() if cell[:1] in "=+@" and cell]
    assert any("=HYPERLINK(1)" in cell for row in rows for cell in row.values())


def test_the_page_escapes_and_holds_a_drawing_with_its_words(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = CASE.read_text().replace(
        "medicine_name: {value: apixaban", "medicine_name: {value: '<script>x</script>'"
    )
    (tmp_path / "case.yaml").write_text(text)
    page = run(capsys, tmp_path / "case.yaml", *DAY, "--format", "html")[1]
    assert "<script>" not in page
    assert "&lt;script&gt;x" in page
    assert page.count("<svg") == 1
    assert "<desc>Timeline around 2026-12-14. " in page
    assert "2027-12-14 Visit at 12 months" in page
    assert page.index("Against this day") < page.index("<svg")


def test_the_pdf_holds_the_plan(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    from pypdf import PdfReader

    assert run(capsys, CASE, *DAY, "--format", "pdf", "--out", tmp_path / "plan.pdf")[0] == 0
    words = " ".join(page.extract_text() for page in PdfReader(tmp_path / "plan.pdf").pages)
    assert "Against this day" in words
    assert "Visit at 12 months" in words


def test_moving_the_day_says_what_changed_and_raises_the_sequence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    out = run(capsys, CASE, "--on", "2026-12-21", "--moved-from", "2026-12-14")[1]
    assert "What changed since the plan for 2026-12-14" in out
    assert "moved: Visit at 2 weeks: 2026-12-28 -> 2027-01-04" in out
    for form in ("json", "ics"):
        earlier = tmp_path / f"plan.{form}"
        run(capsys, CASE, *DAY, "--format", form, "--out", earlier)
        found = json.loads(
            run(capsys, CASE, "--on", "2026-12-21", "--moved-from", earlier, "--format", "json")[1]
        )
        steps = {step["id"]: step for step in found["steps"]}
        assert (steps["visit_2_weeks"]["sequence"], found["changes"]["moved_from"]) == (1, "2026-12-14")
    other = tmp_path / "plan.json"
    status, _, err = run(
        capsys, demo_cases_folder() / "one-disc-candidate.yaml", "--on", "2026-12-21", "--moved-from", other
    )
    assert (status, "this is a plan of another case" in err) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--on", "9999-12-31"), ("E207", "--on", "9999-12-31", "1880 to 2199")),
        (("--on", "2026-02-30"), ("E207", "--on", "2026-02-30", "YYYY-MM-DD")),
        (("--on", "2026-11-24"), ("E207", "has passed", "2026-11-24", "2026-11-25")),
        ((*DAY, "--moved-from", "2026-13-01"), ("E207", "--moved-from", "2026-13-01")),
        ((*DAY, "--format", "pdf"), ("E601", "--out FILE.pdf")),
        ((*DAY, "--with-facts"), ("E601", "--with-facts is for ics")),
        ((*DAY, "--plan", "nope"), ("E301", "no such plan", "nope", "around_injection")),
        ((*DAY, "--calendar", "nope.yaml"), ("E101", "nope.yaml")),
    ],
)
def test_bad_input_is_refused_with_the_way_out(
    capsys: pytest.CaptureFixture[str], arguments: tuple, words: tuple
) -> None:
    status, out, err = run(capsys, CASE, *arguments)
    assert (status, out) == (2, "")
    assert all(each in err for each in words), err


def test_a_plan_put_into_the_work_list_twice_adds_nothing_twice(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")
    from candidacy.case.load import load_case
    from candidacy.records.store import open_store

    place = tmp_path / "clinic.sqlite"
    with open_store(place, "physician-1", role="physician") as store:
        store.save_case("anticoagulated", load_case(CASE), expected_version=0)
    options = ("--store", place, "--person", "physician-1")
    first = run(capsys, CASE, *DAY, *options)[2]
    second = run(capsys, CASE, *DAY, *options)[2]
    added = int(re.search(r"(\d+) added", first)[1])  # type: ignore[index]
    assert added > 20
    assert f"0 added, 0 ended because they moved or fell away, {added} there already" in second
    with open_store(place, "physician-1", create=False) as store:
        acts = store.acts("anticoagulated")
        visit = next(act for act in acts if "Visit at 2 weeks" in act.what)
        assert (len(acts), visit.due, visit.owner) == (added, "2026-12-28", "physician")
        store.end_act(visit.seq)
    run(capsys, CASE, *DAY, *options)
    run(capsys, CASE, "--on", "2026-12-21", *options)
    with open_store(place, "physician-1", create=False) as store:
        visits = [
            (act.due, act.state)
            for act in store.acts("anticoagulated", state=None)
            if "Visit at 2 weeks" in act.what
        ]
        assert sorted(visits) == [("2026-12-28", "done"), ("2027-01-04", "open")]
        assert len(store.acts("anticoagulated")) == added
        months = [
            (act.due, act.state)
            for act in store.acts("anticoagulated", state=None)
            if "Visit at 1 month" in act.what
        ]
        assert sorted(months) == [("2027-01-14", "dropped"), ("2027-01-21", "open")]
