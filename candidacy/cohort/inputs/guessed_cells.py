"""How the cells of a column are probably written: dates, decimal sign, foreign words for our codes.

Where two readings are possible the answer is a question, never a choice: 03/04/2026 has two days, 1,234 two
values, and 4 is no grade of a scale that counts I to V.
"""

import re
from dataclasses import dataclass, field
from datetime import datetime

from candidacy.case.catalogue import LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.cohort.inputs.cells import BadCell, fact_of
from candidacy.cohort.inputs.mapping import ColumnMap
from candidacy.foundation.dates import DateError, date_span

_YES, _NO = ("yes", "y", "true", "1", "present", "positive"), ("no", "n", "false", "0", "absent", "negative")
_NOT_STATED = (
    "unknown",
    "n/a",
    "na",
    "n.a.",
    "not known",
    "not stated",
    "not recorded",
    "nr",
    "-",
    "--",
    ".",
    "?",
)
_ROMAN = ("1", "2", "3", "4", "5")
_LISTED = 8  # texts that are not understood, named one by one
OPEN = "?"  # stands where a person has to decide
DATE_FORMATS = (
    "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%d.%m.%y",
    "%d/%m/%y", "%m/%d/%y", "%d %b %Y", "%d %B %Y", "%d-%b-%Y", "%b %d, %Y", "%B %d, %Y", "%Y-%m-%d %H:%M:%S",
    "%Y-%m-%dT%H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M", "%d.%m.%Y %H:%M",
)  # fmt: skip


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
    item = _item(element, unit, found)
    odd = [text for text in texts if not _understood(text, item, element, bool(unit))]
    codes = {text: code for text in odd if (code := _code(element, text))}
    unknown = {text: "not_stated" for text in odd if text.lower() in _NOT_STATED and text not in codes}
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
    hint = "map under codes or unknown, or their rows are set aside"
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
        date_format=str(form) if form not in (None, OPEN) else None,
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
        return "true" if lowered in _YES else "false" if lowered in _NO else ""
    if element.kind == "choice":
        labels = {label.lower(): code for code, label in (element.choices or {}).items()}
        plain = {code.lower(): code for code in element.codes}
        # a digit is never taken for a Roman grade: the two scales must not be mixed
        return "" if lowered in _ROMAN else plain.get(lowered.replace(" ", "_"), labels.get(lowered, ""))
    if element.kind == "members" and element.levels:
        level = normal_level(text)
        return level if level in LEVELS else ""
    return ""


def _dates(texts: list[str], of_birth: bool, found: Writing) -> None:
    form, question = date_format_of(texts, of_birth)
    if question:
        found.entry["date_format"] = OPEN
        found.questions.append(question)
    elif form:
        found.entry["date_format"] = form
        found.checks.append(f"dates read as {form}, such as {texts[0]!r}")


def date_format_of(texts: list[str], of_birth: bool = False) -> tuple[str, str]:
    """The one way in which all these dates are written, or else a question; neither where it is YYYY-MM-DD."""
    dates = [text for text in texts if re.search(r"\d", text) and not text.startswith("?")]
    if not dates or any(map(_is_ours, dates)):
        return "", ""
    fitting = [form for form in DATE_FORMATS if all(_reads(text, form) for text in dates)]
    if len(fitting) == 1 and not (of_birth and "%y" in fitting[0]):
        return fitting[0], ""
    if fitting and of_birth and "%y" in fitting[0]:
        return "", "years of birth of two digits: which century? write years of four digits in the table"
    if fitting:
        days = " or ".join(f"{form} ({_reads(dates[0], form)})" for form in fitting)
        return "", f"date_format: is {dates[0]!r} {days}? write the right one"
    return (
        "",
        "date_format: write how dates are written, such as %d.%m.%Y; not all are written alike: "
        + ", ".join(map(repr, dates[:3])),
    )


def _is_ours(text: str) -> bool:
    try:
        date_span(text.lstrip("<>=").split("..")[0])
    except DateError:
        return False
    return True


def _reads(text: str, form: str) -> str:
    try:
        return datetime.strptime(text, form).date().isoformat()
    except ValueError:
        return ""


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
        "write '.' and take the commas out of the table"
    )
