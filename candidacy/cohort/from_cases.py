"""Case records as a frame: every stated fact in its columns."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from candidacy.case.catalogue import LEVELS, catalogue
from candidacy.case.facts import Fact
from candidacy.case.load import Case
from candidacy.cohort.columns import FactColumn, cells_from, encode, layout
from candidacy.cohort.engines import Engine
from candidacy.cohort.frame import NAMING, Frame, ListColumn
from candidacy.cohort.lookups import write_list
from candidacy.values import Members, Span, Why


class CaseColumns:
    """Gathers cases into columns; `frame` writes them out and names them."""

    def __init__(self) -> None:
        self._rows: list[dict[str, Any]] = []
        self._kinds: dict[str, str] = {"case_id": "text"}
        self._vague: set[tuple[str, str]] = set()
        self._facts: dict[tuple[str, str], set[str]] = {}
        self._levels: set[str] = set()
        self._lists: set[str] = set()

    def add(self, case: Case) -> None:
        """Add one case."""
        row: dict[str, Any] = {"case_id": case.record.id}
        for fact in (
            *case.facts.patient.values(),
            *(f for t in case.facts.discs.values() for f in t.values()),
        ):
            self._add_fact(row, fact)
        for level in case.facts.discs:
            self._levels.add(level)
            self._kinds[f"disc {level}"] = "bool"
            row[f"disc {level}"] = True
        for name, group in case.facts.lists.items():
            self._lists.add(name)
            self._kinds |= {f"list {name}": "text", f"list {name}|complete": "bool"}
            row[f"list {name}"] = write_list(group)
            row[f"list {name}|complete"] = group.complete
        self._rows.append(row)

    def _add_fact(self, row: dict[str, Any], fact: Fact) -> None:
        element = catalogue()[fact.element]
        key = fact.element, fact.subject
        name = f"{fact.element}@{fact.subject}"
        parts = self._facts.setdefault(key, set())
        for (suffix, kind), value in zip(layout(element), encode(element, fact.value), strict=True):
            self._kinds[name + suffix] = kind
            row[name + suffix] = value
        if isinstance(fact.value, Span) and not fact.value.exact:
            self._vague.add(key)
        if fact.element in NAMING and isinstance(fact.value, Members):
            self._levels |= fact.value.certain
        if fact.provenance.day is not None:
            parts.add("day")
            self._kinds[f"{name}|day"] = "double"
            row[f"{name}|day"] = float(fact.provenance.day.low)
        if fact.value is None and fact.why is not Why.NOT_RECORDED and fact.why is not None:
            parts.add("why")
            self._kinds[f"{name}|why"] = "text"
            row[f"{name}|why"] = fact.why.value

    def frame(self, engine: Engine, folder: Path, name: str, opener: Callable[[str], Case]) -> Frame:
        """Write the columns and describe them."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        types = {"double": pa.float64(), "long": pa.int64(), "bool": pa.bool_(), "text": pa.string()}
        columns = {
            column: pa.array([row.get(column) for row in self._rows], types[kind])
            for column, kind in self._kinds.items()
        }
        path = folder / f"{name}.parquet"
        pq.write_table(pa.table(columns), path)
        engine.open_parquet(name, path)
        quote = engine.dialect.identifier
        facts = {}
        for (element_name, subject), parts in self._facts.items():
            element = catalogue()[element_name]
            base = f"{element_name}@{subject}"
            names = [quote(base + suffix) for suffix, _ in layout(element)]
            facts[element_name, subject] = FactColumn(
                element,
                subject,
                cells_from(element, names, (element_name, subject) not in self._vague),
                quote(f"{base}|day") if "day" in parts else "",
                quote(f"{base}|why") if "why" in parts else "",
            )
        return Frame(
            engine,
            name,
            quote("case_id"),
            facts,
            {
                level: f"COALESCE({quote(f'disc {level}')}, FALSE)"
                for level in LEVELS
                if f"disc {level}" in self._kinds
            },
            tuple(level for level in LEVELS if level in self._levels),
            opener,
            {
                each: ListColumn(quote(f"list {each}"), f"COALESCE({quote(f'list {each}|complete')}, FALSE)")
                for each in sorted(self._lists)
            },
            len(self._rows),
        )


def frame_of_cases(engine: Engine, folder: Path, cases: Iterable[Case], name: str = "cases") -> Frame:
    """A frame of cases held in memory."""
    columns = CaseColumns()
    held: dict[str, Case] = {}
    for case in cases:
        held[case.record.id] = case
        columns.add(case)
    return columns.frame(engine, folder, name, held.__getitem__)
