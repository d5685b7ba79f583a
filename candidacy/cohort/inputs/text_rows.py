"""Rows of text written to Parquet in pieces, each with its number."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.headers import PLACE

_PIECE = 20_000


def write_rows(target: Path, header: list[str], rows: Iterator[tuple[int, list[str | None]]]) -> int:
    """Write numbered rows; those without any text are left out. Gives how many were written."""

    def pieces() -> Iterator[tuple[list[int], list[list[str | None]]]]:
        while piece := list(islice(rows, _PIECE)):
            yield (
                [number for number, _ in piece],
                [[row[place] for _, row in piece] for place in range(len(header))],
            )

    return write_columns(target, header, pieces())


def write_columns(
    target: Path, header: list[str], pieces: Iterable[tuple[list[int], Sequence[Sequence[str | None]]]]
) -> int:
    """The same from pieces that hold the numbers of their rows and the cells of each column."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema([(PLACE, pa.int64()), *((name, pa.string()) for name in header)])
    written = 0
    with pq.ParquetWriter(target, schema) as writer:
        for numbers, columns in pieces:
            arrays: list[Any] = [pa.array(numbers, pa.int64())]
            arrays += [pa.array(column, pa.string()) for column in columns]
            table = without_blank_rows(pa.Table.from_arrays(arrays, schema=schema))
            writer.write_table(table)
            written += table.num_rows
    return written


def without_blank_rows(found: Any) -> Any:
    """Rows that say something in any column but the first, which numbers them."""
    import pyarrow.compute as pc

    says = _says(pc, found.column(1))
    for column in found.columns[2:]:
        if pc.all(says).as_py() is not False:
            return found
        says = pc.or_(says, _says(pc, column))
    return found.filter(says)


def _says(pc: Any, column: Any) -> Any:
    return pc.fill_null(pc.not_equal(column, ""), False)
