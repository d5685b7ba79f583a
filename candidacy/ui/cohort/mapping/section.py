"""The part of the page where tables and their mapping are compared: proposed, shown as a table, saved and loaded."""

from collections.abc import Sequence

import streamlit as st

from candidacy.cohort.inputs.draft import Draft
from candidacy.cohort.inputs.tried_rows import TriedRows, Tries
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.files import text_from_bytes
from candidacy.ui import show
from candidacy.ui.cohort import desk_tables
from candidacy.ui.cohort.mapping import row, state
from candidacy.ui.cohort.setup import SLOTS, Setup, what
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import desk, hold, keep, kept_choice, safely

_ALL, _OPEN = "all columns", "still to compare"
_MOST_MB = 1
_ROWS_SHOWN = 20


def mapping_section(setup: Setup) -> None:
    """Draw the section."""
    with st.expander("What the columns hold", expanded=bool(setup.mapping.strip()) or state.needed(setup)):
        show.note("Needed where the headers are not element names with their unit. Start from a proposal or a saved mapping and "
                  "compare every column with its cells. A wrong line gives wrong outcomes that look right.")  # fmt: skip
        with st.container(horizontal=True, vertical_alignment="center"):
            st.button("Propose a mapping", key="cohort-propose", on_click=_propose)
            with st.popover("Load a saved mapping", width="content"):
                key = f"cohort-mapping-file-{st.session_state.get('cohort-mapping-files', 0)}"
                st.file_uploader("Mapping (YAML)", type=["yaml", "yml"], key=key, max_upload_size=_MOST_MB,
                                 on_change=_load, args=(key,))  # fmt: skip
            if setup.mapping.strip():
                downloads([Export("Save the mapping (YAML)", "mapping.yaml", "application/yaml",
                                  lambda: setup.mapping)], width="content")  # fmt: skip
            as_text = st.toggle("As text", key=kept_choice("cohort-mapping-as-text", False), on_change=keep,
                                args=("cohort-mapping-as-text", "kept-cohort-mapping-as-text"))  # fmt: skip
        if as_text:
            st.text_area("Mapping (YAML)", key=kept_choice("cohort-mapping", ""), height=260, on_change=keep, max_chars=400_000,
                         args=("cohort-mapping", "kept-cohort-mapping"))  # fmt: skip
        if setup.mapping.strip():
            try:
                _table(setup, Draft.of(setup.mapping))
            except InputError as error:
                show.problems(error.problems, "The mapping cannot be shown as a table")


@safely
def _propose() -> None:
    setup = desk_tables.present()
    if setup.cases is not None:
        state.take_proposal(setup)


@safely
def _load(key: str) -> None:
    file = st.session_state[key]
    if file is None:
        return
    st.session_state["cohort-mapping-files"] = st.session_state.get("cohort-mapping-files", 0) + 1
    text = text_from_bytes(file.getvalue(), shorten(file.name))
    Draft.of(text)
    if desk().kept.get("cohort-mapping", "").strip():
        desk_tables.remember(f"mapping replaced by {file.name}")
    desk().kept["cohort-mapping"] = text
    desk().kept.pop("cohort-mapping-notes", None)


# --- the table


