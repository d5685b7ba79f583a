"""The distributed engine: what it hands out in slices says what is said of the whole, and what goes wrong there is told."""

import json
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from candidacy.foundation.changed_copy import replace

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pytest.importorskip("pandas", reason="cohort screening is an optional part")

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from candidacy.case.load import Case
from candidacy.cohort import screen
from candidacy.cohort.engines.embedded import SETUP, EmbeddedEngine, configured
from candidacy.cohort.engines.row_by_row import Shape, leaf, needed
from candidacy.cohort.engines.slices import Work, look
from candidacy.foundation.errors import Code, InputError, TableError
from candidacy.rules.resolved import RuleSet
from tests.cohort.screened import part_of, records, shipped, write_cases
from tests.strategies import AS_OF

ROWS = 7  # of a slice, so that few are in several


# --- which queries go row by row


@pytest.fixture(scope="module")
def embedded(tmp_path_factory: pytest.TempPathFactory) -> Any:
    engine = EmbeddedEngine(tmp_path_factory.mktemp("embedded"))
    yield engine
    engine.close()


def shape(query: str) -> Shape:
    with duckdb.connect() as connection:
        found = connection.execute("SELECT json_serialize_sql(?)", [query]).fetchone()
    assert found is not None
    return Shape.of(found[0], {"+", "abs", "least"})


@pytest.mark.parametrize(
    "query",
    [
        "SELECT * FROM a",
        "SELECT x + 1 AS y, CASE WHEN x IS NOT DISTINCT FROM y THEN abs(x) END AS z FROM a WHERE x > 1 AND y IN (1, 2)",
        "SELECT y FROM (SELECT least(x, y) AS y FROM (SELECT x, y FROM a) AS layer0) AS layer1",
        "SELECT * FROM a LEFT JOIN b ON a.x = b.x JOIN c ON a.x IS NOT DISTINCT FROM c.x",
        "SELECT * FROM a LEFT JOIN (SELECT x, COUNT(*) AS n FROM b GROUP BY x) AS counted ON a.x = counted.x",
    ],
)
def test_a_query_that_makes_each_row_from_one_row_of_a_relation_leads_with_it(query: str) -> None:
    assert shape(query).lead == "a"


@pytest.mark.parametrize(
    "query",
    [
        "SELECT COUNT(*) FROM a",
        "SELECT x FROM a GROUP BY x",
        "SELECT DISTINCT x FROM a",
        "SELECT x FROM a ORDER BY x",
        "SELECT x FROM a LIMIT 1",
        "SELECT x FROM a USING SAMPLE 3",
        "SELECT x, ROW_NUMBER() OVER () AS n FROM a",
        "SELECT x FROM a QUALIFY ROW_NUMBER() OVER (PARTITION BY x) = 1",
        "SELECT x FROM a WHERE x = (SELECT MAX(x) FROM b)",
        "SELECT x FROM a WHERE EXISTS (SELECT 1 FROM b WHERE b.x = a.x)",
        "SELECT x FROM a UNION ALL SELECT x FROM b",
        "WITH b AS (SELECT * FROM a) SELECT * FROM b",
        "SELECT * FROM (SELECT DISTINCT x FROM a) AS different",
        "SELECT * FROM b RIGHT JOIN a ON a.x = b.x",
        "SELECT * FROM a FULL JOIN b ON a.x = b.x",
        "SELECT * FROM a POSITIONAL JOIN b",
        "SELECT * FROM a LEFT JOIN b ON a.x = (SELECT MAX(x) FROM c)",
        "SELECT * FROM a AS one JOIN a AS other ON one.x = other.x",
        "SELECT random() AS x FROM a",
        "SELECT of_some_macro(x) AS x FROM a",
        "SELECT * FROM range(3)",
        "SELECT 1",
    ],
)
def test_a_query_that_may_look_at_several_rows_leads_with_none(query: str) -> None:
    assert shape(query).lead == ""


