"""The desk of the session that is running, and callbacks that never leak what was typed."""

import functools
import re
import secrets
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from candidacy.foundation.errors import InputError
from candidacy.rules.libraries import library_in_use
from candidacy.ui import show
from candidacy.ui.desk import Desk
from candidacy.ui.kept.desk_files import MAX_AGE_DAYS
from candidacy.ui.kept.keeper import Keeper, keeper_of, kept_folder, restored
from candidacy.ui.own_library import steady
from candidacy.ui.proxy import header, named_by_proxy
from candidacy.ui.store import STORE

_COOKIE = "candidacy_browser"
_SAID = ("notice", "refused", "fault", "report-refused")  # told once, and again where only a menu moved
_MARK = re.compile(r"[\w-]{32}")
_Function = TypeVar("_Function", bound=Callable[..., Any])


def desk() -> Desk:
    """The desk of this session: kept over reruns and page changes, and found again after a reload."""
    if "desk" not in st.session_state:
        browser = _browser()
        asked = st.query_params.get("s", "")
        found = STORE.copy_of(asked, browser) if asked else None
        if asked and found is None:
            found, st.session_state["notice"] = restored(asked, browser)
        st.session_state["desk"] = found or Desk()
        st.session_state["token"], st.session_state["browser"] = secrets.token_urlsafe(24), browser
        st.session_state["keeper"] = keeper_of(st.session_state["desk"], st.session_state["token"], browser)
    kept: Desk = st.session_state["desk"]
    library = library_in_use()
    if st.session_state.setdefault("library", library) is not library:
        st.session_state["library"] = library
        st.session_state["notice"] = (
            f"The library of rules in use was changed. {kept.rules_changed()}".strip()
        )
    token = st.session_state["token"]
    if not STORE.touch(token) and "browser" in st.session_state:  # new, or let go while the page was away
        _put(kept, token)
    if st.query_params.get("s") != token:
        st.query_params["s"] = token
    return kept


def _put(kept: Desk, token: str) -> None:
    keeper: Keeper | None = st.session_state["keeper"]
    context = get_script_run_ctx()
    STORE.put(
        kept,
        st.session_state["browser"],
        token=token,
        session=context.session_id if context is not None else "",
        saved=keeper.all_kept if keeper is not None else lambda: False,
    )


def _browser() -> str:
    """The random mark of this browser, with the person whom a reverse proxy names; `mark_browser` hands out a new one."""
    mark = st.context.cookies.get(_COOKIE)
    if not isinstance(mark, str) or not _MARK.fullmatch(mark):
        mark = st.session_state["new-mark"] = secrets.token_urlsafe(24)
    return f"{mark} {named_by_proxy()}" if header() else mark


def mark_browser() -> None:
    """Give the browser its mark, for as long as work is kept; sent to this server alone."""
    mark = st.session_state.get("new-mark")
    script = ""
    if mark is not None:
        age = f" Max-Age={MAX_AGE_DAYS * 86400};" if kept_folder() is not None else ""
        script = f"document.cookie = '{_COOKIE}={mark}; path=/;{age} SameSite=Strict';"
    show.run_script("mark", script)  # also when empty: what stands below keeps its place on the page


def keep_now() -> Keeper | None:
    """Keep on disk what changed, and give who does it; ``None`` where work is kept in memory only."""
    keeper: Keeper | None = st.session_state.get("keeper")
    if keeper is not None:
        keeper.keep()
    return keeper


def forget() -> None:
    """Drop everything this session holds."""
    if "desk" in st.session_state:
        desk()  # kept here again, if it was let go meanwhile: its copies are found by it
    STORE.forget(st.session_state.get("token", ""))
    keeper = st.session_state.get("keeper")
    if keeper is not None:
        keeper.forget()
    st.query_params.clear()
    st.session_state.clear()


def safely(function: _Function) -> _Function:
    """A callback that tells input errors on the page, and logs other faults without the values involved."""

    @functools.wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            with steady():
                return function(*args, **kwargs)
        except InputError as error:
            st.session_state["refused"] = error.problems
        except Exception as error:
            log_fault(error)
            st.session_state["fault"] = True
        return None

    return run  # type: ignore[return-value]


@contextmanager
def told_here(heading: str) -> Iterator[None]:
    """Tell what goes wrong inside at this place of the page; faults are logged without the values involved."""
    try:
        yield
    except InputError as error:
        show.problems(error.problems, heading)
    except Exception as error:
        log_fault(error)
        show.note("E901 The program failed here. Nothing that was entered is lost.", "alarm")


def log_fault(error: Exception) -> None:
    """Write kind and place of a fault to the log; its message could hold patient values and is left out."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    print(f"candidacy ui: E901 {type(error).__name__} at {place.filename}:{place.lineno}", file=sys.stderr)


def hold(key: str, wanted: Any) -> None:
    """Have the widget of a key show a value, also where the run that set it was cut short before it was drawn.

    A widget that shows it already is left alone, so that nothing a person is typing is overwritten. On another page
    the widget of the same key is another one, which shows nothing yet.
    """
    pending: set[str] = st.session_state.setdefault("pending", set())
    shown: set[str] = st.session_state.setdefault("shown", set())
    if key in pending or key not in shown or key not in st.session_state or st.session_state[key] != wanted:
        st.session_state[key] = wanted
        pending.add(key)
        shown.add(key)


def on_page(address: str) -> None:
    """Note which page is drawn; the widgets of another one have shown nothing yet."""
    if st.session_state.get("page") != address:
        st.session_state["page"] = address
        st.session_state["shown"] = set()


def told(name: str) -> Any:
    """Something to tell or to do once; it is dropped when a run that showed it has been drawn to its end."""
    st.session_state.setdefault("told", set()).add(name)
    return st.session_state.get(name)


def drawn() -> None:
    """Note at the end of a run that all of it was drawn."""
    keep_now()
    desk().settle()
    st.session_state["pending"] = set()
    before = {name: st.session_state.pop(name, None) for name in st.session_state.pop("told", set())}
    st.session_state["told-before"] = {name: said for name, said in before.items() if name in _SAID and said}


def menu_moved() -> None:
    """Callback of a menu: what was told is told again, for opening or closing a menu answers nothing."""
    for name, said in st.session_state.get("told-before", {}).items():
        st.session_state.setdefault(name, said)


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
    hold(key, wanted)
    return key
