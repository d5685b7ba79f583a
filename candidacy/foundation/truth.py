"""Strong Kleene logic: what "met" means when some facts are unknown. It knows nothing of cases or rules.

References
----------
Kleene SC. Introduction to Metamathematics. 1952, section 64 (strong three-valued connectives).
"""

from collections.abc import Iterable
from enum import Enum


class Truth(Enum):
    """Truth of a condition about a subject."""

    MET = "met"
    NOT_MET = "not_met"
    UNKNOWN = "unknown"

    def __bool__(self) -> bool:
        raise TypeError("a Truth is three-valued; compare it with 'is', never test it as true or false")


# looked up once: these functions are called thousands of times a case
_MET, _NOT_MET, _UNKNOWN = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN


def of(known: bool) -> Truth:
    """Turn a settled Python answer into a truth."""
    return _MET if known else _NOT_MET


def negate(part: Truth) -> Truth:
    """Turn met into not met and back; unknown stays unknown."""
    if part is _UNKNOWN:
        return part
    return _NOT_MET if part is _MET else _MET


def all_of(parts: Iterable[Truth]) -> Truth:
    """Join conditions that must all hold.

    One condition known not to hold settles the matter, however many others are unknown. No
    conditions at all give ``MET``; the rule loader refuses empty lists before it comes to that.

    Examples
    --------
    >>> all_of([Truth.MET, Truth.UNKNOWN])
    <Truth.UNKNOWN: 'unknown'>
    >>> all_of([Truth.UNKNOWN, Truth.NOT_MET])
    <Truth.NOT_MET: 'not_met'>
    """
    answer = _MET
    for part in parts:
        if part is _NOT_MET:
            return part
        if part is _UNKNOWN:
            answer = part
    return answer


def any_of(parts: Iterable[Truth]) -> Truth:
    """Join conditions of which one must hold; no conditions at all give ``NOT_MET``.

    Examples
    --------
    >>> any_of([Truth.NOT_MET, Truth.UNKNOWN])
    <Truth.UNKNOWN: 'unknown'>
    >>> any_of([Truth.UNKNOWN, Truth.MET])
    <Truth.MET: 'met'>
    """
    answer = _NOT_MET
    for part in parts:
        if part is _MET:
            return part
        if part is _UNKNOWN:
            answer = part
    return answer


def at_least(needed: int, parts: Iterable[Truth]) -> Truth:
    """Say whether at least ``needed`` of the conditions hold, counting unknown ones both ways.

    Examples
    --------
    >>> at_least(2, [Truth.MET, Truth.UNKNOWN, Truth.NOT_MET])
    <Truth.UNKNOWN: 'unknown'>
    >>> at_least(2, [Truth.MET, Truth.NOT_MET, Truth.NOT_MET])
    <Truth.NOT_MET: 'not_met'>
    """
    certain = possible = 0
    for part in parts:
        certain += part is Truth.MET
        possible += part is not Truth.NOT_MET
    if certain >= needed:
        return Truth.MET
    return Truth.UNKNOWN if possible >= needed else Truth.NOT_MET
