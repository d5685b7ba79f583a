"""What has no form in columns: worked out once per distinct combination of inputs, by the single-case code.

The inputs are found by watching what the code reads. It starts from nothing; each column that it turns out to
read joins the inputs, and the combinations are drawn again, until nothing new is read. So the answer for a
combination depends on its inputs alone, and the engine joins it back to the cases.

The day of a fact is a column of its own: many answers ask for the value and never for its day, which has many values.
"""

import json
from collections.abc import Callable
from datetime import date
from typing import Any

from msgspec import Struct

from candidacy.assessment.relate import relations_of
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import CHECKED, checked, doubt
from candidacy.case.element import LEVELS, STANDARD_LEVELS
from candidacy.case.facts import CaseFacts, Fact, FactList, Provenance
from candidacy.cohort.columns.fact_columns import FactColumn, cells_from, day_between, decode, encode, layout
from candidacy.cohort.columns.facts_table import NAMING, FactsTable
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Members, Span, Why, point
from candidacy.rules.resolved import RuleSet

# What the code may read: ("fact", element, subject), its ("day", element, subject), ("list", name, "") or ("disc", level, "").
Source = tuple[str, str, str]
# What was read, in the order in which it was first asked for.
Seen = dict[Source, None]


class _Watched(dict[str, Fact]):
    """Facts of a subject that note which columns of the table were asked for."""

    def __init__(self, facts: dict[str, Fact], subject: str, columns: frozenset[str], seen: Seen):
        super().__init__(facts)
        self._subject, self._columns, self._seen = subject, columns, seen

    def _note(self, name: object) -> None:
        if name in self._columns:
            self._seen["fact", str(name), self._subject] = None

    def get(self, name: str, default: Any = None) -> Any:
        self._note(name)
        return super().get(name, default)

    def __getitem__(self, name: str) -> Fact:
        self._note(name)
        return super().__getitem__(name)

    def __contains__(self, name: object) -> bool:
        self._note(name)
        return super().__contains__(name)


class _Dated(Provenance, frozen=True, kw_only=True):
    """A provenance that notes when its day is asked for."""

    when_asked: Callable[[], None]

    def __getattribute__(self, name: str) -> Any:
        if name == "day":
            super().__getattribute__("when_asked")()
        return super().__getattribute__(name)


class RowView(View):
    """A case known only by its columns in a table; it notes every column that is asked for.

    Parameters
    ----------
    facts
        What the columns say, in tables that note what is asked of them in ``seen``.
    holds
        Whether the case has an entry for a disc.
    """

    def __init__(
        self,
        frame: FactsTable,
        rule_set: RuleSet,
        as_of: date,
        facts: CaseFacts,
        holds: Callable[[str], bool],
        seen: Seen,
    ) -> None:
        self.seen, self._frame, self._holds = seen, frame, holds
        super().__init__(facts, as_of, rule_set.setting_values(), rule_set.tables, relations_of(rule_set))

    @property
    def recorded(self) -> frozenset[str]:
        """Every element that any case of the table may hold, so that what is worth reading is read and noted."""
        return self._frame.recorded

    def recorded_near(self, subject: str) -> frozenset[str]:
        return self.recorded

    def entries(self, name: str) -> tuple[bool, list[str]]:
        if name in self._frame.lists:
            self.seen["list", name, ""] = None
        return super().entries(name)

    def levels(self) -> tuple[str, ...]:
        return tuple(level for level in LEVELS if level in STANDARD_LEVELS or self._named(level))

    def named_levels(self) -> tuple[str, ...]:
        return tuple(level for level in self._frame.levels if self._named(level))

    def _named(self, level: str) -> bool:
        if level not in self._frame.levels:
            return False
        if level in self._frame.present:
            self.seen["disc", level, ""] = None
            if self._holds(level):
                return True
        listed = [self.facts.patient.get(element) for element in NAMING]  # as stated, never as worked out
        return any(
            fact and isinstance(fact.value, Members) and level in fact.value.certain for fact in listed
        )


def _view(frame: FactsTable, rule_set: RuleSet, as_of: date, inputs: dict[Source, Any]) -> RowView:
    """A case known by some of its columns alone."""
    seen: Seen = {}
    facts = CaseFacts("row")
    tables: dict[str, dict[str, Fact]] = {}
    for (kind, name, subject), value in inputs.items():
        if kind == "fact" and value is not None:
            day = inputs.get(("day", name, subject))
            tables.setdefault(subject, {})[name] = dated(value, frame.facts[name, subject], day, seen)
        elif kind == "list" and value is not None:
            facts.lists[name] = value

    def watch(subject: str) -> _Watched:
        return _Watched(tables.get(subject, {}), subject, frame.elements.get(subject, frozenset()), seen)

    facts.patient = watch("patient")
    for level in frame.counted_levels:
        facts.discs[level] = watch(level)
    return RowView(frame, rule_set, as_of, facts, lambda level: bool(inputs.get(("disc", level, ""))), seen)


def dated(fact: Fact, column: FactColumn, day: Span | None, seen: Seen) -> Fact:
    """A fact that notes when its day is asked for."""
    if not column.day:
        return fact
    source = ("day", fact.element, fact.subject)

    def note() -> None:
        seen[source] = None

    return replace(fact, provenance=_Dated(kind=fact.provenance.kind, day=day, when_asked=note))