def test_views_are_looked_through_and_a_relation_read_twice_is_not_cut() -> None:
    views = {
        "plain": shape("SELECT x FROM a WHERE x > 1"),
        "beside": shape("SELECT * FROM plain LEFT JOIN b ON plain.x = b.x"),
        "counted": shape("SELECT COUNT(*) AS n FROM a"),
        "again": shape("SELECT * FROM plain JOIN a ON plain.x = a.x"),
    }
    asked = shape("SELECT * FROM beside")
    assert leaf(asked, views) == "a"
    assert needed(asked, views) == {"beside", "plain", "a", "b"}
    assert leaf(shape("SELECT * FROM counted"), views) == ""
    assert leaf(shape("SELECT * FROM again"), views) == ""
    assert leaf(shape("SELECT * FROM plain, counted"), views) == ""


# --- one slice


def work(folder: Path, query: str, **changed: Any) -> Work:
    made = Work(
        duckdb.__version__, configured("200MB", 1), SETUP, "a",
        ("SELECT 1 AS x UNION ALL SELECT 2", "SELECT 3 AS x WHERE FALSE"), (("v", "SELECT x + 1 AS y FROM a"),),
        query, str(folder),
    )  # fmt: skip
    return replace(made, **changed)


def test_a_slice_is_answered_by_a_file_or_by_numbers(tmp_path: Path) -> None:
    asked = work(tmp_path, "SELECT y FROM v")
    assert [asked.answer(number) for number in (0, 1, 0)] == [{"numbers": []}] * 3
    # what ran twice left one file, and a slice without rows has the columns of the others
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "slice-000000.parquet",
        "slice-000001.parquet",
    ]
    tables = [pq.read_table(path) for path in sorted(tmp_path.iterdir())]
    assert [table.to_pydict() for table in tables] == [{"y": [2, 3]}, {"y": []}]
    assert tables[0].schema == tables[1].schema
    counted = work(tmp_path, "SELECT COUNT(*), COUNT(CASE WHEN y > 2 THEN 1 END) FROM v", target="")
    assert [counted.answer(number) for number in (0, 1)] == [{"numbers": [2, 1]}, {"numbers": [0, 0]}]


def test_slices_changed_on_the_way_keep_their_columns_without_rows(tmp_path: Path) -> None:
    def doubled(batches: Any) -> Any:
        for batch in batches:
            yield batch.set_column(
                0, "twice", pa.array([2 * y for y in batch.column(0).to_pylist()], pa.int64())
            )

    asked = work(tmp_path, "SELECT y FROM v", change=doubled)
    assert [asked.answer(number) for number in (0, 1)] == [{"numbers": []}] * 2
    tables = [pq.read_table(path) for path in sorted(tmp_path.iterdir())]
    assert [table.to_pydict() for table in tables] == [{"twice": [4, 6]}, {"twice": []}]
    assert tables[0].schema == tables[1].schema


@pytest.mark.parametrize(
    ("changed", "kind"),
    [
        ({"duckdb": "0.0.1"}, "version"),
        ({"slices": ("SELECT * FROM read_parquet('/nowhere/at all.parquet')",)}, "IOException"),
        (
            {"query": "SELECT ARRAY_AGG(i || REPEAT('x', 900)) AS x FROM range(900000) AS r(i)"},
            "OutOfMemoryException",
        ),
        ({"target": "/nowhere/at all"}, "IOException"),
        ({"query": "SELECT unheard FROM a"}, "BinderException"),
    ],
)
def test_what_goes_wrong_in_a_slice_is_told_and_leaves_no_file(
    changed: Any, kind: str, tmp_path: Path
) -> None:
    told = replace(work(tmp_path, "SELECT y FROM v"), **changed).answer(0)
    assert told["kind"] == kind
    assert told["text"]
    assert not list(tmp_path.glob("*.parquet"))


# --- on Spark


