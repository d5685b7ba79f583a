"""Follow-up: what is due of a course, what happened, entering a visit or an event, and triage."""

from datetime import date

import streamlit as st

from candidacy.course.clocks import deadlines
from candidacy.course.content import content
from candidacy.course.due import visits_of
from candidacy.course.load import Course
from candidacy.course.text import NOT_A_DECISION, STATES
from candidacy.course.triage import triage
from candidacy.foundation.dates import DateError, day
from candidacy.ui import show
from candidacy.ui.follow_up.event_form import event_form
from candidacy.ui.follow_up.opened import course as open_course
from candidacy.ui.follow_up.opened import opening
from candidacy.ui.follow_up.visit_form import visit_form
from candidacy.ui.head_line import messages
from candidacy.ui.session import desk, hold, keep, kept_choice, told_here

_VIEWS = ("Visits and events", "Enter a visit", "Enter an event")


def follow_up() -> None:
    """Draw the page."""
    course = open_course()
    show.put("follow_head.html", course=course)
    messages()
    opening()
    if course is None:
        show.note(
            "Open a course record: it holds sessions, visits and events after an injection, and no name."
        )
        return
    on = _day()
    if on is None:
        return
    with told_here("The course could not be shown"):
        _told_first(course, on)
        view = st.segmented_control("View", _VIEWS, key=kept_choice("follow-view", _VIEWS[0], list(_VIEWS)), on_change=keep,
                                    args=("follow-view", "kept-follow-view"), required=True, label_visibility="collapsed")  # fmt: skip
        if view == _VIEWS[1]:
            visit_form(course, on)
        elif view == _VIEWS[2]:
            event_form(course, on)
        else:
            _timeline(course, on)


def _day() -> date | None:
    key = "follow-day"
    hold(key, desk().kept.get(key) or desk().today().isoformat())
    text = st.text_input("Day looked at (YYYY-MM-DD)", key=key, max_chars=10, width=220, on_change=_keep_day)
    try:
        return day(text.strip())
    except DateError as error:
        show.note(f"{text}: {error}. Write it as YYYY-MM-DD.", "alarm")
        return None


def _keep_day() -> None:
    desk().kept["follow-day"] = st.session_state["follow-day"]


def _told_first(course: Course, on: date) -> None:
    """What does not fit, and triage: above everything, on every view."""
    notices, own = course.notices(on), content().of_ones_own
    if notices or own:
        show.put("follow_notices.html", notices=notices, own=own)
    found = triage(course, on)
    shown = [each for at, each in enumerate(found.answers) if at == 0 or each.advice != "no_sign"]
    old = (on - day(found.answers[0].asked)).days if found.answers and not found.ask else 0
    show.put(
        "follow_triage.html", found=found, shown=shown, old=old, hold_days=content().triage.answers_hold_days
    )


def _timeline(course: Course, on: date) -> None:
    events = content().events
    rows = [
        (event, events.term(event.what), next((g for g in events.grades if g.grade == event.grade), None), deadlines(event, on))
        for event in course.record.events
    ]  # fmt: skip
    unplanned = [visit for visit in course.record.visits if visit.kind == "unplanned"]
    show.put(
        "follow_timeline.html",
        course=course,
        visits=visits_of(course, on),
        states=STATES,
        unplanned=unplanned,
        on=on.isoformat(),
    )
    show.put("follow_events.html", rows=rows, reasons=events.serious, course=course, says=NOT_A_DECISION)
