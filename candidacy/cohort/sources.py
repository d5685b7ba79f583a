"""Tables from outside, as Parquet that an engine can read: every other form is staged once, in a stream.

Text stays text here; what a cell means is decided later, by the mapping. Nothing is guessed but the delimiter
of a CSV file, and that only where the header leaves no doubt.
"""

import codecs
import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.cohort.embedded import EmbeddedEngine
from candidacy.errors import Code, Problem, TableError, shorten

if TYPE_CHECKING:
    import pandas as pd

_DELIMITERS = ",;\t|"
_CHUNK = 1 << 20
PLACE = "row number in the file"


@dataclass(frozen=True)
class Staged:
    """A table as Parquet.

    ``place`` names the column with row numbers (a header is row 1); it is empty where the engine counts, from 1.
    ``unreadable`` are rows that have not the number of cells of the header, as (row, text).
    """

    path: Path
    name: str
    place: str = ""
    unreadable: tuple[tuple[int, str], ...] = field(default=())


def _refuse(
    name: str,
    message: str,
    code: Code = Code.BAD_TABLE,
    found: str = "",
    expected: str = "",
    next_step: str = "",
) -> TableError:
    return TableError([Problem(code, message, name, found=found, expected=expected, next_step=next_step)])


def stage(
    table: "Path | str | pd.DataFrame",
    folder: Path,
    engine: EmbeddedEngine,
    part: str = "",
    delimiter: str = "",
    name: str = "patients",
) -> Staged:
    """Make a table readable.

    Parameters
    ----------
    table
        A CSV, Excel, Parquet or DuckDB file, a folder of Parquet files, or a pandas DataFrame.
    part
        Sheet of a workbook, or table of a database file.

    Raises
    ------
    TableError
        If it cannot be read, with what to do about it.
    """
    target = folder / f"{name}.raw.parquet"
    if not isinstance(table, str | Path):
        return _frame(table, target)
    path = Path(table)
    shown = str(path)
    if not path.exists():
        raise _refuse(shown, "there is no such file", Code.UNREADABLE, next_step="check the path")
    if path.is_dir():
        if not any(path.glob("*.parquet")):
            raise _refuse(shown, "a folder without Parquet files or case records", Code.UNREADABLE)
        return Staged(path, shown)
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            start = stream.read(16)
    except OSError as error:
        raise _refuse(shown, "cannot be read", Code.UNREADABLE, found=error.strerror or "") from error
    if size == 0:
        raise _refuse(shown, "the file is empty", Code.EMPTY)
    suffix = path.suffix.lower()
    if suffix in (".parquet", ".pq"):
        if start[:4] != b"PAR1":
            raise _refuse(shown, "not a Parquet file", Code.UNREADABLE)
        return Staged(path, shown)
    if suffix in (".xlsx", ".xlsm"):
        return _workbook(path, target, part)
    if suffix in (".duckdb", ".db", ".ddb"):
        return _database(path, target, engine, part)
    if suffix in (".csv", ".tsv", ".txt"):
        return _csv(path, target, delimiter or ("\t" if suffix == ".tsv" else ""))
    raise _refuse(
        shown,
        "not a kind of table that is read here",
        Code.UNREADABLE,
        found=suffix or "no suffix",
        expected=".csv, .tsv, .xlsx, .parquet, .duckdb, or a folder",
    )


# --- CSV


