"""Lists of the record (medicines, injections) from a table with one row per entry."""

from dataclasses import dataclass
from typing import Any

from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort.cells import BadCell, entry_of
from candidacy.cohort.engines import Engine
from candidacy.cohort.lookups import write_list
from candidacy.cohort.mapping import TableMap
from candidacy.cohort.sources import PLACE
from candidacy.errors import Problem


@dataclass
class EntryTable:
    """Entries by case, and the relation that holds them as text.

    ``problems`` are those of cases with an entry that cannot be used, by case reference.
    """

    relation: str
    entries: dict[str, list[dict[str, FactEntry]]]
    problems: dict[Any, Problem]

    @classmethod
    def read(cls, engine: Engine, relation: str, name: str, table: TableMap) -> "EntryTable":
        """Read all rows; the entries of a case stay in the order of the table."""
        import pyarrow as pa

        quote = engine.dialect.identifier
        case = f"CAST({quote(table.case_id)} AS {engine.dialect.text_type})"
        columns = list(table.columns)
        chosen = ", ".join([case, *(quote(column) for column in columns)])
        entries: dict[str, list[dict[str, FactEntry]]] = {}
        problems: dict[Any, Problem] = {}
        for reference, *cells in engine.rows(f"SELECT {chosen} FROM {relation} ORDER BY {quote(PLACE)}"):
            entry: dict[str, FactEntry] = {}
            for column, cell in zip(columns, cells, strict=True):
                item = table.columns[column]
                try:
                    found = entry_of(cell, item)
                except BadCell as error:
                    problems[reference] = error.problem
                    continue
                if found is not None:
                    entry[item.element] = found
            entries.setdefault(reference, []).append(entry)
        texts, bad = [], []
        for reference, rows in entries.items():
            record = CaseRecord.model_validate({"schema_version": "1", "id": "list", name: {"entries": rows}})
            facts, found_problems = gather(record)
            if found_problems:
                problems[reference] = found_problems[0][1]
            texts.append(write_list(facts.lists[name]))
            bad.append(reference in problems)
        made = f"{relation}_entries"
        content = {
            f"{made}_case": pa.array(list(entries), pa.string()),
            f"{made}_entries": pa.array(texts, pa.string()),
            f"{made}_bad": pa.array(bad, pa.bool_()),
        }
        engine.table(made, pa.table(content))
        return cls(made, entries, problems)
