"""What would settle the standing and what would change it: worked out only when a person asks."""

import streamlit as st

from candidacy.explain.settle_lines import sections
from candidacy.ui import show
from candidacy.ui.session import desk, keep, kept_choice

WORDS = "Show what would settle the standing, and what would change it"


def what_settles() -> None:
    """The switch, and both lists where it is on."""
    if not st.toggle(WORDS, key=kept_choice("settle", False), on_change=keep, args=("settle", "kept-settle")):
        return
    with st.container(key="settle"):
        for title, lines in sections(desk().settled()):
            show.put("settle.html", title=title, lines=lines)
