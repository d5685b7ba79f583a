"""What the single-case evaluation answered for each combination of inputs, as columns beside the cases."""

from collections.abc import Callable
from typing import Any

from candidacy.cohort.columns.facts_table import PLACE, FactsTable
from candidacy.cohort.columns.lookups import Lookup
from candidacy.cohort.columns.stack import Join
from candidacy.cohort.engines import sqltext as sql

# Answers to so few combinations stand in the expression itself; more are joined.
_FEW_KEYS = 2
_FEW_ANSWERS = 16


class JoinedAnswers:
    """Answers of lookups over one frame.

    Parameters
    ----------
    prefix
        Keeps the tables of several readings of one frame apart.
    define
        Makes an expression a column that is worked out once.
    """

    def __init__(self, frame: FactsTable, prefix: str, define: Callable[[str], str]) -> None:
        self._rows, self._engine = frame.rows, frame.engine
        self._prefix, self._define = prefix, define
        self._joins: list[Join] = []
        # answers for each row of a table at hand that are not joined yet, by name, and the names of all there are
        self._pending: dict[str, Any] = {}
        self._said: dict[tuple[str, tuple[Any, ...]], str] = {}

    @property
    def joins(self) -> tuple[Join, ...]:
        """Tables of answers beside the cases."""
        if self._rows is not None and self._pending:
            import pyarrow as pa

            alias = f"{self._prefix}_answers{len(self._joins)}"
            places = pa.array(range(self._rows.count), pa.int64())
            self._engine.table(alias, pa.table({f"{alias}_row": places, **self._pending}))
            on = f"LEFT JOIN {alias} ON {alias}_row = {PLACE}"
            self._joins.append(Join(on, tuple(self._pending), alias))
            self._pending = {}
        return tuple(self._joins)

    def join(self, found: Lookup, rows: list[tuple[Any, ...]], kinds: list[str]) -> list[str]:
        """Join answers to the cases by their inputs; gives the SQL of the answer columns."""
        engine = self._engine
        if not found.keys:
            return [sql.literal(value, kind) for value, kind in zip(rows[0], kinds, strict=True)]
        if found.places is not None:
            return [
                self._answered(found, found.places, [row[number] for row in rows], kind)
                for number, kind in enumerate(kinds)
            ]
        if len(found.keys) <= _FEW_KEYS and len(rows) <= _FEW_ANSWERS:
            return [
                self._define(_case(found, [row[number] for row in rows], kind))
                for number, kind in enumerate(kinds)
            ]
        import pyarrow as pa

        alias = f"{self._prefix}_lookup{len(self._joins)}"
        columns: dict[str, Any] = {
            f"{alias}_k{number}": pa.array([combination[number] for combination in found.combinations])
            for number in range(len(found.keys))
        }
        names, joined = [], []
        for number, kind in enumerate(kinds):
            values = [row[number] for row in rows]
            name = _told_alone(found, values, kind)
            if not name:
                name = f"{alias}_a{number}"
                columns[name] = pa.array(values, _type(kind))
                joined.append(name)
            names.append(name)
        if not joined:
            return names
        engine.table(alias, pa.table(columns))
        on = " AND ".join(
            f"{key} IS NOT DISTINCT FROM {alias}_k{number}" for number, key in enumerate(found.keys)
        )
        self._joins.append(Join(f"LEFT JOIN {alias} ON {on}", tuple(joined)))
        return names

    def _answered(self, found: Lookup, places: tuple[int | None, ...], values: list[Any], kind: str) -> str:
        """One of the answers for each row of a table at hand, as a column."""
        alone = _told_alone(found, values, kind)
        if alone:
            return alone
        import pyarrow as pa

        said = tuple(values[place] if place is not None else None for place in places)
        name = self._said.get((kind, said))
        if name is None:
            name = self._said[kind, said] = f"{self._prefix}_said{len(self._said)}"
            self._pending[name] = pa.array(said, _type(kind))
        return name


def _type(kind: str) -> Any:
    import pyarrow as pa

    return {"double": pa.float64(), "long": pa.int64(), "bool": pa.bool_(), "text": pa.string()}[kind]


def _told_alone(found: Lookup, values: list[Any], kind: str) -> str:
    """Answers that need no table of combinations: the same for every case, or the number that was looked up; else empty.

    Where the answer was wanted for some cases only, the others have none.
    """
    if all(value == values[0] for value in values) and (found.whole or values[0] is None):
        return sql.literal(values[0], kind)
    if kind == "double" and found.whole and len(found.keys) == 1 and found.places is None:
        same = all(
            value is given or (isinstance(given, float) and value == given)
            for value, given in zip(values, (key for (key,) in found.combinations), strict=True)
        )
        return found.keys[0] if same else ""
    return ""


def _case(found: Lookup, values: list[Any], kind: str) -> str:
    """Answers to a few combinations as one expression."""
    alone = _told_alone(found, values, kind)
    if alone:
        return alone
    arms = []
    for combination, value in zip(found.combinations, values, strict=True):
        if value is not None:
            same = " AND ".join(
                sql.equals(key, part) for key, part in zip(found.keys, combination, strict=True)
            )
            arms.append(f"WHEN {same} THEN {sql.literal(value, kind)}")
    return f"CASE {' '.join(arms)} END"
