# ruff: noqa: E402
"""Laws of tables over generated cells: every row is screened as its record is, or set aside with a reason."""

import csv
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from candidacy.cohort import Cohort, screen
from candidacy.foundation.errors import CaseError, TableError
from candidacy.rules.libraries import load_rule_set
from tests.cohort.agreement import differences, of_assessment
from tests.cohort.screened import part_of
from tests.strategies import AS_OF

COLUMNS = (
    "body_mass_index [kg/m2]",
    "birth_date",
    "sex",
    "pregnancy_status",
    "discs_under_consideration",
    "facts_date",
    "L4-L5 displacement",
    "L4-L5 displacement_size [mm]",
    "L5-S1 displacement",
)
RULES = part_of(load_rule_set("practice_baseline"))
_SENSE = [
    "", " ", "\t", "\u00a0", "29.5", "<35", ">=6", "33..37", "40..33", "1e3", "+7.", "inf", "NaN", "1,5", "1980-02-29",
    "1980-02-30", "2012", "2026-03", ">=2026-01-01", "male", "Female", "extrusion", "extrusion|protrusion", "none",
    "L4-L5", "L4/5;L5-S1", "L4-L5;...", "[]", "?not_stated", "?nonsense", "true", "'; DROP TABLE patients; --",
    '"', "\\", "NULL", "=1+1", "<b>x</b>", "%s", "{}", "0", "-0", "²", "１２", "1_000", "0x10", "9" * 40,
]  # fmt: skip
# A row that can always be used: a table without one is refused whole.
ANCHOR = ("the last one", "29.5", *("" for _ in COLUMNS[1:]))
_CELLS = st.one_of(
    st.sampled_from(_SENSE),
    st.sampled_from(_SENSE),
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=12),
)
_NAMES = st.one_of(st.sampled_from(["a", "b", "c", "d ", "é", "a'b", "7", "7.0", ""]), _CELLS)
_ROWS = st.lists(st.tuples(_NAMES, *(_CELLS for _ in COLUMNS)), min_size=1, max_size=8)
_SETTINGS = settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)  # fmt: skip


def _write(path: Path, rows: list[tuple[str, ...]], order: list[int] | None = None) -> Path:
    places = order or list(range(len(COLUMNS)))
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["case_id", *(COLUMNS[place] for place in places)])
        writer.writerows([row[0], *(row[1 + place] for place in places)] for row in rows)
    return path


def _found(cohort: Cohort) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = (
        cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records")
    )
    return rows


@_SETTINGS
@given(rows=_ROWS)
def test_a_row_is_screened_as_its_record_is_or_set_aside_with_a_reason(
    rows: list[tuple[str, ...]], tmp_path: Path
) -> None:
    written = [row for row in (*rows, ANCHOR) if any(cell for cell in row)]
    with screen(_write(tmp_path / "t.csv", [*rows, ANCHOR]), RULES, AS_OF) as cohort:
        assert cohort.rows == len(written) == cohort.cases + cohort.set_aside
        found = _found(cohort)
        expected = {row["case_id"]: of_assessment(cohort.open_case(row["case_id"])) for row in found}
        assert differences(expected, found) == []
        aside = cohort.set_aside_rows()
        assert len(aside) == cohort.set_aside
        assert all(aside["reason"])
        for row in written:
            name = row[0].strip()
            if name not in expected:
                with pytest.raises((TableError, CaseError)):
                    cohort.open_case(name)


@_SETTINGS
@given(rows=_ROWS, data=st.data())
def test_the_order_of_rows_and_columns_changes_no_outcome(
    rows: list[tuple[str, ...]], data: st.DataObject, tmp_path: Path
) -> None:
    order = data.draw(st.permutations(range(len(COLUMNS))))
    shuffled = data.draw(st.permutations([*rows, ANCHOR]))
    with screen(_write(tmp_path / "t.csv", [*rows, ANCHOR]), RULES, AS_OF) as cohort:
        expected, aside = _found(cohort), cohort.set_aside
    with screen(_write(tmp_path / "o.csv", shuffled, list(order)), RULES, AS_OF) as cohort:
        assert (_found(cohort), cohort.set_aside) == (expected, aside)


