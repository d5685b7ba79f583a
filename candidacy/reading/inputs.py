"""Reports as they arrive: text, PDF with a text layer, Word, HL7 v2 results, FHIR DiagnosticReport.

Every form ends as plain text; what cannot be read is refused with its reason, never guessed.
"""

import re
from pathlib import Path
from typing import NamedTuple

from candidacy.foundation.errors import Code, shorten
from candidacy.reading import fhir, hl7
from candidacy.reading.report_bytes import MAX_BYTES, decode, docx_text, pdf_text, refuse

MAX_CHARACTERS = 1_000_000
SUFFIXES = (".txt", ".text", ".pdf", ".docx", ".hl7", ".json")
_BROKEN = re.compile("[\ud800-\udfff\x00]")


class ReportText(NamedTuple):
    """The text of one report, where it came from, and its day and status where the message states them.

    ``status`` is ``preliminary``, ``final`` or ``amended``.
    """

    text: str
    name: str
    form: str
    day: str = ""
    status: str = ""


def load(path: Path | str) -> tuple[ReportText, ...]:
    """Load the report or reports of one file; an HL7 message may hold several.

    Raises
    ------
    ReportError
        E101 unreadable, E102 too large, E103 not text, E109 empty, E401 no report in it (a scanned page
        without a text layer, an encrypted file, a message without result text).
    """
    path = Path(path)
    name = shorten(path, 500)
    try:
        if path.is_dir():
            raise refuse(
                Code.UNREADABLE, "this is a folder, not a report", name, next_step="name the files in it"
            )
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        raise refuse(Code.UNREADABLE, "cannot be read", name, getattr(error, "strerror", "") or "") from error
    return load_bytes(raw, name)


def load_bytes(raw: bytes, name: str = "report") -> tuple[ReportText, ...]:
    """Load reports from the bytes of a file; the form is told from the bytes, then from the name. See `load`."""
    if len(raw) > MAX_BYTES:
        raise refuse(Code.TOO_LARGE, "the report is too large", name, next_step=f"at most {MAX_BYTES} bytes")
    if raw[:5] == b"%PDF-" or b"%PDF-" in raw[:1024]:
        return (_checked(pdf_text(raw, name), name, "pdf"),)
    if raw[:4] == b"PK\x03\x04":
        return (_checked(docx_text(raw, name), name, "docx"),)
    text = decode(raw, name)
    start = text.lstrip("\ufeff \t\r\n\x0b")
    if start.startswith(("MSH|", "MSH^", "FHS|", "BHS|")) or re.match(r"MSH[^\w\s]", start):
        return tuple(_checked(t, name, "hl7", *more) for t, *more in hl7.reports(start, name))
    if start.startswith("{"):
        return tuple(_checked(t, name, "fhir", *more) for t, *more in fhir.reports(start, name))
    return (_checked(text, name, "text"),)


def _checked(text: str, name: str, form: str, day: str = "", status: str = "") -> ReportText:
    if _BROKEN.search(text):
        text = _BROKEN.sub("\ufffd", text)
        if text.count("\ufffd") > len(text) // 20:
            raise refuse(Code.NOT_TEXT, "this is not a text file", name)
    if len(text) > MAX_CHARACTERS:
        raise refuse(
            Code.TOO_LARGE, "the report is too long", name, next_step=f"at most {MAX_CHARACTERS} characters"
        )
    if not text.strip():
        raise refuse(Code.EMPTY, "there is no text in it", name)
    return ReportText(text, name, form, day, status)
