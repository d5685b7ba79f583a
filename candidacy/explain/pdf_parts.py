"""Building blocks of printed documents: paper, type, paragraphs, lists and tables that break over pages, all tagged.

All text is escaped; a character the type does not have is printed as U+FFFD and counted on the last page.
"""

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from typing import Any, Literal
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.lib.utils import TimeStamp
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    CondPageBreak,
    KeepInFrame,
    KeepTogether,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    TableStyle,
)

from candidacy.explain.pdf_tags import (
    Element,
    Structure,
    TaggedParagraph,
    TaggedTable,
    artifact,
    number_page,
    title_in_window,
)

Paper = Literal["A4", "Letter"]
PAPERS: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
_REGULAR, _BOLD = "CandidacySans", "CandidacySans-Bold"
_MARGIN = 16 * mm
_WITH_HEADING = 40  # millimetres that a table and its headings want of a page on which they begin
# Ink on white paper; all at least 7:1 against it.
INK, SOFT, LINE, BAND = "#101518", "#3d474d", "#9aa5ab", "#eef1f2"
TONES = {
    "candidate": "#0b4a2c",
    "pass": "#0b4a2c",
    "not_candidate": "#7d1010",
    "fail": "#7d1010",
    "incomplete": "#5f3a00",
    "undetermined": "#5f3a00",
    "borderline": "#431c66",
    "urgent": "#7d1010",
    "not_yet": "#12406b",
    "noted": INK,
    "not_seen": INK,
    "does_not_apply": INK,
    "plain": INK,
    "not_considered": SOFT,
}


@cache
def _fonts() -> frozenset[int]:
    """Register the type once; returns the characters it has."""
    folder = resources.files("candidacy.explain") / "fonts"
    known: frozenset[int] = frozenset()
    for name, file in ((_REGULAR, "DejaVuSans.ttf"), (_BOLD, "DejaVuSans-Bold.ttf")):
        font = TTFont(name, io.BytesIO((folder / file).read_bytes()))
        pdfmetrics.registerFont(font)
        known = frozenset(font.face.charToGlyph)
    pdfmetrics.registerFontFamily(_REGULAR, normal=_REGULAR, bold=_BOLD, italic=_REGULAR, boldItalic=_BOLD)
    return known


@cache
def _style(
    size: float,
    bold: bool,
    tone: str,
    before: float,
    left: float,
    follow: bool = False,
    leading: float = 1.32,
) -> ParagraphStyle:
    _fonts()
    return ParagraphStyle(
        f"s{size}{bold}{tone}{before}{left}{follow}{leading}",
        fontName=_BOLD if bold else _REGULAR,
        fontSize=size,
        leading=size * leading,
        textColor=colors.HexColor(tone),
        spaceBefore=before,
        leftIndent=left,
        bulletIndent=0,
        bulletFontName=_REGULAR,
        bulletFontSize=size,
        splitLongWords=1,
        keepWithNext=follow,
        spaceAfter=2 if follow else 0,
    )


