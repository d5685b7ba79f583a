"""Names of lumbar discs and vertebrae as they are written in reports, and what each expands to.

It knows spelling of places only; which finding belongs to which place is decided in ``place``.
"""

import itertools
import re
from functools import lru_cache
from typing import NamedTuple

# Written for both cases letter by letter: the flag for ignoring case slows every token of every report.
_DASH = r"\-/–—‐‑−\\_"
_VERTEBRA = r"(?:[Ll][Vv]?\s?-?\s?[1-6]|[TtDd]\s?(?:1[0-2]|[6-9])|[Ss]\s?[1-3])(?!\d)"
_UNIT = r"(?:(?:[Mm][Mm]|[Cc][Mm]|[Dd][Ee][Gg](?:[Rr][Ee][Ee][Ss]?)?)(?![A-Za-z])|%|[Xx]\s?\d)"
"""Behind a number it is a measurement; "degenerative" is no unit."""
_DIGIT = rf"(?:1[0-2]|[1-6])(?!\d|[.]\d|\s*{_UNIT})"
_SPOKEN = r"\s(?:[Dd][Aa][Ss][Hh]|[Ss][Ll][Aa][Ss][Hh])\s"  # a mark that was dictated and written out
_LATER = (
    rf"(?:(?:\s*[{_DASH}]\s*|{_SPOKEN})(?:{_VERTEBRA}|[Ss][IiLl](?![A-Za-z])|{_DIGIT})|\s*(?:{_VERTEBRA}))"
)
_BONES = r"(?:[Vv]ert|[Bb]od|[Pp]ed|[Ll]am|[Nn]er|[Rr]oot|[Ff]acet)"
_FURTHER = rf"\s*(?:[,/&+]|[Aa][Nn][Dd]\b)\s*(?:[Ss][1Il](?![\w{_DASH}/])|[1-6](?!\d|[.]\d|[{_DASH}/]\s*[LlSs\d]|\s*{_UNIT}))"
_LEVEL_WORD = r"(?:[Ll][Ee][Vv][Ee][Ll]|[Dd][Ii][Ss][CcKk])"

_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6"}
_NAMED = "|".join(f"[{w[0].upper()}{w[0]}]{w[1:]}" for w in _NUMBERS)
_IN_WORDS = re.compile(rf"\b(?:{_NAMED})\b")


def _any_case(word: str) -> str:
    return "".join(f"[{c.upper()}{c}]" if c.isalpha() else c for c in word)


_ORDER_WORDS = ("first", "second", "third", "fourth", "fifth")
_NTH = {
    w: n
    for n, pair in enumerate(zip(_ORDER_WORDS, ("1st", "2nd", "3rd", "4th", "5th"), strict=True), 1)
    for w in pair
}
_ONE_NTH = rf"(?:{'|'.join(map(_any_case, _NTH))})"
_ORDINALS = (
    rf"{_ONE_NTH}(?:(?:\s*,\s*(?:{_any_case('and')}\s+)?|\s+(?:{_any_case('and')}|&|{_any_case('to')}|{_any_case('through')})\s+){_ONE_NTH})*"
    rf"\s+{_any_case('lumbar')}"
)
ORDINAL = (
    rf"(?=[FSTfst1-5])(?<![A-Za-z0-9]){_ORDINALS}"
    rf"(?=\s+(?:{_any_case('intervertebral')}\s+)?{_any_case('dis')}[CcKk][Ss]?(?![A-Za-z]))"
)
"""``the fourth lumbar disc`` is the one below the fourth lumbar vertebra (common practice): L4-5."""

