"""Parquet files and folders of them: read where they lie, or copied where a column has to be made readable."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.column_kinds import Typed, is_plain
from candidacy.cohort.inputs.headers import FILE, PLACE, check_header, refusal
from candidacy.foundation.errors import Code, shorten

_OTHER_TABLES = (".csv", ".tsv", ".xlsx", ".xlsm", ".pq", ".duckdb", ".yaml", ".yml", ".json")
_ROWS = 100_000


def parquet_files(folder: Path) -> list[Path]:
    """The Parquet files of a folder in the order of their names; nothing else in it may be a table."""
    seen = sorted(path for path in folder.iterdir() if path.name[0] not in "._")
    found = [path for path in seen if path.suffix == ".parquet" and path.is_file()]
    others = [path.name for path in seen if path.is_dir() or path.suffix.lower() in _OTHER_TABLES]
    if found and others:
        raise refusal(
            str(folder), "holds other tables or folders beside its Parquet files", found=", ".join(others[:5]),
            expected="Parquet files only, all in the folder itself", next_step="move the others elsewhere",
        )  # fmt: skip
    return found


def stage_parquet(path: Path, target: Path) -> tuple[Path, bool, dict[str, str]]:
    """Make a Parquet file or folder readable.

    Returns
    -------
    tuple
        Where to read; whether the rows there are numbered already; the columns left out, by type.

    Raises
    ------
    TableError
        E101 for a file that is damaged or no Parquet file, E109 where there is no row, E501 for columns that differ.
    """
    files = parquet_files(path) if path.is_dir() else [path]
    schemas = {file: _schema(file) for file in files}
    schema = schemas[files[0]]
    check_header(schema.names, str(path))
    for file, other in schemas.items():
        _same(schema, other, file, files[0])
    if all(is_plain(field.type) for field in schema):
        return path, False, {}
    typed = Typed(schema)
    _copy(typed, files, target, path.is_dir())
    return target, True, typed.left_out


def _schema(file: Path) -> Any:
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        with pq.ParquetFile(file) as opened:
            if not opened.metadata.num_rows and not opened.metadata.num_columns:
                raise refusal(str(file), "holds no column", Code.EMPTY)
            return opened.schema_arrow
    except (pa.ArrowInvalid, pa.ArrowNotImplementedError, OSError) as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise
        raise refusal(
            str(file), "not a Parquet file that can be read; it is cut short, damaged, encrypted or of another kind",
            Code.UNREADABLE, found=error, next_step="write it anew, or copy it again from where it came",
        ) from error  # fmt: skip


def _same(one: Any, other: Any, file: Path, first: Path) -> None:
    kinds, others = ({f.name: f.type for f in schema} for schema in (one, other))
    differing = [name for name in {**kinds, **others} if kinds.get(name) != others.get(name)]
    if differing:
        name = differing[0]
        raise refusal(
            str(file), "the files of the folder have different columns",
            found=f"{shorten(name)}: {others.get(name, 'none')}",
            expected=f"{kinds.get(name, 'no such column')}, as in {first.name}",
            next_step="write all files with the same columns and types",
        )  # fmt: skip


def _copy(typed: Typed, files: list[Path], target: Path, named: bool) -> None:
    from candidacy.cohort.engines.batches import ParquetFile

    with ParquetFile(target) as written:
        for file in files:
            before = 0
            for batch in _batches(file):
                changed = typed.changed(batch, PLACE, before)
                before += batch.num_rows
                written.write(_with_file(changed, file.name) if named else changed)
    if not written.rows:
        raise refusal(str(files[0]), "there is no row", Code.EMPTY, expected="one row for each case")


def _with_file(batch: Any, name: str) -> Any:
    import pyarrow as pa

    return pa.RecordBatch.from_arrays(
        [*batch.columns, pa.array([name] * batch.num_rows, pa.string())], names=[*batch.schema.names, FILE]
    )


def _batches(file: Path) -> Iterator[Any]:
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        with pq.ParquetFile(file) as opened:
            yield from opened.iter_batches(_ROWS)
    except (pa.ArrowInvalid, OSError) as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise
        raise refusal(
            str(file), "the file is damaged", Code.UNREADABLE, found=error,
            next_step="write it anew, or copy it again from where it came",
        ) from error  # fmt: skip
