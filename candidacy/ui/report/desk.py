"""Reports on the desk: their text, what was read from it, and what the person decided about each fact."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Literal, NamedTuple

from msgspec import Struct, field

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import facts_of, with_document
from candidacy.case.record import CaseRecord, DocumentKind, FactEntry
from candidacy.explain.said import statement_words
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import CaseError, Problem, ReportError
from candidacy.reading.as_kind import facts_of_note, placed, read_as, written_day
from candidacy.reading.dangers import note_of
from candidacy.reading.elements import ReadFact, facts
from candidacy.reading.merge import settles
from candidacy.reading.model import Reading
from candidacy.reading.notes.elements import DOCUMENTS
from candidacy.reading.notes.kinds import Guess, Kind, settled
from candidacy.reading.notes.model import INJECTION, NoteReading
from candidacy.reading.sent import ReportText
from candidacy.reading.take import take
from candidacy.reading.whose import Person, of_another, person_recorded, person_told
from candidacy.ui.desk import Desk, Place

Whose = tuple[tuple[Person, str], ...]
"""Whom a referral is of, each time with what tells it."""
Choice = Literal["accept", "reject"]
State = Literal["new", "same", "differs", "open"]
KIND_WORDS: dict[Kind, str] = {
    "imaging": "imaging report",
    "discography": "discography note",
    "procedure": "procedure note",
    "letter": "referral letter",
}
_ABOUT = {"source", "date", "words", "by", "note"}


class Report(Struct, frozen=True):
    """One report, note or letter: where it came from, its text and day, the reading, and the decisions taken so far.

    Facts are named by the subject that the report gives them ("medicines[1]" is the first medicine that it tells of) and
    their element; where they stand in a referral is told by `rows`.
    """

    sent: ReportText
    kind: Kind
    why: str
    """How its kind was found."""
    reading: Reading | NoteReading
    day: str = ""
    choices: Mapping[Place, Choice] = field(default_factory=dict)
    corrected: Mapping[Place, FactEntry] = field(default_factory=dict)
    left: Mapping[Place, tuple[Problem, ...]] = field(default_factory=dict)
    """Accepted facts that could not be put into the referral, each with the reason."""
    unticked: frozenset[tuple[str, ...]] = frozenset()
    """Points that the request for an addendum is not to hold, each by the elements it asks for."""
    taken: str = ""
    """Key of the document under which its findings were put into a referral."""
    seen: bool = False
    """Whether a person said that what must be looked at first was looked at."""
    ours: bool = False
    """Whether a person said that it is of this patient, though its words tell of another."""
    kept: str = ""
    """That the store keeps it, and as what; empty where this desk does not know."""

    @property
    def name(self) -> str:
        return self.sent.name

    @property
    def text(self) -> str:
        return self.sent.text

    @property
    def document_kind(self) -> DocumentKind:
        """What it is among the documents of a referral."""
        return DOCUMENTS.get(self.kind, "imaging_report")

    def is_taken(self, record: CaseRecord) -> bool:
        """Whether a record holds findings put into it from this report."""
        return bool(self.taken) and self.taken in record.documents

    @property
    def proposed_day(self) -> str:
        """The day of the study or letter as the reading proposes it from the text; empty where it proposes none."""
        return self.reading.stated_day if isinstance(self.reading, Reading) else written_day(self.reading)

    @property
    def unread_dangers(self) -> str:
        """What its document tells of passages that may tell of danger and became no fact, until a person looked at them."""
        seen = self.reading.outside if isinstance(self.reading, Reading) else ()
        return "" if self.seen else note_of(self.reading.text, self.reading.unread, seen)

    @property
    def person(self) -> Person:
        """Whom its own words tell of."""
        read = self.facts() if self.kind == "letter" else ()
        return person_told(self.text, self.day or self.proposed_day, date.today(), read)

    def facts(self) -> tuple[ReadFact, ...]:
        """What the record can take from it, with corrections in place."""
        if isinstance(self.reading, Reading):
            read = facts(self.reading, day=self.day, status=self.sent.status)
        else:
            read = facts_of_note(self.reading, day=self.day)
        return tuple(self._corrected(fact) for fact in read)

    def _corrected(self, fact: ReadFact) -> ReadFact:
        entry = self.corrected.get((fact.subject, fact.element))
        if entry is None:
            return fact
        read = statement_words(catalogue()[fact.element], fact.entry)
        about = {"words": fact.entry.words, "by": "corrected by reader", "note": f"program read: {read}"}
        return fact._replace(entry=entry.model_copy(update=about))


def new_report(name: str, text: str, day: str = "", kind: str = "") -> Report:
    """Read a report given as text. See `sent_report`."""
    return sent_report(ReportText(text, name, "text", day), kind)


def sent_report(sent: ReportText, kind: str = "") -> Report:
    """Read a report, note or letter as a file or message brought it.

    Parameters
    ----------
    kind
        ``imaging``, ``discography``, ``procedure`` or ``letter``; empty to have it told from the text.

    Raises
    ------
    ReportError
        E401 where the text does not tell its kind, or is not of the one that was chosen; E402 to E405 if it is
        refused: in another language, of another part of the body, withdrawn, not filled in.
    """
    if sent.problems:
        raise ReportError(sent.problems)
    guess = settled(sent.text, kind, sent.name, "imaging")
    found: Kind = guess.kind or "imaging"
    why = "chosen by you" if kind else guess.why
    return Report(sent, found, why, _read(sent, guess, sent.day), sent.day)


def _read(sent: ReportText, kind: Guess, day: str) -> Reading | NoteReading:
    if kind.kind != "imaging":
        return read_as(sent, kind, day)
    reading, problems = take(sent)
    if reading is None:
        raise ReportError(problems)
    return reading


def whose(record: CaseRecord, reports: Iterable[Report]) -> Whose:
    """Whom a referral is of: as the reports tell it that were put into it, and as it records that."""
    told = ((each.person, each.name) for each in reports if each.is_taken(record))
    return (*told, (person_recorded(record, date.today()), "referral"))


def of_another_patient(report: Report, record: CaseRecord, known: Whose) -> Problem | None:
    """That a report tells of another patient than the referral is of, until a person says that it is this one's."""
    if report.ours or report.is_taken(record):
        return None
    step = "find out whose it is; where it is this patient's, say so at the report"
    told = report.person
    found = (of_another(told, person, report.name, name, step) for person, name in known)
    return next((each for each in found if each is not None), None)


