"""Report check: read imaging reports, decide about each finding, ask for what is missing."""

import pandas as pd
import streamlit as st

from candidacy.case.facts import normal_level
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.reading.ask import request
from candidacy.reading.batch import row_of
from candidacy.reading.inputs import load_bytes_each
from candidacy.reading.request_letter import letter
from candidacy.reading.show import as_html
from candidacy.reading.wording import (
    OUTSIDE,
    distinct_flags,
    first_few,
    meant,
    outside_words,
    question_words,
    unread_words,
)
from candidacy.ui import show
from candidacy.ui.desk import REPORT_DRAFT
from candidacy.ui.exports import Export
from candidacy.ui.head_line import bar, rule_set_names
from candidacy.ui.not_counted import not_counted, standing_words
from candidacy.ui.report.desk import Report, date_report, new_report, reports_of, sent_report
from candidacy.ui.report.finding_rows import finding_rows
from candidacy.ui.report.marked_text import marked
from candidacy.ui.session import desk, hold, keep, kept_choice, safely, told

MAX_REPORT_MB = 20
MAX_REPORTS = 300


def report_check() -> None:
    """Draw the page."""
    reports = reports_of(desk())
    bar(_exports(reports))
    document = desk().document()
    show.put(
        "standing_line.html",
        d=document,
        not_counted=standing_words(not_counted(desk()), " on the Referral page"),
    )
    label, changed = desk().last_changes()
    if label and not desk().just_opened:
        show.put("changes.html", label=label, changes=changed, opened=False)
    with st.expander("Add reports", expanded=not reports):
        _add_form()
    for name, problems in told("report-refused") or []:
        show.problems(problems, f"{name}: refused")
    if not reports:
        show.note("Paste a report or upload one or many. They are read in memory on this machine only.")
        elsewhere = sum(len(parked.kept.get("reports", ())) for parked in desk().parked.values())
        if elsewhere:
            show.note(
                f"{elsewhere} of another referral are parked with it; they come back when it is open again."
            )
        return
    number = _choose(reports)
    _one(number, reports[number])


def _exports(reports: list[Report]) -> list[Export]:
    number = _number(len(reports))
    if not reports:
        return []
    report = reports[number]
    return [
        Export(
            "Report reading to print (HTML)",
            "report-reading.html",
            "text/html",
            lambda: as_html(report.reading, report.name),
        )
    ]


def _number(count: int) -> int:
    return min(int(desk().kept.get("report", 0)), max(0, count - 1))


# --- adding


def _add_form() -> None:
    count = st.session_state.get("report-uploads", 0)
    left, right = st.columns(2)
    with left:
        st.text_area("Report text", key=kept_choice("report-text", ""), height=180, max_chars=1_000_000, on_change=keep,
                     args=("report-text", "kept-report-text"), placeholder="Paste the report here")  # fmt: skip
        with st.container(horizontal=True, vertical_alignment="bottom"):
            st.text_input("Day of the study", key=kept_choice("report-day", ""), placeholder="YYYY-MM-DD", width=160, max_chars=10,
                          on_change=keep, args=("report-day", "kept-report-day"))  # fmt: skip
            st.button("Read it", type="primary", key="report-read", on_click=_read_pasted)
    with right:
        st.file_uploader("Report files (text, PDF with text, Word, RTF, HTML, HL7 v2, FHIR, C-CDA)", key=f"report-files-{count}", max_upload_size=MAX_REPORT_MB,
                         accept_multiple_files=True, on_change=_read_files, args=(count,))  # fmt: skip


def _check_day(written: str) -> None:
    """Refuse what is no day.

    Raises
    ------
    CaseError
        With the day as it was written.
    """
    try:
        day(written)
    except DateError as error:
        problem = Problem(
            Code.BAD_DATE, str(error), field="day of the study", found=shorten(written), expected="YYYY-MM-DD"
        )
        raise CaseError([problem]) from None


@safely
def _read_pasted() -> None:
    text, written = st.session_state["kept-report-text"], st.session_state["kept-report-day"].strip()
    if written:
        _check_day(written)
    if not text.strip():
        raise CaseError([Problem(Code.EMPTY, "there is no text to read", field="report text")])
    _add([new_report(f"pasted report {len(reports_of(desk())) + 1}", text, written)])
    desk().kept["report-text"] = ""


@safely
def _read_files(count: int) -> None:
    files = st.session_state[f"report-files-{count}"] or []
    found: list[Report] = []
    refused: list[tuple[str, tuple[Problem, ...]]] = []
    for file in files:
        try:
            loaded = load_bytes_each(file.getvalue(), shorten(file.name))
        except InputError as error:
            refused.append((shorten(file.name), error.problems))
            continue
        for item in loaded:
            try:
                found += [sent_report(item)] if not item.superseded else []
            except InputError as error:
                refused.append((item.name, error.problems))
    if files:
        st.session_state["report-uploads"] = count + 1
    st.session_state["report-refused"] = refused
    _add(found)


def _add(found: list[Report]) -> None:
    present = reports_of(desk())
    if len(present) + len(found) > MAX_REPORTS:
        limit = f"at most {MAX_REPORTS} reports at once"
        raise CaseError(
            [
                Problem(
                    Code.TOO_LARGE,
                    "too many reports",
                    expected=limit,
                    next_step="candidacy read takes a folder",
                )
            ]
        )
    desk().kept["reports"] = [*present, *found]
    if found:
        desk().kept["report"] = len(present)


