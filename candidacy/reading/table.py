"""Tables in a report: a first row that names the columns, then a row for each level, cells apart by bars or tabs."""

import re

from candidacy.reading.levels import PATTERN
from candidacy.reading.lexer import Group, Tokens, tokenise
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import Span

_CELL = re.compile(r"[^|\t]+")
FIRST = frozenset(("level", "levels", "disc level", "disk level", "disc", "disk", "segment", "interspace"))
"""Names of the first column of a table of levels."""
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
    return row if len(row) > 2 and text[row[0].start : row[0].end].lower() in FIRST else []


def row_of(text: str, start: int, end: int, names: list[Span]) -> list[tuple[Span, Span]]:
    """Give the filled cells of a level's row, each with the name of its column; nothing if it is no such row."""
    row = cells(text, start, end)
    if not 2 <= len(row) <= len(names) or not _LEVEL.match(text, row[0].start, row[0].end):
        return []
    pairs = zip(row, names, strict=False)
    return [(c, n) for c, n in pairs if any(ch.isalnum() for ch in text[c.start : c.end])]


def labelled(
    text: str, tokens: Tokens, column: Span | None, lex: Lexicon, level: Span | None = None
) -> tuple[Tokens, int]:
    """Put the name of the column and a colon before the words of a cell, and say how many words that adds.

    A ``level`` that heads the column is put before its name in the same way.

    The added words take the place of the cell's first word in the text, so that every span stays in its cell.
    """
    over = tokenise(text, level.start, level.end, lex) if level is not None else None
    label = [*over.words, ":"] if over is not None else []
    label += [*tokenise(text, column.start, column.end, lex).words, ":"] if column is not None else []
    words = [*label, *tokens.words]
    size = len(label)
    groups = list(over.groups) if over is not None else []
    groups += [Group(g.start + size, g.end + size, g.discs, g.vertebra) for g in tokens.groups]
    return Tokens(words, [tokens.found[0]] * size + tokens.found, groups), size


def drop_bare(parts: Parts, mentions: list[Mention], size: int) -> None:
    """Drop what only the name of the column says (``Annular fissure | not assessed``)."""
    said = parts.words[size] in _SAID
    mentions[:] = [m for m in mentions if m.end > size or m.status != "present" or m.severity or said]
