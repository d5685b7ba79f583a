"""A cell that SQL reads, or looks up among different cells, says what reading the cell alone says."""

from typing import Any

import pytest

pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

import pyarrow as pa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.case.facts import Fact
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.cells import BadCell, entry_of, fact_of
from candidacy.cohort.inputs.intake import Intake
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.cohort.inputs.plain_cells import plain_value

ITEMS = (
    ColumnMap(element="body_mass_index", unit="kg/m2"),
    ColumnMap(element="body_weight", unit="lb"),
    ColumnMap(element="body_height", unit="cm"),
    ColumnMap(
        element="hba1c", unit="%", unknown={"999": "not_stated", "n/a": "not_asked", "7.0": "not_stated"}
    ),
    ColumnMap(element="odi_percent", unit="%", fractions=True),
    ColumnMap(element="odi_percent", unit="%", fractions=False),
    ColumnMap(element="back_pain_nrs_average", codes={"12": "10", "0.5": "?not_stated"}),
    ColumnMap(element="platelet_count", unit="10*9/L", thousands=",", decimal="."),
    ColumnMap(element="body_mass_index", unit="kg/m2", decimal=","),
    ColumnMap(element="birth_date"),
    ColumnMap(element="birth_date", unknown={"1900-01-01": "not_stated"}),
    ColumnMap(element="lumbar_mri_date", date_format=("%d/%m/%Y", "%m/%d/%Y", "%Y-%m-%d")),
    ColumnMap(element="modified_pfirrmann_grade", disc="L4-L5"),
    ColumnMap(element="pfirrmann_grade", disc="L4-L5"),
    ColumnMap(element="pregnancy_status"),
    ColumnMap(element="fever", codes={"x": "true"}),
)
ODD = [
    "", " ", "\t", "\u00a0", "\u3000", "0", "-0", "-0.0", "+0", "00", "000029.5", " 29.5 ", "29.5\t", "\n29.5", "29.5\n", "\u00a029.5",
    "29.5", "+29.5", "-29.5", "29.", ".5", ".", "+", "29.5.1", "2 9", "1e2", "1E2", "1e400", "inf", "-inf", "Infinity", "nan", "NaN",
    "1_000", "1,050", "1.050", "1 050", "0x1F", "53%", "53 %", "0.53", "53 %%", "<35", ">=6", "> 6", "33..37", "40..33", "3|4", "III|IV", "IV",
    "204 lbs", "5'9\"", "5 ft 9 in", "7/10", "7/100", "70 kg", "70kg", "29.5000000000000001", "0.1", "0.30000000000000004", "9" * 400,
    "0." + "0" * 300 + "1", "1" * 17, "9007199254740993", "400.00000000000001", "19.999999999999999999", "x" * 10_000, "²", "１２", "٣",
    "29.5\x01", "\x0029", "\x1f29.5", "29.5\x1c", "\u200b29.5", "\ufeff29.5", "'29.5", "=29.5", "29.5;", "{}", "NULL", "null",
    "1984-05-17", " 1984-05-17 ", "1984-05-17\n", "+1984-05-17", "1984-5-17", "1984-05", "1984", "1984-02-30", "1984-02-29", "1983-02-29",
    "1984-13-01", "1984-00-10", "1984-01-00", "1879-12-31", "1880-01-01", "1900-01-01", "0001-01-01", "2199-12-31", "2200-01-01", "9999-12-31", "10000-01-01",
    "0000-01-01", "1984/05/17", "17/05/1984", "05/17/1984", "03/04/1984", "04/04/1984", "1984-05-17T00:00:00", "1984-05-17 00:00:00",
    "1984-05-17 (BC)", "epoch", "infinity", "now", "today", ">=1984-05-17", "<=1984-05", "1984-05-17..1985-01-01", "１９８４-05-17",
    "true", "TRUE", "yes", "no", "y", "x", "?not_stated", "?nonsense", "?", "999", " 999", "999.0", "7", "7.0", "7.5", "10", "12", "0.5", "n/a", "N/A",
    "'; DROP TABLE t; --", "\\", "\\N", '"', "%s", "a\x7fb", "é", "🦴",
]  # fmt: skip
_DIGITS = st.text("0123456789", max_size=6)
CELLS = st.one_of(
    st.sampled_from(ODD),
    st.builds(lambda *parts: "".join(parts), st.sampled_from(["", " ", "+", "-", "<", "\t"]), _DIGITS,
              st.sampled_from(["", ".", ",", "-", "/", "e"]), _DIGITS, st.sampled_from(["", " ", "%", " kg", "\n", "\x00"])),
    st.dates().map(str),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=8),
)  # fmt: skip


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> Any:
    made = EmbeddedEngine(tmp_path_factory.mktemp("cells"))
    yield made
    made.close()


