"""Rows that were set aside: every one in a file, with its row number, its columns and the reason."""

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from candidacy.cohort.intake import Fault
from candidacy.cohort.sources import PLACE, Staged
from candidacy.cohort.tables import OpenedTable
from candidacy.errors import Code, Problem, shorten

MOST_TOLD = 200


def faulty_rows(opened: OpenedTable, name: str) -> Iterator[tuple[int, dict[str, Any], list[Problem]]]:
    """Rows that cannot be used: number, cells, and what is wrong, in the order of the table."""
    if not opened.faults:
        return
    intake = opened.intake
    quote = intake.engine.dialect.identifier
    flags = ", ".join(
        f"COALESCE({fault.where}, FALSE) AS faulty_{n}" for n, fault in enumerate(opened.faults)
    )
    found = intake.engine.arrow(
        f"SELECT {intake.staged}.*, {flags} FROM {intake.source} WHERE {opened.faulty} ORDER BY {quote(PLACE)}"
    )
    columns = [column for column in intake.types if column != PLACE]
    for batch in found.to_batches(max_chunksize=10_000):
        for row in batch.to_pylist():
            problems = [
                _problem(fault, row, intake.table.case_id, name)
                for number, fault in enumerate(opened.faults)
                if row[f"faulty_{number}"]
            ]
            yield int(row[PLACE]), {column: row[column] for column in columns}, problems


def _problem(fault: Fault, row: dict[str, Any], case_id: str, name: str) -> Problem:
    cell = row.get(fault.column)
    found = fault.problems.get(cell if fault.column in row else row.get(case_id))
    return Problem(
        found.code if found else Code.BAD_TABLE,
        found.message if found else fault.message,
        name,
        int(row[PLACE]),
        field=shorten(fault.column),
        found=found.found if found else shorten("" if cell is None else cell),
        expected=found.expected if found else fault.expected,
    )


def write_set_aside(
    opened: OpenedTable | None, staged: Staged, path: Path
) -> tuple[int, tuple[Problem, ...]]:
    """Write the rows set aside as CSV; gives their number and the first problems.

    Rows that have not as many cells as the header stand there as their text; rows of the table of discs that
    have no place stand there by their number alone.
    """
    told: list[Problem] = []
    count = 0
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        columns: list[str] = []
        if opened is not None:
            columns = [column for column in opened.intake.types if column != PLACE]
        writer.writerow(["row", "reason", *columns])
        for number, cells, problems in faulty_rows(opened, staged.name) if opened is not None else ():
            count += 1
            told += problems
            reason = "; ".join(
                f"{p.field}: {p.message}" + (f" ({p.found})" if p.found else "") for p in problems
            )
            writer.writerow([number, guarded(reason), *(guarded(cells[column]) for column in columns)])
            del told[MOST_TOLD:]
        for number, text in staged.unreadable:
            count += 1
            told.append(
                Problem(
                    Code.BAD_TABLE,
                    "the row has not as many cells as the header",
                    staged.name,
                    max(number, 0),
                    found=shorten(text),
                )
            )
            writer.writerow([max(number, 0), "not as many cells as the header", guarded(text)])
        for problem in opened.orphans if opened is not None else ():
            told.append(problem)
            reason = f"{problem.file}: {problem.message} ({problem.found})"
            writer.writerow([problem.line, guarded(reason)])
    return count, tuple(told[:MOST_TOLD])


def guarded(cell: Any) -> str:
    """A cell that a spreadsheet does not take for a formula."""
    text = "" if cell is None else str(cell)
    return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") and not _is_number(text) else text


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
