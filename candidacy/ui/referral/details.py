"""The dialog behind "⋯": how exactly a fact is known, where it comes from, in which words."""

from typing import Any

import streamlit as st

from candidacy.case.catalogue import Element, catalogue
from candidacy.case.record import FORMS, FactEntry
from candidacy.case.typed_text import REASONS
from candidacy.explain.wording import code_words, subject_words
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.ui import show
from candidacy.ui.referral.fields import name_of, title_of
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
    form = st.selectbox(
        "How exactly", list(forms), index=list(forms).index(present), format_func=forms.__getitem__
    )
    values = _value_fields(element, entry if form == present else None, form)
    where = _provenance_fields(entry)
    left, middle, _ = st.columns([1, 1, 3])
    save = left.button("Save", type="primary", width="stretch")
    remove = middle.button("Take out", width="stretch", disabled=entry is None)
    if save or remove:
        try:
            written = None if remove else _entry(element, form, values, where)
            word = "taken out" if remove else "details changed"
            desk().take(_with(subject, name, written), f"{title_of(subject, element)}: {word}")
        except CaseError as error:
            show.problems(error.problems, "Not saved")
        except ValueError:
            show.note("Not saved: a field holds something this form cannot have.", "alarm")
        else:
            desk().drafts.pop((subject, name), None)
            st.rerun()


def _with(subject: str, name: str, entry: FactEntry | None) -> Any:
    from candidacy.case.edit import with_fact

    return with_fact(desk().record, subject, name, entry)


def _value_fields(element: Element, entry: FactEntry | None, form: str) -> dict[str, Any]:
    old = getattr(entry, form) if entry is not None else None
    if form == "unknown":
        reasons = list(REASONS)
        return {
            form: st.selectbox(
                "Reason", reasons, index=reasons.index(old) if old else 0, format_func=REASONS.__getitem__
            )
        }
    if element.kind == "boolean":
        picked = st.radio("Value", ["yes", "no"], index=1 if old is False else 0, horizontal=True)
        return {form: picked == "yes"}
    if element.kind in ("choice", "members") and (
        form in ("one_of", "includes") or element.kind == "members"
    ):
        chosen = [str(code) for code in old or () if str(code) in element.codes]
        return {form: tuple(st.multiselect("Codes", element.codes, default=chosen, format_func=code_words))}
    if element.kind == "choice":
        codes = list(element.codes)
        return {
            form: st.selectbox(
                "Code", codes, index=codes.index(old) if old in codes else 0, format_func=code_words
            )
        }
    if form == "between":
        low, high = st.columns(2)
        parts = [str(part) for part in old] if old else ["", ""]
        return {form: (low.text_input("From", parts[0]), high.text_input("To", parts[1]))} | _unit(
            element, entry
        )
    text = ", ".join(str(part) for part in old) if isinstance(old, tuple) else "" if old is None else str(old)
    hint = "Values, with commas between" if form == "one_of" else "Value"
    typed: Any = st.text_input(hint, text, max_chars=2000)
    if form == "one_of":
        typed = tuple(part.strip() for part in typed.split(",") if part.strip())
    return {form: typed} | _unit(element, entry)


def _unit(element: Element, entry: FactEntry | None) -> dict[str, Any]:
    if element.unit is None:
        return {}
    accepted = element.accepted_units
    used = entry.unit if entry is not None and entry.unit in accepted else element.unit
    return {"unit": st.selectbox("Unit", accepted, index=accepted.index(used))}


def _provenance_fields(entry: FactEntry | None) -> dict[str, Any]:
    documents = desk().record.documents
    keys = ["", *documents]
    old = entry.source if entry and entry.source in documents else ""
    first, second = st.columns(2)
    source = first.selectbox(
        "Source document", keys, index=keys.index(old), format_func=lambda k: k or "none"
    )
    day = second.text_input(
        "Day it was true, if not the document's", (entry and entry.date) or "", placeholder="YYYY-MM-DD"
    )
    words = st.text_area(
        "Exact words of the source", (entry and entry.words) or "", height=68, max_chars=2000
    )
    third, fourth = st.columns(2)
    by = third.text_input("Recorded by (role, no name)", (entry and entry.by) or "", max_chars=200)
    note = fourth.text_input("Note", (entry and entry.note) or "", max_chars=1000)
    return {"source": source, "date": day, "words": words, "by": by, "note": note}


def _entry(element: Element, form: str, values: dict[str, Any], where: dict[str, Any]) -> FactEntry:
    given = dict(values)
    if element.kind in ("number", "integer") and form in FORMS and form != "unknown":
        raw = given[form]
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
