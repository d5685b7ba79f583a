"""The dialog behind "⋯": how exactly a fact is known, where it comes from, in which words."""

from collections.abc import Callable
from typing import Any, cast

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.element import Element
from candidacy.case.record import FactEntry, Reason
from candidacy.case.typed_text import REASONS
from candidacy.explain.said import recorded_words
from candidacy.explain.wording import code_words, subject_words
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.ui import show
from candidacy.ui.referral.fields import name_of
from candidacy.ui.session import desk, told

_NUMBER_FORMS = {
    "value": "exactly",
    "between": "from … to …",
    "at_least": "at least",
    "at_most": "at most",
    "more_than": "more than",
    "less_than": "less than",
}
_FORMS: dict[str, dict[str, str]] = {
    "number": _NUMBER_FORMS,
    "integer": {**_NUMBER_FORMS, "one_of": "one of"},
    "date": {
        "value": "on, or in",
        "between": "from … to …",
        "not_before": "not before",
        "not_after": "not after",
    },
    "boolean": {"value": "is"},
    "choice": {"value": "is", "one_of": "one of"},
    "members": {"value": "these and no others", "includes": "at least these"},
    "words": {"value": "is"},
}


def show_details() -> None:
    """Open the dialog if a field asked for it."""
    asked = told("details")
    if asked is not None:
        _open(*asked)


@st.dialog("Details of a fact", width="medium")
def _open(subject: str, name: str) -> None:
    element = catalogue()[name]
    entry = desk().entry(subject, name)
    show.put(
        "details.html", element=element, name=name_of(element), subject=subject_words(subject), entry=entry
    )
    forms = {**_FORMS[element.kind], "unknown": "not known"}
    present = entry.forms[0] if entry and entry.forms else "value"
    form = st.selectbox("How exactly", list(forms), index=list(forms).index(present), format_func=forms.__getitem__,
                        key=_key("form"))  # fmt: skip
    values = _value_fields(element, entry if form == present else None, form)
    where = _provenance_fields(entry)
    left, middle, _ = st.columns([1, 1, 3])
    save = left.button("Save", type="primary", width="stretch", key=_key("save"))
    remove = middle.button("Take out", width="stretch", disabled=entry is None, key=_key("remove"))
    if save or remove:
        try:
            written = None if remove else _entry(element, form, values, where)
            record = with_fact(desk().record, subject, name, written)
            desk().take(record, recorded_words(subject, element, entry, written))
        except CaseError as error:
            show.problems(error.problems, "Not saved")
        except ValueError:
            show.note("Not saved: a field holds something this form cannot have.", "alarm")
        else:
            desk().drafts.pop((subject, name), None)
            st.rerun()


def _key(part: str) -> str:
    """The key of a widget, new each time the dialog is opened: nothing typed for one fact shows up at another."""
    return f"details-{st.session_state.get('details-opened', 0)}-{part}"


def _value_fields(element: Element, entry: FactEntry | None, form: str) -> dict[str, Any]:
    """The fields of a form of statement; where nothing of that form is recorded, no answer is chosen."""
    old = getattr(entry, form) if entry is not None else None
    key = _key(f"value-{form}")
    if form == "unknown":
        return {form: _one("Reason", list(REASONS), old, key, lambda r: REASONS[cast("Reason", r)])}
    if element.kind == "boolean":
        shown = None if old is None else 0 if old else 1
        picked = st.radio("Value", ["yes", "no"], index=shown, horizontal=True, key=key)
        return {form: None if picked is None else picked == "yes"}
    if element.kind in ("choice", "members") and (
        form in ("one_of", "includes") or element.kind == "members"
    ):
        chosen = [str(code) for code in old or () if str(code) in element.codes]
        codes = st.multiselect("Codes", element.codes, default=chosen, format_func=code_words, key=key)
        if form == "value" and not codes and not st.checkbox("None of them", old == (), key=f"{key}-none"):
            return {form: None}
        return {form: tuple(codes)}
    if element.kind == "choice":
        return {form: _one("Code", list(element.codes), old, key, code_words)}
    if form == "between":
        low, high = st.columns(2)
        parts = [str(part) for part in old] if old else ["", ""]
        ends = (low.text_input("From", parts[0], key=key), high.text_input("To", parts[1], key=f"{key}-to"))
        return {form: ends} | _unit(element, entry)
    text = ", ".join(str(part) for part in old) if isinstance(old, tuple) else "" if old is None else str(old)
    hint = "Values, with commas between" if form == "one_of" else "Value"
    typed: Any = st.text_input(hint, text, max_chars=2000, key=key)
    if form == "one_of":
        typed = tuple(part.strip() for part in typed.split(",") if part.strip())
    return {form: typed} | _unit(element, entry)


