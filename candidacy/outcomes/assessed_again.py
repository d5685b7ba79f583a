"""The assessments that injections rested on, made again: the same case, rule set and day as were recorded."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError
from candidacy.outcomes.practice import Practice
from candidacy.rules.resolved import RuleSet

Load = Callable[[str], RuleSet]


@dataclass
class AssessedAgain:
    """Assessments by the reference of the patient, and what is said of those that could not be made as recorded.

    Attributes
    ----------
    rule_sets
        Rule sets that were used, by id.
    """

    found: dict[str, Assessment] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    rule_sets: dict[str, RuleSet] = field(default_factory=dict)


def assess_again(practice: Practice, load: Load, under: RuleSet | None = None) -> AssessedAgain:
    """Assess every treated patient again, as of the recorded day.

    Parameters
    ----------
    load
        Gives a rule set by its id; raises `InputError` where there is none.
    under
        A rule set to use in place of the recorded ones.
    """
    again = AssessedAgain()
    assessors: dict[str, Assessor | None] = {}
    why: Counter[str] = Counter()
    for patient in practice.treated:
        recorded = patient.first.assessed if patient.first else None
        if patient.case is None:
            why["no case record: {} not assessed again"] += 1
            continue
        if recorded is None:
            why["no assessment is recorded for the injection: {} not assessed again"] += 1
            continue
        name = under.id if under else recorded.rule_set
        if name not in assessors:
            assessors[name] = _assessor(name, load, under, again)
        assessor = assessors[name]
        if assessor is None:
            why[f"the rule set {name} is not at hand: {{}} not assessed again"] += 1
            continue
        found = assessor.assess(patient.case, day(recorded.on))
        again.found[patient.reference] = found
        now = assessor.rule_set.file.version
        if under and (under.id, now) != (recorded.rule_set, recorded.version):
            why[
                f"{{}} assessed under {name} {now}, which was asked for, in place of {recorded.rule_set} {recorded.version}"
            ] += 1
        elif now != recorded.version:
            why[f"{name} {recorded.version} is not at hand: {{}} assessed under {now}"] += 1
        if found.standing != recorded.standing:
            why[f"recorded as {recorded.standing}, {found.standing} when made again: {{}}"] += 1
    again.told = [
        words.format(f"{count} patient{'s' if count != 1 else ''}") for words, count in sorted(why.items())
    ]
    return again


def _assessor(name: str, load: Load, under: RuleSet | None, again: AssessedAgain) -> Assessor | None:
    try:
        rule_set = under or load(name)
    except InputError:
        return None
    again.rule_sets[name] = rule_set
    return Assessor(rule_set)
