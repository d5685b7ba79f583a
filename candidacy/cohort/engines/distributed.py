"""The distributed engine: Apache Spark hands out slices of the cases, and DuckDB reads each as it reads a whole table.

Only queries that go row by row over the cases are handed out, and sums over them; what looks at several rows at once is
asked of the same files by the embedded engine of the program that drives.
"""

import json
import os
import shutil
import sys
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from candidacy.cohort import translate
from candidacy.cohort.engines import slices
from candidacy.cohort.engines.embedded import (
    SETUP,
    EmbeddedEngine,
    configured,
    counting,
    module,
    parquet_query,
    pattern,
    told,
)
from candidacy.cohort.engines.row_by_row import Shape, leaf, needed
from candidacy.cohort.engines.slices import Work, look
from candidacy.cohort.translate import Translation, query, translated
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten

if TYPE_CHECKING:
    import pyarrow as pa

_LEAST_ROWS, _MOST_ROWS = 5_000, 1_000_000  # of a slice: fewer are not worth a plan of their own
_PYARROW = 18  # as pyproject.toml asks for


class SparkEngine(EmbeddedEngine):
    """DuckDB on the workers of a Spark session.

    Parameters
    ----------
    folder
        For working data; on a cluster a place that every worker reaches. The caller removes it.
    session
        A session of yours, say of a cluster; a local one on the loopback address is made otherwise. Its workers need
        duckdb in the version of this program, and pyarrow.
    memory
        Most memory to hold before spilling: of each worker at a time, and of the program that hands them out.
    rows
        Most rows of a slice.

    Raises
    ------
    InputError
        E601 where pyspark or Java is missing, or workers have not what they need.
    """

    name = "spark"
    at_hand = 0

    def __init__(
        self, folder: Path, session: Any = None, memory: str = "2GB", rows: int = _MOST_ROWS
    ) -> None:
        made = folder / "distributed"
        made.mkdir(exist_ok=True)
        super().__init__(made, memory)
        self._session = session or _local_session()
        self._memory, self._most = memory, rows
        self._files: dict[str, _Files] = {}
        self._views: dict[str, str] = {}
        self._shapes: dict[str, Shape] = {}
        self._tasks = _tasks(self._session)
        _send_by_value()
        self._check_workers()

    @property
    def version(self) -> str:
        """Programs and versions."""
        return f"Apache Spark {self._session.version}, {super().version}"

    def another(self, folder: Path) -> "SparkEngine":
        return SparkEngine(folder, self._session, self._memory, self._most)

    # --- relations: the database of this program has them all; what workers need to have them too is noted

    def open_parquet(self, name: str, path: Path, place: str = "", file: str = "") -> dict[str, str]:
        found = super().open_parquet(name, path, place, file)
        self._note(name, _Files(pattern(path), place, file))
        return found

    def view(self, name: str, query: str) -> None:
        super().view(name, query)
        self._note(name)
        self._views[name], self._shapes[name] = query, self._shape(query)

    def table(self, name: str, content: "pa.Table") -> None:
        super().table(name, content)
        path = self._folder / f"{name}.table.parquet"
        super().write(f"SELECT * FROM {name}", path)
        self._note(name, _Files(pattern(path)))

    def _note(self, name: str, files: "_Files | None" = None) -> None:
        for known in (self._files, self._views, self._shapes):
            known.pop(name, None)
        if files is not None:
            self._files[name] = files

    # --- what is handed out

    def write(self, query: str, path: Path) -> None:
        work, made = self._work(query), path.with_name(f"{path.name}.made")
        if work is None:
            super().write(query, made)
        else:
            self._hand_out(work, made)
        _take_place(made, path)

    def translate(self, name: str, relation: str, translations: Sequence[Translation]) -> None:
        work = self._work(query(relation, translations))
        if work is None:
            super().translate(name, relation, translations)
            return
        path = self._folder / f"{name}.parquet"
        made = path.with_name(f"{path.name}.made")
        self._hand_out(replace(work, change=partial(translated, translations=tuple(translations))), made)
        _take_place(made, path)
        self.open_parquet(name, path)

    def counts(self, conditions: Sequence[str], source: str) -> list[int]:
        work = self._work(f"SELECT 1 FROM {source}")
        if work is None:
            return super().counts(conditions, source)
        found = self._answers(replace(work, query=counting(conditions, source)))
        return [sum(each) for each in zip(*found, strict=True)]

    def _hand_out(self, work: Work, folder: Path) -> None:
        """Write the answer of each slice to a folder."""
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        try:
            self._answers(replace(work, target=str(folder)))
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise

    def _answers(self, work: Work) -> list[list[int]]:
        """What each slice answers, in their order."""
        count = len(work.slices)
        rows = self._on_spark(
            lambda: (
                self._session.range(0, count, 1, count)
                .mapInArrow(work.run, "id bigint, told string")
                .collect()
            )
        )
        if sorted(row["id"] for row in rows) != list(range(count)):
            raise _not_run(f"{len(rows)} of {count} slices came back")
        answers = [json.loads(row["told"]) for row in sorted(rows, key=lambda row: row["id"])]
        for answer in answers:
            if "kind" in answer:
                raise _of_worker(**answer)
        return [answer["numbers"] for answer in answers]

    # --- what a slice is

    def _work(self, query: str) -> Work | None:
        """A query for the workers; nothing where it does not go row by row over the rows of files."""
        shape = self._shape(query)
        lead = leaf(shape, self._shapes)
        if lead not in self._files:
            return None
        names = needed(shape, self._shapes)
        if not names <= self._files.keys() | self._views.keys():
            return None
        relations = {name: files.query() for name, files in self._files.items() if name in names - {lead}}
        # a view is made after what it reads
        relations |= {name: self._views[name] for name in _in_order(names & self._views.keys(), self._shapes)}
        return Work(
            module().__version__,
            configured(self._memory, 1),
            SETUP,
            lead,
            tuple(self._slices(self._files[lead])),
            tuple(relations.items()),
            query,
        )

    def _slices(self, files: "_Files") -> list[str]:
        """SQL of each slice of some files, in the order of their rows."""
        rows = self.rows(
            f"SELECT file_name, num_rows FROM parquet_file_metadata({files.pattern}) ORDER BY file_name"
        )
        total = sum(count for _, count in rows)
        most = max(self._tasks, -(-total // self._most))
        number = max(1, min(most, -(-total // min(_LEAST_ROWS, self._most))))
        size = max(1, -(-total // number))
        found: list[list[str]] = [[]]
        left = size
        for name, count in rows:
            first = 0
            while first < count:
                if not left:
                    found.append([])
                    left = size
                after = min(count, first + left)
                where = (
                    "" if (first, after) == (0, count) else f"file_row_number BETWEEN {first} AND {after - 1}"
                )
                found[-1].append(files.query(pattern(Path(name)), where))
                left -= after - first
                first = after
        if not found[0]:
            return [files.query()]  # there is no row
        return [" UNION ALL ".join(parts) for parts in found]

    def _shape(self, query: str) -> Shape:
        parsed = self._connection.execute("SELECT json_serialize_sql(?)", [query]).fetchone()[0]
        return Shape.of(parsed, self._of_one_row)

    @cached_property
    def _of_one_row(self) -> frozenset[str]:
        """Functions that look at one row, and say the same whenever they are asked."""
        rows = self.rows(
            "SELECT function_name FROM duckdb_functions() GROUP BY function_name HAVING "
            "BOOL_AND(function_type = 'scalar' AND stability <> 'VOLATILE') AND BOOL_OR(stability = 'CONSISTENT')"
        )
        return frozenset(name for (name,) in rows) | _MACROS

    # --- Spark

    def _check_workers(self) -> None:
        """Refuse workers that lack a package or do not reach the folder, before anything is read.

        Raises
        ------
        InputError
            E601.
        """
        from pyspark.sql.functions import udf

        marker = self._folder / "workers_see_this"
        marker.touch()
        seen = str(marker)
        # without Arrow, so that a worker without pyarrow can say so
        asked = udf(lambda _: look(seen), "string", useArrow=False)
        rows = self._on_spark(
            lambda: (
                self._session.range(0, self._tasks, 1, self._tasks)
                .select(asked("id").alias("told"))
                .collect()
            )
        )
        for has in map(json.loads, sorted({row["told"] for row in rows})):
            problem = _lacking(has, module().__version__, self._folder)
            if problem is not None:
                raise InputError([problem])

    def _on_spark(self, work: Callable[[], Any]) -> Any:
        from py4j.protocol import Py4JError  # type: ignore[import-untyped]
        from pyspark.errors import PySparkException

        try:
            return work()
        except (PySparkException, Py4JError) as error:
            raise _not_run(str(error)) from error


class _Files(Struct, frozen=True):
    """Parquet files that are a relation: SQL of their names, and the columns that are added."""

    pattern: str
    place: str = ""
    file: str = ""

    def query(self, files: str = "", where: str = "") -> str:
        return parquet_query(files or self.pattern, self.place, self.file, where)


def _in_order(names: Iterable[str], shapes: Mapping[str, Shape]) -> list[str]:
    """Views, each after those that it reads."""
    found: dict[str, None] = {}

    def add(name: str) -> None:
        for read in sorted(shapes[name].reads):
            if read in shapes:
                add(read)
        found.setdefault(name)

    for name in sorted(names):
        add(name)
    return list(found)


def _take_place(made: Path, path: Path) -> None:
    """Put a finished file or folder where another may stand, which the query may have read."""
    if path.is_dir():
        shutil.rmtree(path)
    made.replace(path)


def _send_by_value() -> None:
    """What workers run is sent to them, so that they need not have this package; its classes cannot be ``Struct``."""
    from pyspark.cloudpickle import register_pickle_by_value

    for each in (slices, translate):
        register_pickle_by_value(each)  # type: ignore[no-untyped-call]


def _local_session() -> Any:
    try:
        from pyspark.sql import SparkSession
    except ImportError as error:
        raise InputError([_missing("pyspark is not installed", "pip install 'candidacy[spark]'")]) from error
    # workers on this machine need our packages; a cluster has an interpreter of its own
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
    os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
    # it warns of recent pandas, which is not used on the way
    warnings.filterwarnings("ignore", "PySpark does not yet fully support pandas", FutureWarning)
    builder = SparkSession.builder.master("local[*]").appName("candidacy")
    for key, value in _LOCAL.items():
        builder = builder.config(key, value)
    try:
        return builder.getOrCreate()
    except Exception as error:
        raise InputError(
            [_missing("Spark could not be started", "install Java 17 or later", shorten(error, 160))]
        ) from error


def _tasks(session: Any) -> int:
    """How many slices are read at once."""
    try:
        return max(1, int(session.sparkContext.defaultParallelism))
    except Exception:  # a session at the other end of a connection does not say
        return _TASKS_ELSEWHERE


def _lacking(has: dict[str, Any], duckdb: str, folder: Path) -> Problem | None:
    """What a worker lacks of what it needs."""
    if not has["duckdb"] or not has["pyarrow"]:
        message, found = "a worker cannot import what reads its slices", has["why"]
    elif has["duckdb"] != duckdb:
        message, found = "a worker has another version of DuckDB than this program", has["duckdb"]
    elif int(has["pyarrow"].split(".")[0]) < _PYARROW:
        message, found = "a worker has a version of pyarrow that is too old", has["pyarrow"]
    elif not has["sees"]:
        return Problem(
            Code.USAGE, "a worker does not reach the folder of working files", "the distributed engine",
            found=shorten(folder, 160), expected="a folder that every worker reaches by this path",
            next_step="name one (work=, or TMPDIR), or use --engine embedded",
        )  # fmt: skip
    else:
        return None
    return Problem(
        Code.USAGE, message, "the distributed engine", field=shorten(has["interpreter"], 160),
        found=shorten(found, 160), expected=f"duckdb {duckdb} and pyarrow {_PYARROW} or later",
        next_step=f"pip install 'duckdb=={duckdb}' 'pyarrow>={_PYARROW}' there, point PYSPARK_PYTHON to an interpreter "
        "that has them, or use --engine embedded",
    )  # fmt: skip


def _of_worker(kind: str, text: str) -> TableError:
    """What a worker says went wrong."""
    if kind in ("IOException", "OutOfMemoryException", "InvalidInputException", "OSError", "Error"):
        return TableError([told(text)])
    return _not_run(f"{kind}: {text}")


def _not_run(text: str) -> TableError:
    full = "No space left" in text
    problem = Problem(
        Code.BAD_TABLE,
        "the disk is full" if full else "the distributed engine could not run it",
        found=shorten(text, 300),
        next_step="free some space" if full else "check that the files are whole, or use --engine embedded",
    )
    return TableError([problem])


def _missing(message: str, step: str, found: str = "") -> Problem:
    return Problem(Code.USAGE, message, "the distributed engine", found=found, next_step=step)


_LOCAL = {
    "spark.ui.enabled": "false",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.driver.host": "127.0.0.1",
    # Java hands out slices and holds nothing of them: what pays in a long calculation only delays its start
    "spark.driver.memory": "512m",
    "spark.driver.extraJavaOptions": "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC",
    "spark.log.level": "ERROR",
    "spark.ui.showConsoleProgress": "false",
}
_TASKS_ELSEWHERE = 8
# Functions of one row that the engine's catalogue has as macros.
_MACROS = frozenset(("array_to_string",))
