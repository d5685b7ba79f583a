"""The queue: what waits, in its order; asking about a referral; what is to be looked at again."""

import streamlit as st

from candidacy.conference.again import all_to_look_at
from candidacy.conference.minutes import LOOK
from candidacy.conference.queue import ask_about, put_at, queue_of, take_up, withdraw
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.conference.seat import clear, open_case, read_before, text
from candidacy.ui.session import safely
from candidacy.ui.store_line import store
from candidacy.ui.typed import typed


def queue_view(now: Store) -> None:
    """Draw the queue."""
    waiting = queue_of(now, read_before())
    asked = [each for each in waiting if each.item is not None]
    show.put("conference_queue.html", asked=asked, rest=[each for each in waiting if each.item is None],
             again=all_to_look_at(now), look=LOOK)  # fmt: skip
    # The words of a choice stay as they are while it stands: the toolkit knows a chosen one by its words.
    items = {
        each.item.seq: f"{each.reference} (item {each.item.seq})" for each in asked if each.item is not None
    }
    if items:
        _acts(now, items)
    new = [each.reference for each in waiting if each.item is None]
    st.subheader("Ask about a referral")
    with st.container(horizontal=True, vertical_alignment="bottom", key="seat-ask"):
        st.selectbox("Referral", new, index=None, **typed("seat-ask-reference", None), accept_new_options=True, width=280,
                     placeholder="choose, or type its reference")  # fmt: skip
        st.text_input("Question", max_chars=500, **typed("seat-ask-question"), width=380)
        st.text_input("Presented by (local id)", max_chars=64, **typed("seat-ask-presenter"), width=190)
        st.button("Put into the queue", key="seat-ask-go", type="primary", on_click=_ask)


def _acts(now: Store, items: dict[int, str]) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom", key="seat-acts"):
        chosen = st.selectbox(
            "Item of the queue", list(items), key="seat-queue-item", format_func=items.__getitem__, width=280
        )
        st.button("Open the case", key="seat-queue-open", on_click=_open, args=(chosen,))
        place = list(items).index(chosen) + 1
        st.button(
            "Earlier", key="seat-queue-up", on_click=_move, args=(chosen, place - 1), disabled=place == 1
        )
        st.button(
            "Later",
            key="seat-queue-down",
            on_click=_move,
            args=(chosen, place + 1),
            disabled=place == len(items),
        )
        meetings = {m.seq: f"{m.held_on} {m.title}" for m in now.meetings() if m.state == "open"}
        if meetings:
            meeting = st.selectbox(
                "Meeting",
                list(meetings),
                key="seat-queue-meeting",
                format_func=meetings.__getitem__,
                width=260,
            )
            st.button(
                "Take to the meeting",
                key="seat-queue-take",
                type="primary",
                on_click=_take,
                args=(chosen, meeting),
            )
        else:
            show.note("Make a meeting under Meetings; then items are taken to it here.")
        with st.popover("Withdraw", width="content", key="seat-withdraw"):
            st.text_input("Why it is not talked about any more", key="seat-withdraw-why", max_chars=500)
            st.button("Withdraw this item", key="seat-withdraw-go", on_click=_withdraw, args=(chosen,))


@safely
def _open(item: int) -> None:
    open_case(item)


@safely
def _move(item: int, place: int) -> None:
    put_at(store(), item, place)


@safely
def _take(item: int, meeting: int) -> None:
    take_up(store(), item, meeting)
    open_case(item)


@safely
def _withdraw(item: int) -> None:
    withdraw(store(), item, text("seat-withdraw-why"))
    clear("seat-withdraw-why")


@safely
def _ask() -> None:
    found = ask_about(
        store(), text("seat-ask-reference"), text("seat-ask-question"), presenter=text("seat-ask-presenter")
    )
    clear("seat-ask-reference", "seat-ask-question", "seat-ask-presenter", seat_ask_reference=None)
    st.session_state["notice"] = f"{found.reference} is in the queue as item {found.seq}."
