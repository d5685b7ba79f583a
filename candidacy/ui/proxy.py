"""Who asks, where a reverse proxy has checked it: one header, believed only when the server was started with its name."""

import os
from collections.abc import Mapping

import streamlit as st

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.ui.named_store import HEADER_VARIABLE


def header() -> str:
    """The name of the header, or empty where no proxy stands before the screens."""
    return os.environ.get(HEADER_VARIABLE, "").strip()


def named_by_proxy() -> str:
    """The local id of who asks.

    Raises
    ------
    StoreError
        E703 if the proxy named nobody, E601 if what it named is no local id.
    """
    return person_in(st.context.headers, header())


def person_in(headers: Mapping[str, str], name: str) -> str:
    """The local id in a header of a request. See `named_by_proxy`."""
    from candidacy.records.session import (
        checked_person,  # needs the extra `records`, which pages without a proxy do not
    )

    found = [value for key, value in headers.items() if key.lower() == name.lower()]
    if len(found) != 1 or not found[0].strip():
        step = "ask through the reverse proxy, which checks who you are"
        told = "the request does not say who asks"
        raise StoreError(
            [Problem(Code.NOT_ALLOWED, told, name, found=f"{len(found)} values", next_step=step)]
        )
    return checked_person(found[0].strip())
