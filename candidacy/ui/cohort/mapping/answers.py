"""The fields of an open column: unit, disc, days, signs, codes, and what becomes of cells that cannot be read."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from candidacy.case.element import LEVELS, Element
from candidacy.case.typed_text import REASONS
from candidacy.cohort.inputs.fractions import may_be_fractions
from candidacy.cohort.inputs.guessed_cells import OPEN
from candidacy.cohort.inputs.guessed_dates import DATE_FORMATS
from candidacy.cohort.inputs.mapping import forms_in
from candidacy.explain.wording import code_words
from candidacy.foundation.errors import Code, Problem, TableError, shorten
from candidacy.foundation.units import normal_spelling
from candidacy.foundation.usual_forms import is_date_form
from candidacy.ui import show
from candidacy.ui.cohort.mapping import state, words
from candidacy.ui.session import hold, safely

if TYPE_CHECKING:
    from candidacy.ui.cohort.mapping.row import Row

_MOST_CODES = 24
_DECIMALS = {".": "point: 3.5", ",": "comma: 3,5"}
_THOUSANDS = {
    "": "none",
    ",": "comma: 1,234",
    ".": "point: 1.234",
    " ": "space: 1 234",
    "'": "apostrophe: 1'234",
}
_BAD = {"": "as the whole table says", "fact_unknown": "its fact is unknown, the row stays",
        "set_row_aside": "its row is set aside"}  # fmt: skip
_FRACTIONS = {True: "53 % (a fraction of one)", False: "0.53 %"}
_LEAVE = ""


def _field(row: "Row", name: str) -> Any:
    found = row.draft.entry(row.table, row.column).get(name)
    return None if found == OPEN else found


def _choose(
    row: "Row", name: str, label: str, options: list[Any], default: Any, width: int, words_of: Any = str
) -> None:
    """A list of answers; nothing is chosen where the question is open."""
    key, now = f"{row.key}-{name}", _field(row, name)
    value = default if now is None else now
    shown = options if value is None or value in options else [value, *options]
    hold(key, value)
    st.selectbox(label, shown, index=None, key=key, format_func=words_of, placeholder="choose", width=width, on_change=_take,
                 args=(key, row, name))  # fmt: skip


@safely
def _take(key: str, row: "Row", name: str) -> None:
    state.put(row.draft.with_field(row.table, row.column, name, st.session_state[key]))


def unit_and_disc(row: "Row", element: Element, in_patients: bool) -> None:
    """Draw the fields of the unit and of the disc."""
    if element.scope == "disc" and in_patients:
        _choose(row, "disc", "Disc", list(LEVELS), None, 130)
    if element.unit is not None:
        unit = _field(row, "unit")
        known = element.accepted_units
        if unit is not None and normal_spelling(str(unit)) in known:
            known = [unit if each == normal_spelling(str(unit)) else each for each in known]
        _choose(row, "unit", "Unit of bare numbers", known, None, 190)


def signs(row: "Row", element: Element) -> None:
    """Draw the fields of decimal sign, thousands, and fractions of one."""
    if element.kind not in ("number", "integer"):
        return
    if row.column not in row.tries.sample.typed:
        open_ = row.draft.entry(row.table, row.column).get("decimal") == OPEN
        _choose(
            row,
            "decimal",
            "Decimal sign",
            list(_DECIMALS),
            None if open_ else ".",
            170,
            _DECIMALS.__getitem__,
        )
        _choose(row, "thousands", "Thousands", list(_THOUSANDS), "", 180, _THOUSANDS.__getitem__)
    asked = "fractions" in row.draft.entry(row.table, row.column) or row.questions
    if asked and may_be_fractions(element, _field(row, "unit")):
        _choose(row, "fractions", "0.53 means", [True, False], None, 220, _FRACTIONS.__getitem__)


def days(row: "Row", element: Element) -> None:
    """Draw the fields of date forms, and of the column with the day of the fact."""
    if element.kind == "date" and row.column not in row.tries.sample.typed:
        _forms(row, _field(row, "date_format"), False)
    columns = ["", *(each for each in row.tables[row.table] if each != row.column)]
    _choose(
        row, "dated_by", "Day of this fact", columns, "", 240, lambda name: shorten(name) or "none of its own"
    )


def table_days(row: "Row") -> None:
    """Draw the field of date forms of a column with days of facts; all such columns of a table share it."""
    if row.column not in row.tries.sample.typed:
        found = row.draft.table(row.table).get("date_format")
        _forms(row, None if found == OPEN else found, True)


def _forms(row: "Row", now: Any, of_table: bool) -> None:
    forms = list(forms_in(tuple(now) if isinstance(now, list) else now))
    key = f"{row.key}-forms"
    hold(key, forms)
    label = "How days of facts are written, in this table" if of_table else "How dates are written"
    st.multiselect(label, list(dict.fromkeys([*DATE_FORMATS, *forms])), key=key, format_func=_form_words, width=380,
                   placeholder="2026-11-25  %Y-%m-%d", accept_new_options=True, on_change=_take_forms, args=(key, row, of_table),
                   help="One form or several. A date that two of them read as different days is not used, and is listed.")  # fmt: skip


def _form_words(form: str) -> str:
    return words.form_words(form) if is_date_form(form) else form


@safely
def _take_forms(key: str, row: "Row", of_table: bool) -> None:
    forms = list(st.session_state[key])
    wrong = [form for form in forms if not is_date_form(form)]
    if wrong:
        raise _refused(
            "not a way of writing a date", ", ".join(wrong), "signs such as %d.%m.%Y, %m/%d/%Y or %b %Y"
        )
    value = forms[0] if len(forms) == 1 else forms or None
    if of_table:
        state.put(row.draft.with_table_field(row.table, "date_format", value, row.column))
    else:
        state.put(row.draft.with_field(row.table, row.column, "date_format", value))


def bad_cells(row: "Row") -> None:
    """Draw the field of what becomes of a cell that cannot be read."""
    _choose(row, "on_bad_cell", "A cell that cannot be read", list(_BAD), "", 270, _BAD.__getitem__)


# --- codes


def codes(row: "Row", element: Element) -> None:
    """Draw a list of answers for each text that has a code, or that cannot be read."""
    entry = row.draft.entry(row.table, row.column)
    told: dict[str, str] = {str(text): str(code) for text, code in (entry.get("codes") or {}).items()}
    told |= {str(text): f"?{reason}" for text, reason in (entry.get("unknown") or {}).items()}
    cells = row.outcome.cells.get(row.column)
    unread = sorted(cells.unread, key=lambda text: (-cells.unread[text][1], text)) if cells else []
    texts = [*told, *(text for text in unread if text not in told)][:_MOST_CODES]
    if not texts:
        return
    coded = element.kind in ("boolean", "choice", "members")
    known = (["true", "false"] if element.kind == "boolean" else list(element.codes)) if coded else []
    answers = [_LEAVE, *known, *(f"?{reason}" for reason in REASONS)]
    with st.container(horizontal=True, key=f"{row.key}-codes"):
        for place, text in enumerate(texts):
            key, value = f"{row.key}-code-{place}", told.get(text, _LEAVE)
            hold(key, value)
            shown = answers if value in answers else [*answers, value]
            st.selectbox(f"“{show.label(shorten(text, 60))}” means", shown, key=key, width=230, format_func=_code_words,
                         accept_new_options=coded and element.kind != "boolean", on_change=_take_code, args=(key, row, text, element))  # fmt: skip
    if len(unread) > _MOST_CODES:
        show.note(
            "More texts than are shown cannot be read: mend them in the table, or their facts stay unknown and are listed."
        )


def _code_words(code: str) -> str:
    if code == _LEAVE:
        return "as it stands"
    if code.startswith("?"):
        return f"not known: {dict(REASONS).get(code[1:], code[1:])}"  # type: ignore[call-overload]
    joint, sign = (", ", ";") if ";" in code else (" or ", "|")
    return joint.join(code_words(part) for part in code.split(sign))


@safely
def _take_code(key: str, row: "Row", text: str, element: Element) -> None:
    answer = str(st.session_state[key] or "").strip()
    entry = row.draft.entry(row.table, row.column)
    known, unknown = dict(entry.get("codes") or {}), dict(entry.get("unknown") or {})
    known.pop(text, None)
    unknown.pop(text, None)
    if answer.startswith("?"):
        unknown[text] = answer[1:]
    elif answer:
        sign = ";" if element.kind == "members" else "|"
        wrong = [part for part in answer.split(sign) if part.strip() not in (*element.codes, "true", "false")]
        if wrong:
            raise _refused("not one of the codes of this element", ", ".join(wrong),
                           f"{', '.join(element.codes)}; several with {sign} between them")  # fmt: skip
        known[text] = answer
    draft = row.draft.with_field(row.table, row.column, "codes", known)
    state.put(draft.with_field(row.table, row.column, "unknown", unknown))


def _refused(message: str, found: str, expected: str) -> TableError:
    return TableError(
        [Problem(Code.BAD_MAPPING, message, "mapping", found=shorten(found), expected=expected)]
    )
