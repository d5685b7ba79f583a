"""Building blocks of printed documents: paper, type, paragraphs and tables that break over pages.

All text is escaped; a character the type does not have is printed as U+FFFD and counted on the last page.
"""

import io
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any, Literal
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

Paper = Literal["A4", "Letter"]
PAPERS: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
_REGULAR, _BOLD = "CandidacySans", "CandidacySans-Bold"
_MARGIN = 16 * mm
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
    size: float, bold: bool, tone: str, before: float, left: float, follow: bool = False
) -> ParagraphStyle:
    _fonts()
    return ParagraphStyle(
        f"s{size}{bold}{tone}{before}{left}{follow}",
        fontName=_BOLD if bold else _REGULAR,
        fontSize=size,
        leading=size * 1.32,
        textColor=colors.HexColor(tone),
        spaceBefore=before,
        leftIndent=left,
        splitLongWords=1,
        keepWithNext=follow,
        spaceAfter=2 if follow else 0,
    )


class Sheets:
    """A document in the making: add parts in order, then take its bytes."""

    def __init__(self, title: str, footer: str) -> None:
        self._known = _fonts()
        self._missing: set[str] = set()
        self._parts: list[Any] = []
        self._title, self._footer = self.words(title), self.words(footer)

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
                  left: float = 0, lead: str = "") -> Paragraph:  # fmt: skip
        """A paragraph; ``lead`` stands before it in bold."""
        first = f"<b>{self.words(lead)}</b> " if lead else ""
        return Paragraph(first + self.words(text), _style(size, bold, tone, before, left))

    def add(self, text: object, **look: Any) -> None:
        """Add a paragraph."""
        self._parts.append(self.paragraph(text, **look))

    def heading(self, text: str) -> None:
        """Add a heading."""
        self._parts.append(Paragraph(self.words(text), _style(11, True, INK, 9, 0, True)))

    def box(self, paragraphs: Sequence[Paragraph], tone: str) -> None:
        """Add paragraphs in a frame of a colour."""
        table = Table([[list(paragraphs)]], colWidths=["100%"])
        table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.6, colors.HexColor(tone)), ("TOPPADDING", (0, 0), (-1, -1), 5),
                                   ("BOTTOMPADDING", (0, 0), (-1, -1), 7)]))  # fmt: skip
        self._parts += [Spacer(1, 4), table, Spacer(1, 4)]

    def together(self, paragraphs: Sequence[Paragraph]) -> None:
        """Add paragraphs that stay on one page."""
        self._parts.append(KeepTogether(list(paragraphs)))

    def table(self, head: Sequence[str], rows: Sequence[Sequence[object]], widths: Sequence[float],
              tones: Sequence[Sequence[str | None]] | None = None) -> None:  # fmt: skip
        """Add a table with a repeated head. ``widths`` are parts of 100; ``tones`` colour cells."""
        cells = [[self.paragraph(text, size=7.5, bold=True) for text in head]]
        for place, row in enumerate(rows):
            look = tones[place] if tones else [None] * len(row)
            cells.append([self.paragraph(text, size=7.5, tone=TONES.get(tone or "", INK), bold=tone is not None)
                          for text, tone in zip(row, look, strict=True)])  # fmt: skip
        table = Table(cells, colWidths=[f"{width}%" for width in widths], repeatRows=1)
        table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.HexColor(LINE)), ("VALIGN", (0, 0), (-1, -1), "TOP"),
                                   ("BACKGROUND", (0, 0), (-1, 0), colors.HexColor(BAND)), ("LEFTPADDING", (0, 0), (-1, -1), 3),
                                   ("RIGHTPADDING", (0, 0), (-1, -1), 3), ("TOPPADDING", (0, 0), (-1, -1), 1),
                                   ("BOTTOMPADDING", (0, 0), (-1, -1), 3)]))  # fmt: skip
        self._parts.append(table)

    def to_bytes(self, paper: Paper) -> bytes:
        """The PDF; equal content gives equal bytes.

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
            leftMargin=_MARGIN,
            rightMargin=_MARGIN,
            topMargin=_MARGIN,
            bottomMargin=_MARGIN + 4 * mm,
            title=self._title,
            author="candidacy",
            lang="en",
            invariant=1,
        )
        footer = self._footer

        class _Numbered(Canvas):  # type: ignore[misc]
            """Writes "page n of m", which is known only at the end."""

            def __init__(self, *args: Any, **more: Any) -> None:
                super().__init__(*args, **more)
                self._pages: list[dict[str, Any]] = []

            def showPage(self) -> None:
                self._pages.append(dict(self.__dict__))
                self._startPage()

            def save(self) -> None:
                for number, page in enumerate(self._pages, 1):
                    self.__dict__.update(page)
                    self._write(footer, f"{number} of {len(self._pages)}")
                    Canvas.showPage(self)
                Canvas.save(self)

            def _write(self, text: str, pages: str) -> None:
                width = self._pagesize[0] - 2 * _MARGIN
                note = Paragraph(text, _style(6.5, False, SOFT, 0, 0))
                _, height = note.wrap(width - 18 * mm, 12 * mm)
                note.drawOn(self, _MARGIN, _MARGIN - height + 3 * mm)
                self.setFont(_REGULAR, 6.5)
                self.drawRightString(self._pagesize[0] - _MARGIN, _MARGIN - 6.5 + 3 * mm, pages)

        document.build(self._parts, canvasmaker=_Numbered)
        return buffer.getvalue()