def _one(label: str, options: list[str], old: Any, key: str, words: Callable[[str], str]) -> str | None:
    index = options.index(old) if old in options else None
    return st.selectbox(label, options, index=index, format_func=words, key=key, placeholder="choose")


def _unit(element: Element, entry: FactEntry | None) -> dict[str, Any]:
    if element.unit is None:
        return {}
    accepted = element.accepted_units
    used = entry.unit if entry is not None and entry.unit in accepted else element.unit
    return {"unit": st.selectbox("Unit", accepted, index=accepted.index(used), key=_key("unit"))}


def _provenance_fields(entry: FactEntry | None) -> dict[str, Any]:
    documents = desk().record.documents
    keys = ["", *documents]
    old = entry.source if entry and entry.source in documents else ""
    first, second = st.columns(2)
    source = first.selectbox(
        "Source document", keys, index=keys.index(old), format_func=lambda k: k or "none", key=_key("source")
    )
    day = second.text_input(
        "Day it was true, if not the document's",
        (entry and entry.date) or "",
        placeholder="YYYY-MM-DD",
        key=_key("date"),
    )
    today = desk().today().isoformat()
    if st.checkbox(
        f"Asked today ({today})", key=_key("today"), help="Counts instead of the document and the day above."
    ):
        source, day = "", today
    words = st.text_area(
        "Exact words of the source",
        (entry and entry.words) or "",
        height=68,
        max_chars=2000,
        key=_key("words"),
    )
    third, fourth = st.columns(2)
    by = third.text_input(
        "Recorded by (role, no name)", (entry and entry.by) or "", max_chars=200, key=_key("by")
    )
    note = fourth.text_input("Note", (entry and entry.note) or "", max_chars=1000, key=_key("note"))
    return {"source": source, "date": day, "words": words, "by": by, "note": note}


def _entry(element: Element, form: str, values: dict[str, Any], where: dict[str, Any]) -> FactEntry:
    """The entry for what the dialog holds.

    Raises
    ------
    CaseError
        If no answer is chosen or typed: nothing is taken for an answer that a person did not give.
    """
    given = dict(values)
    raw = given[form]
    empty = raw == () and form != "value"  # of a whole list, "none of them" was ticked
    if raw is None or raw == "" or empty or (isinstance(raw, tuple) and "" in raw):
        told = "no answer is chosen yet; choose or type one, or close this window"
        raise CaseError([Problem(Code.EMPTY, told, field=element.name, expected="an answer")])
    if element.kind in ("number", "integer") and form != "unknown":
        given[form] = (
            tuple(_figure(element, r) for r in raw) if isinstance(raw, tuple) else _figure(element, raw)
        )
    return FactEntry.model_validate(given | {key: text for key, text in where.items() if text})


def _figure(element: Element, text: str) -> int | float:
    try:
        return int(text) if text.strip().lstrip("+-").isdigit() else float(text)
    except ValueError:
        problem = Problem(
            Code.WRONG_TYPE, "not a number", field=element.name, found=text[:60], expected="a number"
        )
        raise CaseError([problem]) from None
