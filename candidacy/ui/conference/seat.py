"""What the page of the conference holds for a session: the item that is open, and what was read for it.

What was read stays as it was until something is done or somebody asks again, so that looking at a page twice is one
reading in the trail and not many.
"""

from typing import Any

import streamlit as st

from candidacy.conference.case_page import CasePage, case_page
from candidacy.conference.found import item_of
from candidacy.conference.queue import Read
from candidacy.records.store import Store
from candidacy.ui.session import desk
from candidacy.ui.typed import drop_typed

_READ, _PAGE = "seat-read", "seat-page"


def read_before() -> Read:
    """What fails in the referrals of the queue, as it was read in this session."""
    found: Read = st.session_state.setdefault(_READ, {})
    return found


def open_item() -> int:
    """The number of the item that is open; 0 where none is."""
    return int(desk().kept.get("seat-item", 0))


def open_case(item: int) -> None:
    """Open an item on the page of its case."""
    desk().kept["seat-item"] = item
    desk().kept["seat-view"] = "Case"
    fresh()


def page_of(store: Store, item: int) -> CasePage:
    """The page of an item as it was read last."""
    kept: tuple[tuple[str, str, int], int, CasePage] | None = st.session_state.get(_PAGE)
    key = (str(store.where), store.person, item)
    if kept is None or kept[0] != key:
        found = item_of(store, item)
        last = store.last_change([found.reference])
        kept = (key, last, case_page(store, found))
        st.session_state[_PAGE] = kept
    return kept[2]


def changed_since(store: Store, page: CasePage) -> bool:
    """Whether anything but readings was entered of the open case, or of meetings, since its page was read."""
    return int(st.session_state[_PAGE][1]) != store.last_change([page.item.reference])


def fresh() -> None:
    """Read the open item again."""
    st.session_state.pop(_PAGE, None)


def text(key: str) -> str:
    """What a text field holds."""
    return str(st.session_state.get(key) or "").strip()


def lines(key: str) -> list[str]:
    """What a field of several lines holds, one text a line."""
    return [line.strip() for line in text(key).splitlines() if line.strip()]


def clear(*keys: str, **values: Any) -> None:
    """Empty fields after what was in them is entered."""
    for key in keys:
        drop_typed(key)
        st.session_state[key] = values.get(key.replace("-", "_"), "")
