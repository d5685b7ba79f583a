"""Tables in a report: a first row that names the columns, then a row for each level, cells apart by bars or tabs."""

import re

from candidacy.reading.levels import PATTERN
from candidacy.reading.lexer import Group, Tokens, tokenise
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import Span

_CELL = re.compile(r"[^|\t]+")
_FIRST = frozenset(("level", "levels", "disc level", "disk level", "disc", "disk", "segment", "interspace"))
_LEVEL = re.compile(rf"\s*(?:{PATTERN})\s*\Z")
_SAID = grammar("form_yes")


def cells(text: str, start: int, end: int) -> list[Span]:
    """Give the cells of a line without the blanks around them; a line without bars or tabs is one cell."""
    found: list[Span] = []
    for m in _CELL.finditer(text, start, end):
        body = m[0].strip()
        at = m.start() + (len(m[0]) - len(m[0].lstrip()))
        if body or found:
            found.append(Span(at, at + len(body)))
    return found


def columns(text: str, start: int, end: int) -> list[Span]:
    """Give the names of the columns if a line is the first row of a table of levels, else nothing."""
    if text.find("|", start, end) < 0 and text.find("\t", start, end) < 0:
        return []
    row = cells(text, start, end)
    return row if len(row) > 2 and text[row[0].start : row[0].end].lower() in _FIRST else []


def of_levels(text: str, start: int, end: int) -> bool:
    """Whether a line is the first row of a table with a column for each level; such a table is not read."""
    if text.find("|", start, end) < 0 and text.find("\t", start, end) < 0:
        return False
    row = [c for c in cells(text, start, end) if c.end > c.start]
    if row and not _LEVEL.match(text, row[0].start, row[0].end):
        row = row[1:]
    return len(row) > 1 and all(_LEVEL.match(text, c.start, c.end) for c in row)


def row_of(text: str, start: int, end: int, names: list[Span]) -> list[tuple[Span, Span]]:
    """Give the filled cells of a level's row, each with the name of its column; nothing if it is no such row."""
    row = cells(text, start, end)
    if not 2 <= len(row) <= len(names) or not _LEVEL.match(text, row[0].start, row[0].end):
        return []
    pairs = zip(row, names, strict=False)
    return [(c, n) for c, n in pairs if any(ch.isalnum() for ch in text[c.start : c.end])]


def labelled(text: str, tokens: Tokens, column: Span, lex: Lexicon) -> tuple[Tokens, int]:
    """Put the name of the column and a colon before the words of a cell, and say how many words that adds.

    The added words take the place of the cell's first word in the text, so that every span stays in its cell.
    """
    label = tokenise(text, column.start, column.end, lex).words
    words = [*label, ":", *tokens.words]
    size = len(label) + 1
    groups = [Group(g.start + size, g.end + size, g.discs, g.vertebra) for g in tokens.groups]
    return Tokens(words, [tokens.found[0]] * size + tokens.found, groups), size


def drop_bare(parts: Parts, mentions: list[Mention], size: int) -> None:
    """Drop what only the name of the column says (``Annular fissure | not assessed``)."""
    said = parts.words[size] in _SAID
    mentions[:] = [m for m in mentions if m.end > size or m.status != "present" or m.severity or said]
