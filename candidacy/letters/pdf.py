"""Letters as tagged PDF for A4 or Letter."""

from collections.abc import Sequence
from datetime import datetime

from candidacy.explain.pdf_parts import SOFT, TONES, Paper, Sheets
from candidacy.letters.compose import runs_of
from candidacy.letters.frame import frame
from candidacy.letters.letter import Letter, Section
from candidacy.letters.text import letter_head, source_tag

_SIZE = {"patient": 12.0, "clinician": 9.5, "payer": 9.0}
_BOX = "☐ "
_THREE = (30, 15, 55)


def letters_pdf(letters: Sequence[Letter], paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """One letter, or several, each on a page of its own; see `Sheets.to_bytes` for ``made``.

    Raises
    ------
    ValueError
        For a paper that is not A4 or Letter.
    """
    words = frame()
    sheets = Sheets(f"{words['draft']}: {letters[0].title}", letters[0].foot)
    for place, letter in enumerate(letters):
        if place:
            sheets.new_page()
        _letter(sheets, letter)
    return sheets.to_bytes(paper, made)


def _letter(sheets: Sheets, letter: Letter) -> None:
    words, size, alarm = frame(), _SIZE[letter.reader], TONES["fail"]
    title = letter.title + (f": {letter.about}" if letter.about else "")
    if letter.notes:  # on a page of their own: they are not for the reader of the letter
        sheets.add(title, size=10, tone=SOFT)
        sheets.heading(words["for_practice"])
        sheets.items(letter.notes, size=9.5)
        sheets.new_page()
    sheets.add(words["draft"], size=11, bold=True, tone=alarm)
    if letter.open:
        sheets.add(f"{words['incomplete']}: {'; '.join(letter.open)}.", size=9, bold=True, tone=alarm)
    sheets.title(title)
    sheets.blanks([(label, words["by_hand"]) for label in letter_head(letter)], 16)
    for section in letter.sections:
        _section(sheets, section, size)
    sheets.blanks([(label, words["by_hand"]) for label in letter.signature], 18)
    sheets.add(words["unsigned"], size=8.5)
    if letter.sources:
        sheets.heading(words["sources"], size=9)
        for source in letter.sources:
            sheets.add(
                f"{source.text} ({source_tag(source.tag)})", size=7.5, tone=SOFT, lead=f"[{source.number}]"
            )


def _section(sheets: Sheets, section: Section, size: float) -> None:
    if section.alarm:  # the heading alone is framed: a frame cannot go over two pages
        sheets.box([sheets.subheading(section.heading, before=0)], TONES["fail"])
    else:
        sheets.heading(section.heading, size=size + 1.5)
    for head, lines in runs_of(section):
        if head:
            widths = _THREE if len(head) == len(_THREE) else [100 / len(head)] * len(head)
            sheets.table(head, [line.cells for line in lines], widths)
            if lines[0].mark:
                sheets.add(lines[0].mark, size=7.5, tone=SOFT)
        elif lines[0].shape == "item":
            sheets.items([line.marked for line in lines], size=size)
        else:
            for line in lines:
                sheets.add((_BOX if line.shape == "box" else "") + line.marked, size=size, before=3)