def reports_of(desk: Desk) -> list[Report]:
    """The reports on a desk."""
    found: list[Report] = desk.kept.setdefault("reports", [])
    return found


def change(desk: Desk, number: int, **changes: Any) -> None:
    """Note a decision about a report."""
    desk.kept["reports"] = [
        replace(r, **changes) if n == number else r for n, r in enumerate(reports_of(desk))
    ]


def look_at(desk: Desk, number: int) -> None:
    """Note that a person looked at what a report says first; where it is in the referral, its document no longer holds it up."""
    report = reports_of(desk)[number]
    held = report.unread_dangers
    change(desk, number, seen=True)
    if held and report.is_taken(desk.record):
        document = desk.record.documents[report.taken]
        if document.note == held:
            label = f"looked at what was not read: {report.taken}"
            desk.take(
                with_document(desk.record, report.taken, document.model_copy(update={"note": ""})), label
            )


def date_report(desk: Desk, number: int, day: str) -> None:
    """Give a report its day; where its findings are in the referral, the document they name gets it too.

    A letter is read again, for what it tells in weeks and months counts from its day.
    """
    report = reports_of(desk)[number]
    change(desk, number, day=day)
    if report.kind == "letter":
        _read_again(desk, number, day)
    if report.is_taken(desk.record):
        document = desk.record.documents[report.taken].model_copy(update={"date": day})
        kind = report.document_kind.replace("_", " ")
        label = f"document corrected: {report.taken}, {kind}, {day}"
        desk.take(with_document(desk.record, report.taken, document), label)


def _read_again(desk: Desk, number: int, day: str) -> None:
    """Read a letter anew under another day; what was decided of a fact stands only where it reads the same."""
    old = reports_of(desk)[number]
    change(desk, number, reading=_read(old.sent, Guess("letter", old.why), day))
    new = reports_of(desk)[number]
    before = {
        (f.subject, f.element): (f.entry.model_dump(exclude=_ABOUT), f.entry.words) for f in old.facts()
    }
    same = {
        (f.subject, f.element)
        for f in new.facts()
        if before.get((f.subject, f.element)) == (f.entry.model_dump(exclude=_ABOUT), f.entry.words)
    }
    change(desk, number, choices={p: c for p, c in new.choices.items() if p in same},
           corrected={p: e for p, e in new.corrected.items() if p in same})  # fmt: skip


def refuse_of_another(desk: Desk, report: Report) -> None:
    """Refuse a report on a desk that tells of another patient.

    Raises
    ------
    CaseError
        E211, as `of_another_patient` tells it.
    """
    stranger = of_another_patient(report, desk.record, whose(desk.record, reports_of(desk)))
    if stranger is not None:
        raise CaseError([stranger])


class Row(NamedTuple):
    """One fact of a report beside the referral.

    ``place`` is the subject and element as the report counts them, ``fact`` has the subject under which the referral
    holds it or would.
    """

    place: Place
    fact: ReadFact
    state: State


def placed_in(
    record: CaseRecord, report: Report, own: tuple[ReadFact, ...]
) -> tuple[CaseRecord, tuple[ReadFact, ...]]:
    """Facts of a report under the subjects of a record with room for them; what came from it before keeps its entry."""
    if report.kind != "letter" and report.is_taken(record) and record.injections is not None:
        for number, entry in enumerate(record.injections.entries, 1):
            if any(fact.source == report.taken for fact in entry.values()):
                subject = f"injections[{number}]"
                return record, tuple(
                    f._replace(subject=subject) if f.subject == INJECTION else f for f in own
                )
    return placed(record, report.kind, own)


def rows(record: CaseRecord, report: Report) -> list[Row]:
    """The facts of a report, each with how it stands to what a referral holds."""
    own = report.facts()
    room, there = placed_in(record, report, own)
    return [
        Row((one.subject, one.element), fact, _state(room, fact))
        for one, fact in zip(own, there, strict=True)
    ]


def _state(record: CaseRecord, fact: ReadFact) -> State:
    old = facts_of(record, fact.subject).get(fact.element)
    # a conflict, and a danger that is denied after a doubt, are settled by a person alone, not by the next report
    if old is None or (old.unknown is not None and fact.entry.unknown is None and settles(old, fact)):
        return "new"
    if old.model_dump(exclude=_ABOUT) == fact.entry.model_dump(exclude=_ABOUT):
        return "same"
    return "open" if fact.entry.unknown is not None else "differs"


def accepted(record: CaseRecord, report: Report) -> list[Row]:
    """The facts a person has accepted and the referral does not hold as they are."""
    return [r for r in rows(record, report) if report.choices.get(r.place) == "accept" and r.state != "same"]
