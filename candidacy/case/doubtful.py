"""Values that a slip explains better than the patient: unusual ones, and values unlike those in the words of their source.

Such a value is used as it stands, so that a danger in it acts; but while nobody says that it was checked at its source, a
case that rests on it may not pass.
"""

import re
from collections.abc import Iterable

from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.facts import CaseFacts, Fact
from candidacy.case.worded import of_another_disc, words_tell_another
from candidacy.foundation import units
from candidacy.foundation.errors import shorten
from candidacy.foundation.usual_forms import FormError, quantity
from candidacy.foundation.values import Span, as_shown, number_words, point

CHECKED = "checked at the source"
"""A note that begins so says that somebody compared the value with its source, however doubtful it looks."""

# How far a number in words may lie from the value, as a part of it: what rounding and conversion explain (common practice).
_ROUNDING = 0.05
_WHOLE = 100
# A number that belongs to a name: of a level, of an instrument ("PHQ-9").
_NAME = re.compile(r"\b[CTLS]\d{1,2}(?:\s*[-/–]\s*[CTLS]?\d{1,2})?\b|\b[A-Za-z]+-\d+\w*", re.IGNORECASE)
_NUMBER = re.compile(r"(?<![\w.])[-+−–]?\d+(?:[.,]\d+)?")
# A part of a fraction, a count in another measure, feet: not a number by itself.
_GOES_ON = re.compile(r"\s*[/½¼¾'\"×^*]|\s*x\b")
_GOES_ON_IN_FEET = re.compile(r"\s*(?:['’′]|f(?:t|ee|oo))", re.IGNORECASE)
_POWER = re.compile(r"\s*[x×*]?\s*10\s*[\^*]\s*9\s*/\s*(?:l|litre|liter)\b", re.IGNORECASE)
_UNIT = re.compile(r"\s*(?:%|°?[A-Za-zµ][\w/*^²µ.\[\]{}]*)?")
# Beside a percentage: it is of what is left; of what there is, unless the words say that it is gone.
_LEFT = re.compile(
    r"\b(?:remain\w*|left|residual|preserved|maintained|kept|(?:down|reduced) to)\b", re.IGNORECASE
)
_THERE = re.compile(
    r"\bheights?\b|\b(?:of|from) (?:(?:the|its|their) )?(?:normal|original|expected|former|previous|baseline|initial)\b",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"\b(?:loss|lost|los[ei]\w*|reduc\w*|decreas\w*|narrow\w*|collaps\w*|diminish\w*)\b", re.IGNORECASE
)
# "Since 3 months" tells a length, "since 2019" a day.
_SINCE = re.compile(r"\bsince(?= \d+(?:[.,]\d+)? (?:days?|weeks?|months?|years?)\b)", re.IGNORECASE)
_MINUS = re.compile(r"\b(?:minus|negative)\s*$|−\s*$", re.IGNORECASE)
_PLUS = re.compile(r"\b(?:plus|positive)\s*$|\+\s*$", re.IGNORECASE)
_ABOUT = re.compile(
    r"[<>≤≥~]|\b(?:about|almost|nearly|approx\w*|around|roughly|circa|over|under|above|below|up to|to|least|most|more|less"
    r"|than|or|between|since|in|from|until|per|every|times|grade|class|stage|type|level)\b",
    re.IGNORECASE,
)


def checked(fact: Fact) -> bool:
    """Whether somebody compared a value with its source."""
    return fact.provenance.note.casefold().startswith(CHECKED)


def words_tell_gravely(element: Element, fact: Fact) -> bool:
    """Whether words tell another value of an element that declares a danger, or another disc, so that it counts whatever is read."""
    words = fact.provenance.words
    if not words or checked(fact):
        return False
    discs = element.levels or (element.scope == "disc" and of_another_disc(words, fact.subject))
    return bool(element.danger or discs) and words_tell_another(element, fact)


def by_itself(facts: CaseFacts, fact: Fact) -> tuple[str, bool]:
    """`doubt` and `words_tell_gravely` of a fact of a case, worked out once, under however many rule sets it is assessed."""
    # only a number or a date can be doubtful by itself, or what has words; most facts are neither
    if not fact.provenance.words and not isinstance(fact.value, Span):
        return "", False
    found = facts.by_itself.get(id(fact))
    if found is None:
        grave = words_tell_gravely(catalogue()[fact.element], fact)
        found = facts.by_itself[id(fact)] = fact, doubt(fact), grave
    return found[1], found[2]


def is_doubtful(fact: Fact) -> bool:
    """Whether one of the facts to settle first is a doubtful value as it was recorded, and not a contradiction."""
    return not fact.disputed and (fact.value is not None or not fact.derived_from)


