"""What a person typed in a usual form (``5'6"``, ``204 lb``, ``7/10``, ``17 May 1984``, ``3/4/2026``), and the words
that show it back in the unit of the element. Such a reading counts only once the person has seen those words.
"""

import re
from datetime import date

from msgspec import Struct

from candidacy.case.element import Element
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import entry_from_text
from candidacy.foundation.dates import date_span
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.foundation.units import convert
from candidacy.foundation.usual_forms import FormError, iso_day, quantity
from candidacy.foundation.values import Span, number_words, point

USUAL_DAYS = "also 17 May 1984, May 17, 1984, 5/17/1984 (month first), May 1984"
_NAMED = ("%d %B %Y", "%d %b %Y", "%B %d %Y", "%b %d %Y", "%d-%B-%Y", "%d-%b-%Y", "%B %Y", "%b %Y")
_MONTH_FIRST, _DAY_FIRST = ("%m/%d/%Y", "%m/%Y"), ("%d/%m/%Y",)
_ORDINAL = re.compile(r"(?<=\d)(st|nd|rd|th)\b", re.IGNORECASE)
_SHORT_YEAR = re.compile(r"\d{1,2}/\d{1,2}/\d{2}\Z")
# Signs of feet, inches or a score out of a scale: what is wrong with them is told in their own words.
_OWN_FORM = re.compile(r"['’′\"”″/]|\bft\b|\bf(ee|oo)t\b|\bof\b", re.IGNORECASE)
_FORM_WORDS = {
    "at_least": "at least ",
    "at_most": "at most ",
    "more_than": "more than ",
    "less_than": "less than ",
}


class Typed(Struct, frozen=True):
    """What was typed, read.

    Attributes
    ----------
    entry
        The entry without provenance; ``None`` for an empty field.
    shown
        The reading in words, in the unit of the element; empty where what was typed says the same already.
    """

    entry: FactEntry | None
    shown: str = ""


def read_typed(element: Element, text: str) -> Typed:
    """Read what a person typed for a number, date or words element, usual forms included.

    Examples
    --------
    >>> from candidacy.case.catalogue import shipped_catalogue
    >>> read_typed(shipped_catalogue()["body_height"], "5'6\\"").shown
    '66 in, which is 167.6 cm'

    Raises
    ------
    CaseError
        E203, E206 or E207 where the text cannot be read in one way.
    """
    if element.kind in ("number", "integer"):
        return _number(element, text)
    if element.kind == "date":
        return _date(element, text)
    return Typed(entry_from_text(element, text))


def _number(element: Element, text: str) -> Typed:
    try:
        entry = entry_from_text(element, text)
    except CaseError:
        entry, plain = None, False
        if not _OWN_FORM.search(text):
            raise
    else:
        if entry is None or entry.unknown is not None:
            return Typed(entry)
        plain = entry.unit is None or entry.unit in element.accepted_units
    if not plain:
        units = element.accepted_units if element.unit is not None else []
        try:
            number, unit = quantity(text, units, _top(element))
        except FormError as error:
            if entry is not None and not _OWN_FORM.search(text):
                return Typed(entry)  # the record says what is wrong with the unit
            raise CaseError([Problem(Code.WRONG_TYPE, str(error), field=element.name, found=shorten(text.strip()),
                                     expected=error.expected)]) from None  # fmt: skip
        entry = FactEntry(value=number, unit=unit or element.unit)
    assert entry is not None
    other = entry.unit is not None and entry.unit != element.unit
    if plain and not other:
        return Typed(entry)
    return Typed(entry, _shown(element, entry, converted=other))


def _top(element: Element) -> float | None:
    """The highest number of a scale that is written without a unit or in percent; ``None`` for what is measured."""
    return element.possible.high if element.possible and element.unit in (None, "1", "%") else None


def _shown(element: Element, entry: FactEntry, *, converted: bool) -> str:
    form = entry.forms[0]
    parts = getattr(entry, form)
    parts = list(parts) if isinstance(parts, tuple) else [parts]
    joint = " or " if form == "one_of" else " to "
    said = f"{_FORM_WORDS.get(form, '')}{joint.join(number_words(p) for p in parts)}"
    unit = f" {entry.unit}" if entry.unit and entry.unit != "1" else ""
    if not converted or element.unit is None:
        high = (
            f" of {number_words(element.possible.high)}" if element.possible and element.possible.high else ""
        )
        return f"{said}{unit or high}"
    spans = [convert(point(float(p)), entry.unit or element.unit, element.unit) for p in parts]
    there = joint.join(_span_words(span) for span in spans)
    return f"{said}{unit}, which is {_FORM_WORDS.get(form, '')}{there} {element.unit}"


def _span_words(span: Span) -> str:
    low, high = (number_words(float(f"{end:.4g}")) for end in (span.low, span.high))
    return low if low == high else f"{low} to {high}"


def _date(element: Element, text: str) -> Typed:
    try:
        return Typed(entry_from_text(element, text))
    except CaseError as plain:
        read = usual_day(text)
        if read is None:
            problem = plain.problems[0]
            expected = f"{problem.expected}; {USUAL_DAYS}"
            hint = "the year needs four digits" if _SHORT_YEAR.match(text.strip()) else problem.message
            raise CaseError([Problem(problem.code, hint, field=element.name, found=problem.found,
                                     expected=expected)]) from None  # fmt: skip
        written, words = read
        return Typed(FactEntry(value=written), words)


def usual_day(text: str) -> tuple[str, str] | None:
    """A day, month or year in a usual form, as YYYY-MM-DD and in words that say how it was read; else ``None``.

    With slashes the month is read first, as is usual in American documents; where the day could as well come first,
    the words say so and how to write that day.

    Examples
    --------
    >>> usual_day("May 17th, 1984"), usual_day("3/4/2026")[1]
    (('1984-05-17', '17 May 1984'), '4 March 2026, month first; for 3 April 2026 write 2026-04-03')
    """
    plain = " ".join(_ORDINAL.sub("", text).replace(",", " ").replace(".", " ").split())
    plain = re.sub(r"\bsept\b", "Sep", plain, flags=re.IGNORECASE)
    for forms in (_NAMED, _MONTH_FIRST, _DAY_FIRST):
        found = _day_in(plain, forms)
        if found:
            other = _day_in(plain, _DAY_FIRST) if forms is _MONTH_FIRST else ""
            doubt = f", month first; for {_in_words(other)} write {other}" if other not in ("", found) else ""
            return found, _in_words(found) + doubt
    return None


def _day_in(text: str, forms: tuple[str, ...]) -> str:
    try:
        return iso_day(text, forms)
    except FormError:
        return ""


def _in_words(written: str) -> str:
    first = date.fromordinal(int(date_span(written).low))
    month = f"{first:%B} {first.year}"
    return f"{first.day} {month}" if len(written) == len("2026-01-31") else month
