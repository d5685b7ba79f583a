"""One cell of a table as an entry of a case record: the same entry, and so the same checks and value.

Text may state what is imprecise: ``<35``, ``>=6``, ``33..37``, ``III|IV``, ``2026-03``, ``>=2026-01-01``;
a list as ``latex;iodine``, ``latex;...`` where it may go on, ``[]`` where it is empty; a reason for not
knowing as ``?not_stated``. An empty cell says nothing.
"""

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from math import isfinite
from sys import float_info
from typing import Any, get_args

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, Element
from candidacy.case.facts import Fact
from candidacy.case.gather import gather_one
from candidacy.case.record import FactEntry, Reason
from candidacy.cohort.inputs.mapping import ColumnMap
from candidacy.foundation.dates import date_span
from candidacy.foundation.errors import Code, Problem, shorten
from candidacy.foundation.units import convert, normal_spelling
from candidacy.foundation.usual_forms import SIGNS, FormError, iso_day, quantity, truth
from candidacy.foundation.values import Span, point

# what a cell that cannot be read says: the reason for not knowing, as a record states it
NOT_READABLE = FactEntry(unknown="not_readable")
# any disc, and any entry of a list, for a cell alone
_SUBJECTS = {"patient": "patient", "disc": "L4-L5"} | {scope: f"{name}[1]" for name, scope in LISTS.items()}
_DATE_SIGNS = {">=": "not_before", "<=": "not_after"}


class BadCell(Exception):
    """Raised for a cell that cannot be used; carries the problem without its place, and the column if told."""

    column = ""

    def __init__(self, message: str, found: object, expected: str = "", code: Code = Code.WRONG_TYPE) -> None:
        self.problem = Problem(code, message, found=shorten(found), expected=expected)
        super().__init__(message)


def entry_of(raw: Any, item: ColumnMap) -> FactEntry | None:
    """The entry that a cell states, or ``None`` where it is empty.

    Raises
    ------
    BadCell
        If the cell is not written in a way that this element has.
    """
    if raw is None:
        return None
    element = catalogue()[item.element]
    text = text_of(raw)
    if not text:
        return None
    if text in item.unknown:
        return FactEntry(unknown=item.unknown[text])
    text = item.codes.get(text, text)
    if text.startswith("?"):
        reason = text[1:]
        if reason not in get_args(Reason):
            raise BadCell("not a reason for not knowing", text, ", ".join(f"?{r}" for r in get_args(Reason)))
        return FactEntry.model_validate({"unknown": reason})
    if (
        text == text_of(raw)
        and isinstance(raw, int | float | Decimal)
        and element.kind in ("number", "integer")
    ):
        if not isfinite(raw):
            raise BadCell("not a finite number", raw, "a plain number")
        number = raw if isinstance(raw, int) else float(raw)
        content: dict[str, Any] = {"value": _in_percent(number) if item.fractions else number}
    else:
        content = _READERS[element.kind](text, element, item, isinstance(raw, date))
    unit = content.pop("unit", item.unit) if element.unit is not None else None
    return FactEntry.model_validate(content | ({"unit": unit} if unit else {}))


