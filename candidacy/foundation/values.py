"""Known, imprecise and unknown values, and how they compare in three truths.

A number or date is a ``Span`` (a point when exact), a coded value is a set of ``Options`` (one when
exact), a list of codes is a ``Members`` value (some certain, some possible). A comparison that every
possible point settles is settled; otherwise it is unknown.
"""

from collections.abc import Iterable
from enum import Enum
from math import floor, isinf, log10

from msgspec import Struct

from candidacy.foundation.truth import Truth, all_of, any_of, negate


class Why(Enum):
    """Why a value is not known, or why a known one may not be used. Kept apart and always shown."""

    NOT_RECORDED = "not_recorded"
    NOT_STATED = "not_stated"
    NOT_ASKED = "not_asked"
    NOT_APPLICABLE = "not_applicable"
    UNCERTAIN_IN_SOURCE = "uncertain_in_source"
    NOT_READABLE = "not_readable"
    CONFLICTING = "conflicting"
    DOUBTFUL = "doubtful"
    OUT_OF_DATE = "out_of_date"
    UNDATED = "undated"
    TOO_IMPRECISE = "too_imprecise"
    INPUT_MISSING = "input_missing"
    NOT_INTERPRETABLE = "not_interpretable"
    LIST_INCOMPLETE = "list_incomplete"
    DOES_NOT_APPLY = "does_not_apply"
    AFTER_AS_OF = "after_as_of"

    @property
    def words(self) -> str:
        """The reason as a reader sees it."""
        return _WORDS[self]


_WORDS = {
    Why.NOT_RECORDED: "not recorded",
    Why.NOT_STATED: "not stated in the source",
    Why.NOT_ASKED: "not asked",
    Why.NOT_APPLICABLE: "recorded as not applicable",
    Why.UNCERTAIN_IN_SOURCE: "uncertain in the source",
    Why.NOT_READABLE: "not readable",
    Why.CONFLICTING: "sources conflict",
    Why.DOUBTFUL: "to be checked at its source first",
    Why.OUT_OF_DATE: "out of date",
    Why.UNDATED: "undated, so its age cannot be checked",
    Why.TOO_IMPRECISE: "not precise enough to settle it",
    Why.INPUT_MISSING: "cannot be worked out yet",
    Why.NOT_INTERPRETABLE: "not interpretable",
    Why.LIST_INCOMPLETE: "the list is not stated to be complete",
    Why.DOES_NOT_APPLY: "does not apply here",
    Why.AFTER_AS_OF: "lies after the as-of date",
}

# Reasons a person may write into a case record; the others are found by evaluation.
RECORDABLE = (
    Why.NOT_STATED,
    Why.NOT_ASKED,
    Why.NOT_APPLICABLE,
    Why.UNCERTAIN_IN_SOURCE,
    Why.NOT_READABLE,
    Why.CONFLICTING,
)


class Span(Struct, frozen=True, gc=False):
    """All numbers from ``low`` to ``high``; an open end leaves that end out. Dates are day ordinals.

    Raises
    ------
    ValueError
        If the span is empty or a bound is not a number.
    """

    low: float
    high: float
    low_open: bool = False
    high_open: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.high or (self.low == self.high and (self.low_open or self.high_open)):
            raise ValueError(f"an interval from {self.low} to {self.high} is empty")

    @property
    def exact(self) -> bool:
        return self.low == self.high

    @property
    def bounded(self) -> bool:
        return not (isinf(self.low) or isinf(self.high))

    def at_most(self, limit: float) -> Truth:
        if self.high <= limit:
            return Truth.MET
        return Truth.NOT_MET if self.low > limit or (self.low_open and self.low == limit) else Truth.UNKNOWN

    def at_least(self, limit: float) -> Truth:
        if self.low >= limit:
            return Truth.MET
        return (
            Truth.NOT_MET if self.high < limit or (self.high_open and self.high == limit) else Truth.UNKNOWN
        )

    def more_than(self, limit: float) -> Truth:
        return negate(self.at_most(limit))

    def less_than(self, limit: float) -> Truth:
        return negate(self.at_least(limit))

    def equals(self, point: float) -> Truth:
        if self.exact:
            return Truth.MET if self.low == point else Truth.NOT_MET
        return Truth.UNKNOWN if self.may_be(point) else Truth.NOT_MET

    def may_be(self, point: float) -> bool:
        """Say whether ``point`` is one of the numbers."""
        return (self.low < point or (self.low == point and not self.low_open)) and (
            point < self.high or (self.high == point and not self.high_open)
        )

    def between(self, low: float, high: float) -> Truth:
        """Compare with a closed range."""
        return all_of((self.at_least(low), self.at_most(high)))


def point(value: float) -> Span:
    """An exact number."""
    return Span(value, value)


class Options(Struct, frozen=True, gc=False):
    """A coded value that is one of ``codes``; exact when there is one."""

    codes: frozenset[str | bool]

    @property
    def exact(self) -> bool:
        return len(self.codes) == 1

    def one_of(self, allowed: frozenset[str | bool]) -> Truth:
        if self.codes <= allowed:
            return Truth.MET
        return Truth.NOT_MET if self.codes.isdisjoint(allowed) else Truth.UNKNOWN


class Members(Struct, frozen=True, gc=False):
    """A list of codes of which ``certain`` are in it and no others than ``possible`` can be.

    ``possible`` is ``None`` where the list may go on ("includes latex"); it equals ``certain``
    where the list is complete.
    """

    certain: frozenset[str]
    possible: frozenset[str] | None

    @property
    def exact(self) -> bool:
        return self.possible == self.certain

    def contains(self, code: str) -> Truth:
        if code in self.certain:
            return Truth.MET
        return Truth.NOT_MET if self.possible is not None and code not in self.possible else Truth.UNKNOWN

    def contains_any(self, codes: Iterable[str]) -> Truth:
        return any_of(self.contains(code) for code in codes)

    def empty(self) -> Truth:
        if self.certain:
            return Truth.NOT_MET
        return Truth.MET if self.possible is not None and not self.possible else Truth.UNKNOWN


class Words(Struct, frozen=True, gc=False):
    """Free text: shown, never compared."""

    text: str

    @property
    def exact(self) -> bool:
        return True


Value = Span | Options | Members | Words

TRUE = Options(frozenset((True,)))
FALSE = Options(frozenset((False,)))
EITHER = Options(frozenset((True, False)))


def from_truth(truth: Truth) -> Options:
    """A yes-or-no value that is as certain as ``truth``."""
    return {Truth.MET: TRUE, Truth.NOT_MET: FALSE, Truth.UNKNOWN: EITHER}[truth]


def truth_of(value: Value | None) -> Truth:
    """Read a yes-or-no value; absent gives ``UNKNOWN``."""
    return value.one_of(TRUE.codes) if isinstance(value, Options) else Truth.UNKNOWN


def number_words(number: float) -> str:
    """Print a number as a person writes it, at most six decimals, without exponent."""
    if isinf(number):
        return "no limit"
    text = f"{number:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def few_digits(number: float) -> float:
    """A number that was worked out or converted, as a person is shown it: two decimals, and two digits where it is smaller.

    What is evaluated is the number itself.
    """
    if isinf(number) or number == 0:
        return number
    return round(number, max(2, 1 - floor(log10(abs(number)))))


def as_shown(number: float, written: str) -> float:
    """A number as it was written where it stands in ``written``; to a few digits where it was converted."""
    return number if number_words(number) in written else few_digits(number)