# --- choosing among many


def _choose(reports: list[Report]) -> int:
    number = _number(len(reports))
    if len(reports) == 1:
        return 0
    rows = []
    for report in reports:
        row = row_of(report.reading, report.name)
        rows.append({
            "report": report.name,
            "day": report.day,
            "discs named": ", ".join(row.discs),
            "findings": row.findings,
            "look at first": "; ".join(row.red_flags),
            "contradictions": row.contradictions,
            "not read": row.unread,
            "marks": "; ".join(m.about for m in row.marks),
            "taken over": "yes" if report.is_taken(desk().record) else "no",
        })  # fmt: skip
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt="Reports and what was read from each")
    numbers = list(range(len(reports)))
    st.selectbox("Report", numbers, key=kept_choice("report", number, numbers), on_change=keep, args=("report", "kept-report"),
                 format_func=lambda n: f"{n + 1}. {reports[n].name}")  # fmt: skip
    return number


# --- one report


def _one(number: int, report: Report) -> None:
    text, findings = st.columns([1, 1.25], gap="medium", wrap=False)
    with text:
        st.subheader("Report")
        show.put("report_text.html", parts=marked(report.reading))
        st.button(
            "Take this report off the desk", key=f"report-drop-{number}", on_click=_drop, args=(number,)
        )
    with findings:
        _day_of(number, report)
        _raised(report)
        st.subheader("Findings")
        finding_rows(number, report)
    _ask(number, report)


def _day_of(number: int, report: Report) -> None:
    """The day of the study: given, or proposed from the text and confirmed by a person."""
    key, proposed = f"study-day-{number}", report.proposed_day
    hold(key, desk().kept.get("study-days", {}).get(number, report.day or proposed))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.text_input("This study is of", key=key, placeholder="YYYY-MM-DD", max_chars=10, width=160, on_change=_note_day,
                      args=(number, key))  # fmt: skip
        st.button("Confirm this day", key=f"study-day-go-{number}", on_click=_confirm_day, args=(number, key),
                  disabled=bool(report.day) and st.session_state[key] == report.day)  # fmt: skip
    if not report.day:
        found = f"The text says {proposed}; nobody has confirmed it. " if proposed else ""
        show.note(f"{found}Until a day is confirmed, findings put into the referral are undated.", "notice")


@safely
def _note_day(number: int, key: str) -> None:
    desk().kept["study-days"] = {**desk().kept.get("study-days", {}), number: st.session_state[key]}


@safely
def _confirm_day(number: int, key: str) -> None:
    written = st.session_state[key].strip()
    _check_day(written)
    date_report(desk(), number, written)
    desk().kept.pop("study-days", None)


def _raised(report: Report) -> None:
    reading = report.reading
    if not (
        reading.marks
        or reading.replaced
        or reading.red_flags
        or reading.outside
        or reading.questions
        or reading.unread
    ):
        return
    outside = [(outside_words(o), reading.words(o.quoted)) for o in reading.outside]
    questions = [
        (question_words(q), first_few(dict.fromkeys(reading.words(f.quoted) for f in q.findings)))
        for q in reading.questions
    ]
    show.put("raised.html", reading=reading, words=reading.words, unread=unread_words(reading), outside=outside,
             outside_title=OUTSIDE, questions=questions, flags=distinct_flags(reading), meant=meant)  # fmt: skip


@safely
def _drop(number: int) -> None:
    desk().kept["reports"] = [r for n, r in enumerate(reports_of(desk())) if n != number]
    desk().kept.pop("study-days", None)
    for (subject, element), draft in list(desk().drafts.items()):
        found = REPORT_DRAFT.fullmatch(subject)
        if found is None or int(found[1]) < number:
            continue
        del desk().drafts[subject, element]
        if int(found[1]) > number:
            desk().drafts[f"report {int(found[1]) - 1} {found[2]}", element] = draft


# --- what is missing


def _ask(number: int, report: Report) -> None:
    st.subheader("What the report does not state")
    names = rule_set_names()
    first = desk().rules
    left, right = st.columns([1, 1.25], gap="medium", wrap=False)
    with left:
        chosen = st.selectbox("Needed by", list(names), key=kept_choice("ask-rules", first, list(names)), format_func=names.__getitem__,
                              on_change=keep, args=("ask-rules", "kept-ask-rules"))  # fmt: skip
        rule_set = desk().rule_set(chosen)
        asked = request(
            report.reading,
            rule_set,
            desk().as_of(),
            discs=_considered(),
            day=report.day,
            status=report.status,
            case=desk().record,
        )
        show.put("wanted.html", asked=asked)
    with right:
        text = letter(asked, rule_set.file.title, report.day)
        st.markdown("**Request for an addendum**")
        st.code(text, language=None, wrap_lines=True)
        st.download_button("Download the request", text, file_name="addendum-request.txt", mime="text/plain", key=f"ask-{number}",
                           on_click="ignore")  # fmt: skip


def _considered() -> tuple[str, ...]:
    """The discs the referral names as considered; none leaves the choice to the reader of the report."""
    entry = desk().entry("patient", "discs_under_consideration")
    named = (
        (entry.value if isinstance(entry.value, tuple) else entry.includes or ()) if entry is not None else ()
    )
    return tuple(level for level in (normal_level(str(n)) for n in named) if level)
