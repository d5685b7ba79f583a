# ruff: noqa: E402
"""Typed columns and folders of Parquet files: read rightly or refused clearly, each row named by its file."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

import pyarrow as pa
import pyarrow.parquet as pq

from candidacy.cohort import screen
from candidacy.foundation.errors import Code, TableError
from candidacy.foundation.values import Why
from tests.deep import only_deep
from tests.strategies import AS_OF

WIDE = "wide_screen"
BIRTH = "birth_date"
BERLIN = ZoneInfo("Europe/Berlin")


def _file(tmp_path: Path, **columns: Any) -> Path:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"case_id": ["a", "b"], **columns}), path)
    return path


def _facts(path: Any, element: str) -> dict[str, Any]:
    """The value of an element as each row states it, or what its cell says and why it cannot be read."""
    with screen(path, WIDE, AS_OF) as cohort:
        found: dict[str, Any] = {}
        for reference in cohort.outcomes().case_id:
            fact = cohort.open_case(reference).case.facts.patient.get(element)
            found[reference] = fact.provenance.as_written if fact else None
        assert cohort.set_aside == 0
        found |= {
            row.case: f"{row.column}: {row.reason} ({row.value})"
            for row in cohort.unread_cells().itertuples()
        }
        return found


def _days(column: Any, tmp_path: Path) -> dict[str, Any]:
    return _facts(_file(tmp_path, **{BIRTH: column, "sex": ["female", "male"]}), BIRTH)


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        (pa.array([date(1980, 2, 29), None]), ["1980-02-29", None]),
        (pa.array([datetime(1980, 2, 29, 13), None]), ["1980-02-29", None]),
        (pa.array([datetime(1980, 2, 29), None], pa.timestamp("ns")), ["1980-02-29", None]),
        (pa.array([datetime(1980, 2, 29, tzinfo=BERLIN), None], pa.timestamp("us", "Europe/Berlin")), ["1980-02-29", None]),
        (pa.array([datetime(1980, 2, 29), None], pa.timestamp("ms", "UTC")), ["1980-02-29", None]),
        (pa.array(["1980-02-29", ""]).dictionary_encode(), ["1980-02-29", None]),
        (pa.array(["1980-02-29", None], pa.large_string()), ["1980-02-29", None]),
        (pa.array(["1980-02-29", None], pa.string_view()), ["1980-02-29", None]),
        (pa.nulls(2), [None, None]),
        (pa.array([1980, None], pa.uint64()), ["1980", None]),
        (pa.array([1980, None], pa.int16()), ["1980", None]),
    ],
)  # fmt: skip
def test_days_in_every_type_that_tells_one(column: Any, expected: list[Any], tmp_path: Path) -> None:
    assert _days(column, tmp_path) == dict(zip("ab", expected, strict=True))


def test_an_instant_that_tells_no_day_is_listed_with_what_it_says(tmp_path: Path) -> None:
    """Midnight in Berlin is the day before in universal time; which day was meant is not for a program to say."""
    column = pa.array([datetime(1980, 2, 28, 23), datetime(1981, 1, 1)], pa.timestamp("us", "UTC"))
    found = _days(column, tmp_path)
    assert found["b"] == "1981-01-01"
    assert found["a"].startswith("birth_date: ")
    assert "1980-02-28 23:00:00" in found["a"]


@pytest.mark.parametrize(
    ("kind", "cells", "expected"),
    [
        (pa.decimal128(9, 2), [Decimal("29.50"), None], 29.5),
        (pa.decimal128(38, 20), [Decimal("29.1"), Decimal("30")], 29.1),
        (pa.decimal256(60, 30), [Decimal("29.1"), Decimal("0.5")], 29.1),
        (pa.float32(), [29.5, None], 29.5),
        (pa.uint64(), [29, 2**64 - 1], 29.0),
        (pa.int8(), [29, None], 29.0),
    ],
)
def test_numbers_in_every_type_keep_their_value(
    kind: Any, cells: list[Any], expected: float, tmp_path: Path
) -> None:
    path = _file(tmp_path, **{"body_mass_index [kg/m2]": pa.array(cells, kind)})
    with screen(path, WIDE, AS_OF) as cohort:
        value = cohort.open_case("a").case.facts.patient["body_mass_index"].value
        assert value.low == expected
        outside = cells[1] is not None and float(cells[1]) != 30
        assert (cohort.set_aside, cohort.cells_not_read) == (0, outside)


@pytest.mark.parametrize(
    ("column", "kind"),
    [
        ([{"year": 1980}, None], "struct<year: int64>"),
        ([time(1, 2), None], "time64[us]"),
        ([timedelta(1), None], "duration[us]"),
        ([b"1980", None], "binary"),
        ([[1980], None], "list<element: int64>"),
    ],
)
def test_a_type_that_no_element_has_is_refused_where_it_is_mapped_and_told_where_not(
    column: list[Any], kind: str, tmp_path: Path
) -> None:
    path = _file(tmp_path, **{BIRTH: pa.array(column), "sex": ["female", "male"]})
    with pytest.raises(TableError) as caught:
        screen(path, WIDE, AS_OF)
    (problem,) = caught.value.problems
    assert (problem.code, problem.field, problem.found) == (Code.BAD_MAPPING, BIRTH, kind)
    assert "lists of text" in problem.expected
    other = _file(tmp_path, photo=pa.array(column), sex=["female", "male"])
    with screen(other, WIDE, AS_OF) as cohort:
        assert cohort.cases == 2
        assert [note.field for note in cohort.notes] == ["photo"]


def test_lists_are_members_and_what_cells_cannot_say_is_listed(tmp_path: Path) -> None:
    lists = pa.array([["L4-L5", "L5-S1"], ["L4-L5;L5-S1"]])
    path = _file(tmp_path, discs_under_consideration=lists, sex=["female", "male"])
    with screen(path, WIDE, AS_OF) as cohort:
        assert list(cohort.unread_cells()["case"]) == ["b"]
        levels = cohort.open_case("a").case.facts.patient["discs_under_consideration"].value
        assert levels.certain == {"L4-L5", "L5-S1"}
    gap = _file(tmp_path, discs_under_consideration=pa.array([["L4-L5", None], []]), sex=["female", "male"])
    with screen(gap, WIDE, AS_OF) as cohort:
        assert list(cohort.unread_cells()["case"]) == ["a"]


def test_huge_numbers_of_a_database_are_references_digit_by_digit(tmp_path: Path) -> None:
    import duckdb

    path = tmp_path / "t.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute(
            "CREATE TABLE cases AS SELECT 170141183460469231731687303715884105726::HUGEINT + n AS case_id, "
            "'male' AS sex, uuid() AS other FROM range(2) AS numbers(n)"
        )
    with screen(path, WIDE, AS_OF) as cohort:
        ends = [reference[-3:] for reference in cohort.outcomes().case_id]
        assert ends == ["726", "727"]


@pytest.mark.parametrize("kind", [pa.date32(), pa.timestamp("s")])
def test_days_before_the_first_year_and_after_the_last_are_not_read(kind: Any, tmp_path: Path) -> None:
    days = pa.array([10_000_000, -900_000, 0], pa.int32()).cast(pa.date32()).cast(kind)
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"case_id": ["a", "b", "c"], BIRTH: days, "sex": ["male"] * 3}), path)
    with screen(path, WIDE, AS_OF) as cohort:
        assert [(problem.line, problem.found.split()[0]) for problem in cohort.problems] == [
            (1, "29349-01-26"),
            (2, "-0495-11-20"),
        ]
        assert (cohort.cases, cohort.cells_not_read) == (3, 2)
        fact = cohort.open_case("a").case.facts.patient[BIRTH]
        assert (fact.value, fact.why) == (None, Why.NOT_READABLE)


def _folder(tmp_path: Path) -> Path:
    folder = tmp_path / "many [a-z]*"
    folder.mkdir()
    for name, cases in (("1.parquet", ["a", "b"]), ("2 [x]?.parquet", ["c", "d"])):
        pq.write_table(pa.table({"case_id": cases, BIRTH: ["1980", "soon"]}), folder / name)
    (folder / "_SUCCESS").touch()
    return folder


def engines() -> list[Any]:
    return [
        "embedded",
        pytest.param(
            "spark", marks=[only_deep, pytest.mark.skipif(not _spark(), reason="needs Java and pyspark")]
        ),
    ]


def _spark() -> bool:
    import importlib.util
    import shutil

    return shutil.which("java") is not None and importlib.util.find_spec("pyspark") is not None


@pytest.mark.parametrize("engine", engines())
def test_a_row_of_a_folder_is_named_by_its_file_and_its_number_there(engine: str, tmp_path: Path) -> None:
    folder = _folder(tmp_path)
    with screen(folder, WIDE, AS_OF, engine=engine) as cohort:  # type: ignore[arg-type]
        told = [(problem.file, problem.line) for problem in cohort.problems]
        assert told == [(f"{folder}/1.parquet", 2), (f"{folder}/2 [x]?.parquet", 2)]
        cells = cohort.unread_cells()
        assert list(cells["table"]) == [f"{folder}/1.parquet", f"{folder}/2 [x]?.parquet"]
        assert list(cells["case"]) == ["b", "d"]
        assert list(cells["row"]) == ["2", "2"]


@pytest.mark.parametrize("engine", engines())
def test_signs_that_stand_for_many_names_stand_for_themselves(engine: str, tmp_path: Path) -> None:
    for name, case in (
        ("referrals [1].parquet", "a"),
        ("referrals 1.parquet", "b"),
        ("r{x,y}*?.parquet", "c"),
    ):
        pq.write_table(pa.table({"case_id": [case], "sex": ["male"]}), tmp_path / name)
    for name, case in (("referrals [1].parquet", "a"), ("r{x,y}*?.parquet", "c")):
        with screen(tmp_path / name, WIDE, AS_OF, engine=engine) as cohort:  # type: ignore[arg-type]
            assert list(cohort.outcomes().case_id) == [case]


@pytest.mark.parametrize("engine", engines())
def test_a_folder_whose_columns_are_copied_keeps_files_and_numbers(engine: str, tmp_path: Path) -> None:
    for name, cases in (("1.parquet", ["a", "b"]), ("2.parquet", ["c", "d"])):
        when = pa.array([datetime(1980, 1, 1), datetime(1980, 1, 1, 5)], pa.timestamp("us", "UTC"))
        pq.write_table(pa.table({"case_id": cases, BIRTH: when}), tmp_path / name)
    with screen(tmp_path, WIDE, AS_OF, engine=engine) as cohort:  # type: ignore[arg-type]
        assert [(p.file, p.line) for p in cohort.problems] == [
            (f"{tmp_path}/1.parquet", 2), (f"{tmp_path}/2.parquet", 2),
        ]  # fmt: skip


@pytest.mark.parametrize("engine", engines())
def test_discs_and_lists_from_folders_are_named_by_file_too(engine: str, tmp_path: Path) -> None:
    people = pd.DataFrame({"case_id": ["a"], "sex": ["male"]})
    for name, cases in (("1.parquet", ["a", "x"]), ("2.parquet", ["y"])):
        discs = pa.table(
            {"case_id": cases, "disc": ["L4-L5"] * len(cases), "displacement": ["none"] * len(cases)}
        )
        for folder, table in (
            ("d", discs),
            ("m", pa.table({"case_id": cases, "medicine_class": ["nsaid"] * len(cases)})),
        ):
            (tmp_path / folder).mkdir(exist_ok=True)
            pq.write_table(table, tmp_path / folder / name)
    with screen(
        people, WIDE, AS_OF, discs=tmp_path / "d", lists={"medicines": tmp_path / "m"}, engine=engine
    ) as cohort:  # type: ignore[arg-type]
        assert cohort.discs_set_aside == 2
        told = [
            (problem.file[len(str(tmp_path)) :], problem.line, problem.found) for problem in cohort.problems
        ]
        assert told == [
            ("/d/1.parquet", 2, "x"),
            ("/d/2.parquet", 1, "y"),
            ("/m/1.parquet", 2, "x"),
            ("/m/2.parquet", 1, "y"),
        ]
        assert len(cohort.open_case("a").case.facts.lists["medicines"].entries) == 1


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (
            lambda f: pq.write_table(pa.table({"case_id": ["e"], BIRTH: [1980]}), f / "3.parquet"),
            "different columns",
        ),
        (lambda f: pq.write_table(pa.table({"case_id": ["e"]}), f / "3.parquet"), "different columns"),
        (lambda f: (f / "more.csv").write_text("case_id,birth_date\n"), "other tables or folders"),
        (lambda f: (f / "year=2026").mkdir(), "other tables or folders"),
        (lambda f: (f / "3.parquet").write_bytes(b"PAR1 and no more"), "cut short"),
    ],
)
def test_a_folder_of_several_minds_is_refused(make: Any, words: str, tmp_path: Path) -> None:
    folder = _folder(tmp_path)
    make(folder)
    with pytest.raises(TableError) as caught:
        screen(folder, WIDE, AS_OF)
    assert words in str(caught.value)
    assert str(folder) in str(caught.value)


@only_deep
@pytest.mark.skipif(not _spark(), reason="needs Java and pyspark")
def test_both_engines_read_every_type_alike(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        birth_date=pa.array([datetime(1980, 2, 29, 9), None], pa.timestamp("ns")),
        sex=pa.array(["male", "female"]).dictionary_encode(),
        **{
            "body_mass_index [kg/m2]": pa.array([Decimal("29.5"), Decimal("36")], pa.decimal128(5, 1)),
            "pain_duration [month]": pa.array([7, None], pa.uint8()),
            "medicines complete": pa.array([True, None]),
            "L4-L5 displacement": pa.array(["none", " "], pa.large_string()),
            "L5-S1 displacement": pa.nulls(2),
        },
    )
    found = []
    for engine in ("embedded", "spark"):
        with screen(path, WIDE, AS_OF, engine=engine) as cohort:  # type: ignore[arg-type]
            assert (cohort.cases, cohort.set_aside) == (2, 0)
            found.append(cohort.outcomes().astype(object).where(lambda f: f.notna(), None).to_dict("records"))
            assert (
                cohort.open_case("a").case.facts.patient["birth_date"].provenance.as_written == "1980-02-29"
            )
    assert found[0] == found[1]


def test_a_column_of_completeness_may_be_typed_and_must_say_true_or_false(tmp_path: Path) -> None:
    for cells, cases in (
        ([True, False], ["a", "b"]),
        (["TRUE", "no"], ["a", "b"]),
        ([None, None], ["a", "b"]),
    ):
        with screen(
            _file(tmp_path, sex=["male"] * 2, **{"medicines complete": pa.array(cells)}), WIDE, AS_OF
        ) as cohort:
            assert list(cohort.outcomes().case_id) == cases
    numbers = _file(tmp_path, sex=["male"] * 2, **{"medicines complete": pa.array([1.0, 0.0])})
    with screen(numbers, WIDE, AS_OF) as cohort:
        assert (cohort.cases, cohort.cells_not_read) == (2, 2)
        assert "not true or false" in cohort.problems[0].message
        assert [note.field for note in cohort.notes] == ["medicines complete"]
        assert not cohort.open_case("a").case.facts.lists["medicines"].complete


@pytest.mark.usefixtures("spark")
def test_the_distributed_engine_translates_many_different_cells_and_tells_damage(tmp_path: Path) -> None:
    """More different cells than an expression holds go through workers, which need the packages of this program."""
    path = tmp_path / "t.parquet"
    people = pd.DataFrame(
        {"case_id": [f"c{n}" for n in range(60)], BIRTH: [str(1930 + n) for n in range(60)]}
    )
    people.to_parquet(path)
    with screen(path, WIDE, AS_OF, engine="spark") as cohort:
        assert (cohort.cases, cohort.set_aside) == (60, 0)
    whole = path.read_bytes()
    path.write_bytes(whole[:4] + b"\xff" * 400 + whole[404:])
    with pytest.raises(TableError) as caught:
        screen(path, WIDE, AS_OF, engine="spark")
    assert all(problem.file == str(path) and problem.next_step for problem in caught.value.problems)
