"""A row of letters read from left to right by the productions of the clause grammar, clause by clause."""

import itertools
import re
from functools import cache, lru_cache
from typing import NamedTuple

from candidacy.reading.clause_data import clause_data

_STOP = re.compile(r";|X(?!P*L)")
_REFUSED = "never"
_PURPOSE = "u"
_PARTLY = frozenset("Ff")
_QUIET = 2
"""So many steps in a row may change the standing without using a letter."""


class Production(NamedTuple):
    """One step of reading a row of letters, from one standing to another."""

    id: str
    row: re.Pattern[str]
    to: str


@cache
def _productions() -> dict[str, tuple[Production, ...]]:
    data = clause_data()
    found: dict[str, list[Production]] = {}
    for row in data["status"]:
        pattern = row["row"]
        for name, letters in data["parts"].items():
            pattern = pattern.replace(f"{{{name}}}", letters)
        found.setdefault(row["from"], []).append(Production(row["id"], re.compile(pattern), row["to"]))
    return {name: tuple(rows) for name, rows in found.items()}


def clauses_of(letters: str) -> list[tuple[int, int]]:
    """Cut a row at stops and at words that turn against what was said."""
    cuts = [-1, *(m.start() for m in _STOP.finditer(letters)), len(letters)]
    return [(a + 1, b) for a, b in itertools.pairwise(cuts) if b > a + 1]


@lru_cache(maxsize=4096)
def stuck(letters: str) -> tuple[int, int] | None:
    """Read a clause by the productions; nothing if all letters are used.

    Otherwise the letter at which none goes on, and from where on the clause is not understood: where a denial or a
    doubt does not end as it should, what was said before it stands; what something was done for says nothing of what
    was done; else all of the clause.
    """
    at, standing, left = 0, "open", 0
    productions = _productions()
    quiet = 0
    while at < len(letters):
        step = next(
            (
                (p, m.end())
                for p in productions[standing]
                for m in [p.row.match(letters, at)]
                if m is not None and (m.end() > at or p.to != standing)
            ),
            None,
        )
        if step is None or step[0].to == _REFUSED or quiet > _QUIET:
            if letters[at] in _PARTLY and standing != "open":
                return at, left
            return at, at if letters[at] == _PURPOSE else 0
        production, end = step
        quiet = quiet + 1 if end == at else 0
        if standing == "open" and production.to != "open":
            left = at
        at, standing = end, production.to
    return None
