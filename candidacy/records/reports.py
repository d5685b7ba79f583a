"""Reports, notes and letters as they were read, beside the referral that they belong to."""

from collections.abc import Sequence

from msgspec import Struct

from candidacy.foundation.errors import shorten
from candidacy.records import schema
from candidacy.records.entries import LONGEST_LINE, ReportKept
from candidacy.records.session import Session, Turn, body, kept_entry


class KeptReport(Struct, frozen=True):
    """A report, note or letter as it was read.

    Attributes
    ----------
    seq
        Its entry.
    at, person
        When in UTC, and by whom it was kept.
    said
        Its kind and text, what was read from it, and what of that was taken over.
    """

    seq: int
    reference: str
    at: str
    person: str
    said: ReportKept

    @property
    def words(self) -> str:
        """That it is kept, and with what."""
        return f"kept as entry {self.seq} with {self.reference}"


class ReportRow(Struct, frozen=True):
    """That a report is kept, without its text: its entry, kind, how many findings were taken over, when in UTC and by whom."""

    seq: int
    kind: str
    accepted: int
    at: str
    person: str


class Reports(Session):
    """Keeping what arrived as text, and reading it again."""

    def keep_report(
        self,
        reference: str,
        kind: str,
        text: str,
        *,
        reading: str = "",
        accepted: Sequence[str] = (),
        refused: Sequence[str] = (),
        document: str = "",
        day: str = "",
        why: str = "",
    ) -> KeptReport:
        """Keep a report with what was read from it, and what the person took over from that.

        Parameters
        ----------
        kind
            Kind of document, as in a case record, such as ``imaging_report``.
        text
            The text as it was read.
        reading
            What was read from it, as JSON text.
        accepted, refused
            Findings that were taken over and that were not, in words; beyond 500 characters they are shortened, the
            reading holds them whole.
        document
            Key under which the record names it among its documents.
        day
            Day of the study, note or letter, YYYY-MM-DD or less.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference; E203 for what is not of its form.
        """
        said = report_said(
            kind,
            text,
            reading=reading,
            accepted=accepted,
            refused=refused,
            document=document,
            day=day,
            why=why,
        )
        return self.keep_reports(reference, [said])[0]

    def keep_reports(self, reference: str, reports: Sequence[ReportKept]) -> tuple[KeptReport, ...]:
        """Keep reports that arrived together, made by `report_said`: all of them, or none.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference.
        """
        with self._writing("enter") as turn:
            turn.work(reference)
            entered = [(turn.enter(said, reference), said) for said in reports]
        return tuple(
            KeptReport(entry.seq, reference, entry.at, entry.person, said) for entry, said in entered
        )

    def kept_reports(self, reference: str) -> tuple[KeptReport, ...]:
        """The reports of a referral as they were kept, first to last. This is entered as read.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference, E705 if one is not what was kept.
        """
        return self._read_all(reference, _reports)

    def kept_report(self, seq: int) -> KeptReport:
        """A report as it was kept. This is entered as read.

        Raises
        ------
        StoreError
            E704 if there is no such entry, E705 if it is not what was kept.
        """
        return self._read_entry(seq, _report)


def report_said(
    kind: str,
    text: str,
    *,
    reading: str = "",
    accepted: Sequence[str] = (),
    refused: Sequence[str] = (),
    document: str = "",
    day: str = "",
    why: str = "",
) -> ReportKept:
    """What is entered of a report; see `Reports.keep_report`."""
    return body(
        ReportKept, kind=kind, text=text, reading=reading,
        accepted=[shorten(each, LONGEST_LINE) for each in accepted],
        refused=[shorten(each, LONGEST_LINE) for each in refused], document=document, day=day, why=why,
    )  # fmt: skip


def report_rows(turn: Turn, reference: str) -> tuple[ReportRow, ...]:
    """Which reports of a referral are kept, within a transaction, first to last."""
    rows = turn.rows.where(schema.report, reference=reference)
    return tuple(ReportRow(**{name: row[name] for name in ReportRow.__struct_fields__}) for row in rows)


def _report(turn: Turn, seq: int) -> KeptReport:
    entry, said = kept_entry(turn, seq, ReportKept)
    return KeptReport(seq, entry["reference"], entry["at"], entry["person"], said)


def _reports(turn: Turn, reference: str) -> tuple[KeptReport, ...]:
    return tuple(_report(turn, row.seq) for row in report_rows(turn, reference))
