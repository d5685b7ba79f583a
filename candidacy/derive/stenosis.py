"""Whether the central canal is severely, or at least moderately, narrowed, on whichever scale a report uses. No grade is converted."""

from math import inf

from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import EITHER, Options, Span, Why, from_truth


@derives("severe_central_stenosis")
def severe_central_stenosis(inputs: Inputs) -> Options | None:
    """Yes where a scale that is stated says severe, no where it says less; one scale is enough.

    Which grades of a scale are severe stands in the table ``severe_central_stenosis``; each scale is read by its
    own words. Scales that contradict each other give no value: the reader of the images is asked. Where
    several agree, the fact is as old as the freshest.

    Source: radiology reference (``radiology_reference_stenosis``); the words as protocols use them.
    """
    return _at_least(inputs, "severe_from", "severe")


@derives("moderate_central_stenosis")
def moderate_central_stenosis(inputs: Inputs) -> Options | None:
    """Yes where a scale that is stated says moderate or worse, no where it says less; read as the severe one is.

    Source: radiology reference (``radiology_reference_stenosis``); Schizas grade B as moderate is recalled.
    """
    return _at_least(inputs, "moderate_from", "moderate")


def _at_least(inputs: Inputs, column: str, word: str) -> Options | None:
    aside = inputs.apart(inputs.subject)
    facts = {name: aside.fact(name) for name in inputs.table("severe_central_stenosis")}
    said = [(_reaches(inputs, fact, column), fact) for fact in facts.values() if fact.value is not None]
    if not said:
        inputs.fact(next(iter(facts)))
        return None
    settled = {truth for truth, _ in said if truth is not Truth.UNKNOWN}
    if len(settled) != 1:
        inputs.read += [fact for _, fact in said]
        if settled:
            raise Underivable(Why.CONFLICTING, f"{word} on one scale and not on another: ask which holds")
        return EITHER
    answer = settled.pop()
    telling = [fact for truth, fact in said if truth is answer]
    # of one alone no day need be asked
    inputs.read.append(max(telling, key=lambda fact: _day(aside, fact)) if telling[1:] else telling[0])
    return from_truth(answer)


def _reaches(inputs: Inputs, fact: Fact, column: str) -> Truth:
    least = inputs.table("severe_central_stenosis")[fact.element][column]
    if isinstance(fact.value, Span):
        return fact.value.at_least(least)
    codes = catalogue()[fact.element].codes
    enough = frozenset(codes[codes.index(least) :])
    return fact.value.one_of(enough) if isinstance(fact.value, Options) else Truth.UNKNOWN


def _day(inputs: Inputs, fact: Fact) -> float:
    """Earliest day on which a fact may have been true; one without a date has that of the study."""
    day = fact.provenance.day or inputs.span("lumbar_mri_date")
    return -inf if day is None else day.low
