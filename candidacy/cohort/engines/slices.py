"""What a worker does: it runs a query over one slice of a relation, by DuckDB, in a database of its own.

This module is sent to the workers by value and imports nothing of this package: they need Python, DuckDB and pyarrow alone.
A slice is read from a Parquet file and its answer written to one, so that no type passes through a third system; DuckDB
streams both, and what it holds is bounded by the limit it is given.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

_BATCH = 100_000  # rows of a record batch, where they are changed on the way


@dataclass(frozen=True)
class Work:
    """A query over a relation in slices.

    Attributes
    ----------
    duckdb
        Version that the workers must have, so that each slice is read by the same engine.
    config, setup
        Of each worker's database.
    lead, slices
        Name of the relation whose rows are read one by one, and SQL of each of its slices.
    relations
        SQL of whatever else the query reads, by name, in the order in which it is built.
    query
        What each slice is asked.
    target
        Folder for a file of each slice's answer; empty where the answer is one row of whole numbers.
    change
        Applied to the record batches of the answer on their way to the file.
    """

    duckdb: str
    config: dict[str, Any]
    setup: tuple[str, ...]
    lead: str
    slices: tuple[str, ...]
    relations: tuple[tuple[str, str], ...]
    query: str
    target: str = ""
    change: Callable[[Iterator[Any]], Iterator[Any]] | None = None

    def run(self, batches: Iterator[Any]) -> Iterator[Any]:
        """For `mapInArrow`: the slices whose numbers stand in the batches, each answered by `answer` as JSON."""
        import pyarrow as pa

        for batch in batches:
            told = [json.dumps(self.answer(int(number))) for number in batch.column(0).to_pylist()]
            yield pa.RecordBatch.from_arrays([batch.column(0), pa.array(told, pa.string())], ["id", "told"])

    def answer(self, number: int) -> dict[str, Any]:
        """The ``numbers`` of a slice, empty where a file is written; or what went wrong, its ``kind`` and ``text``."""
        import os
        import tempfile

        try:
            import duckdb
            import pyarrow  # noqa: F401
        except ImportError as error:
            return {"kind": "missing", "text": str(error)}
        if duckdb.__version__ != self.duckdb:
            return {"kind": "version", "text": duckdb.__version__}
        try:
            with tempfile.TemporaryDirectory(prefix="candidacy-slice-") as scratch:
                spill = {"temp_directory": os.path.join(scratch, "spill")}
                with duckdb.connect(config={**self.config, **spill}) as connection:
                    return {"numbers": self._answered(connection, number)}
        except duckdb.Error as error:
            return {"kind": type(error).__name__, "text": str(error)}
        except OSError as error:
            return {"kind": "OSError", "text": str(error)}

    def _answered(self, connection: Any, number: int) -> list[int]:
        import os
        import uuid

        for statement in self.setup:
            connection.execute(statement)
        for name, query in ((self.lead, self.slices[number]), *self.relations):
            connection.execute(f"CREATE TEMP VIEW {name} AS {query}")
        if not self.target:
            return [int(each) for each in connection.execute(self.query).fetchone()]
        # a slice may be read twice, also at once: each writes a file of its own, and either may stay
        path = os.path.join(self.target, f"slice-{number:06}.parquet")
        made = f"{path}.{uuid.uuid4().hex}"
        if self.change is None:
            quoted = made.replace("'", "''")
            connection.execute(f"COPY ({self.query}) TO '{quoted}' (FORMAT parquet)")
        else:
            self._stream(connection, made)
        os.replace(made, path)
        return []

    def _stream(self, connection: Any, path: str) -> None:
        import pyarrow.parquet as pq

        assert self.change is not None
        batches = self.change(_or_none(connection.sql(self.query).to_arrow_reader(_BATCH)))
        first = next(batches)
        with pq.ParquetWriter(path, first.schema) as writer:
            writer.write_batch(first)
            for batch in batches:
                writer.write_batch(batch)


def _or_none(reader: Any) -> Iterator[Any]:
    """The record batches of an answer, and one without rows where there are none."""
    import pyarrow as pa

    none = True
    for batch in reader:
        none = False
        yield batch
    if none:
        yield pa.RecordBatch.from_pylist([], schema=reader.schema)


def look(marker: str) -> str:
    """What a worker has, as JSON: its interpreter, versions by package or why it cannot be imported, whether it sees a file."""
    import importlib
    import os
    import sys

    found: dict[str, Any] = {"interpreter": sys.executable, "sees": os.path.isfile(marker)}
    for name in ("duckdb", "pyarrow"):
        try:
            found[name] = importlib.import_module(name).__version__
        except Exception as error:  # a package may be broken in ways of its own
            found[name], found["why"] = "", f"{name}: {error}"
    return json.dumps(found)
