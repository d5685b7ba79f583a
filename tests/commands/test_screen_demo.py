"""The invented table beside the demonstration cases, with the commands of the README."""

import csv
import re
import shlex
import shutil
from pathlib import Path

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.cli import main
from candidacy.foundation.shipped import demo_cases_folder

README = Path(__file__).parents[2] / "README.md"


@pytest.fixture
def tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "demo_cases" / "tables"
    shutil.copytree(demo_cases_folder() / "tables", folder)
    monkeypatch.chdir(tmp_path)
    return folder


def _run(line: str) -> int:
    try:
        main(shlex.split(line, comments=True)[1:])
    except SystemExit as stop:
        return int(stop.code or 0)
    return 0


def test_every_command_of_the_readme_runs(
    tables: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = re.findall(r"^candidacy screen .*$", README.read_text(encoding="utf-8"), re.MULTILINE)
    assert len(lines) == 4
    monkeypatch.chdir(tables)
    for line in lines:
        assert _run(line) == 0, line
    out = capsys.readouterr().out
    assert "11 of 13 rows under practice_baseline" in out
    assert "What if" in out
    assert "Moves from practice_baseline to wide_screen" in out
    assert "INCOMPLETE   R-002" in out
    assert (tables / "cohort" / "run.json").is_file()
    assert "confirmed: false" in (tables / "proposal.yaml").read_text(encoding="utf-8")


def test_the_demonstration_table_shows_what_is_set_aside_and_why(
    tables: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = "referrals.csv --mapping mapping.yaml --as-of 2026-11-27 --out ../out --csv"
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tables)
        assert _run(f"candidacy screen {arguments}") == 0
    with (tables.parent / "out" / "set_aside.csv").open(encoding="utf-8", newline="") as stream:
        reasons = {(row["Referral"], row["reason"].split(" (")[0]) for row in csv.DictReader(stream)}
    assert {name for name, _ in reasons} == {"R-010"}
    with (tables.parent / "out" / "cells_not_read.csv").open(encoding="utf-8", newline="") as stream:
        cells = [(row["case"], row["value"]) for row in csv.DictReader(stream)]
    assert cells == [("R-009", "sixty")]
    with (tables.parent / "out" / "cases.csv").open(encoding="utf-8", newline="") as stream:
        cases = {row["case_id"]: row for row in csv.DictReader(stream)}
    # 122 kg at 181 cm are 37.2 kg/m2, 17 years are below 18
    assert cases["R-002"]["body_mass_index_limit"] == "fail"
    assert cases["R-004"]["age_lower_limit"] == "fail"
    assert cases["R-004"]["standing"] == "not_candidate"
    assert cases["R-007"]["body_mass_index_limit"] == "undetermined"
    told = " ".join(capsys.readouterr().err.split())
    assert (
        "column not read, as the mapping says field Remark found words in 5 rows, which no rule reads" in told
    )


def test_one_case_of_a_table_shows_the_words_of_its_columns_that_no_rule_reads(
    tables: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tables)
        assert (
            _run("candidacy screen referrals.csv --mapping mapping.yaml --as-of 2026-11-27 --case R-002") == 0
        )
    told = " ".join(capsys.readouterr().out.split())
    assert (
        "Remarks in the record that no rule read ! Column Remark of referrals.csv, row 3: “weight loss"
        in told
    )


def test_the_invented_table_says_that_it_is_invented() -> None:
    text = (demo_cases_folder() / "tables" / "mapping.yaml").read_text(encoding="utf-8")
    assert "Everything there is invented" in text
