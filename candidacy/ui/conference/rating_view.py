"""Rating a case: one's own rating, who is awaited, and what came of a round once all have rated."""

import streamlit as st

from candidacy.conference.appropriateness import SCALE, SCALE_SOURCE, figure
from candidacy.conference.case_page import CasePage
from candidacy.conference.deciding import rate, second_round, taking_part
from candidacy.conference.minutes import RATED_BEFORE, verdict_words
from candidacy.conference.rounds import VOTES
from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.conference.seat import fresh
from candidacy.ui.session import safely
from candidacy.ui.store_line import store


def rating_view(now: Store, page: CasePage) -> None:
    """Draw the rounds of the open case."""
    meeting, item = page.meeting, page.item
    if meeting is None:
        return
    numbers = meeting.scale == "appropriateness"
    show.put("conference_rounds.html", rounds=page.rounds, figure=figure, verdict=verdict_words, before=RATED_BEFORE, scale=SCALE if numbers else "",
             source=SCALE_SOURCE)  # fmt: skip
    present = page.rounds[-1] if page.rounds else None
    if present is None or item.state != "rating" or meeting.state == "closed":
        return
    if present.open and now.person in taking_part(item, meeting):
        choices = list(range(1, 10)) if numbers else list(VOTES)
        key = f"seat-rating-{item.seq}-{item.round}-{now.person}"
        given = st.segmented_control(f"Rating of {now.person}, round {present.number}", choices, key=key)
        st.button("Change your rating" if present.own else "Rate", key="seat-rate", type="primary", disabled=given is None,
                  on_click=_rate, args=(item.seq, present.number, key))  # fmt: skip
    elif present.open:
        show.note(f"{now.person} takes no part in this case, and rates nothing.")
    elif item.round == 1 and present.seen:
        st.button("Begin the second round", key="seat-second", on_click=_second, args=(item.seq,))


@safely
def _rate(item: int, number: int, key: str) -> None:
    rate(store(), item, st.session_state[key], looked_at=number)
    fresh()


@safely
def _second(item: int) -> None:
    second_round(store(), item)
    fresh()
