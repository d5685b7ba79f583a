"""Signs in the reports on the desk that the referral does not hold: what must be looked at before its standing is used."""

from candidacy.case.catalogue import catalogue
from candidacy.case.record import CaseRecord
from candidacy.explain.said import statement_words, title_of
from candidacy.foundation.errors import Problem
from candidacy.reading.model import Reading, Span
from candidacy.reading.notes.model import NoteReading
from candidacy.reading.wording import distinct_flags, outside_words
from candidacy.ui.report.desk import Report, Whose, of_another_patient, rows
from candidacy.ui.report.groups import is_danger


def signs_left(report: Report, record: CaseRecord, known: Whose) -> str:
    """What a report says that must be looked at first and the referral does not hold, in words; empty if nothing.

    ``known`` tells whom the referral is of.
    """
    stranger = of_another_patient(report, record, known)
    if report.seen:
        return stranger_words(stranger)
    reading = report.reading
    signs = (
        _of_imaging(report, reading, record) if isinstance(reading, Reading) else dangers_left(report, record)
    )
    return "; ".join(dict.fromkeys(filter(None, [stranger_words(stranger), *signs, *_unread(reading)])))


def stranger_words(stranger: Problem | None) -> str:
    """In words that a report tells of another patient; empty where it does not."""
    return "" if stranger is None else f"tells of another patient ({stranger.found})"


def _of_imaging(report: Report, reading: Reading, record: CaseRecord) -> list[str]:
    if not (reading.red_flags or reading.outside):
        return []
    signs = [(flag.about, flag.finding.evidence) for flag in distinct_flags(reading)]
    signs += [(outside_words(seen), seen.evidence) for seen in reading.outside]
    held = _held(report, record)
    return [about for about, span in signs if span not in held]


def dangers_left(report: Report, record: CaseRecord) -> list[str]:
    """The signs of danger that a note or letter states or doubts and the referral does not hold, in words."""
    left = [row.fact for row in rows(record, report) if row.state != "same" and is_danger(row.fact)]
    elements = [(fact, catalogue()[fact.element]) for fact in left]
    return [f"{title_of(f.subject, element)}: {statement_words(element, f.entry)}" for f, element in elements]


def _unread(reading: Reading | NoteReading) -> list[str]:
    return [f"not read, and holds a word of: {a.danger}" for a in reading.unread if a.danger]


def _held(report: Report, record: CaseRecord) -> set[Span]:
    """The words of a report whose facts the referral holds as the report says them."""
    if not report.is_taken(record):
        return set()
    return {span for row in rows(record, report) if row.state == "same" for span in row.fact.spans}
