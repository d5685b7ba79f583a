# ruff: noqa: E402
"""An export as practices have them: nearly all rows are used, no fact is wrong, and every unreadable cell is listed."""

from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.cohort import Cohort, screen, suggest_mapping
from candidacy.foundation.errors import TableError
from tests.cohort.messy import COLUMNS, UNREAD, Export, export, write, write_meant
from tests.strategies import AS_OF

RULES = "practice_baseline"
# what a person who knows the practice answers; everything else stands as proposed
ANSWERS = {
    "case_id: '?'": "case_id: MRN",
    "element: body_mass_index\n      unit: '?'": "element: body_mass_index\n      unit: kg/m2",
    "element: hba1c\n      unit: '?'": "element: hba1c\n      unit: '%'",
    "element: odi_percent\n      unit: '?'": "element: odi_percent\n      unit: '%'",
    "unit: '?'\n      decimal: '?'": "unit: 10*3/uL",
}


@pytest.fixture(scope="module")
def invented() -> Export:
    return export()


@pytest.fixture(scope="module")
def places(invented: Export, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The export, its mapping as it was proposed and answered, and the same facts in our own words."""
    folder = tmp_path_factory.mktemp("messy")
    table = write(invented, folder / "export.csv")
    text = suggest_mapping(table)
    for question, answer in ANSWERS.items():
        assert text.count(question) == 1, question
        text = text.replace(question, answer)
    assert "'?'" not in text
    mapping = folder / "mapping.yaml"
    mapping.write_text(text.replace("confirmed: false", "confirmed: true"), encoding="utf-8")
    return {"table": table, "mapping": mapping, "meant": write_meant(invented, folder / "meant.csv")}


def _facts(cohort: Cohort) -> dict[str, dict[str, Any]]:
    """Every fact of every case, by case and by column; an end that is not said to be open is closed."""
    frame = cohort._kept.frame.engine.arrow("SELECT * FROM cases").to_pandas().set_index("case_id").round(6)
    found = frame.astype(object).where(frame.notna(), None).to_dict("index")
    return {
        case: {column: bool(value) if column.endswith("_open") else value for column, value in row.items()}
        for case, row in found.items()
    }


def test_nearly_every_row_is_used_and_no_fact_is_wrong(invented: Export, places: dict[str, Path]) -> None:
    with screen(places["table"], RULES, AS_OF, mapping=places["mapping"]) as found:
        assert found.rows == 5_000 == found.cases + found.set_aside
        assert found.cases >= 4_900
        assert found.set_aside == len(invented.aside)
        with screen(places["meant"], RULES, AS_OF) as meant:
            facts, expected = _facts(found), _facts(meant)
            assert set(facts) == set(expected)
            wrong = [
                (case, column, facts[case].get(column), value)
                for case, row in expected.items()
                for column, value in row.items()
                if facts[case].get(column) != value
            ]
            assert wrong == []
            assert len(next(iter(expected.values()))) >= len(COLUMNS)
            pd.testing.assert_frame_equal(found.outcomes(), meant.outcomes())


def test_every_unreadable_cell_is_listed_and_no_other(invented: Export, places: dict[str, Path]) -> None:
    with screen(places["table"], RULES, AS_OF, mapping=places["mapping"]) as cohort:
        cells = cohort.unread_cells()
        listed = {
            (
                int(row.row),
                row.column,
                row.value.removeprefix("'") if row.value.startswith("'-") else row.value,
            )
            for row in cells.itertuples()
        }
        assert listed == invented.unread
        assert len(cells) == cohort.cells_not_read == len(invented.unread)
        assert (cells["allowed"] != "").all()
        assert (cells["reason"] != "").all()
        aside = cohort.set_aside_rows()
        assert {int(row) for row in aside["row"]} == invented.aside


def test_a_mapping_may_set_such_rows_aside(invented: Export, places: dict[str, Path], tmp_path: Path) -> None:
    text = places["mapping"].read_text("utf-8")
    strict = tmp_path / "strict.yaml"
    strict.write_text(
        text.replace("  case_id:", "  on_bad_cell: set_row_aside\n  case_id:"), encoding="utf-8"
    )
    bad = {row for row, *_ in invented.unread} | invented.aside
    with screen(places["table"], RULES, AS_OF, mapping=strict) as cohort:
        assert (cohort.set_aside, cohort.cells_not_read) == (len(bad), 0)
        assert {int(row) for row in cohort.set_aside_rows()["row"]} == bad


def test_a_row_is_screened_as_its_record_is(invented: Export, places: dict[str, Path]) -> None:
    from tests.cohort.agreement import differences, of_assessment

    with screen(places["table"], RULES, AS_OF, mapping=places["mapping"]) as cohort:
        frame = cohort.outcomes().astype(object)
        rows = frame.where(frame.notna(), None).to_dict("records")[::125]
        expected = {row["case_id"]: of_assessment(cohort.open_case(row["case_id"])) for row in rows}
        assert differences(expected, rows) == []
        doubtful = next(row for row in invented.meant if UNREAD in row)
        element = list(COLUMNS.values())[doubtful.index(UNREAD) - 1].split(" [")[0]
        case = cohort.open_case(doubtful[0]).case
        facts = case.facts.discs["L4-L5"] if element.startswith("L4") else case.facts.patient
        fact = facts[element.removeprefix("L4-L5 ")]
        assert fact.value is None
        assert fact.why is not None
        assert fact.why.value == "not_readable"


def test_a_workbook_says_the_same_as_the_text(
    invented: Export, places: dict[str, Path], tmp_path: Path
) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.title = "notes"
    sheet = book.create_sheet("export")
    sheet.append(["Invented spine clinic export"])
    sheet.append([])
    sheet.append(["", "Demographics"])
    sheet.append(["MRN", *COLUMNS, "Comment"])
    for row in invented.written[:300]:
        sheet.append(row)
    book.save(tmp_path / "t.xlsx")
    with screen(f"{tmp_path / 't.xlsx'}#export", RULES, AS_OF, mapping=places["mapping"]) as found:
        assert found.rows == 300
        kept = found.outcomes()
    with screen(places["table"], RULES, AS_OF, mapping=places["mapping"]) as whole:
        expected = whole.outcomes()
    pd.testing.assert_frame_equal(
        kept, expected[expected["case_id"].isin(kept["case_id"])].reset_index(drop=True)
    )


def test_a_row_of_names_that_is_not_there_is_refused(places: dict[str, Path], tmp_path: Path) -> None:
    other = tmp_path / "m.yaml"
    other.write_text(
        places["mapping"].read_text("utf-8").replace("header_row: 4", "header_row: 4000"), encoding="utf-8"
    )
    with pytest.raises(TableError, match="no such row"):
        screen(places["table"], RULES, AS_OF, mapping=other)


def test_a_column_of_which_no_cell_can_be_read_is_named() -> None:
    table = pd.DataFrame({"case_id": ["a", "b"], "birth_date": ["soon", "later"], "sex": ["male", "female"]})
    with screen(table, RULES, AS_OF) as cohort:
        assert [(note.field, note.message) for note in cohort.notes] == [
            ("birth_date", "no cell of this column can be read, so its facts are unknown")
        ]
