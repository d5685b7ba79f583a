"""Report check: read imaging reports, decide about each finding, ask for what is missing."""

import pandas as pd
import streamlit as st

from candidacy.case.catalogue import Element, catalogue
from candidacy.case.edit import empty_record, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import FactEntry
from candidacy.case.typed import entry_from_text, entry_text
from candidacy.dates import DateError, day
from candidacy.errors import CaseError, Code, InputError, Problem, shorten
from candidacy.reading.ask import letter, wanted
from candidacy.reading.batch import row_of
from candidacy.reading.elements import ReadFact
from candidacy.reading.inputs import load_bytes
from candidacy.reading.show import as_html
from candidacy.wording import code_words
from ui import show
from ui.bar import bar, rule_set_names
from ui.exports import Export
from ui.fields import choice_entry, name_of
from ui.marked import marked
from ui.readings import Report, accepted, change, new_report, reports_of, state_of, statement_words, take_over
from ui.session import desk, keep, kept_choice, safely

MAX_REPORT_MB = 20
MAX_REPORTS = 300
_STATES = {
    "new": "new",
    "same": "same as in the referral",
    "differs": "differs from the referral",
    "open": "left open by the report",
}


def report_check() -> None:
    """Draw the page."""
    reports = reports_of(desk())
    bar(_exports(reports))
    document = desk().document()
    show.put("standing_line.html", d=document)
    label, changed = desk().last_changes()
    if label and not desk().just_opened:
        show.put("changes.html", label=label, changes=changed, opened=False)
    with st.expander("Add reports", expanded=not reports):
        _add_form()
    for name, problems in st.session_state.pop("report-refused", []):
        show.problems(problems, f"{name}: refused")
    if not reports:
        show.note("Paste a report or upload one or many. They are read in memory on this machine only.")
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
        st.file_uploader("Report files (text, PDF with text, Word, HL7 v2, FHIR)", key=f"report-files-{count}", max_upload_size=MAX_REPORT_MB,
                         accept_multiple_files=True, on_change=_read_files, args=(count,))  # fmt: skip


@safely
def _read_pasted() -> None:
    text, written = st.session_state["kept-report-text"], st.session_state["kept-report-day"].strip()
    if written:
        try:
            day(written)
        except DateError as error:
            problem = Problem(
                Code.BAD_DATE,
                str(error),
                field="day of the study",
                found=shorten(written),
                expected="YYYY-MM-DD",
            )
            raise CaseError([problem]) from None
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
            loaded = load_bytes(file.getvalue(), file.name)
            found += [new_report(shorten(file.name), item.text, item.day) for item in loaded]
        except InputError as error:
            refused.append((shorten(file.name), error.problems))
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
            "not understood": row.not_understood,
            "taken over": "yes" if report.taken else "no",
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
        _raised(report)
        st.subheader("Findings")
        _findings(number, report)
    _ask(number, report)


def _raised(report: Report) -> None:
    reading = report.reading
    if reading.red_flags or reading.contradictions or reading.not_understood:
        show.put("raised.html", reading=reading, words=reading.words)


def _findings(number: int, report: Report) -> None:
    rows = report.facts()
    if not rows:
        show.note("No finding was recognised that a case record can hold.")
        return
    with st.container(horizontal=True):
        st.button("Accept all that are new", key=f"all-new-{number}", on_click=_all, args=(number, "new"))
        st.button("Accept all", key=f"all-{number}", on_click=_all, args=(number, "all"))
        st.button("Reject all", key=f"none-{number}", on_click=_all, args=(number, "none"))
        count = sum(state_of(desk().record, fact) != "same" for fact in accepted(report))
        st.button(f"Put {count} accepted into the referral", key=f"take-{number}", type="primary", disabled=not count,
                  on_click=_take, args=(number,))  # fmt: skip
    last = ""
    with st.container(key="findings", gap="xsmall"):
        for fact in rows:
            if fact.subject != last:
                last = fact.subject
                st.markdown("**Study and patient**" if last == "patient" else f"**{last}**")
            _row(number, report, fact)


def _row(number: int, report: Report, fact: ReadFact) -> None:
    element = catalogue()[fact.element]
    state = state_of(desk().record, fact)
    place = f"{number}-{fact.subject}-{fact.element}"
    left, middle, right = st.columns([1.5, 1.1, 1.05], vertical_alignment="center", wrap=False)
    with left:
        old = desk().entry(fact.subject, fact.element)
        show.put("finding.html", name=name_of(element), words=fact.entry.words or "", state=_STATES[state], differs=state == "differs",
                 corrected=(fact.subject, fact.element) in report.corrected,
                 old=statement_words(element, old) if state == "differs" else "")  # fmt: skip
    with middle:
        _value(number, element, fact, place)
    with right:
        key = f"choice-{place}"
        wanted_choice = report.choices.get((fact.subject, fact.element))
        if st.session_state.get(key) != wanted_choice:
            st.session_state[key] = wanted_choice
        st.segmented_control(f"{element.label} of {fact.subject}: accept or reject", ["accept", "reject"], key=key,
                             label_visibility="collapsed", on_change=_decide, args=(number, fact.subject, fact.element, key))  # fmt: skip
    held = desk().drafts.get((f"report {number} {fact.subject}", fact.element))
    if held is not None:
        show.problems(held.problems, "Not taken over as a correction")


