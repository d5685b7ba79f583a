"""Columns in percent of which every number lies between 0 and 1: percent, or fractions of one? A person says which."""

import re

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine, one
from candidacy.cohort.inputs.mapping import ColumnMap, TableMap
from candidacy.cohort.inputs.references import case_text
from candidacy.foundation.errors import Code, Problem, TableError, shorten

PERCENT = "%"
_WHOLE = 100  # a scale that reaches the whole; strengths of some percent are less than 1 as a rule
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)")
MESSAGE = "every number lies between 0 and 1: percent, or fractions of one?"


def may_be_fractions(element: Element, unit: str | None) -> bool:
    """Numbers of this element in this unit may have been meant as fractions of one."""
    high = element.possible.high if element.possible else None
    return element.unit == PERCENT and unit == PERCENT and (high is None or high >= _WHOLE)


def all_fractions(texts: list[str], decimal: str) -> bool:
    """Every text that is a bare number is one from 0 to 1, and one lies between them."""
    found = [
        float(text) for text in (each.replace(decimal, ".") for each in texts) if _NUMBER.fullmatch(text)
    ]
    return all(0 <= each <= 1 for each in found) and any(0 < each < 1 for each in found)


def refuse_open_fractions(
    engine: Engine, relation: str, types: dict[str, str], table: TableMap, name: str
) -> None:
    """Refuse columns of which nobody said whether their numbers are percent or fractions, where both may be.

    Raises
    ------
    TableError
        E502 with every such column.
    """
    asked = {
        column: item
        for column, item in table.columns.items()
        if item.fractions is None and may_be_fractions(catalogue()[item.element], item.unit)
    }
    if not asked:
        return
    counted = one(
        engine,
        [part for column, item in asked.items() for part in _counts(engine, types, column, item)],
        relation,
    )
    problems = [
        _problem(column, item, name)
        for place, (column, item) in enumerate(asked.items())
        if counted[2 * place] and not counted[2 * place + 1]
    ]
    if problems:
        raise TableError(problems)


def _counts(engine: Engine, types: dict[str, str], column: str, item: ColumnMap) -> tuple[str, str]:
    """SQL of how many bare numbers lie strictly between 0 and 1, and how many do not lie from 0 to 1."""
    if types[column] in ("number", "integer"):
        number = f"CAST({sql.identifier(column)} AS DOUBLE)"
    else:
        text = case_text(types, column)
        written = f"REPLACE({text}, ',', '.')" if item.decimal == "," else text
        number = sql.as_number(written)
    return (
        f"SUM(CASE WHEN {number} > 0 AND {number} < 1 THEN 1 ELSE 0 END)",
        f"SUM(CASE WHEN {number} < 0 OR {number} > 1 THEN 1 ELSE 0 END)",
    )


def _problem(column: str, item: ColumnMap, name: str) -> Problem:
    return Problem(
        Code.BAD_MAPPING, MESSAGE, name, field=shorten(column), found=item.element,
        expected="fractions: true (0.53 is 53 %) or fractions: false (0.53 is 0.53 %)",
        next_step="say it in a mapping: candidacy screen TABLE --suggest-mapping mapping.yaml",
    )  # fmt: skip
