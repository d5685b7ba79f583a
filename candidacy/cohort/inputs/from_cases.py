"""Case records as a frame: every stated fact in its columns."""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from candidacy.assessment.doubts import lies_after_its_source
from candidacy.assessment.reconcile import reported_apart
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import checked, doubt, words_tell_gravely
from candidacy.case.element import LEVELS
from candidacy.case.facts import Fact
from candidacy.case.load import Case
from candidacy.cohort.columns.fact_columns import FactColumn, cells_from, encode, layout
from candidacy.cohort.columns.facts_table import NAMING, PLACE, FactsTable, ListColumn
from candidacy.cohort.columns.lookups import write_list
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine
from candidacy.foundation.values import Members, Span, Why

_CASES = 2_000  # held before they are written out


class CaseColumns:
    """Gathers cases into columns, written out some thousand at a time; `frame` joins them and names them."""

    def __init__(self, folder: Path, name: str) -> None:
        self._folder, self._name = folder, name
        self._rows: list[dict[str, Any]] = []
        self._parts: list[Path] = []
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
        if len(self._rows) == _CASES:
            self._write_part()

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
            if fact.provenance.day.high != fact.provenance.day.low:
                parts.add("last_day")
                self._kinds[f"{name}|last_day"] = "double"
                row[f"{name}|last_day"] = float(fact.provenance.day.high)
        for part, said in (
            ("apart", reported_apart(element, fact) is not None),
            ("doubtful", bool(doubt(fact))),
            ("grave", words_tell_gravely(element, fact)),
            ("checked", checked(fact)),
            ("later", lies_after_its_source(element, fact)),
        ):
            if said:
                parts.add(part)
                self._kinds[f"{name}|{part}"] = "bool"
                row[f"{name}|{part}"] = True
        if fact.value is None and fact.why is not Why.NOT_RECORDED and fact.why is not None:
            parts.add("why")
            self._kinds[f"{name}|why"] = "text"
            row[f"{name}|why"] = fact.why.value

    def _write_part(self) -> None:
        """Write the columns that the held cases have; those of later cases are added when the parts are joined."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        content = {
            column: pa.array([row.get(column) for row in self._rows], kind)
            for column, kind in self._types().items()
        }
        path = self._folder / f"{self._name}.part{len(self._parts)}.parquet"
        pq.write_table(pa.table(content), path)
        self._parts.append(path)
        self._rows.clear()

    def _at_hand(self, engine: Engine, without: frozenset[str]) -> int:
        """Hand the columns of a few cases to the engine as they are; gives the number of cases."""
        import pyarrow as pa

        rows = [row for row in self._rows if row["case_id"] not in without]
        content = {
            column: pa.array([row.get(column) for row in rows], kind)
            for column, kind in self._types().items()
        }
        place = pa.array(range(len(rows)), pa.int64())
        engine.table(self._name, pa.table({**content, PLACE.strip('"'): place}))
        return len(rows)

    def _types(self) -> dict[str, Any]:
        import pyarrow as pa

        types = {"double": pa.float64(), "long": pa.int64(), "bool": pa.bool_(), "text": pa.string()}
        return {column: types[kind] for column, kind in self._kinds.items()}

    def _join(self, path: Path, without: frozenset[str]) -> int:
        """Write all parts as one file with all columns; gives the number of cases."""
        import pyarrow as pa
        import pyarrow.compute as pc
        import pyarrow.parquet as pq

        self._write_part()
        schema, count = pa.schema(list(self._types().items())), 0
        with pq.ParquetWriter(path, schema) as writer:
            for part in self._parts:
                found = pq.read_table(part)
                if without:
                    unwanted = pc.is_in(found["case_id"], value_set=pa.array(sorted(without), pa.string()))
                    found = found.filter(pc.invert(unwanted))
                given = dict(zip(found.column_names, found.columns, strict=True))
                columns = [
                    given[name] if name in given else pa.nulls(found.num_rows, kind)
                    for name, kind in zip(schema.names, schema.types, strict=True)
                ]
                writer.write_table(pa.table(columns, schema=schema))
                count += found.num_rows
                part.unlink()
        return count

    def frame(
        self, engine: Engine, opener: Callable[[str], Case], without: frozenset[str] = frozenset()
    ) -> FactsTable:
        """Write the columns of all cases but some, and describe them."""
        name, quote = self._name, sql.identifier
        numbered = not self._parts and len(self._rows) <= engine.at_hand
        if numbered:
            count = self._at_hand(engine, without)
        else:
            path = self._folder / f"{name}.parquet"
            count = self._join(path, without)
            engine.open_parquet(name, path)
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
                f"COALESCE({quote(f'{base}|apart')}, FALSE)" if "apart" in parts else "",
                f"COALESCE({quote(f'{base}|doubtful')}, FALSE)" if "doubtful" in parts else sql.FALSE,
                f"COALESCE({quote(f'{base}|grave')}, FALSE)" if "grave" in parts else "",
                f"COALESCE({quote(f'{base}|checked')}, FALSE)" if "checked" in parts else "",
                f"COALESCE({quote(f'{base}|later')}, FALSE)" if "later" in parts else sql.FALSE,
                f"COALESCE({quote(f'{base}|last_day')}, {quote(f'{base}|day')})"
                if "last_day" in parts
                else "",
            )
        return FactsTable(
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
            count,
            numbered,
        )


def frame_of_cases(engine: Engine, folder: Path, cases: Iterable[Case], name: str = "cases") -> FactsTable:
    """A frame of cases held in memory."""
    columns = CaseColumns(folder, name)
    held: dict[str, Case] = {}
    for case in cases:
        held[case.record.id] = case
        columns.add(case)
    return columns.frame(engine, held.__getitem__)
