"""A table of cases ready to be read: which fact stands in which columns of which relation."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from msgspec import Struct

from candidacy.assessment.view import entry_mark
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, LISTS, STANDARD_LEVELS
from candidacy.case.load import Case
from candidacy.cohort.columns.fact_columns import CodeList, FactColumn, mask_of
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine

if TYPE_CHECKING:
    from candidacy.cohort.columns.at_hand import RowsAtHand

# Elements that name discs by listing them (as in `View.named_levels`).
NAMING = ("discs_under_consideration", "discography_levels")
PLACE = '"case|place"'
"""Quoted name of the column with the number of a row, from 0, of a table at hand."""


class ListColumn(Struct, frozen=True):
    """A list of the record: its entries as text, and two-valued SQL that it is complete."""

    entries: str
    complete: str


@dataclass
class FactsTable:
    """Cases in columns, on an engine.

    Attributes
    ----------
    relation
        Name of a view with one row per case.
    case_id
        Quoted name of the column with the case reference.
    facts
        Columns by element and subject; what is not here is recorded for no case.
    present
        Two-valued SQL by level: the case holds an entry for this disc.
    levels
        Discs that any case may name, cranial first.
    lists
        Columns of the lists of the record.
    opener
        Gives a case of the table as a full record.
    numbered
        The relation is a table in memory that numbers its rows in `PLACE`.
    """

    engine: Engine
    relation: str
    case_id: str
    facts: dict[tuple[str, str], FactColumn]
    present: dict[str, str]
    levels: tuple[str, ...]
    opener: Callable[[str], Case]
    lists: dict[str, ListColumn] = field(default_factory=dict)
    cases: int = 0
    numbered: bool = False

    @cached_property
    def rows(self) -> "RowsAtHand | None":
        """The cells of a small table in memory; ``None`` of any other. Asked for before `relation` is read."""
        if self.cases > self.engine.at_hand:
            return None
        from candidacy.cohort.columns.at_hand import RowsAtHand  # which reads the columns from here

        self.relation, found = RowsAtHand.of(self)
        return found

    def named(self, level: str) -> str:
        """Two-valued SQL: the case says anything about this disc or lists it."""
        parts = [self.present.get(level, sql.FALSE)]
        for element in NAMING:
            column = self.facts.get((element, "patient"))
            if column is not None and isinstance(column.cells, CodeList):
                bit = mask_of(LEVELS, [level])
                parts.append(f"(COALESCE({column.cells.certain}, 0) & {bit}) <> 0")
        return sql.any_of(parts)

    @cached_property
    def recorded(self) -> frozenset[str]:
        """Every element that any case may hold, and marks of the lists."""
        scopes = {LISTS[name] for name in self.lists}
        within = (element.name for element in catalogue().all if element.scope in scopes)
        marks = (mark for name in self.lists for mark in (name, entry_mark(name)))
        return frozenset((*(name for name, _ in self.facts), *marks, *within))

    @cached_property
    def elements(self) -> dict[str, frozenset[str]]:
        """Elements that any case may hold, by subject."""
        found: dict[str, set[str]] = {}
        for element, subject in self.facts:
            found.setdefault(subject, set()).add(element)
        return {subject: frozenset(names) for subject, names in found.items()}

    @cached_property
    def counted_levels(self) -> tuple[str, ...]:
        """Discs that a count may range over."""
        return tuple(level for level in LEVELS if level in STANDARD_LEVELS or level in self.levels)
