"""The panel that stays in view: standing, its reason, the discs, what the last edit changed, cautions."""

import streamlit as st

from candidacy.explain.document import AssessmentDocument
from candidacy.ui import show
from candidacy.ui.not_counted import block, not_counted, standing_words
from candidacy.ui.session import desk

_SHOWN_CAUTIONS = 3


def standing_panel(document: AssessmentDocument) -> None:
    """Draw the panel in the present container."""
    with st.container(key="standing"):
        lines = not_counted(desk())
        show.put("standing.html", d=document, not_counted=standing_words(lines))
        block(lines)
        label, changed = desk().last_changes()
        if label:
            show.put("changes.html", label=label, changes=changed, opened=desk().just_opened)
        for notice in document.notices:
            show.note(notice, "notice")
        show.put("cautions.html", cautions=document.cautions[:_SHOWN_CAUTIONS])
