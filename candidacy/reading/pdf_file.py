"""Text out of a PDF with a text layer, page by page, in the order in which it is meant.

A page that holds a picture and no words is never passed over in silence: it is told, and a file of such pages is refused.
"""

import io
import logging
from typing import Any

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading.model import Mark
from candidacy.reading.page_layout import Page, in_order, without_running_heads
from candidacy.reading.report_bytes import refuse
from candidacy.reading.word_file import SCAN_STEP

MAX_PAGES = 200
_FEW_LETTERS = 100
"""A page with a large picture and fewer letters is a scan with a line added, such as that of a fax."""
_LARGE_PICTURE = 300_000
"""Pixels of a picture that may be a page; a logo has fewer [common practice]."""


def pdf_text(raw: bytes, name: str) -> tuple[str, tuple[Mark, ...]]:
    """Give the text layer of a PDF, with a mark for each page or table that could not be read.

    Raises
    ------
    ReportError
        E401 for a broken or protected file or one without text, E102 for too many pages.
    """
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
        if len(reader.pages) > MAX_PAGES:
            raise refuse(
                Code.TOO_LARGE, "the PDF has too many pages", name, next_step=f"at most {MAX_PAGES} pages"
            )
        pages = [(_page(page), _largest_picture(page)) for page in reader.pages]
    except ReportError:
        raise
    except (PyPdfError, Exception) as error:  # pypdf lets many kinds out of broken files
        raise refuse(Code.BAD_REPORT, "the PDF cannot be read", name, type(error).__name__) from error
    marks: list[Mark] = []
    for number, (page, picture) in enumerate(pages, 1):
        letters = sum(ch.isalpha() for ch in page.text)
        if (picture and not letters) or (picture >= _LARGE_PICTURE and letters < _FEW_LETTERS):
            marks.append(
                Mark("page_without_text", f"page {number} holds no text (a scan)", next_step=SCAN_STEP)
            )
        marks += [
            Mark(
                "layout",
                f"page {number}: rows of a table that could not be told apart were not read: {words[:300]}",
                next_step="type the table as text, one line a level",
            )
            for words in page.unordered
        ]
    text = "\n".join(without_running_heads([page.text for page, _ in pages]))
    if not text.strip() or sum(m.kind == "page_without_text" for m in marks) == len(pages):
        raise refuse(Code.BAD_REPORT, "the PDF has no text layer: a scanned page", name, next_step=SCAN_STEP)
    return text, tuple(marks)


def _page(page: Any) -> Page:
    plain = page.extract_text() or ""
    try:
        drawn = page.extract_text(extraction_mode="layout") or ""
    except Exception:  # fonts without widths cannot be drawn; the words are still there in their order
        return Page(plain)
    found = in_order(drawn, plain)
    lost = _letters(plain) - _letters(drawn)
    if found.text != plain and lost > 20:
        return Page(found.text, (*found.unordered, f"{lost} letters that stand across the page"))
    return found


def _letters(text: str) -> int:
    return sum(ch.isalnum() for ch in text)


def _largest_picture(page: Any) -> int:
    """Pixels of the largest picture of a page; 0 where there is none."""
    found = 0
    resources = page.get("/Resources")
    things = resources.get_object().get("/XObject") if resources is not None else None
    for thing in things.get_object().values() if things is not None else ():
        row = thing.get_object()
        if row.get("/Subtype") == "/Image":
            found = max(found, int(row.get("/Width", 1)) * int(row.get("/Height", 1)))
    return found
