"""What stands in the fields of a form until it is signed: it outlives another page, another case and a reload, for one person.

The toolkit forgets a field that is not drawn, and what was typed in it, without a word.
"""

from collections.abc import Collection
from typing import Any

import streamlit as st

from candidacy.ui.session import desk, hold
from candidacy.ui.store_line import person

_TYPED = "seat-typed"


def typed(key: str, empty: Any = "", among: Collection[str] | None = None) -> dict[str, Any]:
    """Key and callback of a field, which comes to show what this person left in it, or what stands for nothing in it.

    Of a list of choices only those are shown that can still be chosen, where ``among`` names them.
    """
    left = _held().get(_mine(key), empty)
    hold(key, left if among is None else [each for each in left if each in among])
    return {"key": key, "on_change": _keep, "args": (key,)}


def drop_typed(beginning: str) -> None:
    """Forget what this person left in all fields whose key begins so: it is entered, or it was taken back."""
    mine = _mine(beginning)
    desk().kept[_TYPED] = {key: value for key, value in _held().items() if not key.startswith(mine)}


def _held() -> dict[str, Any]:
    found: dict[str, Any] = desk().kept.get(_TYPED, {})
    return found


def _mine(key: str) -> str:
    return f"{person()} {key}"


def _keep(key: str) -> None:
    desk().kept[_TYPED] = {**_held(), _mine(key): st.session_state[key]}
