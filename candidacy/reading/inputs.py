"""Reports as they arrive: text, PDF with a text layer, Word, HL7 v2 results, FHIR DiagnosticReport.

Every form ends as plain text; what cannot be read is refused with its reason, never guessed.
"""

import io
import logging
import re
import zipfile
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from candidacy.foundation.errors import Code, Problem, ReportError, shorten

MAX_BYTES = 20_000_000
MAX_CHARACTERS = 1_000_000
SUFFIXES = (".txt", ".text", ".pdf", ".docx", ".hl7", ".json")
_MAX_PAGES = 200
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


def refuse(code: Code, message: str, name: str, found: str = "", next_step: str = "") -> ReportError:
    """Make the error for a report that cannot be read."""
    return ReportError([Problem(code, message, name, found=shorten(found), next_step=next_step)])


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
        from candidacy.reading import hl7

        return tuple(_checked(t, name, "hl7", *more) for t, *more in hl7.reports(start, name))
    if start.startswith("{"):
        from candidacy.reading import fhir

        return tuple(_checked(t, name, "fhir", *more) for t, *more in fhir.reports(start, name))
    return (_checked(text, name, "text"),)


def decode(raw: bytes, name: str) -> str:
    """Decode text in UTF-8, UTF-16 with a mark, or the Western single-byte code of older systems."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return raw.decode("utf-16")
        except UnicodeDecodeError as error:
            raise refuse(Code.NOT_TEXT, "not valid UTF-16 text", name) from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    if b"\x00" in raw or sum(b < 9 or 13 < b < 32 for b in raw) > len(raw) // 100:
        raise refuse(
            Code.NOT_TEXT, "this is not a text file", name, next_step="give .txt, .pdf, .docx, .hl7 or .json"
        )
    return raw.decode("cp1252", errors="replace")


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


def pdf_text(raw: bytes, name: str) -> str:
    """Give the text layer of a PDF; see `load` for errors."""
    try:
        import pypdf
        from pypdf.errors import PyPdfError
    except ImportError as error:
        raise refuse(
            Code.BAD_REPORT, "PDF needs an extra", name, next_step="pip install 'candidacy[reading]'"
        ) from error
    logging.getLogger("pypdf").setLevel(logging.ERROR)
    try:
        reader = pypdf.PdfReader(io.BytesIO(raw))
        if reader.is_encrypted and not reader.decrypt(""):
            raise refuse(
                Code.BAD_REPORT, "the PDF is protected by a password", name, next_step="save it without one"
            )
        if len(reader.pages) > _MAX_PAGES:
            raise refuse(
                Code.TOO_LARGE, "the PDF has too many pages", name, next_step=f"at most {_MAX_PAGES} pages"
            )
        text = "\n".join(page.extract_text() or "" for page in reader.pages)
    except ReportError:
        raise
    except (PyPdfError, Exception) as error:  # pypdf lets many kinds out of broken files
        raise refuse(Code.BAD_REPORT, "the PDF cannot be read", name, type(error).__name__) from error
    if not text.strip():
        raise refuse(
            Code.BAD_REPORT,
            "the PDF has no text layer: a scanned page",
            name,
            next_step="ask for the report as text, or run text recognition on it and check the result by eye",
        )
    return text


def docx_text(raw: bytes, name: str) -> str:
    """Give the paragraphs and tables of a Word file; see `load` for errors."""
    try:
        import docx
    except ImportError as error:
        raise refuse(
            Code.BAD_REPORT, "Word files need an extra", name, next_step="pip install 'candidacy[reading]'"
        ) from error
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            size = sum(i.file_size for i in archive.infolist())
            if size > 10 * MAX_BYTES:
                raise refuse(Code.TOO_LARGE, "the Word file unpacks to too much", name)
            if "word/document.xml" not in archive.namelist():
                raise refuse(Code.BAD_REPORT, "this archive is not a Word file", name)
        document = docx.Document(io.BytesIO(raw))
        lines: list[str] = []
        for block in document.iter_inner_content():
            lines += _block_lines(block)
    except ReportError:
        raise
    except Exception as error:  # python-docx and lxml let many kinds out of broken files
        raise refuse(Code.BAD_REPORT, "the Word file cannot be read", name, type(error).__name__) from error
    return "\n".join(lines)


def _block_lines(block: Any) -> list[str]:
    rows = getattr(block, "rows", None)
    if rows is None:
        return [block.text]
    return ["\t".join(dict.fromkeys(cell.text for cell in row.cells)) for row in rows]


def clean_day(text: str) -> str:
    """Give a day as ``YYYY-MM-DD`` from the start of a message's date, or nothing if it is no date."""
    found = re.match(r"(\d{4})-?(\d{2})-?(\d{2})", text.strip())
    if found is None:
        return ""
    try:
        return date(*(int(p) for p in found.groups())).isoformat()
    except ValueError:
        return ""
