"""What the table of a mapping says of a column, in words."""

from datetime import date
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.cohort.inputs.cells import BadCell, entry_of, fact_of
from candidacy.cohort.inputs.draft import (
    CASE,
    COMPLETE,
    DAY_OF,
    DAYS,
    DISCS,
    LEVEL,
    PATIENTS,
    UNREAD,
    Draft,
    Holds,
    scope_of,
)
from candidacy.cohort.inputs.mapping import ColumnMap, forms_in
from candidacy.explain.said import statement_words
from candidacy.foundation.units import normal_spelling

_DAY = date(2026, 11, 25)
_ROLES = {
    CASE: "case reference",
    LEVEL: "disc level",
    DAYS: "day of all facts of the row",
    UNREAD: "not read",
}


def options(table: str) -> list[str]:
    """Everything that a column of a table may hold, as keys: roles first, then elements."""
    scopes = {"patient", "disc"} if table == PATIENTS else {scope_of(table)}
    roles = [UNREAD, CASE, *([LEVEL] if table == DISCS else []), DAYS]
    roles += [f"{COMPLETE}:{name}" for name in LISTS] if table == PATIENTS else []
    return roles + [
        f"element:{each.name}" for each in catalogue().all if each.statable and each.scope in scopes
    ]


def key_of(holds: Holds) -> str:
    """What a column holds, as one of `options`."""
    return f"{holds.kind}:{holds.name}" if holds.name else holds.kind


def holds_of(key: str) -> Holds:
    """The opposite of `key_of`."""
    kind, _, name = key.partition(":")
    return Holds(kind, name)


def holds_words(key: str) -> str:
    """What a column holds, in words."""
    holds = holds_of(key)
    if holds.kind == COMPLETE:
        return f"whether the list is complete: {holds.name.replace('_', ' ')}"
    if holds.kind == DAY_OF:
        return f"day of {holds.name}"
    if holds.kind != "element":
        return _ROLES[holds.kind]
    element = catalogue().get(holds.name)
    return holds.name if element is None else f"{element.label} ({element.name})"


def form_words(form: str) -> str:
    """A form of dates with an example."""
    return f"{_DAY.strftime(form)}  {form}"


def row_words(draft: Draft, table: str, column: str) -> dict[str, Any]:
    """Element, unit, codes and date forms of one row of the table."""
    holds, entry = draft.holds(table, column), draft.entry(table, column)
    element = draft.element(table, column)
    codes = [f"{text} = {code}" for text, code in (entry.get("codes") or {}).items()]
    unit = entry.get("unit")
    forms: Any = entry.get("date_format")
    if holds.kind in (DAYS, DAY_OF):
        forms = draft.table(table).get("date_format")
    dates = "" if not forms else "?" if forms == "?" else " or ".join(forms_in(_tuple(forms)))
    if not dates and (holds.kind in (DAYS, DAY_OF) or (element is not None and element.kind == "date")):
        dates = "%Y-%m-%d"
    return {
        "element": element.label if element is not None else holds_words(key_of(holds)),
        "name": element.name if element is not None else "",
        "disc": entry.get("disc") or "",
        "day": entry.get("dated_by") or "",
        "unit": unit if unit is not None else ("?" if element is not None and element.unit else ""),
        "codes": codes,
        "unknown": list(entry.get("unknown") or {}),
        "dates": dates,
        "signs": _signs(entry),
    }


def _signs(entry: dict[str, Any]) -> list[str]:
    found = [f"decimal {entry['decimal']}"] if "decimal" in entry else []
    found += [f"thousands {entry['thousands']}"] if entry.get("thousands") else []
    if "fractions" in entry:
        answers = {True: "0.53 is 53 %", False: "0.53 is 0.53 %"}
        found.append(answers.get(entry["fractions"], "percent or fractions: ?"))
    return found


def _tuple(forms: Any) -> Any:
    return tuple(forms) if isinstance(forms, list) else forms


def cell_words(text: Any, item: ColumnMap) -> str:
    """A cell as it is read, or why it is not."""
    element = catalogue()[item.element]
    try:
        fact_of(text, item)
        entry = entry_of(text, item)
    except BadCell as error:
        return f"not read: {error.problem.message}"
    if entry is not None and entry.unit is not None:
        entry = entry.model_copy(update={"unit": normal_spelling(entry.unit)})
    return statement_words(element, entry)
