"""Report text out of a C-CDA document, by its sections (C-CDA R2.1, Diagnostic Imaging Report V3; CDA R2 narrative block).

Only sections with a code of an imaging report are read (``documents.yaml``); a section without information
(``nullFlavor``) holds none. Entries beside the narrative are not read.
"""

import base64
import binascii
import re
from functools import cache
from typing import Any

from candidacy.foundation.errors import Code, shorten
from candidacy.reading.data_files import rows_of
from candidacy.reading.flow import Flow
from candidacy.reading.forms import document_text
from candidacy.reading.model import Mark
from candidacy.reading.report_bytes import clean_day, refuse
from candidacy.reading.sent import AMENDED, WITHDRAWN, ReportText, left_out
from candidacy.reading.xml_events import parse

_V3, _SDTC = "urn:hl7-org:v3 ", "urn:hl7-org:sdtc "
_CELLS = ("td", "th")
_BLOCKS = ("paragraph", "list", "item", "table", "caption", "thead", "tbody", "tfoot", "footnote")
_ROOT = "ClinicalDocument"


@cache
def section_headings() -> dict[str, str]:
    """The heading that the sections of an imaging report have here, by their LOINC or DICOM code."""
    rows: list[dict[str, Any]] = rows_of("documents")["sections"]
    return {code: row["heading"] for row in rows for code in row["codes"]}


def report(text: str, name: str) -> ReportText:
    """Give the report of a document.

    Raises
    ------
    ReportError
        E104 and others of `xml_events.parse`, E401 no ClinicalDocument or none with a section of an imaging report.
    """
    document = _Document()
    parse(text, document, name)
    if not document.is_document:
        raise refuse(Code.BAD_REPORT, "this XML is not a ClinicalDocument", name, document.root)
    key = " ".join(filter(None, document.key))
    if document.standing in ("nullified", "aborted", "obsolete"):
        error = refuse(Code.WITHDRAWN, "the document was withdrawn", name, document.standing,
                       "ask the sender for the document that holds")  # fmt: skip
        return ReportText(
            "", day=document.day, status=WITHDRAWN, key=key, issued=document.issued, problems=error.problems
        )
    marks: list[Mark] = []
    body = document.body.strip()
    data, plain = "".join(document.encoded), "".join(document.plain)
    if data.strip():
        try:
            raw = base64.b64decode("".join(data.split()), validate=True)
        except (binascii.Error, ValueError) as error:
            raise refuse(Code.BAD_REPORT, "the document inside is not base64", name) from error
        body, _, more = document_text(raw, name)
        marks += more
    elif plain.strip():
        body = plain
    if document.unused:
        titles = shorten("; ".join(dict.fromkeys(document.unused)), 300)
        marks.append(
            Mark("left_out", f"sections that are no part of an imaging report were not read: {titles}")
        )
    marks += left_out(document.left_out)
    if not body:
        raise refuse(Code.BAD_REPORT, "the document has no section of an imaging report", name,
                     "; ".join(document.unused), "send the sections findings and impression")  # fmt: skip
    standing = AMENDED if document.replaces else ""
    return ReportText(
        body, day=document.day, status=standing, key=key, issued=document.issued, marks=tuple(marks)
    )


class _Section:
    """One section while it is read."""

    def __init__(self) -> None:
        self.code = ""
        self.title = ""
        self.empty = False
        self.flow = Flow()


