"""Rows of a table that have no columns to stand in: written to a file as they are met, so memory stays flat."""

import csv
from collections.abc import Iterator
from pathlib import Path

from candidacy.foundation.errors import Code, Problem, shorten

MOST_TOLD = 200
_AT_ONCE = 500
MANY_CELLS = "the row has not as many cells as the header"


class Unreadable:
    """Unreadable rows of one table, in its order.

    Attributes
    ----------
    count
        How many there are.
    """

    def __init__(self, path: Path, name: str) -> None:
        self._path, self._name, self.count = path, name, 0
        self._first: list[Problem] = []
        self._held: list[tuple[int, str, str]] = []

    def add(self, number: int, reason: str, text: str) -> None:
        """Note a row by its number (0 where it is not known), why it cannot be read, and what it says."""
        self._held.append((number, reason, text))
        if len(self._held) >= _AT_ONCE:
            self._write()
        self.count += 1
        if len(self._first) < MOST_TOLD:
            problem = Problem(Code.BAD_TABLE, reason, self._name, number, found=shorten(text))
            self._first.append(problem)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """The first of them, to be told."""
        return tuple(self._first)

    def _write(self) -> None:
        with self._path.open("a", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows(self._held)
        self._held.clear()

    def __iter__(self) -> Iterator[tuple[int, str, str]]:
        self._write()
        if not self.count:
            return
        csv.field_size_limit(1 << 24)
        with self._path.open(encoding="utf-8", newline="") as stream:
            for number, reason, text in csv.reader(stream):
                yield int(number), reason, text
