"""What a plan stands on: the case with the proposed day in it, assessed as of today and as of that day."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.hold_plan import HoldPlan, hold_plan
from candidacy.assessment.results import CriterionResult
from candidacy.case.load import Case
from candidacy.foundation.truth import Truth
from candidacy.rules.resolved import RuleSet

PLANNED = "planned_procedure_date"


@dataclass(frozen=True)
class Ground:
    """A case with a proposed day, under a rule set.

    Attributes
    ----------
    recorded
        The case as it was given.
    case
        The same with the proposed day as its planned day.
    as_of, on
        The day on which the plan is made, and the proposed day.
    judged_by
        Rule sets that must have judged the case before material may be ordered.
    """

    recorded: Case
    case: Case
    rule_set: RuleSet
    as_of: date
    on: date
    engine: str
    judged_by: tuple[str, ...] = ()

    @cached_property
    def today(self) -> Assessment:
        """The assessment as of the day of the plan."""
        return assess(self.case, self.rule_set, self.as_of, self.engine)

    @cached_property
    def then(self) -> Assessment:
        """The assessment as of the proposed day, on what is recorded now."""
        return assess(self.case, self.rule_set, self.on, self.engine)

    @cached_property
    def pairs(self) -> tuple[tuple[Assessment, Assessment], ...]:
        """As of the proposed day and as of today: the rule set itself, then each companion that may stop the answer or must judge."""
        found = [(self.then, self.today)]
        for companion in self.then.companions:
            must = companion.declared.stops_on or companion.declared.id in self.judged_by
            if must and companion.assessment is not None:
                found.append((companion.assessment, self.today.again(rule_set=companion.assessment.rule_set)))
        return tuple(found)

    @cached_property
    def could_not(self) -> tuple[str, ...]:
        """Companions that apply and could not be assessed, with the reason."""
        return tuple(f"{each.declared.id}: {each.problem}" for each in self.then.companions if each.problem)

    @cached_property
    def refused(self) -> Assessment | None:
        """The assessment for which no injection is planned: not a candidate on the day, or today for what does not pass then.

        A companion refuses only what neither time nor an act mends.
        """
        for place, (then, today) in enumerate(self.pairs):
            for found in (then, today):
                if found.standing != "not_candidate" or (place and found.outlook.not_yet is not None):
                    continue
                if found is then or not _passes_then(then, today):
                    return found
        return None

    @property
    def not_judged(self) -> tuple[str, ...]:
        """Rule sets that must have judged the case on the proposed day, and have not."""
        used = [then.rule_set for then, _ in self.pairs]
        done = {rule_set.id for rule_set in used} | {rule_set.extended.partition(" ")[0] for rule_set in used}
        return tuple(name for name in self.judged_by if name not in done)

    @property
    def urgent(self) -> Assessment | None:
        """An assessment that is urgent, today's first."""
        every = [today for _, today in self.pairs] + [then for then, _ in self.pairs]
        return next((each for each in every if each.standing == "urgent"), None)

    @cached_property
    def holds(self) -> HoldPlan:
        """Medicines as of today, for the proposed day."""
        return hold_plan(self.case, self.rule_set, self.as_of, self.on)


def ground(
    case: Case,
    rule_set: RuleSet,
    as_of: date,
    on: date,
    engine: str = "durable-rules",
    judged_by: tuple[str, ...] = (),
) -> Ground:
    """A case with its proposed day."""
    return Ground(case, case.with_fact(PLANNED, on.isoformat()), rule_set, as_of, on, engine, judged_by)


def decisive(assessment: Assessment) -> Iterator[CriterionResult]:
    """Criteria that decide something and do not pass, of the patient and of discs that are not known to be set aside.

    Criteria that only count what is told at the discs are left out.
    """
    aside = {disc.level for disc in assessment.discs if disc.considered is Truth.NOT_MET}
    for result in assessment.results:
        mendable = result.resolved.criterion.mendable
        if (
            result.outcome != "pass"
            and result.resolved.force != "advisory"
            and result.subject not in aside
            and not (mendable is not None and mendable.how == "discs" and _told_at_discs(assessment, aside))
        ):
            yield result


def _passes_then(then: Assessment, today: Assessment) -> bool:
    """Whether all that refuses today passes on the day."""
    passing = {(result.id, result.subject) for result in then.results if result.outcome == "pass"}
    grave = [
        result
        for result in decisive(today)
        if result.outcome == "fail" and result.resolved.force in ("stop", "absolute")
    ]
    return all((result.id, result.subject) in passing for result in grave)


def _told_at_discs(assessment: Assessment, aside: set[str]) -> bool:
    return any(
        result.outcome != "pass"
        and result.resolved.force != "advisory"
        and result.subject != "patient"
        and result.subject not in aside
        for result in assessment.results
    )