class Sheets:
    """A document in the making: add parts in order, then take its bytes.

    Parts are read aloud in the order in which they are added, as the element that their ``role`` names.
    """

    def __init__(self, title: str, footer: str, *, dense: bool = False) -> None:
        """``dense`` is for a sheet that must stand on one page: narrow margins and little room between lines."""
        self._known = _fonts()
        self._margin = 8 * mm if dense else _MARGIN
        self._leading = 1.12 if dense else 1.32
        self._missing: set[str] = set()
        self._parts: list[Any] = []
        self._pages: list[Any] = []
        self._title, self._footer = " ".join(title.split()), self.words(footer)
        self._structure = Structure()
        self._level = 2
        self.pages = 0  # how many there were when its bytes were last taken

    def words(self, text: object) -> str:
        """Foreign text made safe for the page."""
        kept = []
        for sign in " ".join(str(text).split()):
            if ord(sign) not in self._known:
                self._missing.add(sign)
                sign = "�"
            kept.append(sign)
        return escape("".join(kept))

    def paragraph(self, text: object, *, size: float = 8.5, bold: bool = False, tone: str = INK, before: float = 1.5,
                  left: float = 0, lead: str = "", role: str = "P", follow: bool = False) -> TaggedParagraph:  # fmt: skip
        """A paragraph; ``lead`` stands before it in bold."""
        first = f"<b>{self.words(lead)}</b> " if lead else ""
        made = TaggedParagraph(
            first + self.words(text), _style(size, bold, tone, before, left, follow, self._leading)
        )
        made.role = role
        return made

    def add(self, text: object, **look: Any) -> None:
        """Add a paragraph."""
        self._put([self.paragraph(text, **look)])

    def title(self, text: str) -> None:
        """Add the title of the document."""
        self.add(text, size=14, bold=True, role="H1")

    def heading(self, text: str, size: float = 11, before: float = 9) -> None:
        """Add a heading."""
        self.add(text, size=size, bold=True, before=before, role=f"H{self._level}", follow=True)

    def subheading(self, text: str, before: float = 4) -> TaggedParagraph:
        """A heading under the last one, to be added with what it heads."""
        return self.paragraph(text, bold=True, before=before, role=f"H{self._level + 1}")

    def annex(self, text: str) -> None:
        """Add the heading of an annex; the headings after it stand under it."""
        self.heading(text, size=13, before=0)
        self._level += 1

    def items(self, lines: Sequence[str], size: float = 8.5, tone: str = INK) -> None:
        """Add a list."""
        self._parts += self._items(lines, self._structure.root, size, tone)

    def box(
        self, paragraphs: Sequence[TaggedParagraph], tone: str, lines: Sequence[str] = (), size: float = 8.5
    ) -> None:
        """Add paragraphs in a frame of a colour, and the items of a list after them."""
        self._tag(paragraphs, self._structure.root)
        cell = [*paragraphs, *self._items(lines, self._structure.root, size, tone)]
        table = TaggedTable([[cell]], colWidths=["100%"])
        table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.6, colors.HexColor(tone)), ("TOPPADDING", (0, 0), (-1, -1), 4),
                                   ("BOTTOMPADDING", (0, 0), (-1, -1), 6)]))  # fmt: skip
        self._parts += [Spacer(1, 3), table, Spacer(1, 3)]

    def beside(self, paragraphs: Sequence[TaggedParagraph], box: str, height: float) -> None:
        """Add paragraphs with an empty box to their right, at least ``height`` millimetres high, that says what it is for."""
        caption = self.paragraph(box, size=6.5, tone=SOFT)
        self._tag([*paragraphs, caption], self._structure.root)
        table = TaggedTable([[list(paragraphs), [caption, Spacer(1, height * mm)]]], colWidths=["60%", "40%"])
        table.setStyle(TableStyle([("BOX", (1, 0), (1, 0), 0.8, colors.HexColor(SOFT)), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                                   ("LEFTPADDING", (0, 0), (0, 0), 0), ("TOPPADDING", (0, 0), (-1, -1), 2)]))  # fmt: skip
        self._parts += [table, Spacer(1, 3)]

    def blanks(self, boxes: Sequence[tuple[str, str]], height: float) -> None:
        """Add empty boxes, two in a row and each ``height`` millimetres high: what it is for, and how it is filled."""
        cells = []
        for label, hint in boxes:
            pair = [self.paragraph(label, size=8, bold=True), self.paragraph(hint, size=6.5, tone=SOFT)]
            self._tag(pair, self._structure.root)
            cells.append(pair)
        rows = [cells[place : place + 2] for place in range(0, len(cells), 2)]
        table = TaggedTable(rows, colWidths=["50%", "50%"], rowHeights=[height * mm] * len(rows))
        table.setStyle(TableStyle([("GRID", (0, 0), (-1, -1), 0.8, colors.HexColor(SOFT)), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                                   ("TOPPADDING", (0, 0), (-1, -1), 1)]))  # fmt: skip
        self._parts += [Spacer(1, 6), table]

    def strip(self, lead: str, cells: Sequence[tuple[str, str, str]], size: float = 8) -> None:
        """Add short answers in one row: of what, the answer, and its tone."""
        outer = self._structure.root.add("L")
        row = []
        for name, text, tone in (("", lead, "plain"), *cells):
            first = self.paragraph(
                text, size=size, bold=True, tone=TONES[tone], lead=f"{name}:" if name else ""
            )
            first.belongs_to(self._structure, outer.add("LI").add("LBody"))
            row.append(first)
        table = TaggedTable([row], colWidths=["14%", *[f"{86 / len(cells)}%"] * len(cells)])
        table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 0.6, colors.HexColor(LINE)), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                                   ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 3)]))  # fmt: skip
        self._parts += [table]

    def together(self, paragraphs: Sequence[TaggedParagraph]) -> None:
        """Add paragraphs that stay on one page."""
        self._tag(paragraphs, self._structure.root)
        self._parts.append(KeepTogether([*self._headings(), *paragraphs]))

    def table(self, head: Sequence[str], rows: Sequence[Sequence[object]], widths: Sequence[float],
              tones: Sequence[Sequence[str | None]] | None = None, *, size: float = 7.5, grid: bool = False) -> None:  # fmt: skip
        """Add a table with a repeated head. ``widths`` are parts of 100; ``tones`` colour cells, ``grid`` rules columns too.

        A cell that is a pair has its first text in bold before the second.
        """
        outer = self._structure.root.add("Table")
        cells = [[self.paragraph(text, size=size, bold=True) for text in head]]
        for place, row in enumerate(rows):
            look = tones[place] if tones else [None] * len(row)
            cells.append([self._cell(text, size, tone) for text, tone in zip(row, look, strict=True)])
        for number, line in enumerate(cells):
            row_element = outer.add("TR")
            for cell in line:
                element = row_element.add("TD") if number else row_element.add("TH", "Column")
                cell.belongs_to(self._structure, element)
        table = TaggedTable(cells, colWidths=[f"{width}%" for width in widths], repeatRows=1)
        table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.HexColor(LINE)), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                                   ("BACKGROUND", (0, 0), (-1, 0), colors.HexColor(BAND)), ("LEFTPADDING", (0, 0), (-1, -1), 3),
                                   ("RIGHTPADDING", (0, 0), (-1, -1), 3), ("TOPPADDING", (0, 0), (-1, -1), 0.4 if grid else 1),
                                   ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8 if grid else 3),
                                   *([("INNERGRID", (0, 0), (-1, -1), 0.4, colors.HexColor(LINE))] if grid else [])]))  # fmt: skip
        # kept with the whole table, headings would leave a page half empty; with its first rows they stay as well
        headings = self._headings()
        for heading in headings:
            heading.keepWithNext = 0
        self._parts += [*([CondPageBreak(_WITH_HEADING * mm)] if headings else []), *headings, table]

    def _cell(self, text: object, size: float, tone: str | None) -> TaggedParagraph:
        lead, rest = text if isinstance(text, tuple) else ("", text)
        ink = TONES.get(tone or "", INK)
        return self.paragraph(rest, size=size, tone=ink, bold=tone is not None and not lead, lead=str(lead))

    def draw(self, drawing: Any) -> None:
        """Add a drawing, which says nothing that the words around it do not say."""
        self._parts.append(drawing)

    def end_of_page(self) -> None:
        """Put all that was added since the last page ended on one page, made smaller where it must be, and begin the next."""
        self._pages += [KeepInFrame(0, 0, self._parts, mode="shrink"), PageBreak()]
        self._parts = []

    def new_page(self) -> None:
        """Begin a new page."""
        self._parts.append(PageBreak())

    def _headings(self) -> list[Any]:
        """Take back the headings that were added last, to be put in with what follows them: kept with a part that is itself
        kept together, they would stay behind at the end of a page.
        """
        found: list[Any] = []
        while (
            self._parts
            and isinstance(self._parts[-1], TaggedParagraph)
            and self._parts[-1].style.keepWithNext
        ):
            found.insert(0, self._parts.pop())
        return found

    def _put(self, paragraphs: Sequence[TaggedParagraph]) -> None:
        self._tag(paragraphs, self._structure.root)
        self._parts += paragraphs

    def _tag(self, paragraphs: Sequence[TaggedParagraph], inside: Element) -> None:
        for each in paragraphs:
            each.belongs_to(self._structure, inside.add(each.role))

    def _items(self, lines: Sequence[str], inside: Element, size: float, tone: str) -> list[TaggedParagraph]:
        if not lines:
            return []
        outer, made = inside.add("L"), []
        for line in lines:
            each = TaggedParagraph(self.words(line), _style(size, False, tone, 0.5, 10), bulletText="•")
            each.belongs_to(self._structure, outer.add("LI").add("LBody"))
            made.append(each)
        return made

    def to_bytes(self, paper: Paper, made: datetime | None = None) -> bytes:
        """The PDF; equal content made at one moment gives equal bytes.

        Parameters
        ----------
        made
            When it is made, which stands in its properties; now where nothing is given.

        Raises
        ------
        ValueError
            For a paper that is not A4 or Letter.
        """
        if paper not in PAPERS:
            raise ValueError(f"paper {paper} is not one of {', '.join(PAPERS)}")
        if self._missing:
            self.add(f"{len(self._missing)} characters this type does not have are printed as �; the HTML and "
                     "JSON forms show them.", tone=SOFT, before=6)  # fmt: skip
        buffer = io.BytesIO()
        document = SimpleDocTemplate(
            buffer,
            pagesize=PAPERS[paper],
            leftMargin=self._margin,
            rightMargin=self._margin,
            topMargin=self._margin,
            bottomMargin=self._margin + 4 * mm,
            title=self._title,
            author="candidacy",
            creator="candidacy",
            lang="en",
            invariant=1,
        )
        parts = [*self._pages, *self._parts] if self._parts else self._pages[:-1]
        document.build(parts, canvasmaker=_canvas(self._structure, self._footer, made, self._margin))
        self.pages = document.page
        return buffer.getvalue()


