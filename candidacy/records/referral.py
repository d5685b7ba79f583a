"""One referral as it is opened: everything that is needed to go on where it was left, in one reading."""

from typing import Any

from msgspec import Struct
from sqlalchemy import select

from candidacy.case.load import Case, parse_case
from candidacy.records import schema
from candidacy.records.answers import KeptAnswer, answer_of
from candidacy.records.conference import not_to_be_seen
from candidacy.records.decisions import Decision, decisions_of
from candidacy.records.drafts import Draft, Drafts
from candidacy.records.entries import KINDS, CaseSaved
from candidacy.records.letters import KeptLetter, letters_of
from candidacy.records.reports import ReportRow, report_rows
from candidacy.records.session import Turn, damaged, kept_body
from candidacy.records.trail import Entry, body_bytes, body_from, entries
from candidacy.records.work import Act, Note, WorkRow, notes_of, work_row


class Referral(Struct, frozen=True):
    """A referral as it stands.

    Attributes
    ----------
    work
        Its row in the work list.
    case
        The present version of the record.
    answer
        The last kept assessment, if any.
    decisions, notes, acts
        Everything decided, every note, and the acts that are open.
    draft
        What the person who opened it left unfinished in the slot of the referral, if anything.
    letters
        Letters that were kept as they were drafted, first to last.
    reports
        Which reports, notes and letters were kept as they were read, first to last.
    """

    work: WorkRow
    case: Case
    answer: KeptAnswer | None
    decisions: tuple[Decision, ...]
    notes: tuple[Note, ...]
    acts: tuple[Act, ...]
    draft: Draft | None
    letters: tuple[KeptLetter, ...]
    reports: tuple[ReportRow, ...]


class Event(Struct, frozen=True):
    """One entry of the trail with what its body says: ``said`` is plain data, empty where it says nothing or was removed."""

    entry: Entry
    said: dict[str, Any]

    @property
    def why(self) -> str:
        """The reason, in the words of who entered it."""
        return str(self.said.get("why", ""))


class Referrals(Drafts):
    """Opening referrals, and their history."""

    def open_referral(self, reference: str) -> Referral:
        """Open a referral. This is entered as read.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference, E705 if what is kept is not what was saved.
        """
        with self._writing("read") as turn:
            work = turn.work(reference)
            version = turn.rows.get(schema.version, reference, work["version"])
            if version is None:
                raise damaged(0, f"version {work['version']} of {reference} is not listed")
            saved = kept_body(turn.connection, version["seq"], CaseSaved)
            last = turn.connection.execute(
                select(schema.assessment.c.seq)
                .where(schema.assessment.c.reference == reference)
                .order_by(schema.assessment.c.seq.desc())
                .limit(1)
            ).scalar()
            answer = answer_of(turn, last) if last else None
            decisions, notes = decisions_of(turn, reference), notes_of(turn, reference)
            letters, reports = letters_of(turn, reference), report_rows(turn, reference)
            acts = tuple(Act(**row) for row in turn.rows.where(schema.act, reference=reference, state="open"))
            turn.enter(reference=reference)
        case = parse_case(saved.record, reference)
        if case.digest != saved.digest:
            raise damaged(version["seq"], "the record has another digest")
        return Referral(work_row(work), case, answer, decisions, notes, acts, self.draft(reference), letters,
                        reports)  # fmt: skip

    def history(self, reference: str) -> tuple[Event, ...]:
        """Everything entered of a referral, first to last, who read it among it. This is entered as read.

        A rating of somebody else's says nothing until all who take part have rated.

        Raises
        ------
        StoreError
            E704 if nothing was ever kept under that reference.
        """
        with self._writing("read") as turn:
            if turn.rows.get(schema.removal, reference) is None:
                turn.work(reference)
            turn.enter(reference=reference)
            return tuple(
                Event(entry, said_of(entry, self._content(turn, entry)))
                for entry in list(entries(turn.connection, reference=reference))
            )

    def _content(self, turn: Turn, entry: Entry) -> bytes | None:
        hidden = not_to_be_seen(turn, entry, self.person)
        return None if hidden else body_bytes(turn.connection, entry.seq)


def said_of(entry: Entry, content: bytes | None) -> dict[str, Any]:
    """What a body says, as plain data.

    Raises
    ------
    StoreError
        E705 if it is not of its kind.
    """
    if content is None or entry.what not in KINDS:
        return {}
    try:
        return body_from(entry.what, content).model_dump(mode="json")
    except ValueError as error:
        raise damaged(entry.seq, str(error)) from None
