"""Work list: kept referrals by standing, what they wait for and since when, next act, owner; opening and saving one."""

from typing import Any, get_args

import pandas as pd
import streamlit as st

from candidacy.conference.queue import MOST, standing_told
from candidacy.records.store import Store
from candidacy.records.work import Order, WorkRow
from candidacy.rules.vocabulary import STANDINGS, Standing
from candidacy.ui import show
from candidacy.ui.kept_referral import base_of, open_kept, save, take_newest, unsaved
from candidacy.ui.session import desk, keep, kept_choice, safely, told_here
from candidacy.ui.store_line import store, store_line

_ORDERS: dict[Order, str] = {
    "changed": "changed last",
    "reference": "reference",
    "waiting": "waiting longest",
    "due": "due first",
}
_ONLY = {"waiting": "waiting for something", "asked": "asked at a conference", "nobody": "in nobody's hand"}


def work_list() -> None:
    """Draw the page."""
    now = store_line("Work list")
    if now is None:
        return
    with told_here("The work list could not be shown"):
        rows = _rows(now)
        _table(rows)
        _act(rows)
        _open_referral(now)


def _rows(now: Store) -> tuple[WorkRow, ...]:
    counts = now.count_referrals()
    with st.container(horizontal=True, vertical_alignment="bottom", key="work-filters"):
        standings: list[Standing] = st.multiselect(
            "Standing", get_args(Standing), key=kept_choice("work-standing", [], list(get_args(Standing))), width=300,
            format_func=STANDINGS.__getitem__, placeholder="all", on_change=keep,
            args=("work-standing", "kept-work-standing"))  # fmt: skip
        only: list[str] = st.multiselect("Only those", list(_ONLY), key=kept_choice("work-only", [], list(_ONLY)), format_func=_ONLY.__getitem__,
                              width=300, placeholder="all", on_change=keep, args=("work-only", "kept-work-only"))  # fmt: skip
        starts = st.text_input("Reference begins with", key="work-starts", max_chars=64, width=170)
        owner = st.text_input("In the hand of", key="work-owner", max_chars=64, width=140)
        order = st.selectbox("Order", list(_ORDERS), key=kept_choice("work-order", "changed", list(_ORDERS)), width=170,
                             format_func=_ORDERS.__getitem__, on_change=keep, args=("work-order", "kept-work-order"))  # fmt: skip
        closed = st.checkbox("Closed ones too", key="work-closed")
    named: dict[str, str] = {**STANDINGS, "": "not assessed"}
    told = [f"{words} {counts[standing]}" for standing, words in named.items() if counts.get(standing)]
    show.note(f"Open referrals: {', '.join(told) or 'none'}.")
    return now.list_referrals(
        standing=standings, owner=owner.strip() or ("" if "nobody" in only else None), state=None if closed else "open",
        waiting=True if "waiting" in only else None, asked=True if "asked" in only else None, text=starts.strip(),
        order=order, limit=MOST + 1,
    )  # fmt: skip


def _table(rows: tuple[WorkRow, ...]) -> None:
    if not rows:
        show.note("No referral is kept that fits.")
        return
    st.dataframe(pd.DataFrame([_row(row) for row in rows[:MOST]]), hide_index=True, key="work-table", on_select="rerun",
                 selection_mode="single-row", alt="Kept referrals with standing, what they wait for, next act and owner")  # fmt: skip
    if len(rows) > MOST:
        show.note(f"Only the first {MOST} are shown; narrow the list.", "notice")


def _row(row: WorkRow) -> dict[str, Any]:
    return {
        "referral": row.reference + (" (invented)" if row.invented else ""),
        "standing": standing_told(row),
        "as of": row.as_of,
        "missing": row.missing,
        "waits for": row.waiting_for,
        "since": row.waiting_since[:10],
        "next act": row.next_act,
        "due": row.next_due,
        "owner": row.owner or row.next_owner,
        "conference": "asked" if row.asked else "",
        "changed": row.changed[:10],
    }


def _act(rows: tuple[WorkRow, ...]) -> None:
    if not rows:
        return
    shown = [row.reference for row in rows[:MOST]]
    picked = st.session_state["work-table"].selection.rows
    place = picked[0] if picked and picked[0] < len(shown) else None
    with st.container(horizontal=True, vertical_alignment="bottom", key="work-act"):
        chosen = st.selectbox(
            "Referral", shown, index=place, key=f"work-referral-{place}", width=300, placeholder="choose"
        )
        st.button(
            "Open where it was left",
            key="work-open",
            type="primary",
            on_click=_open,
            args=(f"work-referral-{place}",),
            disabled=chosen is None,
        )


@safely
def _open(key: str) -> None:
    st.session_state["notice"] = open_kept(desk(), store(), st.session_state[key])
    st.session_state["go-to-page"] = ""


def _open_referral(now: Store) -> None:
    record = desk().record
    base = base_of(desk())
    if desk().untouched:
        return
    st.subheader("The open referral")
    kept = now.row_of(record.id)
    if base:
        said = f"{record.id} stands on version {base}. Saving keeps every earlier version."
    elif kept is not None:
        said = (f"The store holds {record.id} as version {kept.version}, and what is open here does not stand on it, so it cannot "
                "be saved over it: take the newest version, and put your changes into that.")  # fmt: skip
    else:
        said = f"{record.id} is not kept yet. Saving keeps every earlier version."
    show.note(said, "soft" if base or kept is None else "notice")
    with st.container(horizontal=True, vertical_alignment="bottom", key="work-save"):
        st.text_input(
            "Why it was changed (from the second version on)", key="work-why", max_chars=2000, width=420
        )
        st.button("Save to the store", key="work-save-go", type="primary", on_click=_save)
        st.button("Assess and keep the answer", key="work-assess", on_click=_assess, disabled=not base)
        if kept is not None:
            st.button("Take the newest version", key="work-newest", on_click=_newest)


@safely
def _save() -> None:
    st.session_state["notice"] = save(desk(), store(), str(st.session_state.get("work-why") or "").strip())
    st.session_state["work-why"] = ""


@safely
def _assess() -> None:
    found = store().assess_and_keep(desk().record.id, desk().rules, as_of=desk().as_of())
    told = f"{found.said.standing_name} under {found.said.rules}, kept as entry {found.seq}."
    if unsaved(desk(), store()):
        told += " It is of the version that is kept: what was changed on the desk since is not in it."
    st.session_state["notice"] = told


@safely
def _newest() -> None:
    st.session_state["notice"] = take_newest(desk(), store())
