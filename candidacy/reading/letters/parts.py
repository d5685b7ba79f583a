"""What a sentence is made of: phrases, numbers with their unit, scores, heights and days, each with its place."""

import re
from functools import cache
from typing import Any, NamedTuple

from candidacy.reading.letters.words import items_of, words
from candidacy.reading.notes.days import days
from candidacy.reading.notes.vocabulary import Item, vocabulary
from candidacy.reading.phrase_steps import Role

_MONTH = re.compile(
    r"\b(?:([A-Za-z]{3,9})\.?,?\s+((?:19|20)\d{2})|(1[0-2]|0?[1-9])/((?:19|20)\d{2}))(?![\d/\-])"
)
_THOUSANDS = re.compile(r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?![\d,])")
_COMMA = re.compile(r"(?<![\d.,])\d+,\d+(?![\d,])")
_STONES = re.compile(
    r"(?<![\d./\-])(\d{1,2})\s*(?:st|stones?)\b(?:,?\s*(\d{1,2})\s*(?:lbs?|pounds?)\b|\s*(\d{1,2})(?![\d./]))?",
    re.IGNORECASE,
)
_POUNDS = 14
"""Pounds in a stone."""
_HALF = re.compile(
    r"\b(?:(?:an?|one)\s+(year|month)\s+and\s+a\s+half|half\s+an?\s+(year)|(\d{1,2}|[a-z]+)\s+and\s+a\s+half\s+(year|month)s?)\b",
    re.IGNORECASE,
)
_GRADED = re.compile(r"\(?\b0\s*(?:-|–|to)\s*10\)?\s*:\s*(\d{1,2}(?:\.\d)?)(?!\s*[\d/–-])")
"""A score behind a label that tells its scale: ``(0-10): 6``."""
_AGED = re.compile(
    r"(?:\b(?:[Hh]e|[Ss]he|[Pp]atient|(?:Mr|Mrs|Ms|Miss)\.?\s+[A-Z][\w'-]*) is\s+(\d{2})(?=[.,;]|\s*$|\s+(?:and(?!\s+(?:over|above|under|a half))|who)\s)"
    r"|\b(?:Mr|Mrs|Ms|Miss)\.?\s+[A-Z][\w'-]*,\s+(\d{2})(?=[.;]|,\s+(?![A-Z])|\s*$))"
)
"""The bare age of the one spoken of: ``She is 44.``, ``Mr A, 38, has``; ``Mr A, 38, Acacia Avenue`` lives there."""
_IN_INCHES = re.compile(r"\b(?:Ht|Height)\.?:?\s*((\d{2})\s*in\b)(?=\s*[.,;]|\s*$)", re.IGNORECASE)
_FEET = re.compile(r"(?<![\d./])([4-7])\s*(?:feet|ft)\b(?!\.?\s*\d)", re.IGNORECASE)
_AGE_AND_SEX = re.compile(r"(?<![\d/.\-])(\d{2})\s*(?:yrs?\.?|years?|y)?\s*/(?=[MF]\b)")
"""The age beside the letter of the sex: ``40 yrs/F``."""
_HYPHENED = re.compile(r"\b([a-z]+|\d{1,2})-(year|month|week)s?(?![\w-])(?!\s+olds?\b)", re.IGNORECASE)
"""``a three-year history``."""
_RATIO = re.compile(r"(?<![\d/.])\d+(?:\.\d+)?/\d+(?:\.\d+)?(?=\s*(?:mg|mcg|micrograms|mmHg)\b)")
"""The strength of two substances in one: it is no choice between two."""
_COMBINED = re.compile(
    r"\bco-?[a-z]{5,}\s+(\d{1,2}(?:\.\d)?\s*(?:mg)?\s*/\s*\d{3}\s*(?:mg)?)(?![\w/])", re.IGNORECASE
)
"""The strength of a medicine of two substances: ``co-codamol 30/500``."""
_SHORT_SPAN = re.compile(
    r"(?:\bx\s*|\b(?:for|over|past|last|work|sick|off)\s+)((\d{1,2})\s?(?:/(12|52|7)|y))(?![\w/.,]?\d|\w|/)|(?<![\d/.])((\d{1,2})(?:/(12|52|7)|y(?:rs?)?))(?=\s+(?:history|hx|h/o)\b)",
    re.IGNORECASE,
)
"""How long, in short: ``x 3y``, and of 12 months, 52 weeks or 7 days: ``for 6/12``."""
_OF_A_SCALE = re.compile(
    r"(?<![\d/.\-])(\d{1,3})\s*(?:/|out of)\s*(27|21|50|52|24|100)(?![\d/.%]|\s*(?:mg|mcg|mmHg))"
)
"""A total with the most that it can be: ``PHQ-9 14/27``."""
_NO_MORE_THAN_A_SCALE = re.compile(r"\bout of\s+\d+", re.IGNORECASE)
"""A scale that no value stands before: ``PHQ-9 out of 27``."""
_PERCENT_TOO = re.compile(r"(?<![\d/.])(\d{1,2})\s*/\s*50\s*(?:[(=,]\s*)?(\d{1,3})\s*%\s*\)?")
"""A sum of fifty with its percentage behind it: ``27/50 (54%)``."""
_RATED = re.compile(
    r"\b(?:NRS|NPRS)\b\s*:?\s*(\d{1,2})(?!\s*[\d/.\-–%]|\s*(?:to|out|years?|months?|mm)\b)", re.IGNORECASE
)
_RATED_ON = re.compile(
    r"(?<![\d.\-])(?<!\d/)(\d{1,2})(?=\s+(?:on |at )?(?:average|avg|av|usual|worst|max|maximum)\b)",
    re.IGNORECASE,
)
"""A score without its scale, behind ``NRS`` and again in the same sentence: ``NRS 6 average, 8 worst``."""
_PERIOD = re.compile(
    r"\b(?:between|from)\s+(?:([A-Za-z]{3,9})\.?\s+)?((?:19|20)\d{2}\s+)?(?:and|to|until|-|–)\s+(?:([A-Za-z]{3,9})\.?\s+)?(?:19|20)\d{2}(?![\d/\-])",
    re.IGNORECASE,
)
"""From when to when something was done: ``between June and October 2025``."""
_YEAR = re.compile(r"(?<![\d/.\-])(?:19|20)\d{2}(?![\d/\-]|\.\d|\s*(?:mg|mL|IU|units))")


