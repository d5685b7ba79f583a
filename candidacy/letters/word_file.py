"""Letters as DOCX: headings, lists and tables in the styles of the word processor; no macro, no field, no link."""

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from docx import Document
from docx.enum.text import WD_BREAK
from docx.oxml.ns import qn
from docx.shared import Pt, RGBColor

from candidacy.explain.pdf_parts import SOFT, TONES
from candidacy.letters.compose import BLANK, runs_of
from candidacy.letters.frame import frame
from candidacy.letters.letter import Letter, Section
from candidacy.letters.text import letter_head, source_tag

_SIZE = {"patient": 13, "clinician": 11, "payer": 10}
_BOX = "☐ "
_BULLET = "ListBullet"


def letters_docx(letters: Sequence[Letter], made: datetime | None = None) -> bytes:
    """One letter, or several, each on a page of its own, as a file that a word processor opens and a person finishes."""
    document = Document()
    words = frame()
    _look(document, letters[0])
    properties = document.core_properties
    properties.title, properties.author = f"{words['draft']}: {letters[0].title}", "candidacy"
    properties.comments, properties.language = words["draft"], "en-US"
    properties.created = properties.modified = (
        (made or datetime.now(UTC)).astimezone(UTC).replace(tzinfo=None)
    )
    section = document.sections[0]
    section.header.paragraphs[0].add_run(words["draft"]).bold = True
    foot = section.footer.paragraphs[0].add_run(letters[0].foot)
    foot.font.size, foot.font.color.rgb = Pt(6.5), _colour(SOFT)
    for place, letter in enumerate(letters):
        if place:
            document.add_paragraph().add_run().add_break(WD_BREAK.PAGE)
        _letter(document, letter)
    buffer = io.BytesIO()
    document.save(buffer)
    return buffer.getvalue()


def _letter(document: Any, letter: Letter) -> None:
    words = frame()
    title = letter.title + (f": {letter.about}" if letter.about else "")
    if letter.notes:  # on a page of their own: they are not for the reader of the letter
        document.add_paragraph(title)
        _heading(document, words["for_practice"], 2)
        for note in letter.notes:
            _styled(document, note, _BULLET)
        document.add_paragraph().add_run().add_break(WD_BREAK.PAGE)
    _alarm(document.add_paragraph(), words["draft"])
    if letter.open:
        _alarm(document.add_paragraph(), f"{words['incomplete']}: {'; '.join(letter.open)}.")
    _heading(document, title, 1)
    for label in letter_head(letter):
        document.add_paragraph(f"{label}: {BLANK}")
    for section in letter.sections:
        _section(document, section)
    document.add_paragraph()
    for label in letter.signature:
        document.add_paragraph(f"{label}: {BLANK}")
    document.add_paragraph(words["unsigned"])
    if letter.sources:
        _heading(document, words["sources"], 2)
        for source in letter.sources:
            run = document.add_paragraph().add_run(
                f"[{source.number}] {source.text} ({source_tag(source.tag)})"
            )
            run.font.size = Pt(8)


def _section(document: Any, section: Section) -> None:
    heading = _heading(document, section.heading, 2)
    if section.alarm:
        for run in heading.runs:
            run.font.color.rgb = _colour(TONES["fail"])
    for head, lines in runs_of(section):
        if head:
            _table(document, head, [line.cells for line in lines])
            if lines[0].mark:
                document.add_paragraph(lines[0].mark)
            continue
        for line in lines:
            if line.shape == "item":
                _styled(document, line.marked, _BULLET)
            else:
                document.add_paragraph((_BOX if line.shape == "box" else "") + line.marked)


def _heading(document: Any, text: str, level: int) -> Any:
    return _styled(document, text, f"Heading{level}")


def _styled(document: Any, text: str, style: str) -> Any:
    """A paragraph of a style by its id: asking for it by name goes through all styles each time."""
    paragraph = document.add_paragraph(text)
    paragraph._p.style = style
    return paragraph


def _table(document: Any, head: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    table = document.add_table(rows=1 + len(rows), cols=len(head), style="Table Grid")
    cells = iter(table._cells)  # asked for once: each asking goes through the whole table
    for text in head:
        next(cells).paragraphs[0].add_run(text).bold = True
    repeated = table._tbl.tr_lst[0].get_or_add_trPr()
    repeated.append(repeated.makeelement(qn("w:tblHeader"), {qn("w:val"): "true"}))
    for row in rows:
        for text in row:
            next(cells).paragraphs[0].add_run(text).font.size = Pt(8)


def _look(document: Any, letter: Letter) -> None:
    normal = document.styles["Normal"]
    normal.font.name, normal.font.size = "Calibri", Pt(_SIZE[letter.reader])
    normal.paragraph_format.space_after = Pt(4)
    language = normal.element.get_or_add_rPr()
    language.append(language.makeelement(qn("w:lang"), {qn("w:val"): "en-US"}))


def _alarm(paragraph: Any, text: str) -> None:
    run = paragraph.add_run(text)
    run.bold, run.font.color.rgb = True, _colour(TONES["fail"])


def _colour(tone: str) -> RGBColor:
    return RGBColor.from_string(tone.lstrip("#").upper())