@pytest.fixture(scope="module")
def in_slices(spark: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    from candidacy.cohort.engines.distributed import SparkEngine

    engine = SparkEngine(tmp_path_factory.mktemp("slices"), spark._session, rows=ROWS)
    yield engine
    engine.close()


def test_several_slices_say_of_a_cohort_what_one_table_says(
    spark: Any, few_cases: Sequence[Case], few_rules: RuleSet, tmp_path: Path
) -> None:
    from candidacy.cohort.engines.distributed import SparkEngine

    in_slices = SparkEngine(tmp_path, spark._session, rows=25)
    folder = write_cases(tmp_path / "records", few_cases)
    points = {
        "body_mass_index_limit.bmi_upper_limit": [25, 40],
        "number_of_discs_to_treat.most_discs": [1, 2],
    }
    other = part_of(
        shipped("wide_screen"), ("age_lower_limit", "displacement_limit", "number_of_discs_to_treat")
    )
    answers = []
    for engine in ("embedded", in_slices):
        with screen(folder, few_rules, AS_OF, engine=engine) as cohort:
            moved = cohort.compare(other)
            frames = [
                cohort.outcomes(), cohort.discs(), cohort.standings(), cohort.disc_standings(), cohort.tallies(),
                cohort.attrition(), cohort.reasons(), cohort.missing_ranking(), cohort.sweep(points), moved.moves,
                moved.cases,
            ]  # fmt: skip
            answers.append([(records(frame), frame.dtypes.astype(str).to_dict()) for frame in frames])
            if engine is in_slices:
                files = sorted(path.name for path in cohort.outcomes_path.iterdir())
                assert files == [f"slice-{n:06}.parquet" for n in range(-(-len(few_cases) // 25))]
    in_slices.close()
    assert answers[0] == answers[1]
    assert all(rows for rows, _ in answers[0])


TYPED = {
    "n": pa.array([*range(19), None], pa.int64()),
    "small": pa.array([None, *range(19)], pa.uint8()),
    "day": pa.array([date(1, 1, 1), None, date(9999, 12, 31), *[date(2026, 2, 28)] * 17]),
    "at": pa.array([datetime(2026, 11, 29, 1, 2, 3, 456789), None] * 10, pa.timestamp("us")),
    "money": pa.array([Decimal("12345678901234567890.123456789"), None] * 10, pa.decimal128(38, 9)),
    "number": pa.array([float("nan"), float("inf"), -0.0, None] * 5),
    "flag": pa.array([True, False, None, True] * 5),
    "text": pa.array(["", "É\n'`\"\\", None, "椎間盤"] * 5),
    "codes": pa.array([["a", None], [], None, ["b;c"]] * 5, pa.list_(pa.string())),
}


def test_types_values_numbers_and_order_of_rows_pass_through_slices_unchanged(
    in_slices: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "t [1]"
    folder.mkdir()
    for name, start, count in (("1.parquet", 0, 11), ("2 'x'.parquet", 11, 0), ("3.parquet", 11, 9)):
        pq.write_table(pa.table(TYPED).slice(start, count), folder / name)
    engines = (EmbeddedEngine(tmp_path), in_slices.another(tmp_path))
    # a join of several threads keeps no order of its own; slices have one thread each
    ordered = 'SELECT * FROM held ORDER BY "of file", "row number"'
    found = []
    for engine in engines:
        kinds = engine.open_parquet("typed", folder, "row number", "of file")
        engine.table("known", pa.table({"k": pa.array([None, 3, 4]), "answer": ["none", "three", "four"]}))
        engine.view("joined", "SELECT * FROM typed LEFT JOIN known ON n IS NOT DISTINCT FROM k")
        path = engine.hold("held", "SELECT * FROM joined")
        engine.hold("nothing", "SELECT * FROM joined WHERE n > 100")
        sums = engine.counts(["n > 3", "answer IS NULL", "FALSE"], "(SELECT * FROM joined) AS j")
        found.append((kinds, engine.arrow(ordered), engine.arrow("SELECT * FROM nothing"), sums))
    assert len(list(path.iterdir())) == 3
    one, other = found
    assert one[0] == other[0]
    assert one[1].schema == other[1].schema == one[2].schema == other[2].schema
    assert str(one[1].to_pylist()) == str(other[1].to_pylist())  # as text: no number is equal to nan
    assert engines[1].arrow("SELECT n FROM held").column("n").to_pylist() == TYPED["n"].to_pylist()
    assert one[1].num_rows == 20
    assert other[2].num_rows == 0
    assert one[3] == other[3] == [15, 17, 0]
    for engine in engines:
        engine.close()


def test_two_cohorts_on_one_engine_do_not_read_each_other(in_slices: Any, few_rules: RuleSet) -> None:
    import pandas as pd

    def given(*names: str) -> Any:
        return pd.DataFrame({"case_id": names, "age [year]": ["40"] * len(names)})

    with screen(given("a", "b"), few_rules, AS_OF, engine=in_slices) as one:
        before = records(one.sweep({"body_mass_index_limit.bmi_upper_limit": [30]}))
        with screen(given("c"), few_rules, AS_OF, engine=in_slices) as other:
            assert list(other.outcomes().case_id) == ["c"]
            assert records(one.sweep({"body_mass_index_limit.bmi_upper_limit": [30]})) == before
            assert list(one.outcomes().case_id) == ["a", "b"]


def test_a_file_that_goes_bad_while_slices_are_read_is_told_as_for_one_table(
    in_slices: Any, tmp_path: Path
) -> None:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"n": list(range(2 * ROWS))}), path)
    engine = in_slices.another(tmp_path)
    engine.open_parquet("t", path, "place")
    whole = path.read_bytes()
    path.write_bytes(whole[:4] + b"\xff" * 60 + whole[64:])
    with pytest.raises(TableError) as caught:
        engine.hold("held", "SELECT n + 1 AS m FROM t")
    (problem,) = caught.value.problems
    assert (problem.code, problem.message) == (Code.BAD_TABLE, "the table cannot be read or written")
    assert problem.next_step
    assert not list((tmp_path / "distributed").glob("held*"))
    engine.close()


# --- what workers need


def test_a_worker_says_what_it_has(tmp_path: Path) -> None:
    marker = tmp_path / "seen"
    assert json.loads(look(str(marker)))["sees"] is False
    marker.touch()
    has = json.loads(look(str(marker)))
    assert (has["duckdb"], has["pyarrow"], has["sees"]) == (duckdb.__version__, pa.__version__, True)


@pytest.mark.parametrize(
    ("package", "content", "words"),
    [
        ("duckdb", "raise ImportError('it is not here')", ("cannot import", "duckdb: it is not here")),
        ("pyarrow", "raise ImportError('nor here')", ("cannot import", "pyarrow: nor here")),
        ("duckdb", "__version__ = '0.9.2'", ("another version of DuckDB", "0.9.2")),
        ("pyarrow", "__version__ = '17.0.0'", ("pyarrow that is too old", "17.0.0")),
    ],
)
def test_workers_that_lack_a_package_are_refused_at_the_start_with_a_way_out(
    package: str, content: str, words: tuple[str, str], in_slices: Any, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    import sys

    (tmp_path / f"{package}.py").write_text(content)
    python = tmp_path / "python"
    python.write_text(f'#!/bin/sh\nPYTHONPATH="{tmp_path}:$PYTHONPATH" exec "{sys.executable}" "$@"\n')
    python.chmod(0o755)
    monkeypatch.setattr(in_slices._session.sparkContext, "pythonExec", str(python))
    with pytest.raises(InputError) as caught:
        in_slices.another(tmp_path)
    (problem,) = caught.value.problems
    assert problem.code == Code.USAGE
    assert all(each in str(caught.value) for each in words)
    assert problem.expected == f"duckdb {duckdb.__version__} and pyarrow 18 or later"
    assert "pip install" in problem.next_step
    assert "PYSPARK_PYTHON" in problem.next_step


def test_a_folder_that_workers_do_not_reach_is_refused_at_the_start(
    in_slices: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "touch", lambda self: None)
    with pytest.raises(InputError) as caught:
        in_slices.another(tmp_path)
    (problem,) = caught.value.problems
    assert "does not reach the folder" in problem.message
    assert str(tmp_path) in problem.found