def _table(setup: Setup, draft: Draft) -> None:
    slots = list(setup.tables)
    samples = {slot: state.tries(setup, slot, draft) for slot in slots}
    slot = _chosen(slots)
    name, found = state.table_name(slot), samples[slot]
    tables = {state.table_name(each): list(tries.sample.columns) for each, tries in samples.items()}
    draft = draft.spelled_out(tables)
    outcome = state.tried(draft, found, name)
    _head(setup, slot, draft, tables)
    _counts(draft, tables, name, found, outcome)
    notes = desk().kept.get("cohort-mapping-notes", {}).get(name, {}).get("", ({}, []))[1]
    if notes:
        show.note("Proposed: " + "; ".join(notes) + ".")
    columns = list(found.sample.columns)
    compared = draft.compared(name, columns)
    only = st.segmented_control("Show", [_ALL, _OPEN], key=kept_choice("cohort-mapping-shown", _ALL), on_change=keep, required=True,
                                args=("cohort-mapping-shown", "kept-cohort-mapping-shown"))  # fmt: skip
    opened = desk().kept.get("cohort-mapping-open")
    shown = [each for each in columns if only == _ALL or each not in compared or opened == (name, each)]
    with st.container(key="cohort-map", gap=None):
        show.put("mapping_head.html")
        for place, column in enumerate(columns):
            if column in shown:
                row.draw(row.Row(draft, name, column, place, found, outcome, column in compared, tables))
    if not shown:
        show.note("Every column of this table is compared.", "good")
    for column, kind in found.sample.left_out.items():
        show.note(f"{shorten(column)} is of type {kind}, which is not read.", "notice")


def _chosen(slots: list[str]) -> str:
    if len(slots) == 1:
        return slots[0]
    slot = st.segmented_control("Table", slots, format_func=lambda each: what(each).capitalize(), required=True,
                                key=kept_choice("cohort-mapping-table", slots[0], slots), on_change=keep,
                                args=("cohort-mapping-table", "kept-cohort-mapping-table"))  # fmt: skip
    return slot or slots[0]


def _head(setup: Setup, slot: str, draft: Draft, tables: dict[str, list[str]]) -> None:
    """The row with the names of the columns, by choice."""
    rows = state.first_rows(setup, slot)[:_ROWS_SHOWN]
    if not rows:
        return
    name = state.table_name(slot)
    now = draft.table(name).get("header_row") or 1
    numbers = sorted({*range(1, len(rows) + 1), now})
    key = f"cohort-header-{name}"
    hold(key, now)
    st.selectbox(f"Row with the names of the columns of {SLOTS[slot].partition(',')[0].lower()}", numbers, key=key, width=620,
                 format_func=lambda number: _row_words(number, rows), on_change=_take_row, args=(key, name, tables),
                 help="Another row gives other columns: the mapping of this table is proposed anew.")  # fmt: skip


def _row_words(number: int, rows: Sequence[Sequence[str]]) -> str:
    cells = [cell for cell in (rows[number - 1] if number <= len(rows) else ()) if cell.strip()]
    return f"row {number}: " + (shorten(" | ".join(cells), 90) if cells else "nothing in it")


@safely
def _take_row(key: str, name: str, tables: dict[str, list[str]]) -> None:
    setup, number = desk_tables.present(), int(st.session_state[key])
    draft = Draft.of(setup.mapping)
    rows = {each: draft.table(each).get("header_row") or 1 for each in tables}
    state.take_proposal(setup, rows | {name: number})
    desk().kept.pop("cohort-mapping-open", None)


def _counts(draft: Draft, tables: dict[str, list[str]], name: str, found: Tries, outcome: TriedRows) -> None:
    """How much is compared, and what becomes of the rows of the sample."""
    done = sum(len(draft.compared(each, columns)) for each, columns in tables.items())
    total = sum(len(columns) for columns in tables.values())
    questions = [column for column in tables[name] if draft.questions(name, column)]
    missing = draft.table(name).get("case_id") not in tables[name]
    show.put(
        "mapping_counts.html", done=done, total=total, confirmed=draft.confirmed, rows=outcome.rows, whole=found.sample.whole,
        aside=outcome.aside, reasons=outcome.reasons, unread=sum(each.count for each in outcome.cells.values()), missing=missing,
        questions=questions + [column for column, each in outcome.cells.items() if each.open],
    )  # fmt: skip
    unknown = sorted(draft.table_map(name).used() - set(tables[name]) - {"case_id"})
    if unknown:
        told = ", ".join(map(shorten, unknown[:8]))
        show.problems([Problem(Code.BAD_MAPPING, "the table has no such column", "mapping", found=told,
                               expected="the columns below", next_step="choose another sheet or row of names, or propose anew")])  # fmt: skip
