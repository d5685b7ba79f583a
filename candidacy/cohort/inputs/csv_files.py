"""A CSV file as Parquet, in a stream; rows that cannot be parted into the columns are noted and skipped."""

from collections import deque
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.csv_text import (
    first_rows,
    header_of,
    read_through,
    records,
    well_quoted,
    without_rows,
)
from candidacy.cohort.inputs.header_rows import FIND, header_row_of
from candidacy.cohort.inputs.headers import PLACE, check_header, refusal
from candidacy.cohort.inputs.text_rows import without_blank_rows, write_rows
from candidacy.cohort.inputs.unreadable import MANY_CELLS, Unreadable
from candidacy.foundation.errors import Code

_BLOCK = 8 << 20
_BAD_QUOTE = "a quotation mark stands inside a cell and is not written twice"


def stage_csv(
    path: Path, target: Path, delimiter: str, unreadable: Unreadable, header_row: int = 1
) -> tuple[str, int, list[str]]:
    """Write the rows of a CSV file to ``target`` with their numbers.

    ``header_row`` is the row with the names of the columns, or `FIND`. Gives the delimiter, that row, and what to
    say of it.

    Raises
    ------
    TableError
        E103 where it is not UTF-8 text, E109 where it holds no row, E501 where it has not one clear shape.
    """
    text = read_through(path)
    given, skipped = path, 0
    said: list[str] = []
    if header_row != 1:
        rows, lines = first_rows(text, delimiter)
        header_row, said = header_row_of(rows) if header_row == FIND else (header_row, [])
        skipped = header_row - 1
        if skipped >= len(rows):
            raise refusal(str(path), "the table has no such row", found=f"header_row: {header_row}",
                          expected=f"a row among the first {len(rows)}")  # fmt: skip
        if skipped:
            path = without_rows(path, lines[skipped - 1], target.with_suffix(".below.csv"))
            text = read_through(path)
    columns, sign = header_of(text, delimiter, str(path))
    check_header(columns, str(path))
    if text.quotes and not well_quoted(path, sign):
        written = write_rows(target, columns, _careful(path, sign, len(columns), unreadable, skipped))
    else:
        written = _quick(path, target, columns, sign, unreadable, skipped)
    if written:
        return sign, skipped + 1, said
    path = given
    if unreadable.count:
        raise refusal(
            str(path), f"no row can be read: {unreadable.problems[0].message}", found=text.start.splitlines()[0],
            line=unreadable.problems[0].line, expected="one cell in each row" if len(columns) == 1 else f"{len(columns)} cells in each row, parted by {sign!r}",
            next_step="check the delimiter of the rows, or name it with --delimiter; where a title stands above the names of the "
            "columns, say header_row in the mapping",
        )  # fmt: skip
    raise refusal(
        str(path), "there is a header and no row", Code.EMPTY, line=1, expected="one row for each case"
    )


def _careful(
    path: Path, sign: str, width: int, unreadable: Unreadable, skipped: int
) -> Iterator[tuple[int, list[str | None]]]:
    """Rows of a file in which some quotation marks are wrong: those rows are noted, the others read."""
    for number, cells, text in records(path, sign):
        if number == 1 or cells == []:
            continue
        if cells is None or len(cells) != width:
            unreadable.add(number + skipped, _BAD_QUOTE if cells is None else MANY_CELLS, text)
        else:
            yield number + skipped, list(cells)


def _quick(
    path: Path, target: Path, columns: list[str], sign: str, unreadable: Unreadable, skipped: int
) -> int:
    import pyarrow as pa
    import pyarrow.csv
    import pyarrow.parquet as pq

    refused: deque[int] = deque()

    def note(row: Any) -> str:
        refused.append(row.number)
        unreadable.add(row.number + skipped, MANY_CELLS, row.text)
        return "skip"

    read = pa.csv.ReadOptions(use_threads=False, column_names=columns, block_size=_BLOCK)
    parse = pa.csv.ParseOptions(
        delimiter=sign, newlines_in_values=True, invalid_row_handler=note, ignore_empty_lines=False
    )
    convert = pa.csv.ConvertOptions(
        column_types=dict.fromkeys(columns, pa.string()), strings_can_be_null=False, check_utf8=True
    )
    schema = pa.schema([(PLACE, pa.int64()), *((name, pa.string()) for name in columns)])
    written, last = 0, 0
    try:
        with pq.ParquetWriter(target, schema) as writer:
            for batch in pa.csv.open_csv(path, read, parse, convert):
                places, after = _places(last, batch.num_rows, refused)
                found = pa.Table.from_batches([batch]).add_column(
                    0,
                    PLACE,
                    pa.array([place + skipped for place in places] if skipped else places, pa.int64()),
                )
                found = found.cast(schema).slice(0 if last else 1)
                last = after
                found = without_blank_rows(found)
                written += found.num_rows
                writer.write_table(found)
    except pa.ArrowInvalid as error:
        raise refusal(str(path), "not a CSV file of one shape", found=error) from error
    return written


def _places(last: int, count: int, refused: deque[int]) -> tuple[list[int], int]:
    """Numbers of the next readable rows; refused rows keep theirs."""
    if not refused:
        return list(range(last + 1, last + 1 + count)), last + count
    found: list[int] = []
    while len(found) < count:
        last += 1
        if refused and refused[0] == last:
            refused.popleft()
        else:
            found.append(last)
    return found, last
