"""Reports on the desk: their text, what was read from it, and what the person decided about each fact."""

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import facts_of, with_document
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.errors import CaseError, ReportError
from candidacy.reading.elements import ReadFact, facts
from candidacy.reading.merge import document_key, merge
from candidacy.reading.model import Reading
from candidacy.reading.notes.kinds import refuse_a_note
from candidacy.reading.sent import ReportText
from candidacy.reading.take import take
from candidacy.ui.desk import Desk
from candidacy.ui.said import statement_words, title_of

Choice = Literal["accept", "reject"]
State = Literal["new", "same", "differs", "open"]
_TOLD = 6  # findings that the history names
_ABOUT = {"source", "date", "words", "by", "note"}


@dataclass(frozen=True, slots=True)
class Report:
    """One report: where it came from, its text and day, the reading, and the decisions taken so far."""

    name: str
    text: str
    day: str
    reading: Reading
    status: str = ""
    choices: dict[tuple[str, str], Choice] = field(default_factory=dict)
    corrected: dict[tuple[str, str], FactEntry] = field(default_factory=dict)
    taken: str = ""
    """Key of the document under which its findings were put into a referral."""
    seen: bool = False
    """Whether a person said that what must be looked at first was looked at."""

    def is_taken(self, record: CaseRecord) -> bool:
        """Whether a record holds findings put into it from this report."""
        return bool(self.taken) and self.taken in record.documents

    @property
    def proposed_day(self) -> str:
        """The day of the study as the reading proposes it from the text; empty where it proposes none."""
        return self.reading.stated_day

    def facts(self) -> tuple[ReadFact, ...]:
        """What the record can take from it, with corrections in place."""
        found = []
        for fact in facts(self.reading, day=self.day, status=self.status):
            entry = self.corrected.get((fact.subject, fact.element))
            if entry is not None:
                read = statement_words(catalogue()[fact.element], fact.entry)
                about = {
                    "words": fact.entry.words,
                    "by": "corrected by reader",
                    "note": f"program read: {read}",
                }
                fact = fact._replace(entry=entry.model_copy(update=about))
            found.append(fact)
        return tuple(found)


def new_report(name: str, text: str, day: str = "") -> Report:
    """Read a report given as text.

    Raises
    ------
    ReportError
        E402 to E405 if it is refused: in another language, of another part of the body, withdrawn, not filled in;
        E401 for a discography or procedure note: the page shows imaging reports only.
    """
    return sent_report(ReportText(text, name, "text", day))


def sent_report(sent: ReportText) -> Report:
    """Read a report as a file or message brought it. See `new_report`."""
    refuse_a_note(sent.text, sent.name)
    reading, problems = take(sent)
    if reading is None:
        raise ReportError(problems)
    return Report(sent.name, sent.text, sent.day, reading, sent.status)


def reports_of(desk: Desk) -> list[Report]:
    """The reports on a desk."""
    found: list[Report] = desk.kept.setdefault("reports", [])
    return found


def change(desk: Desk, number: int, **changes: Any) -> None:
    """Note a decision about a report."""
    desk.kept["reports"] = [
        replace(r, **changes) if n == number else r for n, r in enumerate(reports_of(desk))
    ]


def date_report(desk: Desk, number: int, day: str) -> None:
    """Give a report its day; where its findings are in the referral, the document they name gets it too."""
    report = reports_of(desk)[number]
    change(desk, number, day=day)
    if report.is_taken(desk.record):
        document = desk.record.documents[report.taken].model_copy(update={"date": day})
        label = f"document corrected: {report.taken}, imaging report, {day}"
        desk.take(with_document(desk.record, report.taken, document), label)


def state_of(record: CaseRecord, fact: ReadFact) -> State:
    """How a fact stands to what the referral holds."""
    old = facts_of(record, fact.subject).get(fact.element)
    if old is None or (old.unknown is not None and fact.entry.unknown is None):
        return "new"
    if old.model_dump(exclude=_ABOUT) == fact.entry.model_dump(exclude=_ABOUT):
        return "same"
    return "open" if fact.entry.unknown is not None else "differs"


def accepted(report: Report) -> tuple[ReadFact, ...]:
    """The facts a person has accepted."""
    return tuple(f for f in report.facts() if report.choices.get((f.subject, f.element)) == "accept")


def take_over(desk: Desk, number: int) -> int:
    """Put the accepted facts of a report into the referral as one step, each with its words and source.

    Returns
    -------
    int
        How many facts were written.

    Raises
    ------
    CaseError
        If the record would not be allowed; it stays as it was.
    """
    report = reports_of(desk)[number]
    chosen = accepted(report)
    if not chosen:
        raise CaseError([])
    document = Document(kind="imaging_report", date=report.day or None, title=report.name)
    key = document_key(desk.record, "report")
    merged = merge(desk.record, chosen, key, document, accept=True)
    count = len(merged.added) + len(merged.replaced)
    written = (*merged.added, *merged.replaced)
    told = [
        f"{title_of(f.subject, catalogue()[f.element])}: {statement_words(catalogue()[f.element], f.entry)}"
        for f in written[:_TOLD]
    ]
    more = f" and {count - _TOLD} more" if count > _TOLD else ""
    desk.take(merged.record, f"{count} findings from {report.name}: {'; '.join(told)}{more}")
    change(desk, number, taken=key)
    return count