def _canvas(structure: Structure, footer: str, made: datetime | None, margin: float) -> type[Canvas]:
    """A canvas that writes the foot of each page, and at the end the structure of them all."""

    class _Numbered(Canvas):  # type: ignore[misc]
        """Writes "page n of m", which is known only at the end."""

        def __init__(self, *args: Any, **more: Any) -> None:
            super().__init__(*args, **more)
            self._pages: list[dict[str, Any]] = []
            self._doc._timeStamp = _stamp(made or datetime.now(UTC))

        def showPage(self) -> None:
            self._pages.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._pages, 1):
                self.__dict__.update(page)
                with artifact(self):
                    self._write(footer, f"{number} of {len(self._pages)}")
                Canvas.showPage(self)
                number_page(self._doc.Pages.pages[-1], number)
            structure.write(self._doc)
            title_in_window(self._doc)
            Canvas.save(self)

        def _write(self, text: str, pages: str) -> None:
            width = self._pagesize[0] - 2 * margin
            note = Paragraph(text, _style(6.5, False, SOFT, 0, 0))
            _, height = note.wrap(width - 18 * mm, 12 * mm)
            note.drawOn(self, margin, margin - height + 3 * mm)
            self.setFont(_REGULAR, 6.5)
            self.drawRightString(self._pagesize[0] - margin, margin - 6.5 + 3 * mm, pages)

    return _Numbered


def _stamp(moment: datetime) -> TimeStamp:
    """A moment as the properties of a PDF hold it, in universal time."""
    made = TimeStamp(invariant=1)
    moment = moment.astimezone(UTC)
    made.t, made.lt, made.tzname = moment.timestamp(), moment.timetuple(), "UTC"
    made.YMDhms, made.dhh, made.dmm = tuple(moment.timetuple())[:6], 0, 0
    return made
