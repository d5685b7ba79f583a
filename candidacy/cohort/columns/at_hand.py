"""The cells of a small table in memory: what has no form in columns is worked out row by row, without a query for each answer.

To draw the combinations of inputs of a hundred lookups, and to join their answers, takes longer than to read some
hundred rows. The code reads a whole row, which notes what it is asked; a row with the same values there has the same answer.
"""

from collections.abc import Callable
from datetime import date
from typing import Any, NoReturn

from candidacy.case.facts import CaseFacts, Fact
from candidacy.cohort.columns.fact_columns import FactColumn, day_between
from candidacy.cohort.columns.facts_table import PLACE, FactsTable
from candidacy.cohort.columns.lookups import (
    Lookup,
    RowView,
    Seen,
    Source,
    dated,
    keys_of,
    read_list,
    undated,
)
from candidacy.foundation.errors import EngineError
from candidacy.rules.resolved import RuleSet


class RowsAtHand:
    """The rows of a frame in one order, each as a record that notes what is asked of it; ``count`` is how many there are."""

    def __init__(self, frame: FactsTable, relation: str) -> None:
        self._frame, self._relation = frame, relation
        sources: list[Source] = []
        for name, subject in frame.facts:
            sources.append(("fact", name, subject))
            if frame.facts[name, subject].day:
                sources.append(("day", name, subject))
        sources += [("list", name, "") for name in frame.lists]
        sources += [("disc", level, "") for level in frame.present]
        self._cells: dict[Source, slice] = {}
        asked: list[str] = []
        for source in sources:
            keys = keys_of(frame, source)
            self._cells[source] = slice(len(asked), len(asked) + len(keys))
            asked += keys
        named = "".join(f", {key} AS k{number}" for number, key in enumerate(asked))
        found = frame.engine.arrow(f"SELECT {PLACE}{named} FROM {relation} ORDER BY {PLACE}")
        self._columns, self.count = found.columns[1:], int(found.num_rows)
        self._values: dict[Source, list[tuple[Any, ...]]] = {}
        self._wanted: dict[str, list[int]] = {}
        self._undated = {key: undated(column) for key, column in frame.facts.items()}
        self.seen: Seen = {}
        self._facts: dict[int, CaseFacts] = {}

    @classmethod
    def of(cls, frame: FactsTable) -> "tuple[str, RowsAtHand]":
        """The rows of a frame, and the relation in which each has its number."""
        relation = frame.relation
        if not frame.numbered:
            relation = f"{frame.relation}_at_hand"
            numbered = f"SELECT *, ROW_NUMBER() OVER () - 1 AS {PLACE} FROM {frame.relation}"
            frame.engine.keep({relation: numbered})
        return relation, cls(frame, relation)

    def values(self, source: Source) -> list[tuple[Any, ...]]:
        """What stands in the cells of a source, row by row."""
        if source not in self._values:
            columns = self._columns[self._cells[source]]
            self._values[source] = list(zip(*(column.to_pylist() for column in columns), strict=True))
        return self._values[source]

    def fact(self, row: int, name: str, subject: str) -> Fact | None:
        """A fact as a row states it."""
        found = self._undated[name, subject].decode(self.values(("fact", name, subject))[row])
        if found is None:
            return None
        column: FactColumn = self._frame.facts[name, subject]
        days = self.values(("day", name, subject))[row] if column.day else (None,)
        return dated(found, column, day_between(days[0], days[-1]), self.seen)

    def look_up(self, rule_set: RuleSet, as_of: date, answer: Callable[[RowView], Any], where: str) -> Lookup:
        """Work an answer out for every row that wants it; see `candidacy.cohort.columns.lookups.look_up`."""
        paths, answers = _Paths(self.values), list[Any]()
        own: dict[int, int] = {}
        for row in self._rows(where):
            place = paths.find(row)
            if place is None:
                place = len(answers)
                self.seen.clear()
                answers.append(answer(self._view(row, rule_set, as_of)))
                paths.keep(row, list(self.seen), place)
            own[row] = place
        # an answer holds for every row of the same inputs
        places = tuple(own[row] if row in own else paths.find(row) for row in range(self.count))
        return Lookup(tuple(map(str, paths.read)), [], answers, None not in places, places)

    def _rows(self, where: str) -> list[int]:
        """The rows for which an answer is wanted."""
        if not where:
            return list(range(self.count))
        if where not in self._wanted:
            drawn = self._frame.engine.rows(
                f"SELECT {PLACE} FROM {self._relation} WHERE {where} ORDER BY {PLACE}"
            )
            self._wanted[where] = [row for (row,) in drawn]
        return self._wanted[where]

    def _view(self, row: int, rule_set: RuleSet, as_of: date) -> RowView:
        if row not in self._facts:
            self._facts[row] = self._read(row)

        def holds(level: str) -> bool:
            return bool(self.values(("disc", level, ""))[row][0])

        return RowView(self._frame, rule_set, as_of, self._facts[row], holds, self.seen)

    def _read(self, row: int) -> CaseFacts:
        frame, facts = self._frame, CaseFacts("row")
        facts.patient = _Cells(self, row, "patient", frame.elements.get("patient", frozenset()))
        for level in frame.counted_levels:
            facts.discs[level] = _Cells(self, row, level, frame.elements.get(level, frozenset()))
        for name in frame.lists:
            entries, complete = self.values(("list", name, ""))[row]
            group = read_list(name, entries, bool(complete))
            if group is not None:
                facts.lists[name] = group
        return facts


