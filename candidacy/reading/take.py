"""A report as it arrived, read: what stands in the way of it is told before what was read from it."""

from candidacy.foundation.errors import Problem
from candidacy.reading.exam_date import with_day
from candidacy.reading.gates import refusal
from candidacy.reading.model import Reading
from candidacy.reading.reader import read_text
from candidacy.reading.sent import ReportText


def reading_of(report: ReportText, day: str = "") -> Reading:
    """Read a report; marks of the document and its message stand before those of the text.

    ``day`` is the day of the study as a person gives it; it goes before that of the message, and a report that
    states another one raises a question.
    """
    reading = with_day(read_text(report.text), day or report.day)
    return reading._replace(marks=(*report.marks, *reading.marks))


def take(report: ReportText, day: str = "") -> tuple[Reading | None, tuple[Problem, ...]]:
    """Read a report that may be refused: its reading, or the problems for which there is none.

    A version that another one supersedes has neither.
    """
    if report.problems or report.superseded:
        return None, report.problems
    reading = reading_of(report, day)
    problems = refusal(reading, report.name)
    return (None if problems else reading), problems