def _left_open(path: Path) -> bool:
    """A quotation mark is open at the end, by the reader of the standard library."""
    with path.open(encoding="utf-8", newline="") as stream:
        reader = csv.reader(stream, strict=True)
        while True:
            try:
                next(reader)
            except StopIteration:
                return False
            except csv.Error as error:
                if "end of data" in str(error):
                    return True


@_SETTINGS
@given(text=st.text(st.sampled_from('ab,"\n\r ;\t'), max_size=60))
def test_any_text_is_read_or_refused_and_no_row_is_lost(text: str, tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(("case_id,sex\nfirst,male\n" + text).encode())
    if _left_open(path):
        with pytest.raises(TableError, match="opened and not closed"):
            screen(path, RULES, AS_OF)
        return
    with screen(path, RULES, AS_OF) as cohort:
        assert cohort.rows == cohort.cases + cohort.set_aside
        assert "first" in {*cohort.outcomes().case_id} | {*cohort.set_aside_rows().get("case_id", [])}
        if '"' not in text:
            lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
            assert cohort.rows == 1 + sum(1 for line in lines if line not in ("", ","))


_LEVELS = st.sampled_from(["L4-L5", "L4/5", " L5-S1", "L3-L4", "L45", "", "?"])
_PEOPLE = st.sampled_from(["a", "b", " b", "z", "", "the last one"])
_DISC = st.tuples(_PEOPLE, _LEVELS, _CELLS)
_MEDICINE = st.tuples(_PEOPLE, st.sampled_from(["nsaid", "opioid", "sweets", "", "?not_stated"]), _CELLS)


def _frame(rows: list[tuple[str, ...]], *columns: str) -> Any:
    return pd.DataFrame([*rows], columns=list(columns), dtype="string")


@_SETTINGS
@given(discs=st.lists(_DISC, min_size=1, max_size=8), medicines=st.lists(_MEDICINE, min_size=1, max_size=8))
def test_rows_of_second_tables_have_a_case_or_are_told(
    discs: list[tuple[str, ...]], medicines: list[tuple[str, ...]]
) -> None:
    from candidacy.case.facts import normal_level

    people = pd.DataFrame({"case_id": ["a", "b", "c"], "sex": ["male", "female", "male"]})
    known = {"a", "b", "c"}
    tables = {
        "discs": _frame(discs, "case_id", "disc", "displacement"),
        "lists": {"medicines": _frame(medicines, "case_id", "medicine_class", "medicine_agent")},
    }
    with screen(people, RULES, AS_OF, **tables) as cohort:
        assert cohort.rows == 3 == cohort.cases + cohort.set_aside
        lost = [row for row in discs if normal_level(row[1].strip()) is None or row[0].strip() not in known]
        assert cohort.discs_set_aside == len(lost)
        assert cohort.entries_set_aside == sum(row[0].strip() not in known for row in medicines)
        found = _found(cohort)
        expected = {row["case_id"]: of_assessment(cohort.open_case(row["case_id"])) for row in found}
        assert differences(expected, found) == []
        for name in expected:
            entries = cohort.open_case(name).case.facts.lists["medicines"].entries
            assert len(entries) == sum(row[0].strip() == name for row in medicines)


_HEADERS = st.one_of(
    st.sampled_from(["case_id", "sex", "SEX", "L4-L5 displacement", "age [year]", "facts_date", "sex (date)", "translated_0_0",
                     "medicines complete", "twice_case", "L4-L5|rows", "place", "file", "cell", '"', "`", "a.b", "", " "]),
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=8),
)  # fmt: skip


@_SETTINGS
@given(headers=st.lists(_HEADERS, min_size=1, max_size=7), cell=_CELLS)
def test_any_header_is_read_or_refused_with_a_way_out(headers: list[str], cell: str, tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerows([[*headers, "case_id", "sex"], [*(cell for _ in headers), "first", "male"]])
    told: tuple[Any, ...] = ()
    try:
        with screen(path, RULES, AS_OF) as cohort:
            assert cohort.rows == 1
    except TableError as error:
        told = error.problems
    assert all(
        problem.file and problem.message and (problem.expected or problem.next_step) for problem in told
    )
