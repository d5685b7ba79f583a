# ruff: noqa: E402
"""What the table of a mapping counts on a sample is what the screening of the same rows gives."""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import screen, suggest_mapping
from candidacy.cohort.inputs.draft import PATIENTS, Draft
from candidacy.cohort.inputs.samples import Sample, parts_of, rows_above, take_sample
from candidacy.cohort.inputs.tried_rows import TriedRows, Tries
from candidacy.foundation.errors import TableError
from tests.cohort.messy import export, write
from tests.cohort.test_messy import ANSWERS
from tests.strategies import AS_OF

RULES = "practice_baseline"
ODD = """ref,BMI,Grade,Modified,Seen,Meds
a,31,III,,2026-05-01,true
b,heavy,IV,4,soon,no
,30,,,2026-05-01,
a,29,II,,2026-05-01,perhaps
c,32,,6,,yes
d,33,I
e,400,V,,2026-05-01,
"""
ODD_MAPPING = """version: "1"
confirmed: true
patients:
  case_id: ref
  facts_dated_by: Seen
  lists_complete: {medicines: Meds}
  on_bad_cell: BAD
  columns:
    BMI: {element: body_mass_index, unit: kg/m2}
    Grade: {element: pfirrmann_grade, disc: L4-L5}
    Modified: {element: modified_pfirrmann_grade, disc: L4-L5}
"""


def _tried(table: Path, text: str, folder: Path, most: int = 2_000) -> tuple[Sample, TriedRows]:
    draft = Draft.of(text)
    folder.mkdir(exist_ok=True)
    sample = take_sample(table, folder, "", draft.table(PATIENTS).get("header_row") or 1, most)
    items = {column: item for column in sample.columns if (item := draft.item(PATIENTS, column))}
    return sample, Tries(sample).table(draft.table_map(PATIENTS), items, "patient")


def _agrees(table: Path, text: str, tmp_path: Path) -> TriedRows:
    mapping = tmp_path / "m.yaml"
    mapping.write_text(text, encoding="utf-8")
    sample, found = _tried(table, text, tmp_path / "work")
    assert sample.whole
    with screen(table, RULES, AS_OF, mapping=mapping) as cohort:
        assert (found.rows, found.aside) == (cohort.rows, cohort.set_aside)
        aside = set(map(int, cohort.set_aside_rows()["row"]))
        counted = Counter(cohort.unread_cells()["column"])
    if not aside:
        assert {name: each.count for name, each in found.cells.items() if each.count} == dict(counted)
    return found


@pytest.mark.parametrize("bad", ["fact_unknown", "set_row_aside"])
def test_rows_set_aside_are_those_of_the_screening(bad: str, tmp_path: Path) -> None:
    table = tmp_path / "odd.csv"
    table.write_text(ODD, encoding="utf-8")
    found = _agrees(table, ODD_MAPPING.replace("BAD", bad), tmp_path)
    assert found.reasons["the case reference occurs more than once"] == 2
    assert found.reasons["there is no case reference"] == 1
    assert found.reasons["the row cannot be parted into the columns"] == 1
    assert found.reasons["two grading scales are stated for the same disc"] == 1
    assert {name: each.count for name, each in found.cells.items() if each.count} == {
        "BMI": 2,
        "Seen": 1,
        "Meds": 1,
    }


def test_cells_not_read_are_those_of_the_screening(tmp_path: Path) -> None:
    table = write(export(499), tmp_path / "export.csv")
    text = suggest_mapping(table)
    for question, answer in ANSWERS.items():
        text = text.replace(question, answer)
    found = _agrees(table, text.replace("confirmed: false", "confirmed: true"), tmp_path)
    assert sum(each.count for each in found.cells.values()) > 200
    assert found.aside == 0


def test_open_columns_are_left_out_and_named(tmp_path: Path) -> None:
    table = write(export(50), tmp_path / "export.csv")
    text = suggest_mapping(table)
    draft = Draft.of(text)
    _, found = _tried(table, text, tmp_path / "work")
    assert draft.questions(PATIENTS, "BMI") == ["unit: choose"]
    assert "BMI" not in found.cells
    assert "Gender" in found.cells


def test_a_sample_is_bounded_and_says_so(tmp_path: Path) -> None:
    rows = "".join(f'r{n},{20 + n % 20},"said ""worse""\nagain"\n' for n in range(300))
    table = tmp_path / "t.csv"
    table.write_text("case_id,body_mass_index [kg/m2],note\n" + rows, encoding="utf-8")
    book, parquet = tmp_path / "t.xlsx", tmp_path / "t.parquet"
    frame = pd.read_csv(table)
    frame.to_excel(book, index=False)
    frame.to_parquet(parquet)
    for path in (table, book, parquet):
        folder = tmp_path / path.suffix[1:]
        folder.mkdir()
        sample = take_sample(path, folder, most=100)
        assert (sample.rows, sample.whole) == (100, False)
        assert sample.shown("case_id") == ["r0", "r1", "r2", "r3", "r4"]
        assert sample.shown("note") == ['said "worse"\nagain']
        assert take_sample(path, folder, most=300).whole
    assert "body_mass_index [kg/m2]" in sample.typed


def test_parts_and_first_rows_are_told(tmp_path: Path) -> None:
    import duckdb

    with duckdb.connect(str(tmp_path / "t.duckdb")) as base:
        base.execute("CREATE TABLE people AS SELECT 1 AS x")
        base.execute("CREATE VIEW others AS SELECT 1 AS x")
    with pd.ExcelWriter(tmp_path / "t.xlsx") as writer:
        for name in ("one", "two"):
            pd.DataFrame([["Title", None], ["case_id", "sex"], ["a", "male"]]).to_excel(
                writer, sheet_name=name, index=False, header=False
            )
    (tmp_path / "t.csv").write_text("Title\n\ncase_id;sex\na;male\n", encoding="utf-8")
    assert parts_of(tmp_path / "t.duckdb", tmp_path) == ["others", "people"]
    assert parts_of(tmp_path / "t.xlsx", tmp_path) == ["one", "two"]
    assert parts_of(tmp_path / "t.csv", tmp_path) == []
    assert rows_above(f"{tmp_path / 't.xlsx'}#two")[:2] == [["Title", ""], ["case_id", "sex"]]
    assert rows_above(tmp_path / "t.csv")[2] == ["case_id", "sex"]
    assert rows_above(tmp_path / "t.duckdb") == []


def test_a_table_that_cannot_be_read_is_named_as_it_was_given(tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    table.write_bytes(b"\x00\x01 no text")
    (tmp_path / "work").mkdir()
    with pytest.raises(TableError) as caught:
        take_sample(table, tmp_path / "work")
    problem: Any = caught.value.problems[0]
    assert problem.file == str(table)
