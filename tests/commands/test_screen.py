# ruff: noqa: E402
"""``candidacy screen`` as a new user meets it: every option, and every wrong use of one."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.cli import main

TABLE = """case_id,body_mass_index [kg/m2],birth_date,sex,discs_under_consideration,L4-L5 displacement
R-017,29,1980-02-29,male,L4-L5,none
R-018,<35,1950,female,L4-L5,extrusion
R-019,abc,1950,female,L4-L5,extrusion
R-020,41,2012,female,L4-L5,bulge,x
"""
DAY = ("--as-of", "2026-11-25")


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "r.csv"
    path.write_text(TABLE, encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    try:
        main(["screen", *arguments])
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_a_table_gives_counts_and_tells_every_row_set_aside(table, capsys):
    status, out, err = run(capsys, "r.csv", *DAY)
    assert status == 0
    assert "3 of 4 rows under practice_baseline" in out
    assert "1 set aside" in out
    assert "1 cell not read; their facts are unknown" in out
    assert "Decision support for licensed clinicians" in out
    assert "r.csv:4: E203" in err
    assert "r.csv:5: E501" in err


def test_parts_of_one_workbook_serve_every_table(table, capsys):
    with pd.ExcelWriter("book.xlsx") as writer:
        pd.DataFrame({"case_id": ["a", "b"], "sex": ["male"] * 2}).to_excel(
            writer, sheet_name="patients", index=False
        )
        pd.DataFrame({"case_id": ["a", "z"], "disc": ["L4/5"] * 2, "displacement": ["none"] * 2}).to_excel(
            writer, sheet_name="discs", index=False
        )
        pd.DataFrame({"case_id": ["b", "y"], "medicine_class": ["nsaid"] * 2}).to_excel(
            writer, sheet_name="drugs", index=False
        )
    beside = ("--discs", "book.xlsx#discs", "--list", "medicines=book.xlsx#drugs", *DAY)
    status, out, err = run(capsys, "book.xlsx#patients", *beside)
    assert status == 0
    assert "1 row of the tables of discs set aside" in out
    assert "1 row of the tables of lists set aside" in out
    assert "book.xlsx#discs:3" in err
    assert "book.xlsx#drugs:3" in err
    assert run(capsys, "book.xlsx", "--part", "patients", *beside)[1] == out
    status, _, err = run(capsys, "book.xlsx", *DAY)
    assert status == 2
    assert "write book.xlsx#patients, or use --part" in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--list", "drugs=x.csv"), ["--list: E601", "drugs", "medicines, treatments, injections"]),
        (("--list", "medicines"), ["--list: E601", "NAME=FILE"]),
        (("--list", "medicines="), ["--list: E601", "NAME=FILE"]),
        (("--list", "medicines=r.csv", "--list", "medicines=r.csv"), ["--list: E601 the same list twice"]),
        (("--mask-below", "5"), ["--mask-below: E601", "add --out FOLDER"]),
        (("--mask-below", "2", "--out", "new"), ["--mask-below: E601 the threshold masks nothing"]),
        (("--mask-below", "-4", "--out", "new"), ["--mask-below: E601 the threshold masks nothing"]),
        (("--csv",), ["--csv: E601", "add --out FOLDER"]),
        (("--csv", "--case", "R-017"), ["--csv: E601 does not go with --case"]),
        (("--replace",), ["--replace: E601", "add --out FOLDER"]),
        (("--case", "R-017", "--out", "new"), ["--out: E601 does not go with --case"]),
        (("--suggest-mapping", "m.yaml", "--out", "new"), ["--out: E601 does not go with --suggest-mapping"]),
        (("--suggest-mapping", "m.yaml", "--case", "a"), ["--case: E601 does not go with --suggest-mapping"]),
        (("--delimiter", "ab"), ["E601 not a delimiter", "ab"]),
        (("--delimiter", "tab"), ["E601 no header holds this delimiter", "',' in r.csv"]),
        (("--part", "x"), ["E601 only a workbook or a database has parts"]),
        (("--memory", "10"), ["E601 not an amount of memory", "2GB"]),
        (("--vary", "bmi_upper_limit"), ["--vary: E601", "30:45:1", "none+bulge"]),
        (("--vary", "bmi_upper_limit=45:30:1"), ["--vary: E601"]),
        (("--vary", "bmi_upper_limit=30:45:0"), ["--vary: E601"]),
        (("--vary", "bmi_upper_limit=a:b:c"), ["--vary: E601"]),
        (("--vary", "bmi_upper_limit=fat"), ["--vary: E203", "like 35"]),
        (("--vary", "bmi_upper_limit=1"), ["E205", "bmi_upper_limit"]),
        (("--vary", "bmi_upper_limit=30,32", "--vary", "body_mass_index_limit.bmi_upper_limit=40"),
         ["--vary: E601 the same parameter twice"]),
        (("--vary", "colour=red"), ["E304 no such parameter", "colour", "cauda_equina_signs_present.answer_max_age"]),
        (("--vary", "bmi_upper_limit=30:45:0.01"), ["--vary: E601 not a range", "at most 500 values"]),
        (("--vary", "bmi_upper_limit=30:45:0.1", "--vary", "age_lower_limit.lowest_age=18:21:1"), ["E601 a sweep needs between 1 and"]),
        (("--compare", "nope"), ["E302"]),
        (("--rules", "nope"), ["E302"]),
        (("--as-of", "2026-02-30"), ["--as-of: E207"]),
        (("--mapping", "none.yaml"), ["none.yaml: E101"]),
        (("--discs", "none.csv"), ["none.csv: E101"]),
        (("--case", "nobody"), ["r.csv: E501 no such case", "nobody"]),
        (("--case", "R-020"), ["no such case in the table", "R-020"]),
        (("--engine", "abacus"), ["'embedded', 'spark'"]),
        (("--out", "old"), ["old: E601 the folder exists", "choose another name"]),
        (("--out", "old", "--replace"), ["old: E601 the folder exists, and no earlier run wrote it"]),
    ],
)  # fmt: skip
def test_wrong_usage_is_told_and_nothing_is_written(table, capsys, arguments, told):
    Path("old").mkdir()
    (Path("old") / "mine.txt").write_text("mine")
    status, _, err = run(capsys, "r.csv", *(arguments if "--as-of" in arguments else (*DAY, *arguments)))
    assert status == 2
    for words in told:
        assert words in err
    assert "E901" not in err
    assert sorted(path.name for path in table.parent.rglob("*")) == ["mine.txt", "old", "r.csv"]


def test_a_case_with_a_cell_that_cannot_be_read_opens_with_that_fact_unknown(table, capsys):
    status, out, _ = run(capsys, "r.csv", *DAY, "--case", "R-019", "--full")
    assert status == 0
    assert "not readable" in out


def test_every_wrong_option_is_told_at_once(table, capsys):
    _, _, err = run(capsys, "r.csv", "--vary", "nope=1", "--vary", "bmi_upper_limit=fat", "--vary", "bmi")
    assert "3 problems found; nothing was written." in err


def test_results_go_to_a_folder_that_only_replace_may_replace(table, capsys):
    arguments = ("r.csv", *DAY, "--out", "cohort", "--mask-below", "10", "--vary", "bmi_upper_limit=25:35:5")
    status, out, _ = run(capsys, *arguments, "--compare", "wide_screen")
    assert status == 0
    assert "What if" in out
    assert "Moves from practice_baseline to wide_screen" in out
    run_json = json.loads(Path("cohort/run.json").read_text())
    assert (run_json["rows"], run_json["cases"], run_json["set_aside"]) == (4, 3, 1)
    assert run_json["cells_not_read"] == 1
    assert [line.split(",")[0] for line in Path("cohort/sweep.csv").read_text().splitlines()[1:]] == [
        "25",
        "30",
        "35",
    ]
    assert Path("cohort/to_share/standings.csv").exists()
    assert Path("cohort/moves.csv").exists()
    assert not Path("cohort/cases.csv").exists()
    assert len(Path("cohort/set_aside.csv").read_text().splitlines()) == 2
    (cell,) = Path("cohort/cells_not_read.csv").read_text().splitlines()[1:]
    assert cell.startswith("r.csv,4,R-019,body_mass_index [kg/m2],abc,")
    status, _, err = run(capsys, *arguments)
    assert status == 2
    assert "or add --replace" in err
    assert run(capsys, *arguments, "--replace", "--csv")[0] == 0
    assert Path("cohort/cases.csv").read_text().startswith("case_id,standing,")


def test_codes_may_be_varied_one_or_several_in_a_value(table, capsys):
    from candidacy.rules.libraries import load_rule_set

    codes = [
        (f"{item.id}.{name}", parameter.value)
        for item in load_rule_set("practice_baseline").criteria
        for name, parameter in item.parameters.items()
        if isinstance(parameter.value, tuple)
        and isinstance(parameter.value[0], str)
        and len(parameter.value) > 1
    ]
    assert codes
    name, value = codes[0]
    status, out, err = run(capsys, "r.csv", *DAY, "--vary", f"{name}={'+'.join(value)},{value[0]}")
    assert (status, "What if" in out) == (0, True), err
    assert ", ".join(value) in out
    status, _, err = run(capsys, "r.csv", *DAY, "--vary", f"{name}=nonsense")
    assert status == 2
    assert "nonsense" in err


def test_one_case_is_printed_as_an_assessment(table, capsys):
    status, out, _ = run(capsys, "r.csv", *DAY, "--case", "R-018")
    assert status == 0
    assert "R-018" in out
    assert "rows under" not in out


def test_a_proposal_covers_every_table_and_is_not_overwritten(table, capsys):
    Path("d.csv").write_text("ref,level,displacement\nR-017,L4/5,none\n", encoding="utf-8")
    arguments = ("r.csv", "--discs", "d.csv", "--suggest-mapping", "m.yaml")
    status, out, _ = run(capsys, *arguments)
    assert (status, "confirmed: true" in out) == (0, True)
    text = Path("m.yaml").read_text(encoding="utf-8")
    assert "case_id: ref" in text
    assert "disc: level" in text
    Path("m.yaml").write_text("mine")
    status, _, err = run(capsys, *arguments)
    assert (status, Path("m.yaml").read_text()) == (2, "mine")
    assert "add --replace" in err
    assert run(capsys, *arguments, "--replace")[0] == 0
    assert Path("m.yaml").read_text(encoding="utf-8") == text


def test_an_unconfirmed_mapping_screens_nothing(table, capsys):
    run(capsys, "r.csv", "--suggest-mapping", "m.yaml")
    status, _, err = run(capsys, "r.csv", "--mapping", "m.yaml")
    assert status == 2
    assert "nobody has confirmed this mapping" in err


def test_help_teaches_headers_cells_parts_and_exit_status(capsys):
    status, out, _ = run(capsys, "--help")
    assert status == 0
    for words in (
        "body_weight",
        "?not_stated",
        "--suggest-mapping",
        "book.xlsx#discs",
        "Exit status",
        "candidacy elements",
    ):
        assert words in out


def _command(*arguments: str) -> list[str]:
    return [sys.executable, "-c", "from candidacy.cli import main; main()", "screen", *arguments]


def test_a_pipe_gets_no_progress(table):
    done = subprocess.run(_command("r.csv", *DAY), capture_output=True, text=True, check=True)
    assert "step" not in done.stderr
    assert "\x1b" not in done.stderr + done.stdout


def test_a_terminal_gets_the_step_and_the_seconds(table):
    import pty

    ours, theirs = pty.openpty()
    with subprocess.Popen(
        _command("r.csv", *DAY), stdout=subprocess.PIPE, stderr=theirs, text=True
    ) as running:
        os.close(theirs)
        shown = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break
            if not piece:
                break
            shown += piece
        assert running.stdout is not None
        out = running.stdout.read()
    os.close(ours)
    text = shown.decode()
    assert running.returncode == 0, text
    assert "3 of 4 rows" in out
    assert "step 1 of 4: reading the table, 0 s" in text
    assert "step 3 of 4: reading every case, " in text
    assert "r.csv:4: E203" in text


def test_firm_tells_how_many_standings_a_repeat_would_change_and_of_how_many_it_was_asked(table, capsys):
    status, out, _ = run(capsys, "r.csv", *DAY, "--firm", "2")
    assert status == 0
    assert "more than 1 time in 20 (a random sample of 2 of 3 cases asked" in out
    part = out.split("1 time in 20")[1]
    assert all(word in part for word in ("standing", "cases", "asked", "told", "moving", "share"))
    assert run(capsys, "r.csv", *DAY, "--firm", "0")[0] == 2
    assert run(capsys, "r.csv", *DAY, "--firm", "2", "--case", "R-017")[0] == 2
