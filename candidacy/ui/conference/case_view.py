"""A case on one screen: the question and what speaks to it on the left, ratings and the decision on the right."""

import streamlit as st

from candidacy.conference.case_page import CasePage
from candidacy.conference.deciding import recuse
from candidacy.conference.letter import keep_reply, letter_of, letter_text
from candidacy.conference.minutes import decision_lines, decision_words, quorum_met, took_part
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.conference.decision_form import decision_form
from candidacy.ui.conference.rating_view import rating_view
from candidacy.ui.conference.seat import changed_since, clear, fresh, open_case, open_item, page_of, text
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import safely
from candidacy.ui.store_line import store


def case_view(now: Store) -> None:
    """Draw the page of the open case."""
    items = {i.seq: i for i in now.items() if i.state != "withdrawn"}
    number = open_item()
    if not items:
        show.note("No case was asked about yet: ask about one under Queue.")
        return
    with st.container(horizontal=True, vertical_alignment="bottom", key="seat-which"):
        chosen = st.selectbox("Case", list(items), index=list(items).index(number) if number in items else None, key=f"seat-open-{number}",
                              format_func=lambda i: f"{items[i].reference} (item {i})", width=420, placeholder="choose",
                              on_change=_choose, args=(f"seat-open-{number}",))  # fmt: skip
        st.button(
            "Look again", key="seat-again", on_click=_again, help="Reads the case and its ratings again."
        )
    if chosen is None:
        return
    page = page_of(now, chosen)
    if changed_since(now, page):
        show.note("Something was entered since this was read: look again.", "notice")
    left, right = st.columns([1.5, 1], gap="medium")
    with left:
        show.put("conference_case.html", p=page, decided=decision_words)
    with right:
        _members(page)
        rating_view(now, page)
        _decided(page)
        decision_form(page)


@safely
def _choose(key: str) -> None:
    if st.session_state[key] is not None:
        open_case(st.session_state[key])


@safely
def _again() -> None:
    fresh()


def _members(page: CasePage) -> None:
    meeting, item = page.meeting, page.item
    if meeting is None:
        show.note("This item waits in the queue: take it to a meeting to rate and decide.", "notice")
        return
    part, quorum = took_part(page, meeting)
    show.put(
        "conference_members.html",
        members=meeting.members,
        decided=page.decision is not None,
        quorum=quorum,
        part=part,
        recusals=page.recusals,
        enough=quorum_met(part, quorum),
    )
    if item.state == "rating" and part:
        with st.popover("Recuse a member", width="content", key="seat-recuse"):
            who = st.selectbox(
                "Member", part, index=None, key=f"seat-recuse-who-{item.seq}", placeholder="choose"
            )
            st.text_input(
                "Why this member takes no part in this case", key=f"seat-recuse-why-{item.seq}", max_chars=500
            )
            st.button(
                "Recuse", key="seat-recuse-go", disabled=not who, on_click=_recuse, args=(item.seq, who)
            )


@safely
def _recuse(item: int, who: str) -> None:
    recuse(store(), item, who, text(f"seat-recuse-why-{item}"))
    clear(f"seat-recuse-why-{item}")
    fresh()


def _decided(page: CasePage) -> None:
    if page.decision is None:
        return
    decision, again = page.decision
    show.put("conference_decision.html", lines=decision_lines(decision, again), again=again.reasons)
    item, name = page.item.seq, f"reply-{page.item.reference}"

    def pdf() -> bytes:
        from candidacy.conference.minutes_pdf import letter_pdf

        return letter_pdf(letter_of(store(), item))

    with st.container(horizontal=True, key="seat-reply"):
        downloads([
            Export("Draft of the reply (text)", f"{name}.txt", "text/plain", lambda: letter_text(letter_of(store(), item))),
            Export("Draft of the reply (PDF)", f"{name}.pdf", "application/pdf", pdf),
        ], "content")  # fmt: skip
        st.button(
            "Keep the draft with the referral", key="seat-reply-keep", on_click=_keep_reply, args=(item,)
        )


@safely
def _keep_reply(item: int) -> None:
    st.session_state["notice"] = f"The draft is {keep_reply(store(), letter_of(store(), item)).words}."
