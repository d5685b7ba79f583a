"""Numbers, heights and days as people usually write them: ``204 lbs``, ``5'9"``, ``7/10``, ``53%``, ``17 May 1984``.

One home for every place where a person types or exports a value. Only what can be read in one way is read; anything
else raises `FormError` with what would be allowed. What a value means for an element is decided elsewhere.
"""

import re
from collections.abc import Sequence
from datetime import date, datetime

from candidacy.foundation.dates import DateError, date_span
from candidacy.foundation.units import normal_spelling

_PLAIN = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)\Z")
_FEET = re.compile(
    r"(?P<feet>\d{1,2})\s*(?:['’′]|ft\.?|feet|foot)[\s,-]*"
    r"(?:(?P<inches>\d{1,2}(?:\.\d+)?)\s*(?:[\"”″]|''|’’|in\.?|inch|inches)?)?",
    re.IGNORECASE,
)
_OUT_OF = re.compile(r"(?P<score>[-+]?\d+(?:[.,]\d+)?)\s*(?:/|out of|of)\s*(?P<top>\d+)", re.IGNORECASE)
_WITH_UNIT = re.compile(r"(?P<number>[-+]?[\d.,' \u00a0\u202f]*\d)\.?\s*(?P<unit>[^\d\s.,'+-].*)")
_GROUPED = {
    ",": re.compile(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?\Z"),
    ".": re.compile(r"[-+]?\d{1,3}(\.\d{3})+(,\d+)?\Z"),
    "'": re.compile(r"[-+]?\d{1,3}('\d{3})+([.,]\d+)?\Z"),
    " ": re.compile(r"[-+]?\d{1,3}( \d{3})+([.,]\d+)?\Z"),
}
_PARTS = re.compile(r"%([A-Za-z])")
_NAMED = ("b", "B")
_INCHES_IN_A_FOOT = 12
# signs of a comparison, by the form of a record entry; the longer ones first
SIGNS = {
    ">=": "at_least", "<=": "at_most", "≥": "at_least", "≤": "at_most", ">": "more_than", "<": "less_than",
}  # fmt: skip
YES, NO = ("true", "yes", "y"), ("false", "no", "n")


class FormError(ValueError):
    """Raised for text that is not written in a way that can be read in one way only.

    Attributes
    ----------
    expected
        What is allowed.
    """

    def __init__(self, message: str, expected: str) -> None:
        self.expected = expected
        super().__init__(message)


def quantity(
    text: str, units: Sequence[str] = (), top: float | None = None, decimal: str = ".", thousands: str = ""
) -> tuple[int | float, str]:
    """A number with the unit that is written beside it, or an empty text where there is none.

    Parameters
    ----------
    units
        Units that may be written, in our spelling.
    top
        The highest number of the scale; ``7/10`` is read only where this is 10.
    decimal, thousands
        The signs that were declared. A comma or point that may be either is not read.

    Examples
    --------
    >>> quantity("204 lbs", ["kg", "lb"]), quantity("5'9\\"", ["cm", "in"]), quantity("7/10", top=10)
    ((204, 'lb'), (69, 'in'), (7, ''))

    Raises
    ------
    FormError
        If it is no number, or a unit, scale or sign leaves open which number it is.
    """
    text = re.sub(r"[\u00a0\u202f]", " ", text).strip()
    if _PLAIN.match(text) and decimal == ".":
        return _plain(text, decimal, thousands), ""
    feet = _FEET.fullmatch(text)
    if feet is not None:
        return _height(feet, units), "in"
    score = _OUT_OF.fullmatch(text)
    if score is not None:
        if top is None or float(score["top"]) != top:
            scale = f"a number out of {top:g}, or a plain number" if top is not None else "a plain number"
            raise FormError("a number out of another scale", scale)
        return _plain(score["score"], decimal, thousands), ""
    with_unit = _WITH_UNIT.fullmatch(text)
    if with_unit is not None and units:
        unit = unit_of(with_unit["unit"], units)
        if not unit:
            raise FormError("a unit that this element has not", f"a number, alone or with {', '.join(units)}")
        return _plain(with_unit["number"].strip(), decimal, thousands), unit
    return _plain(text, decimal, thousands), ""


def unit_of(text: str, units: Sequence[str]) -> str:
    """The unit that a text names among ``units``, or an empty text."""
    text = text.strip()
    for each in (text, text.rstrip("."), text.lower(), text.lower().rstrip(".")):
        if normal_spelling(each) in units:
            return normal_spelling(each)
    return ""


def _height(found: re.Match[str], units: Sequence[str]) -> int | float:
    if "in" not in units:
        raise FormError("feet and inches, which this element has not", ", ".join(units) or "a plain number")
    inches = found["inches"] or "0"
    if float(inches) >= _INCHES_IN_A_FOOT:
        raise FormError("more inches than a foot has", "feet and 0 to 11 inches, such as 5'9\"")
    return int(found["feet"]) * _INCHES_IN_A_FOOT + (float(inches) if "." in inches else int(inches))


def _plain(text: str, decimal: str, thousands: str) -> int | float:
    """A bare number by the declared signs."""
    hint = "a plain number such as 3.5, or <35, >=6, 33..37"
    other = "." if decimal == "," else ","
    if thousands and _GROUPED[thousands].match(text):
        text = text.replace(thousands, "")
    elif _GROUPED[other].match(text):
        # two groups, or a group and decimals, can be nothing else than thousands
        if text.count(other) < 2 and decimal not in text:
            raise FormError(
                f"the {'comma' if other == ',' else 'point'} may part thousands or decimals",
                f"{hint}; declare thousands or decimal in the mapping",
            )
        text = text.replace(other, "")
    if decimal == "," and text.count(",") <= 1:
        text = text.replace(",", ".")
    if not _PLAIN.match(text):
        raise FormError("not a number", hint)
    return float(text) if "." in text else int(text)


def truth(text: str) -> bool | None:
    """Whether a text says yes or no in so many words; ``None`` where it says neither."""
    lowered = text.strip().lower()
    return True if lowered in YES else False if lowered in NO else None


# --- days


def iso_day(text: str, forms: Sequence[str] = ()) -> str:
    """A whole or partial date in our spelling, read in the forms that were declared; without any, YYYY-MM-DD.

    Parameters
    ----------
    forms
        In the signs of strptime. ``%m/%Y``, ``%b %Y`` and ``%Y`` give a month or a year.

    Examples
    --------
    >>> iso_day("17 May 1984", ["%d %B %Y"]), iso_day("13/02/1980", ["%d/%m/%Y", "%m/%d/%Y"])
    ('1984-05-17', '1980-02-13')

    Raises
    ------
    FormError
        If no form fits, or two of them give different days: which is right is never guessed.
    """
    text = text.strip()
    if not forms:
        return _checked(text, "YYYY-MM-DD, YYYY-MM or YYYY")
    found = {each: read for each in forms if (read := _read(text, each))}
    if not found:
        raise FormError(
            "not a date of this form" if len(forms) == 1 else "not a date of these forms", " or ".join(forms)
        )
    if len(set(found.values())) > 1:
        told = " or ".join(f"{read} ({form})" for form, read in found.items())
        raise FormError(f"may be {told}", f"a date that reads in one way only, in {' or '.join(forms)}")
    return _checked(next(iter(found.values())), " or ".join(forms))


def _checked(text: str, expected: str) -> str:
    try:
        date_span(text)
    except DateError as error:
        raise FormError(str(error), expected) from None
    return text


def _read(text: str, form: str) -> str:
    try:
        day = datetime.strptime(text, form)
    except ValueError:
        return ""
    signs = set(_PARTS.findall(form))
    # without signs between them, digits must be all there: 2026113 is no %Y%m%d
    if form == "%Y%m%d" and len(text) != len("20260113"):
        return ""
    if signs & {"d", "j"}:
        return day.date().isoformat()
    return f"{day.year:04d}-{day.month:02d}" if signs & {"m", *_NAMED} else f"{day.year:04d}"


def is_date_form(form: str) -> bool:
    """Say whether a form names a day, a month or a year without doubt."""
    signs = set(_PARTS.findall(form.replace("%%", "")))
    if not signs & {"Y", "y"} or signs - set("YymdbBjHMSfIpTaA"):
        return False
    months = signs & {"m", *_NAMED}
    if "d" in signs and not months:
        return False
    day = date(2026, 11, 25)
    try:
        return _read(day.strftime(form), form) in ("2026-11-25", "2026-11", "2026")
    except ValueError:
        return False
