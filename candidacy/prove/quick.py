"""The proofs that take no time: criteria with changed parameters, and decision rules over whatever criteria may come to."""

from collections.abc import Iterator
from datetime import date

import z3

from candidacy.prove.questions import (
    Alone,
    CriterionQuestion,
    criterion_question,
    idle_rules,
    reads_standings,
)
from candidacy.prove.symbols import NO, Expr
from candidacy.prove.translate import all_true, any_true, opposite
from candidacy.rules.decision_order import DecisionRule
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import elements_of

# Any day serves: whether a criterion can pass does not hang on it but for the lengths of months.
_DAY = date(2026, 1, 15)


def never_criteria(rule_set: RuleSet) -> Iterator[tuple[str, CriterionQuestion]]:
    """Criteria whose parameters the rule set changes, and that can then never apply, or pass or fail where they do."""
    for item in rule_set.criteria:
        if not any(
            parameter.departs or parameter.before_trial is not None for parameter in item.parameters.values()
        ):
            continue
        questions: tuple[CriterionQuestion, ...] = (
            ("pass", "fail") if item.applies_when is None else ("pass", "fail", "apply")
        )
        for question in questions:
            if criterion_question(rule_set, item, question, _DAY, only_never=True).verdict == "never":
                yield item.id, question


def never_together(rule_set: RuleSet) -> Iterator[tuple[str, str]]:
    """Deciding criteria of one subject that can never both pass, one of them not as the extended rule set has it.

    Only pairs that read an element in common are asked about. No case can pass such a pair, whatever is recorded.
    """
    extended = {}
    if rule_set.file.extends is not None and rule_set.library is not None:
        extended = {item.id: item for item in rule_set.library(rule_set.file.extends).criteria}
    deciding = [item for item in rule_set.criteria if item.force != "advisory" and not reads_standings(item)]
    reads = {item.id: set(elements_of(*item.conditions)) for item in deciding}
    asked = set()
    for one in deciding:
        before = extended.get(one.id)
        if before is one or (before == one):
            continue
        for other in deciding:
            pair = frozenset((one.id, other.id))
            if (
                other is not one
                and pair not in asked
                and other.criterion.subject == one.criterion.subject
                and not reads[one.id].isdisjoint(reads[other.id])
            ):
                asked.add(pair)
                alone = Alone(rule_set, one, _DAY, beside=other)
                if alone.world.check(alone.outcome().passes, alone.outcome(other).passes) == "unsat":
                    yield one.id, other.id


def dead_rules(rule_set: RuleSet) -> list[str]:
    """Decision rules that can decide neither a case nor a disc, whatever each force of criteria comes to."""
    solver = z3.Solver()
    standings: set[str] = set()
    alive: set[str] = set()
    for subject in ("disc", "patient"):
        forces: set[str] = {item.force for item in rule_set.criteria if item.criterion.subject == subject}
        before: Expr = NO
        reached: set[str] = set()
        solver.push()
        for force in sorted(forces):
            # a criterion comes to one of three outcomes, and several of one force to any mixture
            solver.add(z3.Or([_occurs(force, outcome) for outcome in ("pass", "fail", "undetermined")]))
        for rule in rule_set.decisions.rules:
            fires = _fires(rule, forces, standings if subject == "patient" else set())
            if str(solver.check(all_true((fires, opposite(before))))) != "unsat":
                alive.add(rule.id)
                reached.add(rule.standing)
            before = any_true((before, fires))
        solver.pop()
        standings = reached
    idle = idle_rules(rule_set)
    return [rule.id for rule in rule_set.decisions.rules if rule.id not in alive and rule.id not in idle]


def _fires(rule: DecisionRule, forces: set[str], of_discs: set[str]) -> Expr:
    if not rule.when:
        return z3.BoolVal(True)
    return any_true(
        _occurs(str(p.force or "disc"), str(p.outcome or p.any_disc))
        for p in rule.when
        if (p.force in forces or p.force == "record" if p.any_disc is None else p.any_disc in of_discs)
    )


def _occurs(force: str, outcome: str) -> Expr:
    return z3.Bool(f"{force} {outcome}")
