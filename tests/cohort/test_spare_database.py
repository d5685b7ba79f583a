"""One database serves small screenings one after another, and nothing of one is there for the next."""

import itertools
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.foundation.errors import TableError

# MB: each test asks for an amount of its own, so that no other left it a database
_MEMORY = itertools.count(301)


@pytest.fixture
def engine(tmp_path: Path) -> Callable[[str], EmbeddedEngine]:
    memory = f"{next(_MEMORY)}MB"

    def made(name: str) -> EmbeddedEngine:
        folder = tmp_path / name
        folder.mkdir(exist_ok=True)
        return EmbeddedEngine(folder, memory, 1)

    return made


def known(engine: EmbeddedEngine) -> list[tuple[Any, ...]]:
    """Tables and views of a database that are not its own."""
    tables = engine.rows("SELECT table_name FROM duckdb_tables()")
    return tables + engine.rows("SELECT view_name FROM duckdb_views() WHERE NOT internal")


def served_before(engine: EmbeddedEngine) -> bool:
    """Whether a database was asked this before."""
    engine.execute("CREATE SEQUENCE IF NOT EXISTS asked")
    return bool(engine.rows("SELECT nextval('asked')")[0][0] > 1)


def used(engine: EmbeddedEngine) -> None:
    engine.view("people", "SELECT 1 AS number, 'pass'::outcome AS said")
    engine.keep({"answers": "SELECT * FROM people"})
    engine.hold("written", "SELECT * FROM answers")
    assert engine.rows("SELECT number, said FROM written") == [(1, "pass")]


def test_the_next_engine_gets_the_database_with_nothing_in_it(
    engine: Callable[[str], EmbeddedEngine],
) -> None:
    first = engine("first")
    assert not served_before(first)
    used(first)
    first.close()
    first.close()  # closing twice takes it from nobody
    second = engine("second")
    assert served_before(second)
    assert known(second) == []
    assert second.rows("SELECT current_setting('temp_directory')")[0][0].endswith("second/spill")
    used(second)
    second.close()


def test_engines_at_the_same_time_have_databases_of_their_own(
    engine: Callable[[str], EmbeddedEngine],
) -> None:
    first, second = engine("first"), engine("second")
    assert not served_before(first)
    used(first)
    assert known(second) == []
    assert not served_before(second)
    first.close()
    used(second)
    second.close()


@pytest.mark.parametrize("how", ["an error", "lent", "much written", "a table left", "spilled"])
def test_what_may_hold_on_to_something_is_closed(engine: Callable[[str], EmbeddedEngine], how: str) -> None:
    first = engine("first")
    assert not served_before(first)
    if how == "an error":
        with pytest.raises(TableError):
            first.execute("SELECT * FROM read_parquet('missing.parquet')")
    elif how == "lent":
        assert first.connection is not None
    elif how == "a table left":
        first.execute("CREATE TABLE people AS SELECT 1 AS number")
    elif how == "much written":
        first.hold("many", "SELECT md5(range::VARCHAR) AS sign FROM range(100000)")
    else:
        first.execute(
            "CREATE TEMP TABLE many AS SELECT range, md5(range::VARCHAR) AS sign FROM range(9000000)"
        )
    first.close()
    second = engine("second")
    assert not served_before(second)
    second.connection.close()
    second.close()


def test_another_file_in_the_place_of_one_is_read(
    engine: Callable[[str], EmbeddedEngine], tmp_path: Path
) -> None:
    """Also where neither its size nor its time tells that it is another."""
    path, told = tmp_path / "people.parquet", []
    for number in (1, 2):
        pq.write_table(pa.table({"number": [number]}), path)
        os.utime(path, (1, 1))
        one = engine(f"engine {number}")
        one.open_parquet("people", path)
        told += one.rows("SELECT number FROM people")
        one.close()
    assert told == [(1,), (2,)]


def test_a_query_that_somebody_stops_stops_the_program_and_is_no_fault_of_it(engine, monkeypatch) -> None:
    one = engine("one")

    class Stopped:
        def execute(self, query: str) -> None:
            raise RuntimeError("Query interrupted")  # what the engine makes of an interrupt from the keyboard

    with monkeypatch.context() as patch:
        patch.setattr(one, "_connection", Stopped())
        with pytest.raises(KeyboardInterrupt):
            one.rows("SELECT 1")
    one.close()
