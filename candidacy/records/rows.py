"""Rows of the lists in a database, and in memory."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Table, delete, select
from sqlalchemy.dialects import postgresql, sqlite

from candidacy.records.lists import Row


class DatabaseRows:
    """Rows of the lists in a database, within one transaction; see `candidacy.records.lists.Rows`."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._insert = sqlite.insert if connection.dialect.name == "sqlite" else postgresql.insert

    def get(self, table: Table, *key: Any) -> Row | None:
        found = select(table).where(
            *(column == part for column, part in zip(table.primary_key, key, strict=True))
        )
        row = self._connection.execute(found).mappings().first()
        return None if row is None else dict(row)

    def put(self, table: Table, row: Row) -> None:
        keys = [column.name for column in table.primary_key]
        added = self._insert(table).values(row)
        rest = {name: added.excluded[name] for name in row if name not in keys}
        self._connection.execute(
            added.on_conflict_do_update(index_elements=keys, set_=rest)
            if rest
            else added.on_conflict_do_nothing()
        )

    def drop(self, table: Table, **equal: Any) -> None:
        self._connection.execute(delete(table).where(*_equal(table, equal)))

    def where(self, table: Table, **equal: Any) -> Iterable[Row]:
        found = select(table).where(*_equal(table, equal)).order_by(*table.primary_key)
        return [dict(row) for row in self._connection.execute(found).mappings()]


class MemoryRows:
    """Rows of the lists in memory, for one table each a dictionary by key."""

    def __init__(self) -> None:
        self.tables: dict[str, dict[tuple[Any, ...], Row]] = defaultdict(dict)
        self._of: dict[tuple[str, str], set[tuple[Any, ...]]] = defaultdict(
            set
        )  # keys by table and reference

    def get(self, table: Table, *key: Any) -> Row | None:
        found = self.tables[table.name].get(key)
        return None if found is None else dict(found)

    def put(self, table: Table, row: Row) -> None:
        key = tuple(row[column.name] for column in table.primary_key)
        self.tables[table.name][key] = dict(row)
        if "reference" in row:
            self._of[table.name, row["reference"]].add(key)

    def drop(self, table: Table, **equal: Any) -> None:
        for row in self.where(table, **equal):
            key = tuple(row[column.name] for column in table.primary_key)
            del self.tables[table.name][key]
            if "reference" in row:
                self._of[table.name, row["reference"]].discard(key)

    def where(self, table: Table, **equal: Any) -> Iterable[Row]:
        rows = self.tables[table.name]
        keys = self._of[table.name, equal["reference"]] if "reference" in equal else rows.keys()
        return [
            dict(rows[key])
            for key in sorted(keys)
            if all(rows[key][name] == part for name, part in equal.items())
        ]


def _equal(table: Table, equal: dict[str, Any]) -> list[Any]:
    return [table.c[name] == part for name, part in equal.items()]
