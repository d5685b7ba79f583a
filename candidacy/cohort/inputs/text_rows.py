"""Rows of text written to Parquet in pieces, each with its number."""

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.headers import PLACE

_PIECE = 20_000


def write_rows(target: Path, header: list[str], rows: Iterator[tuple[int, list[str | None]]]) -> int:
    """Write numbered rows; those without any text are left out. Gives how many were written."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema([(PLACE, pa.int64()), *((name, pa.string()) for name in header)])
    says = ((number, row) for number, row in rows if any(cell not in (None, "") for cell in row))
    written = 0
    with pq.ParquetWriter(target, schema) as writer:
        while piece := list(islice(says, _PIECE)):
            columns: list[Any] = [pa.array([number for number, _ in piece], pa.int64())]
            columns += [
                pa.array([row[place] for _, row in piece], pa.string()) for place in range(len(header))
            ]
            writer.write_table(pa.Table.from_arrays(columns, schema=schema))
            written += len(piece)
    return written
