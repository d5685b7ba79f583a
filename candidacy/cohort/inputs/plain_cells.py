"""Cells of text that are a plain number or day: SQL reads them, and no cell of them is looked at one by one."""

from candidacy.case.catalogue import Element
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.sqltext import Dialect
from candidacy.cohort.inputs.mapping import ColumnMap

FIRST_YEAR = 1880
_NUMBER = r"'^[-+]?([0-9]+([.][0-9]*)?|[.][0-9]+)$'"
_DAY = r"'^[0-9]{4}-[0-9]{2}-[0-9]{2}$'"


def plain_value(dialect: Dialect, element: Element, item: ColumnMap, raw: str) -> str:
    """SQL of the value of a plain cell that is possible, else NULL; empty where the column may hold none."""
    trimmed = f"TRIM({raw})"
    if not item.plain:
        return ""
    if element.kind == "date":
        day = f"TRY_CAST({trimmed} AS DATE)"
        possible = f"{day} BETWEEN DATE '{FIRST_YEAR}-01-01' AND DATE '9999-12-31'"
        value = f"CAST({dialect.days.format(day)} AS DOUBLE)"
        return _where(dialect.matches.format(trimmed, _DAY), possible, value)
    if element.kind == "number" and item.unit in (None, element.unit):
        number = dialect.try_number.format(trimmed)
        possible = " AND ".join(_limits(element, number)) or "TRUE"
        return _where(dialect.matches.format(trimmed, _NUMBER), possible, number)
    return ""


def _where(looks: str, possible: str, value: str) -> str:
    return f"CASE WHEN {looks} THEN CASE WHEN {possible} THEN {value} END END"


def _limits(element: Element, value: str) -> list[str]:
    """SQL that holds of a number that the element may have; ``value`` is finite."""
    possible = element.possible
    found = [f"{value} >= {sql.number(possible.low)}"] if possible and possible.low is not None else []
    return found + (
        [f"{value} <= {sql.number(possible.high)}"] if possible and possible.high is not None else []
    )
