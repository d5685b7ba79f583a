"""Meetings: making one, members with role and declared interest, its cases, minutes."""

from datetime import date
from typing import Literal

import streamlit as st

from candidacy.conference.deciding import QUORUM
from candidacy.conference.found import meeting_of
from candidacy.conference.minutes import meeting_lines, minutes_of
from candidacy.conference.minutes_text import minutes_text
from candidacy.conference.queue import put_at
from candidacy.foundation.errors import Code, Problem, StoreError, shorten
from candidacy.records.conference import Meeting, Member
from candidacy.records.entries import State
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.conference.seat import clear, open_case, text
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import desk, keep, kept_choice, safely
from candidacy.ui.store_line import store

_LOOKED = "seat-looked"
_SCALES = {"appropriateness": "1 to 9 (RAND/UCLA method)", "vote": "for, against, defer"}


def meeting_view(now: Store) -> None:
    """Draw meetings."""
    meetings = {meeting.seq: meeting for meeting in now.meetings()}
    names = {0: "a new meeting"} | {
        seq: f"{m.held_on} {m.title} (meeting {seq})" for seq, m in meetings.items()
    }
    first = next(iter(meetings), 0)
    chosen = st.selectbox("Meeting", list(names), key=kept_choice("seat-meeting", first, list(names)), width=420,
                          format_func=names.__getitem__, on_change=keep, args=("seat-meeting", "kept-seat-meeting"))  # fmt: skip
    if not chosen:
        _new()
        return
    meeting = meetings[chosen]
    left, right = st.columns([1.25, 1], gap="medium")
    with left:
        lines = [line for line in meeting_lines(meeting) if line[0] not in ("Member", "Absent")]
        show.put("conference_meeting.html", lines=lines, members=meeting.members)
        _cases(now, meeting)
    with right:
        if meeting.state == "open":
            _member(now, meeting)
        _end(meeting)
        _minutes(meeting)
    shown = st.session_state.get("seat-minutes-shown")
    if shown is not None and shown[0] == meeting.seq:
        if shown[2] == _behind(now, meeting.seq):
            show.put("conference_minutes.html", text=shown[1].replace("\f", "\n"))
        else:
            show.note("The minutes changed since they were shown: show them again.", "notice")


def _new() -> None:
    with st.container(horizontal=True, vertical_alignment="bottom", key="seat-new"):
        st.text_input("Held on (YYYY-MM-DD)", key="seat-new-day", max_chars=10, width=170)
        st.text_input("Called", key="seat-new-title", max_chars=200, width=260)
        st.text_input("Quorum (members present)", key="seat-new-quorum", max_chars=3, width=190)
        st.selectbox(
            "Rated on", list(_SCALES), key="seat-new-scale", format_func=_SCALES.__getitem__, width=240
        )
        st.button("Make the meeting", key="seat-new-go", type="primary", on_click=_make)
    show.note(f"The quorum is {QUORUM}.")


@safely
def _make() -> None:
    quorum = text("seat-new-quorum")
    if not (quorum.isascii() and quorum.isdigit()):
        raise StoreError([Problem(Code.WRONG_TYPE, "the quorum is a number of members", "meeting", field="quorum",
                                  found=shorten(quorum), expected="0 or more")])  # fmt: skip
    made = store().set_meeting(text("seat-new-day"), text("seat-new-title"), quorum=int(quorum),
                               scale=st.session_state["seat-new-scale"])  # fmt: skip
    clear("seat-new-day", "seat-new-title", "seat-new-quorum")
    desk().kept["seat-meeting"] = made


def _cases(now: Store, meeting: Meeting) -> None:
    items = {
        i.seq: f"{i.reference} (item {i.seq})"
        for i in now.items(meeting=meeting.seq)
        if i.state != "withdrawn"
    }
    if not items:
        show.note("No case is taken to this meeting yet: take one from the queue.")
        return
    with st.container(horizontal=True, vertical_alignment="bottom", key="seat-cases"):
        chosen = st.selectbox(
            "Case of this meeting", list(items), key="seat-case", format_func=items.__getitem__, width=380
        )
        st.button("Open the case", key="seat-case-open", type="primary", on_click=_open, args=(chosen,))
        waiting = [i.seq for i in now.items(meeting=meeting.seq) if i.state in ("queued", "rating")]
        place = waiting.index(chosen) + 1 if chosen in waiting else 0
        st.button("Earlier", key="seat-case-up", on_click=_move, args=(chosen, place - 1), disabled=place < 2)
        st.button(
            "Later",
            key="seat-case-down",
            on_click=_move,
            args=(chosen, place + 1),
            disabled=not 0 < place < len(waiting),
        )


@safely
def _open(item: int) -> None:
    open_case(item)


@safely
def _move(item: int, place: int) -> None:
    put_at(store(), item, place)


