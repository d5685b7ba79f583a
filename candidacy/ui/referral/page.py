"""Referral: enter what is known, see the standing and why, find what is missing."""

import streamlit as st

from candidacy.ui import show
from candidacy.ui.documents import source_strip
from candidacy.ui.head_line import bar
from candidacy.ui.intake.page import guided_intake
from candidacy.ui.intake.source import leave
from candidacy.ui.intake.start import start_panel
from candidacy.ui.referral.criteria import criteria_rows, disc_table
from candidacy.ui.referral.details import show_details
from candidacy.ui.referral.form import fact_form, move
from candidacy.ui.referral.missing import fresh_rows, missing_facts
from candidacy.ui.referral.panel import standing_panel
from candidacy.ui.referral.settle import what_settles
from candidacy.ui.session import desk, kept_choice

_VIEWS = ["Guided", "Facts", "Missing", "Criteria", "Discs"]


def referral() -> None:
    """Draw the page."""
    bar()
    document = desk().document()
    work, panel = st.columns([2.15, 1], gap="medium", wrap=False)
    with panel:
        standing_panel(document)
    with work:
        # also when empty: what stands below keeps its place on the page, and the focus in it
        with st.container(key="start-place"):
            if desk().untouched and desk().kept.get("view") != "Guided":
                start_panel()
                show.note("Or start typing, or open a demonstration case or a case file under “Referral”.")
        counts = {
            "Missing": len(document.missing),
            "Criteria": len(document.criteria),
            "Discs": len(document.discs),
        }
        view = st.segmented_control("View", _VIEWS, key=kept_choice("view", "Facts", _VIEWS), required=True,
                                    format_func=lambda v: f"{v} ({counts[v]})" if v in counts else v,
                                    on_change=_keep_view, label_visibility="collapsed")  # fmt: skip
        if view in ("Facts", "Missing"):
            source_strip()
        if view == "Missing":
            what_settles()
        with st.container(key=(view or "Facts").lower()):
            {"Guided": guided_intake, "Facts": fact_form, "Missing": missing_facts, "Criteria": criteria_rows,
             "Discs": disc_table}[view or "Facts"](document)  # fmt: skip
    show_details()
    move()


def _keep_view() -> None:
    desk().kept["view"] = st.session_state["kept-view"]
    fresh_rows()
    leave()
