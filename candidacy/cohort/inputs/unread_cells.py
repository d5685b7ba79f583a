"""Cells that could not be read and left their row in use: every one in a file, with its place and what is allowed."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.set_aside import Told, faulty_rows
from candidacy.cohort.inputs.sources import Staged
from candidacy.cohort.inputs.tables import OpenedTable
from candidacy.foundation.errors import Problem
from candidacy.foundation.spreadsheet import guarded

COLUMNS = ("table", "row", "case", "column", "value", "reason", "allowed")


def write_unread_cells(
    opened: OpenedTable, staged: Staged, path: Path, lists: dict[str, Staged] | None = None
) -> Told:
    """Write cells that could not be read as CSV: those of the table of cases, then those of each list.

    The facts of these cells are unknown, and so neither pass nor fail. A file without such cells has its header.
    """
    told = Told()
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(COLUMNS)
        for case, problem, value in _cells(opened, staged, path.with_suffix(".parquet"), lists or {}):
            told.rows += 1
            told.tell(problem)
            place = (guarded(problem.file), problem.line, guarded(case), guarded(problem.field))
            writer.writerow([*place, guarded(value), guarded(problem.message), guarded(problem.expected)])
    return told


def write_header(path: Path) -> None:
    """Write a file without such cells: records have none."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerow(COLUMNS)


def _cells(
    opened: OpenedTable, staged: Staged, scratch: Path, lists: dict[str, Staged]
) -> Iterator[tuple[str, Problem, Any]]:
    intake = opened.intake
    for row, found in faulty_rows(opened, intake.unread, staged.name, scratch):
        case = row.get(intake.table.case_id)
        for fault, problem in found:
            yield str("" if case is None else case).strip(), problem, row.get(fault.column)
    for name, entries in opened.lists.items():
        yield from entries.unread_cells(lists[name].name, scratch)
