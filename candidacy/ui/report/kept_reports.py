"""Reports that the store keeps with the open referral: kept with what was decided, read when asked for, put on the desk again."""

from functools import partial

import streamlit as st

from candidacy.explain.said import found_words
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.foundation.visible import clean
from candidacy.reading.model import Reading
from candidacy.reading.notes import show as note_show
from candidacy.reading.notes.elements import DOCUMENTS
from candidacy.reading.sent import ReportText
from candidacy.reading.show import as_data, to_json
from candidacy.records.reports import KeptReport
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.exports import Export, downloads
from candidacy.ui.read_when_asked import forget, read_when_asked
from candidacy.ui.report.desk import Choice, Report, change, refuse_of_another, reports_of, rows, sent_report
from candidacy.ui.session import desk, safely
from candidacy.ui.store_line import store

_NAME = "kept-reports"
_KINDS: dict[str, str] = {document: kind for kind, document in DOCUMENTS.items()}


def keep_button(number: int, report: Report) -> None:
    """Keep the report with its referral; nothing where the store keeps no referral of this reference."""
    if store().row_of(desk().record.id) is None:
        return
    st.button("Keep with the referral", key=f"report-keep-{number}", on_click=_keep, args=(number,),
              help="Keeps the text in the store, with what was read from it and what was accepted and rejected so far.")  # fmt: skip
    if report.kept:
        show.note(f"The text is {report.kept}.")


@safely
def _keep(number: int) -> None:
    report, record = reports_of(desk())[number], desk().record
    refuse_of_another(desk(), report)
    found = [(report.choices.get(row.place), row.fact) for row in rows(record, report)]

    def said(choice: Choice) -> list[str]:
        return [found_words(fact.subject, fact.element, fact.entry) for made, fact in found if made == choice]

    reading = report.reading
    data = (
        as_data(reading, report.name)
        if isinstance(reading, Reading)
        else note_show.as_data(reading, report.name)
    )
    kept = store().keep_report(
        record.id, report.document_kind, report.text, reading=to_json(data), accepted=said("accept"),
        refused=said("reject"), document=report.taken if report.is_taken(record) else "", day=report.day,
    )  # fmt: skip
    change(desk(), number, kept=kept.words)
    forget(_NAME)
    st.session_state["notice"] = f"The text is {kept.words}."


def kept_reports() -> None:
    """Draw the section; nothing where the store keeps no referral of this reference."""
    found: tuple[KeptReport, ...] | None = read_when_asked(
        _NAME, "Read the kept reports", "Reports, notes and letters", Store.kept_reports
    )
    if found is None:
        return
    if not found:
        show.note("No report is kept with this referral.")
        return
    by = {report.seq: report for report in reversed(found)}
    chosen: int = st.selectbox("Kept report, newest first", list(by), key="kept-report",
                               format_func=lambda seq: _title(by[seq]))  # fmt: skip
    report = by[chosen]
    text = "\n".join(clean(line) for line in report.said.text.splitlines())
    show.put("kept_report.html", title=_title(report), foot=_foot(report), text=text, said=report.said)
    with st.container(horizontal=True):
        st.button("Put it on the desk again", key="kept-report-again", on_click=_again, args=(report,),
                  help="Reads the text once more as this program reads it now.")  # fmt: skip
        name = f"{report.reference}-{report.said.kind}-{report.seq}.txt"
        downloads(
            [Export("Kept report (text)", name, "text/plain", partial(str, report.said.text))], "content"
        )


def _title(report: KeptReport) -> str:
    of = f" of {report.said.day}" if report.said.day else ""
    return f"{report.said.kind.replace('_', ' ')}{of}, kept {report.at[:10]} (entry {report.seq})"


def _foot(report: KeptReport) -> str:
    at = report.at[:16].replace("T", " ")
    return f"As read, {report.words} by {report.person} at {at} UTC."


@safely
def _again(report: KeptReport) -> None:
    present = reports_of(desk())
    if any(each.text == report.said.text for each in present):
        raise CaseError([Problem(Code.BAD_REPORT, "the same text is in the queue already", _title(report))])
    sent = ReportText(report.said.text, f"kept report {report.seq}", "text", report.said.day)
    read = sent_report(sent, _KINDS.get(report.said.kind, "imaging"))
    desk().kept["reports"] = [*present, read]
    desk().kept["report"] = len(present)
    change(desk(), len(present), kept=report.words, taken=_taken(report))


def _taken(report: KeptReport) -> str:
    """The key under which the open record lists it; empty where it lists none of its kind there."""
    listed = desk().record.documents.get(report.said.document)
    return report.said.document if listed is not None and listed.kind == report.said.kind else ""
