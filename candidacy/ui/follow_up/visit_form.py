"""Entering the answers of a visit."""

from datetime import date
from typing import Any

import streamlit as st

from candidacy.course.content import content
from candidacy.course.due import BASELINE, visits_of
from candidacy.course.filled import UNPLANNED, FilledForm, forms_of, with_form
from candidacy.course.load import Course
from candidacy.foundation.errors import Code, CourseError, Problem
from candidacy.ui import show
from candidacy.ui.follow_up import opened
from candidacy.ui.follow_up.fields import answer_of, entered, forget, measure_fields, reason_of, value
from candidacy.ui.session import safely

_SEEN = {
    "clinic": "in the clinic",
    "telephone": "by telephone",
    "form": "on a form",
    "record": "from a record",
}


def visit_form(course: Course, on: date) -> None:
    """Draw the form of the chosen visit."""
    rows = visits_of(course, on)
    if not course.record.injections:
        show.note(
            "No session of injections is written in this course, so there is no visit to enter.", "notice"
        )
        return
    choices = {
        (row.injection, row.visit): f"{row.title}, session {row.injection} ({row.state.replace('_', ' ')})"
        for row in rows if row.state != "done"
    } | {(each.id, UNPLANNED): f"Unplanned, session {each.id}" for each in course.record.injections}  # fmt: skip
    names = [f"{number} {visit}" for number, visit in choices]
    words = dict(zip(names, choices.values(), strict=True))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        chosen = entered(st.selectbox, "Visit", names, key="follow-visit", format_func=words.__getitem__, width=380,
                         placeholder="choose")  # fmt: skip
        if not chosen:
            return
        entered(
            st.text_input, "Date (YYYY-MM-DD)", key="follow-visit-date", empty="", max_chars=10, width=170
        )
        entered(
            st.segmented_control,
            "How it was asked",
            list(_SEEN),
            key="follow-visit-seen",
            format_func=_SEEN.__getitem__,
        )
    number, visit = chosen.split(" ", 1)
    start = f"follow-answer-{number}-{visit}"
    for form in forms_of(visit):
        st.subheader(form.title)
        for line in (form.introduction, form.licence):
            if line:
                show.note(line)
        for measure in form.measures:
            measure_fields(measure, start)
    entered(
        st.text_area,
        "What else was said (no names)",
        key=f"{start}-note",
        empty="",
        height=68,
        max_chars=4000,
    )
    st.button(
        "Add this visit",
        key="follow-add-visit",
        type="primary",
        on_click=_add,
        args=(course, int(number), visit, start),
    )


@safely
def _add(course: Course, number: int, visit: str, start: str) -> None:
    seen = value("follow-visit-seen")
    if not seen:
        raise CourseError(
            [
                Problem(
                    Code.UNFILLED,
                    "it is not said how the answers were got",
                    "How it was asked",
                    expected=", ".join(_SEEN.values()),
                )
            ]
        )
    answers: dict[str, Any] = {}
    unanswered: dict[str, Any] = {}
    problems: list[Problem] = []
    for form in forms_of(visit):
        for measure in form.measures:
            reason = reason_of(measure, start)
            if reason is not None:
                unanswered[measure.id] = reason
            try:
                answers[measure.id] = answer_of(measure, start)
            except CourseError as error:
                problems += error.problems
    if problems:
        raise CourseError(problems)
    filled = FilledForm(
        schema_version="1", visit=visit, case=course.record.case, injection=number, date=(value("follow-visit-date") or "").strip(),
        seen=seen, answers=answers, unanswered=unanswered, note=value(f"{start}-note") or "",
    )  # fmt: skip
    added = with_form(course, filled, "this visit")
    opened.add(added)
    forget("follow-answer-")
    forget("follow-visit")
    told = "".join(
        f" Worked out: {name.replace('_', ' ')} {score:g}." for name, score in added.worked_out.items()
    )
    planned = content().visits.get(visit)
    title = (
        planned.title
        if planned is not None
        else "Before the injection"
        if visit == BASELINE
        else "Unplanned visit"
    )
    st.session_state["notice"] = (
        f"{title} of {filled.date} was added; take the record away, or save it.{told}"
    )
