"""The documents of a referral: which one facts entered now come from, adding one, correcting one."""

from collections.abc import Callable
from typing import Any

import streamlit as st

from candidacy.case.edit import with_document
from candidacy.case.record import CaseRecord, Document
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.ui import show
from candidacy.ui.days import day_typed
from candidacy.ui.desk import ASKED_TODAY, DOCUMENT_TYPED
from candidacy.ui.session import desk, hold, keep, kept_choice, menu_moved, safely

KINDS = {
    "referral_letter": "referral letter",
    "clinic_note": "clinic note",
    "imaging_report": "imaging report",
    "discography_record": "discography record",
    "laboratory_report": "laboratory report",
    "medication_list": "medication list",
    "questionnaire": "questionnaire",
    "procedure_note": "procedure note",
    "message": "message",
    "other": "other",
}


def source_menu(record: CaseRecord) -> None:
    """Which document facts entered now come from; add a document, or correct one."""
    with st.popover("Source", width="content", key="source-menu", on_change=menu_moved) as menu:
        if not menu.open:
            return
        show.note("Facts entered from now on are recorded as coming from this document.")
        chosen = _source(record, "source")
        st.text_input("Recorded by (role, no name)", key=kept_choice("role", ""), on_change=keep,
                      args=("role", "kept-role"), max_chars=100)  # fmt: skip
        if chosen in record.documents:
            st.markdown("**Correct this document**")
            _form(f"doc-{chosen}", record.documents[chosen], "Save", _correct, chosen)
        st.markdown("**Add a document**")
        _form(f"doc-new-{len(record.documents)}", None, "Add", _add)


def source_strip() -> None:
    """Above the questions: where the answers entered now come from, and of which day they are."""
    with st.container(horizontal=True, vertical_alignment="bottom", key="source-strip"):
        chosen = _source(desk().record, "strip")
        hold("kept-dated", desk().kept.get("dated", ""))
        st.text_input("True on, if not the document's day", key="kept-dated", max_chars=30, width=230,
                      placeholder="YYYY-MM-DD", on_change=_keep_day, disabled=chosen == ASKED_TODAY)  # fmt: skip


def _source(record: CaseRecord, place: str) -> str:
    keys = ["", ASKED_TODAY, *record.documents]
    kept = desk().kept.get("source", "")
    hold(f"from-{place}", kept if kept in keys else "")
    chosen: str = st.selectbox("Answers entered now come from", keys, key=f"from-{place}", width=330, on_change=_keep_source,
                               args=(f"from-{place}",), format_func=lambda k: document_words(record, k))  # fmt: skip
    return chosen


@safely
def _keep_source(key: str) -> None:
    desk().kept["source"] = st.session_state[key]
    if st.session_state[key] == ASKED_TODAY:
        desk().kept.pop("dated", None)


@safely
def _keep_day() -> None:
    written = st.session_state["kept-dated"].strip()
    if written:
        written, shown = day_typed(written)
        if shown:
            st.session_state["notice"] = f"Read as {shown}. Answers entered from now on are of that day."
    desk().kept["dated"] = written


def document_form(place: str, kinds: tuple[str, ...], done: Callable[[], None]) -> None:
    """The form of a new document, of one kind where only one is given; ``done`` is called once it is added."""
    key = f"doc-{place}-{len(desk().record.documents)}"
    _form(key, None, "Add", _add_then, done, kinds=kinds)


def _add_then(key: str, done: Callable[[], None]) -> None:
    before = len(desk().record.documents)
    _add(key)
    if len(desk().record.documents) > before:
        done()


def _form(
    key: str, document: Document | None, word: str, done: Any, *args: Any, kinds: tuple[str, ...] = ()
) -> None:
    shown = {"kind": document.kind, "date": document.date or "", "title": document.title} if document else {}
    left = desk().kept.get(DOCUMENT_TYPED, {})
    for name, empty in (("kind", None), ("date", ""), ("title", "")):
        hold(f"{key}-{name}", left.get(f"{key}-{name}", shown.get(name, empty)))
    with st.container(key=f"{key}-form"):
        if len(kinds) == 1:
            st.session_state[f"{key}-kind"] = kinds[0]
        else:
            st.selectbox("Kind", list(kinds or KINDS), index=None, key=f"{key}-kind", format_func=KINDS.__getitem__,
                         placeholder="choose", on_change=_keep_typed, args=(f"{key}-kind",))  # fmt: skip
        for name, label, most in (
            ("date", "Date (YYYY-MM-DD, YYYY-MM or YYYY)", 30),
            ("title", "Title", 200),
        ):
            place = f"{key}-{name}"
            st.text_input(label, key=place, max_chars=most, on_change=_keep_typed, args=(place,))
        st.button(word, key=f"{key}-go", on_click=done, args=(key, *args))


def _keep_typed(place: str) -> None:
    """Keep what stands in a field of a document: a menu that is closed takes its fields away, and what is in them."""
    desk().kept[DOCUMENT_TYPED] = {**desk().kept.get(DOCUMENT_TYPED, {}), place: st.session_state[place]}


def document_words(record: CaseRecord, key: str) -> str:
    """A document as an option of a list."""
    if not key:
        return "not said"
    if key == ASKED_TODAY:
        return "asked today"
    return f"{key}: {_words(record.documents[key])}"


def _words(document: Document) -> str:
    pieces = [KINDS[document.kind], document.date or "undated", document.title]
    return ", ".join(p for p in pieces if p)


def _written(key: str) -> dict[str, Any]:
    """What a form of a document holds.

    Raises
    ------
    CaseError
        If no kind is chosen, or the date is none; what was typed stays in the form.
    """
    kind, written = st.session_state[f"{key}-kind"], st.session_state[f"{key}-date"].strip()
    if kind is None:
        told = "no kind of document is chosen yet"
        raise CaseError([Problem(Code.EMPTY, told, field="kind", expected=", ".join(KINDS.values()))])
    if written:
        written, shown = day_typed(written)
        if shown:
            st.session_state[f"{key}-date"] = written
            _keep_typed(f"{key}-date")
            told = f"the date is read as {shown}; if that is right, press again"
            raise CaseError([Problem(Code.BAD_DATE, told, field="date", found=written)])
    return {"kind": kind, "date": written or None, "title": st.session_state[f"{key}-title"].strip()}


@safely
def _add(key: str) -> None:
    record, document = desk().record, Document(**_written(key))
    stem = document.kind.split("_", maxsplit=1)[0]
    number = 1
    while f"{stem}-{number}" in record.documents:
        number += 1
    name = f"{stem}-{number}"
    desk().take(with_document(record, name, document), f"document added: {name}, {_words(document)}")
    _entered(key)
    desk().kept["source"] = name


@safely
def _correct(key: str, name: str) -> None:
    record = desk().record
    document = record.documents[name].model_copy(update=_written(key))
    desk().take(with_document(record, name, document), f"document corrected: {name}, {_words(document)}")
    _entered(key)


def _entered(key: str) -> None:
    left = desk().kept.get(DOCUMENT_TYPED, {})
    desk().kept[DOCUMENT_TYPED] = {
        place: value for place, value in left.items() if not place.startswith(f"{key}-")
    }
