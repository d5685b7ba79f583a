"""Facts typed by a person into one field: what the words mean, and the words for what is recorded.

It reads the form of what was typed ("31.5", "154 lb", "4 to 6 mm", ">6 months", "2025-03", "?"); whether the
value suits the element is checked where every record is checked. Nothing is guessed: what is not understood
is told, and the field keeps its text.
"""

import re

from candidacy.case.element import Element
from candidacy.case.record import FactEntry, Reason
from candidacy.foundation import units
from candidacy.foundation.dates import DateError, date_span
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.foundation.values import number_words

REASONS: dict[Reason, str] = {
    "not_stated": "not stated in the source",
    "not_asked": "not asked",
    "not_applicable": "not applicable",
    "uncertain_in_source": "uncertain in the source",
    "not_readable": "not readable",
    "conflicting": "sources conflict",
}
NUMBER_HELP = "a number; also 30 to 35, >6, <6, at least 6, at most 6, or ? if not known"
DATE_HELP = "YYYY-MM-DD, YYYY-MM or YYYY; also A to B, not before A, not after B, or ? if not known"

_FIGURE = r"[-+]?[0-9]+(?:\.[0-9]+)?"
_ALONE = re.compile(rf"({_FIGURE})\s*(.*)\Z", re.DOTALL)
_RANGE = re.compile(rf"(?:between\s+)?({_FIGURE})\s*(?:to|-|–|and)\s*({_FIGURE})\s*(.*)\Z", re.DOTALL)
_EITHER = re.compile(rf"({_FIGURE})\s+or\s+({_FIGURE})\s*(.*)\Z", re.DOTALL)
_DAY = r"[0-9]{4}(?:-[0-9]{2}){0,2}"
_DAYS = re.compile(rf"({_DAY})\s+to\s+({_DAY})\Z")
# The sign or words in front of a number -> the form of the entry.
_SIGNS = {
    ">=": "at_least",
    "≥": "at_least",
    "at least": "at_least",
    "<=": "at_most",
    "≤": "at_most",
    "at most": "at_most",
    "up to": "at_most",
    ">": "more_than",
    "more than": "more_than",
    "over": "more_than",
    "<": "less_than",
    "less than": "less_than",
    "under": "less_than",
}
_DATE_SIGNS = {
    "not before": "not_before",
    "from": "not_before",
    "not after": "not_after",
    "until": "not_after",
}
_WRITTEN = {"at_least": "at least ", "at_most": "at most ", "more_than": ">", "less_than": "<"}


def entry_from_text(element: Element, text: str) -> FactEntry | None:
    """Read what a person typed for a number, date or words element.

    Parameters
    ----------
    element
        The element the field belongs to.
    text
        What was typed. A number without a unit is in the element's storage unit, which its label names.

    Returns
    -------
    FactEntry or None
        The entry without provenance; ``None`` for an empty field.

    Raises
    ------
    CaseError
        E203 or E207 where the text has none of the known forms.
    """
    typed = text.strip()
    if not typed:
        return None
    if typed.startswith("?"):
        return _unknown(element, typed)
    if element.kind == "words":
        return FactEntry(value=typed)
    if element.kind == "date":
        return _date(element, typed)
    return _number(element, typed)


def _refuse(element: Element, code: Code, message: str, found: str, expected: str) -> CaseError:
    return CaseError([Problem(code, message, field=element.name, found=shorten(found), expected=expected)])


def _unknown(element: Element, typed: str) -> FactEntry:
    words = typed[1:].strip().lower()
    if not words:
        return FactEntry(unknown="not_stated")
    for reason, meaning in REASONS.items():
        if words in (meaning, reason.replace("_", " "), reason):
            return FactEntry(unknown=reason)
    allowed = "? alone, or ? with " + "; ".join(REASONS.values())
    raise _refuse(element, Code.BAD_CHOICE, "not a reason for not knowing", typed, allowed)


def _signed(typed: str, signs: dict[str, str]) -> tuple[str, str]:
    low = typed.lower()
    for sign, form in signs.items():
        if low.startswith(sign):
            return form, typed[len(sign) :].strip()
    return "", typed


def _unit(element: Element, rest: str) -> str | None:
    return units.normal_spelling(rest.strip()) if rest.strip() else element.unit


def _figure(text: str) -> int | float:
    return float(text) if "." in text else int(text)


def _number(element: Element, typed: str) -> FactEntry:
    form, rest = _signed(typed, _SIGNS)
    if form:
        alone = _ALONE.match(rest)
        if alone is not None:
            return FactEntry.model_validate({form: _figure(alone[1]), "unit": _unit(element, alone[2])})
    else:
        pair = _RANGE.match(typed)
        if pair is not None:
            bounds = (_figure(pair[1]), _figure(pair[2]))
            return FactEntry(between=bounds, unit=_unit(element, pair[3]))
        either = _EITHER.match(typed)
        if either is not None and element.kind == "integer":
            return FactEntry(one_of=(_figure(either[1]), _figure(either[2])), unit=_unit(element, either[3]))
        alone = _ALONE.match(typed)
        # "31,5" or "3 4" is not a number followed by a unit
        if alone is not None and not re.match(r"[\d.,]", alone[2]):
            return FactEntry(value=_figure(alone[1]), unit=_unit(element, alone[2]))
    raise _refuse(element, Code.WRONG_TYPE, "not understood as a number", typed, NUMBER_HELP)


def _date(element: Element, typed: str) -> FactEntry:
    form, rest = _signed(typed, _DATE_SIGNS)
    pair = _DAYS.match(typed)
    days = [rest] if form else list(pair.groups()) if pair else [typed]
    try:
        for day in days:
            date_span(day)
    except DateError as error:
        raise _refuse(element, Code.BAD_DATE, str(error), typed, DATE_HELP) from None
    if form:
        return FactEntry.model_validate({form: days[0]})
    return FactEntry(between=tuple(days)) if pair else FactEntry(value=days[0])


def entry_text(element: Element, entry: FactEntry | None) -> str:
    """Words that `entry_from_text` reads back to the same statement; provenance apart.

    The unit is written only where it is not the storage unit.
    """
    if entry is None:
        return ""
    if entry.unknown is not None:
        return "?" if entry.unknown == "not_stated" else f"? {REASONS[entry.unknown]}"
    form = next(iter(entry.forms), "")
    if not form:
        return ""
    value = getattr(entry, form)
    if element.kind == "words":
        return str(value)
    unit = f" {entry.unit}" if entry.unit and units.normal_spelling(entry.unit) != element.unit else ""
    if isinstance(value, tuple):
        joint = " or " if form == "one_of" else " to "
        return joint.join(_plain(part) for part in value) + unit
    if form in ("not_before", "not_after"):
        return f"{form.replace('_', ' ')} {value}"
    return f"{_WRITTEN.get(form, '')}{_plain(value)}{unit}"


def _plain(value: object) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number_words(value)
    return str(value)
