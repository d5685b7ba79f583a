"""A sheet of a workbook as Parquet, in pieces of rows."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import chain, islice
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.cells import text_of
from candidacy.cohort.inputs.header_rows import FIND, LOOKED_AT, header_row_of
from candidacy.cohort.inputs.headers import check_header, refusal
from candidacy.cohort.inputs.text_rows import write_columns
from candidacy.cohort.inputs.unreadable import Unreadable
from candidacy.cohort.inputs.workbook_marks import Marks, UnnumberedCellsError, as_percent, marks_of
from candidacy.foundation.errors import Code, TableError

_OLE = b"\xd0\xcf\x11\xe0"  # the container of encrypted workbooks and of those before 2007
_NO_VALUE = "a formula has no stored value"
_TOO_WIDE = "a cell stands beside the last column of the header"
_PIECE = 20_000
Row = list[Any]


def stage_sheet(
    path: Path, target: Path, part: str, unreadable: Unreadable, header_row: int = 1, most: int | None = None
) -> tuple[int, list[str]]:
    """Write the rows of a sheet to ``target`` with their numbers.

    ``header_row`` is the row with the names of the columns, or `FIND`; ``most`` the most rows below it that are read.
    Gives that row, and what to say of it. A number that is shown as percent is written as such (``53%``), an error as
    its text (``#N/A``).

    Raises
    ------
    TableError
        E101 for an encrypted or damaged workbook, E109 for an empty sheet, E501 where the sheet is not named.
    """
    name = str(path)
    _refuse_old(path)
    with _damage_told(name):
        book = _open(path)
        sheet = _sheet(book.sheet_names, part, name)
        _refuse_chart(book, sheet, name)
        marks = _marks(path, sheet, name)
        read = book.get_sheet_by_name(sheet)
    rows = _rows(read, marks, name)
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
    no_value = {row for row, _ in marks.no_value}
    pieces = _readable(islice(rows, most), len(header), no_value, unreadable, header_row)
    written = write_columns(target, header, pieces)
    if not written and not unreadable.count:
        raise refusal(name, f"sheet {sheet} holds a header and no row", Code.EMPTY, line=1,
                      expected="one row for each case")  # fmt: skip
    return header_row, said


def sheets_of(path: Path) -> list[str]:
    """The names of the sheets of a workbook.

    Raises
    ------
    TableError
        E101 for an encrypted or damaged workbook.
    """
    _refuse_old(path)
    with _damage_told(str(path)):
        return list(_open(path).sheet_names)


def first_rows_of(path: Path, part: str, most: int) -> list[list[str]]:
    """The first rows of a sheet as text.

    Raises
    ------
    TableError
        E101 for an encrypted or damaged workbook, E501 where the sheet is not named.
    """
    name = str(path)
    _refuse_old(path)
    with _damage_told(name):
        book = _open(path)
        sheet = _sheet(book.sheet_names, part, name)
        _refuse_chart(book, sheet, name)
        read = book.get_sheet_by_name(sheet)
    return [_texts(row) for row in islice(_rows(read, Marks(), name), most)]


def _texts(row: Sequence[Any]) -> list[str]:
    return [text_of(cell) for cell in row]


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


def _open(path: Path) -> Any:
    try:
        import python_calamine
    except ImportError as error:
        raise refusal(
            str(path), "reading workbooks needs python-calamine", Code.USAGE, next_step="pip install 'candidacy[cohort]'"
        ) from error  # fmt: skip
    return python_calamine.CalamineWorkbook.from_path(path)


def _sheet(names: list[str], part: str, name: str) -> str:
    if part and part not in names:
        raise refusal(name, "no such sheet", found=part, expected=", ".join(names))
    if not part and len(names) != 1:
        raise refusal(
            name, "the workbook has several sheets", found=", ".join(names), expected="one of them, named",
            next_step=f"write {Path(name).name}#{names[0]}, or use --part",
        )  # fmt: skip
    return part or names[0]


def _refuse_chart(book: Any, sheet: str, name: str) -> None:
    kind = next(str(each.typ) for each in book.sheets_metadata if each.name == sheet)
    if kind.endswith("ChartSheet"):
        raise refusal(
            name, f"sheet {sheet} holds a chart and no cells", Code.EMPTY, expected="a sheet of cells"
        )


def _marks(path: Path, sheet: str, name: str) -> Marks:
    try:
        return marks_of(path, sheet)
    except UnnumberedCellsError as error:
        raise refusal(
            name, f"cells of sheet {sheet} do not say where they stand", Code.UNREADABLE,
            expected="a workbook (.xlsx)", next_step="open it in a spreadsheet program and save it anew",
        ) from error  # fmt: skip


def _rows(read: Any, marks: Marks, name: str) -> Iterator[Row]:
    """Every row from the first of the sheet and the first column that is used, with percent and errors as shown."""
    used = [column for _, column in (*marks.errors, *marks.no_value)]
    first = min([*used, *([read.start[1]] if read.start else [])], default=0)
    left = read.start[1] - first if read.start else 0
    by_row: dict[int, list[int]] = {}
    for row, column in (*marks.percent, *marks.errors):
        by_row.setdefault(row, []).append(column)
    last = max((row for row, _ in (*marks.errors, *marks.no_value)), default=-1)
    number = -1
    with _damage_told(name):
        rows = read.iter_rows()
    while True:
        with _damage_told(name):
            cells = next(rows, None)
        if cells is None and number >= last:
            return
        number += 1
        whole = [""] * left + cells if cells is not None else []
        for column in by_row.get(number, ()):
            place = column - first
            if len(whole) <= place:
                whole += [""] * (place + 1 - len(whole))
            whole[place] = _shown(whole[place], marks.errors.get((number, column), ""))
        yield whole


def _shown(cell: Any, error: str) -> Any:
    if error:
        return error
    return as_percent(cell) if isinstance(cell, float | int) and not isinstance(cell, bool) else cell


def _readable(
    rows: Iterator[Row], width: int, no_value: set[int], unreadable: Unreadable, first: int
) -> Iterator[tuple[list[int], list[list[str]]]]:
    """Numbers of rows and their cells by column, in pieces; rows that cannot stand in the columns are noted."""
    while piece := list(islice(rows, _PIECE)):
        numbers, kept = [], []
        for place, row in enumerate(piece, first):
            if place in no_value:
                unreadable.add(place + 1, _NO_VALUE, " | ".join(_texts(row)))
            elif len(row) > width and any(cell != "" for cell in row[width:]):
                unreadable.add(place + 1, _TOO_WIDE, " | ".join(_texts(row)))
            else:
                numbers.append(place + 1)
                kept.append(row if len(row) >= width else row + [""] * (width - len(row)))
        first += len(piece)
        columns = list(zip(*kept, strict=False))[:width] if kept else [()] * width
        yield numbers, [_as_texts(column) for column in columns]


def _as_texts(column: Sequence[Any]) -> list[str]:
    """Cells as text; a text or number that stands there often is written once."""
    known: dict[tuple[type, Any], str] = {}
    found = []
    for cell in column:
        if type(cell) is str:
            found.append(cell.strip())
            continue
        key = (type(cell), cell)
        if key not in known:
            known[key] = text_of(cell)
        found.append(known[key])
    return found
