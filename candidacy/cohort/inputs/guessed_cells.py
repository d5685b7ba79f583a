"""How the cells of a column are probably written: dates, decimal sign, foreign words for our codes.

Where two readings are possible the answer is a question, never a choice: 03/04/2026 has two days, 1,234 two
values, and 4 is no grade of a scale that counts I to V.
"""

import re
from dataclasses import dataclass, field

from candidacy.case.element import LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.cohort.inputs.cells import BadCell, fact_of
from candidacy.cohort.inputs.fractions import MESSAGE, all_fractions, may_be_fractions
from candidacy.cohort.inputs.guessed_dates import date_forms_of
from candidacy.cohort.inputs.mapping import ColumnMap
from candidacy.cohort.inputs.usual_headers import ANSWERS, CODES, CROSSES, NOT_STATED, TICKS

_ROMAN = ("1", "2", "3", "4", "5")
_LISTED = 8  # texts that are not understood, named one by one
OPEN = "?"  # stands where a person has to decide


@dataclass
class Writing:
    """How cells are written, for the mapping, and what a person has to look at."""

    entry: dict[str, object] = field(default_factory=dict)
    questions: list[str] = field(default_factory=list)
    checks: list[str] = field(default_factory=list)


def writing_of(texts: list[str], element: Element, unit: str, typed: bool) -> Writing:
    """How the most frequent texts of a column are written.

    Parameters
    ----------
    unit
        The unit named in the header, or an empty text.
    typed
        The cells are numbers, days or truths already.
    """
    found = Writing()
    if element.kind == "date" and not typed:
        _dates(texts, element.name == "birth_date", found)
    if element.kind in ("number", "integer") and not typed:
        _decimal(texts, found)
    if may_be_fractions(element, unit or element.unit) and all_fractions(
        texts, "," if found.entry.get("decimal") == "," else "."
    ):
        found.entry["fractions"] = OPEN
        found.questions.append(f"fractions: {MESSAGE} write true if 0.53 is 53 %, false if it is 0.53 %")
    item = _item(element, unit, found)
    odd = [text for text in texts if not _understood(text, item, element, bool(unit))]
    codes = {text: code for text in odd if (code := _code(element, text))}
    unknown = {text: "not_stated" for text in odd if text.lower() in NOT_STATED and text not in codes}
    rest = [text for text in odd if text not in codes and text not in unknown]
    if codes:
        found.entry["codes"] = codes
        found.checks.append("compare the codes with what the table means by its words")
    if unknown:
        found.entry["unknown"] = unknown
        found.checks.append(f"{', '.join(map(repr, unknown))} taken for not stated")
    if rest and OPEN not in found.entry.values():
        _tell(rest, element, found)
    return found


def _tell(rest: list[str], element: Element, found: Writing) -> None:
    named = ", ".join(repr(text) for text in rest[:_LISTED]) + (" and more" if len(rest) > _LISTED else "")
    hint = "map under codes or unknown, or these facts are unknown and listed"
    if element.kind == "choice" and "I" in element.codes and any(text in _ROMAN for text in rest):
        hint = "a digit is no grade of this scale; say which scale the table has"
    found.questions.append(f"not understood: {named}; {hint}")


def _item(element: Element, unit: str, found: Writing) -> ColumnMap:
    decimal = found.entry.get("decimal")
    form = found.entry.get("date_format")
    return ColumnMap(
        element=element.name,
        unit=unit or element.unit,
        decimal="," if decimal == "," else ".",
        date_format=None if form in (None, OPEN) else tuple(form) if isinstance(form, list) else str(form),
    )


def _understood(text: str, item: ColumnMap, element: Element, unit_known: bool) -> bool:
    try:
        fact_of(text, item)
    except BadCell as error:
        # what lies outside the range in our unit may be right in that of the table
        return element.unit is not None and not unit_known and "range" in error.problem.message
    return True


def _code(element: Element, text: str) -> str:
    """A code for a foreign text where the spelling leaves little doubt."""
    lowered = text.lower()
    if element.kind == "boolean":
        return "true" if lowered in TICKS else "false" if lowered in CROSSES else ""
    if element.kind == "choice":
        lowered = re.sub(r"^(grade|modic|pfirrmann)\s+", "", lowered)
        if element.name in ANSWERS and lowered in (*TICKS, *CROSSES) and not lowered.isdigit():
            return ANSWERS[element.name][lowered in CROSSES]
        if lowered in CODES.get(element.name, ()):
            return CODES[element.name][lowered]
        if element.name == "modic_type":
            return _modic(lowered)
        labels = {label.lower(): code for code, label in (element.choices or {}).items()}
        plain = {code.lower(): code for code in element.codes}
        # a digit is never taken for a Roman grade: the two scales must not be mixed
        return "" if lowered in _ROMAN else plain.get(lowered.replace(" ", "_"), labels.get(lowered, ""))
    if element.kind == "members" and element.levels:
        levels = [_level(part) for part in re.split(r"\s*(?:[;,&+]|\band\b)\s*", text.strip())]
        return ";".join(levels) if all(levels) else ""
    return ""


def _level(text: str) -> str:
    level = normal_level(re.sub(r"(?i)^(l\d)\s*(s\d)$", r"\1-\2", text)) or ""
    return level if level in LEVELS else ""


def _modic(text: str) -> str:
    """Endplate changes are counted in Roman and in plain digits alike."""
    bare = re.sub(r"^type\s+", "", text)
    return {"none": "0", "i": "1", "ii": "2", "iii": "3", "1": "1", "2": "2", "3": "3"}.get(bare, "")


def _dates(texts: list[str], of_birth: bool, found: Writing) -> None:
    form, question = date_format_of(texts, of_birth)
    if question:
        found.entry["date_format"] = OPEN
        found.questions.append(question)
    elif form:
        found.entry["date_format"] = form
        told = form if isinstance(form, str) else " or ".join(form)
        found.checks.append(f"dates read as {told}, such as {_first_date(texts)!r}")
        if not isinstance(form, str):
            found.checks.append("a date that reads as two days is not used and is listed")


def _first_date(texts: list[str]) -> str:
    return next((text for text in texts if text[:1].isalnum() and any(map(str.isdigit, text))), "")


def date_format_of(texts: list[str], of_birth: bool = False) -> tuple[str | list[str], str]:
    """The way or ways in which these dates are written, or else a question; neither where it is YYYY-MM-DD."""
    known = [text for text in texts if text.lower() not in NOT_STATED]
    forms, question = date_forms_of(known, of_birth)
    return (forms[0] if len(forms) == 1 else forms or ""), question


def _decimal(texts: list[str], found: Writing) -> None:
    commas = [text for text in texts if re.fullmatch(r"[<>=+-]*\d+,\d+", text)]
    if not commas:
        return
    if any(len(text.split(",")[1]) != 3 for text in commas):
        found.entry["decimal"] = ","
        found.checks.append(f"the comma is the decimal sign, as in {commas[0]!r}")
        return
    found.entry["decimal"] = OPEN
    found.questions.append(
        f"decimal: is {commas[0]!r} a number with three decimals? then write ','; if the comma parts thousands, "
        "write '.' and add thousands: ','"
    )
