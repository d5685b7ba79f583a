"""Rows that were set aside: every one in a file, with its row number, its columns and the reason."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.batches import rows
from candidacy.cohort.inputs.entry_lists import problem_of
from candidacy.cohort.inputs.intake import Fault
from candidacy.cohort.inputs.sources import FILE, OWN, PLACE, Staged
from candidacy.cohort.inputs.tables import OpenedTable, shown_column
from candidacy.cohort.inputs.unreadable import MOST_TOLD
from candidacy.foundation.errors import Code, Problem, shorten
from candidacy.foundation.spreadsheet import guarded


@dataclass
class Told:
    """How much was set aside, and the first few hundred problems."""

    rows: int = 0
    elsewhere: int = 0
    problems: list[Problem] = field(default_factory=list)

    def tell(self, *problems: Problem) -> None:
        self.problems += problems[: MOST_TOLD - len(self.problems)]


def faulty_rows(
    opened: OpenedTable, faults: list[Fault], name: str, scratch: Path
) -> Iterator[tuple[dict[str, Any], list[tuple[Fault, Problem]]]]:
    """Rows that have any of these faults and what is wrong, in the order of the table."""
    if not faults:
        return
    intake = opened.intake
    quote = sql.identifier
    flags = [f"COALESCE({fault.where}, FALSE) AS faulty_{n}" for n, fault in enumerate(faults)]
    flags += [f"{fault.told_by} AS faulty_{n}_why" for n, fault in enumerate(faults) if fault.told_by]
    any_fault = sql.any_of(f"COALESCE({fault.where}, FALSE)" for fault in faults)
    order = ", ".join(quote(each) for each in (FILE, PLACE) if each in intake.types)
    query = f"SELECT {intake.staged}.*, {', '.join(flags)} FROM {intake.source} WHERE {any_fault} ORDER BY {order}"
    for row in rows(intake.engine, query, scratch):
        found = [
            (
                fault,
                _problem(fault, n, row, intake.table.case_id, "/".join(filter(None, (name, row.get(FILE))))),
            )
            for n, fault in enumerate(faults)
            if row[f"faulty_{n}"]
        ]
        yield row, found


def _problem(fault: Fault, number: int, row: dict[str, Any], case_id: str, name: str) -> Problem:
    why = row.get(f"faulty_{number}_why")
    if why:
        return problem_of(why, name, int(row[PLACE]), fault.column)
    cell = row.get(fault.column)
    known = cell if fault.column in row else row.get(case_id)
    # an instant is read as its day
    found = fault.problems.get(known.date() if isinstance(known, datetime) else known)
    return Problem(
        found.code if found else Code.BAD_TABLE,
        found.message if found else fault.message,
        name,
        int(row[PLACE]),
        field=shown_column(fault.column),
        found=found.found if found else shorten("" if cell is None else cell),
        expected=found.expected if found else fault.expected,
    )


def write_set_aside(opened: OpenedTable, staged: Staged, path: Path, others: tuple[Staged, ...] = ()) -> Told:
    """Write the rows set aside as CSV: those of cases with their cells; then those of other tables.

    A row without columns, and a row of another table that has no place, stand there with their text alone.
    """
    told = Told()
    columns = [column for column in opened.intake.types if column not in OWN]
    files = [FILE] if FILE in opened.intake.types else []
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["row", "reason", *files, *(guarded(column) for column in columns)])
        for row, found in faulty_rows(opened, opened.faults, staged.name, path.with_suffix(".parquet")):
            problems = [problem for _, problem in found]
            told.rows += 1
            told.tell(*problems)
            cells = [guarded(row[column]) for column in (*files, *columns)]
            writer.writerow([row[PLACE], guarded("; ".join(map(_reason, problems))), *cells])
        told.tell(*staged.unreadable.problems)
        for number, reason, text in staged.unreadable:
            told.rows += 1
            writer.writerow([number, guarded(reason), guarded(text)])
        for homeless in opened.homeless:
            for problem in homeless.problems(path.with_suffix(".parquet")):
                told.elsewhere += 1
                told.tell(problem)
                reason = f"{problem.file}: {problem.message} ({problem.found})"
                writer.writerow([problem.line, guarded(reason)])
        for other in others:
            told.tell(*other.unreadable.problems)
            for number, reason, text in other.unreadable:
                told.elsewhere += 1
                writer.writerow([number, guarded(f"{other.name}: {reason}"), guarded(text)])
    return told


def _reason(problem: Problem) -> str:
    return f"{problem.field}: {problem.message}" + (f" ({problem.found})" if problem.found else "")
