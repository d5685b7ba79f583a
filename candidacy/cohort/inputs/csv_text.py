"""A text table before it is parsed: that it is UTF-8, its first row, its delimiter, its quotes.

One pass over the file, a piece at a time. It decides nothing about what a cell means.
"""

import codecs
import csv
import re
import shutil
from collections import deque
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from msgspec import Struct

from candidacy.cohort.inputs.header_rows import LOOKED_AT
from candidacy.cohort.inputs.headers import refusal
from candidacy.foundation.errors import Code, shorten

_DELIMITERS = ",;\t|"
_PIECE = 1 << 20
LONGEST = 4 * _PIECE  # of a line, in bytes; whole rows must fit into what is parsed at once
_LONGEST_CELL = 131_072
_WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_SAVE = "save the file as CSV UTF-8"


class Text(Struct, frozen=True):
    """The beginning of a text table, and whether a quotation mark stands anywhere in it."""

    start: str
    quotes: bool


def read_through(path: Path) -> Text:
    """Check that the whole file is UTF-8 text with lines of ordinary length.

    Raises
    ------
    TableError
        E103 with the row where it is not; E501 for a line that is too long.
    """
    decoder = codecs.getincrementaldecoder("utf-8-sig")()
    start, quotes, lines, open_bytes = "", False, 1, 0
    with path.open("rb") as stream:
        while piece := stream.read(_PIECE):
            if lines == 1 and not start and piece[:2] in _WIDE:
                raise refusal(str(path), "is UTF-16 text", Code.NOT_TEXT, expected="UTF-8", next_step=_SAVE)
            text = _decoded(decoder, piece, path, lines)
            start = start or text
            quotes = quotes or '"' in text
            ends = piece.count(b"\n") or piece.count(b"\r")
            last = max(piece.rfind(b"\n"), piece.rfind(b"\r"))
            open_bytes = open_bytes + len(piece) if last < 0 else len(piece) - last - 1
            if open_bytes > LONGEST:
                raise refusal(
                    str(path), "a line is too long", found=f"more than {LONGEST:,} bytes", line=lines + ends,
                    expected="one row for each line", next_step="check the line ends and the quotation marks",
                )  # fmt: skip
            lines += ends
    _decoded(decoder, b"", path, lines)
    return Text(start, quotes)


def read_beginning(path: Path) -> Text:
    """The beginning of a text table, as far as it is UTF-8 text.

    Raises
    ------
    TableError
        E103 where it is not.
    """
    with path.open("rb") as stream:
        piece = stream.read(_PIECE)
    return Text(_decoded(codecs.getincrementaldecoder("utf-8-sig")(), piece, path, 1), b'"' in piece)


def _decoded(decoder: codecs.IncrementalDecoder, piece: bytes, path: Path, lines: int) -> str:
    try:
        text = decoder.decode(piece, final=not piece)
    except UnicodeDecodeError as error:
        before = error.object[: error.start]
        raise refusal(
            str(path), "not UTF-8 text throughout", Code.NOT_TEXT, line=lines + before.count(b"\n"),
            found=f"byte 0x{error.object[error.start]:02x}", expected="UTF-8",
            next_step=f"{_SAVE}; files joined from several sources often mix encodings",
        ) from error  # fmt: skip
    zero = text.find("\x00")
    if zero >= 0:
        raise refusal(
            str(path), "holds zero bytes, so it is UTF-16 or no text at all", Code.NOT_TEXT,
            line=lines + text.count("\n", 0, zero), expected="UTF-8 text", next_step=_SAVE,
        )  # fmt: skip
    return text


# A header of one column: it holds no sign that could part names.
_ONE_NAME = re.compile(r"""[\w "'.()/%-]+\Z""")


def header_of(text: Text, delimiter: str, name: str) -> tuple[list[str], str]:
    """The names of the columns and the delimiter.

    A delimiter that is given counts where it stands in the header. The header decides otherwise, and only
    where it leaves no doubt.

    Raises
    ------
    TableError
        E501 where the first row is blank, or could be parted in two ways or by a sign that is not known.
    """
    first = text.start.split("\n", 1)[0].split("\r", 1)[0]
    if not first.strip():
        raise refusal(
            name, "the first row is empty", expected="the names of the columns", line=1,
            next_step="remove what stands above the names of the columns",
        )  # fmt: skip
    sign = delimiter if delimiter and delimiter in first else _delimiter(first, name)
    try:
        columns = next(csv.reader(text.start.splitlines(keepends=True), delimiter=sign))
    except csv.Error as error:
        raise refusal(name, "the first row cannot be read", found=shorten(first), line=1) from error
    return [column.strip() for column in columns], sign


