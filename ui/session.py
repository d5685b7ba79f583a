"""The desk of the session that is running, and callbacks that never leak what was typed."""

import functools
import sys
import traceback
from collections.abc import Callable
from typing import Any, TypeVar

import streamlit as st

from candidacy.errors import InputError
from ui.desk import Desk
from ui.store import STORE, browser_mark

_COOKIE = "_streamlit_xsrf"
_Function = TypeVar("_Function", bound=Callable[..., Any])


def desk() -> Desk:
    """The desk of this session: kept over reruns and page changes, and found again after a reload."""
    if "desk" not in st.session_state:
        cookie = st.context.cookies.get(_COOKIE)
        browser = browser_mark(cookie) if isinstance(cookie, str) else ""
        asked = st.query_params.get("s", "")
        found = STORE.copy_of(asked, browser) if asked else None
        if asked and found is None:
            st.session_state["notice"] = (
                "This address named work that is no longer kept here: the server was restarted, it was left idle "
                "for long, or it was opened in another browser. An empty referral is open."
            )
        st.session_state["desk"] = found or Desk()
        st.session_state["token"] = STORE.put(st.session_state["desk"], browser)
    kept: Desk = st.session_state["desk"]
    token = st.session_state["token"]
    STORE.touch(token)
    if st.query_params.get("s") != token:
        st.query_params["s"] = token
    return kept


def forget() -> None:
    """Drop everything this session holds."""
    STORE.forget(st.session_state.get("token", ""))
    st.query_params.clear()
    st.session_state.clear()


def safely(function: _Function) -> _Function:
    """A callback that tells input errors on the page, and logs other faults without the values involved."""

    @functools.wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return function(*args, **kwargs)
        except InputError as error:
            st.session_state["refused"] = error.problems
        except Exception as error:
            log_fault(error)
            st.session_state["fault"] = True
        return None

    return run  # type: ignore[return-value]


def log_fault(error: Exception) -> None:
    """Write kind and place of a fault to the log; its message could hold patient values and is left out."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    print(f"candidacy ui: E901 {type(error).__name__} at {place.filename}:{place.lineno}", file=sys.stderr)


def keep(name: str, key: str) -> None:
    """Callback: remember a page's choice on the desk, so that it outlives page changes and reloads."""
    desk().kept[name] = st.session_state[key]


def kept_choice(name: str, default: Any, allowed: list[Any] | None = None) -> str:
    """Prepare a widget whose choice is kept on the desk; returns its key. Use with `keep` as callback."""
    key = f"kept-{name}"
    wanted = desk().kept.get(name, default)
    if allowed is not None:
        if isinstance(wanted, list):
            wanted = [w for w in wanted if w in allowed]
        elif wanted not in allowed:
            wanted = default
    if key not in st.session_state or st.session_state[key] != wanted:
        st.session_state[key] = wanted
    return key
