"""Cells for a spreadsheet, which takes some texts for formulas (common practice: a leading apostrophe)."""

from typing import Any

_SIGNS = ("=", "+", "-", "@", "\t", "\r")

# `guarded` for the embedded engine, to be filled with the name of a column.
GUARDED = (
    "CASE WHEN regexp_matches({0}, '^[-=+@\\t\\r]') AND TRY_CAST({0} AS DOUBLE) IS NULL "
    "THEN '''' || {0} ELSE {0} END"
)


def guarded(cell: Any) -> str:
    """A cell that a spreadsheet does not take for a formula.

    Examples
    --------
    >>> [guarded(cell) for cell in ("=1+1", "-5", "R-1", None)]
    ["'=1+1", '-5', 'R-1', '']
    """
    text = "" if cell is None else str(cell)
    return "'" + text if text[:1] in _SIGNS and not is_number(text) else text


def is_number(text: str) -> bool:
    """Whether a text is a number as a spreadsheet reads it."""
    try:
        float(text)
    except ValueError:
        return False
    return True