def first_rows(text: Text, delimiter: str) -> tuple[list[list[str]], list[int]]:
    """The first rows, parted by the sign that gives the most cells, and after which line each ends."""
    best: tuple[list[list[str]], list[int]] = ([], [])
    most = -1
    for sign in delimiter or _DELIMITERS:
        reader = csv.reader(text.start.splitlines(keepends=True), delimiter=sign)
        rows, lines = [], []
        try:
            for row in islice(reader, LOOKED_AT):
                rows.append(row)
                lines.append(reader.line_num)
        except csv.Error:
            pass
        cells = sum(map(len, rows))
        if cells > most:
            most, best = cells, (rows, lines)
    return best


def without_rows(path: Path, lines: int, target: Path) -> Path:
    """A copy of a text without its first lines."""
    with (
        path.open("r", encoding="utf-8-sig", newline=None) as stream,
        target.open("w", encoding="utf-8", newline="\n") as out,
    ):
        for _ in range(lines):
            next(stream)
        shutil.copyfileobj(stream, out, _PIECE)
    return target


def beginning(path: Path, rows: int, target: Path) -> bool:
    """Copy the first rows of a text: so many, and those looked at for the names of the columns.

    It ends where a row ends: a quotation mark that is open goes on to its end, as far as lines of ordinary length do.
    Gives whether anything of the text was left.
    """
    open_quote, taken, ended = False, 0, 0
    with path.open("rb") as stream, target.open("wb") as out:
        for line in stream:
            if ended >= rows + LOOKED_AT or taken > LONGEST * LOOKED_AT:
                return True
            open_quote ^= line.count(b'"') % 2 == 1
            ended += not open_quote
            taken += len(line)
            out.write(line)
    return False


def _delimiter(header: str, name: str) -> str:
    counts = {sign: header.count(sign) for sign in _DELIMITERS}
    best = max(counts, key=lambda sign: counts[sign])
    if counts[best] == 0 and not _ONE_NAME.match(header):
        raise refusal(
            name, "the header holds none of the usual delimiters", found=shorten(header), line=1,
            expected="columns parted by comma, semicolon, tab or |", next_step="name the delimiter with --delimiter",
        )  # fmt: skip
    if sorted(counts.values())[-2] * 2 > counts[best]:
        raise refusal(
            name, "the delimiter is not clear", found=header, line=1,
            expected="comma, semicolon, tab or |", next_step="name it with --delimiter",
        )  # fmt: skip
    return best


def well_quoted(path: Path, delimiter: str) -> bool:
    """Every quotation mark stands where it may, so that every reader parts the rows alike.

    Raises
    ------
    TableError
        E501 for a mark that is never closed: nobody can say where the rows after it begin.
    """
    with path.open(encoding="utf-8-sig", newline="") as stream:
        try:
            deque(csv.reader(stream, delimiter=delimiter, strict=True), maxlen=0)
        except csv.Error:
            deque(records(path, delimiter), maxlen=0)
            return False
    return True


def records(path: Path, delimiter: str) -> Iterator[tuple[int, list[str] | None, str]]:
    """Rows by number with their cells and, where they cannot be parted into cells, ``None`` and their text.

    Raises
    ------
    TableError
        E501 for a quotation mark that is never closed, or a cell of enormous length.
    """
    csv.field_size_limit(_LONGEST_CELL)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        taken: list[str] = []

        def lines() -> Iterator[str]:
            for line in stream:
                taken.append(line)
                yield line

        reader, number, first = csv.reader(lines(), delimiter=delimiter, strict=True), 0, 1
        while True:
            number += 1
            try:
                cells: list[str] | None = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                if "end of data" in str(error) or "field limit" in str(error):
                    raise refusal(
                        str(path), "a quotation mark is opened and not closed", found=taken[0], line=first,
                        expected='cells such as "a ""quoted"" word"', next_step="close it, or write it twice",
                    ) from error  # fmt: skip
                cells = None
            yield number, cells, "".join(taken).rstrip("\r\n")
            first += len(taken)
            taken.clear()
