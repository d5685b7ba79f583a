"""The day of a note: dates in the usual forms, after a label or in the title."""

import re
from datetime import date
from functools import lru_cache
from typing import Literal, NamedTuple

from candidacy.reading.day_order import order_said
from candidacy.reading.model import Span
from candidacy.reading.notes.vocabulary import items, vocabulary

_FORMS = re.compile(
    r"(?<![\d/.\-])(?:(?P<iso>\d{4})-(?P<im>\d{1,2})-(?P<id>\d{1,2})"
    r"|(?P<m>\d{1,2})(?P<sep>[/\-.])(?P<d>\d{1,2})(?P=sep)(?P<y>\d{4}|\d{2})"
    r"|(?P<mn>[A-Za-z]{3,9})\.?\s+(?P<nd>\d{1,2})(?:st|nd|rd|th)?,?\s+(?P<ny>\d{4})"
    r"|(?P<ed>\d{1,2})(?:st|nd|rd|th)?[\s\-](?P<en>[A-Za-z]{3,9})\.?[\s\-,]+(?P<ey>\d{4}))(?![\d/\-])"
)


_MONTHS, _DAYS = 12, 31


class Day(NamedTuple):
    """A date in the text; ``day`` is empty where its digits are no date of the calendar."""

    span: Span
    day: str
    note: str


def days(text: str, start: int, end: int) -> list[Day]:
    """Give the dates in ``text[start:end]``.

    Figures are read as the text says, else month first, as is American use, unless it holds a date that can only be read day
    first; where it holds dates of both kinds, or its spelling is not American, one that may be either is no day.
    """
    out = []
    for m in _FORMS.finditer(text, start, end):
        months = vocabulary().data["months"]
        note = ""
        g = m.groupdict()
        if g["iso"]:
            parts = (g["iso"], g["im"], g["id"])
        elif g["m"]:
            year, order = (g["y"] if len(g["y"]) == 4 else f"20{g['y']}"), _order(text)
            either = max(int(g["m"]), int(g["d"])) <= _MONTHS and int(g["d"]) != int(g["m"])
            day_first = order == "day" if either else int(g["m"]) > _MONTHS and order != "month"
            parts = (year, g["d"], g["m"]) if day_first else (year, g["m"], g["d"])
            if either:
                note = "read as day, month, year" if day_first else "read as month, day, year"
                parts = (year, "0", "0") if order == "doubt" else parts
        else:
            name = (g["mn"] or g["en"]).lower()
            if name not in months:
                continue
            parts = (g["ny"] or g["ey"], months[name], g["nd"] or g["ed"])
        day = _day(*parts)
        if day or (len(parts[0]) == 4 and not (g["y"] and len(g["y"]) == 2)):  # "12/38/50" is no date at all
            out.append(Day(Span(*m.span()), day, note))
    return out


def order_open(text: str) -> bool:
    """Say whether nothing in a text tells in which order its figures stand, or what tells it is in doubt."""
    return _order(text) in ("", "doubt")


@lru_cache(maxsize=64)
def _order(text: str) -> Literal["day", "month", "doubt", ""]:
    """In which order figures stand: as the text says, else as dates show that can be read in one way only."""
    said = order_said(text)
    if said in ("day", "month"):
        return said
    pairs = [(int(m["m"]), int(m["d"])) for m in _FORMS.finditer(text) if m["m"]]
    day_first = any(_MONTHS < a <= _DAYS and b <= _MONTHS for a, b in pairs)
    month_first = any(a <= _MONTHS < b <= _DAYS for a, b in pairs)
    if day_first and month_first:
        return "doubt"
    return "day" if day_first else "month" if month_first else said


def _day(year: str, month: str, day: str) -> str:
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return ""


def is_day_of_note(text: str, start: int, end: int, found: Day, first: bool) -> bool:
    """Say whether a date is that of the procedure: its label stands before it, or it stands in the title."""
    lead = items(text, start, found.span.start)
    while lead and lead[-1].role("fillers") and not lead[-1].role("label"):
        lead.pop()
    if lead and any(r.value == "date" for r in lead[-1].roles_of("label")):
        return True
    if any(i.role("past") or i.role("compare") for i in items(text, start, end)):
        return False
    words = text[start : found.span.start].lower()
    rest = text[found.span.end : end].strip(" .,;()")
    titles = [t for kind in ("discography", "procedure") for t in vocabulary().data["kinds"][kind]["title"]]
    return (
        first
        and (not rest or rest[0] == ":")
        and (not words.strip(" ,:-") or any(t in words for t in titles))
    )