class _Document:
    """Gathers header and sections from the events."""

    def __init__(self) -> None:
        self.is_document, self.root = False, ""
        self.day = self.issued = self.standing = ""
        self.encoded: list[str] = []
        self.plain: list[str] = []
        self.key: tuple[str, ...] = ()
        self.replaces = False
        self.unused: list[str] = []
        self.left_out: list[str] = []
        self._path: list[str] = []
        self._sections: list[_Section] = []
        self._done: list[str] = []
        self._gone: list[str] = []
        self._body = ""

    @property
    def body(self) -> str:
        return "\n\n".join(self._done)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        kind = name[len(_V3) :] if name.startswith(_V3) else ""
        if not self._path:
            self.is_document, self.root = kind == _ROOT, name.split(" ")[-1]
        parent = self._path[-1] if self._path else ""
        self._path.append(kind)
        if name == f"{_SDTC}statusCode" and parent == _ROOT:
            self.standing = attributes.get("code", "").lower()
        elif kind == "section":
            self._flush()
            self._sections.append(_Section())
            self._sections[-1].empty = "nullFlavor" in attributes
        elif self._sections:
            self._in_section(kind, parent, attributes)
        else:
            self._header(kind, parent, attributes)

    def _header(self, kind: str, parent: str, attributes: dict[str, str]) -> None:
        value = attributes.get("value", "")
        if kind == "setId" and parent == _ROOT:
            self.key = (attributes.get("root", ""), attributes.get("extension", ""))
        elif kind == "versionNumber" and parent == _ROOT:
            self.issued = f"{value.zfill(8)} {self.issued}".strip()
        elif kind == "effectiveTime" and parent == _ROOT:
            self.issued = f"{self.issued} {value}".strip()
        elif kind == "relatedDocument" and parent == _ROOT:
            self.replaces = attributes.get("typeCode") in ("RPLC", "APND")
        elif "serviceEvent" in self._path and (kind == "low" or (kind == "effectiveTime" and value)):
            self.day = self.day or clean_day(value)
        elif kind == "text" and parent == "nonXMLBody":
            self._body = "data" if attributes.get("representation") == "B64" else "plain"

    def _in_section(self, kind: str, parent: str, attributes: dict[str, str]) -> None:
        section = self._sections[-1]
        if kind == "code" and parent == "section":
            section.code = attributes.get("code", "")
        elif kind == "text" and parent == "section":
            section.empty = section.empty or "nullFlavor" in attributes
        if not self._in_text():
            return
        style = attributes.get("styleCode", "").lower()
        if self._gone or attributes.get("revised") == "delete" or "strike" in style:
            self._gone.append(kind)
        elif kind == "tr":
            section.flow.open_row()
        elif kind in _CELLS:
            section.flow.open_cell()
        elif kind == "br":
            section.flow.end_line()
        elif kind in _BLOCKS:
            section.flow.end_block()
            section.flow.add("- " if kind == "item" else "")

    def _in_text(self) -> bool:
        """Whether the words at this place are narrative of the section that is open."""
        after = self._path[len(self._path) - self._path[::-1].index("section") :]
        return after[:1] == ["text"]

    def end(self, name: str) -> None:
        kind = self._path.pop()
        if kind == "section":
            self._flush()
            self._sections.pop()
        elif self._gone:
            self._gone.pop()
        elif self._sections and "section" in self._path and (self._in_text() or kind == "text"):
            flow = self._sections[-1].flow
            if kind == "tr":
                flow.close_row()
            elif kind in _CELLS:
                flow.close_cell()
            elif kind in _BLOCKS or kind == "text":
                flow.end_block()
        if kind == "text":
            self._body = ""

    def data(self, text: str) -> None:
        if not self._sections:
            if self._body == "data":
                self.encoded.append(text)
            elif self._body == "plain":
                self.plain.append(text)
            return
        section = self._sections[-1]
        if self._path[-2:] == ["section", "title"]:
            section.title += text[:200]
        elif self._in_text():
            if self._gone:
                section.flow.leave_out(text)
            else:
                section.flow.add(re.sub(r"\s+", " ", text))

    def _flush(self) -> None:
        """Write what the open section holds so far: its own words stand before those of sections within it."""
        if not self._sections:
            return
        section = self._sections[-1]
        text = section.flow.text()
        heading = section_headings().get(section.code, "")
        self.left_out += section.flow.left_out
        section.flow = Flow()
        if not text or section.empty:
            return
        if heading:
            self._done.append(f"{heading}:\n{text}")
        else:
            self.unused.append(section.title.strip() or section.code or "without a title")
