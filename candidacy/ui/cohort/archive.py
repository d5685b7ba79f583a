"""Files to take away from a cohort: written by the cohort itself into a folder, packed, and kept with the results."""

import csv
import io
import tempfile
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import TableError
from candidacy.foundation.spreadsheet import guarded
from candidacy.ui.cohort.run import Run
from candidacy.ui.cohort.setup import on_page

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[str, int, int], None]


def masked_zip(run: Run, below: int, progress: Progress | None = None) -> Path:
    """Counts fit for sharing, small ones masked: no case reference and no row of the table.

    Raises
    ------
    TableError
        E601 for a threshold that masks nothing, E501 where the disk is full.
    """
    return _packed(
        run, f"cohort-masked-below-{below}", "to_share", mask_below=below, csv=False, progress=progress
    )


def full_zip(run: Run, with_csv: bool, progress: Progress | None = None) -> Path:
    """Everything, case references and rows set aside included; outcomes of cases as Parquet, and CSV if wanted.

    Raises
    ------
    TableError
        E501 where the disk is full.
    """
    return _packed(run, "cohort-results-with-case-references", "", csv=with_csv, progress=progress)


def _packed(run: Run, name: str, part: str, **options: Any) -> Path:
    packed = run.files / f"{name}.zip"
    try:
        with tempfile.TemporaryDirectory(dir=run.files) as scratch:
            folder = run.write(Path(scratch) / name, **options) / part
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
                for file in sorted(folder.rglob("*")):
                    if file.is_file():
                        _add(
                            archive,
                            file,
                            f"{name}/{file.relative_to(folder).as_posix()}",
                            run.without_folders,
                        )
    except TableError as error:
        told = [replace(on_page(each, run.asked.setup), file="") for each in error.problems]
        raise TableError(told) from None
    return packed


def _add(archive: zipfile.ZipFile, file: Path, name: str, clean: Callable[[str], str]) -> None:
    if file.name not in ("set_aside.csv", "cells_not_read.csv"):
        archive.write(file, name)
        return
    with file.open(encoding="utf-8", newline="") as lines, archive.open(name, "w") as out:
        for line in lines:
            out.write(clean(line).encode("utf-8"))


def csv_text(frame: "pd.DataFrame") -> str:
    """A table of counts as CSV; no cell is taken for a formula."""
    texts = frame.astype("string").fillna("")
    return _text([list(texts.columns), *(list(row) for row in texts.itertuples(index=False))])


def moved_csv(run: Run) -> str:
    """Every case that moves under another rule set, with its reference."""
    assert run.compared is not None
    return _text([list(run.compared.first.columns), *(list(row.values()) for row in run.moved_cases())])


def _text(rows: Iterable[list[object]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    # masked counts begin with "<", which no spreadsheet takes for a formula
    writer.writerows([guarded(cell) for cell in row] for row in rows)
    return stream.getvalue()
