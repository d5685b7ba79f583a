"""Text out of a Word file (.docx): paragraphs, tables, content controls; tracked changes as they stand accepted.

WordprocessingML after ISO/IEC 29500-1 (17.3 paragraphs and runs, 17.4 tables, 17.13.5 revisions). Deleted, struck
and hidden runs are no part of the report and are told; headers, footers and notes stand in parts of their own.
"""

import io
import zipfile
import zlib

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading.flow import Flow
from candidacy.reading.report_bytes import MAX_BYTES, refuse
from candidacy.reading.xml_events import parse

_W = "http://schemas.openxmlformats.org/wordprocessingml/2006/main "
_STRICT = "http://purl.oclc.org/ooxml/wordprocessingml/main "
_FALLBACK = "http://schemas.openxmlformats.org/markup-compatibility/2006 Fallback"
_OFF = ("0", "false", "off")
_STRUCK = ("strike", "dstrike", "vanish")
_GONE = ("del", "moveFrom")


def docx_text(raw: bytes, name: str) -> tuple[str, list[str]]:
    """Give the text of a Word file, and the words struck, hidden or deleted in it.

    Raises
    ------
    ReportError
        E401 for an archive that is broken or no Word file, or is protected by a password, E102 if it unpacks to
        too much, E109 if it holds no text but pictures.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            names = archive.namelist()
            if "word/document.xml" not in names:
                raise refuse(Code.BAD_REPORT, "this archive is not a Word file", name)
            with archive.open("word/document.xml") as stream:  # the size is counted, not believed
                content = stream.read(MAX_BYTES + 1)
    except ReportError:
        raise
    except (
        zipfile.BadZipFile,
        zlib.error,
        OSError,
        EOFError,
        RuntimeError,
        NotImplementedError,
        ValueError,
    ) as error:
        raise refuse(Code.BAD_REPORT, "the Word file cannot be read", name, type(error).__name__) from error
    if len(content) > MAX_BYTES:
        raise refuse(
            Code.TOO_LARGE, "the Word file unpacks to too much", name, next_step=f"at most {MAX_BYTES} bytes"
        )
    document = _Document()
    parse(content, document, name)
    text = document.flow.text()
    if not text.strip() and any(n.startswith("word/media/") for n in names):
        raise refuse(
            Code.BAD_REPORT, "the Word file holds pictures and no text: a scan", name, next_step=SCAN_STEP
        )
    return text, document.flow.left_out


SCAN_STEP = "ask for the report as text, or type it and check it by eye"


class _Document:
    """Turns the events of ``word/document.xml`` into text."""

    def __init__(self) -> None:
        self.flow = Flow()
        self._gone = 0
        self._struck: list[str] = []
        self._text = False
        self._box = 0
        self._merged: dict[int, str] = {}
        self._columns: list[int] = []
        self._span = 1
        self._merge = ""

    def start(self, name: str, attributes: dict[str, str]) -> None:
        kind = _local(name)
        if name == _FALLBACK or kind in _GONE:
            self._gone += 1
            self._box += name == _FALLBACK
        elif kind == "r":
            self._struck = []
        elif kind in _STRUCK and _value(attributes) not in _OFF:
            self._struck.append(kind)
        elif kind in ("t", "delText"):
            self._text = True
        elif kind == "tab" and not attributes:
            self._put("\t")
        elif kind in ("br", "cr"):
            self._line()
        elif kind == "noBreakHyphen":
            self._put("-")
        elif kind == "tr" and not self._gone:
            self.flow.open_row()
            self._columns.append(0)
        elif kind == "tc" and self._columns and not self._gone:
            self.flow.open_cell()
            self._span, self._merge = 1, ""
        elif kind == "gridSpan":
            self._span = int(_value(attributes)) if _value(attributes).isdecimal() else 1
        elif kind == "vMerge":
            self._merge = _value(attributes) or "continue"

    def end(self, name: str) -> None:
        kind = _local(name)
        if name == _FALLBACK or kind in _GONE:
            self._gone -= 1
            self._box -= name == _FALLBACK
        elif kind in ("t", "delText"):
            self._text = False
        elif kind == "p":
            self._line()
        elif kind == "rPr":  # of a paragraph's mark, or of the run whose text follows
            pass
        elif kind == "pPr":
            self._struck = []
        elif kind == "tc" and self._columns and not self._gone:
            self._end_cell()
        elif kind == "tr" and self._columns and not self._gone:
            self._columns.pop()
            self.flow.close_row()
        elif kind == "tbl" and not self._columns:
            self._merged = {}

    def data(self, text: str) -> None:
        if self._text:
            self._put(text)

    def _end_cell(self) -> None:
        column = self._columns[-1]
        if self._merge == "continue" and len(self._columns) == 1:
            self.flow.add(self._merged.get(column, ""))  # a cell that goes on from the row above
        text = self.flow.close_cell()
        if len(self._columns) == 1:
            self._merged[column] = text
        self._columns[-1] += self._span
        self._merge = ""

    def _line(self) -> None:
        if not self._gone:
            self.flow.end_line()

    def _put(self, text: str) -> None:
        if self._box:
            return  # the same content again, for older programs
        if self._gone or self._struck:
            self.flow.leave_out(text)
        else:
            self.flow.add(text)


def _local(name: str) -> str:
    for space in (_W, _STRICT):
        if name.startswith(space):
            return name[len(space) :]
    return ""


def _value(attributes: dict[str, str]) -> str:
    return attributes.get(f"{_W}val", attributes.get(f"{_STRICT}val", ""))
