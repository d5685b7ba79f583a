"""Page one of a printed assessment; what stands on it is put together in `candidacy.explain.first_page`."""

from candidacy.explain.first_page import ANNEX, BOXES, LABEL_BOX, Block, FirstPage
from candidacy.explain.pdf_parts import INK, SOFT, TONES, Sheets

_LABEL_HEIGHT, _BOX_HEIGHT = 18, 15  # millimetres
_SIZE = 8


def put_first_page(sheets: Sheets, page: FirstPage) -> None:
    """Add page one, and begin the annex on the next."""
    sheets.beside(
        [sheets.paragraph(page.title, size=11, bold=True, role="H1"), sheets.paragraph(page.of, tone=SOFT)],
        LABEL_BOX,
        _LABEL_HEIGHT,
    )
    for block in page.before:
        _put(sheets, block)
    tone = TONES[page.tone]
    sheets.box([sheets.paragraph(page.standing, size=14, bold=True, tone=tone, role="H2")], tone)
    if page.strip:
        sheets.strip(page.strip_name, page.strip)
    for block in page.blocks:
        _put(sheets, block)
    sheets.blanks(BOXES, _BOX_HEIGHT)
    sheets.end_of_page()
    sheets.annex(ANNEX)


def _put(sheets: Sheets, block: Block) -> None:
    tone = TONES["fail"] if block.alarm else INK
    if block.alarm:
        head = [sheets.paragraph(block.title, size=9, bold=True, tone=tone, role="H2")] if block.title else []
        plain = (
            []
            if block.listed
            else [sheets.paragraph(line, size=9, bold=True, tone=tone) for line in block.lines]
        )
        sheets.box([*head, *plain], tone, block.lines if block.listed else (), size=_SIZE)
        return
    sheets.heading(block.title, size=9, before=3.5)
    if block.listed:
        sheets.items(block.lines, size=_SIZE)
    else:
        for line in block.lines:
            sheets.add(line, size=_SIZE, before=0.5)