def _any(name: str) -> str:
    rows = sorted(words().data[name], key=len, reverse=True)
    return "|".join(r"\s+".join(map(re.escape, row.split())) for row in rows)


@cache
def _in_words() -> dict[str, float]:
    """Numbers as words; they count before a unit only: ``a three year history``."""
    names = vocabulary().data["words"]["numbers_in_words"]
    return {name: float(n + 1 if n < _TEENS else (n - _TEENS + 3) * 10) for n, name in enumerate(names)}


@cache
def _height() -> re.Pattern[str]:
    feet, inches = _any("feet"), _any("inches")
    return re.compile(
        rf"(?<![\d.])([3-7])\s*(?:{feet})\s*(\d{{1,2}})\s*(?:(?:{inches})(?![A-Za-z]))?(?![\d./])",
        re.IGNORECASE,
    )


@cache
def _score() -> re.Pattern[str]:
    figure = r"(\d{1,2}(?:\.\d)?)"
    return re.compile(
        rf"(?<![\d./\-]){figure}(?:\s?(?:{_any('to')})\s?{figure})?\s*(?:{_any('out_of')})\s*10(?![\d/.,]\d|\d|/)",
        re.IGNORECASE,
    )


_COUNTS = ("once", "several")
"""What a number in words says where no unit stands behind it."""
_CALENDAR = ("day", "week", "month", "year")
_ONE_OF = ("month", "year")
"""Units before which the article is a number: ``for over a year``."""
_MILLIGRAMS = 1000.0
"""Of a gram: doses are kept in milligrams."""
_ADULT = 18
_TEENS = 20
"""The names of numbers run one by one up to here, and by tens behind."""


class Part(NamedTuple):
    """A stretch of a sentence: a phrase with its roles, or a measured thing (``kind`` other than ``phrase``).

    ``low`` and ``high`` are those of a number or score, ``unit`` its unit, ``day`` a day, month or year as a record
    writes it; ``bound`` is that of "over" or "at least", ``about`` that it is called approximate.
    """

    kind: str
    start: int
    end: int
    text: str
    roles: tuple[Role, ...] = ()
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    day: str = ""
    bound: str = ""
    about: bool = False

    def role(self, name: str) -> Role | None:
        return next((r for r in self.roles if r.name == name), None)


