"""Tables from outside, as Parquet that an engine can read: every other form is staged once, in a stream.

Text stays text here; what a cell means is decided later, by the mapping. Nothing is guessed but the delimiter
of a CSV file, and that only where the header leaves no doubt.
"""

import errno
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.column_kinds import Typed
from candidacy.cohort.inputs.csv_files import stage_csv
from candidacy.cohort.inputs.csv_text import beginning
from candidacy.cohort.inputs.databases import stage_database
from candidacy.cohort.inputs.headers import FILE, OWN, PLACE, check_header, refusal
from candidacy.cohort.inputs.parquet_files import parquet_files, stage_parquet
from candidacy.cohort.inputs.unreadable import Unreadable
from candidacy.cohort.inputs.workbooks import stage_sheet
from candidacy.foundation.errors import Code, TableError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["FILE", "OWN", "PLACE", "Source", "Staged", "find", "stage"]

_PARQUET = (".parquet", ".pq")
_CSV = (".csv", ".tsv", ".txt")
_WORKBOOK = (".xlsx", ".xlsm")
_DATABASE = (".duckdb", ".db", ".ddb")


class Source(Struct, frozen=True):
    """A table argument: the file or folder, and the sheet or table named behind ``#``."""

    path: Path
    part: str = ""


class Staged(Struct, frozen=True):
    """A table as Parquet.

    Attributes
    ----------
    place
        The column with row numbers (a header is row 1); empty where the engine counts, from 1.
    folder
        The table is a folder of files, so a row is named by its file too.
    unreadable
        Rows that have no columns to stand in.
    left_out
        Columns of a type that is not read, with that type.
    delimiter
        Of a CSV file.
    header_row, said
        The row with the names of the columns, in a text table or sheet; what to say of it.
    given
        The file or folder it was read from; ``None`` for a DataFrame.
    cut
        More of a text table is left than the rows that were asked for.
    """

    path: Path
    name: str
    unreadable: Unreadable
    place: str = ""
    folder: bool = False
    left_out: dict[str, str] = field(default_factory=dict)
    given: Path | None = None
    delimiter: str = ""
    header_row: int = 1
    said: tuple[str, ...] = ()
    cut: bool = False


def find(table: Path | str) -> Source:
    """A table argument as a file and, behind the last ``#`` that leaves an existing file, its part.

    A file whose own name contains ``#`` is that file.

    Raises
    ------
    TableError
        E101 if there is no such file, or its folder may not be looked into.
    """
    text = str(table)
    try:
        if Path(text).exists():
            return Source(Path(text))
        for place in sorted((n for n, sign in enumerate(text) if sign == "#"), reverse=True):
            if Path(text[:place]).is_file():
                return Source(Path(text[:place]), text[place + 1 :])
    except (OSError, ValueError) as error:
        found = getattr(error, "strerror", None) or "not a path"
        raise refusal(
            text, "cannot be read", Code.UNREADABLE, found=found, next_step="check the path"
        ) from error
    raise refusal(
        text, "there is no such file", Code.UNREADABLE, expected="a file, a folder, or FILE#SHEET",
        next_step="check the path",
    )  # fmt: skip


def stage(
    table: "Path | str | pd.DataFrame",
    folder: Path,
    engine: EmbeddedEngine,
    part: str = "",
    delimiter: str = "",
    name: str = "patients",
    header_row: int = 1,
    most: int | None = None,
) -> Staged:
    """Make a table readable.

    Parameters
    ----------
    table
        A CSV, Excel, Parquet or DuckDB file, a folder of Parquet files, or a pandas DataFrame; behind ``#`` the
        sheet of a workbook or the table of a database.
    part
        The same sheet or table, named apart.
    delimiter
        Counts for a CSV file whose header contains it.
    name
        What to call the table among the working files.
    header_row
        The row with the names of the columns in a text table or sheet, or `FIND`.
    most
        The most rows of a text table, sheet or database that are read; all without it.

    Raises
    ------
    TableError
        If it cannot be read, with what to do about it.
    """
    target = folder / f"{name}.raw.parquet"
    unreadable = Unreadable(folder / f"{name}.unreadable.csv", "DataFrame")
    if not isinstance(table, str | Path):
        return Staged(target, "DataFrame", unreadable, left_out=_frame(table, target))
    source = find(table)
    if part and source.part and part != source.part:
        raise refusal(
            str(table), "two parts of the file are named", Code.USAGE, found=f"{source.part}, {part}",
            expected="one, behind # or with --part",
        )  # fmt: skip
    try:
        return _stage(
            source.path, target, engine, source.part or part, delimiter, folder, name, header_row, most
        )
    except OSError as error:
        raise _told(error, source.path) from error


