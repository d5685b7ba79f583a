"""One cell of a table as an entry of a case record: the same entry, and so the same checks and value.

Text may state what is imprecise: ``<35``, ``>=6``, ``33..37``, ``III|IV``, ``2026-03``, ``>=2026-01-01``;
a list as ``latex;iodine``, ``latex;...`` where it may go on, ``[]`` where it is empty; a reason for not
knowing as ``?not_stated``. An empty cell says nothing.
"""

import re
from datetime import date, datetime
from decimal import Decimal
from math import isfinite
from typing import Any, get_args

from candidacy.case.catalogue import LISTS, Element, catalogue
from candidacy.case.facts import Fact
from candidacy.case.gather import gather
from candidacy.case.record import CaseRecord, FactEntry, Reason
from candidacy.cohort.inputs.mapping import ColumnMap
from candidacy.foundation.dates import DateError, date_span
from candidacy.foundation.errors import Code, Problem, shorten

_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)\Z")
_SIGNS = {">=": "at_least", "<=": "at_most", ">": "more_than", "<": "less_than"}
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
        content: dict[str, Any] = {"value": raw if isinstance(raw, int) else float(raw)}
    else:
        content = _READERS[element.kind](text, element, item)
    unit = item.unit if element.unit is not None else None
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


def _number(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
    for sign, form in _SIGNS.items():
        if text.startswith(sign):
            return {form: _one_number(text[len(sign) :], element, item)}
    for sign, form in (("..", "between"), ("|", "one_of")):
        if sign in text:
            return {form: [_one_number(part, element, item) for part in text.split(sign)]}
    return {"value": _one_number(text, element, item)}


def _one_number(text: str, element: Element, item: ColumnMap) -> float | int:
    text = text.strip()
    plain = text.replace(",", ".") if item.decimal == "," and text.count(",") <= 1 else text
    if not _NUMBER.match(plain):
        hint = "a plain number such as 3.5, or <35, >=6, 33..37"
        raise BadCell("not a number", text, hint)
    return float(plain) if "." in plain else int(plain)


def _boolean(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
    lowered = text.lower()
    if lowered not in ("true", "false"):
        raise BadCell("not true or false", text, "true or false; other words are mapped under codes")
    return {"value": lowered == "true"}


def _choice(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
    parts = [part.strip() for part in text.split("|")]
    return {"value": parts[0]} if len(parts) == 1 else {"one_of": parts}


def _members(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
    if text == "[]":
        return {"value": []}
    parts = [part.strip() for part in text.split(";") if part.strip()]
    if parts and parts[-1] == "...":
        return {"includes": parts[:-1]}
    return {"value": parts}


def _date(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
    for sign, form in _DATE_SIGNS.items():
        if text.startswith(sign):
            return {form: one_date(text[2:], item.date_format)}
    if ".." in text:
        return {"between": [one_date(part, item.date_format) for part in text.split("..")]}
    return {"value": one_date(text, item.date_format)}


def one_date(text: str, form: str | None) -> str:
    """A date in our spelling.

    Raises
    ------
    BadCell
        If it is none.
    """
    text = text.strip()
    if form is not None:
        try:
            return datetime.strptime(text, form).date().isoformat()
        except ValueError:
            raise BadCell("not a date of this form", text, form, Code.BAD_DATE) from None
    try:
        date_span(text)
    except DateError as error:
        raise BadCell(str(error), text, "YYYY-MM-DD, YYYY-MM or YYYY", Code.BAD_DATE) from None
    return text


def _words(text: str, element: Element, item: ColumnMap) -> dict[str, Any]:
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
    record: dict[str, Any] = {"schema_version": "1", "id": "cell"}
    table = {element.name: entry}
    if element.scope == "patient":
        record["patient"] = table
    elif element.scope == "disc":
        record["discs"] = {"L4-L5": table}
    else:
        name = next(each for each, scope in LISTS.items() if scope == element.scope)
        record[name] = {"entries": [table]}
    facts, problems = gather(CaseRecord.model_validate(record))
    if problems:
        found = problems[0][1]
        raise BadCell(found.message, found.found or raw, found.expected, found.code)
    return next(facts.stated())


def day_of(raw: Any, form: str | None) -> float | None:
    """The earliest day that a cell with the day of a fact may mean.

    Raises
    ------
    BadCell
        If it is no date.
    """
    text = "" if raw is None else text_of(raw)
    return float(date_span(one_date(text, form)).low) if text else None
