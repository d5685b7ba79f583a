"""Outcomes: how treated patients did, by every definition, with what is missing and what does not fit."""

import statsmodels  # noqa: F401 - where it is missing, the page says which extra to install
import streamlit as st

from candidacy.foundation.errors import InputError, Problem
from candidacy.outcomes.document import document
from candidacy.outcomes.figures import figures_of
from candidacy.outcomes.page import page_of
from candidacy.rules.outcome_files import number_of
from candidacy.ui import show
from candidacy.ui.exports import Export
from candidacy.ui.head_line import bar
from candidacy.ui.outcomes import desk_records
from candidacy.ui.outcomes.views import Shown, views
from candidacy.ui.session import desk, keep, kept_choice, safely

_MOST_MB = 4
_NONE = ""


def outcomes() -> None:
    """Draw the page."""
    exports: list[Export] = []
    try:
        found = desk_records.counted()
        problems: tuple[Problem, ...] = ()
    except InputError as error:
        found, problems = None, error.problems
    shown: Shown | None = None
    if found is not None:
        below = int(number_of(found.running.mask_below)) if desk().kept.get("outcomes-masked", True) else 0
        told = document(found, below)
        shown = Shown(found, told, below)
        mark = "-masked" if below else ""
        exports = [
            Export(f"Outcomes to print (HTML{', masked' if below else ''})", f"outcomes{mark}.html", "text/html",
                   lambda: page_of(told, figures_of(found, told))),
        ]  # fmt: skip
    bar(exports)
    _records()
    if problems:
        show.problems(problems, "Refused; nothing is counted")
    if not desk_records.files():
        show.put("outcomes_start.html")
        return
    _choices(shown)
    if shown is not None:
        views(shown)


def _records() -> None:
    files = desk_records.files()
    if not files:
        _uploaders()
        st.button("Take the invented year of a clinic", key="outcomes-year", on_click=_take_year)
        return
    with st.container(horizontal=True, vertical_alignment="center", key="outcomes-records"):
        name = desk().kept.get(desk_records.NAME, "")
        count = f"{len(files)} file{'s' if len(files) != 1 else ''}"
        show.put_beside("note.html", text=f"{count}{f': {name}' if name else ''}", kind="soft")
        st.button("Remove all", key="outcomes-remove", on_click=_remove, width="content",
                  help="Takes the records off the desk, and what was counted of them")  # fmt: skip
    with st.expander("Add files"):
        _uploaders()


def _uploaders() -> None:
    count = st.session_state.get("outcomes-uploads", 0)
    left, right = st.columns(2)
    left.file_uploader("Course and case records (YAML or JSON)", accept_multiple_files=True, key=f"outcomes-upload-{count}",
                       on_change=_take, args=(f"outcomes-upload-{count}",), max_upload_size=_MOST_MB)  # fmt: skip
    right.file_uploader("Or a folder of them", accept_multiple_files="directory", type=["yaml", "yml", "json"],
                        key=f"outcomes-folder-{count}", on_change=_take, args=(f"outcomes-folder-{count}",),
                        max_upload_size=_MOST_MB)  # fmt: skip


@safely
def _take(key: str) -> None:
    uploads = [(file.name, file.getvalue()) for file in st.session_state[key]]
    desk_records.add(uploads)
    st.session_state["outcomes-uploads"] = st.session_state.get("outcomes-uploads", 0) + 1


@safely
def _take_year() -> None:
    desk_records.add_year()


@safely
def _remove() -> None:
    desk_records.remove()


def _choices(shown: Shown | None) -> None:
    """Visit, the definition that was declared, the day, and whether small counts are masked."""
    with st.container(horizontal=True, vertical_alignment="bottom", key="outcomes-choices"):
        if shown is not None:
            visits = {visit.id: visit.title for visit in shown.found.content.visits.visits}
            usual = str(shown.found.responders.usual_visit.value)
            st.selectbox("Visit", list(visits), key=kept_choice("outcomes-at", usual, list(visits)), on_change=keep,
                         args=("outcomes-at", "kept-outcomes-at"), format_func=visits.__getitem__, width=240)  # fmt: skip
            titles = {_NONE: "none was declared beforehand"} | {
                each.id: each.title for each in shown.found.responders.definitions
            }
            st.selectbox("Definition declared before results were looked at", list(titles), width=420, on_change=keep,
                         key=kept_choice("outcomes-declared", _NONE, list(titles)), format_func=titles.__getitem__,
                         args=("outcomes-declared", "kept-outcomes-declared"))  # fmt: skip
        st.text_input("As of (YYYY-MM-DD; empty: today)", key=kept_choice("outcomes-as-of", ""), on_change=keep, max_chars=10,
                      args=("outcomes-as-of", "kept-outcomes-as-of"), width=240)  # fmt: skip
        st.toggle("Mask small counts, hide references", key=kept_choice("outcomes-masked", True), on_change=keep,
                  args=("outcomes-masked", "kept-outcomes-masked"))  # fmt: skip
