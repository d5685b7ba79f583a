"""Which column of a table is which data element: canonical headers, or a mapping file that a person confirmed.

Canonical headers need no mapping: ``case_id``; ``body_weight [kg]`` (a number that has a unit states it);
``L4-L5 pfirrmann_grade`` for a disc; ``lumbar_mri_findings (date)`` for the day a fact was true;
``facts_date`` for the day of all others; ``medicines complete`` for a list of the record.
"""

import re
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Rows, Strict
from candidacy.case.facts import normal_level
from candidacy.case.record import Reason
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten
from candidacy.foundation.files import read_tree
from candidacy.foundation.shape import validate
from candidacy.rules.conditions import ListName

# What becomes of a cell that cannot be read: its fact is unknown and the row stays, or the row is set aside.
BadCells = Literal["fact_unknown", "set_row_aside"]


def forms_in(written: str | tuple[str, ...] | None) -> tuple[str, ...]:
    """Forms of dates as a mapping holds them: none, one or several."""
    return (written,) if isinstance(written, str) else written or ()


class ColumnMap(Strict):
    """What one column holds."""

    element: str
    """The data element that the column holds."""
    disc: str | None = None
    """The disc it is about ("L4-L5"), where the table has one row per case."""
    unit: str | None = None
    """Unit of the numbers in the column; required where the element has one."""
    codes: dict[str, str] = Field(default_factory=dict)
    """Foreign text to our code ("M" to "male"); several codes as ``III|IV``."""
    unknown: dict[str, Reason] = Field(default_factory=dict)
    """Foreign text to a reason for not knowing ("n/a" to "not_stated")."""
    dated_by: str | None = None
    """Column with the day on which this fact was true."""
    date_format: str | Rows[str] | None = None
    """How dates are written, in the signs of strptime ("%d/%m/%Y"), one form or several; without it YYYY-MM-DD.
    A date that two of the forms read as different days is not used."""
    decimal: Literal[".", ","] = "."
    """The decimal sign."""
    thousands: Literal["", ",", ".", " ", "'"] = ""
    """The sign between thousands, if numbers have one."""
    fractions: bool | None = None
    """Whether numbers without a sign are fractions of one, so that 0.53 is 53 %; only where the unit is %. It must be
    said where every number of the column lies between 0 and 1."""
    on_bad_cell: BadCells | None = None
    """What becomes of a cell that cannot be read, where it differs from the rest of the table."""

    @property
    def plain(self) -> bool:
        """Nothing has to be translated."""
        signs = self.decimal == "." and not self.thousands
        return not (self.codes or self.unknown or self.date_format or self.fractions) and signs

    @property
    def date_forms(self) -> tuple[str, ...]:
        """The forms of dates; none for YYYY-MM-DD."""
        return forms_in(self.date_format)


class TableMap(Strict):
    """What the columns of one table hold."""

    case_id: str = "case_id"
    """The column with the reference of the case."""
    disc: str | None = None
    """The column with the level, in a table that has one row per disc."""
    columns: dict[str, ColumnMap] = Field(default_factory=dict)
    """Column to what it holds."""
    lists_complete: dict[ListName, str] = Field(default_factory=dict)
    """List of the record to the column that says whether it is complete."""
    facts_dated_by: str | None = None
    """The column with the day on which facts without a day of their own were true."""
    facts_date: str | None = None
    """The day on which facts without a day of their own were true, for the whole table."""
    date_format: str | Rows[str] | None = None
    """How days of facts are written, in the signs of strptime, one form or several; without it YYYY-MM-DD."""
    header_row: int | None = Field(default=None, ge=1)
    """The row with the names of the columns, from 1; without it the first that is as full as those below."""
    on_bad_cell: BadCells = "fact_unknown"
    """What becomes of a cell that cannot be read: its fact is unknown and listed, or its row is set aside."""
    ignore: Rows[str] = ()
    """Columns that are not read."""
    compared: Rows[str] = ()
    """Columns that a person has compared with the table, where this is kept column by column; left out, `confirmed`
    of the file speaks for all."""

    @property
    def date_forms(self) -> tuple[str, ...]:
        """The forms of days of facts; none for YYYY-MM-DD."""
        return forms_in(self.date_format)

    def dating(self, item: ColumnMap) -> tuple[str | None, str | None]:
        """The column with the day of a fact, or else the day itself.

        An event of the past has a day of its own: it may lie behind the visit by which all else of the row is dated.
        """
        element = catalogue()[item.element]
        if item.dated_by or (element.kind == "date" and element.past):
            return item.dated_by, None
        return self.facts_dated_by, None if self.facts_dated_by else self.facts_date

    def keeps_row(self, item: ColumnMap | None = None) -> bool:
        """A cell that cannot be read leaves its row in use; of a column, or of the days of facts."""
        return ((item.on_bad_cell if item else None) or self.on_bad_cell) == "fact_unknown"

    def completeness(self, name: str) -> str:
        """The column that says whether a list is complete, or an empty text."""
        return next((column for each, column in self.lists_complete.items() if each == name), "")

    def used(self) -> set[str]:
        """Columns that are read."""
        found = {self.case_id, *self.columns, *self.lists_complete.values()}
        found |= {column.dated_by for column in self.columns.values() if column.dated_by}
        return found | {name for name in (self.disc, self.facts_dated_by) if name}


