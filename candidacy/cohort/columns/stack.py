"""Named expressions over a relation as one query: in layers, each of which carries only what is read above it.

An engine plans every column of every layer, so a column that nobody reads costs as much as one that counts.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from msgspec import Struct

from candidacy.cohort.engines.sqltext import identifier

_WORD = r"[A-Za-z_]\w*"
# Strings are passed over, so that a word of theirs is no name.
_TOKENS = re.compile(rf"""'(?:[^']|'')*'|"((?:[^"]|"")*)"|({_WORD})""")


class Join(Struct, frozen=True):
    """A table of answers joined to the cases, one row of it to each at most; ``columns`` are what it adds.

    ``in_rows`` is the table itself where it has a row for each case, in their order.
    """

    sql: str
    columns: tuple[str, ...]
    in_rows: str = ""


@lru_cache(maxsize=50_000)
def names_in(expression: str) -> frozenset[str]:
    """Every word of an expression that may be the name of a column, and some that are not."""
    found = (match[1] or match[2] for match in _TOKENS.finditer(expression) if match.lastindex)
    return frozenset(name.replace('""', '"') for name in found)


class Stack:
    """What a query reads of some definitions, in the order in which it can be worked out.

    Parameters
    ----------
    chosen
        SQL of what the query gives, and of whatever else it looks at.
    definitions
        Expressions by the names of their columns; they may read each other, without a circle.
    columns
        Names of the columns of the relation beneath.
    joins
        Tables of answers, of which only those are joined that anything reads.
    """

    def __init__(
        self,
        chosen: Iterable[str],
        definitions: Mapping[str, str],
        columns: Iterable[str],
        joins: Sequence[Join],
    ) -> None:
        self._below = frozenset(columns)
        # what the relation beneath has is not worked out again
        self._definitions = {name: text for name, text in definitions.items() if name not in self._below}
        self._joined = {name: join for join in joins for name in join.columns if name not in self._below}
        self._depth: dict[str, int] = {}
        self._last: dict[str, int] = {}
        self.top = frozenset(name for text in chosen for name in self._read(text))
        self._depths = 1 + max((self._place(name) for name in sorted(self.top)), default=-1)
        for name in self.top:
            self._last[name] = self._depths
        for name, depth in self._depth.items():
            for read in self._read(self._definitions[name]):
                self._last[read] = max(self._last.get(read, -1), depth)
        self._joins = tuple(dict.fromkeys(self._joined[name] for name in self._last if name in self._joined))

    @property
    def made(self) -> list[str]:
        """Definitions that are read, from those that read nothing but the relation beneath upwards."""
        return sorted(self._depth, key=lambda name: self._depth[name])

    @property
    def joins(self) -> tuple[Join, ...]:
        """Tables of answers of which any is read."""
        return self._joins

    @property
    def joined(self) -> list[str]:
        """Columns of the tables of answers of which any is read."""
        return [name for join in self._joins for name in join.columns]

    def reads(self, name: str) -> frozenset[str]:
        """Columns that a definition reads itself."""
        return self._read(self._definitions[name])

    def definition(self, name: str) -> str:
        """The expression of a column."""
        return self._definitions[name]

    def over(self, source: str) -> str:
        """The query's FROM: the layers over a relation that has the columns it needs."""
        source = " ".join((source, *(join.sql for join in self._joins)))
        carried = [name for name in self._last if name not in self._definitions]
        for depth in range(self._depths):
            carried = [name for name in carried if self._last[name] > depth]
            here = [name for name, at in self._depth.items() if at == depth]
            made = [f"{self._definitions[name]} AS {identifier(name)}" for name in here]
            # a relation without columns is none
            chosen = [*map(identifier, carried), *made] or ["1 AS nothing"]
            source = f"(SELECT {', '.join(chosen)} FROM {source}) AS layer{depth}"
            carried += here
        return source

    def steps(self, tables: Mapping[str, str], name: str) -> tuple[dict[str, str], str]:
        """Each layer as a query of its own, by the name that its answer must have for those above; and the query's FROM over them.

        ``tables`` says where each column beneath stands, which all have one row for each case, in one order.
        """
        where, found = dict(tables), dict[str, str]()
        for depth in range(self._depths):
            here = [column for column, at in self._depth.items() if at == depth]
            read = frozenset().union(*(self._read(self._definitions[column]) for column in here))
            made = ", ".join(f"{self._definitions[column]} AS {identifier(column)}" for column in here)
            # what reads no column still has a row for each case
            over = in_rows(where[column] for column in sorted(read)) or next(iter(tables.values()))
            found[f"{name}{depth}"] = f"SELECT {made} FROM {over}"
            where |= dict.fromkeys(here, f"{name}{depth}")
        return found, in_rows(where[column] for column in sorted(self.top))

    def _read(self, expression: str) -> frozenset[str]:
        names = names_in(expression)
        return frozenset(
            name for name in names if name in self._definitions or name in self._below or name in self._joined
        )

    def _place(self, name: str) -> int:
        """The layer of a column, the lowest that has everything it reads; columns beneath stand under them all."""
        if name not in self._definitions:
            return -1
        if name not in self._depth:
            below = [self._place(read) for read in sorted(self._read(self._definitions[name]))]
            self._depth[name] = 1 + max(below, default=-1)
        return self._depth[name]


def in_rows(tables: Iterable[str]) -> str:
    """Tables beside each other, row by row: small ones that were made from each other without a change of order."""
    return " POSITIONAL JOIN ".join(dict.fromkeys(tables))
