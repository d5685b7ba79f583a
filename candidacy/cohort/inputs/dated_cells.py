"""A cell with its day, as an entry of a case record."""

from collections.abc import Callable
from collections.abc import Mapping as Table
from typing import Any

from candidacy.case.record import FactEntry
from candidacy.cohort.inputs.cells import BadCell, day_text, entry_of, entry_or_unknown
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.foundation.errors import Problem

# The entry of a cell, however it is written.
Reader = Callable[[Any, ColumnMap], FactEntry | None]


def dated_entry(
    row: Table[str, Any],
    column: str,
    item: ColumnMap,
    table: TableMap,
    prefix: str = "",
    read: Reader = entry_or_unknown,
    bad_day: Callable[[str, Any, Problem], None] | None = None,
) -> FactEntry | None:
    """The entry that a cell of a row states, with its day if the table tells one; ``None`` where it is empty.

    A cell that cannot be used is a fact that is not readable, and a day that cannot be used is none, where the
    mapping keeps such rows.

    ``bad_day`` is called with the column of a day that cannot be used, its cell and what is wrong.

    Raises
    ------
    BadCell
        Where the mapping sets such rows aside; it names the column.
    """
    name = prefix + column
    try:
        entry = read(row[name], item) if table.keeps_row(item) else entry_of(row[name], item)
        if entry is None:
            return None
        source, on = table.dating(item)
        if not source:
            return entry.model_copy(update={"date": on}) if on else entry
        name = prefix + source
        try:
            day = day_text(row[name], table.date_forms)
        except BadCell as error:
            if not table.keeps_row():
                raise
            if bad_day is not None:
                bad_day(name, row[name], error.problem)
            return entry
        return entry.model_copy(update={"date": day}) if day else entry
    except BadCell as error:
        error.column = name
        raise