def _alone(cell: str, item: ColumnMap) -> tuple[Any, Any]:
    """The value or the reason that a cell states by itself."""
    try:
        fact = fact_of(cell, item)
    except BadCell:
        return None, "not_readable"
    return _said(fact)


def _said(fact: Fact | None) -> tuple[Any, Any]:
    return (None, None) if fact is None else (fact.value, fact.why.value if fact.why else None)


def _columns(engine: EmbeddedEngine, cells: list[str], item: ColumnMap) -> list[tuple[Any, Any]]:
    """The same of every cell, as columns of facts say it."""
    engine.table("odd", pa.table({"place": pa.array(range(len(cells))), "c": pa.array(cells, pa.string())}))
    intake = Intake(engine, "odd", engine.types("odd"), TableMap(columns={"c": item}))
    intake.look([("c", item)])
    intake.take("c", item, item.disc or "patient")
    (column,) = intake.facts.values()
    chosen = ", ".join(column.expressions())
    rows = engine.rows(f"SELECT {chosen} FROM {intake.source} ORDER BY place")
    return [_said(column.decode(row)) for row in rows]


def _same(engine: EmbeddedEngine, cells: list[str], item: ColumnMap) -> None:
    found = _columns(engine, cells, item)
    expected = [_alone(cell, item) for cell in cells]
    assert [(c, f) for c, f, e in zip(cells, found, expected, strict=True) if repr(f) != repr(_wide(e))] == []


def _wide(said: tuple[Any, Any]) -> tuple[Any, Any]:
    """A number as a column holds it."""
    value, why = said
    if hasattr(value, "low"):
        value = type(value)(float(value.low), float(value.high), value.low_open, value.high_open)
    return value, why


@pytest.mark.parametrize("item", ITEMS, ids=str)
def test_columns_say_of_every_odd_cell_what_the_cell_says_alone(engine: Any, item: ColumnMap) -> None:
    _same(engine, ODD, item)
    for place in range(0, len(ODD), 20):  # few different cells are translated in another way than many
        _same(engine, ODD[place : place + 20], item)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cells=st.lists(CELLS, min_size=1, max_size=60), item=st.sampled_from(ITEMS))
def test_columns_say_of_generated_cells_what_each_says_alone(
    engine: Any, cells: list[str], item: ColumnMap
) -> None:
    _same(engine, cells, item)


def test_plain_cells_are_read_by_sql(engine: Any) -> None:
    told = {
        "body_mass_index": ["29.5", " 29.5 ", "+29."],
        "birth_date": ["1984-05-17"],
        "back_pain_nrs_average": ["7"],
    }
    for item in ITEMS:
        if item.element in told and item.decimal == "." and not item.date_format:
            for cell in told[item.element]:
                value = plain_value(catalogue()[item.element], item, sql.string(cell))
                assert engine.rows(f"SELECT {value}")[0][0] is not None, (item, cell)


def test_cells_of_typed_columns_are_looked_up_by_their_value(engine: Any) -> None:
    """Numbers in another unit, not a number and both zeros, among more different cells than an expression holds."""
    item = ColumnMap(element="body_weight", unit="lb")
    numbers = [0.0, -0.0, float("nan"), float("inf"), *(100.0 + n / 2 for n in range(60)), 150.0, None]
    engine.table(
        "typed", pa.table({"place": pa.array(range(len(numbers))), "c": pa.array(numbers, pa.float64())})
    )
    intake = Intake(engine, "typed", engine.types("typed"), TableMap(columns={"c": item}))
    intake.look([("c", item)])
    intake.take("c", item, "patient")
    (column,) = intake.facts.values()
    rows = engine.rows(f"SELECT {', '.join(column.expressions())} FROM {intake.source} ORDER BY place")
    assert len(rows) == len(numbers)
    for number, row in zip(numbers, rows, strict=True):
        assert repr(_said(column.decode(row))) == repr(_wide(_alone(number, item))), number  # type: ignore[arg-type]


@pytest.mark.parametrize("item", ITEMS, ids=str)
def test_a_cell_is_checked_as_its_record_is(item: ColumnMap) -> None:
    """Without a record around it an entry gives the same fact, and the same first problem."""
    element = catalogue()[item.element]
    for cell in ODD:
        try:
            entry = entry_of(cell, item)
        except (BadCell, ValueError):
            continue
        if entry is None:
            continue
        place = (
            {"patient": {element.name: entry}}
            if element.scope == "patient"
            else {"discs": {"L4-L5": {element.name: entry}}}
        )
        facts, problems = gather(CaseRecord.model_validate({"schema_version": "1", "id": "cell", **place}))
        try:
            found = fact_of(cell, item)
        except BadCell as error:
            first = problems[0][1]
            told = error.problem
            assert (told.code, told.message, told.expected) == (first.code, first.message, first.expected)
        else:
            assert problems == []
            assert found == facts.stated()[0]
    assert LISTS
