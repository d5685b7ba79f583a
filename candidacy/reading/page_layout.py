"""Order of text that stands side by side on a page: columns one after another, tables row by row.

It works on a page drawn with characters, in which what stands apart on the paper is apart by blanks. Where the
rows of a table cannot be told from one another, its words are given back as not read; nothing is guessed.
"""

import itertools
import re
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.flow import row_line
from candidacy.reading.levels import PATTERN

_LEVEL = re.compile(PATTERN)
_GAP = re.compile(r"(?<=\S) {3,}(?=\S)")
_MIN_PROSE = 25
"""A column of running text has lines of so many characters or more."""
_FULL = 0.6
"""The lines of running text fill so much of their column on average [common practice]."""


class Page(NamedTuple):
    """The text of a page in the order in which it is meant, and what could not be put in order."""

    text: str
    unordered: tuple[str, ...] = ()


def in_order(drawn: str, plain: str) -> Page:
    """Put a page in order.

    Parameters
    ----------
    drawn
        The page drawn with characters.
    plain
        The same page in the order in which its words stand in the file, used where nothing stands side by side.
    """
    lines = drawn.expandtabs(8).split("\n")
    blocks = _blocks(lines)
    if not blocks:
        return Page(plain)
    out: list[str] = []
    unordered: list[str] = []
    at = 0
    for start, end, gutters in blocks:
        out += [_squeezed(line) for line in lines[at:start]]
        cells = [_cut(line, gutters) for line in lines[start:end] if line.strip()]
        rows = _columns(cells) or _rows(cells, plain)
        if rows is None:
            unordered.append(" ".join(" ".join(c) for c in cells))
            rows = []
        out += rows
        at = end
    out += [_squeezed(line) for line in lines[at:]]
    return Page(re.sub(r"\n{3,}", "\n\n", "\n".join(out)).strip("\n"), tuple(unordered))


def _squeezed(line: str) -> str:
    return re.sub(r" {2,}", "  ", line.strip())


def _blocks(lines: Sequence[str]) -> list[tuple[int, int, tuple[int, ...]]]:
    """Find stretches of lines with blanks at the same places: first line, end, and where the cells begin."""
    found: list[tuple[int, int, tuple[int, ...]]] = []
    at = 0
    while at < len(lines):
        gaps = [(m.start(), m.end()) for m in _GAP.finditer(lines[at])]
        end, both, last = at + 1, 1, at
        while gaps and end < len(lines):
            line = lines[end]
            if line.strip():
                kept = [g for gap in gaps for g in _narrowed(gap, line)]
                if not kept:
                    break
                if any(line[:b].strip() and line[b:].strip() for _, b in kept):
                    both, last = both + 1, end
                elif not lines[end - 1].strip() and line[: kept[0][1]].strip():
                    break  # what follows a blank line and stands on the left alone begins something else
                gaps = kept
            end += 1
        if gaps and both > 1:
            while end > last + 1 and (not lines[end - 1].strip()):
                end -= 1
            first, left = at, gaps[0][1]
            least = found[-1][1] if found else 0
            while first > least and lines[first - 1].strip() and not lines[first - 1][:left].strip():
                first -= 1  # the first cell of a row may stand at half its height
            found.append((first, end, tuple(b for _, b in gaps)))
            at = end
        else:
            at += 1
    return found


def _narrowed(gap: tuple[int, int], line: str) -> list[tuple[int, int]]:
    """What is left of a gap in a further line: the blanks that both share, if there are two or more."""
    low, high = gap
    part = line[low:high].ljust(high - low)
    runs = [(m.start(), m.end()) for m in re.finditer(r" {2,}", part)]
    return [(low + runs[-1][0], low + runs[-1][1])] if runs else []


def _cut(line: str, gutters: tuple[int, ...]) -> list[str]:
    return [line[a:b].strip() for a, b in itertools.pairwise((0, *gutters, len(line) + max(gutters)))]


def _columns(cells: list[list[str]]) -> list[str] | None:
    """Give columns of running text one after the other, or nothing if these are none."""
    for column in zip(*cells, strict=True):
        lines = [c for c in column if c]
        width = max(map(len, lines), default=0)
        if len(lines) < 3 or width < _MIN_PROSE or sum(map(len, lines)) < _FULL * width * len(lines):
            return None
    return [line for column in zip(*cells, strict=True) for line in column if line]


def _rows(cells: list[list[str]], plain: str) -> list[str] | None:
    """Give the rows of a table, cells apart by bars; nothing if it cannot be told which line belongs to which."""
    if all(row[0] for row in cells):
        return [row_line(row) for row in cells]
    choices = [c for c in (_from_above(cells), _as_written(cells, plain)) if c is not None and _fits(c)]
    rows = choices[0] if choices and all(c == choices[0] for c in choices) else None
    return None if rows is None else [row_line(row) for row in rows]


def _from_above(cells: list[list[str]]) -> list[list[str]] | None:
    """Each row begins where its first cell does."""
    if not cells[0][0]:
        return None
    rows: list[list[str]] = []
    for row in cells:
        if row[0]:
            rows.append(list(row))
        else:
            rows[-1] = [f"{a} {b}".strip() for a, b in zip(rows[-1], row, strict=True)]
    return rows


def _as_written(cells: list[list[str]], plain: str) -> list[list[str]] | None:
    """Each row's first cell stands in the file before the rest of its row: tables of two columns."""
    if len(cells[0]) != 2:
        return None
    tokens = [(row[n], n) for row in cells for n in (0, 1) if row[n]]
    places: list[tuple[int, str, int]] = []
    taken: dict[str, int] = {}
    for words, column in tokens:
        at = plain.find(words, taken.get(words, 0))
        if at < 0:
            return None
        taken[words] = at + len(words)
        places.append((at, words, column))
    places.sort()
    if places[0][2]:
        return None
    rows: list[list[str]] = []
    for _, words, column in places:
        if column == 0:
            rows.append([words, ""])
        else:
            rows[-1][1] = f"{rows[-1][1]} {words}".strip()
    return rows if all(row[1] for row in rows) else None


def _fits(rows: list[list[str]]) -> bool:
    """Say whether no cell begins in the middle of a sentence."""
    return not any(cell[:1].islower() for row in rows for cell in row[1:])


def without_running_heads(pages: list[str]) -> list[str]:
    """Drop lines at the head or foot of a page that stand there on an earlier page too, but for numbers."""
    split = [page.split("\n") for page in pages]
    out: list[str] = []
    for number, lines in enumerate(split):
        others = split[:number]
        top, bottom = 0, len(lines)
        while top < bottom and any(_alike(lines[top], o[top : top + 1]) for o in others):
            top += 1
        while bottom > top and any(
            _alike(lines[bottom - 1], o[bottom - len(lines) - 1 :][:1]) for o in others
        ):
            bottom -= 1
        out.append("\n".join(lines[top:bottom]).strip("\n"))
    return out


def _alike(line: str, other: list[str]) -> bool:
    """Whether a line is that of the other page but for numbers; one that names a level is never a running head."""
    return (
        bool(other)
        and bool(line.strip())
        and _LEVEL.search(line) is None
        and _numbered(line) == _numbered(other[0])
    )


def _numbered(line: str) -> str:
    return re.sub(r"\d+", "0", " ".join(line.split()))
