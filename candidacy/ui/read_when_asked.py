"""What the store keeps with the open referral, read when somebody asks: reading it is an entry of the trail."""

from collections.abc import Callable
from typing import Any

import streamlit as st

from candidacy.records.store import Store
from candidacy.ui import show
from candidacy.ui.session import desk, safely
from candidacy.ui.store_line import store


def read_when_asked(
    name: str, first: str, about: str, read: Callable[[Store, str], tuple[Any, ...]]
) -> tuple[Any, ...] | None:
    """Draw the heading and the button, and give what was read as it was read; ``None`` until somebody asked.

    Nothing is drawn where the store keeps no referral of this reference.

    Parameters
    ----------
    name
        Names the button and what was read.
    first
        Words of the button before anything was read.
    about
        What is kept, in words, followed by the reference in its help.
    read
        Reads it.
    """
    now, reference = store(), desk().record.id
    if now.row_of(reference) is None:
        return None
    st.subheader("Kept with the referral")
    held = st.session_state.get(name)
    found: tuple[Any, ...] | None = held[1] if held and held[0] == _of(now, reference) else None
    st.button(first if found is None else "Look again", key=f"{name}-go", on_click=_read, args=(name, reference, read),
              help=show.label(f"{about} kept under {reference}; that they were read is entered in the store."))  # fmt: skip
    return found


def forget(name: str) -> None:
    """What was read no longer holds; it is read again when somebody asks."""
    st.session_state.pop(name, None)


def _of(now: Store, reference: str) -> tuple[str, str, str]:
    return str(now.where), now.person, reference


@safely
def _read(name: str, reference: str, read: Callable[[Store, str], tuple[Any, ...]]) -> None:
    now = store()
    st.session_state[name] = (_of(now, reference), read(now, reference))
