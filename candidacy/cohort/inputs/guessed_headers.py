"""What a header probably names: the nearest data element, its disc and its unit, by spelling alone."""

import re

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import normal_level
from candidacy.cohort.inputs.usual_headers import HEADERS, IGNORED_WORDS
from candidacy.foundation.units import known, normal_spelling

_ENOUGH = 78  # of 100; lower scores are mostly wrong on the headers we tried (common practice)
EXACT = "100 of 100"  # begins why an element was taken whose name is spelled as the header is
_AS_NEAR = 4  # a second element so near to the first is named as well
# abbreviations of the trade in headers
_WRITTEN_OUT = {"dob": "birth date", "wt": "weight", "ht": "height", "hx": "history"}
_LEVEL = re.compile(r"(?<![A-Za-z0-9])([TLS]\d{1,2}\s*[-/_ ]\s*[TLS]?\d{1,2})(?![A-Za-z0-9])", re.IGNORECASE)
_BRACKETS = re.compile(r"[\[(]([^\])]+)[\])]")


class Guess(Struct, frozen=True):
    """What a header probably names.

    Attributes
    ----------
    unit
        A unit of the element that the header names, or an empty text.
    other_unit
        A unit that the header names and the element has not.
    how
        Why it was taken.
    also
        Other elements that are as near.
    """

    element: Element
    disc: str | None
    unit: str
    other_unit: str
    how: str
    also: tuple[str, ...]


def guess_header(column: str, scope: str, taken: set[tuple[str, str | None]]) -> Guess | None:
    """The nearest element of a scope that no other column has been given; ``None`` where none is near."""
    disc, bare = _level(column) if scope == "patient" else (None, column)
    names = _names("disc" if disc else scope)
    units = [normal_spelling(part.strip()) for part in _BRACKETS.findall(bare)]
    words = re.findall(r"[^\W_]+(?:[/*%][^\W_]+)*|%", _BRACKETS.sub(" ", bare))
    words = [word for word in words if word.lower() not in IGNORED_WORDS]
    if len(words) > 1 and len(words[-1]) > 1 and known(normal_spelling(words[-1])):
        units.append(normal_spelling(words.pop()))
    elif len(words) > 1 and words[-1] == "%":
        units.append(words.pop())
    free = {name: each for name, each in names.items() if (each.name, disc) not in taken}
    text = " ".join(_WRITTEN_OUT.get(word.lower(), word.lower()) for word in words)
    near = _usual(text, free) or _alike(text, free) or _part_of(text, free)
    if near is None:
        return None
    element, how, also = near
    unit = next((unit for unit in units if unit in element.accepted_units), "")
    other = next((unit for unit in units if known(unit) and unit != unit_of(unit, element)), "")
    return Guess(element, disc, unit, "" if unit else other, how, also)


def _usual(text: str, free: dict[str, Element]) -> tuple[Element, str, tuple[str, ...]] | None:
    """The element that is usually under this header."""
    element = next((each for each in free.values() if each.name == HEADERS.get(text)), None)
    return None if element is None else (element, "a usual header for it, 100 of 100", ())


def unit_of(unit: str, element: Element) -> str:
    """The unit, if the element has it."""
    return unit if unit in element.accepted_units else ""


def _level(column: str) -> tuple[str | None, str]:
    """A disc level in a header, and the header without it."""
    match = _LEVEL.search(column.replace("_", " ")) or _LEVEL.search(column)
    if match is None:
        return None, column
    level = normal_level(re.sub(r"[\s_/-]+", "-", match[1]))
    if level is None:
        return None, column
    text = match.string
    return level, text[: match.start()] + " " + text[match.end() :]


def _names(scope: str) -> dict[str, Element]:
    """Names and synonyms of the elements of a scope."""
    found: dict[str, Element] = {}
    for element in catalogue().all:
        if element.statable and element.scope == scope:
            for name in (element.name, *element.synonyms):
                found.setdefault(name.replace("_", " ").lower(), element)
    return found


def _alike(text: str, names: dict[str, Element]) -> tuple[Element, str, tuple[str, ...]] | None:
    """The element spelled most alike, with others that are as near."""
    from rapidfuzz import fuzz, process

    best = process.extract(text, list(names), scorer=fuzz.token_sort_ratio, limit=6, score_cutoff=_ENOUGH)
    if not best:
        return None
    name, score, _ = best[0]
    also = {names[other].name for other, each, _ in best if each > score - _AS_NEAR} - {names[name].name}
    return names[name], f"{score:.0f} of 100 alike", tuple(sorted(also))


def _part_of(text: str, names: dict[str, Element]) -> tuple[Element, str, tuple[str, ...]] | None:
    """The one element whose name holds all these words and the fewest others, with the rest of those that do."""
    words = set(text.split())
    more: dict[str, int] = {}
    for name, element in names.items():
        if words and words <= set(name.split()):
            extra = len(name.split()) - len(words)
            more[element.name] = min(extra, more.get(element.name, extra))
    ordered = sorted(more, key=lambda name: more[name])
    if not ordered or (len(ordered) > 1 and more[ordered[0]] == more[ordered[1]]):
        return None
    return catalogue()[ordered[0]], "a part of its name", tuple(ordered[1:4])
