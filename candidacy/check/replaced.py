"""Whether settings and tables of one's own fit the formulas that read the shipped ones they stand in the place of."""

from collections import Counter
from collections.abc import Iterable, Mapping

from candidacy.foundation.errors import Code
from candidacy.foundation.files import nearest
from candidacy.rules.cited import Setting, Table
from candidacy.rules.findings import Findings
from candidacy.rules.library import Library
from candidacy.rules.vocabulary import REPORT_RED_FLAGS

_WORDS = {bool: "true or false", float: "a number", str: "text", tuple: "a list", type(None): "null"}


def check_setting(
    name: str, setting: Setting, base: Mapping[str, Setting], library: Library, findings: Findings
) -> None:
    """Add what of a setting cannot be read as its formula reads it, or that no formula reads it.

    An element that a formula of one's own works out may read settings of one's own; nothing else does.

    Parameters
    ----------
    base
        The shipped settings by name.
    """
    place, former = ("settings", name), base.get(name)
    if former is None:
        if not any(element.derived for element in library.own_elements()):
            close = nearest(name, list(base))
            findings.add(place, Code.UNUSED_PARAMETER, "nothing reads a setting of this name", found=name,
                         expected=f"closest is {close}" if close else "the name of a shipped setting")  # fmt: skip
        return
    if setting.unit != former.unit:
        findings.add((*place, "unit"), Code.UNIT_CONFUSED, "a formula reads this number in the shipped unit",
                     found=setting.unit or "none", expected=former.unit or "no unit")  # fmt: skip
    own, shipped = _kind(setting.value), _kind(former.value)
    if own is not shipped:
        findings.add((*place, "value"), Code.WRONG_TYPE, "not the kind of value this setting has",
                     found=setting.value, expected=_WORDS[shipped])  # fmt: skip
    if former.choices is None:
        return
    odd = [code for code in setting.choices or {} if code not in former.choices]
    if all(library.has_table(code) for code in (*former.choices, *odd)):  # it says which table is read
        odd = []
    if setting.choices is None or odd:
        findings.add((*place, "choices"), Code.BAD_CHOICE, "a formula knows the shipped choices and no other",
                     found=", ".join(odd) or "none", expected=", ".join(former.choices))  # fmt: skip


def check_table(
    table: Table, former: Table | None, settings: Mapping[str, Setting], findings: Findings
) -> None:
    """Add keys that stand twice, and what a formula could not read of a table that replaces a shipped one.

    Parameters
    ----------
    settings
        The settings of the library: of tables between which one chooses, none is read by the keys of its rows.
    """
    for key, number in Counter(row.key for row in table.rows).items():
        if number > 1:
            findings.add(("rows",), Code.DUPLICATE_KEY, "two rows have this key", found=key)
    if former is None:
        return
    if set(table.columns) != set(former.columns):
        findings.add(("columns",), Code.CONTRADICTORY_RULES, "formulas read the columns of the shipped table",
                     found=", ".join(table.columns), expected=", ".join(former.columns))  # fmt: skip
        return
    chosen = {code for setting in settings.values() for code in setting.choices or {}}
    kept = {row.key for row in table.rows}
    if table.id not in chosen and table.id != REPORT_RED_FLAGS:
        for row in former.rows:
            if row.key not in kept:
                findings.add(("rows",), Code.CONTRADICTORY_RULES, "formulas look up this row of the shipped table",
                             found=row.key, expected="the row, with the values that hold here")  # fmt: skip
    _check_bands(table, former, findings)
    for column in former.columns:
        kinds = _kinds(row.values[column] for row in former.rows)
        if kinds == {type(None)}:
            continue
        for number, row in enumerate(table.rows):
            if _kind(row.values[column]) not in kinds:
                findings.add(
                    ("rows", number, "values", column), Code.WRONG_TYPE,
                    "not the kind of value that formulas read in this column", found=row.values[column],
                    expected=" or ".join(sorted(_WORDS[kind] for kind in kinds)),
                )  # fmt: skip


# Columns of the two ends of a band, and those that say which bands belong together.
_BANDS = (("low", "high"), ("lowest", "highest"), ("above", "to"))
_TOGETHER = ("instrument", "agent", "source", "guideline", "intensity")


def _check_bands(table: Table, former: Table, findings: Findings) -> None:
    """Bands that meet in the shipped table meet here too: in a gap no band would hold a value, in an overlap two would."""
    own = {row.key: (number, row.values) for number, row in enumerate(table.rows)}
    for low, high in _BANDS:
        if low not in former.columns or high not in former.columns:
            continue
        for below in former.rows:
            for above in former.rows:
                step = _step(below.values[high], above.values[low])
                alike = all(below.values.get(name) == above.values.get(name) for name in _TOGETHER)
                if (
                    step not in (0, 1)
                    or not alike
                    or below is above
                    or not {below.key, above.key} <= own.keys()
                ):
                    continue
                (_, first), (number, second) = own[below.key], own[above.key]
                place = ("rows", number, "values", low)
                if _step(first[high], second[low]) != step:
                    findings.add(place, Code.CONTRADICTORY_RULES, "leaves a gap to the band below it, or overlaps it",
                                 found=f"{first[high]}, then {second[low]}", expected=f"{first[high]}, then {step} more")  # fmt: skip
                elif (
                    f"{low}_left_out" in former.columns
                    and first[f"{high}_left_out"] == second[f"{low}_left_out"]
                ):
                    findings.add(place, Code.CONTRADICTORY_RULES, "the limit itself lies in one of the two bands",
                                 found=second[low], expected="left out of one of them")  # fmt: skip


def _step(end: object, start: object) -> float | None:
    numbers = [each for each in (end, start) if isinstance(each, int | float)]
    return numbers[1] - numbers[0] if len(numbers) == 2 else None


def _kinds(values: Iterable[object]) -> set[type]:
    return {_kind(value) for value in values}


def _kind(value: object) -> type:
    """The kind of a value as a formula reads it: whole numbers and others are numbers."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float
    return type(value)
