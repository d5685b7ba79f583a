"""The first rows of a table, as they are compared with a mapping: bounded, and known as a sample where it is one."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from msgspec import Struct

from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.cells import text_of
from candidacy.cohort.inputs.csv_text import first_rows, read_beginning
from candidacy.cohort.inputs.databases import tables_of
from candidacy.cohort.inputs.header_rows import LOOKED_AT
from candidacy.cohort.inputs.intake import Intake
from candidacy.cohort.inputs.mapping import TableMap
from candidacy.cohort.inputs.opening import open_table
from candidacy.cohort.inputs.sources import OWN, PLACE, find, stage
from candidacy.cohort.inputs.workbooks import first_rows_of, sheets_of
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import TableError

MOST = 2_000
_SHOWN = 5
_BOOKS, _BASES, _TEXTS = (".xlsx", ".xlsm"), (".duckdb", ".db", ".ddb"), (".csv", ".tsv", ".txt")


class Sample(Struct, frozen=True, eq=False):
    """The first rows of a table.

    Attributes
    ----------
    columns
        Cells by column, as typed as the table has them; ``None`` where there is none.
    typed
        Columns whose cells are numbers, days or truths.
    left_out
        Columns of a type that is not read, with that type.
    whole
        These are all rows.
    rows, unreadable
        How many rows are here, and how many more could not be parted into the columns.
    """

    columns: dict[str, list[Any]]
    typed: frozenset[str]
    left_out: dict[str, str]
    whole: bool
    rows: int
    unreadable: int

    def shown(self, column: str, most: int = _SHOWN) -> list[str]:
        """The first different texts of a column."""
        found: dict[str, None] = {}
        for cell in self.columns.get(column, ()):
            if cell is not None and (text := text_of(cell)):
                found[text] = None
                if len(found) == most:
                    break
        return list(found)

    def texts(self, column: str, most: int) -> list[str]:
        """The different texts of a column, the most frequent ones first."""
        counts: dict[str, int] = {}
        for cell in self.columns.get(column, ()):
            if cell is not None and (text := text_of(cell)):
                counts[text] = counts.get(text, 0) + 1
        return sorted(counts, key=lambda text: (-counts[text], text))[:most]


def take_sample(
    table: Path | str, folder: Path, delimiter: str = "", header_row: int = 1, most: int = MOST
) -> Sample:
    """Read the first ``most`` rows of a table below the row with its names.

    ``folder`` takes working files, which the caller removes.

    Raises
    ------
    TableError
        If the table cannot be read.
    """
    engine = EmbeddedEngine(folder)
    try:
        staged = stage(table, folder, engine, "", delimiter, "sample", header_row, most + 1)
        types = open_table(engine, "sample", staged)
        names = [name for name in types if name not in OWN]
        intake = Intake(engine, "sample", types, TableMap())
        chosen = ", ".join(f"{intake.raw(name)[0]} AS c{place}" for place, name in enumerate(names))
        order = f" ORDER BY {sql.identifier(PLACE)}" if PLACE in types else ""
        found = engine.arrow(f"SELECT {chosen} FROM sample{order} LIMIT {most + 1}")
        cells = [column.to_pylist() for column in found.columns]
        count = found.num_rows + staged.unreadable.count
        return Sample(
            {name: column[:most] for name, column in zip(names, cells, strict=True)},
            frozenset(name for name in names if types[name] not in ("text", "other")),
            staged.left_out, count <= most and not staged.cut, min(found.num_rows, most), staged.unreadable.count,
        )  # fmt: skip
    except TableError as error:
        scratch = str(folder)
        raise TableError(
            [
                replace(each, file=str(table) if each.file.startswith(scratch) else each.file)
                for each in error.problems
            ]
        ) from None
    finally:
        engine.close()


def parts_of(path: Path, folder: Path) -> list[str]:
    """The sheets of a workbook or the tables of a database; none for any other file.

    Raises
    ------
    TableError
        If the file cannot be read.
    """
    if path.suffix.lower() in _BOOKS:
        return sheets_of(path)
    if path.suffix.lower() not in _BASES:
        return []
    engine = EmbeddedEngine(folder)
    try:
        return tables_of(path, engine)
    finally:
        engine.close()


def rows_above(table: Path | str, delimiter: str = "") -> Sequence[Sequence[str]]:
    """The first rows of a text table or sheet, among which the names of the columns stand; none for other files.

    Raises
    ------
    TableError
        If the table cannot be read.
    """
    source = find(table)
    suffix = source.path.suffix.lower()
    if suffix in _BOOKS:
        return first_rows_of(source.path, source.part, LOOKED_AT)
    if suffix not in _TEXTS:
        return []
    return first_rows(read_beginning(source.path), "\t" if suffix == ".tsv" and not delimiter else delimiter)[
        0
    ]
