"""The list of rule libraries on the page of rule sets: which is in use, what each holds, and opening another."""

import streamlit as st

from candidacy.foundation.errors import InputError
from candidacy.ui import show
from candidacy.ui.own_library import choose, listed
from candidacy.ui.proxy import header


def libraries() -> None:
    """Draw the list."""
    st.subheader("Libraries of rules")
    show.note("One library is in use at a time, for every session at these screens. A library of one's own extends the shipped "
              "rules, and is checked whole before it is used. Nothing is copied: files changed later count when it is opened again.")  # fmt: skip
    for number, row in enumerate(listed()):
        with st.container(horizontal=True, vertical_alignment="center", key=f"library-{number}"):
            name = row.folder or "Shipped with this program"
            show.put("library.html", name=name, holds=row.holds, in_use=row.in_use)
            if not row.in_use and not header():
                st.button("Use these rules", key=f"library-use-{number}", on_click=_use, args=(row.folder,), width="content",
                          help=show.label(name))  # fmt: skip
    if header():
        show.note("Behind a reverse proxy the library is chosen where the screens are started.")
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.text_input(
            "Folder of another library, on this machine", key="library-folder", width=460, max_chars=1000
        )
        st.button("Check and use it", key="library-open", on_click=_use_typed, width="content")


def _use_typed() -> None:
    folder = str(st.session_state["library-folder"]).strip()
    if folder:
        _use(folder)


def _use(folder: str) -> None:
    """Callback; it does not hold the rules steady, since it changes them."""
    if header():  # a page is not where one person changes the rules of all
        return
    try:
        choose(folder)
    except InputError as error:
        st.session_state["refused"] = error.problems
