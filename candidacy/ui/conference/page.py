"""Conference: the queue, meetings with members, a case with its ratings and decision, minutes."""

import streamlit as st

from candidacy.conference.minutes import NOT_A_DECISION
from candidacy.ui import show
from candidacy.ui.conference.case_view import case_view
from candidacy.ui.conference.meeting_view import meeting_view
from candidacy.ui.conference.queue_view import queue_view
from candidacy.ui.session import keep, kept_choice, told_here
from candidacy.ui.store_line import store_line

_VIEWS = {"Queue": queue_view, "Meetings": meeting_view, "Case": case_view}


def conference() -> None:
    """Draw the page."""
    store = store_line("Case conference")
    if store is None:
        return
    view = st.segmented_control("View", list(_VIEWS), key=kept_choice("seat-view", "Queue", list(_VIEWS)), required=True,
                                on_change=keep, args=("seat-view", "kept-seat-view"), label_visibility="collapsed")  # fmt: skip
    with told_here("This could not be shown"):
        _VIEWS[view or "Queue"](store)
    show.put(
        "cautions.html",
        cautions=[
            NOT_A_DECISION,
            "Ratings show median, counts and disagreement by published rules; nothing is made of them.",
        ],
    )
