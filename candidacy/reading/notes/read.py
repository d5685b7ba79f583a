"""From the text of a discography or procedure note to a note reading; no inference beyond the words."""

from candidacy.foundation.errors import Code, Problem, ReportError
from candidacy.reading.gates import problem_of
from candidacy.reading.language import foreign
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import Mark, Span
from candidacy.reading.notes.bind import bind
from candidacy.reading.notes.blank_tables import with_bars_for_blanks
from candidacy.reading.notes.corrected import corrected
from candidacy.reading.notes.days import days, is_day_of_note
from candidacy.reading.notes.elements import possible
from candidacy.reading.notes.gainsaid import gainsaid
from candidacy.reading.notes.kinds import Kind, settled
from candidacy.reading.notes.layout import clauses, unquoted
from candidacy.reading.notes.ledger import accounts
from candidacy.reading.notes.merged import questions, together
from candidacy.reading.notes.model import PATIENT, Clause, NoteFact, NoteReading, Question, Said
from candidacy.reading.notes.procedures import of_procedure
from candidacy.reading.notes.stretch import Bound
from candidacy.reading.notes.vocabulary import items
from candidacy.reading.standing import standing_marks
from candidacy.reading.strokes import with_bars

_TITLE = 3
"""The day of a note may stand alone in so many of its first clauses."""


def read_note(text: str, kind: Kind | None = None, name: str = "note") -> NoteReading:
    """Read one discography or procedure note given as text.

    The same text gives the same reading on any machine. Every fact holds the spans of its words; every clause is used,
    known to be of no weight, or listed as unread with the reason.

    Raises
    ------
    ReportError
        E401 if ``kind`` is not given and the text does not tell it, or it is an imaging report or a letter; for a note
        that is taken back, or in another language, as for an imaging report.

    Examples
    --------
    >>> note = read_note("L4-5: opening pressure 12 psi, exact pain 8/10 at 38 psi.", "discography")
    >>> [(f.subject, f.element, f.form) for f in note.facts][:2]
    [('L4-L5', 'discography_opening_pressure', {'value': 12.0, 'unit': 'psi'}), \
('L4-L5', 'discography_concordance', {'value': 'exact'})]
    """
    guess = settled(text, kind or "", name)
    found = guess.kind
    if found not in ("discography", "procedure"):
        raise ReportError(
            [Problem(Code.BAD_REPORT, "this is no discography or procedure note", name, found=f"{found}: {guess.why}",
                     expected="discography, procedure", next_step="say what it is with the kind")]
        )  # fmt: skip
    plain = with_bars_for_blanks(with_bars(unquoted(text)))
    marks = (*standing_marks(plain), *_foreign(plain))
    refused = [problem_of(m, plain, name) for m in marks if m.refuses]
    if refused:
        raise ReportError(refused)
    rows = clauses(plain)
    anaesthetic = any(i.role("kinds_of_test") for i in items(plain, 0, len(plain)))
    read = [_clause(plain, c, n, found, anaesthetic) for n, c in enumerate(rows)]
    said = [(s, n) for n, b in enumerate(read) for s in b.said]
    if found == "procedure":
        said, why = of_procedure(plain, rows, said)
    else:
        said, why = _of_discs(said, anaesthetic), ""
    said = corrected(plain, rows, said)
    facts = tuple(f if possible(f) else _impossible(f) for f in together(said))
    asked = tuple(Question(m.about, "", "", ()) for m in marks)
    ledger = accounts(plain, rows, read, facts, why)
    facts = gainsaid(plain, rows, ledger, facts)
    return NoteReading(text, found, guess.why, facts, ledger, (*asked, *questions(facts, why)))


def _foreign(text: str) -> list[Mark]:
    """Marks of another language that its words show; words that imaging reports do not have show none."""
    return [m for m in foreign(text, lexicon()).marks if m.span is not None]


def _clause(text: str, clause: Clause, number: int, kind: str, anaesthetic: bool) -> Bound:
    if clause.skip:
        return Bound([], [])
    start, end = clause.span
    found = days(text, start, end)
    said: list[Said] = []
    missed: list[tuple[Span, str]] = []
    rest = [Span(start, end)]
    if found and not clause.label:
        rest = [Span(a, b) for a, b in zip([start, *(d.span.end for d in found)],
                                           [*(d.span.start for d in found), end], strict=True)]  # fmt: skip
        named = (
            kind == "procedure"
            and len(found) == 1
            and any(i.role("procedures") for i in items(text, start, end))
        )
        for day in found:
            if not named and not is_day_of_note(text, start, end, day, number < _TITLE and len(found) == 1):
                missed.append((day.span, "a date of something else, or of what is not said"))
            elif not day.day:
                missed.append((day.span, "no date of the calendar"))
            else:
                said.append(Said(PATIENT, "date", {"value": day.day}, day.span, day.note))
        if missed:
            return Bound(said, [(clause.span, missed[0][1])])
    for span in rest:
        if clause.label or any(ch.isalnum() for ch in text[span.start : span.end]):
            part = bind(text, span, clause.discs, kind, anaesthetic, clause.label, clause.unit)
            said += part.said
            missed += part.missed
    return Bound(said, missed)


def _impossible(fact: NoteFact) -> NoteFact:
    return fact._replace(form={"unknown": "not_readable"}, note="outside what is possible")


_TEST = {"agent": "anaesthetic_agent", "relief": "anaesthetic_relief_reported"}
_NOT_OF_DISCS = frozenset(("side", "result", "duration", "steroid", "agent", "relief"))


def _of_discs(said: list[tuple[Said, int]], anaesthetic: bool) -> list[tuple[Said, int]]:
    """Name the elements of a discography, and say of every injected disc what is said of all."""
    out: list[tuple[Said, int]] = []
    for one, n in said:
        element = "discography_date" if one.element == "date" else _TEST.get(one.element, one.element)
        if element in _NOT_OF_DISCS:
            continue
        out.append((one._replace(element=element), n))
    injected = dict.fromkeys(s.subject for s, _ in out if s.subject not in (PATIENT, "*"))
    tested = dict.fromkeys(s.subject for s, _ in out if s.element.startswith("anaesthetic_"))
    provoked = any(s.element.startswith("discography_") and s.subject in injected and s.element != "discography_leak"
                   for s, _ in out)  # fmt: skip
    spread: list[tuple[Said, int]] = []
    for one, n in out:
        if one.subject == "*":
            spread += [(one._replace(subject=d, note="said of all discs"), n) for d in injected]
        elif one.element == "discography_date" and anaesthetic:
            spread += [(one._replace(subject=d, element="anaesthetic_test_date"), n) for d in tested]
            if provoked:
                spread.append((one, n))
        else:
            spread.append((one, n))
    return spread
