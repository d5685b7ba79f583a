"""Recorded values to check at their source before anything passes on them, and the same of one fact for columns."""

from collections.abc import Iterator
from dataclasses import replace

from candidacy.assessment.view import View
from candidacy.case.catalogue import Element, catalogue
from candidacy.case.doubtful import doubt
from candidacy.case.facts import Fact
from candidacy.foundation.values import Span

BIRTH = "birth_date"


def doubts(view: View, read: frozenset[str]) -> Iterator[Fact]:
    """The doubtful facts of a case among elements that are read, as they are written, each with the reason as its note."""
    for fact in view.facts.stated():
        # only numbers and dates can be doubtful; most facts are neither
        if isinstance(fact.value, Span) and fact.element in read and (words := doubt_in(view, fact)):
            yield replace(fact, note=words)


def doubt_in(view: View, fact: Fact) -> str:
    """Why a fact of a case is to be checked first; empty where it need not be."""
    element, value = catalogue()[fact.element], fact.value
    if element.kind != "date":
        return doubt(fact)
    if not isinstance(value, Span):
        return ""
    if element.past and value.low > view.today.high:
        return f"{_as_recorded(element, fact)}, which lies after the as-of date"
    birth = view.as_written(BIRTH, "patient")
    if birth is not None and isinstance(birth.value, Span) and value.high < birth.value.low:
        return f"{_as_recorded(element, fact)}, which lies before the patient was born"
    return ""


def _as_recorded(element: Element, fact: Fact) -> str:
    return f"{element.label} of {fact.subject} is recorded as {fact.provenance.as_written}"
