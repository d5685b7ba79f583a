"""Rows whose cells stand apart by strokes or semicolons, ``L4-5 / bulge / mild stenosis``, written with bars as other tables are.

Every character keeps its place, so that a span of the one text is a span of the other.
"""

import re

from candidacy.reading.levels import PATTERN
from candidacy.reading.table import FIRST

_STROKES = (re.compile(r"(?<=\s)/(?=\s)"), re.compile(r";(?=\S)"))
"""What parts the cells: a stroke between blanks, or a semicolon with nothing behind it."""
_LINE = re.compile(r"[^\r\n]+")
_BULLET = re.compile(r"[\s*•·\-–]*")
_LEVEL = re.compile(rf"(?:{PATTERN})\s*")
_FEWEST = 2
"""So many strokes a row must have, and so many rows there must be, the row of names among them."""


def with_bars(text: str) -> str:
    """Write the strokes between the cells of a table as bars; any other text is given as it is.

    A row begins with a level and names no other; the rows stand one below the other and have as many strokes each. A row
    of names may stand above.

    Examples
    --------
    >>> with_bars("L3-4 / normal / patent\\nL4-5 / bulge / narrowed")
    'L3-4 | normal | patent\\nL4-5 | bulge | narrowed'
    """
    for stroke, sign in zip(_STROKES, (" / ", ";"), strict=True):
        if text.count(sign) >= _FEWEST:
            text = _written(text, stroke)
    return text


def _written(text: str, stroke: re.Pattern[str]) -> str:
    out: list[str] = []
    at = 0
    for start, end in _runs(text, stroke):
        out += [text[at:start], stroke.sub("|", text[start:end])]
        at = end
    return "".join([*out, text[at:]])


def _runs(text: str, stroke: re.Pattern[str]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    rows: list[tuple[int, int]] = []
    size = last = 0
    for m in _LINE.finditer(text):
        cells = stroke.split(m[0])
        first = cells[0][_BULLET.match(cells[0]).end() :].strip()  # type: ignore[union-attr]
        named = first.rsplit("(", 1)[-1].strip().lower() in FIRST  # "Results (level / opening / pain):"
        others = any(_LEVEL.match(c.strip()) for c in cells[1:])
        fits = len(cells) > _FEWEST and (named or (_LEVEL.fullmatch(first) is not None and not others))
        apart = text.count("\n", last, m.start()) > 1
        if not fits or named or apart or len(cells) != size:
            runs += _run(rows)
            rows = []
        if fits:
            rows.append(m.span())
            size = len(cells)
        last = m.end()
    return [*runs, *_run(rows)]


def _run(rows: list[tuple[int, int]]) -> list[tuple[int, int]]:
    return [(rows[0][0], rows[-1][1])] if len(rows) >= _FEWEST else []
