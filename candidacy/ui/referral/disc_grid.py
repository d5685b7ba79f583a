"""Discs as a compact grid: levels as rows, facts as columns, a few columns at a time."""

import streamlit as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import without_disc
from candidacy.case.element import LEVELS, STANDARD_LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.ui import show
from candidacy.ui.referral.fields import ask_details, field, help_of, name_of
from candidacy.ui.session import desk, keep, kept_choice, menu_moved, safely

_COLUMNS = 5


def shown_levels() -> list[str]:
    """The usual five discs, and any other the record or the reader names."""
    named = {normal_level(written) for written in desk().record.discs} | set(
        desk().kept.get("more-levels", [])
    )
    return [level for level in LEVELS if level in STANDARD_LEVELS or level in named]


def disc_grid(matter: set[str], groups: list[str]) -> None:
    """One group of disc facts at a time, for all levels."""
    shelf = catalogue()
    names = {"disc": "Disc", "segment": "Canal, facets, alignment", "disc_history": "Earlier procedures",
             "discography": "Discography"}  # fmt: skip
    titles = {g: names.get(g, shelf.groups[g]) for g in groups if any(e.statable for e in _elements(g))}
    view = st.segmented_control("Facts of each disc", list(titles), key=kept_choice("disc-view", "disc", list(titles)),
                                format_func=titles.__getitem__, on_change=keep, args=("disc-view", "kept-disc-view"),
                                label_visibility="collapsed", required=True)  # fmt: skip
    elements = _elements(view or "disc")
    first = [e for e in elements if e.name in matter]
    rest = [e for e in elements if e.name not in matter]
    wide = False
    if rest:
        wide = st.toggle(f"Also show {len(rest)} facts this rule set does not read", key=kept_choice("all-discs", False),
                         on_change=keep, args=("all-discs", "kept-all-discs"))  # fmt: skip
    shown = first + (rest if wide else [])
    levels = shown_levels()
    with st.container(key="disc-grid", gap="small"):
        for start in range(0, len(shown), _COLUMNS):
            _block(shown[start : start + _COLUMNS], levels)
    _more(shown, levels)


def _elements(group: str) -> list[Element]:
    shelf = catalogue()
    return [e for e in shelf.statable("disc").values() if shelf.group_of(e.name) == group]


def _block(elements: list[Element], levels: list[str]) -> None:
    widths = [0.55] + [1.0] * _COLUMNS
    with st.container(gap="xxsmall"):
        head = st.columns(widths, gap="small", vertical_alignment="bottom", wrap=False)
        for column, element in zip(head[1:], elements, strict=False):
            with column:
                show.put("grid_head.html", name=name_of(element), meaning=element.meaning)
        for level in levels:
            row = st.columns(widths, gap="small", wrap=False)
            with row[0]:
                show.put("level.html", level=level)
            for column, element in zip(row[1:], elements, strict=False):
                with column:
                    field(level, element, "grid", bare=True)


def _more(elements: list[Element], levels: list[str]) -> None:
    """Source, doubt and exact form of one cell; odd levels; taking a disc out."""
    with st.popover("More on a cell or level", key="grid-more", on_change=menu_moved) as menu:
        if not menu.open:
            return
        level = st.selectbox("Level", levels, key="cell-level")
        names = {e.name: e for e in elements}
        name = st.selectbox("Fact", list(names), key="cell-fact", format_func=lambda n: name_of(names[n]))
        if name is not None:
            show.note(help_of(name).replace("\\", ""))
            st.button(
                "Source, doubt, exact form", key="cell-details", on_click=ask_details, args=(level, name)
            )
        st.button(f"Take out everything about {level}", key="cell-drop", on_click=_drop, args=(level,),
                  disabled=level not in {normal_level(w) for w in desk().record.discs})  # fmt: skip
        odd = [name for name in LEVELS if name not in levels]
        st.selectbox("Add a level", odd, index=None, key="cell-odd", on_change=_add, placeholder="choose",
                     help="Only where the count of lumbar vertebrae differs, or a report names it.")  # fmt: skip


@safely
def _drop(level: str) -> None:
    desk().take(without_disc(desk().record, level), f"{level} taken out")
    for place in [p for p in desk().drafts if p[0] == level]:
        del desk().drafts[place]


@safely
def _add() -> None:
    level = st.session_state["cell-odd"]
    if level:
        desk().kept["more-levels"] = [*desk().kept.get("more-levels", []), level]
