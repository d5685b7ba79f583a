"""Lines for a file or a pipe, laid out to a width without loading what colours a terminal.

It lays out what is usual: signs of one cell each, no word wider than its column. Anything else is left to
`candidacy.explain.rich_lines`; both give the same text, which tests hold.
"""

import re
from collections.abc import Iterable, Iterator

from candidacy.explain.lines import Line, Pairs

# Latin letters and signs, punctuation, arrows and shapes that take one cell in every terminal.
_USUAL = re.compile(
    r"[\n\x20-\x7e\xa1-\xac\xae-\u02ff\u2010-\u2027\u2030-\u203e\u2190-\u2199\u2200-\u22ff\u25a0-\u25cf\u23ce\u2713-\u2718]*"
)
_WORD = re.compile(r"\s*\S+\s*")
_GAP = 2  # cells between a name and what it stands for


class Unusual(Exception):
    """Text that needs more than this module knows."""


def plain(lines: Iterable[Line | Pairs], width: int) -> str:
    """Lines as text of a width.

    Raises
    ------
    Unusual
        For signs that may take no cell or two, and for words wider than their place.
    """
    found: list[str] = []
    for each in lines:
        if isinstance(each, Pairs):
            found += _columns(each, width)
        elif each.indent:
            inner = width - each.indent
            found += [" " * each.indent + row.ljust(inner) for row in _wrapped(each.text, inner)]
        else:
            found += _wrapped(each.text, width)
    return "".join(f"{row}\n" for row in found)


def _wrapped(text: str, width: int) -> list[str]:
    """A text in rows; blanks between two rows stay at the end of the first as far as they fit."""
    if _USUAL.fullmatch(text) is None:
        raise Unusual
    return [row for line in text.split("\n") for row in _rows(line, width)]


def _rows(line: str, width: int) -> Iterator[str]:
    start = used = 0
    for match in _WORD.finditer(line):
        word = match.group()
        wide = len(word.rstrip())
        if wide > width:
            raise Unusual
        if used and wide > width - used:
            yield _cut(line[start : match.start()], width)
            start, used = match.start(), 0
        used += len(word)
    yield _cut(line[start:], width)


def _cut(row: str, width: int) -> str:
    """A row without the blanks beyond its width."""
    return row if len(row) <= width else row.rstrip().ljust(width)


def _columns(pairs: Pairs, width: int) -> list[str]:
    left = min(max(_widest(name) for name, _ in pairs.rows), pairs.most) + _GAP
    right = max(_widest(words) for _, words in pairs.rows)
    if not right:
        raise Unusual
    excess = left + right - width
    if excess > 0:
        # the wider column gives way until both are equal, then both do
        wider = max(0, min(excess, abs(left - right)))
        left, right = (left - wider, right) if left > right else (left, right - wider)
        excess -= wider
        half = round(excess / 2)
        left, right = left - half, right - (excess - half)
    found: list[str] = []
    for name, words in pairs.rows:
        names, told = _wrapped(name, left - _GAP), _wrapped(words, right)
        for place in range(max(len(names), len(told))):
            before = names[place] if place < len(names) else ""
            after = told[place] if place < len(told) else ""
            found.append(before.ljust(left) + after.ljust(right))
    return found


def _widest(text: str) -> int:
    return max(len(line) for line in text.split("\n"))