def text_of(raw: Any) -> str:
    """A cell as text: days as YYYY-MM-DD, truths as true or false, numbers as written here, no blanks around."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, datetime):
        return raw.date().isoformat()
    if isinstance(raw, date):
        return raw.isoformat()
    if isinstance(raw, float):
        return str(int(raw)) if raw.is_integer() and abs(raw) < 1e15 else repr(raw)
    return str(raw).strip()


def _number(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    for sign, form in SIGNS.items():
        if text.startswith(sign):
            number, unit = _one_number(text[len(sign) :], element, item)
            return {form: number} | unit
    for sign, form in (("..", "between"), ("|", "one_of")):
        if sign in text:
            read = [_one_number(part, element, item) for part in text.split(sign)]
            units = [unit for _, unit in read if unit]
            if any(unit != units[0] for unit in units):
                raise BadCell("two units in one cell", text, "one unit")
            return {form: [number for number, _ in read]} | (units[0] if units else {})
    number, unit = _one_number(text, element, item)
    return {"value": number} | unit


def _one_number(text: str, element: Element, item: ColumnMap) -> tuple[float | int, dict[str, str]]:
    """A number, and the unit that is written beside it."""
    units = element.accepted_units if element.unit is not None else []
    try:
        number, unit = quantity(text, units, _top(element, item), item.decimal, item.thousands)
    except FormError as error:
        raise BadCell(str(error), text.strip(), error.expected) from None
    if abs(number) > float_info.max:
        raise BadCell("not a finite number", text.strip(), "a plain number")
    if item.fractions and not unit:
        return _in_percent(number), {}
    return number, {"unit": unit} if unit else {}


def _in_percent(number: int | float) -> float:
    """A fraction of one in percent, in the digits that were written."""
    return float(Decimal(repr(number)).scaleb(2))


def _top(element: Element, item: ColumnMap) -> float | None:
    """The highest number of a scale in the unit of the column; ``None`` where it has none there."""
    high = element.possible.high if element.possible else None
    if high is None or element.unit is None or item.unit is None:
        return high
    try:
        return convert(point(high), element.unit, normal_spelling(item.unit)).high
    except ValueError:  # months have no fixed number of weeks, and are no scale
        return None


def _boolean(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    found = truth(text)
    if found is None:
        raise BadCell(
            "not true or false", text, "true or false, yes or no; other words are mapped under codes"
        )
    return {"value": found}


def _choice(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    parts = [part.strip() for part in text.split("|")]
    return {"value": parts[0]} if len(parts) == 1 else {"one_of": parts}


def _members(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    if text == "[]":
        return {"value": []}
    parts = [part.strip() for part in text.split(";") if part.strip()]
    if parts and parts[-1] == "...":
        return {"includes": parts[:-1]}
    return {"value": parts}


def _date(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    forms = () if day else item.date_forms  # a typed day has no form
    for sign, form in _DATE_SIGNS.items():
        if text.startswith(sign):
            return {form: one_date(text[2:], forms)}
    if ".." in text:
        return {"between": [one_date(part, forms) for part in text.split("..")]}
    return {"value": one_date(text, forms)}


def one_date(text: str, forms: tuple[str, ...]) -> str:
    """A date in our spelling.

    Raises
    ------
    BadCell
        If it is none, or may be two.
    """
    try:
        return iso_day(text, forms)
    except FormError as error:
        raise BadCell(str(error), text.strip(), error.expected, Code.BAD_DATE) from None


def _words(text: str, element: Element, item: ColumnMap, day: bool) -> dict[str, Any]:
    return {"value": text}


_READERS = {
    "number": _number,
    "integer": _number,
    "boolean": _boolean,
    "choice": _choice,
    "members": _members,
    "date": _date,
    "words": _words,
}


def fact_of(raw: Any, item: ColumnMap) -> Fact | None:
    """The fact that a cell states, checked as a case record is.

    Raises
    ------
    BadCell
        With what is wrong.
    """
    entry = entry_of(raw, item)
    if entry is None:
        return None
    element = catalogue()[item.element]
    fact, problems = gather_one(element, _SUBJECTS[element.scope], entry)
    if problems:
        found = problems[0][1]
        raise BadCell(found.message, found.found or raw, found.expected, found.code)
    return fact


def entry_or_unknown(
    raw: Any, item: ColumnMap, told: Callable[[Problem], None] | None = None
) -> FactEntry | None:
    """The entry that a cell states, held against its element; one that is not readable where it cannot be used.

    ``told`` is called with what is wrong with such a cell.
    """
    try:
        return entry_of(raw, item) if fact_of(raw, item) is not None else None
    except BadCell as error:
        if told is not None:
            told(error.problem)
        return NOT_READABLE


def day_text(raw: Any, forms: tuple[str, ...]) -> str:
    """A cell with the day of a fact in our spelling; an empty text where it says nothing.

    Raises
    ------
    BadCell
        If it is no date.
    """
    text = "" if raw is None else text_of(raw)
    return one_date(text, () if isinstance(raw, date) else forms) if text else ""


def days_of(raw: Any, forms: tuple[str, ...] = ()) -> Span | None:
    """The days that a cell with the day of a fact may mean: one, or those of a month or a year.

    Raises
    ------
    BadCell
        If it is no date.
    """
    text = day_text(raw, forms)
    return date_span(text) if text else None
