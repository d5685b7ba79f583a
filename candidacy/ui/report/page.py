"""Report check: read reports, notes and letters, decide about each fact, ask for what is missing."""

import streamlit as st

from candidacy.reading.model import Reading
from candidacy.reading.notes import show as note_show
from candidacy.reading.notes.model import NoteReading
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
from candidacy.ui.days import check_day
from candidacy.ui.desk import REPORT_DRAFT
from candidacy.ui.exports import Export
from candidacy.ui.head_line import bar
from candidacy.ui.named_store import store_named
from candidacy.ui.not_counted import not_counted, standing_words
from candidacy.ui.report.adding import add_form, unsettled
from candidacy.ui.report.asking import ask_for_the_rest
from candidacy.ui.report.desk import (
    KIND_WORDS,
    Report,
    change,
    date_report,
    of_another_patient,
    reports_of,
    rows,
    sent_report,
    whose,
)
from candidacy.ui.report.finding_rows import finding_rows
from candidacy.ui.report.marked_text import first_pieces, marked
from candidacy.ui.report.queue import choose, not_put_words
from candidacy.ui.report.signs import dangers_left
from candidacy.ui.session import desk, hold, safely, told, told_here


def report_check() -> None:
    """Draw the page, and below it what a store keeps of such documents with the referral."""
    _desk_part()
    if store_named():
        with told_here("The kept reports could not be shown"):
            from candidacy.ui.report.kept_reports import kept_reports

            kept_reports()


def _desk_part() -> None:
    reports = reports_of(desk())
    bar(_exports(reports))
    document = desk().document()
    show.put(
        "standing_line.html",
        d=document,
        not_counted=" ".join(
            filter(
                None,
                [
                    standing_words(not_counted(desk()), " on the Referral page"),
                    not_put_words(reports, desk().record),
                ],
            )
        ),
    )
    label, changed = desk().last_changes()
    if label and not desk().just_opened:
        show.put("changes.html", label=label, changes=changed, opened=False)
    with st.expander("Add reports, notes and letters", expanded=not reports):
        add_form()
    for name, problems in told("report-refused") or []:
        show.problems(problems, f"{name}: refused")
    unsettled()
    if not reports:
        show.note(
            "Paste an imaging report, a discography or procedure note or a referral letter, or upload one or many. "
            "They are read in memory on this machine only."
        )
        elsewhere = sum(len(parked.kept.get("reports", ())) for parked in desk().parked.values())
        if elsewhere:
            show.note(
                f"{elsewhere} of another referral are parked with it; they come back when it is open again."
            )
        return
    number = choose(reports)
    _one(number, reports[number])


def _exports(reports: list[Report]) -> list[Export]:
    if not reports:
        return []
    report = reports[min(int(desk().kept.get("report", 0)), len(reports) - 1)]

    def make() -> str:
        if isinstance(report.reading, Reading):
            return as_html(report.reading, report.name)
        return note_show.as_html(report.reading, report.name)

    return [Export("Report reading to print (HTML)", "report-reading.html", "text/html", make)]


def _one(number: int, report: Report) -> None:
    facts = rows(desk().record, report)
    pieces = marked(report, facts)
    text, findings = st.columns([1, 1.25], gap="medium", wrap=False)
    with text, st.container(key="text-pane"):
        st.subheader(KIND_WORDS[report.kind].capitalize())
        show.put("report_text.html", parts=pieces, number=number)
        with st.container(horizontal=True, vertical_alignment="bottom"):
            _kind_of(number, report)
            st.button(
                "Take this report off the desk", key=f"report-drop-{number}", on_click=_drop, args=(number,)
            )
        if store_named():
            with told_here("The report cannot be kept"):
                from candidacy.ui.report.kept_reports import keep_button

                keep_button(number, report)
    with findings, st.container(key="findings-pane"):
        _whose(number, report)
        _day_of(number, report)
        if isinstance(report.reading, Reading):
            _raised(report.reading)
        else:
            _raised_note(report, report.reading)
        st.subheader("Findings" if report.kind == "imaging" else "Facts")
        finding_rows(number, report, facts, first_pieces(pieces))
    ask_for_the_rest(number, report)


# --- its kind and day


def _kind_of(number: int, report: Report) -> None:
    """As what it was read, and why; another kind may be chosen, and it is then read anew."""
    key = f"kind-{number}"
    hold(key, report.kind)
    st.selectbox("Read as", list(KIND_WORDS), key=key, on_change=_read_as, args=(number, key), width=220,
                 format_func=KIND_WORDS.__getitem__)  # fmt: skip
    show.note(report.why[:1].upper() + report.why[1:] + ".")


@safely
def _read_as(number: int, key: str) -> None:
    old = reports_of(desk())[number]
    read = sent_report(old.sent._replace(day=old.day), st.session_state[key])
    desk().kept["reports"] = [read if n == number else r for n, r in enumerate(reports_of(desk()))]
    for subject, element in list(desk().drafts):
        found = REPORT_DRAFT.fullmatch(subject)
        if found is not None and int(found[1]) == number:
            del desk().drafts[subject, element]


def _day_of(number: int, report: Report) -> None:
    """The day of the study or letter: given, or proposed from the text and confirmed by a person."""
    key, proposed = f"study-day-{number}", report.proposed_day
    what = {"letter": "letter", "imaging": "study"}.get(report.kind, "procedure")
    hold(key, desk().kept.get("study-days", {}).get(number, report.day or proposed))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.text_input(f"This {what} is of", key=key, placeholder="YYYY-MM-DD", max_chars=10, width=160, on_change=_note_day,
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
    check_day(written, "day of the study")
    date_report(desk(), number, written)
    desk().kept["study-days"] = {n: t for n, t in desk().kept.get("study-days", {}).items() if n != number}


def _whose(number: int, report: Report) -> None:
    """That the report tells of another patient, before everything else, with the way out for a person who knows better."""
    stranger = of_another_patient(report, desk().record, whose(desk().record, reports_of(desk())))
    if stranger is None:
        return
    show.problems([stranger], "‼ Whose report is this? Nothing of it is put into this referral")
    st.button("It is of this patient", key=f"ours-{number}", on_click=_ours, args=(number,))


@safely
def _ours(number: int) -> None:
    change(desk(), number, ours=True)


# --- what stands before the findings


def _raised(reading: Reading) -> None:
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


def _raised_note(report: Report, reading: NoteReading) -> None:
    dangers = dangers_left(report, desk().record)
    if dangers or reading.questions or reading.unread:
        show.put("raised_note.html", reading=reading, dangers=dangers,
                 words=lambda span: " ".join(reading.words(span).split()))  # fmt: skip


@safely
def _drop(number: int) -> None:
    desk().kept["reports"] = [r for n, r in enumerate(reports_of(desk())) if n != number]
    typed = desk().kept.get("study-days", {})
    desk().kept["study-days"] = {n - (n > number): text for n, text in typed.items() if n != number}
    for (subject, element), draft in list(desk().drafts.items()):
        found = REPORT_DRAFT.fullmatch(subject)
        if found is None or int(found[1]) < number:
            continue
        del desk().drafts[subject, element]
        if int(found[1]) > number:
            desk().drafts[f"report {int(found[1]) - 1} {found[2]}", element] = draft
