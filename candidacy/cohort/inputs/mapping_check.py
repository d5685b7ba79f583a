"""A mapping held against the catalogue and against the columns that are there: everything wrong with it at once."""

from collections.abc import Callable
from collections.abc import Mapping as Table
from typing import Any

from candidacy.case.catalogue import UNKNOWN, catalogue
from candidacy.case.facts import normal_level
from candidacy.cohort.inputs.fractions import PERCENT
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.foundation.dates import DateError, date_span
from candidacy.foundation.errors import Code, Problem, TableError, shorten
from candidacy.foundation.files import nearest
from candidacy.foundation.units import normal_spelling
from candidacy.foundation.usual_forms import is_date_form

Refuse = Callable[..., None]
_PROPOSE = "write a mapping: candidacy screen TABLE --suggest-mapping mapping.yaml"


def check(
    table: TableMap,
    columns: list[str],
    scope: str,
    name: str,
    left_out: Table[str, str] | None = None,
    bare: bool = False,
) -> tuple[Problem, ...]:
    """Check a mapping against the catalogue and the columns that are there.

    Parameters
    ----------
    left_out
        Columns of a type that is not read, with that type.
    bare
        The table may hold nothing but case references.

    Returns
    -------
    tuple
        Notes on columns that are not read.

    Raises
    ------
    TableError
        E502 with everything in the mapping that cannot be used.
    """
    problems: list[Problem] = []
    left_out = left_out or {}

    def refuse(message: str, field: str, found: str = "", expected: str = "", next_step: str = "") -> None:
        problems.append(Problem(
            Code.BAD_MAPPING, message, name, field=shorten(field), found=shorten(found, 300), expected=expected,
            next_step=next_step,
        ))  # fmt: skip

    if scope == "disc" and table.disc is None:
        refuse("the column with the disc level is not named", "disc", "", "disc: the name of that column")
    _check_columns(table, columns, left_out, refuse)
    if not table.columns and not problems and not bare:
        refuse(
            "no column is a data element",
            "columns",
            found=", ".join(columns),
            expected="headers such as body_weight [kg], or a mapping file",
            next_step=_PROPOSE,
        )
    told: dict[tuple[str, str | None], str] = {}
    for column, item in table.columns.items():
        _check_column(column, item, scope, refuse)
        key = item.element, normal_level(item.disc) if item.disc else None
        if key in told:
            refuse("two columns hold the same element", column, found=told[key], expected="one of them")
        told[key] = column
    _check_dates(table, refuse)
    if problems:
        raise TableError(problems)
    unread = [c for c in (*columns, *left_out) if c not in table.used() and c not in table.ignore]
    return tuple(
        Problem(
            Code.BAD_MAPPING,
            "column not read",
            name,
            field=shorten(column),
            next_step="map it, or list it under ignore",
        )
        for column in unread
    )


def _check_columns(table: TableMap, columns: list[str], left_out: Table[str, str], refuse: Refuse) -> None:
    """Every column that the mapping names is there and of a type that is read."""
    for used in sorted(table.used() - set(columns)):
        if used in left_out:
            refuse(
                "a column of this type is not read", used, left_out[used],
                "text, numbers, true and false, days, or lists of text", "write it as text or as a day",
            )  # fmt: skip
            continue
        close = nearest(used, columns)
        listed = f"closest is {shorten(close)}" if close else shorten(", ".join(columns), 300)
        refuse("the table has no such column", used, "", listed, _PROPOSE)


def _check_dates(table: TableMap, refuse: Refuse) -> None:
    if table.facts_date is not None:
        try:
            date_span(table.facts_date)
        except DateError as error:
            refuse(str(error), "facts_date", table.facts_date, "YYYY-MM-DD, YYYY-MM or YYYY")
    forms = {f"{column}.date_format": item.date_forms for column, item in table.columns.items()}
    for field, written in (forms | {"date_format": table.date_forms}).items():
        for form in written:
            if not is_date_form(form):
                refuse(
                    "not a way of writing a date", field, form, "signs such as %d.%m.%Y, %m/%d/%Y or %b %Y",
                    "look at the dates of the column; leave it out where they are written YYYY-MM-DD",
                )  # fmt: skip


def _check_column(column: str, item: ColumnMap, scope: str, refuse: Any) -> None:
    shelf = catalogue()
    element = shelf.get(item.element)
    if element is None or not element.statable:
        close = shelf.nearest(item.element)
        refuse(
            "not a data element",
            column,
            item.element,
            f"closest is {close}" if close else "an element of the catalogue",
            UNKNOWN,
        )
        return
    if item.disc is not None and normal_level(item.disc) is None:
        refuse("not a lumbar disc level", column, shorten(item.disc), "for example L4-L5")
    allowed = (scope, "disc") if scope == "patient" and item.disc else (scope,)
    if element.scope not in allowed or (element.scope == "disc") != (
        item.disc is not None or scope == "disc"
    ):
        hint = "name its disc" if element.scope == "disc" else f"it belongs to {element.scope}"
        refuse("this element does not belong here", column, element.name, hint)
    if element.unit is not None and item.unit is None:
        refuse(
            "the unit is missing",
            column,
            expected=", ".join(element.accepted_units),
            next_step=f"name it in the header ({item.element} [{element.unit}]) or in the mapping",
        )
    elif item.unit is not None and normal_spelling(item.unit) not in (element.accepted_units or ["1"]):
        refuse(
            "not a unit of this element", column, item.unit, ", ".join(element.accepted_units) or "no unit"
        )
    if item.fractions is not None and (
        element.unit != PERCENT or normal_spelling(item.unit or "") != PERCENT
    ):
        refuse(
            "only numbers in % may be fractions of one", f"{column}.fractions", item.unit or "", "unit: '%'"
        )
    for text, code in item.codes.items():
        for part in code.split("|") if element.kind == "choice" else code.split(";"):
            known = ("true", "false") if element.kind == "boolean" else element.codes
            if known and part.strip() not in known and element.kind in ("boolean", "choice", "members"):
                refuse(
                    "not one of the codes of this element", f"{column}.codes.{text}", part, ", ".join(known)
                )
