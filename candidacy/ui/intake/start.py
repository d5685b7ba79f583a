"""What the program is, and which seat starts where; shown while nothing is entered."""

import streamlit as st

from candidacy.ui import show
from candidacy.ui.session import desk, safely


def start_panel() -> None:
    """What the program does and does not do, with a way in for each seat."""
    with st.container(key="start", gap="small"):
        show.put("start.html")
        seats = (
            ("Physician", "Screen a referral: source and date first, then six short pages; or open a case under “Referral” above.",
             "Start the guided intake", _guided, "start-guided"),
            ("Coordinator", "Check an imaging report, a note or a letter before the visit: what it says, what was not read, what "
             "it lacks.", "Read a report", _report, "start-report"),
            ("Conference", "A borderline case: the question, what differs, ratings in two rounds, the decision with its reason.",
             "Go to the conference", _conference, "start-conference"),
        )  # fmt: skip
        for column, (seat, text, word, act, key) in zip(st.columns(3), seats, strict=True):
            with column, st.container(border=True, gap="small"):
                show.put("seat.html", seat=seat, text=text)
                st.button(word, key=key, on_click=act, width="stretch")


@safely
def _guided() -> None:
    desk().kept["view"] = "Guided"


@safely
def _report() -> None:
    st.session_state["go-to-page"] = "report"


@safely
def _conference() -> None:
    st.session_state["go-to-page"] = "conference"
