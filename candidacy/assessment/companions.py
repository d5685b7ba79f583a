"""The standing of a case under the companions of its rule set, on the same day.

A companion is another rule set that answers a neighbouring question (safety of the day, evidence, completeness of the
report). Its own companions are not followed. What cannot be assessed says so; nothing is left out in silence.
"""

from typing import Any, Generic, NamedTuple, TypeVar

from msgspec import Struct

from candidacy.assessment.assessed import Assessed
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case
from candidacy.foundation import dates
from candidacy.foundation.errors import EngineError, InputError
from candidacy.foundation.values import Members, Span
from candidacy.rules.resolved import RuleSet
from candidacy.rules.rule_set_file import Companion

_Assessed = TypeVar("_Assessed", bound=Assessed)


class CompanionResult(Struct, Generic[_Assessed], frozen=True):
    """One companion of a rule set, for one case on one day.

    Attributes
    ----------
    declared
        How the rule set names it.
    applies
        Whether it applies on this day.
    because
        Why it applies or does not, in words.
    rule_set, assessment
        What it was assessed under, and the answer; ``None`` where it does not apply or could not be assessed.
    problem
        Why it could not be assessed; empty otherwise.
    """

    declared: Companion
    applies: bool
    because: str
    rule_set: RuleSet | None = None
    assessment: _Assessed | None = None
    problem: str = ""

    @property
    def stops(self) -> bool:
        """Whether the whole answer must say stop because of it."""
        return self.assessment is not None and self.assessment.standing in self.declared.stops_on


class _Applies(NamedTuple):
    yes: bool
    because: str


def companions_of(assessment: _Assessed) -> tuple[CompanionResult[_Assessed], ...]:
    """Every declared companion of the rule set of an assessment, in the declared order."""
    return tuple(_result(assessment, declared) for declared in assessment.rule_set.companions)


def _result(assessment: _Assessed, declared: Companion) -> CompanionResult[_Assessed]:
    applies = _applies(declared, assessment)
    if not applies.yes:
        return CompanionResult(declared, False, applies.because)
    rule_set: RuleSet | None = None
    try:
        if assessment.rule_set.library is None:
            return CompanionResult(
                declared, True, applies.because, problem="it is not known where to find this rule set"
            )
        rule_set = assessment.rule_set.library(declared.id)
        found = assessment.again(rule_set=rule_set)
    except InputError as error:
        # code and message only: a place in a file of this machine has no business in an answer
        words = "; ".join(f"{p.code.value} {p.message}" for p in error.problems[:1]) or "it cannot be loaded"
        words += f", and {len(error.problems) - 1} more" if len(error.problems) > 1 else ""
        return CompanionResult(declared, True, applies.because, rule_set, problem=words)
    except EngineError as error:
        return CompanionResult(declared, True, applies.because, rule_set, problem=str(error))
    return CompanionResult(declared, True, applies.because, rule_set, found)


def _applies(declared: Companion, assessment: Assessed) -> _Applies:
    if declared.when == "always":
        return _Applies(True, "it applies on every day")
    if declared.when == "near_procedure":
        return _near_procedure(declared, assessment)
    if declared.when == "imaging_report":
        found = _has_document(assessment.case, "imaging_report")
        return _Applies(found, "an imaging report is recorded" if found else "no imaging report is recorded")
    found = _has_document(assessment.case, "discography_record") or any(
        fact.value is not None
        and not (isinstance(fact.value, Members) and fact.value.possible == frozenset())
        and catalogue().group_of(fact.element) == "discography"
        for fact in assessment.case.facts.stated()
    )
    return _Applies(found, "discography is recorded" if found else "no discography is recorded")


def _has_document(case: Case, kind: str) -> bool:
    return any(document.kind == kind for document in case.record.documents.values())


def _near_procedure(declared: Companion, assessment: Assessed) -> _Applies:
    assert declared.within is not None  # the shape of a companion sees to it
    most: Any = declared.within.value
    fact = assessment.case.facts.patient.get("planned_procedure_date")
    if fact is None or not isinstance(fact.value, Span):
        return _Applies(False, "no procedure date is known")
    today = assessment.as_of.toordinal()
    words = dates.words(fact.value)
    if fact.value.high < today:
        return _Applies(False, f"the planned procedure date, {words}, has passed")
    if fact.value.low > today + most:
        return _Applies(False, f"the procedure is planned for {words}, more than {most} days ahead")
    if fact.value.low == fact.value.high == today:
        return _Applies(True, "the procedure is planned for this day")
    certain = fact.value.low >= today and fact.value.high <= today + most
    return _Applies(
        True, f"the procedure {'is' if certain else 'may be'} within {most} days: planned for {words}"
    )
