# ruff: noqa: E402
"""Files that are damaged, locked, gone, changing or not allowed; folders of case records; digests of inputs."""

import errno
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

import pyarrow.parquet as pq

from candidacy.cohort import Mapping, screen
from candidacy.cohort.inputs.digests import input_digests
from candidacy.foundation.errors import Code, Problem, TableError
from tests.strategies import AS_OF

WIDE = "wide_screen"
PEOPLE = pd.DataFrame(
    {"case_id": ["a", "b", "c"], "birth_date": ["1980", "1981", "soon"], "sex": ["male"] * 3}
)


def _refused(table: Any, **more: Any) -> Problem:
    with pytest.raises(TableError) as caught:
        screen(table, WIDE, AS_OF, **more)
    problem = caught.value.problems[0]
    assert problem.next_step or problem.expected
    return problem


def _sheets(path: Path, rows: list[list[Any]], title: str = "patients") -> Path:
    import openpyxl

    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.title = title
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


# --- workbooks


def test_an_encrypted_workbook_is_told_as_such(tmp_path: Path) -> None:
    path = tmp_path / "t.xlsx"
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600))
    problem = _refused(path)
    assert problem.code is Code.UNREADABLE
    assert "encrypted" in problem.message
    assert "without a password" in problem.next_step


@pytest.mark.parametrize(
    "damage", ["no zip", "cut", "sheet is no XML", "cells are no XML", "no sheet inside"]
)
def test_a_damaged_workbook_is_told_as_such(damage: str, tmp_path: Path) -> None:
    path = _sheets(tmp_path / "t.xlsx", [["case_id", "sex"], *(["a", "male"] for _ in range(50))])
    whole = path.read_bytes()
    if damage == "no zip":
        path.write_bytes(b"PK not a zip")
    elif damage == "cut":
        path.write_bytes(whole[: len(whole) // 2])
    else:
        parts = {"sheet is no XML": lambda x: b"<<<", "cells are no XML": lambda x: x[: len(x) // 2],
                 "no sheet inside": lambda x: None}  # fmt: skip
        with zipfile.ZipFile(path) as old:
            entries = {name: old.read(name) for name in old.namelist()}
        with zipfile.ZipFile(path, "w") as new:
            for name, content in entries.items():
                changed = parts[damage](content) if name.startswith("xl/worksheets/") else content
                if changed is not None:
                    new.writestr(name, changed)
    problem = _refused(path)
    assert (problem.code, problem.file) == (Code.UNREADABLE, str(path))
    assert "damaged" in problem.message


def test_a_formula_without_a_value_and_a_cell_beside_the_header_set_their_rows_aside(tmp_path: Path) -> None:
    rows = [
        ["case_id", "birth_date", None],
        ["a", "1980"],
        ["b", '="19"&"81"'],
        [None, None],
        ["c", "1982", "more"],
        ["d", 1983],
    ]
    with screen(_sheets(tmp_path / "t.xlsx", rows), WIDE, AS_OF) as cohort:
        assert list(cohort.outcomes().case_id) == ["a", "d"]
        assert [(p.line, p.message) for p in cohort.problems] == [
            (3, "a formula has no stored value"),
            (5, "a cell stands beside the last column of the header"),
        ]
        assert cohort.rows == 4


@pytest.mark.parametrize(
    ("rows", "words"),
    [([], "the first row of sheet patients is empty"), ([["case_id", "sex"]], "a header and no row"),
     ([["case_id", None, "sex"], ["a", 1, "male"]], "a column has no name")],
)  # fmt: skip
def test_a_sheet_without_a_table_is_told(rows: list[list[Any]], words: str, tmp_path: Path) -> None:
    assert words in _refused(_sheets(tmp_path / "t.xlsx", rows)).message


# --- databases and Parquet


def _database(path: Path) -> Path:
    import duckdb

    with duckdb.connect(str(path)) as connection:
        connection.register(
            "given", pd.concat([PEOPLE.head(2)] * 5000).assign(case_id=[f"c{n}" for n in range(10_000)])
        )
        connection.execute("CREATE TABLE people AS SELECT * FROM given")
    return path


def test_a_database_that_another_program_writes_is_told(tmp_path: Path) -> None:
    path = _database(tmp_path / "t.duckdb")
    script = (
        "import duckdb, sys; c = duckdb.connect(sys.argv[1]); print('open', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        assert other.stdin is not None
        other.stdout.readline()
        problem = _refused(path)
        other.stdin.close()
    assert "another program holds the database open" in problem.message
    with screen(path, WIDE, AS_OF) as cohort:
        assert cohort.cases == 10_000


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda whole: b"SQLite format 3\x00" + bytes(4096), "not a DuckDB database"),
        (lambda whole: whole[:5000], "damaged"),
        (lambda whole: whole[:12288] + bytes(len(whole) - 12288), "damaged"),
    ],
)
def test_a_database_that_cannot_be_read_is_told_why(change: Any, words: str, tmp_path: Path) -> None:
    path = _database(tmp_path / "t.duckdb")
    path.write_bytes(change(path.read_bytes()))
    problem = _refused(path)
    assert (problem.code, problem.file) == (Code.UNREADABLE, str(path))
    assert words in problem.message or words in problem.found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "Trying to read a database file with version number 31, but we can only read version 64.",
            "another version",
        ),
        ("Could not set lock on file: Conflicting lock is held", "another program"),
        ("Corrupt database file: computed checksum 1 does not match stored checksum 0 in block", "damaged"),
    ],
)
def test_what_the_database_says_is_told_in_words(text: str, words: str) -> None:
    from candidacy.cohort.inputs.databases import _told

    assert words in str(_told(Path("t.duckdb"), text))


