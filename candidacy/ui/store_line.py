"""The head of the pages that work with kept referrals: which store, who works with it; or how one is opened.

A store is opened once for each person, for all sessions. On this machine whoever sits at the page may act as anybody, as the
store itself says; behind a reverse proxy the person is who the proxy names. What each may do is asked by the store at every act.
"""

import threading

import streamlit as st

from candidacy.foundation.errors import InputError
from candidacy.records.database import named
from candidacy.records.session import checked_person, local_person
from candidacy.records.store import Store, open_store
from candidacy.ui import show
from candidacy.ui.head_line import messages
from candidacy.ui.named_store import store_named
from candidacy.ui.proxy import header, named_by_proxy
from candidacy.ui.session import hold, safely

_guard = threading.Lock()
_open: dict[tuple[str, str], Store] = {}
_PERSON, _FIELD = "store-person", "store-person-field"


def store_line(title: str) -> Store | None:
    """Draw the head; the open store, or ``None`` where there is none, with the way to open one."""
    where = store_named()
    with st.container(horizontal=True, vertical_alignment="bottom", key="store-bar"):
        show.put("store_line.html", title=title, where=named(where) if where else "")
        if where and header():
            show.put_beside("works_as.html", person=_named_or_nobody())
        elif where:
            hold(_FIELD, person())
            st.text_input(
                "You work as (your local id; never a name)",
                key=_FIELD,
                max_chars=64,
                width=330,
                on_change=_change,
            )
    messages()
    if not where:
        show.put("no_store.html")
        return None
    try:
        return store()
    except InputError as error:
        show.problems(error.problems, "The store was not opened")
        return None


def _named_or_nobody() -> str:
    try:
        return person()
    except InputError:
        return ""


def person() -> str:
    """Who works on this page: as the reverse proxy says where one is configured, else as chosen here.

    Raises
    ------
    StoreError
        As `named_by_proxy`.
    """
    if header():
        return named_by_proxy()
    if _PERSON not in st.session_state:
        try:
            st.session_state[_PERSON] = local_person()
        except InputError:
            st.session_state[_PERSON] = ""
    return str(st.session_state[_PERSON])


def store() -> Store:
    """The open store as the person at this page works with it.

    Raises
    ------
    StoreError
        E601 for a person that is none, E703 for one whom the store does not know, E701 for what is no store.
    """
    where = store_named()
    key = (where, checked_person(person()))
    with _guard:
        if key not in _open:
            _open[key] = open_store(where, key[1], create=False)
    found = _open[key]
    found.meetings()  # asks the store whether this person may read here
    return found


@safely
def _change() -> None:
    wanted = st.session_state[_FIELD].strip()
    checked_person(wanted)
    if wanted != st.session_state.get(_PERSON):
        st.session_state[_PERSON] = wanted
        for name in [n for n in st.session_state if str(n).startswith("seat-")]:
            del st.session_state[name]
