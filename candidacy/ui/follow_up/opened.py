"""The course record at this desk: its text as it was opened, and every entry set into it since."""

import streamlit as st

from candidacy.course.append import with_entry
from candidacy.course.filled import Added
from candidacy.course.load import Course, parse_course
from candidacy.foundation.errors import InputError
from candidacy.foundation.files import text_from_bytes
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.ui import show
from candidacy.ui.named_store import store_named
from candidacy.ui.session import desk, safely

MAX_MB = 4
_TEXT, _NAME, _VERSION, _CHANGED, _FIELDS = (
    "follow-text",
    "follow-name",
    "follow-version",
    "follow-changed",
    "follow-fields",
)


def course() -> Course | None:
    """The open course, or ``None``. One that the library in use cannot read is told, and its text stays."""
    text = desk().kept.get(_TEXT)
    if not text:
        return None
    try:
        return parse_course(text, desk().kept[_NAME])
    except InputError as error:
        show.problems(error.problems, "This course cannot be used with the forms of the library in use")
        return None


def text() -> str:
    """The text of the open course."""
    return str(desk().kept.get(_TEXT, ""))


def open_text(found: str, name: str, version: int = 0) -> None:
    """Open a course; refused as a whole where it cannot be read, and then the one before stays."""
    parse_course(found, name)
    desk().kept.update({_TEXT: found, _NAME: name, _VERSION: version, _CHANGED: False, _FIELDS: {}})


def add(added: Added) -> None:
    """Set an entry into the text of the open course."""
    desk().kept[_TEXT] = with_entry(text(), added.course.record, added.kind, added.at, desk().kept[_NAME])
    desk().kept[_CHANGED] = True


def opening() -> None:
    """Draw how a course is opened, taken away and kept."""
    count = st.session_state.get("follow-uploads", 0)
    found = text()
    with st.container(horizontal=True, vertical_alignment="bottom", key="follow-open"):
        with st.popover("Open a course record", width="content", key="follow-open-menu"):
            st.file_uploader("Course record (YAML or JSON)", key=f"follow-file-{count}", on_change=_take_file, args=(f"follow-file-{count}",),
                             type=["yaml", "yml", "json"], max_upload_size=MAX_MB)  # fmt: skip
            if desk().kept.get(_CHANGED):
                show.note("The open course has entries that were not taken away yet.", "notice")
            for name, words in (
                ("one-disc", "one disc, six months"),
                ("told-not-lost", "entries that do not fit"),
            ):
                st.button(
                    f"Demonstration: {words}", key=f"follow-demo-{name}", on_click=_take_demo, args=(name,)
                )
        if found:
            st.download_button("Course record (YAML)", found, file_name=_file_name(), mime="application/yaml", on_click=_taken_away,
                               key="follow-download", width="content")  # fmt: skip
    if store_named():
        _store_part(found)


def _file_name() -> str:
    open_course = course()
    return f"{open_course.record.case}-course.yaml" if open_course is not None else "course.yaml"


@safely
def _take_file(key: str) -> None:
    upload = st.session_state.get(key)
    if upload is None:
        return
    st.session_state["follow-uploads"] = st.session_state.get("follow-uploads", 0) + 1
    open_text(text_from_bytes(upload.getvalue(), upload.name), upload.name)


@safely
def _take_demo(name: str) -> None:
    path = demo_cases_folder() / "courses" / f"{name}.yaml"
    open_text(path.read_text(encoding="utf-8"), path.name)


def _taken_away() -> None:
    desk().kept[_CHANGED] = False


# --- the store, where one is open


def _store_part(found: str) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom", key="follow-store"):
        st.text_input("Reference in the store", key="follow-reference", max_chars=64, width=220)
        st.button("Open from the store", key="follow-load", on_click=_load, width="content")
        if found:
            st.text_input("Why it was changed", key="follow-reason", max_chars=2000, width=260)
            st.button("Save to the store", key="follow-save", on_click=_save, width="content")


@safely
def _load() -> None:
    from candidacy.ui.store_line import store

    reference = st.session_state["follow-reference"].strip()
    versions = store().course_versions(reference)
    version = versions[-1].version if versions else 0
    open_text(store().course_text(reference), f"{reference}-course.yaml", version)
    st.session_state["notice"] = f"Course version {version} of {reference} is open."


@safely
def _save() -> None:
    from candidacy.ui.store_line import store

    kept = desk().kept
    loaded = parse_course(text(), kept[_NAME])
    found = store().save_course(
        loaded.record.case, loaded, expected_version=kept[_VERSION], reason=st.session_state["follow-reason"]
    )
    kept.update({_VERSION: found.version, _CHANGED: False})
    st.session_state["follow-reason"] = ""
    st.session_state["notice"] = f"Kept as course version {found.version} of {found.reference}."