def _value(number: int, element: Element, fact: ReadFact, place: str) -> None:
    key = f"value-{place}"
    label = f"{name_of(element)} of {fact.subject}"
    args = (number, fact.subject, element.name, key)
    if element.kind in ("boolean", "choice"):
        read = statement_words(element, fact.entry)
        codes = ["yes", "no"] if element.kind == "boolean" else list(element.codes)
        options = list(dict.fromkeys([read, *(code_words(c) for c in codes), "not known"]))
        if st.session_state.get(key) != read:
            st.session_state[key] = read
        st.selectbox(label, options, key=key, label_visibility="collapsed", on_change=_correct, args=args)
    elif element.kind == "members":
        show.note(statement_words(element, fact.entry))
    else:
        held = desk().drafts.get((f"report {number} {fact.subject}", element.name))
        shown = held.text if held is not None else entry_text(element, fact.entry)
        if st.session_state.get(key) != shown:
            st.session_state[key] = shown
        st.text_input(
            label, key=key, label_visibility="collapsed", on_change=_correct, args=args, max_chars=200
        )


# --- decisions


@safely
def _decide(number: int, subject: str, element: str, key: str) -> None:
    report = reports_of(desk())[number]
    choices = dict(report.choices)
    if st.session_state[key] is None:
        choices.pop((subject, element), None)
    else:
        choices[subject, element] = st.session_state[key]
    change(desk(), number, choices=choices)


@safely
def _correct(number: int, subject: str, name: str, key: str) -> None:
    report, element, typed = reports_of(desk())[number], catalogue()[name], st.session_state[key]
    place = (f"report {number} {subject}", name)
    try:
        entry = _corrected(element, typed)
        _check(subject, element, entry)
    except CaseError as error:
        desk().hold(place, typed, error.problems)
        return
    desk().drafts.pop(place, None)
    read = next(f for f in report.facts() if (f.subject, f.element) == (subject, name))
    corrected = {k: v for k, v in report.corrected.items() if k != (subject, name)}
    if entry is not None and statement_words(element, entry) != statement_words(element, read.entry):
        corrected[subject, name] = entry
    change(desk(), number, corrected=corrected, choices={**report.choices, (subject, name): "accept"})


def _corrected(element: Element, typed: str) -> FactEntry | None:
    if element.kind in ("boolean", "choice"):
        codes = (
            {"yes": "yes", "no": "no"}
            if element.kind == "boolean"
            else {code_words(c): c for c in element.codes}
        )
        return choice_entry(element, "?not_stated" if typed == "not known" else codes[typed])
    return entry_from_text(element, typed)


def _check(subject: str, element: Element, entry: FactEntry | None) -> None:
    """Refuse a correction the record could not hold.

    Raises
    ------
    CaseError
        As for the referral's own fields.
    """
    case_from_record(with_fact(empty_record(), subject, element.name, entry))


@safely
def _all(number: int, which: str) -> None:
    report, record = reports_of(desk())[number], desk().record
    choices = dict(report.choices)
    for fact in report.facts():
        place = (fact.subject, fact.element)
        if which == "none":
            choices[place] = "reject"
        elif which == "all" or state_of(record, fact) == "new":
            choices[place] = "accept"
    change(desk(), number, choices=choices)


@safely
def _take(number: int) -> None:
    count = take_over(desk(), number)
    st.session_state["notice"] = (
        f"{count} findings are now in the referral, each with its words. Undo takes them out again."
    )


@safely
def _drop(number: int) -> None:
    desk().kept["reports"] = [r for n, r in enumerate(reports_of(desk())) if n != number]


# --- what is missing


def _ask(number: int, report: Report) -> None:
    st.subheader("What the report does not state")
    names = rule_set_names()
    first = "report_completeness" if "report_completeness" in names else desk().rules
    left, right = st.columns([1, 1.25], gap="medium", wrap=False)
    with left:
        chosen = st.selectbox("Needed by", list(names), key=kept_choice("ask-rules", first, list(names)), format_func=names.__getitem__,
                              on_change=keep, args=("ask-rules", "kept-ask-rules"))  # fmt: skip
        rule_set = desk().rule_set(chosen)
        items = wanted(report.reading, rule_set, desk().as_of(), desk().record, report.day)
        show.put("wanted.html", items=items)
    with right:
        text = letter(items, rule_set.file.title, report.day)
        st.markdown("**Request for an addendum**")
        st.code(text, language=None, wrap_lines=True)
        st.download_button("Download the request", text, file_name="addendum-request.txt", mime="text/plain", key=f"ask-{number}",
                           on_click="ignore")  # fmt: skip