def _csv(path: Path, target: Path, delimiter: str) -> Staged:
    import pyarrow as pa
    import pyarrow.csv
    import pyarrow.parquet as pq

    header = _decode_all(path)
    delimiter = delimiter or _delimiter(header, str(path))
    columns = next(csv.reader([header], delimiter=delimiter))
    _check_header(columns, str(path))
    bad: list[tuple[int, str]] = []

    def refused(row: Any) -> str:
        bad.append((row.number if row.number is not None else -1, row.text))
        return "skip"

    read = pa.csv.ReadOptions(use_threads=False, column_names=columns, skip_rows=0, block_size=8 * _CHUNK)
    parse = pa.csv.ParseOptions(delimiter=delimiter, newlines_in_values=True, invalid_row_handler=refused)
    convert = pa.csv.ConvertOptions(
        column_types=dict.fromkeys(columns, pa.string()), strings_can_be_null=False, check_utf8=True
    )
    rows, last = 0, 1
    schema = pa.schema([(PLACE, pa.int64()), *((name, pa.string()) for name in columns)])
    try:
        with pq.ParquetWriter(target, schema) as writer:
            for batch in pa.csv.open_csv(path, read, parse, convert):
                found = pa.Table.from_batches([batch])
                if rows == 0:
                    found = found.slice(1)
                places, last = _places(last, found.num_rows, {number for number, _ in bad})
                rows += found.num_rows
                writer.write_table(found.add_column(0, PLACE, pa.array(places, pa.int64())).cast(schema))
    except pa.ArrowInvalid as error:
        raise _refuse(str(path), "not a CSV file of one shape", found=shorten(str(error), 160)) from error
    except OSError as error:
        raise _refuse(
            str(path),
            "cannot be read or staged",
            Code.UNREADABLE,
            found=error.strerror or shorten(str(error)),
        ) from error
    if rows == 0 and not bad:
        raise _refuse(str(path), "there is a header and no row", Code.EMPTY)
    return Staged(target, str(path), PLACE, tuple(bad))


def _places(last: int, count: int, refused: set[int]) -> tuple[list[int], int]:
    """Row numbers of the next readable rows; the header is row 1, and refused rows keep their number."""
    found = [n for n in range(last + 1, last + 1 + count + len(refused)) if n not in refused][:count]
    return found, found[-1] if found else last


