"""The embedded engine: DuckDB, in this process, spilling to a folder of its own."""

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.cohort.engines import spare
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.translate import Translation
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten

if TYPE_CHECKING:
    import pyarrow as pa


# Steps of planning that take a fifth of the time of a small screening, and save nothing at 200 000 rows.
_NOT_WORTH_IT = "join_order,projection_placement,statistics_propagation"
_IN_MEMORY = 2_000_000  # bytes of a file: to take in a larger one takes longer than its columns to look up
_LITTLE = 2_000_000  # bytes of files written, behind which a database holds on to little memory
SETUP = (
    "SET enable_progress_bar = false",
    f"SET disabled_optimizers = '{_NOT_WORTH_IT}'",
    "CREATE TYPE IF NOT EXISTS outcome AS ENUM ('pass', 'fail', 'undetermined')",
    "CREATE TYPE IF NOT EXISTS standing_word AS ENUM ('urgent', 'not_candidate', 'incomplete', 'borderline', 'candidate')",
)
"""What every database of ours begins with."""


def configured(memory: str, threads: int) -> dict[str, Any]:
    """Settings of a database: bounded, and never fetching anything."""
    return {
        "threads": threads,
        "memory_limit": memory,
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
    }


def module() -> Any:
    """DuckDB.

    Raises
    ------
    InputError
        E601 where it is missing.
    """
    try:
        import duckdb
    except ImportError as error:
        raise InputError(
            [
                Problem(
                    Code.USAGE,
                    "screening tables needs the optional part cohort",
                    "candidacy screen",
                    next_step="pip install 'candidacy[cohort]'",
                )
            ]
        ) from error
    return duckdb


class EmbeddedEngine:
    """DuckDB on the cores of this machine.

    Parameters
    ----------
    folder
        For spilled data; the caller removes it.
    memory
        Most memory to hold before spilling, such as ``2GB``.
    """

    name = "embedded"
    at_hand = 2_000  # cases; as many rows as the engine takes at a time

    def __init__(self, folder: Path, memory: str = "2GB", threads: int | None = None) -> None:
        duckdb = module()
        self._folder, self._memory, self._threads = folder, memory, threads or _cores()
        self._in_memory: set[str] = set()
        self._named: set[str] = set()
        self._clean, self._written = True, 0
        spill = folder / "spill"
        self._database = spare.take(memory, self._threads, spill) or duckdb.connect(
            config=configured(memory, self._threads) | {"temp_directory": str(spill)}
        )
        self._connection = self._database.cursor()
        for statement in SETUP:
            self._connection.execute(statement)

    @property
    def version(self) -> str:
        """Program and version."""
        return f"DuckDB {module().__version__}"

    def another(self, folder: Path) -> "EmbeddedEngine":
        return EmbeddedEngine(folder, self._memory, self._threads)

    @property
    def connection(self) -> Any:
        """The connection, for reading inputs that only this engine reads."""
        self._clean = False  # who else has it may leave things behind
        return self._connection

    def open_parquet(self, name: str, path: Path, place: str = "", file: str = "") -> dict[str, str]:
        if name in self._in_memory:
            self.execute(f"DROP TABLE {name}")
            self._in_memory.discard(name)
        if not place and not file and self._small(path):
            self.execute(f"DROP VIEW IF EXISTS {name}")
            self._named.discard(name)
            self.execute(f"CREATE TEMP TABLE {name} AS {parquet_query(pattern(path))}")
            self._in_memory.add(name)
            return self.types(name)
        self.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {parquet_query(pattern(path), place, file)}")
        self._named.add(name)
        return self.types(name)

    def _small(self, path: Path) -> bool:
        """Whether a file is a small one of ours: its many columns would be looked up at every query."""
        return path.parent == self._folder and path.is_file() and path.stat().st_size <= _IN_MEMORY

    def types(self, name: str) -> dict[str, str]:
        """Column name to kind of type."""
        found = self.execute(f"DESCRIBE {name}").fetchall()
        return {row[0]: _kind(row[1]) for row in found}

    def view(self, name: str, query: str) -> None:
        if name in self._in_memory:
            self.execute(f"DROP TABLE {name}")
            self._in_memory.discard(name)
        self.execute(f"CREATE OR REPLACE TEMP VIEW {name} AS {query}")
        self._named.add(name)

    def table(self, name: str, content: "pa.Table") -> None:
        self._connection.register(f"{name}_given", content)
        self.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS SELECT * FROM {name}_given")
        self._connection.unregister(f"{name}_given")

    def hold(self, name: str, query: str) -> Path:
        path = self._folder / f"{name}.parquet"
        self.write(query, path)
        self.open_parquet(name, path)
        return path

    def keep(self, queries: Mapping[str, str]) -> None:
        statements = [f"DROP VIEW {name}" for name in queries if name in self._named]
        statements += [f"CREATE OR REPLACE TEMP TABLE {name} AS {query}" for name, query in queries.items()]
        self._named.difference_update(queries)
        self._in_memory.update(queries)
        # to plan it well would take longer than to run it over so few rows
        try:
            self.execute("; ".join(("SET enable_optimizer = false", *statements)))
        finally:
            self.execute("SET enable_optimizer = true")

    def translate(self, name: str, relation: str, translations: Sequence[Translation]) -> None:
        import pyarrow as pa

        quote, beside, chosen = sql.identifier, [], [f"{relation}.*"]
        for number, each in enumerate(translations):
            # a table from outside may have a column of any name but not one of ours with this sign
            key, meant = quote(f"{name} {number}|cell"), f"{name}_{number}"
            self.table(meant, pa.table({f"{name} {number}|cell": each.cells, **each.columns}))
            beside.append(f"LEFT JOIN {meant} ON {each.raw} = {key}")
            chosen += [quote(column) for column in each.columns]
        self.view(name, f"SELECT {', '.join(chosen)} FROM {relation} {' '.join(beside)}")

    def columns(self, query: str) -> list[str]:
        return [row[0] for row in self.rows(f"DESCRIBE {query}")]

    def counts(self, conditions: Sequence[str], source: str) -> list[int]:
        return [int(count) for count in self.rows(counting(conditions, source))[0]]

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        found: list[tuple[Any, ...]] = self.execute(query).fetchall()
        return found

    def arrow(self, query: str) -> "pa.Table":
        return self._run(lambda: self._connection.sql(query).to_arrow_table())

    def write(self, query: str, path: Path) -> None:
        self.execute(f"COPY ({query}) TO '{str(path).replace(chr(39), chr(39) * 2)}' (FORMAT parquet)")
        self._written += path.stat().st_size

    def execute(self, query: str) -> Any:
        """Run a statement; what the engine says about an input becomes an error of ours.

        Raises
        ------
        TableError
            E501 where the disk is full or a file cannot be read or written.
        """
        return self._run(lambda: self._connection.execute(query))

    def _run(self, work: Callable[[], Any]) -> Any:
        duckdb = module()
        clean, self._clean = self._clean, False
        try:
            found = work()
            self._clean = clean
            return found
        except (RuntimeError, duckdb.InterruptException) as error:
            if "interrupted" not in str(error).casefold():
                raise
            raise KeyboardInterrupt from error  # somebody stopped the program: no fault of it
        except (duckdb.IOException, duckdb.OutOfMemoryException, duckdb.InvalidInputException) as error:
            raise TableError([told(str(error))]) from error
        except duckdb.Error as error:
            if type(error) is not duckdb.Error:  # an error without a kind comes from the bytes of a file
                raise
            raise TableError([told(str(error))]) from error

    def close(self) -> None:
        database, self._database = self._database, None
        if database is None:
            return
        self._connection.close()
        if self._clean and self._written <= _LITTLE:
            spare.leave(database, self._memory, self._threads)
        else:
            database.close()