def _told(error: OSError, path: Path) -> TableError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return refusal(
            str(path), "the disk is full, so the table could not be staged", found=error.strerror,
            next_step="free some space in the folder for temporary files; nothing was left half-written",
        )  # fmt: skip
    return refusal(
        str(path), "cannot be read", Code.UNREADABLE, found=error.strerror or error,
        next_step="check that the file is still there and that you may read it",
    )  # fmt: skip


def _stage(
    path: Path, target: Path, engine: EmbeddedEngine, part: str, delimiter: str, folder: Path, name: str,
    header_row: int, most: int | None,
) -> Staged:  # fmt: skip
    shown = f"{path}#{part}" if part else str(path)
    unreadable = Unreadable(folder / f"{name}.unreadable.csv", shown)
    suffix = path.suffix.lower()
    if path.is_dir():
        if not parquet_files(path):
            raise refusal(
                shown, "a folder without Parquet files or case records", Code.UNREADABLE,
                expected="files ending in .parquet, or in .yaml or .json",
            )  # fmt: skip
    else:
        _check_file(path, suffix)
    if part and suffix not in (*_WORKBOOK, *_DATABASE):
        raise refusal(
            shown, "only a workbook or a database has parts", Code.USAGE, found=part,
            next_step="leave out --part or what stands behind #",
        )  # fmt: skip
    if path.is_dir() or suffix in _PARQUET:
        where, numbered, left_out = stage_parquet(path, target)
        return Staged(where, shown, unreadable, PLACE if numbered else "", path.is_dir(), left_out, path)
    left_out, sign = {}, ""
    said: list[str] = []
    cut = False
    if suffix in _WORKBOOK:
        header_row, said = stage_sheet(path, target, part, unreadable, header_row, most)
    elif suffix in _DATABASE:
        left_out = stage_database(path, target, engine, part, most)
    else:
        start = target.with_suffix(".beginning.csv")
        cut = most is not None and beginning(path, most, start)
        sign, header_row, said = stage_csv(
            start if most is not None else path,
            target,
            delimiter or ("\t" if suffix == ".tsv" else ""),
            unreadable,
            header_row,
        )
    return Staged(
        target, shown, unreadable, PLACE, False, left_out, path, sign, header_row or 1, tuple(said), cut
    )


def _check_file(path: Path, suffix: str) -> None:
    """Refuse what is no ordinary file with a known ending and some content."""
    if suffix not in (*_PARQUET, *_CSV, *_WORKBOOK, *_DATABASE):
        raise refusal(
            str(path), "not a kind of table that is read here", Code.UNREADABLE, found=suffix or "no suffix",
            expected=".csv, .tsv, .txt, .xlsx, .parquet, .duckdb, or a folder",
            next_step="export the table as CSV UTF-8",
        )  # fmt: skip
    if not stat.S_ISREG(path.stat().st_mode):
        raise refusal(str(path), "not an ordinary file", Code.UNREADABLE, expected="a file on disk")
    with path.open("rb") as stream:
        if not stream.read(1):
            raise refusal(str(path), "the file is empty", Code.EMPTY, expected="a header and rows")


def _frame(table: Any, target: Path) -> dict[str, str]:
    """Stage a DataFrame; gives the columns left out, by type."""
    import pyarrow as pa

    columns = list(getattr(table, "columns", ()))
    odd = [column for column in columns if not isinstance(column, str)]
    if odd or not hasattr(table, "iloc"):
        raise refusal(
            "DataFrame", "the columns have not all a name of text" if odd else "not a table",
            found=odd[0] if odd else type(table).__name__, expected="a pandas DataFrame with named columns",
        )  # fmt: skip
    check_header(columns, "DataFrame")
    if len(table) == 0:
        raise refusal("DataFrame", "there is no row", Code.EMPTY, expected="one row for each case")
    try:
        content = pa.Table.from_pandas(table, preserve_index=False)
    except (pa.ArrowException, TypeError, ValueError, OverflowError) as error:
        raise refusal(
            "DataFrame", "a column mixes kinds of values, or holds what no table can", found=error,
            expected="one kind of value in each column", next_step="convert the column to text",
        ) from error  # fmt: skip
    typed = Typed(content.schema)
    typed.write(target, content.to_batches(max_chunksize=100_000))
    return typed.left_out
