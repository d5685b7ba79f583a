"""The upper half of the page: tables, how they are written, what their columns hold, the date."""

import streamlit as st

from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.ui import show
from candidacy.ui.cohort import desk_tables
from candidacy.ui.cohort.mapping import state
from candidacy.ui.cohort.mapping.section import mapping_section
from candidacy.ui.cohort.setup import (
    CASES,
    DELIMITERS,
    ENDINGS,
    SLOTS,
    Asked,
    Setup,
    columns_of,
    what,
)
from candidacy.ui.session import desk, keep, kept_choice, safely

MAX_TABLE_MB = 1000
_KINDS = "CSV, Excel, Parquet or DuckDB"


def setup_form() -> Setup:
    """Draw the form, and give what lies on the desk."""
    setup = desk_tables.present()
    if setup.cases is None:
        _uploader(f"Table with one row per case ({_KINDS})", CASES)
    with st.container(horizontal=True, vertical_alignment="center", key="cohort-tables"):
        for slot, table in setup.tables.items():
            show.put_beside("cohort_table.html", holds=SLOTS[slot], name=table.name)
            st.button("Remove", key=f"cohort-remove-{slot}", on_click=_remove, args=(slot,), width="content",
                      help=f"Takes this table off the desk: {SLOTS[slot].lower()}")  # fmt: skip
        if setup.cases is None:
            st.button("Take the demonstration cases", key="cohort-demo", on_click=_take_demo)
        if len(setup.tables) > 1:
            st.button("Remove all", key="cohort-drop", on_click=_remove_all)
        label = desk_tables.last_removal()
        if label:
            st.button(f"Bring back: {show.label(label)}", key="cohort-back", on_click=_bring_back)
    if setup.cases is not None and not setup.cases.of_case_files:
        _further(setup)
        mapping_section(setup)
    return setup


def _uploader(words: str, slot: str) -> None:
    key = f"cohort-upload-{slot}-{st.session_state.get('cohort-uploads', 0)}"
    st.file_uploader(
        words, type=ENDINGS, key=key, max_upload_size=MAX_TABLE_MB, on_change=_take, args=(slot, key)
    )


@safely
def _take(slot: str, key: str) -> None:
    file = st.session_state[key]
    if file is not None:
        desk_tables.add(slot, file.name, file.getbuffer())


@safely
def _take_demo() -> None:
    desk_tables.add_demonstration()


@safely
def _remove(slot: str) -> None:
    desk_tables.remove(slot)


@safely
def _remove_all() -> None:
    desk_tables.remove_all()


@safely
def _bring_back() -> None:
    desk_tables.bring_back()


def _further(setup: Setup) -> None:
    free = [slot for slot in setup.free_slots if slot != CASES]
    if free:
        with st.expander("Add a table of discs, medicines, treatments, injections, surgeries or procedures"):
            show.note("Each has a column case_id with the reference that the table of cases uses. A list is taken as complete "
                      "only where the table of cases says so, in a column such as “medicines complete” (true or false).")  # fmt: skip
            slot = st.selectbox(
                "What the table holds", free, key="cohort-slot", format_func=SLOTS.__getitem__, width=420
            )
            show.put("cohort_columns.html", columns=columns_of(slot))
            _uploader(f"Table to add ({_KINDS})", slot)


# --- how and as of when it is read


def reading_fields(setup: Setup) -> None:
    """Draw the fields of the day for which ages and intervals are counted, and, where they matter, of sheet and delimiter."""
    st.text_input("Assess as of (YYYY-MM-DD; empty: today)", key=kept_choice("cohort-as-of", ""), on_change=keep, max_chars=10,
                  args=("cohort-as-of", "kept-cohort-as-of"), width=300)  # fmt: skip
    for slot in (slot for slot, table in setup.tables.items() if table.in_parts):
        key, parts = f"cohort-part-{slot}", state.parts(setup, slot)
        if len(parts) > 1 or desk().kept.get(key):
            st.selectbox(f"Sheet or table of {what(slot)}", ["", *parts], key=kept_choice(key, "", ["", *parts]), on_change=keep,
                         args=(key, f"kept-{key}"), width=260, format_func=lambda part: part or "choose")  # fmt: skip
    if any(table.delimited for table in setup.tables.values()):
        st.selectbox("Delimiter", list(DELIMITERS), key=kept_choice("cohort-delimiter", "", list(DELIMITERS)),
                     format_func=DELIMITERS.__getitem__, on_change=keep, width=220,
                     args=("cohort-delimiter", "kept-cohort-delimiter"), help="Of every text table above.")  # fmt: skip


def asked() -> Asked:
    """What would be screened now.

    Raises
    ------
    CaseError
        E207 if the date cannot be read.
    """
    typed = desk().kept.get("cohort-as-of", "").strip()
    try:
        as_of = day(typed) if typed else desk().today()
    except DateError:
        problem = Problem(Code.BAD_DATE, "not a date", field="Assess as of", found=shorten(typed),
                          expected="YYYY-MM-DD, or nothing for today")  # fmt: skip
        raise CaseError([problem]) from None
    return Asked(desk_tables.present(), desk().rule_set(), as_of)
