"""Minutes and the draft of a reply as PDF."""

from datetime import datetime

from candidacy.conference.letter import DRAFT, Letter
from candidacy.conference.minutes import (
    LOOK,
    NOT_A_DECISION,
    Minutes,
    case_line,
    case_lines,
    meeting_lines,
)
from candidacy.explain.pdf_parts import SOFT, TONES, Paper, Sheets

_ALARMS = (LOOK, "Note well", "Fails, graver")


def minutes_pdf(minutes: Minutes, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """A page for the meeting and one for each case, in smaller type where much was said; see `Sheets.to_bytes` for ``made``.

    Raises
    ------
    ValueError
        For a paper that is not A4 or Letter.
    """
    meeting = minutes.meeting
    sheets = Sheets(f"Minutes: {meeting.title}, {meeting.held_on}",
                    f"{NOT_A_DECISION} {meeting.title} of {meeting.held_on}, meeting {meeting.seq}")  # fmt: skip
    sheets.title(f"Minutes: {meeting.title}")
    _pairs(sheets, meeting_lines(meeting))
    sheets.heading("Cases")
    if not minutes.cases:
        sheets.add("none")
    sheets.table(("", "case", "question", "decided"),
                 [(number, *case_line(page)) for number, page in enumerate(minutes.cases, 1)], (4, 22, 34, 40))  # fmt: skip
    for page in minutes.cases:
        sheets.end_of_page()
        sheets.heading(f"Case {page.item.reference}", size=14, before=0)
        sheets.add(f"Item {page.item.seq}, {meeting.title} of {meeting.held_on}", tone=SOFT)
        _pairs(sheets, case_lines(page))
    sheets.end_of_page()
    return sheets.to_bytes(paper, made)


def letter_pdf(letter: Letter, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """The draft of a reply; every page says that it is one."""
    sheets = Sheets(
        f"{DRAFT}: reply about {letter.reference}",
        f"{DRAFT}. Reply about {letter.reference}. {NOT_A_DECISION}",
    )
    sheets.title(f"Reply about {letter.reference}")
    sheets.add(DRAFT, size=12, bold=True, tone=TONES["fail"])
    for line in letter.warnings:
        sheets.add(line, bold=True, tone=TONES["fail"])
    for heading, lines in letter.parts:
        sheets.heading(heading)
        for line in lines:
            sheets.add(line)
    return sheets.to_bytes(paper, made)


def _pairs(sheets: Sheets, pairs: list[tuple[str, str]]) -> None:
    for name, text in pairs:
        sheets.add(
            text,
            lead=f"{name}:",
            tone=TONES["fail"] if name in _ALARMS[:1] else TONES["noted"],
            bold=name in _ALARMS,
        )
