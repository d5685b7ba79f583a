"""Source and date first: where the answers of a page of the guided intake come from, chosen before any is entered."""

import streamlit as st

from candidacy.ui import show
from candidacy.ui.days import day_typed
from candidacy.ui.desk import ASKED_TODAY
from candidacy.ui.documents import KINDS, document_form, document_words
from candidacy.ui.intake.plan import IntakePage
from candidacy.ui.session import desk, hold, safely

AT, SOURCES = "intake-at", "intake-sources"


def enter(page: IntakePage) -> None:
    """Have the source of a page in force: what was chosen for pages told by the same, or none yet."""
    kept = desk().kept
    chosen = dict(kept.get(SOURCES, {}))
    if kept.get(AT) != page.id:
        kept["source"], kept["dated"] = chosen.get(page.told_by, ("", ""))
        kept[AT] = page.id
    chosen[page.told_by] = (kept.get("source", ""), kept.get("dated", ""))
    kept[SOURCES] = chosen


def leave() -> None:
    """Note that no page of the intake is open; its source is put in force again when one is opened."""
    desk().kept.pop(AT, None)


def source_first(page: IntakePage) -> bool:
    """Draw the choice of the source; say whether one is chosen."""
    on = desk()
    record = on.record
    spoken = page.told_by == "conversation"
    usual = [key for key, document in record.documents.items() if spoken or document.kind == page.told_by]
    others = [key for key in record.documents if key not in usual]
    options = ([ASKED_TODAY] if spoken else []) + usual + others + ([] if spoken else [ASKED_TODAY])
    kept = on.kept.get("source", "")
    words = {key: show.label(document_words(record, key)) for key in record.documents}
    words[ASKED_TODAY] = f"asked today, {on.today().isoformat()}"
    with st.container(border=True, key="intake-source", gap="small"):
        hold("intake-from", kept if kept in options else None)
        st.segmented_control("Where do the answers of this page come from, and of which day are they?", options,
                             key="intake-from", format_func=words.__getitem__, required=True,
                             on_change=_choose)  # fmt: skip
        with st.container(horizontal=True, vertical_alignment="bottom"):
            if kept not in ("", ASKED_TODAY):
                hold("intake-dated", on.kept.get("dated", ""))
                st.text_input("True on, if not the document's day", key="intake-dated", max_chars=30, width=260,
                              placeholder="YYYY-MM-DD", on_change=_keep_dated)  # fmt: skip
            name = "document" if spoken else KINDS[page.told_by]
            opened = bool(on.kept.get("intake-new-document"))
            st.button(f"Add {'an' if name[0] in 'aeiou' else 'a'} {name}", key="intake-add-document", on_click=_toggle,
                      disabled=opened)  # fmt: skip
        if opened:
            document_form("intake", () if spoken else (page.told_by,), _added)
        if not kept:
            show.note("Choose this first: an answer without a source and a day cannot be traced.", "notice")
    return bool(kept)


@safely
def _choose() -> None:
    on = desk()
    on.kept["source"] = st.session_state["intake-from"]
    on.kept["dated"] = ""


@safely
def _keep_dated() -> None:
    written = st.session_state["intake-dated"].strip()
    if written:
        written, shown = day_typed(written)
        if shown:
            st.session_state["notice"] = f"Read as {shown}. Answers entered from now on are of that day."
    desk().kept["dated"] = written


@safely
def _toggle() -> None:
    desk().kept["intake-new-document"] = True


def _added() -> None:
    desk().kept.pop("intake-new-document", None)
    desk().kept["dated"] = ""
