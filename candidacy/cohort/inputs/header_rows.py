"""In which row the names of the columns stand: above it there may be titles, blank rows, and names of groups."""

import re
from collections.abc import Sequence

LOOKED_AT = 50
FIND = 0  # instead of a row: look for it
_FULL = 0.6  # of the fullest row; titles and names of groups fill less (common practice)
_FEWEST = 2
_DIGITS = re.compile(r"[-+<>=≤≥]*\d[\d.,:/ -]*%?\Z")


def header_row_of(rows: Sequence[Sequence[str]]) -> tuple[int, list[str]]:
    """The row of the names, from 1, among the first rows of a table; and what to say of the rows around it.

    It is the first row that is about as full as the fullest and holds no bare number or date. Where there is none it
    is the first row.
    """
    filled = [sum(bool(cell.strip()) for cell in row) for row in rows[:LOOKED_AT]]
    most = max(filled, default=0)
    for place, row in enumerate(rows[:LOOKED_AT]):
        if filled[place] >= max(_FULL * most, _FEWEST) and _names(row):
            return place + 1, _said(rows, filled, place)
    return 1, []


def _names(row: Sequence[str]) -> bool:
    return not any(_DIGITS.match(cell.strip()) for cell in row)


def _said(rows: Sequence[Sequence[str]], filled: Sequence[int], place: int) -> list[str]:
    found = []
    if place:
        above = [n + 1 for n in range(place) if filled[n]]
        groups = [n for n in above if filled[n - 1] >= _FEWEST]
        found.append(f"the names of the columns stand in row {place + 1}; what stands above is not read")
        found += [f"row {n} looks like a header too (names of groups?); it is not read" for n in groups]
    below = rows[place + 1] if place + 1 < len(rows) else ()
    others = rows[place + 2 : place + 12]
    if below and filled[place + 1] >= _FEWEST and _names(below) and others and not any(map(_names, others)):
        found.append(f"row {place + 2} looks like a second header (units?); it is read as a row of the table")
    return found
