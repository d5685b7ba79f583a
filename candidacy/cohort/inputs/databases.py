"""A table of a DuckDB database file as Parquet; the file is opened for reading only."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.column_kinds import Typed
from candidacy.cohort.inputs.headers import PLACE, check_header, refusal
from candidacy.foundation.errors import Code, TableError

_PIECE = 100_000


def stage_database(
    path: Path, target: Path, engine: EmbeddedEngine, part: str, most: int | None = None
) -> dict[str, str]:
    """Write the rows of a table or view to ``target`` with their numbers; gives the columns left out, by type.

    Raises
    ------
    TableError
        E101 where the file cannot be opened, E109 where there is no row, E501 where the table is not named.
    """
    with _attached(path, engine):
        return _copy(path, target, engine.connection, part, most)


def tables_of(path: Path, engine: EmbeddedEngine) -> list[str]:
    """The tables and views of a database.

    Raises
    ------
    TableError
        E101 where the file cannot be opened.
    """
    with _attached(path, engine):
        return list(_known(engine.connection))


@contextmanager
def _attached(path: Path, engine: EmbeddedEngine) -> Iterator[None]:
    import duckdb

    with path.open("rb") as stream:
        if stream.read(16)[8:12] != b"DUCK":
            raise refusal(
                str(path), "not a DuckDB database", Code.UNREADABLE, expected="a DuckDB file, closed properly",
                next_step="export the table as CSV or Parquet",
            )  # fmt: skip
    quoted = str(path).replace("'", "''")
    try:
        engine.connection.execute(f"ATTACH '{quoted}' AS given (READ_ONLY)")
        try:
            yield
        finally:
            engine.connection.execute("DETACH given")
    except duckdb.Error as error:
        raise _told(path, str(error)) from error


def _copy(path: Path, target: Path, connection: Any, part: str, most: int | None) -> dict[str, str]:
    table, name = _chosen(path, connection, part)
    found = connection.sql(
        f"SELECT * FROM {table}" + (f" LIMIT {int(most)}" if most is not None else "")
    ).to_arrow_reader(_PIECE)
    check_header(found.schema.names, str(path))
    typed = Typed(found.schema)
    if not typed.write(target, found, PLACE):
        raise refusal(str(path), f"table {name} holds no row", Code.EMPTY, expected="one row for each case")
    return typed.left_out


def _chosen(path: Path, connection: Any, part: str) -> tuple[str, str]:
    """The one table to read: quoted for a query, and as it is named here (``schema.table`` beyond ``main``)."""
    known = _known(connection)
    if part and part not in known:
        raise refusal(str(path), "no such table", found=part, expected=", ".join(known) or "none")
    if not part and len(known) != 1:
        raise refusal(
            str(path), "the database does not hold exactly one table", found=", ".join(known) or "none",
            expected="one of them, named", next_step=f"write {path.name}#TABLE, or use --part",
        )  # fmt: skip
    chosen = part or next(iter(known))
    return ".".join(sql.identifier(each) for each in ("given", *known[chosen])), chosen


def _known(connection: Any) -> dict[str, tuple[str, str]]:
    """Tables and views as they are named here, with their schema and name."""
    rows = connection.execute(
        "SELECT schema_name, table_name FROM duckdb_tables() WHERE database_name = 'given' UNION ALL "
        "SELECT schema_name, view_name FROM duckdb_views() WHERE database_name = 'given' AND NOT internal "
        "ORDER BY 1, 2"
    ).fetchall()
    return {name if schema == "main" else f"{schema}.{name}": (schema, name) for schema, name in rows}


def _told(path: Path, text: str) -> TableError:
    message, step = "the database cannot be read; it is damaged", "restore it, or export the table as Parquet"
    if "set lock" in text or "conflicting lock" in text.lower():
        message, step = "another program holds the database open", "close it there, or copy the file"
    elif "version number" in text:
        message, step = (
            "the database was written by another version of DuckDB",
            "export the table as Parquet with the version that wrote it",
        )
    elif "No space left" in text:
        message, step = "the disk is full", "free some space"
    return refusal(str(path), message, Code.UNREADABLE, found=text, next_step=step)
