"""The entry page: settings, safety checks, navigation. Started by ``candidacy ui``."""

import os
from functools import cache
from pathlib import Path

import streamlit as st

from candidacy.case.edit import empty_record
from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import LIBRARY_VARIABLE
from candidacy.ui import show
from candidacy.ui.libraries import libraries
from candidacy.ui.named_store import HEADER_VARIABLE
from candidacy.ui.own_library import open_named, steady
from candidacy.ui.pages import PAGES
from candidacy.ui.safety import unsafe_settings
from candidacy.ui.session import desk, drawn, log_fault, mark_browser, on_page, safely


def main() -> None:
    """Draw the chosen page; a fault is told without the values involved and loses nothing."""
    st.set_page_config(
        page_title="candidacy", layout="wide", page_icon=str(Path(__file__).with_name("icon.png"))
    )
    show.style()
    unsafe = unsafe_settings()
    if unsafe:
        show.note("Not started: " + "; ".join(unsafe) + ". Start the screens with: candidacy ui", "alarm")
        st.stop()
    if os.environ.get(HEADER_VARIABLE, "").strip() and not _somebody():
        st.stop()
    wrong = open_named()
    if wrong:
        show.put("library_problems.html", problems=wrong, folder=os.environ.get(LIBRARY_VARIABLE, ""))
        st.stop()
    pages = [
        st.Page(function, title=title, url_path=path, default=not path) for path, title, function in PAGES
    ]
    chosen = st.navigation(pages, position="top")
    asked = st.session_state.pop("go-to-page", None)
    if asked is not None and asked != chosen.url_path:
        st.switch_page(next(page for page in pages if page.url_path == asked))
    st.set_page_config(page_title=f"{chosen.title} – candidacy")
    show.put("page_title.html", title=chosen.title)
    show.run_script("access", _access())
    try:
        with steady():
            desk()
            mark_browser()
            on_page(chosen.url_path)
            if _fits():
                chosen.run()
            drawn()
    except Exception as error:
        log_fault(error)
        show.note(
            "E901 The program failed while drawing this page. What was entered is kept; undo, or reload.",
            "alarm",
        )
        st.button("Undo the last edit", on_click=_undo)


def _somebody() -> bool:
    """Whether the reverse proxy names who asks; where not, no page is shown."""
    from candidacy.ui.proxy import named_by_proxy

    try:
        named_by_proxy()
    except InputError as error:
        show.problems(error.problems, "Not shown")
        return False
    return True


@cache
def _access() -> str:
    return Path(__file__).with_name("access.js").read_text("utf-8")


def _fits() -> bool:
    """Whether the referral can be read under the rules in use; where not, the ways out are shown."""
    try:
        desk().case()
    except InputError as error:
        show.put("misfit.html", problems=error.problems)
        with st.container(horizontal=True):
            st.button("Undo", key="misfit-undo", on_click=_undo, disabled=desk().at == 0)
            st.button("Start empty", key="misfit-empty", on_click=_start_empty)
        libraries()
        return False
    return True


@safely
def _start_empty() -> None:
    desk().open(empty_record(), "started an empty referral")


@safely
def _undo() -> None:
    desk().undo()


if __name__ == "__main__":
    main()
