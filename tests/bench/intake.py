"""Reading of tables from outside against the reader that each kind rests on: ``python -m tests.bench.intake``.

Processor and wall seconds, median (lowest to highest), each contestant in turn in every round. Both read everything as text.
"""

import csv
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

import duckdb
import openpyxl
import python_calamine

from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.csv_files import stage_csv
from candidacy.cohort.inputs.sources import stage
from candidacy.cohort.inputs.tables import open_tables
from candidacy.cohort.inputs.unreadable import Unreadable
from candidacy.cohort.inputs.workbooks import stage_sheet
from tests.bench.measured import Used, machine, ratio, told, used
from tests.cohort.messy import COLUMNS, export

_SHEET_ROWS, _TEXT_ROWS, _ROUNDS = 20_000, 200_000, 5


def main() -> None:
    """Make the tables, read them and print what it took."""
    print(
        f"{machine()}, load {os.getloadavg()[0]:.1f}; median (lowest to highest) of {_ROUNDS} rounds, peak of the process so far"
    )
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        invented = export(_SHEET_ROWS)
        book, text, own = folder / "t.xlsx", folder / "t.csv", folder / "own.csv"
        _book(book, invented.written)
        _text(text, ["MRN", *COLUMNS, "Comment"], invented.written)
        _text(own, ["case_id", *COLUMNS.values()], invented.meant)
        _compare("Excel, 22 columns", lambda: _calamine(book), lambda: _sheet(book, folder))
        _compare("CSV, 22 columns", lambda: _duckdb(text), lambda: _csv(text, folder))
        _compare("CSV to facts, 20 columns", lambda: _duckdb(own), lambda: _facts(own))


def _compare(what: str, theirs: Callable[[], object], ours: Callable[[], object]) -> None:
    runs: tuple[list[Used], list[Used]] = ([], [])
    for _ in range(_ROUNDS):
        for kept, read in zip(runs, (theirs, ours), strict=True):
            kept.append(used(read)[0])
    print(what)
    for name, taken in zip(("reader", "candidacy"), runs, strict=True):
        print(f"  {name:<9} {told(taken)}")
    print(f"  {ratio(runs[1], runs[0]):.1f} times", flush=True)


def _book(path: Path, rows: list[list[str]]) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("t")
    sheet.append(["MRN", *COLUMNS, "Comment"])
    for row in rows:
        sheet.append([float(cell) if cell.replace(".", "", 1).isdigit() else cell for cell in row])
    book.save(path)


def _text(path: Path, header: list[str], rows: list[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(header)
        writer.writerows([f"P{n}", *rows[n % len(rows)][1:]] for n in range(_TEXT_ROWS))


def _calamine(path: Path) -> object:
    return python_calamine.CalamineWorkbook.from_path(path).get_sheet_by_name("t").to_python()


def _sheet(path: Path, folder: Path) -> object:
    return stage_sheet(path, folder / "t.parquet", "t", Unreadable(folder / "u", "t"))


def _duckdb(path: Path) -> object:
    with duckdb.connect() as base:
        return base.execute(
            f"CREATE TABLE t AS SELECT * FROM read_csv('{path}', all_varchar = true, header = true)"
        )


def _csv(path: Path, folder: Path) -> object:
    return stage_csv(path, folder / "t.parquet", "", Unreadable(folder / "u", "t"))


def _facts(path: Path) -> None:
    with tempfile.TemporaryDirectory() as made:
        engine = EmbeddedEngine(Path(made))
        open_tables(engine, Path(made), stage(path, Path(made), engine))
        engine.close()


if __name__ == "__main__":
    main()
