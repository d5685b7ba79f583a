"""Results of reading: one criterion for one subject, and the standing of one disc."""

from dataclasses import dataclass
from typing import NamedTuple

from candidacy.case.catalogue import Danger
from candidacy.case.facts import Fact
from candidacy.engine.decision import Decision
from candidacy.evaluate import Reading
from candidacy.rules.resolved import ResolvedCriterion
from candidacy.rules.schema import Outcome
from candidacy.truth import Truth


class CriterionResult(NamedTuple):
    """Outcome of one criterion for one subject, with its reading and the criterion as used."""

    reading: Reading
    resolved: ResolvedCriterion

    @property
    def outcome(self) -> Outcome:
        return self.reading.outcome

    @property
    def subject(self) -> str:
        return self.reading.subject

    @property
    def id(self) -> str:
        return self.reading.criterion


@dataclass(frozen=True, slots=True)
class DiscResult:
    """Standing of one disc, and whether treating it is considered."""

    level: str
    considered: Truth
    decision: Decision


class UnreadFact(NamedTuple):
    """A recorded fact that no criterion of the rule set reads.

    ``dangers`` are the declared signs of danger that its value shows; ``advisory`` is true where only advisory
    criteria, which decide nothing, read such a fact.
    """

    fact: Fact
    dangers: tuple[Danger, ...]
    advisory: bool
