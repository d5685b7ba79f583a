"""Putting reports, notes and letters into the queue: pasted or as files, their kind told from the text or chosen."""

from typing import NamedTuple

import streamlit as st

from candidacy.foundation.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.reading.inputs import load_bytes_each
from candidacy.reading.model import Reading
from candidacy.reading.notes.kinds import kind_of
from candidacy.reading.sent import ReportText
from candidacy.ui import show
from candidacy.ui.days import check_day
from candidacy.ui.report.desk import KIND_WORDS, Report, reports_of, sent_report
from candidacy.ui.session import desk, keep, kept_choice, safely

MAX_REPORT_MB = 20
MAX_REPORTS = 300
FORMS = "text, PDF with text, Word, RTF, HTML, HL7 v2, FHIR, C-CDA"


class Unsettled(NamedTuple):
    """A document whose text does not tell what kind it is."""

    sent: ReportText
    why: str


class _Added(NamedTuple):
    found: list[Report]
    unsettled: list[Unsettled]
    refused: list[tuple[str, tuple[Problem, ...]]]


def add_form() -> None:
    """Where a document comes from, its day and its kind."""
    count = st.session_state.get("report-uploads", 0)
    left, right = st.columns(2)
    with left:
        st.text_area("Report text", key=kept_choice("report-text", ""), height=180, max_chars=1_000_000, on_change=keep,
                     args=("report-text", "kept-report-text"), placeholder="Paste a report, note or letter here")  # fmt: skip
        with st.container(horizontal=True, vertical_alignment="bottom"):
            st.text_input("Day of the study", key=kept_choice("report-day", ""), placeholder="YYYY-MM-DD", width=160, max_chars=10,
                          on_change=keep, args=("report-day", "kept-report-day"))  # fmt: skip
            st.button("Read it", type="primary", key="report-read", on_click=_read_pasted)
    with right:
        st.file_uploader(f"Report files ({FORMS})", key=f"report-files-{count}", max_upload_size=MAX_REPORT_MB,
                         accept_multiple_files=True, on_change=_read_files, args=(count,))  # fmt: skip
        kinds = ["", *KIND_WORDS]
        st.selectbox("Kind", kinds, key=kept_choice("report-kind", "", kinds), on_change=keep, args=("report-kind", "kept-report-kind"),
                     format_func=_kind_words, width=260)  # fmt: skip


def _kind_words(kind: str) -> str:
    return next((words for name, words in KIND_WORDS.items() if name == kind), "told from the text")


@safely
def _read_pasted() -> None:
    text, written = st.session_state["kept-report-text"], st.session_state["kept-report-day"].strip()
    if written:
        check_day(written, "day of the study")
    if not text.strip():
        raise CaseError([Problem(Code.EMPTY, "there is no text to read", field="report text")])
    count = len(reports_of(desk())) + len(_unsettled()) + 1
    added = _read([ReportText(text, f"pasted report {count}", "text", written)])
    if added.refused:
        raise CaseError([p for _, problems in added.refused for p in problems])
    _add(added)
    desk().kept["report-text"] = desk().kept["report-day"] = ""  # the next text has a day of its own


@safely
def _read_files(count: int) -> None:
    files = st.session_state[f"report-files-{count}"] or []
    loaded: list[ReportText] = []
    refused: list[tuple[str, tuple[Problem, ...]]] = []
    for file in files:
        try:
            loaded += load_bytes_each(file.getvalue(), shorten(file.name))
        except InputError as error:
            refused.append((shorten(file.name), error.problems))
    if files:
        st.session_state["report-uploads"] = count + 1
    added = _read(loaded)
    st.session_state["report-refused"] = [*refused, *added.refused]
    _add(added)


def _read(loaded: list[ReportText]) -> _Added:
    """Read documents as the chosen kind, or as what each tells it is; one that is refused stops no other."""
    kind = str(desk().kept.get("report-kind") or "")
    added = _Added([], [], [])
    there = {r.text for r in reports_of(desk())} | {u.sent.text for u in _unsettled()}
    for sent in loaded:
        if sent.superseded:
            why = Problem(
                Code.BAD_REPORT, f"an earlier version; {sent.superseded} holds in its place", sent.name
            )
            added.refused.append((sent.name, (why,)))
            continue
        if sent.text and sent.text in there:
            why = Problem(Code.BAD_REPORT, "the same text is in the queue already", sent.name)
            added.refused.append((sent.name, (why,)))
            continue
        there.add(sent.text)
        guess = kind_of(sent.text)
        if not kind and guess.among:
            added.unsettled.append(Unsettled(sent, guess.why))
            continue
        try:
            report = sent_report(sent, kind)
        except InputError as error:
            added.refused.append((sent.name, error.problems))
            continue
        if not kind and guess.kind is None and _tells_no_disc(report):
            added.unsettled.append(Unsettled(sent, guess.why))
        else:
            added.found.append(report)
    return added


def _tells_no_disc(report: Report) -> bool:
    return isinstance(report.reading, Reading) and not report.reading.discs_named


def _add(added: _Added) -> None:
    present = reports_of(desk())
    if len(present) + len(added.found) > MAX_REPORTS:
        raise CaseError(
            [Problem(Code.TOO_LARGE, "too many reports", expected=f"at most {MAX_REPORTS} reports at once",
                     next_step="candidacy read takes a folder")]
        )  # fmt: skip
    desk().kept["reports"] = [*present, *added.found]
    desk().kept["unsettled"] = [*_unsettled(), *added.unsettled]
    if added.found:
        desk().kept["report"] = len(present)


# --- documents whose kind nobody has told


def _unsettled() -> list[Unsettled]:
    found: list[Unsettled] = desk().kept.get("unsettled", [])
    return found


def unsettled() -> None:
    """The documents that wait for their kind, each with the buttons that tell it."""
    for number, each in enumerate(_unsettled()):
        show.put("unsettled.html", name=each.sent.name, why=each.why, text=each.sent.text[:400])
        with st.container(horizontal=True):
            for kind, words in KIND_WORDS.items():
                st.button(
                    f"Read as {words}", key=f"settle-{number}-{kind}", on_click=_settle, args=(number, kind)
                )
            st.button("Take it off", key=f"settle-{number}-off", on_click=_settle, args=(number, ""))


@safely
def _settle(number: int, kind: str) -> None:
    waiting = _unsettled()
    if kind:
        report = sent_report(waiting[number].sent, kind)
        present = reports_of(desk())
        desk().kept["reports"] = [*present, report]
        desk().kept["report"] = len(present)
    desk().kept["unsettled"] = [u for n, u in enumerate(waiting) if n != number]
