"""Recording what people decided: nothing is chosen before a person chooses it."""

from collections.abc import Sequence
from typing import get_args

import streamlit as st

from candidacy.case.element import LEVELS
from candidacy.conference.case_page import CasePage
from candidacy.conference.deciding import DECISIONS, Said, decide
from candidacy.conference.minutes import took_part
from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.records.entries import Meaning
from candidacy.ui import show
from candidacy.ui.conference.seat import fresh, lines, text
from candidacy.ui.session import safely
from candidacy.ui.store_line import store
from candidacy.ui.typed import drop_typed, typed

_MEANINGS = get_args(Meaning)


def decision_form(page: CasePage) -> None:
    """Draw the form of the open case, where it may be decided; to correct a decision it is opened by hand."""
    item, meeting = page.item, page.meeting
    if meeting is None or item.state == "withdrawn":
        return
    corrects = page.decision[0].seq if page.decision is not None else 0
    if corrects:
        key = f"seat-correct-{item.seq}-{corrects}"
        if not st.toggle("Correct this decision; both are kept", key=key):
            return
    elif meeting.state == "closed":
        show.note("The meeting is over. To decide, open it again or take the item to another meeting.")
        return
    _fields(page, f"seat-d-{item.seq}-{corrects}", took_part(page, meeting)[0], corrects)


def _fields(page: CasePage, key: str, part: Sequence[str], corrects: int) -> None:
    st.subheader("What was decided")
    chosen = st.segmented_control(
        "Decision", list(DECISIONS), **typed(f"{key}-decision", None), format_func=DECISIONS.__getitem__
    )
    if chosen == "treat":
        st.multiselect("Which disc", LEVELS, **typed(f"{key}-discs", []), placeholder="choose")
    if chosen == "not_yet":
        with st.container(horizontal=True):
            st.text_input("Until (YYYY-MM-DD)", **typed(f"{key}-until"), max_chars=10, width=160)
            st.text_input("After what has happened", **typed(f"{key}-after"), max_chars=500)
    if chosen == "more_tests":
        st.text_area("Which tests, one a line", **typed(f"{key}-tests"), height=80, max_chars=2000)
    st.text_area("Reason (always required)", **typed(f"{key}-reason"), height=80, max_chars=20_000)
    st.text_area("Conditions, one a line", **typed(f"{key}-conditions"), height=68, max_chars=5000)
    dissenting = st.multiselect(
        "Who would have decided otherwise", part, **typed(f"{key}-dissent", [], part), placeholder="nobody"
    )
    for person in dissenting:
        st.text_input(f"Why, {person}", **typed(f"{key}-dissent-{person}"), max_chars=2000)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.selectbox(
            "Responsible",
            part,
            index=None,
            **typed(f"{key}-responsible", None),
            accept_new_options=True,
            width=200,
            placeholder="choose",
        )
        st.text_input(
            "Look at it again on", **typed(f"{key}-review"), max_chars=10, width=150, placeholder="YYYY-MM-DD"
        )
        st.selectbox(
            "Your signature means",
            _MEANINGS,
            index=None,
            **typed(f"{key}-meaning", None),
            width=180,
            placeholder="choose",
        )
    show.note(
        f"It binds to version {page.version} of the record, its assessment and rule set; a later change says: look at it again."
    )
    st.button("Sign the correction" if corrects else "Sign the decision", key="seat-sign", type="primary", on_click=_sign,
              args=(page.item.seq, page.version, page.standing.seq if page.standing else None, key, corrects))  # fmt: skip


@safely
def _sign(item: int, version: int, answer: int | None, key: str, corrects: int) -> None:
    state = st.session_state
    chosen, responsible, meaning = (
        state.get(f"{key}-{name}") for name in ("decision", "responsible", "meaning")
    )
    missing = [
        name
        for name, value in (("decision", chosen), ("responsible", responsible), ("signature", meaning))
        if not value
    ]
    if missing or chosen is None or meaning is None or responsible is None:
        raise StoreError(
            [Problem(Code.MISSING_KEY, "nobody chose it yet", "decision", field=name) for name in missing]
        )
    said = Said(
        chosen, text(f"{key}-reason"), responsible, tuple(state.get(f"{key}-discs") or ()), text(f"{key}-until"),
        text(f"{key}-after"), tuple(lines(f"{key}-tests")), tuple(lines(f"{key}-conditions")),
        tuple((person, text(f"{key}-dissent-{person}")) for person in state.get(f"{key}-dissent") or ()),
        text(f"{key}-review"),
    )  # fmt: skip
    decide(store(), item, said, version=version, answer=answer, meaning=meaning, corrects=corrects)
    drop_typed(f"{key}-")
    fresh()
    st.session_state["notice"] = "Signed and kept."