PATTERN = (
    rf"(?<![A-Za-z0-9])(?:"
    rf"{ORDINAL}"
    rf"|"
    rf"[Ll]\s(?:{_NAMED})(?:{_SPOKEN}|\s|\s?[{_DASH}]\s?)(?:[LlSs]\s)?(?:{_NAMED})(?![A-Za-z])"  # L four five, L five S one
    rf"|"
    rf"[Ll][Vv]?\s?[1-6]{{2}}\s?[{_DASH}]\s?[Ll]?\s?[1-6](?!\d)"  # L23-L3, a doubled digit
    rf"|[Ll]\s?(?:23|34|45|51|56)(?![\d.])"  # L45 written without a mark
    rf"|[Ll](?:1,2|2,3|3,4|4,5|5,[Ss]1)(?!\d|[.,/\-–]\d|\s*{_UNIT}|\s+{_BONES}|{_FURTHER})"  # L4,5 with a comma for the mark
    rf"|{_VERTEBRA}(?:(?:{_LATER})+|\s+[2-6](?=\s*(?:{_LEVEL_WORD}|:|,|$|[Tt][Hh][Ee][Rr][Ee]|[Ii][Ss]\b)))?"
    rf")(?![A-KM-Za-km-z0-9])"
)
"""One or several vertebrae joined by marks: ``L4-5``, ``L4/L5``, ``L5 S1``, ``L3-L4-L5``, ``D12/L1``, and as they are spoken: ``L four five``."""

BARE = (
    rf"(?<![\d.\w{_DASH}])(?:[1-5]\s?[-/–]\s?(?:[2-6]|[Ss]?\s?1)|5\s?[-/–]\s?[Ss]\s?1)"
    rf"(?![\d.]\d|\d|\s*{_UNIT})"
)
"""``4-5`` without its L: a disc only after another disc in a list."""

IS_ORDINAL = re.compile(_ORDINALS)
_PART = re.compile(r"([LTDS]?)\s?-?\s?V?\s?(\d{1,2}|I|(?<=S)L(?![A-Z]))", re.IGNORECASE)

ORDER: tuple[str, ...] = (
    *(f"T{n}" for n in range(1, 13)),
    *(f"L{n}" for n in range(1, 7)),
    "S1",
    "S2",
    "S3",
)
"""Vertebrae from above downwards; L6 stands for a sixth lumbar-type body where a report names one."""

_LEVEL = re.compile(PATTERN)
_INDEX = {name: at for at, name in enumerate(ORDER)}

LUMBAR: tuple[str, ...] = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1")
LUMBAR_SIX: tuple[str, ...] = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-L6", "L6-S1")
KEYS: tuple[str, ...] = ("T11-T12", "T12-L1", *LUMBAR[:4], "L5-S1", "L5-L6", "L6-S1")
"""Discs a reading can speak of, in the order they are shown."""


class Place(NamedTuple):
    """What one level expression names: discs, or a single vertebra, never both."""

    discs: tuple[str, ...]
    vertebra: str


def below(vertebra: str) -> str:
    """Name the disc under a vertebra, or give nothing for the sacrum."""
    at = _INDEX.get(vertebra, -1)
    if vertebra == "L5":
        return "L5-S1"
    if at < 0 or at + 1 >= len(ORDER) or vertebra.startswith("S"):
        return ""
    return f"{vertebra}-{ORDER[at + 1]}"


def above(vertebra: str) -> str:
    """Name the disc over a vertebra; over S1 that is L5-S1."""
    at = _INDEX.get(vertebra, 0)
    if vertebra == "S1":
        return "L5-S1"
    return f"{ORDER[at - 1]}-{vertebra}" if at > 0 else ""


def between(upper: str, lower: str) -> tuple[str, ...]:
    """List the discs from one vertebra down to another; L6 is counted only if it is itself named."""
    if upper not in _INDEX or lower not in _INDEX:
        return ()
    if _INDEX[upper] > _INDEX[lower]:
        upper, lower = lower, upper
    names = [n for n in ORDER[_INDEX[upper] : _INDEX[lower] + 1] if n != "L6" or "L6" in (upper, lower)]
    return tuple(f"{a}-{b}" for a, b in itertools.pairwise(names))


