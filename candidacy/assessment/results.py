"""Results of reading: one criterion for one subject, and the standing of one disc."""

from typing import NamedTuple

from msgspec import Struct

from candidacy.assessment.evaluate import Evaluation
from candidacy.case.element import Danger
from candidacy.case.facts import Fact
from candidacy.engine.decision import Decision
from candidacy.foundation.truth import Truth
from candidacy.rules.resolved import ResolvedCriterion
from candidacy.rules.vocabulary import Outcome


class CriterionResult(Struct, frozen=True, gc=False):
    """Outcome of one criterion for one subject, with its reading and the criterion as used."""

    evaluation: Evaluation
    resolved: ResolvedCriterion

    @property
    def outcome(self) -> Outcome:
        return self.evaluation.outcome

    @property
    def subject(self) -> str:
        return self.evaluation.subject

    @property
    def id(self) -> str:
        return self.evaluation.criterion

    def __repr__(self) -> str:
        return f"CriterionResult({self.id} of {self.subject}: {self.outcome}, {self.resolved.force})"


class DiscResult(Struct, frozen=True):
    """Standing of one disc, and whether treating it is considered."""

    level: str
    considered: Truth
    decision: Decision


class UnreadFact(NamedTuple):
    """A fact of the record that no criterion of the rule set reads.

    Attributes
    ----------
    dangers
        What makes it a sign of danger; empty for any other fact.
    advisory
        A fact of danger that is read, but by advisory criteria only, which never decide.
    """

    fact: Fact
    dangers: tuple[Danger, ...] = ()
    advisory: bool = False
