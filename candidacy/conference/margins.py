"""How far a value is from its limit, as one says it: "38.4, limit 35: +3.4"."""

import re
from collections.abc import Iterator

from candidacy.explain.document import CriterionInfo, TestInfo
from candidacy.explain.wording import with_unit

_UPPER = ("at_most", "less_than")
_LOWER = ("at_least", "more_than")
_DECIMALS = re.compile(r"\d\.(\d+)")


def margins_of(criterion: CriterionInfo) -> tuple[str, ...]:
    """A phrase for each number that the outcome of a criterion rests on."""
    return tuple(dict.fromkeys(words for test in deciding_tests(criterion) if (words := margin_words(test))))


def deciding_tests(criterion: CriterionInfo) -> tuple[TestInfo, ...]:
    """The tests of single values that the outcome rests on."""
    return tuple(test for test in _tests(criterion.tests) if test.words in criterion.because)


def _tests(test: TestInfo) -> Iterator[TestInfo]:
    if test.kind == "test":
        yield test
    for part in test.parts:
        yield from _tests(part)


def margin_words(test: TestInfo) -> str:
    """The value, its limit, and the signed way from the limit to the value; empty where it is no number."""
    if test.margin is None or not test.value:
        return ""
    of = "" if test.subject == "patient" else f"{test.subject}: "
    limit = with_unit(test.limits[-1], test.unit)
    value = test.value.removesuffix(limit.removeprefix(test.limits[-1]))
    decimals = max(
        (len(found) for text in (value, *test.limits) for found in _DECIMALS.findall(text)), default=0
    )
    ends = [None if end is None else round(end, decimals) for end in test.margin]
    if test.op in _LOWER:
        return f"{of}{value}, limit {limit}: {_range(ends, '+')}"
    against = [None if end is None else 0 - end for end in reversed(ends)]
    if test.op in _UPPER:
        return f"{of}{value}, limit {limit}: {_range(against, '+')}"
    inside = all(end is not None and end >= 0 for end in ends)
    where = f"{_range(ends)} inside" if inside else f"{_range(against)} outside"
    return f"{of}{value}, limits {test.limits[0]} to {limit}: {where}"


def _range(ends: list[float | None], sign: str = "") -> str:
    low, high = ("open" if end is None else f"{end:{sign if end else ''}g}" for end in ends)
    return low if low == high else f"{low} to {high}"
