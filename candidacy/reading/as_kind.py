"""Discography and procedure notes and letters, read as what they are: their day, and their facts with their place."""

from candidacy.case.record import CaseRecord
from candidacy.reading.elements import ReadFact
from candidacy.reading.letters.entries import with_places_for
from candidacy.reading.letters.read import day_of_letter, read_letter
from candidacy.reading.notes.elements import day_of, note_facts, with_place_for
from candidacy.reading.notes.kinds import Guess
from candidacy.reading.notes.model import NoteReading, Question
from candidacy.reading.notes.read import read_note
from candidacy.reading.sent import ReportText

OWN_KINDS = ("discography", "procedure", "letter")
"""Kinds that the imaging reader does not read."""


def read_as(report: ReportText, kind: Guess, day: str = "") -> NoteReading:
    """Read a note or letter; what the message that brought it says of it stands first among what is to be settled.

    ``day`` is that of a letter (``YYYY-MM-DD``) as someone gives it.

    Raises
    ------
    ReportError
        E401 for a text that is not of the kind; E402 to E405 as for an imaging report.
    """
    if kind.kind == "letter":
        reading = read_letter(report.text, report.name, day)
    else:
        reading = read_note(report.text, kind.kind, report.name)
    sent = tuple(Question(mark.about, "", "", ()) for mark in report.marks)
    return reading._replace(why=kind.why, questions=(*sent, *reading.questions))


def written_day(reading: NoteReading) -> str:
    """Give the day that a note or letter bears (``YYYY-MM-DD``), or nothing where it bears none or several."""
    return day_of_letter(reading.text) if reading.kind == "letter" else day_of(reading)


def facts_of_note(reading: NoteReading, source: str = "", day: str = "") -> tuple[ReadFact, ...]:
    """Give the facts of a note or letter; ``day`` dates a procedure, and is that of the document for a letter."""
    return note_facts(reading, source, "" if reading.kind == "letter" else day)


def placed(
    record: CaseRecord, kind: str, facts: tuple[ReadFact, ...]
) -> tuple[CaseRecord, tuple[ReadFact, ...]]:
    """Make room in a record for the entries of lists that a note or letter tells of; facts stay in their order."""
    return with_places_for(record, facts) if kind == "letter" else with_place_for(record, facts)
