"""What the criteria and decision rules say of a case: the part of an assessment on which everything further rests."""

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Self

from candidacy import __version__
from candidacy.assessment.hold_plan import HoldPlan
from candidacy.assessment.missing import Missing, missing_facts
from candidacy.assessment.record_grounds import RecordGrounds
from candidacy.assessment.results import CriterionResult, DiscResult, UnreadFact
from candidacy.assessment.view import View
from candidacy.case.facts import Fact
from candidacy.case.load import Case
from candidacy.engine.decision import Decision, Standings
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Standing


@dataclass(frozen=True)
class Assessed(ABC):
    """Outcomes and standings of one case under one rule set as of one day, the medicines to hold, and what is missing.

    Attributes
    ----------
    view
        The case as it was seen: its facts, derived and reconciled.
    standings
        Which standing follows from which outcomes under the rule set.
    conflicts
        Facts that contradict each other, and signs of danger that stand in spite of a denial.
    unread
        Facts of the record that no criterion of the rule set reads; those of danger first.
    holds
        The plan of holds, where the rule set asks about holding medicines and a procedure date is planned.
    """

    case: Case
    rule_set: RuleSet
    as_of: date
    decision: Decision
    discs: tuple[DiscResult, ...]
    results: tuple[CriterionResult, ...]
    notices: tuple[str, ...]
    engine: str
    view: View = field(repr=False, compare=False)
    standings: Standings = field(repr=False, compare=False)
    version: str = __version__
    conflicts: tuple[Fact, ...] = ()
    unread: tuple[UnreadFact, ...] = ()
    holds: HoldPlan | None = None

    @cached_property
    def missing(self) -> tuple[Missing, ...]:
        """Missing facts: conflicts first, then those that can decide, the easiest to obtain first among equals."""
        record = RecordGrounds(self.conflicts, self.unread)
        return missing_facts(self.results, self.decision, self.discs, self.standings, record)

    @property
    def standing(self) -> Standing:
        return self.decision.standing

    def of_subject(self, subject: str) -> tuple[CriterionResult, ...]:
        return tuple(result for result in self.results if result.subject == subject)

    @abstractmethod
    def again(self, case: Case | None = None, rule_set: RuleSet | None = None) -> Self:
        """The answer of the same engine on the same day for another case or under another rule set.

        Raises
        ------
        EngineError
            If a law of the engine is broken.
        """
