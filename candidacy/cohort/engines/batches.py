"""Answers of any size, a batch at a time, and Parquet files written likewise: memory stays flat."""

from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from candidacy.cohort.engines.engine import Engine

_ROWS = 20_000


class ParquetFile:
    """A Parquet file written batch by batch.

    Attributes
    ----------
    rows
        Rows written so far.
    """

    def __init__(self, path: Path) -> None:
        self._path, self.rows = path, 0
        self._writer: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._writer is not None:
            self._writer.close()

    def write(self, batch: Any) -> None:
        """Append a record batch; the first one decides the schema."""
        import pyarrow.parquet as pq

        if self._writer is None:
            self._writer = pq.ParquetWriter(self._path, batch.schema)
        self._writer.write_batch(batch)
        self.rows += batch.num_rows


def batches(engine: Engine, query: str, path: Path) -> Iterator[Any]:
    """Record batches of an answer in its order. It is worked out into ``path`` first, which is removed."""
    import shutil

    import pyarrow.parquet as pq

    engine.write(query, path)
    try:
        for file in sorted(path.glob("*.parquet")) if path.is_dir() else [path]:
            with pq.ParquetFile(file) as opened:
                yield from opened.iter_batches(_ROWS)
    finally:
        shutil.rmtree(path) if path.is_dir() else path.unlink()


def rows(engine: Engine, query: str, path: Path) -> Iterator[dict[str, Any]]:
    """Rows of an answer of any size as dictionaries; see `batches`."""
    for batch in batches(engine, query, path):
        yield from plain_rows(batch)


def plain_rows(content: Any) -> list[dict[str, Any]]:
    """Rows of a batch or table; days that Python has not (before year 1, after 9999) as their text."""
    import pyarrow as pa
    import pyarrow.types as t

    try:
        found: list[dict[str, Any]] = content.to_pylist()
    except (ValueError, OverflowError):
        names = content.schema.names
        columns = [
            column.cast(pa.string()) if t.is_temporal(column.type) else column for column in content.columns
        ]
        found = type(content).from_arrays(columns, names=names).to_pylist()
    return found