def _vertebrae(text: str) -> list[str]:
    """Split a level expression into vertebra names, giving each bare digit its letter."""
    found: list[str] = []
    for letter, digits in _PART.findall(text):
        region = letter.upper().replace("D", "T")
        last = found[-1] if found else ""
        if digits in "IiLl":  # the figure of S1 as a letter that looks like it
            number = 1
        else:
            number = int(digits)
        if not region and number > 12:  # L45, or the 23 of L23-L3
            found += [f"L{digits[0]}", "S1" if digits[1] == "1" else f"L{digits[1]}"]
            continue
        if region == "L" and number > 12:
            found += [f"L{digits[0]}", "S1" if digits[1] == "1" else f"L{digits[1]}"]
            continue
        if not region:
            if last in ("L5", "L6") and number == 1:
                region = "S"
            elif last.startswith("T") and number > int(last[1:]):
                region = "T"
            elif last.startswith("S"):
                region = "S"
            else:
                region = "L"
        found.append(f"{region}{number}")
    return found


@lru_cache(maxsize=4096)
def read_place(text: str) -> Place:
    """Turn one matched level expression into the discs or the vertebra it names.

    A non-adjacent pair such as ``L1-L3`` is a range and is expanded. An expression that names no
    possible disc (``L5-L3-L4``) gives an empty place, which the reader reports as not understood.
    """
    if IS_ORDINAL.fullmatch(text):
        return Place(_by_order(text), "")
    text = _IN_WORDS.sub(lambda m: _NUMBERS[m[0].lower()], text)
    names = [n for n in _vertebrae(text) if n in _INDEX]
    if not names:
        return Place((), "")
    single = list(dict.fromkeys(names))
    if len(single) == 1:
        return Place((), single[0])
    if len(names) == 4 and names[1] != names[2] and re.search(r"\d\s*/\s*L", text):
        first, second = between(names[0], names[1]), between(names[2], names[3])
        if len(first) == len(second) == 1:
            return Place(tuple(dict.fromkeys((*first, *second))), "")
    steps = [_INDEX[b] - _INDEX[a] for a, b in itertools.pairwise(single)]
    if all(s > 0 for s in steps):
        return Place(between(single[0], single[-1]), "")
    if len(single) == 2:
        return Place(between(single[1], single[0]), "")
    return Place((), "")


def discs_in(text: str, start: int = 0, end: int | None = None) -> frozenset[str]:
    """Give the discs of a record that a passage names, whatever is said of them."""
    found = _LEVEL.finditer(text, start, len(text) if end is None else end)
    return frozenset(d for m in found for d in read_place(m[0]).discs if d in KEYS)


def _by_order(text: str) -> tuple[str, ...]:
    """List the discs of ``second, third and fifth lumbar discs`` or ``second to fourth lumbar discs``."""
    words = re.findall(r"[A-Za-z0-9]+", text.lower())
    places = [_NTH[w] for w in words if w in _NTH]
    if not {"to", "through"}.isdisjoint(words):
        if len(places) != 2 or places[0] >= places[1]:
            return ()
        places = list(range(places[0], places[1] + 1))
    return tuple(LUMBAR[n - 1] for n in dict.fromkeys(places))


def read_bare(text: str) -> Place:
    """Read ``4-5`` or ``5-S1`` found in a list after a named disc; impossible pairs give nothing."""
    first, second = int(text[0]), text[-1]
    if second == "1" and first == 5:
        return Place(("L5-S1",), "")
    if second.isdecimal() and int(second) == first + 1:
        return Place((f"L{first}-L{second}",), "")
    return Place((), "")


def span_of(first: Place, last: Place) -> tuple[str, ...]:
    """Expand a range given by its two ends, each a disc or a vertebra (``L1-2 through L3-4``, ``L1 to S1``)."""
    top = first.vertebra or first.discs[0].split("-")[0]
    bottom = last.vertebra or last.discs[-1].split("-")[1]
    return between(top, bottom)
