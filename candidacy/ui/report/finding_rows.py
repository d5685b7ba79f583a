"""Findings of one report as rows: what was read, what the referral holds, and accept, correct or reject."""

import streamlit as st

from candidacy.case.catalogue import Element, catalogue
from candidacy.case.edit import empty_record, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import entry_from_text, entry_text
from candidacy.explain.wording import code_words
from candidacy.foundation.errors import CaseError
from candidacy.reading.elements import ReadFact
from candidacy.ui import show
from candidacy.ui.referral.fields import choice_entry, name_of
from candidacy.ui.report.desk import (
    Report,
    accepted,
    change,
    reports_of,
    state_of,
    take_over,
)
from candidacy.ui.said import statement_words
from candidacy.ui.session import desk, hold, safely

_STATES = {
    "new": "new",
    "same": "same as in the referral",
    "differs": "differs from the referral",
    "open": "left open by the report",
}


def finding_rows(number: int, report: Report) -> None:
    """One row a fact, grouped by disc, with the buttons that decide about all of them."""
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
        hold(key, wanted_choice)
        st.segmented_control(f"{element.label} of {fact.subject}: accept or reject", ["accept", "reject"], key=key,
                             label_visibility="collapsed", required=True, on_change=_decide, args=(number, fact.subject, fact.element, key))  # fmt: skip
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
        hold(key, read)
        st.selectbox(label, options, key=key, label_visibility="collapsed", on_change=_correct, args=args)
    elif element.kind == "members":
        show.note(statement_words(element, fact.entry))
    else:
        held = desk().drafts.get((f"report {number} {fact.subject}", element.name))
        shown = held.text if held is not None else entry_text(element, fact.entry)
        hold(key, shown)
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
