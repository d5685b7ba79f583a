"""One column in the table of a mapping, and the answers about it while it is open."""

import streamlit as st
from msgspec import Struct

from candidacy.cohort.inputs.draft import DAY_OF, DAYS, PATIENTS, Draft
from candidacy.cohort.inputs.tried_rows import TriedRows, Tries
from candidacy.foundation.errors import shorten
from candidacy.ui import show
from candidacy.ui.cohort.mapping import answers, state, words
from candidacy.ui.session import desk, hold, safely

_OPEN = "cohort-mapping-open"
_TEXTS_TOLD = 8


class Row(Struct, frozen=True):
    """A column as it is drawn.

    Attributes
    ----------
    place
        Of the column in its table; part of the keys of its widgets.
    tables
        All tables of the mapping with their columns.
    """

    draft: Draft
    table: str
    column: str
    place: int
    tries: Tries
    outcome: TriedRows
    compared: bool
    tables: dict[str, list[str]]

    @property
    def key(self) -> str:
        return f"map-{self.table}-{self.place}"

    @property
    def questions(self) -> list[str]:
        """What has to be answered before the column can be confirmed."""
        cells = self.outcome.cells.get(self.column)
        return self.draft.questions(self.table, self.column) + ([cells.open] if cells and cells.open else [])


def draw(row: Row) -> None:
    """Draw the column as a row of the table, with its answers below where it is open."""
    opened = desk().kept.get(_OPEN) == (row.table, row.column)
    cells = row.outcome.cells.get(row.column)
    with st.container(horizontal=True, vertical_alignment="top", key=f"{row.key}-row", gap="small"):
        st.button(f"{'▾' if opened else '▸'} {show.label(shorten(row.column))}", key=f"{row.key}-open", type="tertiary", width=210,
                  on_click=_open, args=(row.table, row.column))  # fmt: skip
        show.put("mapping_row.html", samples=row.tries.sample.shown(row.column), questions=len(row.questions),
                 unread=cells.count if cells else 0, **words.row_words(row.draft, row.table, row.column))  # fmt: skip
        hold(f"{row.key}-compared", row.compared)
        st.checkbox(f"{show.label(shorten(row.column))}: confirmed", key=f"{row.key}-compared", label_visibility="collapsed", width=40,
                    disabled=bool(row.questions) and not row.compared, on_change=_compare, args=(row.key, row.table, row.column, row.tables))  # fmt: skip
    if opened:
        with st.container(border=True, key=f"{row.key}-answers"):
            _answers(row)


@safely
def _open(table: str, column: str) -> None:
    kept = desk().kept
    kept[_OPEN] = None if kept.get(_OPEN) == (table, column) else (table, column)


@safely
def _compare(key: str, table: str, column: str, tables: dict[str, list[str]]) -> None:
    draft = Draft.of(desk().kept["cohort-mapping"]).spelled_out(tables)
    state.put(draft.with_compared(tables, table, [column], bool(st.session_state[f"{key}-compared"])))


def _answers(row: Row) -> None:
    notes = state.notes_of(row.draft, row.table, row.column)
    if notes:
        show.note("Proposed: " + "; ".join(notes) + ".")
    if row.questions:
        show.note("To answer: " + "; ".join(row.questions) + ".", "notice")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        _holds(row)
        element = row.draft.element(row.table, row.column)
        if element is not None and row.draft.holds(row.table, row.column).kind == "element":
            answers.unit_and_disc(row, element, row.table == PATIENTS)
            answers.signs(row, element)
            answers.days(row, element)
            answers.bad_cells(row)
        elif row.draft.holds(row.table, row.column).kind in (DAYS, DAY_OF):
            answers.table_days(row)
    item = row.draft.item(row.table, row.column)
    if element is not None:
        answers.codes(row, element)
    cells = row.outcome.cells.get(row.column)
    samples = row.tries.sample.shown(row.column)
    read = [(text, words.cell_words(text, item)) for text in samples] if item is not None else []
    unread = sorted(cells.unread.items(), key=lambda each: -each[1][1]) if cells else []
    show.put("mapping_cells.html", read=read, unread=[(text, *told) for text, told in unread[:_TEXTS_TOLD]],
             more=max(0, len(unread) - _TEXTS_TOLD), filled=cells.filled if cells else 0, count=cells.count if cells else 0)  # fmt: skip
    _confirm(row)


def _holds(row: Row) -> None:
    key, now = f"{row.key}-holds", words.key_of(row.draft.holds(row.table, row.column))
    allowed = words.options(row.table)
    if now not in allowed:
        allowed = [now, *allowed]
    hold(key, now)
    st.selectbox(f"What {show.label(shorten(row.column))} holds", allowed, key=key, format_func=words.holds_words, width=380,
                 on_change=_take_holds, args=(key, row))  # fmt: skip


@safely
def _take_holds(key: str, row: Row) -> None:
    chosen = words.holds_of(st.session_state[key])
    if chosen != row.draft.holds(row.table, row.column):
        state.put(state.changed_holds(row.draft, row.tries, row.table, row.column, chosen))


def _confirm(row: Row) -> None:
    if row.compared:
        show.note("Confirmed. A change of this column takes that back.", "good")
        return
    st.button("Confirm, and open the next", key=f"{row.key}-next", type="primary", disabled=bool(row.questions), on_click=_confirm_next,
              args=(row,))  # fmt: skip


@safely
def _confirm_next(row: Row) -> None:
    draft = row.draft.with_compared(row.tables, row.table, [row.column], True)
    state.put(draft)
    columns = row.tables[row.table]
    done = draft.compared(row.table, columns)
    after = [*columns[row.place + 1 :], *columns[: row.place]]
    left = next((each for each in after if each not in done), None)
    desk().kept[_OPEN] = (row.table, left) if left is not None else None
