"""The sheet of the day as a PDF: one page for all planned discs, else one for each, else as many as it needs, and it says so."""

from collections.abc import Iterator

from candidacy.day.checklist import Checklist
from candidacy.day.sheet import DaySheet, SheetLine
from candidacy.day.sheet_text import head_lines, record_line
from candidacy.explain.pdf_parts import SOFT, TONES, Paper, Sheets
from candidacy.explain.wording import listed

# Size of type in points, and whether each line says what no means beside the one word; tried from the first on. Nobody
# reads smaller type beside a patient.
LOOKS = ((7.0, True), (6.5, True), (6.0, False))
_WIDTHS = (70, 9, 5, 10, 6)
_LABEL_HEIGHT = 12  # millimetres
_TONE = {"stop": "fail", "wait": "undetermined"}


def sheet_pdf(sheet: DaySheet, words: Checklist, paper: Paper = "A4") -> bytes:
    """The sheet as a PDF. Where one page does not hold it at any size, each disc has its own; each page says so."""
    made = _fitting([(sheet, "")], words, paper)
    if made is None and len(sheet.discs) > 1:
        told = words.words.page_for_one
        made = _fitting(
            [(_for_disc(sheet, disc), told.format(disc=disc)) for disc in sheet.discs], words, paper
        )
    if made is not None:
        return made
    _, pages = _pdf([(sheet, words.words.several_pages)], words, paper, LOOKS[-1])
    return _pdf([(sheet, words.words.several_pages.format(pages=pages))], words, paper, LOOKS[-1])[0]


def _fitting(parts: list[tuple[DaySheet, str]], words: Checklist, paper: Paper) -> bytes | None:
    """The parts on a page each, in the first look in which they fit; none where they fit in no look."""
    best: bytes | None = None
    low, high = (
        0,
        len(LOOKS),
    )  # each look is tighter than the one before, so the first that fits is found by halving
    while low < high:
        middle = (low + high) // 2
        made, pages = _pdf(parts, words, paper, LOOKS[middle])
        low, high, best = (low, middle, made) if pages == len(parts) else (middle + 1, high, best)
    return best


def _for_disc(sheet: DaySheet, disc: str) -> DaySheet:
    lines = tuple(line for line in sheet.lines if line.disc in ("", disc))
    return sheet.model_copy(update={"lines": lines})


def _pdf(
    parts: list[tuple[DaySheet, str]], words: Checklist, paper: Paper, look: tuple[float, bool]
) -> tuple[bytes, int]:
    sheet = parts[0][0]
    foot = f"{words.words.foot} {sheet.made_of}."
    sheets = Sheets(f"{sheet.title}: {sheet.case}", foot, dense=True)
    for place, (part, note) in enumerate(parts):
        if place:
            sheets.new_page()
        _put(sheets, part, words, look, note)
    return sheets.to_bytes(paper), sheets.pages


def _put(sheets: Sheets, sheet: DaySheet, words: Checklist, look: tuple[float, bool], note: str) -> None:
    told, (size, with_means) = words.words, look
    title = f"{sheet.title}: {listed(list(sheet.discs))}"
    above = [sheets.paragraph(title, size=size + 4, bold=True, role="H1")]
    above += [sheets.paragraph(f"{sheet.case}, {sheet.on}", size=size + 2, bold=True)]
    above += [sheets.paragraph(line, size=size, tone=SOFT) for line in head_lines(sheet, words)]
    sheets.beside(above, told.label_box, _LABEL_HEIGHT)
    if note:
        sheets.add(note, size=size + 1, bold=True, tone=TONES["fail"])
    if sheet.no_checklist:
        first = sheets.paragraph(told.no_checklist, size=12, bold=True, tone=TONES["fail"], role="H2")
        sheets.box([first], TONES["fail"], sheet.no_checklist, size=9)
        return
    if sheet.dangers:
        sheets.add(
            "; ".join(sheet.dangers), size=size, bold=True, tone=TONES["fail"], lead=f"‼ {told.dangers}:"
        )
    if sheet.still_open:
        lead = told.still_open.format(rule_set=sheet.rule_set)
        sheets.add("; ".join(sheet.still_open), size=size, lead=f"{lead}:")
    sheets.add(told.untouched, size=size, bold=True)
    rows, tones = [], []
    for row, tone in _rows(sheet, words, with_means):
        rows.append(row)
        tones.append(tone)
    head = (told.record, f"{told.yes}  {told.no}  –", told.if_no, told.by, told.at)
    sheets.table(head, rows, _WIDTHS, tones, size=size, grid=True)
    sheets.add(told.signed, size=size + 1, before=4)


def _rows(
    sheet: DaySheet, words: Checklist, with_means: bool
) -> Iterator[tuple[list[object], list[str | None]]]:
    told = words.words
    part = ""
    for line in sheet.lines:
        if line.part != part:
            part = line.part
            yield [sheet.parts[part], "", "", "", ""], ["plain", None, None, None, None]
        boxes = f"☐ {told.yes}  ☐ {told.no}" + ("  ☐ –" if line.not_applicable else "")
        no = getattr(told, line.if_no)
        yield (
            [(line.ask, _beside(line, words, with_means)), boxes, no, "", "__:__"],
            [_TONE.get(line.state), None, None, None, None],
        )


def _beside(line: SheetLine, words: Checklist, with_means: bool) -> str:
    third = f"– = {line.not_applicable}" if line.not_applicable else ""
    means = f"{words.words.if_no.capitalize()}: {line.means}" if with_means else ""
    return " · ".join(filter(None, (record_line(line, words), *line.medicines, third, means)))
