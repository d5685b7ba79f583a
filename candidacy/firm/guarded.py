"""What no error of measurement may excuse: criteria that guard safety, and values that show danger."""

from candidacy.assessment.results import CriterionResult
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.foundation.truth import Truth
from candidacy.rules.operators import comparison
from candidacy.rules.tree import elements_of

SAFETY_GROUPS = frozenset(("emergencies", "safety"))


def of_safety(result: CriterionResult, view: View) -> bool:
    """Whether a criterion guards safety: a possible emergency, a safety group, or a sign of danger that it reads is there."""
    criterion = result.resolved.criterion
    if result.resolved.force == "stop" or criterion.group in SAFETY_GROUPS:
        return True
    names = elements_of(*result.resolved.conditions)
    return any(endangers(view, name, result.subject) for name in names)


def endangers(view: View, name: str, subject: str) -> bool:
    """Whether a fact shows, or may show, a declared sign of danger."""
    element = catalogue().get(name)
    if element is None or not element.danger or element.scope not in ("patient", "disc"):
        return False
    if element.scope == "disc" and subject == "patient":
        return any(endangers(view, name, level) for level in view.named_levels())
    value = view.fact(name, subject).value
    tests = (comparison(element, danger.op, danger.limits) for danger in element.danger)
    return value is not None and any(test(value) is not Truth.NOT_MET for test in tests)
