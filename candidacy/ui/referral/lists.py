"""Lists of the record: medicines, treatments, injections, surgeries, procedures; and whether they are complete."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import ListName, with_entry, with_list_complete, without_entry
from candidacy.case.element import LISTS
from candidacy.explain.wording import subject_words
from candidacy.foundation.errors import shorten
from candidacy.ui.referral.fields import field
from candidacy.ui.session import desk, hold, keep, kept_choice, safely

_COMPLETE = {"yes": True, "no": False, "not stated": None}


def entry_list(name: ListName, matter: set[str], *, locked: bool = False) -> None:
    """The entries of one list with their fields, adding and taking out, and the statement of completeness."""
    listed = getattr(desk().record, name)
    entries = listed.entries if listed else ()
    elements = list(catalogue().statable(LISTS[name]).values())
    first = [
        e for e in elements if e.name in matter or any(e.name in entry for entry in entries)
    ] or elements[:3]
    rest = [e for e in elements if e not in first]
    wide = bool(desk().kept.get(f"all-list-{name}"))
    for number in listed.numbers if listed else ():
        subject = f"{name}[{number}]"
        with st.container(border=True):
            with st.container(
                horizontal=True, horizontal_alignment="distribute", vertical_alignment="center"
            ):
                st.markdown(f"**{subject_words(subject).capitalize()}**")
                st.button(
                    "Take out",
                    key=f"drop-{subject}",
                    type="tertiary",
                    on_click=_drop,
                    args=(name, number),
                    disabled=locked,
                )
            with st.container(horizontal=True, gap="small"):
                for element in first + (rest if wide else []):
                    field(subject, element, locked=locked)
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        st.button(f"Add to {name.replace('_', ' ')}", key=f"add-{name}", on_click=_add, args=(name,),
                  disabled=locked)  # fmt: skip
        key = f"complete-{name}"
        stated = {v: k for k, v in _COMPLETE.items()}[listed.complete if listed else None]
        hold(key, stated)
        st.segmented_control("This list is complete: there are no others", list(_COMPLETE), key=key, required=True,
                             on_change=_complete, args=(name, key), disabled=locked)  # fmt: skip
    if entries and rest:
        st.toggle(f"Also show {len(rest)} more fields of each", key=kept_choice(f"all-list-{name}", False), on_change=keep,
                  args=(f"all-list-{name}", f"kept-all-list-{name}"))  # fmt: skip


@safely
def _add(name: ListName) -> None:
    desk().take(with_entry(desk().record, name), f"added to {name.replace('_', ' ')}")


@safely
def _drop(name: ListName, number: int) -> None:
    subject = f"{name}[{number}]"
    refused = [place for place in desk().drafts if place[0] == subject]
    texts = ", ".join(f"“{shorten(str(desk().drafts.pop(place).text))}”" for place in refused)
    told = f", with what was typed and not taken over: {texts}" if texts else ""
    desk().take(without_entry(desk().record, name, number), f"{subject_words(subject)} taken out{told}")


@safely
def _complete(name: ListName, key: str) -> None:
    value = _COMPLETE[st.session_state[key] or "not stated"]
    words = {True: "complete", False: "not complete", None: "not stated to be complete"}[value]
    desk().take(with_list_complete(desk().record, name, value), f"{name.replace('_', ' ')}: list {words}")
