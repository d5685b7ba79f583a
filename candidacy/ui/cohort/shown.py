"""Counts as they stand on the page: in full, or masked so that the page may be shown to others."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import streamlit as st

from candidacy.cohort.answers.masking import check_threshold, masked, masked_frame
from candidacy.explain.labels import BURDEN_WORDS, force_words, standing_words
from candidacy.foundation.errors import Code, InputError, Problem, TableError, shorten
from candidacy.rules.vocabulary import FORCES, STANDINGS
from candidacy.ui import show
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import desk, keep, kept_choice

if TYPE_CHECKING:
    import pandas as pd

_THRESHOLD = "10"


def threshold_field(words: str, key: str) -> str:
    """Draw the field of the threshold for masking, kept over pages, and give what was typed."""
    st.text_input(words, key=kept_choice(key, _THRESHOLD), on_change=keep, args=(key, f"kept-{key}"), max_chars=6, width=200,
                  help="Smaller counts are not shown, and all others are rounded to its multiples.")  # fmt: skip
    return str(desk().kept.get(key, _THRESHOLD)).strip()


def threshold(typed: str) -> int:
    """A threshold as typed.

    Raises
    ------
    TableError
        E203 if it is no whole number, E601 if it masks nothing.
    """
    if not (typed.isascii() and typed.isdigit()):
        problem = Problem(Code.WRONG_TYPE, "not a whole number", field="threshold", found=shorten(typed),
                          expected="a whole number, say 10")  # fmt: skip
        raise TableError([problem])
    check_threshold(int(typed))
    return int(typed)


def mask_switch() -> int | None:
    """Draw the switch; gives the threshold, 0 where counts are shown in full, ``None`` where it cannot be used."""
    with st.container(horizontal=True, vertical_alignment="center", key="cohort-mask"):
        show.put_beside("cohort_results.html")
        on = st.toggle("Mask small counts, hide case references", key=kept_choice("cohort-masked", False), on_change=keep,
                       args=("cohort-masked", "kept-cohort-masked"))  # fmt: skip
        typed = threshold_field("Mask counts below", "cohort-below") if on else ""
    if not on:
        return 0
    try:
        below = threshold(typed)
    except InputError as error:
        show.problems(error.problems, "Nothing is shown until the threshold can be used")
        return None
    show.note(f"Masked: counts below {below}, but for 0, are shown as <{below}; others are rounded to multiples of {below}; "
              "case references are hidden.", "notice")  # fmt: skip
    return below


def number(count: int, below: int) -> str:
    """A count as text."""
    return masked(count, below) if below else f"{count:,}"


def counted(count: int, what: str, below: int) -> str:
    """A count with its noun in the singular or plural."""
    return f"{number(count, below)} {what}{'' if count == 1 and not below else 's'}"


def masked_counts(frame: "pd.DataFrame", below: int, keep: tuple[str, ...] = ()) -> "pd.DataFrame":
    """A table of counts, masked where a threshold is given."""
    return masked_frame(frame, below, keep) if below else frame


def counts_table(
    frame: "pd.DataFrame", head: str, columns: Mapping[str, str], below: int = 0, keep: tuple[str, ...] = (),
    *, narrow: bool = False,
) -> None:  # fmt: skip
    """Put chosen columns of a table of counts on the page, under headers in words."""
    shown = masked_counts(frame, below, keep)
    numeric = {name for name in columns if frame[name].dtype.kind in "iuf"}
    rows = [[_cell(name, row[name]) for name in columns] for row in shown.to_dict("records")]
    show.put("counts.html", head=head, columns=list(columns.values()), rows=rows, narrow=narrow,
             numbers=[place for place, name in enumerate(columns) if name in numeric])  # fmt: skip


def _cell(name: str, value: Any) -> str:
    import pandas as pd

    if value is None or value is pd.NA:
        return ""
    if name in ("standing", "from", "to") and value in STANDINGS:
        return standing_words(value)
    if name == "force" and value in FORCES:
        return force_words(value)
    if name == "burden":
        return BURDEN_WORDS.get(value, str(value))
    return f"{value:,}" if isinstance(value, int) and not isinstance(value, bool) else str(value)


def table_downloads(exports: list[Export]) -> None:
    """A row of downloads below a table or a drawing."""
    with st.container(horizontal=True):
        downloads(exports, width="content")
