# ruff: noqa: E402
"""What a cell shows as percent is read as percent; what may be percent or a fraction of one is asked."""

from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from candidacy.case.catalogue import catalogue
from candidacy.cohort import screen, suggest_mapping
from candidacy.foundation.errors import Code, TableError
from tests.strategies import AS_OF

RULES = "practice_baseline"
MAPPING = """version: "1"
confirmed: true
patients:
  case_id: case_id
  columns:
    odi: {element: odi_percent, unit: "%"FRACTIONS}
"""


def _workbook(path: Path, cells: list[tuple[Any, str]]) -> Path:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.active.append(["case_id", "odi_percent [%]"])
    for row, (value, form) in enumerate(cells, 2):
        book.active.cell(row, 1, f"r{row}")
        cell = book.active.cell(row, 2, value)
        cell.number_format = form
        if value == "#N/A":
            cell.data_type = "e"
    book.save(path)
    return path


def _odi(cohort: Any, case: str) -> Any:
    return cohort.open_case(case).case.facts.patient["odi_percent"]


def test_a_cell_is_read_as_the_workbook_shows_it(tmp_path: Path) -> None:
    cells = [
        (0.53, "0%"),  # shown as 53 %
        (0.0713, "0.00%"),
        (53, "General"),
        (0.53, '0.00" %"'),  # a sign in quotes scales nothing: shown as 0.53 %
        (0.41, "[Red]0.0 %;-0.0 %"),
        ("47%", "0%"),  # text
        (1, "0%"),
        (53, "0%"),  # shown as 5300 %
        ("#N/A", "0%"),
    ]
    with screen(_workbook(tmp_path / "t.xlsx", cells), RULES, AS_OF) as cohort:
        found = [_odi(cohort, f"r{row}").value for row in range(2, 9)]
        assert [value.low for value in found] == [53, 7.13, 53, 0.53, 41, 47, 100]
        told = [(row.case, row.value) for row in cohort.unread_cells().itertuples()]
        assert told == [("r9", "5300%"), ("r10", "#N/A")]
        assert all(_odi(cohort, case).value is None for case, _ in told)


NUMBERS = {"case_id": ["a", "b", "c"], "odi": ["0.53", "0.4", "N/A"]}


@pytest.mark.parametrize("typed", [False, True])
def test_numbers_that_may_be_fractions_are_asked_and_not_read(typed: bool, tmp_path: Path) -> None:
    table = pd.DataFrame(NUMBERS)
    table["odi"] = pd.to_numeric(table["odi"], errors="coerce") if typed else table["odi"]
    mapping = tmp_path / "m.yaml"
    mapping.write_text(MAPPING.replace("FRACTIONS", ""), encoding="utf-8")
    for given, more in (
        (table.rename(columns={"odi": "odi_percent [%]"}), {}),
        (table, {"mapping": mapping}),
    ):
        with pytest.raises(TableError) as caught:
            screen(given, RULES, AS_OF, **more)
        (problem,) = caught.value.problems
        assert problem.code is Code.BAD_MAPPING
        assert "fractions of one?" in problem.message
        assert "fractions: true" in problem.expected
    assert "fractions: '?'" in suggest_mapping(table.rename(columns={"odi": "ODI %"}))
    for answer, low in (("true", 53), ("false", 0.53)):
        mapping.write_text(MAPPING.replace("FRACTIONS", f", fractions: {answer}"), encoding="utf-8")
        with screen(table, RULES, AS_OF, mapping=mapping) as cohort:
            assert _odi(cohort, "a").value.low == low


@pytest.mark.parametrize(
    ("cells", "asked"),
    [(["0.53", "1"], True), (["0,53", "0,4"], True), (["0", "1"], False), (["0.53", "2"], False), (["0.53", "40"], False)],
)  # fmt: skip
def test_only_what_may_be_a_fraction_is_asked(cells: list[str], asked: bool) -> None:
    text = suggest_mapping(pd.DataFrame({"case_id": ["a", "b"], "ODI %": cells}))
    assert ("fractions: '?'" in text) == asked


def test_a_sign_beside_a_fraction_counts_and_strengths_are_percent(tmp_path: Path) -> None:
    mapping = tmp_path / "m.yaml"
    mapping.write_text(MAPPING.replace("FRACTIONS", ", fractions: true"), encoding="utf-8")
    table = pd.DataFrame({"case_id": ["a", "b"], "odi": ["0.53", "44%"]})
    with screen(table, RULES, AS_OF, mapping=mapping) as cohort:
        assert [_odi(cohort, case).value.low for case in "ab"] == [53, 44]
    element = next(
        each for each in catalogue().all
        if each.unit == "%" and each.possible and each.possible.high == 10 and each.scope == "patient"
    )  # fmt: skip
    strong = pd.DataFrame({"case_id": ["a"], f"{element.name} [%]": ["0.5"]})
    with screen(strong, RULES, AS_OF) as cohort:
        assert cohort.open_case("a").case.facts.patient[element.name].value.low == 0.5


def test_only_percent_may_be_fractions(tmp_path: Path) -> None:
    mapping = tmp_path / "m.yaml"
    text = MAPPING.replace("odi_percent", "body_mass_index").replace('"%"', "kg/m2")
    mapping.write_text(text.replace("FRACTIONS", ", fractions: true"), encoding="utf-8")
    with pytest.raises(TableError, match="only numbers in %"):
        screen(pd.DataFrame({"case_id": ["a"], "odi": ["31"]}), RULES, AS_OF, mapping=mapping)