def _parquet(path: Path) -> bytes:
    people = pd.concat([PEOPLE.head(2)] * 5000).assign(case_id=[f"c{n}" for n in range(10_000)])
    people.to_parquet(path)
    return path.read_bytes()


@pytest.mark.parametrize("keep", [10, 0.5, 0.999])
def test_a_parquet_file_cut_in_the_middle_is_told(keep: float, tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    whole = _parquet(path)
    path.write_bytes(whole[: int(keep * len(whole)) if keep < 1 else int(keep)])
    problem = _refused(path)
    assert (problem.code, problem.file) == (Code.UNREADABLE, str(path))
    assert "cut short" in problem.message


def test_a_parquet_file_with_damaged_pages_is_told(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    whole = _parquet(path)
    path.write_bytes(whole[:4] + b"\xff" * (len(whole) // 2) + whole[4 + len(whole) // 2 :])
    assert _refused(path).code in (Code.BAD_TABLE, Code.UNREADABLE)


# --- the disk, rights, changes


def test_a_full_disk_while_staging_is_told_and_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    PEOPLE.to_csv(tmp_path / "t.csv", index=False)
    (tmp_path / "work").mkdir()
    monkeypatch.setattr(pq.ParquetWriter, "write_table", full)
    problem = _refused(tmp_path / "t.csv", work=tmp_path / "work")
    assert "the disk is full" in problem.message
    assert "nothing was left half-written" in problem.next_step
    assert list((tmp_path / "work").iterdir()) == []


def test_a_full_disk_later_on_is_told_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    PEOPLE.to_csv(tmp_path / "t.csv", index=False)
    (tmp_path / "m.csv").write_text("case_id,medicine_class\na,nsaid\n")
    monkeypatch.setattr(pq.ParquetWriter, "write_batch", full)
    problem = _refused(tmp_path / "t.csv", lists={"medicines": tmp_path / "m.csv"})
    assert (problem.message, problem.found) == (
        "a working file cannot be written or read",
        "No space left on device",
    )


def test_a_file_that_may_not_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "t.csv"
    PEOPLE.to_csv(path, index=False)
    real = Path.open

    def denied(self: Path, *arguments: Any, **more: Any) -> Any:
        if self == path:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return real(self, *arguments, **more)

    monkeypatch.setattr(Path, "open", denied)
    problem = _refused(path)
    assert (problem.code, problem.found) == (Code.UNREADABLE, "Permission denied")


@pytest.mark.parametrize(
    "name", ["x" * 300 + ".csv", "a\x00b.csv", "loop.csv", "none/t.csv", "pipe.csv", "folder.csv"]
)
def test_what_is_no_readable_file_is_told(name: str, tmp_path: Path) -> None:
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "folder.csv").mkdir()
    assert _refused(tmp_path / name).code is Code.UNREADABLE


def test_a_folder_for_working_files_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert _refused(PEOPLE, work=tmp_path / "none").file == str(tmp_path / "none")


def test_a_file_that_changes_or_goes_while_it_is_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    for spoil in (lambda: path.write_text("case_id,sex\nz,male\n"), path.unlink):
        PEOPLE.to_csv(path, index=False)
        problem = _refused(path, progress=lambda what, done, of, spoil=spoil: done == 2 and spoil())
        assert problem.code is Code.UNREADABLE
        assert problem.file == str(path)


def test_a_parquet_file_that_goes_while_it_is_read_is_told(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    PEOPLE.to_parquet(path)
    problem = _refused(path, progress=lambda what, done, of: done == 2 and path.unlink())
    assert problem.code in (Code.UNREADABLE, Code.BAD_TABLE)
    assert "t.parquet" in str(problem)


# --- digests


def _digests(*arguments: Any, **more: Any) -> dict[str, str]:
    with screen(*arguments, **more) as cohort:
        return input_digests(cohort._kept.inputs)


def test_digests_are_those_of_the_bytes_and_change_with_them(tmp_path: Path) -> None:
    import hashlib

    path, discs = tmp_path / "t.csv", tmp_path / "discs.csv"
    PEOPLE.to_csv(path, index=False)
    discs.write_text("case_id,disc,displacement\na,L4-L5,none\n")
    found = _digests(path, WIDE, AS_OF, discs=discs)
    assert found == {
        "discs": "sha256:" + hashlib.sha256(discs.read_bytes()).hexdigest(),
        "patients": "sha256:" + hashlib.sha256(path.read_bytes()).hexdigest(),
    }
    path.write_text(path.read_text() + "d,1990,male\n")
    later = _digests(path, WIDE, AS_OF, discs=discs)
    assert later["discs"] == found["discs"]
    assert later["patients"] != found["patients"]


def test_digests_of_folders_mappings_and_frames_tell_content_and_not_place(tmp_path: Path) -> None:
    def mapping(text: str) -> Mapping:
        columns = {"sex": {"element": "sex", "codes": {text: "male"}}}
        return Mapping.model_validate({"version": "1", "confirmed": True, "patients": {"columns": columns}})

    folders = []
    for name, file in (("one", "1"), ("two", "1"), ("three", "2")):
        (tmp_path / name).mkdir()
        PEOPLE.to_parquet(tmp_path / name / f"{file}.parquet")
        folders.append(_digests(tmp_path / name, WIDE, AS_OF)["patients"])
    assert folders[0] == folders[1] != folders[2]
    frames = [_digests(PEOPLE, WIDE, AS_OF, mapping=mapping(text)) for text in ("M", "M", "m")]
    assert frames[0] == frames[1]
    assert frames[0]["patients"] == frames[2]["patients"]
    assert frames[0]["mapping"] != frames[2]["mapping"]


def test_a_digest_of_an_input_that_changed_since_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    PEOPLE.to_csv(path, index=False)
    with screen(path, WIDE, AS_OF) as cohort:
        path.write_text(path.read_text() + "d,1990,male\n")
        with pytest.raises(TableError, match="changed since the screening began"):
            input_digests(cohort._kept.inputs)
        path.unlink()
        with pytest.raises(TableError, match="cannot be read any more"):
            input_digests(cohort._kept.inputs)


# --- folders of case records


def _record(folder: Path, name: str, text: str) -> None:
    (folder / name).write_text(f'schema_version: "1"\n{text}\n', encoding="utf-8")


def test_a_folder_of_records_sets_aside_each_bad_file_with_all_that_is_wrong(tmp_path: Path) -> None:
    _record(tmp_path, "a.yaml", "id: a\nnote: rang twice\npatient: {sex: male}")
    _record(tmp_path, "=b.yaml", "id: b\npatient: {sex: 1, birth_date: soon, colour: red}")
    _record(tmp_path, "c.yaml", "id: same\npatient: {sex: male}")
    _record(tmp_path, "d.json.yaml", "id: same\npatient: {sex: female}")
    (tmp_path / 'e "x",y.json').write_text("{", encoding="utf-8")
    with screen(tmp_path, WIDE, AS_OF) as cohort:
        assert (cohort.rows, cohort.cases, cohort.set_aside, cohort.with_remarks) == (5, 1, 4, 1)
        assert "1 case records hold remarks" in cohort._repr_html_()
        assert list(cohort.outcomes().case_id) == ["a"]
        rows = cohort.set_aside_rows().set_index("file")["reason"]
        assert list(rows.index) == ["'=b.yaml", 'e "x",y.json', "c.yaml", "d.json.yaml"]
        for word in ("sex", "birth_date", "colour"):
            assert word in rows["'=b.yaml"]
        assert "more than once" in rows["c.yaml"]
        with pytest.raises(TableError):
            cohort.open_case("same")


def test_records_are_told_as_they_are_read_and_more_than_one_portion_of_them_join(tmp_path: Path) -> None:
    for number in range(2_050):
        late = "body_mass_index: {value: 41, unit: kg/m2}" if number > 2_010 else "sex: male"
        _record(tmp_path, f"{number}.yaml", f"id: c{number}\npatient: {{{late}}}")
    told: list[str] = []
    with screen(tmp_path, WIDE, AS_OF, progress=lambda what, done, of: told.append(what)) as cohort:
        assert cohort.cases == 2_050
        found = cohort.outcomes().set_index("case_id")
        limit = next(column for column in found if column.startswith("body_mass_index_limit"))
        assert (found[limit] == "undetermined").sum() == 2_011
    assert "reading case records, 2,000 of 2,050" in told


def test_a_folder_of_records_goes_with_no_other_table(tmp_path: Path) -> None:
    _record(tmp_path, "a.yaml", "id: a\npatient: {sex: male}")
    problem = _refused(tmp_path, discs=PEOPLE, delimiter=";")
    assert (problem.code, problem.found) == (Code.USAGE, "discs, delimiter")
