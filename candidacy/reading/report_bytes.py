"""From the bytes of a report to its text: plain text in its usual codes, PDF with a text layer, Word.

What cannot be read is refused with its reason, never guessed.
"""

import io
import logging
import re
import zipfile
from datetime import date
from typing import Any

from candidacy.foundation.errors import Code, Problem, ReportError, shorten

MAX_BYTES = 20_000_000
_MAX_PAGES = 200


def refuse(code: Code, message: str, name: str, found: str = "", next_step: str = "") -> ReportError:
    """Make the error for a report that cannot be read."""
    return ReportError([Problem(code, message, name, found=shorten(found), next_step=next_step)])


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
