"""Lists of the record (medicines, injections) from a table with one row per entry, in a stream."""

import json
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Table
from functools import lru_cache, partial
from itertools import groupby
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from candidacy.case.element import LISTS
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.cohort.columns.lookups import write_list
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.batches import ParquetFile, rows
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.cells import BadCell, entry_or_unknown
from candidacy.cohort.inputs.dated_cells import dated_entry
from candidacy.cohort.inputs.fractions import refuse_open_fractions
from candidacy.cohort.inputs.mapping import ColumnMap, Mapping, TableMap, canonical
from candidacy.cohort.inputs.mapping_check import check
from candidacy.cohort.inputs.opening import open_table
from candidacy.cohort.inputs.references import case_text
from candidacy.cohort.inputs.sources import FILE, OWN, PLACE, Staged
from candidacy.cohort.inputs.unmatched_rows import Homeless, homeless_cases
from candidacy.cohort.inputs.unread_words import Wordy, tell_words
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, Problem, shorten

_CASES = 5_000  # translated at once
_KEPT = 10_000  # different sets of entries remembered


class EntryTable(Struct, frozen=True):
    """The entries of each case as text in a relation; they are read again where one case is opened.

    Attributes
    ----------
    given, table
        The relation with one row per entry, and what its columns hold.
    case, order
        SQL of the case reference, and of the order of the table.
    """

    engine: Engine
    given: str
    name: str
    table: TableMap
    case: str
    order: str
    # What each cell states, and the problems of those that cannot be read; by column and cell.
    _read: dict[tuple[str, Any], FactEntry | None] = field(default_factory=dict)
    unread: dict[tuple[str, Any], Problem] = field(default_factory=dict)

    @property
    def relation(self) -> str:
        """One row per case: ``…_case``, ``…_entries``, ``…_bad`` and, where an entry is bad, ``…_why``."""
        return f"{self.given}_entries"

    @classmethod
    def read(
        cls, engine: Engine, relation: str, types: dict[str, str], name: str, table: TableMap, folder: Path
    ) -> "EntryTable":
        """Translate all rows; the entries of a case stay in the order of the table."""
        quote = sql.identifier
        order = ", ".join(quote(each) for each in (FILE, PLACE) if each in types)
        made = cls(engine, relation, name, table, case_text(types, table.case_id), order)
        path = folder / f"{made.relation}.parquet"
        with ParquetFile(path) as file:
            file.write(made._batch([]))
            held: list[tuple[str, str, bool, str | None]] = []
            translated = lru_cache(_KEPT)(made._translated)  # many cases have the same entries
            for reference, group in made._cases(folder / f"{relation}.sorted.parquet"):
                held.append((reference, *translated(tuple(tuple(row.values())[1:] for row in group))))
                if len(held) == _CASES:
                    file.write(made._batch(held))
                    held.clear()
            file.write(made._batch(held))
        engine.open_parquet(made.relation, path)
        return made

    def entries(self, reference: str) -> list[dict[str, FactEntry]]:
        """The entries of one case.

        Raises
        ------
        BadCell
            If one cannot be used; such a case was set aside.
        """
        where = f"WHERE {self.case} = {sql.string(reference)}"
        found = self.engine.rows(f"{self._query(where)} ORDER BY {self.order}")
        return [self._entry(row[1:]) for row in found]

    # --- reading

    @property
    def _columns(self) -> list[str]:
        return sorted(self.table.used() - {self.table.case_id})

    def _query(self, where: str) -> str:
        quote = sql.identifier
        cells = "".join(f", {quote(column)} AS cell_{n}" for n, column in enumerate(self._columns))
        return f"SELECT {self.case} AS entry_case{cells} FROM {self.given} {where}"

    def _cases(self, scratch: Path) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
        query = f"{self._query('')} ORDER BY entry_case, {self.order}"
        found = rows(self.engine, query, scratch)
        yield from groupby((row for row in found if row["entry_case"]), lambda row: str(row["entry_case"]))

    def _entry(self, cells: Sequence[Any]) -> dict[str, FactEntry]:
        row, entry = dict(zip(self._columns, cells, strict=True)), {}
        for column, item in self.table.columns.items():
            read = partial(self._cell, column)
            found = dated_entry(row, column, item, self.table, read=read, bad_day=self._bad_day)
            if found is not None:
                entry[item.element] = found
        return entry

    def _cell(self, column: str, raw: Any, item: ColumnMap) -> FactEntry | None:
        key = column, raw
        if key not in self._read:
            self._read[key] = entry_or_unknown(raw, item, lambda problem: self.unread.update({key: problem}))
        return self._read[key]

    def _bad_day(self, column: str, raw: Any, problem: Problem) -> None:
        self.unread[column, raw] = problem

    def unread_cells(self, name: str, scratch: Path) -> Iterator[tuple[str, Problem, Any]]:
        """Cells that could not be read, with the case and what the cell says, in the order of the table."""
        columns = sorted({column for column, _ in self.unread})
        if not columns:
            return
        query = f"SELECT {self.given}.*, {self.case} AS entry_case FROM {self.given} ORDER BY {self.order}"
        for row in rows(self.engine, query, scratch):
            for column in columns:
                found = self.unread.get((column, row[column]))
                if found is not None:
                    file = "/".join(part for part in (name, row.get(FILE)) if part)
                    told = replace(found, file=file, line=int(row[PLACE]), field=shorten(column))
                    yield str(row["entry_case"] or ""), told, row[column]

    def _translated(self, group: tuple[tuple[Any, ...], ...]) -> tuple[str, bool, str | None]:
        """The entries of one case as text, whether they are bad, and the problem."""
        try:
            entries = [self._entry(row) for row in group]
        except BadCell as error:
            return "[]", True, _told(error.problem, error.column)
        record = CaseRecord.model_validate(
            {"schema_version": "1", "id": "list", self.name: {"entries": entries}}
        )
        facts, problems = gather(record)
        if problems:
            (*_, element), problem = problems[0]
            return "[]", True, _told(problem, str(element))
        return write_list(facts.lists[self.name]), False, None

    def _batch(self, held: list[tuple[str, str, bool, str | None]]) -> Any:
        import pyarrow as pa

        kinds = {"case": pa.string(), "entries": pa.string(), "bad": pa.bool_(), "why": pa.string()}
        arrays = [pa.array([row[n] for row in held], kind) for n, kind in enumerate(kinds.values())]
        return pa.RecordBatch.from_arrays(arrays, names=[f"{self.relation}_{each}" for each in kinds])


