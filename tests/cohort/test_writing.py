# ruff: noqa: E402
"""A written folder is whole, says what the cohort says, and is never left half-written."""

import json
import os
import re
import signal
import subprocess
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.case.load import Case
from candidacy.cohort import screen
from candidacy.cohort.output import writing
from candidacy.foundation.errors import Code, InputError, TableError
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet
from tests.cohort.agreement import of_assessment
from tests.cohort.screened import FEW, part_of, records, shipped
from tests.strategies import AS_OF

TABLES = ("standings", "disc_standings", "tallies", "attrition", "reasons", "missing_facts")
TRIAL = {("degeneration_grade_window", "imaging_max_age"): 1, ("number_of_discs_to_treat", "most_discs"): 1}
DRAWN = {f"attrition_{unit}.{form}" for unit in ("cases", "discs") for form in ("svg", "png")}
SHARED = {f"{name}.csv" for name in TABLES} | DRAWN | {"summary.html"}
WHOLE = SHARED | {
    "README.txt",
    "run.json",
    "set_aside.csv",
    "cells_not_read.csv",
    "cases.parquet",
    "discs.parquet",
}
ROWS = {"cases.csv", "discs.csv"}


def names(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def contents(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in names(folder)}


@pytest.fixture(scope="module")
def swept(cohort: Any) -> Any:
    return cohort.sweep({"bmi_upper_limit": [30, 35]})


@pytest.fixture(scope="module")
def moved(cohort: Any) -> Any:
    return cohort.compare(cohort.rule_set.with_trial(TRIAL))


@pytest.fixture(scope="module")
def written(cohort: Any, swept: Any, moved: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("written") / "out"
    assert cohort.write(folder, mask_below=10, csv=True, sweep=swept, comparison=moved) == folder
    return folder


# --- what is in it


def test_the_folder_is_complete(written: Path) -> None:
    asked = {"sweep.csv", "sweep.svg", "sweep.png", "moves.csv", "moved_cases.csv", "moved_cases.parquet"}
    shared = {f"to_share/{name}" for name in (*SHARED, "sweep.csv", "moves.csv")}
    assert names(written) == WHOLE | ROWS | asked | shared
    assert all(content for content in contents(written).values())


def test_only_the_user_may_read_the_results(written: Path) -> None:
    modes = {path: path.stat().st_mode & 0o777 for path in (written, *written.rglob("*"))}
    assert {mode for path, mode in modes.items() if path.is_dir()} == {0o700}
    assert {mode for path, mode in modes.items() if path.is_file()} == {0o600}


def test_what_is_not_asked_for_is_not_there(cohort: Any, tmp_path: Path) -> None:
    cohort.write(tmp_path / "out")
    assert names(tmp_path / "out") == WHOLE


def test_the_readme_tells_of_every_file_there_and_of_no_other(
    written: Path, cohort: Any, tmp_path: Path
) -> None:
    cohort.write(tmp_path / "bare")
    for folder, ways in ((written, 0), (tmp_path / "bare", 1)):
        text = (folder / "README.txt").read_text(encoding="utf-8")
        told = {line.split()[0] for line in text.splitlines() if re.match(r"[a-z_.]+ {2,}", line)}
        there = {path.name for path in folder.iterdir()} - {"README.txt"}
        assert {name for name in there if not {name, name.partition(".")[0]} & told} == set()
        assert {name for name in told if name not in {*there, *(n.partition(".")[0] for n in there)}} == set()
        assert text.count("--csv") == ways


def test_rows_of_cases_are_packed_with_zstd(written: Path) -> None:
    import pyarrow.parquet as pq

    for name in ("cases", "discs", "moved_cases"):
        group = pq.ParquetFile(written / f"{name}.parquet").metadata.row_group(0)
        assert {group.column(place).compression for place in range(group.num_columns)} == {"ZSTD"}


def test_parquet_is_read_back_with_the_types_and_outcomes_of_the_cohort(written: Path, cohort: Any) -> None:
    cases = pd.read_parquet(written / "cases.parquet", dtype_backend="numpy_nullable")
    discs = pd.read_parquet(written / "discs.parquet", dtype_backend="numpy_nullable")
    outcomes = cohort.outcomes()
    assert list(cases["case_id"]) == sorted(outcomes["case_id"])
    assert records(cases) == records(outcomes[list(cases.columns)])
    assert records(discs) == records(cohort.discs())
    assert str(discs["considered"].dtype) == "boolean"
    assert discs["considered"].isna().any()
    for frame in (cases, discs):
        for column in frame.columns.difference(["case_id", "disc", "considered"]):
            assert set(frame[column].dropna()) <= {
                "pass", "fail", "undetermined",
                "urgent", "not_candidate", "incomplete", "borderline", "candidate",
            }  # fmt: skip


def test_csv_says_what_parquet_says(written: Path) -> None:
    for name in ("cases", "discs", "moved_cases"):
        text = pd.read_csv(written / f"{name}.csv", dtype="string")
        typed = pd.read_parquet(written / f"{name}.parquet", dtype_backend="numpy_nullable")
        assert list(text.columns) == list(typed.columns)
        assert records(text) == records(typed.astype("string").map(_lower_truth))


def _lower_truth(cell: Any) -> Any:
    return {"True": "true", "False": "false"}.get(cell, cell) if isinstance(cell, str) else cell


def test_tables_are_read_back_as_the_cohort_gives_them(
    written: Path, cohort: Any, swept: Any, moved: Any
) -> None:
    given = {"standings": cohort.standings(), "disc_standings": cohort.disc_standings(),
             "tallies": cohort.tallies(), "attrition": cohort.attrition(), "reasons": cohort.reasons(),
             "missing_facts": cohort.missing_ranking(),
             "moves": moved.moves, "sweep": swept}  # fmt: skip
    for name, frame in given.items():
        found = pd.read_csv(written / f"{name}.csv", dtype_backend="numpy_nullable")
        assert records(found) == records(frame), name
        assert found.dtypes.astype(str).to_dict() == frame.dtypes.astype(str).to_dict(), name


def test_moved_cases_are_those_of_the_comparison(written: Path, moved: Any) -> None:
    found = pd.read_parquet(written / "moved_cases.parquet", dtype_backend="numpy_nullable")
    assert records(found) == records(moved.cases)
    assert len(found)


def test_the_run_says_what_it_was_made_of(written: Path, cohort: Any) -> None:
    run = json.loads((written / "run.json").read_text(encoding="utf-8"))
    expected = {"rule_set": "practice_baseline", "rule_set_digest": cohort.rule_set.digest,
                "rule_set_status": "draft", "as_of": AS_OF.isoformat(), "cases": cohort.cases, "rows": cohort.cases,
                "set_aside": 0, "engine": "embedded", "mask_below": 10, "local_trial": []}  # fmt: skip
    assert {key: run[key] for key in expected} == expected


def test_the_same_table_gives_the_same_bytes(
    written: Path, case_folder: Path, some_rules: RuleSet, tmp_path: Path
) -> None:
    with screen(case_folder, some_rules, AS_OF) as again:
        moved = again.compare(some_rules.with_trial(TRIAL))
        swept = again.sweep({"bmi_upper_limit": [30, 35]})
        again.write(tmp_path / "out", mask_below=10, csv=True, sweep=swept, comparison=moved)
    ours, theirs = contents(tmp_path / "out"), contents(written)
    assert {name for name in theirs if ours.get(name) != theirs[name]} == set()


def test_an_opened_case_has_the_outcomes_of_its_row(cohort: Any, some_cases: Sequence[Case]) -> None:
    rows = {row["case_id"]: row for row in records(cohort.outcomes())}
    for case in some_cases[::9]:
        found = of_assessment(cohort.open_case(case.record.id))
        row = {column: value for column, value in rows[case.record.id].items() if column != "case_id"}
        assert {column: found.get(column) for column in row} == row
        assert set(found) <= set(row)
    with pytest.raises(TableError) as caught:
        cohort.open_case("case-31-99999")
    assert caught.value.problems[0].code is Code.BAD_TABLE


# --- formulas


FORMULAS = ("=1+1", "+cmd", "-x", "@SUM(A1)", '=HYPERLINK("x";"y")')


@pytest.fixture(scope="module")
def formulas() -> Iterator[Any]:
    frame = pd.DataFrame({"case_id": [*FORMULAS, "plain"], "age [year]": ["40"] * 5 + ["=9+9"],
                          "L4-L5 displacement": ["none"] * 6, "=2+2": ["=3+3"] * 6})  # fmt: skip
    with screen(frame, part_of(shipped("practice_baseline"), FEW), AS_OF) as found:
        yield found


def test_no_cell_of_a_csv_is_taken_for_a_formula(formulas: Any, tmp_path: Path) -> None:
    import csv

    formulas.write(tmp_path / "out", mask_below=5, csv=True)
    for path in sorted((tmp_path / "out").rglob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    assert cell[:1] not in ("=", "+", "-", "@", "\t", "\r"), (path.name, cell)
    cases = pd.read_parquet(tmp_path / "out" / "cases.parquet")
    assert "'=9+9" in (tmp_path / "out" / "cells_not_read.csv").read_text("utf-8")
    assert set(cases["case_id"]) == {*FORMULAS, "plain"}  # Parquet is read by programs and stays exact


# --- an existing folder


def test_an_existing_folder_is_refused_and_left_as_it_is(cohort: Any, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine.txt").write_text("mine", encoding="utf-8")
    for replace in (False, True):
        with pytest.raises(TableError) as caught:
            cohort.write(tmp_path / "out", replace=replace)
        assert caught.value.problems[0].code is Code.BAD_TABLE
        assert contents(tmp_path) == {"out/mine.txt": b"mine"}


def test_a_file_in_its_place_is_refused(cohort: Any, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    for replace in (False, True):
        with pytest.raises(TableError):
            cohort.write(tmp_path / "out", replace=replace)
    assert contents(tmp_path) == {"out": b"mine"}


@pytest.mark.parametrize("content", ["{}", '{"program": "another 1.0"}', "not json", "[]"])
def test_a_folder_with_another_run_file_is_never_replaced(cohort: Any, tmp_path: Path, content: str) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "run.json").write_text(content, encoding="utf-8")
    with pytest.raises(TableError):
        cohort.write(tmp_path / "out", replace=True)
    assert contents(tmp_path) == {"out/run.json": content.encode()}


def test_an_earlier_run_is_replaced_whole_and_only_on_demand(formulas: Any, tmp_path: Path) -> None:
    formulas.write(tmp_path / "out", mask_below=5, csv=True)
    before = contents(tmp_path)
    with pytest.raises(TableError):
        formulas.write(tmp_path / "out")
    assert contents(tmp_path) == before
    formulas.write(tmp_path / "out", replace=True)
    assert names(tmp_path) == {f"out/{name}" for name in WHOLE}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_folder_that_is_replaced_keeps_the_permissions_it_was_given(formulas: Any, tmp_path: Path) -> None:
    formulas.write(tmp_path / "out", csv=True)
    (tmp_path / "out").chmod(0o750)
    (tmp_path / "out" / "cases.csv").chmod(0o640)
    formulas.write(tmp_path / "out", replace=True, csv=True)
    modes = {
        name: (tmp_path / "out" / name).stat().st_mode & 0o777 for name in (".", "cases.csv", "discs.csv")
    }
    assert modes == {".": 0o750, "cases.csv": 0o640, "discs.csv": 0o600}


def test_a_link_to_an_earlier_run_is_followed_and_stays_a_link(formulas: Any, tmp_path: Path) -> None:
    formulas.write(tmp_path / "real")
    (tmp_path / "out").symlink_to(tmp_path / "real")
    with pytest.raises(TableError):
        formulas.write(tmp_path / "out")
    formulas.write(tmp_path / "out", replace=True)
    assert (tmp_path / "out").is_symlink()
    assert names(tmp_path / "real") == WHOLE


def test_a_folder_that_holds_an_input_is_never_replaced(formulas: Any, tmp_path: Path) -> None:
    formulas.write(tmp_path / "out")
    table = tmp_path / "out" / "table.csv"
    table.write_text("case_id,L4-L5 displacement\na,none\n", encoding="utf-8")
    os.link(table, tmp_path / "linked.csv")
    (tmp_path / "pointing.csv").symlink_to(table)
    for path in (table, tmp_path / "linked.csv", tmp_path / "pointing.csv"):
        before = contents(tmp_path)
        with (
            screen(path, load_rule_set("report_completeness"), AS_OF) as again,
            pytest.raises(InputError) as caught,
        ):
            again.write(tmp_path / "out", replace=True)
        assert caught.value.problems[0].code is Code.USAGE
        assert "read in the same run" in str(caught.value)
        assert contents(tmp_path) == before


# --- what can go wrong on the way


@pytest.mark.parametrize("what", ["an empty folder", "a folder with something in it", "a file", "a link"])
def test_what_appears_in_its_place_during_the_run_is_left_alone_and_the_results_are_kept(
    what: str, formulas: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, made = tmp_path / "out", writing.summary_page

    def put_there(*given: Any, **more: Any) -> str:
        if what == "a file":
            out.write_text("mine", encoding="utf-8")
        elif what == "a link":
            out.symlink_to(tmp_path / "nowhere")
        else:
            out.mkdir()
            if "something" in what:
                (out / "mine.txt").write_text("mine", encoding="utf-8")
        return made(*given, **more)

    monkeypatch.setattr(writing, "summary_page", put_there)
    with pytest.raises(TableError) as caught:
        formulas.write(out)
    (kept,) = tmp_path.glob(".out-unfinished-*")
    assert str(kept) in caught.value.problems[0].found
    assert names(kept) == WHOLE
    if what == "a file":
        assert out.read_text(encoding="utf-8") == "mine"
    elif what == "a link":
        assert out.is_symlink()
    else:
        assert out.is_dir()
        assert names(out) == ({"mine.txt"} if "something" in what else set())


def test_an_earlier_run_that_became_something_else_meanwhile_is_left_alone(
    formulas: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    formulas.write(tmp_path / "out")
    made = writing.summary_page

    def change(*given: Any, **more: Any) -> str:
        (tmp_path / "out").rename(tmp_path / "away")
        (tmp_path / "out").mkdir()
        (tmp_path / "out" / "mine.txt").write_text("mine", encoding="utf-8")
        return made(*given, **more)

    monkeypatch.setattr(writing, "summary_page", change)
    with pytest.raises(TableError) as caught:
        formulas.write(tmp_path / "out", replace=True)
    assert names(tmp_path / "out") == {"mine.txt"}
    (kept,) = tmp_path.glob(".out-unfinished-*")
    assert str(kept) in caught.value.problems[0].found
    assert names(kept) == names(tmp_path / "away") == WHOLE
    assert not list(tmp_path.glob(".out-old-*"))


@pytest.mark.parametrize("raised", [RuntimeError, KeyboardInterrupt, MemoryError])
@pytest.mark.parametrize("replace", [False, True])
def test_an_interrupted_run_leaves_nothing_and_an_earlier_one_alone(
    raised: type[BaseException], replace: bool, formulas: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if replace:
        formulas.write(tmp_path / "out")
    before = contents(tmp_path)

    def stop(*_: Any, **__: Any) -> bytes:
        raise raised("in the middle")

    monkeypatch.setattr(writing, "summary_page", stop)
    with pytest.raises(raised):
        formulas.write(tmp_path / "out", replace=replace)
    assert contents(tmp_path) == before
    assert {path.name for path in tmp_path.iterdir()} == ({"out"} if replace else set())


_SCRIPT = """
    import signal, sys, time
    import pandas as pd
    from datetime import date
    from candidacy.cohort import screen
    from candidacy.cohort.output import writing
    from candidacy.rules.libraries import load_rule_set

    made = writing.summary_page

    def slow(*given):
        print("writing", flush=True)
        time.sleep(60)
        return made(*given)

    signal.signal(signal.SIGINT, signal.default_int_handler)  # a program started in the background may ignore it
    writing.summary_page = slow
    frame = pd.DataFrame({"case_id": ["a"], "L4-L5 displacement": ["none"]})
    cohort = screen(frame, load_rule_set("report_completeness"), date(2026, 11, 25), work=sys.argv[2])
    cohort.write(sys.argv[1])
"""


@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_a_killed_program_leaves_nothing_that_looks_whole(
    sent: signal.Signals, formulas: Any, tmp_path: Path
) -> None:
    work = tmp_path / "work"
    work.mkdir()
    command = [sys.executable, "-c", textwrap.dedent(_SCRIPT), str(tmp_path / "out"), str(work)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == b"writing\n"
        running.send_signal(sent)
        assert running.wait(30) != 0
    assert not (tmp_path / "out").exists()
    left = [path for path in tmp_path.iterdir() if path.name != "work"]
    assert all(path.name.startswith(".out-unfinished-") for path in left)
    assert not list(tmp_path.rglob("run.json"))
    if sent is signal.SIGINT:
        assert left == []
        assert list(work.iterdir()) == []
    formulas.write(tmp_path / "out")  # and what is left stands in nobody's way
    assert names(tmp_path / "out") == WHOLE


def test_a_place_that_cannot_be_written_is_told(formulas: Any, tmp_path: Path) -> None:
    """Permissions do not stop the superuser; a path through a file stops everybody."""
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    for place in (tmp_path / "file" / "out", tmp_path / "file" / "deep" / "out"):
        with pytest.raises(TableError) as caught:
            formulas.write(place)
        assert [problem.code for problem in caught.value.problems] == [Code.BAD_TABLE]
        assert "cannot be written" in str(caught.value)
    assert contents(tmp_path) == {"file": b"mine"}


@pytest.mark.parametrize("size", ["4k", "64k", "200k"])
def test_a_full_disk_leaves_no_folder(cohort: Any, small_disk: Callable[[str], Path], size: str) -> None:
    disk = small_disk(size)
    with pytest.raises(TableError) as caught:
        cohort.write(disk / "out", mask_below=10)
    assert [problem.code for problem in caught.value.problems] == [Code.BAD_TABLE]
    assert list(disk.iterdir()) == []


def _table(folder: Path, form: str) -> Any:
    rows = 30_000
    frame = pd.DataFrame(
        {"case_id": [f"case {n} {n * 7919 % 1000003}" for n in range(rows)],
         "age [year]": [str(20 + n % 60 + n % 997 / 1000) for n in range(rows)],
         "L4-L5 displacement": [("none", "bulge", "extrusion|protrusion")[n % 3] for n in range(rows)]}
    )  # fmt: skip
    if form == "frame":
        return frame
    path = folder / f"table.{form}"
    frame.to_csv(path, index=False) if form == "csv" else frame.to_parquet(path)
    return path


@pytest.mark.parametrize("form", ["frame", "csv", "parquet", "records"])
def test_a_full_disk_of_working_files_is_told_and_they_are_removed(
    form: str, small_disk: Callable[[str], Path], case_folder: Path, some_rules: RuleSet, tmp_path: Path
) -> None:
    disk = small_disk(
        "8k" if form == "records" else "60k"
    )  # records that fit in memory need none until their outcomes are written
    table = case_folder if form == "records" else _table(tmp_path, form)
    with pytest.raises(TableError) as caught:
        screen(table, some_rules, AS_OF, work=disk)
    assert [problem.code for problem in caught.value.problems] == [Code.BAD_TABLE]
    assert "full" in str(caught.value) or "space" in str(caught.value)
    assert list(disk.iterdir()) == []


def test_a_disk_that_fills_up_later_is_told_and_the_cohort_goes_on(
    small_disk: Callable[[str], Path], some_rules: RuleSet, tmp_path: Path
) -> None:
    disk = small_disk("20m")
    # more than are read in memory alone
    with screen(_table(tmp_path, "frame").head(2500), some_rules, AS_OF, work=disk) as cohort:
        filler = disk / "filler"
        try:
            with filler.open("wb") as stream:
                while True:
                    stream.write(bytes(4096))
        except OSError:
            pass
        with pytest.raises(TableError) as caught:
            cohort.missing_ranking()
        assert caught.value.problems[0].code is Code.BAD_TABLE
        assert sum(row["cases"] for row in records(cohort.standings())) == 2500
        filler.unlink()
        assert len(cohort.missing_ranking()) > 3
    assert list(disk.iterdir()) == []
