"""What is asked of a text before any finding is read from it; each answer is a mark, and some refuse the report."""

from collections.abc import Sequence
from typing import NamedTuple

from candidacy.foundation.errors import Code, Problem, shorten
from candidacy.reading.addendum import addenda, apart
from candidacy.reading.body_part import body_part
from candidacy.reading.gate_words import words_of
from candidacy.reading.language import foreign
from candidacy.reading.lexicon import Lexicon
from candidacy.reading.model import NOT_READ, Mark, Reading, Span, Statement
from candidacy.reading.spans import Stretches
from candidacy.reading.standing import standing_marks
from candidacy.reading.template import unfilled

_CODES = {
    "language": Code.OTHER_LANGUAGE,
    "region": Code.OTHER_REGION,
    "withdrawn": Code.WITHDRAWN,
    "template": Code.UNFILLED,
}


class Passed(NamedTuple):
    """What the gates let through: the statements, those not to be read set to another region; marks; addenda."""

    rows: list[Statement]
    marks: tuple[Mark, ...]
    addenda: tuple[Span, ...]


def gate(text: str, rows: Sequence[Statement], lex: Lexicon) -> Passed:
    """Ask everything of a report that must be known before it is read."""
    words = words_of(text)
    marks = standing_marks(text, words)
    other = foreign(text, lex, words)
    marks += other.marks
    if not rows or any(m.refuses for m in marks):
        return Passed([r._replace(region="refused") for r in rows], tuple(marks), ())
    more, out = body_part(text, rows, lex, words)
    marks += more
    more, blank = unfilled(text, rows)
    marks += more
    refused = any(m.refuses for m in marks)
    if refused:
        out = [r._replace(region="refused") for r in out]
    elif blank or other.spans:
        strange = Stretches(other.spans)
        for n, r in enumerate(out):
            if r.region not in NOT_READ and strange.touch(r.start, r.end):
                out[n] = r._replace(region="another_language")
            elif r.region not in NOT_READ and n in blank:
                out[n] = r._replace(region="unfilled")
    added = addenda(text, rows)
    return Passed(apart(text, out, added), tuple(marks), added)


def problem_of(mark: Mark, text: str, name: str) -> Problem:
    """Give the mark that refuses a report as a problem of the file it came in."""
    found = "" if mark.span is None else shorten(text[mark.span.start : mark.span.end])
    return Problem(_CODES[mark.kind], mark.about, name, found=found, next_step=mark.next_step)


def refusal(reading: Reading, name: str) -> tuple[Problem, ...]:
    """Give the problem for which a reading holds nothing, if its report was refused."""
    mark = reading.refusal
    return () if mark is None else (problem_of(mark, reading.text, name),)