def _member(now: Store, meeting: Meeting) -> None:
    known = {m.person: m for m in meeting.members}
    roles = {each.person: each.role for each in now.people()}
    st.subheader("Member")
    person = st.selectbox("Local id", [*known, *(each for each in roles if each not in known)], index=None, width=300,
                          key="seat-member", accept_new_options=True, placeholder="choose, or type an id")  # fmt: skip
    if not person:
        return
    former = known.get(person)
    of = f"{meeting.seq}-{person}"
    if _LOOKED not in st.session_state or f"seat-role-{of}" not in st.session_state:
        st.session_state[_LOOKED] = (
            former or "new"
        )  # what stands in the fields is of this, also when the page is drawn again
    with st.form(f"seat-member-{of}", border=False):
        st.text_input(
            "Role here",
            value=former.role if former else roles.get(person, ""),
            key=f"seat-role-{of}",
            max_chars=500,
        )
        st.text_area("Declared interest (kind, party, dates, relation to the cases; empty: none declared)", height=80, max_chars=2000,
                     value=former.interest if former else "", key=f"seat-interest-{of}")  # fmt: skip
        st.checkbox("Present", value=former.present if former else True, key=f"seat-present-{of}")
        st.form_submit_button("Enter this member", on_click=_set_member, args=(meeting.seq, person))


@safely
def _set_member(meeting: int, person: str) -> None:
    former: Member | Literal["new"] = st.session_state.pop(_LOOKED)
    of = f"{meeting}-{person}"
    store().set_member(meeting, person, text(f"seat-role-{of}"), interest=text(f"seat-interest-{of}"),
                       present=bool(st.session_state[f"seat-present-{of}"]), former=former)  # fmt: skip


def _end(meeting: Meeting) -> None:
    word = "Open the meeting again" if meeting.state == "closed" else "The meeting is over"
    with st.popover("Change the meeting", width="content", key="seat-change"):
        st.text_input("Quorum", value=str(meeting.quorum), key=f"seat-quorum-{meeting.seq}", max_chars=3)
        st.text_input("Why", key=f"seat-why-{meeting.seq}", max_chars=500)
        st.button("Change the quorum", key="seat-quorum-go", on_click=_change, args=(meeting, False))
        st.button(word, key="seat-end", on_click=_change, args=(meeting, True))


@safely
def _change(meeting: Meeting, end: bool) -> None:
    why, quorum = text(f"seat-why-{meeting.seq}"), text(f"seat-quorum-{meeting.seq}")
    if not end and not (quorum.isascii() and quorum.isdigit()):
        raise StoreError([Problem(Code.WRONG_TYPE, "the quorum is a number of members", "meeting", field="quorum",
                                  found=shorten(quorum), expected="0 or more")])  # fmt: skip
    if meeting != meeting_of(store(), meeting.seq):
        raise StoreError([Problem(Code.CHANGED_MEANWHILE, "somebody changed this meeting or its members meanwhile", "meeting",
                                  found=str(meeting.seq), next_step="look at it again: it is shown as it is now")])  # fmt: skip
    other: State = "open" if meeting.state == "closed" else "closed"
    store().set_meeting(meeting.held_on, meeting.title, quorum=meeting.quorum if end else int(quorum), scale=meeting.scale,
                        state=other if end else meeting.state, meeting=meeting.seq, why=why)  # fmt: skip
    clear(f"seat-why-{meeting.seq}")


def _minutes(meeting: Meeting) -> None:
    name = f"minutes-{meeting.held_on}"

    def pdf(paper: str) -> bytes:
        from candidacy.conference.minutes_pdf import minutes_pdf

        return minutes_pdf(minutes_of(store(), meeting.seq), "Letter" if paper == "Letter" else "A4")

    st.subheader("Minutes")
    with st.container(horizontal=True, key="seat-minutes"):
        downloads([
            Export("Minutes (text)", f"{name}.txt", "text/plain", lambda: minutes_text(minutes_of(store(), meeting.seq))),
            Export("Minutes (PDF, A4)", f"{name}.pdf", "application/pdf", lambda: pdf("A4")),
            Export("Minutes (PDF, Letter)", f"{name}-letter.pdf", "application/pdf", lambda: pdf("Letter")),
        ], "content")  # fmt: skip
        st.button("Show the minutes", key="seat-minutes-show", on_click=_show_minutes, args=(meeting.seq,))


@safely
def _show_minutes(meeting: int) -> None:
    behind = _behind(store(), meeting)
    st.session_state["seat-minutes-shown"] = (meeting, minutes_text(minutes_of(store(), meeting)), behind)


def _behind(now: Store, meeting: int) -> tuple[int, date]:
    """The last entry that minutes are made from, and their day."""
    return now.last_change({item.reference for item in now.items(meeting=meeting)}), date.today()