class Mapping(Strict):
    """A mapping file: which column of a table is which data element."""

    version: Literal["1"]
    """Version of the form of this file."""
    confirmed: bool
    """Set to true by the person who compared every column with the table; nothing is read before."""
    patients: TableMap
    """The table with one row per case."""
    discs: TableMap | None = None
    """A table with one row per disc."""
    lists: dict[ListName, TableMap] = Field(default_factory=dict)
    """List of the record to a table with one row per entry."""

    def map_of(self, name: str) -> TableMap | None:
        """The mapping of a table: ``patients``, ``discs`` or a list."""
        return {"patients": self.patients, "discs": self.discs}.get(name) or self.table_of(name)

    def table_of(self, name: str) -> TableMap | None:
        """The mapping of the table of a list."""
        return next((table for each, table in self.lists.items() if each == name), None)


def load_mapping(path: Path) -> Mapping:
    """Load a mapping file.

    Raises
    ------
    TableError
        With everything that is wrong with it; E502 where nobody has confirmed it.
    """
    try:
        tree = read_tree(path)
        found = validate(Mapping, tree, str(path), _known_keys)
    except InputError as error:
        raise TableError(error.problems) from None
    if not found.confirmed:
        raise TableError(
            [
                Problem(
                    Code.BAD_MAPPING,
                    "nobody has confirmed this mapping",
                    str(path),
                    field="confirmed",
                    found="false",
                    expected="true",
                    next_step="compare every column with the table, then write confirmed: true",
                )
            ]
        )
    _check_compared(found, str(path))
    return found


def _check_compared(found: Mapping, name: str) -> None:
    """Refuse a mapping that is confirmed as a whole and says of a column that nobody compared it."""
    tables: dict[str, TableMap | None] = {"patients": found.patients, "discs": found.discs}
    tables |= {str(each): item for each, item in found.lists.items()}
    problems = [
        Problem(
            Code.BAD_MAPPING, "nobody has compared these columns with the table", name, field=f"{table}.compared",
            found=", ".join(shorten(column) for column in missing),
            next_step="compare them and list them under compared, or leave compared out where confirmed speaks for all",
        )
        for table, item in tables.items()
        if item is not None and item.compared and (missing := sorted(item.used() - set(item.compared)))
    ]  # fmt: skip
    if problems:
        raise TableError(problems)


def _known_keys(path: tuple[Any, ...]) -> list[str]:
    if not path:
        return list(Mapping.model_fields)
    return list(ColumnMap.model_fields if "columns" in path else TableMap.model_fields)


_HEADER = re.compile(
    r"(?:(?P<disc>[TLS]\d{1,2}\s*[-/]\s*[TLS]?\d{1,2})\s+)?(?P<name>[a-z][a-z0-9_]*)"
    r"(?:\s*\[(?P<unit>[^\]]+)\])?(?P<date>\s*\(date\))?"
)


def canonical(columns: list[str], scope: str = "patient") -> TableMap:
    """Read canonical headers; columns that are none are left out.

    ``scope`` is ``disc`` for a table with one row per disc, or the scope of a list.
    """
    shelf = catalogue()
    found: dict[str, ColumnMap] = {}
    dates: dict[tuple[str, str | None], str] = {}
    complete = {}
    for column in columns:
        name = column.removesuffix(" complete")
        if name in LISTS and name != column:
            complete[name] = column
            continue
        match = _HEADER.fullmatch(column.strip())
        element = shelf.get(match["name"]) if match else None
        if match is None or element is None or not element.statable:
            continue
        disc = normal_level(match["disc"]) if match["disc"] else None
        wide = element.scope == "disc" and scope == "patient"
        if wide != (disc is not None) or (not wide and element.scope != scope):
            continue
        if match["date"]:
            dates[element.name, disc] = column
        else:
            found[column] = ColumnMap(element=element.name, disc=disc, unit=match["unit"])
    dated = {
        column: item.model_copy(update={"dated_by": dates.get((item.element, item.disc))})
        for column, item in found.items()
    }
    return TableMap.model_validate(
        {
            "case_id": "case_id",
            "disc": "disc" if scope == "disc" else None,
            "columns": dated,
            "lists_complete": complete,
            "facts_dated_by": "facts_date" if "facts_date" in columns else None,
        }
    )
