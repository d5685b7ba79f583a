"""One field per data element: built from the catalogue, holding what the record says, writing what is entered.

The record is the only truth; before each run a field is set to it, or to the text that could not be taken over.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

import streamlit as st

from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.element import Element
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import DATE_HELP, NUMBER_HELP, REASONS, entry_text
from candidacy.case.typed_usual import USUAL_DAYS
from candidacy.explain.said import title_of
from candidacy.explain.wording import code_words, subject_words, with_unit
from candidacy.foundation.values import number_words
from candidacy.ui import show
from candidacy.ui.read_back import take_button, type_in
from candidacy.ui.referral.spread import codes_beside, levels_in, width_of
from candidacy.ui.session import desk, hold, safely

EXACTLY, AT_LEAST = "these and no others", "at least these"
UNKNOWN = "?"  # before a reason in a list of choices
NOTHING = "–"  # in a grid, whose lists have no button to empty them
OTHER = "="  # an imprecise statement that a list of choices cannot hold


def name_of(element: Element) -> str:
    """The label of a field, with the unit in which a plain number is read."""
    text = element.label[:1].upper() + element.label[1:]
    return f"{text} ({element.unit})" if element.unit and element.unit != "1" else text


def help_of(name: str) -> str:
    """Meaning, range, units and how to write it, from the catalogue alone."""
    return _help_of(name, catalogue())


@cache
def _help_of(name: str, shelf: Catalogue) -> str:
    element = shelf[name]
    parts = [element.meaning.rstrip(".") + "."]
    if element.found_in:
        parts.append(f"Normally found in: {element.found_in}.")
    if element.possible is not None and element.kind in ("number", "integer"):
        low, high = element.possible.low, element.possible.high
        span = " to ".join(number_words(n) if n is not None else "no limit" for n in (low, high))
        parts.append(f"Range: {with_unit(span, element.unit or '')}.")
    if len(element.accepted_units) > 1:
        parts.append(f"Units: {', '.join(element.accepted_units)}.")
    if element.kind in ("number", "integer"):
        parts.append(f"Write {NUMBER_HELP}.")
    elif element.kind == "date":
        parts.append(f"Write {DATE_HELP}; {USUAL_DAYS}.")
    elif element.choices:
        parts += [f"{code_words(code)}: {meaning}." for code, meaning in element.choices.items()]
    if element.precision is not None:
        parts.append(f"Precision: {element.precision.text} ({element.precision.tag}).")
    return show.label(" ".join(parts))


def key_of(place: str, subject: str, element: str) -> str:
    return f"{place}-{subject}-{element}"


def field(
    subject: str,
    element: Element,
    place: str = "form",
    *,
    bare: bool = False,
    locked: bool = False,
    spread: bool = False,
) -> None:
    """One field with its unit, help and, where there is one, the reason why its text was not taken over.

    ``bare`` leaves out the visible label and the details button, for grids; ``locked`` lets the answer stand fast;
    ``spread`` shows a few codes side by side, each one click away.
    """
    if bare:
        _widget(subject, element, place, "collapsed")
        _remark(subject, element, place, bare=True)
        return
    codes = codes_beside(element, desk().entry(subject, element.name)) if spread else []
    with st.container(width=width_of(codes), gap=None):
        with st.container(horizontal=True, gap=None, vertical_alignment="bottom"):
            _widget(subject, element, place, "visible", locked=locked, spread=bool(codes))
            st.button(
                "⋯",
                key=f"more-{key_of(place, subject, element.name)}",
                type="tertiary",
                width="content",
                help=f"{show.label(title_of(subject, element))}: source, doubt, exact form",
                on_click=ask_details,
                args=(subject, element.name),
            )
        _remark(subject, element, place)


def ask_details(subject: str, element: str) -> None:
    """Callback: open the dialog about a fact."""
    st.session_state["details"] = (subject, element)
    st.session_state["details-opened"] = st.session_state.get("details-opened", 0) + 1


def _widget(
    subject: str, element: Element, place: str, visibility: Any, *, locked: bool = False, spread: bool = False
) -> None:
    key = key_of(place, subject, element.name)
    text = name_of(element) if visibility == "visible" else f"{name_of(element)}, {subject_words(subject)}"
    common: dict[str, Any] = {
        "key": key,
        "label_visibility": visibility,
        "help": help_of(element.name) if visibility == "visible" else None,
        "args": (subject, element.name, key),
        "disabled": locked,
    }
    held = desk().drafts.get((subject, element.name))
    entry = desk().entry(subject, element.name)
    if locked:  # the browser forgets what a field showed when it is locked: it is told again
        st.session_state.get("shown", set()).difference_update((key, f"{key}-form"))
    if element.kind == "boolean" and visibility == "visible":
        hold(key, held.text if held else _choice_shown(entry))
        st.segmented_control(text, _boolean_options(entry), format_func=_choice_words(element, entry, short=True),
                             required=True, on_change=_choose, **common)  # fmt: skip
    elif element.kind == "choice" and spread:
        hold(key, held.text if held else _choice_shown(entry))
        st.segmented_control(text, _spread_options(element, entry), format_func=_choice_words(element, entry, short=True),
                             required=True, on_change=_choose, **common)  # fmt: skip
    elif element.kind in ("boolean", "choice"):
        grid = visibility != "visible"
        shown = held.text if held else _choice_shown(entry)
        hold(key, NOTHING if grid and shown is None else shown)
        st.selectbox(text, ([NOTHING] if grid else []) + _choice_options(element, entry), index=0 if grid else None,
                     placeholder="not recorded", format_func=_choice_words(element, entry, short=grid),
                     on_change=_choose, **common)  # fmt: skip
    elif element.kind == "members":
        _members(text, element, entry, key, common, spread=spread)
    else:
        hold(key, held.text if held else entry_text(element, entry))
        known = desk().worked_out(subject, element.name) if element.derived else ""
        hint = "YYYY-MM-DD" if element.kind == "date" and visibility == "visible" else None
        st.text_input(text, placeholder=f"{known} (worked out)" if known else hint, on_change=_typed, max_chars=2000,
                      autocomplete="off", **common)  # fmt: skip


def _remark(subject: str, element: Element, place: str, *, bare: bool = False) -> None:
    held = desk().drafts.get((subject, element.name))
    if held is not None and held.reading is not None:
        take_button(subject, element.name, place)
    elif held is not None:
        problem = held.problems[0]
        lead = f"{title_of(subject, element)}: " if bare else "Not taken over: "
        text = f"{lead}{problem.message}" + (f"; allowed: {problem.expected}" if problem.expected else "")
        show.put("remark.html", text=text, field=key_of(place, subject, element.name))


# --- callbacks


@safely
def _typed(subject: str, name: str, key: str) -> None:
    type_in(desk(), subject, name, st.session_state[key])


@safely
def _choose(subject: str, name: str, key: str) -> None:
    element, chosen = catalogue()[name], st.session_state[key]
    if chosen == OTHER:
        return
    chosen = None if chosen == NOTHING else chosen
    _write(subject, element, chosen, lambda: choice_entry(element, chosen))


@safely
def _pick(subject: str, name: str, key: str) -> None:
    element = catalogue()[name]
    codes, form = tuple(st.session_state[key]), st.session_state.get(f"{key}-form")
    ordered = tuple(code for code in element.codes if code in codes)
    _write(subject, element, (list(codes), form), lambda: members_entry(ordered, form))


def _write(subject: str, element: Element, typed: Any, read: Callable[[], FactEntry | None]) -> None:
    desk().write(subject, element.name, read, typed)


# --- choices and lists of codes


def choice_entry(element: Element, chosen: str | None) -> FactEntry | None:
    """The entry for a chosen code, or for "not known" with its reason."""
    if chosen is None:
        return None
    if chosen.startswith(UNKNOWN):
        return FactEntry.model_validate({"unknown": chosen[1:]})
    return FactEntry(value={"yes": True, "no": False}[chosen] if element.kind == "boolean" else chosen)


def _choice_shown(entry: FactEntry | None) -> str | None:
    if entry is None:
        return None
    if entry.unknown is not None:
        return UNKNOWN + entry.unknown
    if isinstance(entry.value, bool):
        return "yes" if entry.value else "no"
    return entry.value if isinstance(entry.value, str) else OTHER


def _boolean_options(entry: FactEntry | None) -> list[str]:
    shown = _choice_shown(entry)
    unknown = shown if shown is not None and shown.startswith(UNKNOWN) else UNKNOWN + "not_stated"
    return ["yes", "no", unknown]


def _spread_options(element: Element, entry: FactEntry | None) -> list[str]:
    shown = _choice_shown(entry)
    unknown = shown if shown is not None and shown.startswith(UNKNOWN) else UNKNOWN + "not_stated"
    return [*element.codes, *([OTHER] if shown == OTHER else []), unknown]


def _choice_options(element: Element, entry: FactEntry | None) -> list[str]:
    codes = ["yes", "no"] if element.kind == "boolean" else list(element.codes)
    other = [OTHER] if _choice_shown(entry) == OTHER else []
    return [*codes, *other, *(UNKNOWN + reason for reason in REASONS)]


def _choice_words(element: Element, entry: FactEntry | None, *, short: bool) -> Any:
    def words(option: str) -> str:
        if option == OTHER and entry is not None:
            return " or ".join(code_words(code) for code in entry.one_of or ())
        if option == NOTHING:
            return option
        if option.startswith(UNKNOWN):
            reason = option[1:]
            if short and (element.kind == "boolean" or reason == "not_stated"):
                return "not known" if reason == "not_stated" else REASONS[reason]  # type: ignore[index]
            return f"not known: {REASONS[reason]}"  # type: ignore[index]
        meaning = (element.choices or {}).get(option, "")
        plain = code_words(option)
        if short or not meaning:
            return plain
        return meaning if meaning.lower().startswith(plain.lower()) else f"{plain}: {meaning}"

    return words


def members_entry(codes: tuple[str, ...], form: str | None) -> FactEntry | None:
    """The entry for a list of codes. Unless it is stated to be whole, it may go on."""
    if form is not None and form.startswith(UNKNOWN):
        return FactEntry.model_validate({"unknown": form[1:]})
    if form == EXACTLY:
        return FactEntry(value=codes)
    return FactEntry(includes=codes) if codes else None


def _members(
    text: str, element: Element, entry: FactEntry | None, key: str, common: dict[str, Any], *, spread: bool
) -> None:
    held = desk().drafts.get((common["args"][0], element.name))
    codes: list[str] = []
    form: str | None = None
    if held is not None:
        codes, form = held.text
    elif entry is not None:
        written = entry.value if isinstance(entry.value, tuple) else entry.includes or ()
        codes = levels_in(written) if element.levels else [str(code) for code in written]
        form = UNKNOWN + entry.unknown if entry.unknown else EXACTLY if entry.includes is None else AT_LEAST
    hold(key, codes)
    hold(f"{key}-form", form)
    if spread:
        lists = [
            EXACTLY,
            AT_LEAST,
            form if form is not None and form.startswith(UNKNOWN) else f"{UNKNOWN}not_stated",
        ]
        with st.container(gap=None):
            st.pills(text, codes_beside(element, entry), selection_mode="multi", format_func=code_words,
                     on_change=_pick, **common)  # fmt: skip
            st.segmented_control(f"{text}: the list is", lists, key=f"{key}-form", label_visibility="collapsed",
                                 format_func=_list_words, on_change=_pick, args=common["args"], required=form is not None,
                                 disabled=common["disabled"])  # fmt: skip
        return
    with st.container(gap=None):
        st.multiselect(
            text, element.codes, format_func=code_words, on_change=_pick, placeholder="not recorded", **common
        )
        st.selectbox(
            f"{text}: the list is",
            [EXACTLY, AT_LEAST, *(UNKNOWN + reason for reason in REASONS)],
            index=None,
            placeholder="the list is …",
            format_func=_list_words,
            key=f"{key}-form",
            label_visibility="collapsed",
            on_change=_pick,
            args=common["args"],
            disabled=common["disabled"],
        )


def _list_words(form: str) -> str:
    return f"not known: {REASONS[form[1:]]}" if form.startswith(UNKNOWN) else form  # type: ignore[index]