def parts_of(text: str, start: int, end: int) -> list[Part]:
    """Split ``text[start:end]`` into parts, numbers joined with their unit and with what bounds them."""
    fixed = _fixed(text, start, end)
    out: list[Part] = []
    at = start
    for part in [*fixed, None]:
        stop = part.start if part is not None else end
        out += [_plain(i) for i in items_of(text, at, stop)]
        if part is not None:
            out.append(part)
            at = part.end
    return _bounded(_with_units(_ranges(out)))


def _fixed(text: str, start: int, end: int) -> list[Part]:
    found: list[Part] = []

    def add(kind: str, m: tuple[int, int], **rest: Any) -> None:
        if not any(p.start < m[1] and m[0] < p.end for p in found):
            found.append(Part(kind, m[0], m[1], text[m[0] : m[1]], **rest))

    months = vocabulary().data["months"]
    for m in _PERIOD.finditer(text, start, end):
        if all(name is None or name.lower() in months for name in (m[1], m[3])):
            add("period", m.span())
    for day in days(text, start, end):
        add("day", day.span, day=day.day or "no day")
    for m in _MONTH.finditer(text, start, end):
        name = (m[1] or "").lower()
        if m[3]:
            add("day", m.span(), day=f"{m[4]}-{int(m[3]):02d}")
        elif name in months:
            add("day", m.span(), day=f"{m[2]}-{int(months[name]):02d}")
    for m in _height().finditer(text, start, end):
        if int(m[2]) < 12:
            inches = float(int(m[1]) * 12 + int(m[2]))
            add("height", m.span(), low=inches, high=inches, unit="in")
    for m in _IN_INCHES.finditer(text, start, end):
        add("number", m.span(1), low=float(m[2]), high=float(m[2]), unit="in")
    for m in _FEET.finditer(text, start, end):
        add("height", m.span(), low=12 * float(m[1]), high=12 * float(m[1]), unit="in")
    for m in _STONES.finditer(text, start, end):
        over = int(m[2] or m[3] or 0)
        if over < _POUNDS:
            pounds = float(int(m[1]) * _POUNDS + over)
            add("number", m.span(), low=pounds, high=pounds, unit="lb")
    for m in _HALF.finditer(text, start, end):
        whole = (
            0.0
            if m[2]
            else float(m[3])
            if (m[3] or "").isdecimal()
            else _in_words().get((m[3] or "one").lower(), -1.0)
        )
        if whole >= 0:
            unit = (m[1] or m[2] or m[4]).lower()
            add("number", m.span(), low=whole + 0.5, high=whole + 0.5, unit=unit)
    for m in _HYPHENED.finditer(text, start, end):
        count = float(m[1]) if m[1].isdecimal() else _in_words().get(m[1].lower(), 0.0)
        if count:
            add("number", m.span(), low=count, high=count, unit=m[2].lower())
    for m in _COMBINED.finditer(text, start, end):
        add("strength", m.span(1))
    for m in _RATIO.finditer(text, start, end):
        add("phrase", m.span())
    for m in _SHORT_SPAN.finditer(text, start, end):
        count = float(m[2] or m[5])
        unit = {"12": "month", "52": "week", "7": "day"}.get(m[3] or m[6] or "", "year")
        add("number", m.span(1 if m[1] else 4), low=count, high=count, unit=unit)
    for m in _PERCENT_TOO.finditer(text, start, end):
        if 2 * int(m[1]) == int(m[2]):
            add("number", m.span(), low=float(m[2]), high=float(m[2]), unit="%")
    for m in _AGE_AND_SEX.finditer(text, start, end):
        add("number", m.span(), low=float(m[1]), high=float(m[1]), unit="year_old")
    rated = [m for m in _RATED.finditer(text, start, end) if float(m[1]) <= 10]
    for m in [*rated, *(_RATED_ON.finditer(text, rated[0].end(), end) if rated else ())]:
        if float(m[1]) <= 10:
            add("score", m.span(), low=float(m[1]), high=float(m[1]))
    for m in _AGED.finditer(text, start, end):
        years = float(m[1] or m[2])
        add("number", m.span(1 if m[1] else 2), low=years, high=years, unit="year_old")
    for m in _GRADED.finditer(text, start, end):
        if float(m[1]) <= 10:
            add("score", m.span(), low=float(m[1]), high=float(m[1]))
    for m in _score().finditer(text, start, end):
        low, high = float(m[1]), float(m[2] or m[1])
        if low <= high <= 10:
            add("score", m.span(), low=low, high=high)
    for m in _OF_A_SCALE.finditer(text, start, end):
        if int(m[1]) <= int(m[2]):
            add("number", m.span(), low=float(m[1]), high=float(m[1]), unit=f"/{m[2]}")
    for m in _NO_MORE_THAN_A_SCALE.finditer(text, start, end):
        add("phrase", m.span())
    for m in _THOUSANDS.finditer(text, start, end):
        value = float(m[0].replace(",", ""))
        add("number", m.span(), low=value, high=value)
    for m in _COMMA.finditer(text, start, end):
        add("phrase", m.span())  # a decimal comma, or two numbers: neither is guessed
    for m in _YEAR.finditer(text, start, end):
        add("day", m.span(), day=m[0])
    return sorted(found, key=lambda p: p.start)


