"""A cell with its day, as an entry of a case record."""

from collections.abc import Mapping as Table
from typing import Any

from candidacy.case.record import FactEntry
from candidacy.cohort.inputs.cells import BadCell, entry_of, one_date, text_of
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap


def dated_entry(
    row: Table[str, Any], column: str, item: ColumnMap, table: TableMap, prefix: str = ""
) -> FactEntry | None:
    """The entry that a cell of a row states, with its day if the table tells one; ``None`` where it is empty.

    Raises
    ------
    BadCell
        If the cell, or that of its day, cannot be used; it names the column.
    """
    name = prefix + column
    try:
        entry = entry_of(row[name], item)
        if entry is None:
            return None
        source = item.dated_by or table.facts_dated_by
        name = prefix + source if source else column
        day = row[name] if source else table.facts_date
        text = "" if day is None else text_of(day)
        if not text:
            return entry
        form = table.date_format if source else None
        return entry.model_copy(update={"date": one_date(text, form)})
    except BadCell as error:
        error.column = name
        raise
