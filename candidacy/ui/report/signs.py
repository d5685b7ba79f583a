"""Signs in the reports on the desk that the referral does not hold: what must be looked at before its standing is used."""

from candidacy.case.record import CaseRecord
from candidacy.reading.model import Span
from candidacy.reading.wording import distinct_flags, outside_words
from candidacy.ui.report.desk import Report, state_of


def signs_left(report: Report, record: CaseRecord) -> str:
    """What a report says that must be looked at first and the referral does not hold, in words; empty if nothing."""
    reading = report.reading
    if report.seen or not (reading.red_flags or reading.outside):
        return ""
    signs = [(flag.about, flag.finding.evidence) for flag in distinct_flags(reading)]
    signs += [(outside_words(seen), seen.evidence) for seen in reading.outside]
    held = _held(report, record)
    return "; ".join(dict.fromkeys(about for about, span in signs if span not in held))


def _held(report: Report, record: CaseRecord) -> set[Span]:
    """The words of a report whose facts the referral holds as the report says them."""
    if not report.is_taken(record):
        return set()
    return {span for fact in report.facts() if state_of(record, fact) == "same" for span in fact.spans}
