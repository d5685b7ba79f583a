"""The table arguments of a screening: whether they belong together, and how they become its input."""

from collections.abc import Iterable
from collections.abc import Mapping as Table
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from candidacy.case.element import LISTS
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.digests import Input, only_this
from candidacy.cohort.inputs.headers import refusal
from candidacy.cohort.inputs.kept import Kept
from candidacy.cohort.inputs.mapping import Mapping
from candidacy.cohort.inputs.parquet_files import parquet_files
from candidacy.cohort.inputs.set_aside import write_set_aside
from candidacy.cohort.inputs.sources import Staged, find, stage
from candidacy.cohort.inputs.tables import open_tables
from candidacy.cohort.inputs.unread_cells import write_unread_cells
from candidacy.foundation.errors import Code


def check_delimiter(delimiter: str) -> None:
    """Refuse what is no delimiter.

    Raises
    ------
    TableError
        E601 with what it may be.
    """
    if len(delimiter) > 1 or delimiter in ('"', "\n", "\r") or not delimiter.isascii():
        raise refusal(
            "delimiter", "not a delimiter", Code.USAGE, found=delimiter, expected="one sign, such as ; or |"
        )


def check_used(delimiter: str, tables: Iterable[Staged]) -> None:
    """Refuse a delimiter that no table has.

    Raises
    ------
    TableError
        E601 with the delimiters that there are.
    """
    found = {each.name: each.delimiter for each in tables}
    if delimiter and delimiter not in found.values():
        told = ", ".join(f"{sign!r} in {name}" for name, sign in found.items() if sign)
        raise refusal(
            "delimiter", "no header holds this delimiter", Code.USAGE, found=repr(delimiter),
            expected=told or "a CSV file", next_step="leave it out: the header tells",
        )  # fmt: skip


def check_names(names: Iterable[str]) -> None:
    """Refuse lists that a record does not have.

    Raises
    ------
    TableError
        E601 with those that it has.
    """
    unknown = [name for name in names if name not in LISTS]
    if unknown:
        raise refusal(
            "lists", "no such list of the record", Code.USAGE, found=", ".join(map(str, unknown)),
            expected=", ".join(LISTS), next_step="name one of them, as in medicines=medicines.csv",
        )  # fmt: skip


@dataclass
class TableArguments:
    """The tables of one screening as they were named, and how they become its input.

    Attributes
    ----------
    patients, discs, lists
        Paths or DataFrames; see `candidacy.cohort.screening.screen`.
    """

    patients: Any
    discs: Any
    lists: Table[str, Any]
    mapping: Mapping | None
    part: str
    delimiter: str

    def check(self) -> None:
        """Refuse arguments that do not belong together.

        Raises
        ------
        TableError
            E601 for an unknown list or delimiter; E502 where the mapping describes a table that is not given.
        """
        check_names(self.lists)
        check_delimiter(self.delimiter)
        if self.mapping is None:
            return
        described = ["discs"] if self.mapping.discs is not None and self.discs is None else []
        described += [name for name in self.mapping.lists if name not in self.lists]
        if described:
            raise refusal(
                "mapping", "describes a table that is not given", Code.BAD_MAPPING, found=", ".join(described),
                expected="the same tables as when it was proposed",
                next_step="give the table (--discs FILE, --list NAME=FILE), or take it out of the mapping",
            )  # fmt: skip

    def check_alone(self) -> None:
        """Refuse what does not go with a folder of case records, which hold everything themselves.

        Raises
        ------
        TableError
            E601 with what was given.
        """
        named = {"discs": self.discs is not None, "lists": bool(self.lists), "mapping": self.mapping is not None,
                 "part": bool(self.part), "delimiter": bool(self.delimiter)}  # fmt: skip
        given = [name for name, there in named.items() if there]
        if given:
            raise refusal(
                str(self.patients), "a folder of case records stands alone", Code.USAGE, found=", ".join(given),
                expected="the folder and nothing beside it",
            )  # fmt: skip

    def take(self, kept: Kept, engine: Engine, local: EmbeddedEngine) -> None:
        """Make the tables the input of a screening."""
        staged = self._stage(kept, local, "patients", self.patients, self.part)
        beside = self._stage(kept, local, "discs", self.discs) if self.discs is not None else None
        entries = {name: self._stage(kept, local, name, each) for name, each in self.lists.items()}
        check_used(self.delimiter, (staged, *([beside] if beside else []), *entries.values()))
        opened = open_tables(engine, kept.folder, staged, beside, entries, self.mapping)
        others = (*([beside] if beside else []), *entries.values())
        told = write_set_aside(opened, staged, kept.set_aside_file, others)
        unread = write_unread_cells(opened, staged, kept.unread_cells_file, entries)
        kept.frame, kept.name = opened.frame, staged.name
        kept.rows = opened.rows + staged.unreadable.count
        kept.set_aside, kept.problems, kept.notes = told.rows, tuple(told.problems), opened.notes
        kept.unread_cells, kept.cell_problems = unread.rows, tuple(unread.problems)
        if beside is not None:
            kept.discs_set_aside = opened.homeless_discs + beside.unreadable.count
        kept.entries_set_aside = told.elsewhere - kept.discs_set_aside

    def _stage(self, kept: Kept, local: EmbeddedEngine, name: str, table: Any, part: str = "") -> Staged:
        if isinstance(table, str | Path):
            path = find(table).path
            kept.inputs.tables[name] = Input.of(path, parquet_files if path.is_dir() else only_this)
        mapped = self.mapping and self.mapping.map_of(name)
        header_row = (mapped.header_row if mapped else None) or 1
        staged = stage(table, kept.folder, local, part, self.delimiter, name, header_row)
        if staged.given is None:
            kept.inputs.frames[name] = staged.path
        return staged