def open_lists(
    engine: Engine,
    folder: Path,
    lists: Table[str, Staged],
    mapping: Mapping | None,
    patients: Staged,
    table: TableMap,
    types: dict[str, str],
    wordy: list[Wordy],
) -> tuple[dict[str, EntryTable], tuple[Problem, ...], list[Homeless]]:
    """Read the tables of all lists; gives them with notes on columns not read, and entries of no known case."""
    found: dict[str, EntryTable] = {}
    notes: list[Problem] = []
    homeless: list[Homeless] = []
    own = case_text(types, table.case_id)
    for name, staged in lists.items():
        relation = f"list_{name}"
        kinds = open_table(engine, relation, staged)
        columns = [each for each in kinds if each not in OWN]
        mapped = (mapping.table_of(name) if mapping else None) or canonical(
            [*columns, *staged.left_out], LISTS[name]
        )
        unread = check(mapped, columns, LISTS[name], staged.name, staged.left_out)
        notes += tell_words(engine, relation, kinds, mapped, staged.name, unread, wordy)
        refuse_open_fractions(engine, relation, kinds, mapped, staged.name)
        found[name] = EntryTable.read(engine, relation, kinds, name, mapped, folder)
        problem = Problem(
            Code.BAD_TABLE, "an entry of a case that is not in the table of patients", staged.name,
            field=shorten(mapped.case_id), expected=f"a case reference of {patients.name}",
        )  # fmt: skip
        homeless.append(homeless_cases(engine, relation, kinds, mapped.case_id, own, "TRUE", problem))
    return found, tuple(notes), homeless


def _told(problem: Problem, column: str) -> str:
    return json.dumps([problem.code.value, problem.message, column, problem.found, problem.expected])


def problem_of(text: str, name: str, row: int, field: str) -> Problem:
    """The problem of a bad entry, of the row of its case."""
    code, message, column, found, expected = json.loads(text)
    where = f"{field} {column}".strip()
    return Problem(Code(code), message, name, row, field=shorten(where), found=found, expected=expected)
