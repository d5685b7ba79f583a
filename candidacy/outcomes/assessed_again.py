"""The assessments that injections rested on, made again: the same case, rule set and day as were recorded."""

from collections import Counter
from dataclasses import dataclass, field

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.foundation.dates import day
from candidacy.foundation.errors import InputError, shorten
from candidacy.outcomes.practice import Practice
from candidacy.rules.library import Library
from candidacy.rules.resolved import RuleSet


@dataclass
class AssessedAgain:
    """Assessments by the reference of the patient, and what is said of those that could not be made as recorded.

    Attributes
    ----------
    told
        What is said, with ``{}`` where the number of patients stands, and that number.
    rule_sets
        Rule sets that were used, by id.
    """

    found: dict[str, Assessment] = field(default_factory=dict)
    told: list[tuple[str, int]] = field(default_factory=list)
    rule_sets: dict[str, RuleSet] = field(default_factory=dict)


def assess_again(practice: Practice, library: Library, under: RuleSet | None = None) -> AssessedAgain:
    """Assess every treated patient again, as of the recorded day.

    Parameters
    ----------
    library
        Where rule sets are found, by their ids alone: a record from outside names no file to read.
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
            assessors[name] = _assessor(name, library, under, again)
        assessor = assessors[name]
        if assessor is None:
            why[f"the rule set {_plain(name)} is not at hand: {{}} not assessed again"] += 1
            continue
        found = assessor.assess(patient.case, day(recorded.on))
        again.found[patient.reference] = found
        now, rested_on = assessor.rule_set.file.version, _plain(f"{recorded.rule_set} {recorded.version}")
        if under and (under.id, now) != (recorded.rule_set, recorded.version):
            why[f"{{}} assessed under {name} {now}, which was asked for, in place of {rested_on}"] += 1
        elif now != recorded.version:
            why[f"{rested_on} is not at hand: {{}} assessed under {now}"] += 1
        if found.standing != recorded.standing:
            why[f"recorded as {_plain(recorded.standing)}, {found.standing} when made again: {{}}"] += 1
    again.told = sorted(why.items())
    return again


def _plain(text: str) -> str:
    """Foreign text in a sentence that a number is put into."""
    return shorten(text).replace("{", "{{").replace("}", "}}")


def _assessor(name: str, library: Library, under: RuleSet | None, again: AssessedAgain) -> Assessor | None:
    try:
        rule_set = under or library.rule_set(name)
    except InputError:
        return None
    again.rule_sets[name] = rule_set
    return Assessor(rule_set)