def doubt(fact: Fact) -> str:
    """Why a recorded value is to be checked at its source before anything passes on it; empty where it need not be."""
    element, value = catalogue()[fact.element], fact.value
    if fact.provenance.words and words_tell_another(element, fact) and not checked(fact):
        return _differ(element, fact)
    if element.possible is None or not isinstance(value, Span):
        return ""
    strange = unusual(element, value)
    if not (strange or fact.provenance.words) or checked(fact):
        return ""
    if strange:
        written = fact.provenance.as_written
        unit = f" {element.unit}" if element.unit else ""
        said = f"{number_words(as_shown(value.low, written))}{unit}" if value.exact else written
        again = "" if said == written else f" (as written: {written})"
        return f"{element.label} of {fact.subject} is {said}{again}: unusual, please check the number and its unit"
    if value.exact and _words_differ(element, value.low, fact.provenance.words):
        return _differ(element, fact)
    return ""


def _differ(element: Element, fact: Fact) -> str:
    return (
        f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}, but the words of the source "
        f"are “{shorten(fact.provenance.words)}”: please check"
    )


def unusual(element: Element, value: Span) -> bool:
    """Whether a value certainly lies outside what is usual."""
    if element.likely is None:
        return False
    low, high = element.likely.low, element.likely.high
    below = low is not None and (value.high < low or (value.high == low and value.high_open))
    return below or (high is not None and (value.low > high or (value.low == high and value.low_open)))


def _words_differ(element: Element, value: float, words: str) -> bool:
    """Whether the words of the source hold one number and it is another, in whatever unit it may be.

    Words that hold several numbers, a number of something else, or say that it is rough, tell nothing here.
    """
    if (inches := _feet_and_inches(element, words)) is not None:
        return not _same(_stored(inches, "in", element), [value])
    plain = _SINCE.sub("for", _of_scale(element, _NAME.sub(" ", words)))
    numbers = list(_NUMBER.finditer(plain))
    if len(numbers) != 1 or _ABOUT.search(plain) or "," in numbers[0].group():
        return False
    if _GOES_ON.match(plain, numbers[0].end()):
        return False
    said = abs(float(numbers[0].group().replace("−", "-").replace("–", "-")))
    if _signs_differ(element, value, plain, numbers[0]):
        return True
    behind = _UNIT.match(plain, numbers[0].end())
    unit = behind.group().strip().rstrip(".") if behind is not None else ""
    if not element.unit and _of_scale(element, words) != words:
        unit = ""  # "2/10 pain": the end of the scale says of what it is a number
    given = [units.normal_spelling(unit)] if unit else [*element.accepted_units, element.unit or ""]
    if unit and given[0] not in element.accepted_units:
        return False
    apart = [abs(value), *([_WHOLE - value] if element.unit == "%" and _is_what_is_left(plain) else [])]
    return not any(_same(_stored(said, each, element), apart) for each in given)


def _feet_and_inches(element: Element, words: str) -> float | None:
    """The inches of words that end with feet and inches, of an element that may be measured in them."""
    first = _NUMBER.search(words)
    if first is None or "in" not in element.accepted_units:
        return None
    try:
        number, unit = quantity(words[first.start() :].rstrip(" ."), element.accepted_units)
    except FormError:
        return None
    return float(number) if unit == "in" and _GOES_ON_IN_FEET.match(words, first.end()) else None


def _signs_differ(element: Element, value: float, words: str, number: re.Match[str]) -> bool:
    """Whether the words give the number the other sign, where the element may lie on either side of zero.

    A number without a sign tells nothing of it: ``T-score 2.1`` is often written for one below zero.
    """
    low = element.possible.low if element.possible is not None else None
    if value == 0 or (low is not None and low >= 0):
        return False
    before = words[: number.start()]
    below = number.group()[0] in "-−–" or _MINUS.search(before) is not None
    above = number.group()[0] == "+" or _PLUS.search(before) is not None
    return (below and value > 0) or (above and value < 0)


def _is_what_is_left(words: str) -> bool:
    """Whether words speak of what is left of a whole, of which the value may say how much is gone."""
    if _LEFT.search(words):
        return True
    return _THERE.search(words) is not None and _GONE.search(words) is None


def _of_scale(element: Element, words: str) -> str:
    """Words without the end of the scale of an element ("2 out of 10", "2/10") and without the power in a count's unit."""
    if element.unit == "10*9/L":
        words = _POWER.sub(" ", words)
    high = element.possible.high if element.possible is not None else None
    return words if element.unit or high is None else re.sub(rf"\s*(?:/|out of|of)\s*{high:g}\b", " ", words)


def _stored(said: float, unit: str, element: Element) -> Span:
    return units.convert(point(said), unit, element.unit) if unit and element.unit else point(said)


def _same(said: Span, values: Iterable[float]) -> bool:
    """Whether a number is one of the values but for rounding."""
    return any(
        said.low - near <= each <= said.high + near
        for each in values
        for near in [_ROUNDING * max(abs(said.high), abs(each))]
    )
