"""Lines of text out of the events of a marked-up document: paragraphs, lists, tables as rows with bars between cells."""

import re

SOFT, HARD = "\x01", "\n"
"""Marks of a line's end: one that several in a row do not repeat, and one that does."""
_BLANKS = re.compile(r"[ \t\xa0\u2002-\u200a\u3000]+")
_ENDS = tuple(".:;,!?|")
_LONG_CELL = 6
"""A cell of more lines is laid out by the table, and is no cell of a row."""
_LABEL = 40
_MAX_LEFT_OUT = 200
MAX_DEPTH = 400
"""Elements inside one another; a document nested more deeply is refused."""


class Flow:
    """Gathers text and layout in the order of the document.

    ``left_out`` keeps the words that the document marks as struck, deleted or hidden: they are never part of the
    text, and never lost without a word.
    """

    def __init__(self) -> None:
        self._open: list[list[str]] = [[]]
        self._rows: list[list[str]] = []
        self.left_out: list[str] = []

    def add(self, text: str) -> None:
        """Add words where the document stands."""
        self._open[-1].append(text.replace(SOFT, " "))

    def leave_out(self, text: str) -> None:
        """Note words that do not count."""
        if text.strip() and len(self.left_out) < _MAX_LEFT_OUT:
            self.left_out.append(" ".join(text.split())[:_MAX_LEFT_OUT])

    def end_block(self) -> None:
        """End a paragraph or item; several at one place end one line."""
        self._open[-1].append(SOFT)

    def end_line(self) -> None:
        """End a line; two at one place leave a blank line."""
        self._open[-1].append(HARD)

    def open_row(self) -> None:
        """Begin a row of a table."""
        self._rows.append([])

    def open_cell(self) -> None:
        """Begin a cell; its row must be open."""
        self._open.append([])

    def close_cell(self) -> str:
        """End the cell and give its text."""
        text = tidy("".join(self._open.pop()))
        self._rows[-1].append(text)
        return text

    def close_row(self) -> None:
        """End the row and write it: as one line, or cell after cell where the table only lays out the page."""
        row = self._rows.pop()
        filled = [c for c in row if c]
        self.end_block()
        if len(filled) == 1 and (len(row) == 1 or "\n" in filled[0]):
            self.add(filled[0])
        elif any(c.count("\n") >= _LONG_CELL for c in row):
            self.add(HARD.join(filled))
        elif filled:
            self.add(row_line(list(map(_one_line, row))))
        self.end_block()

    def text(self) -> str:
        """Give everything gathered; cells and rows left open are closed."""
        while len(self._open) > 1:
            self.close_cell()
        while self._rows:
            self.close_row()
        return tidy("".join(self._open[0]))


def tidy(text: str) -> str:
    """Turn marks of line ends into lines without blanks around them, at most one blank line between two."""
    text = re.sub(rf"[ \t]*{SOFT}(?:[ \t]*{SOFT})*[ \t]*", SOFT, text).replace(HARD + SOFT, HARD)
    lines = [_BLANKS.sub(" ", line).strip() for line in text.replace(SOFT, HARD).split(HARD)]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip("\n")


def row_line(cells: list[str]) -> str:
    """Write a row as one line: a label and what it says with a colon, more cells with bars between them."""
    if len(cells) == 2 and all(cells) and len(cells[0]) <= _LABEL and cells[0][-1] not in ".;,!?":
        return f"{cells[0].rstrip(':')}: {cells[1]}"
    return " | ".join(cells)


def _one_line(cell: str) -> str:
    """Join the lines of a cell; a line that ends like a sentence's middle goes on, others are sentences apart."""
    out = ""
    for line in filter(None, cell.split("\n")):
        if out:
            out += " " if out.endswith(_ENDS) or line[0].islower() else ". "
        out += line
    return out
