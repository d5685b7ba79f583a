"""A folder of case records as a cohort; a file that cannot be used is set aside with everything wrong in it."""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

from candidacy.case.load import Case, load_case
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.digests import Input
from candidacy.cohort.inputs.from_cases import CaseColumns
from candidacy.cohort.inputs.headers import refusal
from candidacy.cohort.inputs.kept import Kept
from candidacy.cohort.inputs.unread_cells import write_header
from candidacy.cohort.inputs.unreadable import MOST_TOLD
from candidacy.foundation.errors import CaseError, Code, Problem, TableError
from candidacy.foundation.spreadsheet import guarded

_SUFFIXES = (".yaml", ".yml", ".json")
_TOLD_EACH = 100


def is_case_folder(path: Path) -> bool:
    """A folder with case records and without Parquet files."""
    try:
        return path.is_dir() and not any(path.glob("*.parquet")) and bool(case_files(path))
    except OSError as error:
        raise refusal(
            str(path), "cannot be read", Code.UNREADABLE, found=error.strerror or "",
            next_step="check the path and its rights",
        ) from error  # fmt: skip


def case_files(folder: Path) -> list[Path]:
    """The case records of a folder in the order of their names."""
    return sorted(p for p in folder.iterdir() if p.suffix in _SUFFIXES and p.is_file())


def take_case_folder(kept: Kept, folder: Path, engine: Engine, tell: Callable[[str], None]) -> None:
    """Make a folder of case records the input of a screening.

    Raises
    ------
    TableError
        If no record can be used.
    """
    kept.inputs.tables["patients"] = Input.of(folder, case_files)
    files = case_files(folder)
    reading = _Reading(kept, folder)
    with kept.set_aside_file.open("w", encoding="utf-8", newline="") as stream:
        reading.writer = csv.writer(stream)
        reading.writer.writerow(["file", "reason"])
        for number, path in enumerate(files):
            if number % _TOLD_EACH == 0:
                tell(f"reading case records, {number:,} of {len(files):,}")
            reading.take(path)
        reading.refuse_twice()
    kept.name, kept.rows = str(folder), len(files)
    write_header(kept.unread_cells_file)
    kept.set_aside, kept.problems = reading.refused, tuple(reading.told)
    kept.with_remarks = reading.with_remarks
    if reading.refused == len(files):
        raise TableError(reading.told)
    kept.frame = reading.columns.frame(engine, reading.reopen, frozenset(reading.twice))


class _Reading:
    """Records read one by one; of each, only the name of its file is held."""

    writer: Any

    def __init__(self, kept: Kept, folder: Path) -> None:
        self.columns = CaseColumns(kept.folder, "cases")
        self.told: list[Problem] = []
        self.refused = self.with_remarks = 0
        self.twice: dict[str, list[str]] = {}
        self._folder = folder
        self._files: dict[str, str] = {}

    def take(self, path: Path) -> None:
        try:
            case = load_case(path)
        except CaseError as error:
            self._refuse(path.name, error.problems)
            return
        first = self._files.setdefault(case.record.id, path.name)
        if first != path.name:
            self.twice.setdefault(case.record.id, [first]).append(path.name)
        else:
            self.columns.add(case)
            self.with_remarks += bool(case.facts.remarks)

    def refuse_twice(self) -> None:
        """Of records with the same reference none is taken: which is right must be asked."""
        for reference, names in self.twice.items():
            for name in names:
                self._refuse(name, [Problem(
                    Code.BAD_TABLE, "the case reference occurs more than once", str(self._folder / name), field="id",
                    found=reference, expected="one file for each case",
                    next_step=f"compare {', '.join(names[:5])} and keep one",
                )])  # fmt: skip

    def _refuse(self, name: str, problems: list[Problem] | tuple[Problem, ...]) -> None:
        self.refused += 1
        self.told += problems[: MOST_TOLD - len(self.told)]
        reason = "; ".join(
            (f"{p.field}: " if p.field else "") + p.message + (f" ({p.found})" if p.found else "")
            for p in problems
        )
        self.writer.writerow([guarded(name), guarded(reason)])

    def reopen(self, reference: str) -> Case:
        name = self._files.get(reference)
        if name is None or reference in self.twice:
            raise TableError([Problem(
                Code.BAD_TABLE, "no such case in the folder", str(self._folder), found=reference,
                expected="the id of a record that was not set aside",
            )])  # fmt: skip
        return load_case(self._folder / name)
