"""A sheet of a workbook as Parquet, row by row."""

import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import chain, islice, repeat
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.cells import text_of
from candidacy.cohort.inputs.header_rows import FIND, LOOKED_AT, header_row_of
from candidacy.cohort.inputs.headers import check_header, refusal
from candidacy.cohort.inputs.text_rows import write_rows
from candidacy.cohort.inputs.unreadable import Unreadable
from candidacy.foundation.errors import Code, TableError

_OLE = b"\xd0\xcf\x11\xe0"  # the container of encrypted workbooks and of those before 2007
_FORMULA = re.compile(rb"<(\w+:)?f[ />]")
_NO_VALUE = "a formula has no stored value"
_TOO_WIDE = "a cell stands beside the last column of the header"


def stage_sheet(
    path: Path, target: Path, part: str, unreadable: Unreadable, header_row: int = 1
) -> tuple[int, list[str]]:
    """Write the rows of a sheet to ``target`` with their numbers.

    ``header_row`` is the row with the names of the columns, or `FIND`. Gives that row, and what to say of it.

    Raises
    ------
    TableError
        E101 for an encrypted or damaged workbook, E109 for an empty sheet, E501 where the sheet is not named.
    """
    name = str(path)
    _refuse_old(path)
    with _damage_told(name):
        values = _open(path, computed=True)
        sheet = _sheet(values.sheetnames, part, name)
        formulas = _open(path, computed=False) if _has_formulas(path) else None
    rows = _rows(values, sheet, name)
    said: list[str] = []
    if header_row == FIND:
        first = list(islice(rows, LOOKED_AT))
        header_row, said = header_row_of([_texts(row) for row in first])
        rows = chain(first, rows)
    header = _texts(next(islice(rows, header_row - 1, None), ()))
    while header and not header[-1]:
        header.pop()
    if not header:
        raise refusal(name, f"{'the first row' if header_row == 1 else 'that row'} of sheet {sheet} is empty", Code.EMPTY, line=header_row,
                      expected="the names of the columns")  # fmt: skip
    check_header(header, name)
    other = _rows(formulas, sheet, name) if formulas is not None else None
    if other is not None:
        next(islice(other, header_row - 1, None), ())
    written = write_rows(target, header, _readable(rows, other, len(header), unreadable, header_row + 1))
    if not written and not unreadable.count:
        raise refusal(name, f"sheet {sheet} holds a header and no row", Code.EMPTY, line=1,
                      expected="one row for each case")  # fmt: skip
    return header_row, said


def _texts(row: tuple[Any, ...]) -> list[str]:
    return [text_of(cell).strip() if cell is not None else "" for cell in row]


@contextmanager
def _damage_told(name: str) -> Iterator[None]:
    """The library raises many kinds of errors, and those of zlib and XML, for a damaged file."""
    try:
        yield
    except (TableError, GeneratorExit):
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise
        raise _damaged(name, error) from error


def _damaged(name: str, error: Exception) -> Exception:
    return refusal(
        name, "not a workbook that can be read; it is damaged, or no workbook", Code.UNREADABLE, found=error,
        expected="a workbook (.xlsx)", next_step="open it in a spreadsheet program and save it anew",
    )  # fmt: skip


def _refuse_old(path: Path) -> None:
    with path.open("rb") as stream:
        if stream.read(4) == _OLE:
            raise refusal(
                str(path), "the workbook is encrypted, or of the format before 2007", Code.UNREADABLE,
                expected="a workbook (.xlsx) without a password",
                next_step="open it in a spreadsheet program and save it as .xlsx without a password",
            )  # fmt: skip


def _open(path: Path, computed: bool) -> Any:
    try:
        import openpyxl
    except ImportError as error:
        raise refusal(
            str(path), "reading workbooks needs openpyxl", Code.USAGE, next_step="pip install 'candidacy[cohort]'"
        ) from error  # fmt: skip
    return openpyxl.load_workbook(path, read_only=True, data_only=computed)


def _sheet(names: list[str], part: str, name: str) -> str:
    if part and part not in names:
        raise refusal(name, "no such sheet", found=part, expected=", ".join(names))
    if not part and len(names) != 1:
        raise refusal(
            name, "the workbook has several sheets", found=", ".join(names), expected="one of them, named",
            next_step=f"write {Path(name).name}#{names[0]}, or use --part",
        )  # fmt: skip
    return part or names[0]


def _has_formulas(path: Path) -> bool:
    """Any sheet holds a formula; found without reading the cells."""
    with zipfile.ZipFile(path) as archive:
        for entry in archive.namelist():
            if not entry.startswith("xl/worksheets/"):
                continue
            with archive.open(entry) as stream:
                before = b""
                while piece := stream.read(1 << 20):
                    if _FORMULA.search(before + piece):
                        return True
                    before = piece[-8:]
    return False


def _rows(book: Any, sheet: str, name: str) -> Iterator[tuple[Any, ...]]:
    chosen = book[sheet]
    if not hasattr(chosen, "reset_dimensions"):
        raise refusal(
            name, f"sheet {sheet} holds a chart and no cells", Code.EMPTY, expected="a sheet of cells"
        )
    chosen.reset_dimensions()  # some programs state fewer columns than they write
    rows = chosen.iter_rows(values_only=True)
    end: Any = object()  # a blank row is an empty tuple
    while True:
        with _damage_told(name):
            row = next(rows, end)
        if row is end:
            return
        yield row


def _readable(
    rows: Iterator[tuple[Any, ...]],
    formulas: Iterator[tuple[Any, ...]] | None,
    width: int,
    unreadable: Unreadable,
    first: int,
) -> Iterator[tuple[int, list[str | None]]]:
    for number, (row, written) in enumerate(zip(rows, formulas or repeat(()), strict=False), first):
        texts = [None if cell is None else text_of(cell) for cell in row]
        text = " | ".join(each or "" for each in texts)
        if any(cell is None and _is_formula(source) for cell, source in zip(row, written, strict=False)):
            unreadable.add(number, _NO_VALUE, text)
        elif any(texts[width:]):
            unreadable.add(number, _TOO_WIDE, text)
        else:
            yield number, (texts + [None] * width)[:width]


def _is_formula(source: Any) -> bool:
    return (isinstance(source, str) and source.startswith("=")) or hasattr(source, "ref")
