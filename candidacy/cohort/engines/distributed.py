"""The distributed engine: Apache Spark, local or on a cluster as its configuration says."""

import os
import sys
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.cohort.engines.sqltext import SPARK
from candidacy.cohort.translate import Translation, query, translated
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten

if TYPE_CHECKING:
    import pyarrow as pa


class SparkEngine:
    """Spark SQL over a session.

    Parameters
    ----------
    folder
        For working data; on a cluster a place that every worker reaches. The caller removes it.
    session
        A session of yours, say of a cluster; a local one on the loopback address is made otherwise.

    Raises
    ------
    InputError
        E601 where pyspark or Java is missing.
    """

    name = "spark"
    dialect = SPARK

    def __init__(self, folder: Path, session: Any = None) -> None:
        self._folder = folder
        try:
            from pyspark.sql import SparkSession
        except ImportError as error:
            raise InputError(
                [_missing("pyspark is not installed", "pip install 'candidacy[spark]'")]
            ) from error
        if session is None:
            # workers on this machine need our packages; a cluster has an interpreter of its own
            os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
            os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
            # it warns of recent pandas, which is not used on the way
            warnings.filterwarnings("ignore", "PySpark does not yet fully support pandas", FutureWarning)
            builder = SparkSession.builder.master("local[*]").appName("candidacy")
            for key, value in _LOCAL.items():
                builder = builder.config(key, value)
            try:
                # names of relations are a session's: each cohort has one of its own
                session = builder.getOrCreate().newSession()
            except Exception as error:
                raise InputError(
                    [_missing("Spark could not be started", "install Java 17 or later", shorten(error, 160))]
                ) from error
            for key, value in _LOCAL.items():
                if key.startswith("spark.sql."):
                    session.conf.set(key, value)
        self._session = session
        self._session.conf.set("spark.sql.session.timeZone", "UTC")
        self._views: set[str] = set()

    @property
    def version(self) -> str:
        """Program and version."""
        return f"Apache Spark {self._session.version}"

    def open_parquet(self, name: str, path: Path, place: str = "", file: str = "") -> dict[str, str]:
        # signs that stand for many names stand for themselves
        exact = "".join("\\" + sign if sign in "*?[]{}\\" else sign for sign in str(path))
        frame = self._run(lambda: self._session.read.parquet(exact))
        quote = self.dialect.identifier
        added = [f"_metadata.row_index + 1 AS {quote(place)}"] if place else []
        # the name comes as a part of an address, with blanks and brackets as their numbers
        plain = "url_decode(replace(_metadata.file_name, '+', '%2B'))"
        added += [f"{plain} AS {quote(file)}"] if file else []
        if added:
            frame = frame.selectExpr("*", *added)
        self._name(name, frame)
        return {field.name: _kind(field.dataType.simpleString()) for field in frame.schema.fields}

    def view(self, name: str, query: str) -> None:
        self._name(name, self._run(lambda: self._session.sql(query)))

    def table(self, name: str, content: "pa.Table") -> None:
        self._name(name, self._run(lambda: self._session.createDataFrame(content)))

    def hold(self, name: str, query: str) -> Path:
        path = self._folder / f"{name}.parquet"
        self._run(lambda: self._session.sql(query).write.mode("overwrite").parquet(str(path)))
        self.open_parquet(name, path)
        return path

    def translate(self, name: str, relation: str, translations: Sequence[Translation]) -> None:
        from pyspark.sql.pandas.types import from_arrow_schema, to_arrow_schema

        frame = self._run(lambda: self._session.sql(query(relation, translations)))
        empty = to_arrow_schema(frame.schema).empty_table().to_batches() or [
            _empty_batch(to_arrow_schema(frame.schema))
        ]
        schema = next(translated(iter(empty), translations)).schema
        made = frame.mapInArrow(lambda batches: translated(batches, translations), from_arrow_schema(schema))
        path = self._folder / f"{name}.parquet"
        self._run(lambda: made.write.mode("overwrite").parquet(str(path)))
        self.open_parquet(name, path)

    def columns(self, query: str) -> list[str]:
        found: list[str] = self._run(lambda: self._session.sql(query).columns)
        return found

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        found = self.arrow(query)
        return list(zip(*(column.to_pylist() for column in found.columns), strict=True))

    def arrow(self, query: str) -> "pa.Table":
        found: pa.Table = self._run(lambda: self._session.sql(query).toArrow())
        return found

    def write(self, query: str, path: Path) -> None:
        self._run(lambda: self._session.sql(query).write.parquet(str(path)))

    def close(self) -> None:
        """Forget the temporary views; Spark itself goes on for the next cohort, and ends with Python."""
        for name in self._views:
            self._session.catalog.dropTempView(name)
        self._views.clear()

    def _name(self, name: str, frame: Any) -> None:
        frame.createOrReplaceTempView(name)
        self._views.add(name)

    def _run(self, work: Callable[[], Any]) -> Any:
        from py4j.protocol import Py4JError  # type: ignore[import-untyped]
        from pyspark.errors import PySparkException

        try:
            return work()
        except (PySparkException, Py4JError) as error:
            text = str(error)
            full = "No space left" in text
            raise TableError(
                [
                    Problem(
                        Code.BAD_TABLE,
                        "the disk is full" if full else "the distributed engine could not run it",
                        found=shorten(text, 300),
                        next_step="free some space"
                        if full
                        else "check that the files are whole, or use --engine embedded",
                    )
                ]
            ) from error


_LOCAL = {
    "spark.ui.enabled": "false",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.driver.host": "127.0.0.1",
    "spark.sql.shuffle.partitions": "4",
    # lookups are small beside the cases; sorting every case for each of them spills without end
    "spark.sql.autoBroadcastJoinThreshold": "256MB",
    "spark.sql.execution.arrow.pyspark.enabled": "true",
    "spark.driver.memory": "3g",
    "spark.sql.ansi.enabled": "true",
    # Compiling expressions of this length takes longer than interpreting them, and each layer is worked out once.
    "spark.sql.codegen.wholeStage": "false",
    "spark.sql.codegen.factoryMode": "NO_CODEGEN",
    "spark.sql.optimizer.excludedRules": "org.apache.spark.sql.catalyst.optimizer.CollapseProject",
    "spark.log.level": "ERROR",
    "spark.ui.showConsoleProgress": "false",
}


def _empty_batch(schema: Any) -> Any:
    import pyarrow as pa

    return pa.RecordBatch.from_arrays([pa.array([], field.type) for field in schema], schema=schema)


def _missing(message: str, step: str, found: str = "") -> Problem:
    return Problem(Code.USAGE, message, "the distributed engine", found=found, next_step=step)


def _kind(given: str) -> str:
    if given in ("double", "float") or given.startswith("decimal"):
        return "number"
    if given in ("tinyint", "smallint", "int", "bigint"):
        return "integer"
    if given == "string":
        return "text"
    if given == "boolean":
        return "boolean"
    return "date" if given == "date" or given.startswith("timestamp") else "other"
