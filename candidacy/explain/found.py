"""What was found, in words: the title of a row by its outcome, and how the row is marked."""

from functools import lru_cache
from typing import Literal

from candidacy.assessment.results import CriterionResult
from candidacy.foundation.truth import Truth
from candidacy.rules.criterion import Criterion
from candidacy.rules.vocabulary import Force, Outcome

Shown = Literal["pass", "fail", "undetermined", "noted", "not_seen", "does_not_apply"]


def shown_as(result: CriterionResult) -> Shown:
    """How a result is marked; a finding that only supports is noted or not seen, neither passed nor failed."""
    criterion = result.resolved.criterion
    known_not_to_apply = result.evaluation.applies is Truth.NOT_MET
    return mark_of(
        result.outcome, criterion.kind, result.resolved.force, criterion.supports, known_not_to_apply
    )


def mark_of(outcome: Outcome, kind: str, force: Force, supports: bool, does_not_apply: bool = False) -> Shown:
    """The mark of an outcome."""
    if outcome == "undetermined":
        return "undetermined"
    if outcome == "pass" and does_not_apply:
        return "does_not_apply"
    if supports and force == "advisory":
        return "noted" if (outcome == "pass") is (kind == "inclusion") else "not_seen"
    return outcome


def found_words(result: CriterionResult) -> str:
    """What was found, as the title of the row."""
    criterion, outcome = result.resolved.criterion, result.outcome
    if outcome == "undetermined":
        return f"Not settled: {in_sentence(criterion.title)}"
    if outcome == "pass" and result.evaluation.applies is Truth.NOT_MET:
        return f"Does not apply: {in_sentence(criterion.title)}"
    if criterion.found is None:
        return criterion.title
    return criterion.found.fail if outcome == "fail" else criterion.found.pass_


def passing_words(criterion: Criterion) -> str:
    """What a criterion states where it passes; a finding that only supports is named, for it is noted or not seen."""
    return criterion.title if criterion.found is None or criterion.supports else criterion.found.pass_


@lru_cache(maxsize=4096)
def in_sentence(phrase: str) -> str:
    """A phrase as it stands inside a sentence; names and short forms such as INR keep their capitals."""
    first = phrase.split(" ", 1)[0].split("-", 1)[0]
    keeps = first in _NAMES or sum(letter.isupper() for letter in first) > 1
    return phrase if keeps else phrase[:1].lower() + phrase[1:]


# First words of titles that are names.
_NAMES = frozenset(("Oswestry", "Scheuermann", "Modic", "Lee", "Schizas", "Meyerding", "Pfirrmann", "T", "C"))