def _plain(item: Item) -> Part:
    number = item.role("number")
    if number is not None:
        return Part("number", item.start, item.end, item.text, item.roles, number.value, number.value)
    return Part("phrase", item.start, item.end, item.text, item.roles)


def _ranges(parts: list[Part]) -> list[Part]:
    out: list[Part] = []
    for part in parts:
        if (
            part.kind == "number"
            and len(out) > 1
            and out[-1].text.lower() in words().data["to"]
            and out[-2].kind == "number"
            and out[-2].high < part.low
        ):
            before = out[-2]
            del out[-2:]
            part = part._replace(start=before.start, low=before.low, text="range")
        out.append(part)
    return out


def _weighs(part: Part) -> bool:
    return any(r.name not in _COUNTS for r in part.roles)


def _with_units(parts: list[Part]) -> list[Part]:
    out: list[Part] = []
    for part in parts:
        unit = part.role("units")
        value = _in_words().get(out[-1].text.lower(), 0.0) if out and not _weighs(out[-1]) else 0.0
        if unit is not None and unit.value in _ONE_OF and out and out[-1].text.lower() in ("a", "an"):
            value = 1.0
        if unit is not None and value:
            out[-1] = out[-1]._replace(kind="number", low=value, high=value, roles=())
        aged = part.text == "M" and out and out[-1].low >= _ADULT  # "38M": no height in metres
        if unit is not None and not aged and out and out[-1].kind == "number" and not out[-1].unit:
            times = _MILLIGRAMS if unit.value == "g" else 1.0
            out[-1] = out[-1]._replace(
                end=part.end,
                unit="mg" if unit.value == "g" else unit.value,
                low=out[-1].low * times,
                high=out[-1].high * times,
            )
        else:
            out.append(part)
        if part.text.lower() == "ago" and len(out) > 1 and out[-2].unit in _CALENDAR:
            out[-2:] = [out[-2]._replace(kind="ago", end=part.end, roles=part.roles)]
    return out


def _bounded(parts: list[Part]) -> list[Part]:
    out: list[Part] = []
    for part in parts:
        while (
            part.kind in ("number", "score", "ago")
            and out
            and (out[-1].role("bound") or out[-1].role("about"))
        ):
            bound = out[-1].role("bound")
            if bound is not None and (part.bound or part.low != part.high):
                break
            part = part._replace(
                start=out[-1].start,
                bound=bound.value if bound else part.bound,
                about=part.about or bound is None,
            )
            out.pop()
        out.append(part)
    return out


def form_of(part: Part, unit: str = "") -> dict[str, Any]:
    """Give the value of a number or score as a case record writes it."""
    made: dict[str, Any]
    if part.bound:
        made = {part.bound: part.low}
    elif part.low == part.high:
        made = {"value": part.low}
    else:
        made = {"between": [part.low, part.high]}
    return made | ({"unit": unit} if unit else {})
