"""What a sheet says of cells beside their values: percent formats, errors, formulas without a stored value.

The reader of workbooks gives 0.53 for a cell that shows 53 %, and nothing for an error or for a formula that nobody
worked out. The markup of the sheet tells them; it is looked at as text, cell by cell only where such cells can be.
"""

import posixpath
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

_PIECE = 4 << 20
_PERCENT_FORMATS = (9, 10)  # built in: 0% and 0.00% (ECMA-376 part 1, 18.8.30)
# of a format: quoted and escaped signs, colours and conditions in brackets are not what scales a number
_LITERAL = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]|_.|\*.')
_PLACE = re.compile(rb'\br="([A-Z]{1,3})(\d+)"')
_ERROR = re.compile(
    rb"[^>]*>\s*(?:<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*)?<(?:\w+:)?v>([^<]*)<"
)
_NO_VALUE = re.compile(
    rb"<(?:\w+:)?c\b([^>]*)>\s*<(?:\w+:)?f\b(?:[^>]*/>|[^>]*>[^<]*</(?:\w+:)?f>)\s*"
    rb"(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"
)
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


class UnnumberedCellsError(ValueError):
    """Raised where a cell that matters does not say where it stands."""


@dataclass
class Marks:
    """Cells by row and column, both from 0.

    Attributes
    ----------
    percent
        Numbers that are shown as percent, so hundred times what is stored.
    errors
        Errors with their text, such as ``#N/A``.
    no_value
        Formulas without a stored value.
    """

    percent: set[tuple[int, int]] = field(default_factory=set)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)
    no_value: set[tuple[int, int]] = field(default_factory=set)


def marks_of(path: Path, sheet: str) -> Marks:
    """Look through the markup of a sheet.

    Raises
    ------
    UnnumberedCellsError
        If a cell of these kinds does not say where it stands.
    zipfile.BadZipFile, KeyError, xml.etree.ElementTree.ParseError
        For a damaged workbook.
    """
    found = Marks()
    with zipfile.ZipFile(path) as archive:
        styles = _percent_styles(archive)
        for piece in _pieces(archive, _part_of(archive, sheet)):
            _look(piece, styles, found)
    return found


def as_percent(number: float) -> str:
    """A number as a cell of percent format means it: 0.53 is ``53%``."""
    text = format(Decimal(repr(number)).scaleb(2), "f")
    return (text.rstrip("0").rstrip(".") if "." in text else text) + "%"


def _look(piece: bytes, styles: set[bytes], found: Marks) -> None:
    if styles:
        for cell in re.finditer(_with(rb's="(?:' + b"|".join(sorted(styles)) + rb')"'), piece):
            if not re.search(rb'\bt="(?!n")', cell[1]):
                found.percent.add(_place(cell[1]))
    if b't="e"' in piece:
        for cell in re.finditer(_with(rb't="e"'), piece):
            said = _ERROR.match(piece, cell.end() - 1)
            found.errors[_place(cell[1])] = said[1].decode("utf-8", "replace") if said else "#ERROR"
    if re.search(rb"<(?:\w+:)?f[ />]", piece):
        for cell in _NO_VALUE.finditer(piece):
            # an empty text that was worked out is stored as such
            if b't="str"' not in cell[1]:
                found.no_value.add(_place(cell[1]))


def _with(attribute: bytes) -> re.Pattern[bytes]:
    return re.compile(rb"<(?:\w+:)?c\b(?=[^>]*\b" + attribute + rb")([^>]*)>")


def _place(attributes: bytes) -> tuple[int, int]:
    place = _PLACE.search(attributes)
    if place is None:
        raise UnnumberedCellsError
    column = 0
    for sign in place[1]:
        column = column * 26 + sign - 64
    return int(place[2]) - 1, column - 1


def _pieces(archive: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    """The markup in pieces that end with a row."""
    rest = b""
    with archive.open(part) as stream:
        while read := stream.read(_PIECE):
            piece = rest + read
            end = piece.rfind(b"row>") + 4
            if end >= 4:
                yield piece[:end]
                piece = piece[end:]
            rest = piece
    yield rest


def _part_of(archive: zipfile.ZipFile, sheet: str) -> str:
    """The part of the workbook that holds a sheet."""
    book = next((each for each in archive.namelist() if each.lower() == "xl/workbook.xml"), "xl/workbook.xml")
    folder, name = posixpath.split(book)
    wanted = next(
        each.get(_RELATION)
        for each in _tree(archive, book).iter()
        if _bare(each.tag) == "sheet" and each.get("name") == sheet
    )
    for each in _tree(archive, f"{folder}/_rels/{name}.rels"):
        if each.get("Id") == wanted:
            target = each.get("Target", "")
            return target[1:] if target.startswith("/") else posixpath.normpath(f"{folder}/{target}")
    raise KeyError(sheet)


def _percent_styles(archive: zipfile.ZipFile) -> set[bytes]:
    """Numbers of the styles with which a number is shown as percent."""
    if "xl/styles.xml" not in archive.namelist():
        return set()
    tree = _tree(archive, "xl/styles.xml")
    formats = {
        int(each.get("numFmtId", "0")): _LITERAL.sub("", each.get("formatCode", ""))
        for each in tree.iter()
        if _bare(each.tag) == "numFmt"
    }
    percent = {number for number, code in formats.items() if "%" in code}
    percent |= {number for number in _PERCENT_FORMATS if number not in formats}
    cells = next((each for each in tree if _bare(each.tag) == "cellXfs"), ())
    return {
        str(place).encode() for place, each in enumerate(cells) if int(each.get("numFmtId", "0")) in percent
    }


def _tree(archive: zipfile.ZipFile, part: str) -> ElementTree.Element:
    return ElementTree.fromstring(archive.read(part))


def _bare(tag: str) -> str:
    return tag.rpartition("}")[2]
