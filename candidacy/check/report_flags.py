"""Static checks of the tables from which a read report is told to need a look first: elements, scales and their grades."""

from collections.abc import Mapping
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.foundation.errors import Code
from candidacy.rules.cited import Table
from candidacy.rules.findings import Findings
from candidacy.rules.library import Library
from candidacy.rules.operators import possible_operators


def check_flags(library: Library, table: Table, findings: Findings) -> None:
    """Say what of the table of red flags names no element, or no table of grades that can be read."""
    for number, row in enumerate(table.rows):
        place = ("rows", number, "key")
        if row.key not in catalogue():
            findings.add(place, Code.UNKNOWN_ELEMENT, "not a data element", found=row.key,
                         expected=catalogue().nearest(row.key))  # fmt: skip
        if not isinstance(row.values.get("says"), str):
            findings.add(
                ("rows", number),
                Code.MISSING_KEY,
                "a red flag does not say what is put on top",
                found=row.key,
            )
        scales = row.values.get("scales")
        if scales is None:
            continue
        if not isinstance(scales, str) or scales not in library.table_files():
            findings.add(("rows", number), Code.BAD_RULE, "not a table", found=scales)
            continue
        for scale, grades in library.tables()(scales).items():
            wrong = _wrong_grade(scale, grades)
            if wrong:
                findings.add(
                    ("rows", number),
                    Code.BAD_RULE,
                    f"{scales}: {wrong}",
                    found=f"{scale}: {grades.get('severe_from')}",
                )


def _wrong_grade(scale: str, grades: Mapping[str, Any]) -> str:
    element, least = catalogue().get(scale), grades.get("severe_from")
    if element is None or "at_least" not in possible_operators(element):
        return "not a data element with grades in an order"
    if element.kind == "choice":
        return "" if least in element.codes else "severe_from is not a grade of this scale"
    low, high = (element.possible.low, element.possible.high) if element.possible else (None, None)
    if type(least) is int and low is not None and high is not None and low <= least <= high:
        return ""
    return "severe_from is not a grade of this scale"
