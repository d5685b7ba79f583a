"""Fields of the forms on this page: nothing is chosen before a person chooses it, and what was entered outlives the page."""

from collections.abc import Callable
from typing import Any

import streamlit as st

from candidacy.course.content import Measure
from candidacy.foundation.errors import Code, CourseError, Problem, shown
from candidacy.ui import show
from candidacy.ui.session import desk, hold

WHY = {
    "not_asked": "not asked",
    "declined": "declined",
    "not_readable": "not readable",
    "not_known": "not known",
}
_YES_NO = {"yes": True, "no": False}
# The longest row of numbers that is offered as buttons.
_BUTTONS = 11


def value(key: str) -> Any:
    """What was entered in a field; ``None`` or empty where nothing was."""
    return desk().kept.setdefault("follow-fields", {}).get(key)


def forget(start: str) -> None:
    """Empty the fields whose keys begin so, once what was in them has been taken over."""
    kept = desk().kept.setdefault("follow-fields", {})
    for key in [key for key in kept if key.startswith(start)]:
        del kept[key]
        st.session_state.pop(key, None)


def entered(
    widget: Callable[..., Any], label: str, *given: Any, key: str, empty: Any = None, **more: Any
) -> Any:
    """Draw a widget that shows what was entered in it before, on this page or before it was left."""
    kept = value(key)
    hold(key, empty if kept is None else kept)
    if widget == st.selectbox:
        more["index"] = None
    return widget(label, *given, key=key, on_change=_keep, args=(key,), **more)


def _keep(key: str) -> None:
    desk().kept.setdefault("follow-fields", {})[key] = st.session_state[key]


def measure_fields(measure: Measure, start: str) -> None:
    """Draw the answer of a measure, and beside it the reason where there is none."""
    key = f"{start}-{measure.id}"
    left, right = st.columns([3, 1], vertical_alignment="bottom")
    label = show.label(measure.ask + ("" if measure.needed else " (where it applies)"))
    with left:
        if measure.kind == "yes_no":
            entered(st.segmented_control, label, list(_YES_NO), key=key)
        elif measure.kind == "choice":
            choices = measure.choices or {}
            entered(
                st.selectbox,
                label,
                list(choices),
                key=key,
                format_func=choices.__getitem__,
                placeholder="not chosen",
            )
        elif _as_buttons(measure):
            assert isinstance(measure.lowest, int)
            assert isinstance(measure.highest, int)
            entered(st.segmented_control, label, list(range(measure.lowest, measure.highest + 1)), key=key)
        else:
            entered(
                st.text_input,
                label,
                key=key,
                empty="",
                max_chars=200,
                placeholder="" if measure.kind == "words" else measure.allowed,
            )
    with right:
        entered(st.selectbox, show.label(f"{measure.ask}: no answer because"), list(WHY), key=f"{key}-why", format_func=WHY.__getitem__,
                placeholder="no answer because", label_visibility="collapsed")  # fmt: skip


def _as_buttons(measure: Measure) -> bool:
    low, high = measure.lowest, measure.highest
    return (
        measure.kind == "whole" and isinstance(low, int) and isinstance(high, int) and high - low < _BUTTONS
    )


def answer_of(measure: Measure, start: str) -> Any:
    """What was answered, of the kind of the measure; ``None`` where nothing was.

    Raises
    ------
    CourseError
        E203 for what is no number.
    """
    given = value(f"{start}-{measure.id}")
    if given is None or given == "":
        return None
    if measure.kind == "yes_no":
        return _YES_NO[given]
    if measure.kind in ("choice", "words") or not isinstance(given, str):
        return given
    written = given.strip()
    for kind in (int, float):
        try:
            return kind(written)
        except ValueError:
            continue
    raise CourseError(
        [Problem(Code.WRONG_TYPE, "not a number", measure.ask, found=shown(given), expected=measure.allowed,
                 next_step="write it with a point, such as 22.5")]
    )  # fmt: skip


def reason_of(measure: Measure, start: str) -> str | None:
    """Why there is no answer, where that was said."""
    given = value(f"{start}-{measure.id}-why")
    return str(given) if given else None
