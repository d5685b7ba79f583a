"""From the bytes of one document to its text: plain text, HTML, RTF, PDF with a text layer, Word."""

import re

from candidacy.foundation.errors import Code
from candidacy.reading.markup import is_markup, markup_text
from candidacy.reading.model import Mark
from candidacy.reading.pdf_file import pdf_text
from candidacy.reading.report_bytes import MAX_BYTES, decode, refuse
from candidacy.reading.rtf import rtf_text
from candidacy.reading.sent import left_out
from candidacy.reading.word_file import docx_text

_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How a compound file begins: Word until 2003 ([MS-CFB] 2.2)."""
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\x00", b"MM\x00*", b"BM")
_DICOM = b"DICM"


def document_text(raw: bytes, name: str) -> tuple[str, str, tuple[Mark, ...]]:
    """Give the text of a document, its form, and marks for what in it is no part of the text.

    Raises
    ------
    ReportError
        As each form says; E401 for pictures and for forms that are not read.
    """
    if len(raw) > MAX_BYTES:
        raise refuse(Code.TOO_LARGE, "the report is too large", name, next_step=f"at most {MAX_BYTES} bytes")
    if b"%PDF-" in raw[:1024]:
        text, marks = pdf_text(raw, name)
        return text, "pdf", marks
    if raw[:4] == b"PK\x03\x04":
        text, gone = docx_text(raw, name)
        return text, "docx", left_out(gone)
    if raw[:64].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{\\rtf"):
        text, gone = rtf_text(raw.lstrip(b"\xef\xbb\xbf \t\r\n"), name)
        return text, "rtf", left_out(gone)
    if raw[:8] == _OLD_OFFICE:
        raise refuse(
            Code.BAD_REPORT, "an old Word file (.doc)", name, next_step="save it as .docx, .pdf or .txt"
        )
    if raw.startswith(_PICTURES) or raw[128:132] == _DICOM:
        raise refuse(
            Code.BAD_REPORT, "this is a picture, not a report", name, next_step="give the text of the report"
        )
    return plain_text(decode(raw, name))


def plain_text(text: str) -> tuple[str, str, tuple[Mark, ...]]:
    """Give a text as it is, or as its markup shows it."""
    if is_markup(text):
        shown, gone = markup_text(text)
        return shown, "html", left_out(gone)
    return text, "text", ()


def is_xml(text: str) -> bool:
    """Say whether a text is an XML document."""
    return re.match(r"\s*(?:<\?xml\b|<(?:\w+:)?ClinicalDocument\b)", text) is not None
