"""Cells of text that are a plain number or day: SQL reads them, and no cell of them is looked at one by one."""

from candidacy.case.element import Element
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.inputs.mapping import ColumnMap
from candidacy.foundation.dates import FIRST_YEAR, LAST_YEAR

_FIRST = "0123456789+."
# A minus is left to the reading of single cells, which takes -0 for 0; few elements have numbers below it.
_NUMBER = r"'^ *[+]?([0-9]+([.][0-9]*)?|[.][0-9]+) *$'"
_DAY = r"'^ *[0-9]{4}-[0-9]{2}-[0-9]{2} *$'"


def plain_value(element: Element, item: ColumnMap, raw: str) -> str:
    """SQL of the value of a plain cell that is possible, else NULL; empty where the column may hold none."""
    if item.fractions or item.decimal != "." or item.thousands:
        return ""
    if element.kind == "date" and not item.date_format:
        day = f"TRY_CAST({raw} AS DATE)"
        possible = f"{day} BETWEEN DATE '{FIRST_YEAR}-01-01' AND DATE '{LAST_YEAR}-12-31'"
        value = f"CAST({sql.days(day)} AS DOUBLE)"
        return _where(_looks(raw, _DAY, item), possible, value)
    if element.kind in ("number", "integer") and item.unit in (None, element.unit):
        number = sql.as_number(raw)
        possible = _within(element, number)
        return _where(_looks(raw, _NUMBER, item), possible, number)
    return ""


def _looks(raw: str, form: str, item: ColumnMap) -> str:
    """SQL that a cell is written in a form, and is no word that the mapping gives a meaning of its own."""
    looks = sql.matches(raw, form)
    words = [word for word in (*item.unknown, *item.codes) if word[:1] in _FIRST]
    if not words:
        return looks
    return f"{looks} AND TRIM({raw}) NOT IN ({', '.join(map(sql.string, words))})"


def _where(looks: str, possible: str, value: str) -> str:
    return f"CASE WHEN {looks} THEN CASE WHEN {possible} THEN {value} END END"


def _within(element: Element, value: str) -> str:
    """SQL that holds of a number that the element may have; ``value`` is finite."""
    low, high = (element.possible.low, element.possible.high) if element.possible else (None, None)
    if low is not None and high is not None:
        parts = [f"{value} BETWEEN {sql.number(low)} AND {sql.number(high)}"]
    else:
        limits = ((">=", low), ("<=", high))
        parts = [f"{value} {sign} {sql.number(limit)}" for sign, limit in limits if limit is not None]
    if element.kind == "integer":
        parts.append(f"{value} = FLOOR({value})")
    return " AND ".join(parts) or sql.TRUE