def counting(conditions: Sequence[str], source: str) -> str:
    """SQL of how many rows meet each of several conditions."""
    return f"SELECT {', '.join(map(sql.rows_with, conditions))} FROM {source}"


def parquet_query(files: str, place: str = "", file: str = "", where: str = "") -> str:
    """SQL of the rows of Parquet files, as `open_parquet` names what it adds; ``where`` may look at ``file_row_number``."""
    quote, asked = sql.identifier, [files]
    columns, left_out = [], []
    if place or where:
        asked.append("file_row_number = true")
        left_out.append("file_row_number")
    if place:
        columns.append(f"file_row_number + 1 AS {quote(place)}")
    if file:
        asked.append("filename = 'file read'")
        columns.append(f"parse_filename({quote('file read')}) AS {quote(file)}")
        left_out.append("file read")
    without = f" EXCLUDE ({', '.join(map(quote, left_out))})" if left_out else ""
    chosen = ", ".join(["*" + without, *columns])
    return f"SELECT {chosen} FROM read_parquet({', '.join(asked)}){f' WHERE {where}' if where else ''}"


def pattern(path: Path) -> str:
    """A literal for exactly this file or folder: signs that stand for many names stand for themselves."""
    exact = "".join(f"[{sign}]" if sign in "*?[" else sign for sign in str(path))
    return sql.string(exact + "/*.parquet" if path.is_dir() else exact)


def _cores() -> int:
    """Processor cores that this process may use, where the system says so."""
    may = getattr(os, "sched_getaffinity", None)
    return len(may(0)) if may is not None else os.cpu_count() or 1


def told(text: str) -> Problem:
    """What the engine says went wrong, as a problem of ours."""
    full = "No space left" in text or "failed to offload" in text
    if full or "Out of Memory" in text:
        return Problem(
            Code.BAD_TABLE,
            "the disk is full" if full else "the memory limit was reached",
            found=shorten(text, 160),
            next_step="free some space or raise --memory; nothing was left half-written",
        )
    return Problem(
        Code.BAD_TABLE,
        "the table cannot be read or written",
        found=shorten(text, 200),
        next_step="check that the file is whole, or write it anew",
    )


def _kind(given: str) -> str:
    if given in ("DOUBLE", "FLOAT") or given.startswith("DECIMAL"):
        return "number"
    if "INT" in given and "[" not in given and given != "INTERVAL":
        return "integer"
    if given == "VARCHAR" or given.startswith("ENUM"):
        return "text"
    if given == "BOOLEAN":
        return "boolean"
    if given == "DATE" or given.startswith("TIMESTAMP"):
        return "date"
    return "other"
