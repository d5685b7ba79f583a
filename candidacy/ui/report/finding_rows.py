"""Findings of one report as rows: what was read, what the referral holds, and accept, correct or reject."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record, entry_named, with_entry, with_fact
from candidacy.case.element import Element
from candidacy.case.load import case_from_record
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import entry_from_text, entry_text
from candidacy.explain.said import statement_words
from candidacy.explain.wording import code_words, subject_words
from candidacy.foundation.errors import CaseError, shorten
from candidacy.reading.elements import ReadFact
from candidacy.reading.letters.entries import naming
from candidacy.ui import show
from candidacy.ui.referral.fields import choice_entry, name_of
from candidacy.ui.report.desk import Report, Row, change, reports_of, rows
from candidacy.ui.report.groups import GROUPS, grouped
from candidacy.ui.report.put import put
from candidacy.ui.session import desk, hold, safely

_STATES = {
    "new": "new",
    "same": "same as in the referral",
    "differs": "differs from the referral",
    "open": "left open by the report",
}
_QUOTES = 3  # places in the text that a row quotes


def finding_rows(number: int, report: Report, facts: list[Row], pieces: dict[int, int]) -> None:
    """One row a fact, in groups, with the buttons that decide about all of them.

    ``pieces`` gives, for the place of a fact, the piece of the text that it leads to.
    """
    if not facts:
        show.note("No fact was recognised that a case record can hold.")
        return
    chosen = [r for r in facts if report.choices.get(r.place) == "accept" and r.state != "same"]
    with st.container(horizontal=True):
        st.button("Accept all that are new", key=f"all-new-{number}", on_click=_all, args=(number, "new"))
        st.button("Accept all", key=f"all-{number}", on_click=_all, args=(number, "all"))
        st.button("Reject all", key=f"none-{number}", on_click=_all, args=(number, "none"))
        st.button(f"Put {len(chosen)} accepted into the referral", key=f"take-{number}", type="primary",
                  disabled=not chosen, on_click=_put, args=(number,))  # fmt: skip
    with st.container(key="findings", gap="xsmall"):
        wheres = _wheres(facts)
        for group, members in grouped(facts, desk().document()).items():
            if members:
                show.put("group_head.html", title=GROUPS[group], count=len(members))
            for at, row in members:
                _row(number, report, at, row, wheres[row.fact.subject], pieces.get(at))


def _wheres(facts: list[Row]) -> dict[str, str]:
    """What each row is about, in words: nothing for the patient, a disc, an entry of a list with what it is."""
    found = {row.fact.subject: "" for row in facts}
    for subject in found:
        name, _ = entry_named(subject)
        called = [
            statement_words(catalogue()[row.fact.element], row.fact.entry)
            for row in facts
            if name is not None and row.fact.subject == subject and row.fact.element in naming(name)
        ]
        found[subject] = "" if subject == "patient" else ": ".join([subject_words(subject), *called[:1]])
    return found


def _row(number: int, report: Report, at: int, row: Row, where: str, piece: int | None) -> None:
    fact, (subject, name) = row.fact, row.place
    element = catalogue()[name]
    place = f"{number}-{subject}-{name}"
    left, middle, right = st.columns([1.5, 1.1, 1.05], vertical_alignment="center", wrap=False)
    with left:
        old = desk().entry(fact.subject, name) if row.state == "differs" else None
        show.put("finding.html", number=number, at=at, name=name_of(element), where=where, quotes=_quotes(report, fact, piece),
                 note=fact.entry.note or "", state=_STATES[row.state],
                 differs=row.state == "differs", corrected=row.place in report.corrected,
                 old=statement_words(element, old) if old is not None else "")  # fmt: skip
    with middle:
        _value(number, element, row, place)
    with right:
        key = f"choice-{place}"
        hold(key, report.choices.get(row.place))
        st.segmented_control(f"{element.label} of {subject_words(fact.subject)}: accept or reject", ["accept", "reject"], key=key,
                             label_visibility="collapsed", required=True, on_change=_decide, args=(number, subject, name, key))  # fmt: skip
    held = desk().drafts.get((f"report {number} {subject}", name))
    if held is not None:
        show.problems(held.problems, "Not taken over as a correction")
    if row.state != "same" and report.choices.get(row.place) == "accept" and row.place in report.left:
        show.problems(report.left[row.place], "Not put into the referral")


def _quotes(report: Report, fact: ReadFact, piece: int | None) -> list[tuple[str, int | None]]:
    """The words that a fact rests on; the first of them lead to their place in the text."""
    spans = fact.spans[:_QUOTES]
    quotes = [shorten(" ".join(report.text[s.start : s.end].split()), 240) for s in spans]
    more = [(f"… and at {len(fact.spans) - _QUOTES} more places", None)] if len(fact.spans) > _QUOTES else []
    told = list(dict.fromkeys(quotes))
    return [(words, piece if n == 0 else None) for n, words in enumerate(told)] + more


def _value(number: int, element: Element, row: Row, place: str) -> None:
    fact, subject = row.fact, row.place[0]
    key = f"value-{place}"
    label = f"{name_of(element)} of {subject_words(fact.subject)}"
    args = (number, subject, element.name, key)
    if element.kind in ("boolean", "choice"):
        read = statement_words(element, fact.entry)
        codes = ["yes", "no"] if element.kind == "boolean" else list(element.codes)
        options = list(dict.fromkeys([read, *(code_words(c) for c in codes), "not known"]))
        hold(key, read)
        st.selectbox(label, options, key=key, label_visibility="collapsed", on_change=_correct, args=args)
    elif element.kind == "members":
        show.note(statement_words(element, fact.entry))
    else:
        held = desk().drafts.get((f"report {number} {subject}", element.name))
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
    left = {k: v for k, v in report.left.items() if k != (subject, name)}
    if entry is not None and statement_words(element, entry) != statement_words(element, read.entry):
        corrected[subject, name] = entry
    change(
        desk(), number, corrected=corrected, left=left, choices={**report.choices, (subject, name): "accept"}
    )


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
    record, (name, _) = empty_record(), entry_named(subject)
    if name is not None:
        record, subject = with_entry(record, name), f"{name}[1]"
    case_from_record(with_fact(record, subject, element.name, entry))


@safely
def _all(number: int, which: str) -> None:
    report = reports_of(desk())[number]
    choices = dict(report.choices)
    for row in rows(desk().record, report):
        if which == "none":
            choices[row.place] = "reject"
        elif which == "all" or row.state == "new":
            choices[row.place] = "accept"
    change(desk(), number, choices=choices)


@safely
def _put(number: int) -> None:
    done = put(desk(), number)
    told = []
    if done.written:
        told.append(
            f"{done.written} findings are now in the referral, each with its words. Undo takes them out again."
        )
    if done.left:
        told.append(f"{done.left} stayed here, each with the reason beside it.")
    st.session_state["notice"] = " ".join(told)