class _Cells(dict[str, Fact]):
    """Facts of a subject of one row, read when they are asked for, which is noted."""

    def __init__(self, rows: RowsAtHand, row: int, subject: str, columns: frozenset[str]) -> None:
        super().__init__()
        self._rows, self._row, self._subject, self._columns = rows, row, subject, columns
        self._made: dict[str, Fact | None] = {}

    def get(self, name: str, default: Any = None) -> Any:
        if name not in self._columns:
            return default
        self._rows.seen["fact", name, self._subject] = None
        if name not in self._made:
            self._made[name] = self._rows.fact(self._row, name, self._subject)
        found = self._made[name]
        return default if found is None else found

    def __getitem__(self, name: str) -> Fact:
        found: Fact | None = self.get(name)
        if found is None:
            raise KeyError(name)
        return found

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None

    def __bool__(self) -> bool:
        return True

    def _all(self) -> NoReturn:
        raise EngineError("what goes through all facts of a row reads them without a note")

    __len__ = __iter__ = keys = values = items = _all


class _Paths:
    """Answers by what was read on the way to them: which column next follows from the values before.

    ``read`` holds every source that was read.
    """

    def __init__(self, values: Callable[[Source], list[tuple[Any, ...]]]) -> None:
        self._values = values
        self.read: dict[Source, None] = {}
        self._start: Any = None

    def find(self, row: int) -> int | None:
        """The answer of a row that has the values of an earlier one wherever that was read."""
        here = self._start
        while type(here) is _Fork:
            here = here.ways.get(here.values[row])
        return here  # type: ignore[no-any-return]

    def keep(self, row: int, seen: list[Source], place: int) -> None:
        """Note what the answer of a row rests on."""
        self.read |= dict.fromkeys(seen)
        forks: list[_Fork] = []
        here = self._start
        for source in seen:
            if here is None:
                here = _Fork(source, self._values(source))
                self._put(forks, row, here)
            if type(here) is not _Fork or here.source != source:
                return  # it read something else with the same values before it: its answer is its own
            forks.append(here)
            here = here.ways.get(here.values[row])
        if here is None:
            self._put(forks, row, place)

    def _put(self, forks: "list[_Fork]", row: int, what: Any) -> None:
        if forks:
            forks[-1].ways[forks[-1].values[row]] = what
        else:
            self._start = what


class _Fork:
    """A source that is read next, and where each value of it leads: to another, or to an answer."""

    __slots__ = ("source", "values", "ways")

    def __init__(self, source: Source, values: list[tuple[Any, ...]]) -> None:
        self.source, self.values = source, values
        self.ways: dict[tuple[Any, ...], Any] = {}