class Lookup(Struct, frozen=True):
    """Answers by combination of inputs; ``keys`` are the SQL of the inputs, empty where nothing is read.

    ``whole`` says that every case has one of the combinations: the answer was wanted for all. Of a table at hand,
    ``places`` says which answer is that of each case, in their order, and there are no combinations.
    """

    keys: tuple[str, ...]
    combinations: list[tuple[Any, ...]]
    answers: list[Any]
    whole: bool
    places: tuple[int | None, ...] | None = None


def look_up(
    frame: FactsTable,
    rule_set: RuleSet,
    as_of: date,
    answer: Callable[[RowView], Any],
    where: str = "",
) -> Lookup:
    """Work an answer out for every distinct combination of what it reads.

    Parameters
    ----------
    answer
        Single-case code; it must be a pure function of the view.
    where
        Two-valued SQL that says for which cases the answer is wanted.
    """
    if frame.rows is not None:
        return frame.rows.look_up(rule_set, as_of, answer, where)
    sources: list[Source] = []
    while True:
        keys, readers = _readers_of(frame, sources)
        drawn = _draw(frame, keys, where)
        answers: list[Any] = []
        fresh: set[Source] = set()
        for number, combination in enumerate(drawn):
            inputs = {each.source: each.read(combination[each.cells]) for each in readers}
            view = _view(frame, rule_set, as_of, inputs)
            answers.append(answer(view))
            fresh |= view.seen.keys() - set(sources)
            if fresh and number >= 200:
                break
        if not fresh:
            return Lookup(tuple(keys), drawn, answers, not where)
        sources += sorted(fresh)


def _draw(frame: FactsTable, keys: list[str], where: str) -> list[tuple[Any, ...]]:
    if not keys:
        return [()]
    named = ", ".join(f"{key} AS k{number}" for number, key in enumerate(keys))
    return frame.engine.rows(
        f"SELECT DISTINCT {named} FROM {frame.relation}" + (f" WHERE {where}" if where else "")
    )


def keys_of(frame: FactsTable, source: Source) -> list[str]:
    """SQL of the cells that a source stands in."""
    kind, name, subject = source
    if kind == "fact":
        return undated(frame.facts[name, subject]).expressions()
    if kind == "day":
        column = frame.facts[name, subject]
        return [column.day, column.last_day] if column.last_day else [column.day]
    if kind == "list":
        return [frame.lists[name].entries, frame.lists[name].complete]
    return [frame.present[name]]


def undated(column: FactColumn) -> FactColumn:
    """The column of a fact without its day, which is a source of its own."""
    return replace(column, day="", last_day="")


class _Reader(Struct, frozen=True):
    """Where a source stands in a combination, and what its cells there say."""

    source: Source
    cells: slice
    read: Callable[[tuple[Any, ...]], Any]


def _readers_of(frame: FactsTable, sources: list[Source]) -> tuple[list[str], list[_Reader]]:
    """The SQL of the cells of some sources, and how each is read from them; made once for many combinations."""
    keys: list[str] = []
    readers = []
    for source in sources:
        own = keys_of(frame, source)
        readers.append(_Reader(source, slice(len(keys), len(keys) + len(own)), _read_of(frame, source)))
        keys += own
    return keys, readers


def _read_of(frame: FactsTable, source: Source) -> Callable[[tuple[Any, ...]], Any]:
    kind, name, subject = source
    if kind == "fact":
        return undated(frame.facts[name, subject]).decode
    if kind == "day":
        return lambda cells: day_between(cells[0], cells[-1])
    if kind == "list":
        return lambda cells: read_list(name, cells[0], bool(cells[1]))
    return lambda cells: bool(cells[0])


def write_list(group: FactList) -> str:
    """Entries of a list as one text, for a column; of one without entries its day."""
    if not group.entries and group.day is not None:
        return json.dumps({"day": _day_said(group.day)})
    return json.dumps(
        [
            {
                name: [
                    list(encode(catalogue()[name], fact.value)),
                    _day_said(fact.provenance.day),
                    fact.why.value if fact.why is not None else None,
                    *_bears_on_doubt(fact),
                ]
                for name, fact in sorted(entry.items())
            }
            for entry in group.entries
        ],
        sort_keys=True,
        separators=(",", ":"),
    )


def _day_said(day: Span | None) -> float | list[float] | None:
    """A day as it is written into a list; both ends of a month or a year."""
    return None if day is None else day.low if day.low == day.high else [day.low, day.high]


def _day_read(day: float | list[float] | None) -> Span | None:
    return None if day is None else Span(day[0], day[1]) if isinstance(day, list) else point(day)


def _bears_on_doubt(fact: Fact) -> list[str]:
    """Note and words of a number, where these decide whether it is doubtful."""
    if checked(fact):
        return [CHECKED]
    return ["", fact.provenance.words] if fact.provenance.words and doubt(fact) else []


def read_list(name: str, entries: str | None, complete: bool) -> FactList | None:
    """Entries of a list from a column; ``None`` where the record has no such list."""
    if entries is None:
        return None
    group, written = FactList(complete), json.loads(entries)
    if isinstance(written, dict):
        group.day = _day_read(written["day"])
        return group
    for number, row in enumerate(written, 1):
        table: dict[str, Fact] = {}
        for element_name, (values, day, why, *told) in row.items():
            element = catalogue()[element_name]
            cells = cells_from(element, [part for part, _ in layout(element)], False)
            value = decode(element, cells, tuple(values))
            provenance = Provenance(
                day=_day_read(day),
                **dict(zip(("note", "words"), told, strict=False)),
            )
            table[element_name] = Fact(
                element_name, f"{name}[{number}]", value, Why(why) if why else None, provenance
            )
        group.entries.append(table)
    return group