def _decode_all(path: Path) -> str:
    """Check that the whole file is UTF-8 text, and give its first line."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    header, place, done = "", 0, False
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            try:
                text = decoder.decode(chunk)
            except UnicodeDecodeError as error:
                raise _refuse(
                    str(path),
                    "not UTF-8 text throughout",
                    Code.NOT_TEXT,
                    found=f"byte 0x{error.object[error.start]:02x} near byte {place + error.start}",
                    next_step="save the file as CSV UTF-8; files joined from several sources often mix encodings",
                ) from error
            if "\x00" in text:
                raise _refuse(str(path), "holds zero bytes, so it is no text file", Code.NOT_TEXT)
            if not done:
                header += text
                done = "\n" in header or "\r" in header
            place += len(chunk)
    try:
        decoder.decode(b"", final=True)
    except UnicodeDecodeError as error:
        raise _refuse(str(path), "ends in the middle of a character", Code.NOT_TEXT) from error
    return header.lstrip("\ufeff").splitlines()[0]


def _delimiter(header: str, name: str) -> str:
    counts = {sign: header.count(sign) for sign in _DELIMITERS}
    best = max(counts, key=lambda sign: counts[sign])
    if counts[best] == 0:
        raise _refuse(
            name,
            "the header is one single column",
            found=shorten(header),
            expected="columns parted by comma, semicolon, tab or |",
            next_step="name the delimiter with --delimiter",
        )
    if sorted(counts.values())[-2] * 2 > counts[best]:
        raise _refuse(
            name, "the delimiter is not clear", found=shorten(header), next_step="name it with --delimiter"
        )
    return best


def _check_header(columns: list[str], name: str) -> None:
    twice = sorted({column for column in columns if columns.count(column) > 1})
    if twice or any(not column.strip() for column in columns):
        raise _refuse(
            name,
            "two columns have the same name" if twice else "a column has no name",
            found=shorten(", ".join(twice)),
            expected="one name for each column",
        )


# --- workbooks, databases, DataFrames


def _workbook(path: Path, target: Path, part: str) -> Staged:
    try:
        import openpyxl
    except ImportError as error:
        raise _refuse(str(path), "reading workbooks needs openpyxl", Code.USAGE) from error
    try:
        book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    except Exception as error:  # the library raises many kinds for a damaged file
        raise _refuse(
            str(path), "not a workbook that can be read", Code.UNREADABLE, found=shorten(error)
        ) from error
    if part and part not in book.sheetnames:
        raise _refuse(str(path), "no such sheet", found=part, expected=", ".join(book.sheetnames))
    if not part and len(book.sheetnames) > 1:
        raise _refuse(
            str(path),
            "the workbook has several sheets",
            expected=", ".join(book.sheetnames),
            next_step="name one with --part",
        )
    rows = book[part or book.sheetnames[0]].iter_rows(values_only=True)
    header = [str(cell).strip() if cell is not None else "" for cell in next(rows, ())]
    while header and not header[-1]:
        header.pop()
    if not header:
        raise _refuse(str(path), "the sheet is empty", Code.EMPTY)
    _check_header(header, str(path))
    count = _write_text(target, header, _sheet_rows(rows, len(header)))
    book.close()
    if not count:
        raise _refuse(str(path), "there is a header and no row", Code.EMPTY)
    return Staged(target, str(path), PLACE)


def _sheet_rows(rows: Iterator[tuple[Any, ...]], width: int) -> Iterator[list[str | None]]:
    from candidacy.cohort.cells import _text

    for row in rows:
        cells = [None if cell is None else _text(cell) for cell in (*row, *(None,) * width)[:width]]
        yield cells


def _write_text(target: Path, header: list[str], rows: Iterator[list[str | None]]) -> int:
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema([(PLACE, pa.int64()), *((name, pa.string()) for name in header)])
    written = 0
    batch: list[tuple[int, list[str | None]]] = []

    def flush(writer: Any) -> None:
        columns: list[Any] = [pa.array([number for number, _ in batch], pa.int64())]
        columns += [pa.array([row[place] for _, row in batch], pa.string()) for place in range(len(header))]
        writer.write_table(pa.Table.from_arrays(columns, schema=schema))
        batch.clear()

    with pq.ParquetWriter(target, schema) as writer:
        for number, row in enumerate(rows):
            if any(cell not in (None, "") for cell in row):
                batch.append((number + 2, row))
                written += 1
            if len(batch) == 50_000:
                flush(writer)
        if batch:
            flush(writer)
    return written


def _database(path: Path, target: Path, engine: EmbeddedEngine, part: str) -> Staged:
    quoted = str(path).replace("'", "''")
    engine.execute(f"ATTACH '{quoted}' AS given (READ_ONLY)")
    try:
        tables = [
            row[0]
            for row in engine.rows(
                "SELECT table_name FROM duckdb_tables() WHERE database_name = 'given' ORDER BY table_name"
            )
        ]
        if part and part not in tables:
            raise _refuse(str(path), "no such table", found=part, expected=", ".join(tables) or "none")
        if not part and len(tables) != 1:
            raise _refuse(
                str(path),
                "the database does not hold exactly one table",
                expected=", ".join(tables) or "one table",
                next_step="name one with --part",
            )
        table = engine.dialect.identifier(part or tables[0])
        engine.write(f'SELECT rowid + 1 AS "{PLACE}", * FROM given.{table}', target)
    finally:
        engine.execute("DETACH given")
    return Staged(target, str(path), PLACE)


def _frame(table: Any, target: Path) -> Staged:
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        content = pa.Table.from_pandas(table, preserve_index=False)
    except (pa.ArrowInvalid, pa.ArrowTypeError, TypeError) as error:
        raise _refuse(
            "DataFrame", "a column mixes kinds of values", found=shorten(str(error), 160)
        ) from error
    if content.num_rows == 0:
        raise _refuse("DataFrame", "there is no row", Code.EMPTY)
    _check_header([str(name) for name in content.column_names], "DataFrame")
    pq.write_table(content, target)
    return Staged(target, "DataFrame")
