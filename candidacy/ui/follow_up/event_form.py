"""Entering an adverse event: how severe and how serious are asked apart, and neither is proposed."""

from datetime import date
from typing import get_args

import streamlit as st

from candidacy.course.content import content
from candidacy.course.filled import with_event
from candidacy.course.load import Course
from candidacy.course.record import EventOutcome, Relation
from candidacy.foundation.errors import Code, CourseError, Problem
from candidacy.ui import show
from candidacy.ui.follow_up import opened
from candidacy.ui.follow_up.fields import entered, forget, value
from candidacy.ui.session import safely

_JUDGED = {"serious": "serious", "none": "not serious", "not_judged": "nobody has judged"}
_KNOWN = {"yes": "yes", "no": "no", "not_known": "not known"}
_E = "follow-event"


def event_form(course: Course, on: date) -> None:
    """Draw the form of a new event."""
    if not course.record.injections:
        show.note("No session of injections is written in this course.", "notice")
        return
    events = content().events
    titles = {term.id: term.title for term in events.terms}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        entered(st.selectbox, "What happened (or type words of your own; no names)", list(titles), key=f"{_E}-what", width=420,
                format_func=lambda name: titles.get(name, name), accept_new_options=True, placeholder="choose or type")  # fmt: skip
        entered(
            st.selectbox,
            "Session",
            [each.id for each in course.record.injections],
            key=f"{_E}-injection",
            width=120,
            placeholder="choose",
        )
        entered(
            st.text_input,
            "Began",
            key=f"{_E}-began",
            empty="",
            max_chars=10,
            width=150,
            placeholder="YYYY-MM-DD, YYYY-MM",
        )
        entered(
            st.text_input,
            "Learned by the practice",
            key=f"{_E}-learned",
            empty="",
            max_chars=10,
            width=190,
            placeholder="YYYY-MM-DD",
        )
        entered(st.text_input, "Ended, if it did", key=f"{_E}-ended", empty="", max_chars=10, width=150)
    term = events.term(str(value(f"{_E}-what")))
    if term is not None and term.note:
        show.note(term.note.strip())
    grades = {"not_graded": "not graded"} | {
        str(each.grade): f"{each.grade}: {each.words}" for each in events.grades
    }
    entered(
        st.selectbox,
        "Severity: the grade",
        list(grades),
        key=f"{_E}-grade",
        format_func=grades.__getitem__,
        placeholder="choose",
        help=show.label(
            "At least this grade: "
            + " ".join(f"{each.grade}: {'; '.join(each.signs.values())}." for each in events.grades)
        ),
    )
    chosen = entered(
        st.segmented_control,
        "Seriousness: another question",
        list(_JUDGED),
        key=f"{_E}-serious",
        format_func=_JUDGED.__getitem__,
    )
    show.note(events.serious_note.strip())
    if chosen == "serious":
        entered(st.multiselect, "Why it is serious", list(events.serious), key=f"{_E}-reasons", empty=[],
                format_func=lambda name: events.serious[name], placeholder="choose")  # fmt: skip
    with st.container(horizontal=True, vertical_alignment="bottom"):
        for name, label, options in (
            ("expected", "Expected after such an injection", list(_KNOWN)),
            ("relation", "Relation to the injection", list(get_args(Relation))),
            ("communicable", "A communicable disease from the material", list(_KNOWN)),
            ("outcome", "How it ended", list(get_args(EventOutcome))),
        ):
            entered(
                st.selectbox,
                label,
                options,
                key=f"{_E}-{name}",
                format_func=_plain,
                width=300,
                placeholder="choose",
            )
    entered(
        st.text_area, "What else was said (no names)", key=f"{_E}-note", empty="", height=68, max_chars=4000
    )
    st.button("Add this event", key="follow-add-event", type="primary", on_click=_add, args=(course,))


def _plain(name: str) -> str:
    return name.replace("_", " ")


@safely
def _add(course: Course) -> None:
    names = (
        "what",
        "injection",
        "began",
        "learned",
        "grade",
        "serious",
        "expected",
        "relation",
        "communicable",
        "outcome",
    )
    given = {name: value(f"{_E}-{name}") for name in names}
    missing = [name for name in names if given[name] in (None, "")]
    reasons = value(f"{_E}-reasons") or []
    if given["serious"] == "serious" and not reasons:
        missing.append("why it is serious")
    if missing:
        raise CourseError(
            [Problem(Code.UNFILLED, "was not chosen", "this event", field=name, expected="a choice; not known is one where offered")
             for name in missing]
        )  # fmt: skip
    judged = {"serious": reasons, "none": [], "not_judged": None}[given["serious"]]
    grade = None if given["grade"] == "not_graded" else int(given["grade"])
    more = {"ended": (value(f"{_E}-ended") or "").strip(), "note": value(f"{_E}-note") or ""}
    dates = {name: given[name].strip() for name in ("began", "learned")}
    opened.add(with_event(course, given | more | dates | {"grade": grade, "serious": judged}, "this event"))
    forget(_E)
    st.session_state["notice"] = "The event was added; its dates for reports stand under Visits and events."
