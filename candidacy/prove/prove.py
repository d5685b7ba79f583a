"""The front door: a rule set and a day give everything that can be proved about it."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import z3

from candidacy.case.load import load_case
from candidacy.explain.wording import code_words
from candidacy.foundation.dates import day
from candidacy.prove.available import one_at_a_time
from candidacy.prove.compare import CriterionMove, Move, compare
from candidacy.prove.document import (
    ComparisonInfo,
    CriterionMoveInfo,
    DeadRuleInfo,
    ImpliedInfo,
    InfluenceInfo,
    MoveInfo,
    NeverInfo,
    ProofInfo,
    RuleSetOf,
)
from candidacy.prove.judged import Judged, bounds_of
from candidacy.prove.questions import (
    CriterionQuestion,
    criterion_in_set,
    criterion_question,
    decides,
    deciding_rule,
    idle_rules,
    implied,
    reads_standings,
    without_influence,
)
from candidacy.prove.ranges import ranges
from candidacy.prove.samples import demonstration
from candidacy.prove.symbols import World
from candidacy.prove.witness import Found, Seeker
from candidacy.rules.resolved import ResolvedCriterion, RuleSet

SOLVER = f"z3-solver {z3.get_version_string()}"


def prove(rule_set: RuleSet, as_of: date) -> ProofInfo:
    """Ask everything that is asked of one rule set.

    Raises
    ------
    RuleError
        If a table of the rule set cannot be loaded.
    """
    with one_at_a_time:
        return _prove(rule_set, as_of)


def _prove(rule_set: RuleSet, as_of: date) -> ProofInfo:
    idle = idle_rules(rule_set)
    judged = Judged(World(as_of, bounds_of(rule_set)), rule_set)
    seeker = Seeker(judged.world, [judged], lambda: demonstration(as_of))
    asked = [
        (item, question, _ask(seeker, judged, item, question)) for item, question in _questions(rule_set)
    ]
    rules = [
        (rule, seeker.find([deciding_rule(judged, rule.id)], decides(rule_set, rule.id, as_of), small=False))
        for rule in reversed(rule_set.decisions.rules)
        if rule.id not in idle
    ]
    verdicts = [found.verdict for _, _, found in asked] + [found.verdict for _, found in rules]
    never = [(item, question) for item, question, found in asked if found.verdict == "never"]
    dead = [rule for rule, found in rules if found.verdict == "never"][::-1]
    only_with, unknown = implied(judged, [item.id for item, question in never if question == "fail"])
    influences = [each for item in rule_set.criteria for each in without_influence(rule_set, item, as_of)]
    return ProofInfo(
        rule_set=rule_set_of(rule_set),
        as_of=as_of.isoformat(),
        over=list(ranged_over(as_of, judged.world.bounds.entries)),
        questions=len(verdicts),
        shown=verdicts.count("shown"),
        faults=bool(never or dead),
        never=[
            NeverInfo(criterion=item.id, title=item.criterion.title, never=question)
            for item, question in never
        ],
        idle_rules=[rule.id for rule in rule_set.decisions.rules if rule.id in idle],
        dead_rules=[DeadRuleInfo(rule=rule.id, standing=rule.standing) for rule in dead],
        implied=[_implied(rule_set, one.criterion, one.by, one.both_ways) for one in only_with],
        without_influence=[
            _influence(rule_set.criterion(each.criterion), each.parameter, each.tried)
            for each in influences
            if each.verdict == "never"
        ],
        undecided=[
            *(
                f"whether {item.id} can ever {question}"
                for item, question, found in asked
                if found.verdict == "open"
            ),
            *(
                f"whether decision rule {rule.id} can ever decide"
                for rule, found in rules[::-1]
                if found.verdict == "open"
            ),
            *(f"whether {one} fails only where {other} fails" for one, other in unknown),
            *(
                f"whether parameter {e.parameter} of {e.criterion} has any influence"
                for e in influences
                if e.verdict == "open"
            ),
        ],
    )


def ranged_over(as_of: date, entries: int) -> Iterator[str]:
    """What the proofs range over, in words."""
    yield f"Records of {as_of.isoformat()} that state each fact exactly, with its date or without, or not at all."
    yield (
        "That a criterion can never apply, or pass or fail where it does, is proved for any lumbar disc and any number of entries in a list; "
        f"everything else for the five usual discs and up to {entries} entries in each list. Dates lie between 120 years before "
        "that day and 5 years after it."
    )
    yield (
        "What is worked out by a formula may have any value of its range: what is proved holds whatever it is, and what "
        "depends on it is told only with a record that shows it."
    )
    yield (
        "What can never be so, or decide, cannot in a record with imprecise or conflicting facts either. That "
        "one failure implies another, and that two rule sets are equal, is not proved of imprecise facts."
    )


def _questions(rule_set: RuleSet) -> Iterator[tuple[ResolvedCriterion, CriterionQuestion]]:
    for item in rule_set.criteria:
        yield item, "pass"
        yield item, "fail"
        if item.applies_when is not None:
            yield item, "apply"


def _ask(seeker: Seeker, judged: Judged, item: ResolvedCriterion, question: CriterionQuestion) -> Found:
    if reads_standings(item) and item.criterion.subject == "patient":
        return criterion_in_set(seeker, judged, item, question)
    return criterion_question(judged.rule_set, item, question, judged.world.as_of)


def rule_set_of(rule_set: RuleSet) -> RuleSetOf:
    """A rule set as documents name it."""
    file = rule_set.file
    return RuleSetOf(id=file.id, version=file.version, title=file.title, digest=rule_set.digest)


def _implied(rule_set: RuleSet, one: str, other: str, both_ways: bool) -> ImpliedInfo:
    item, by = rule_set.criterion(one), rule_set.criterion(other)
    return ImpliedInfo(
        criterion=one, title=item.criterion.title, force=item.force, by=other, by_title=by.criterion.title,
        by_force=by.force, both_ways=both_ways,
    )  # fmt: skip


def _influence(item: ResolvedCriterion, name: str, tried: tuple[object, ...]) -> InfluenceInfo:
    parameter = item.parameters[name]
    return InfluenceInfo(
        criterion=item.id, parameter=name, meaning=parameter.declared.meaning, value=_words(parameter.value),
        tried=[_words(value) for value in tried],
    )  # fmt: skip


def _words(value: object) -> str:
    values = value if isinstance(value, tuple) else (value,)
    return " or ".join(code_words(each) for each in values)


# --- two rule sets


def prove_against(proof: ProofInfo, first: RuleSet, second: RuleSet, as_of: date) -> ProofInfo:
    """The proof, with how another rule set stands to it; each witness as the record of a case file."""
    with one_at_a_time:
        found = compare(first, second, as_of)
    told = ComparisonInfo(
        other=rule_set_of(second),
        verdict=found.verdict,
        moves=[
            MoveInfo(first=m.first, second=m.second, **_witness(first, second, m, as_of)) for m in found.moves
        ],
        criteria=[
            CriterionMoveInfo(
                criterion=m.criterion, first=m.first, second=m.second, **_witness(first, second, m, as_of)
            )
            for m in found.criteria
        ],
        unasked=list(found.unasked),
    )
    return proof.model_copy(update={"comparison": told})


def prove_case(proof: ProofInfo, rule_set: RuleSet, path: Path, as_of: date | None = None) -> ProofInfo:
    """The proof, with how far each number may go with no outcome of a case changing.

    Without a day the case is read on its own, and where it has none on that of the proof.

    Raises
    ------
    CaseError
        If the case cannot be used.
    """
    case = load_case(path)
    day_of_case = as_of or day(case.record.as_of or proof.as_of)
    told = list(ranges(rule_set, case, day_of_case))
    return proof.model_copy(
        update={"case": case.record.id, "case_as_of": day_of_case.isoformat(), "ranges": told}
    )


def _witness(first: RuleSet, second: RuleSet, move: Move | CriterionMove, as_of: date) -> dict[str, Any]:
    """The record of a move as a case file, which says what it shows."""
    draft = move.found.draft
    if draft is None:
        return {"shown": False, "facts": None, "witness": None, "file": None}
    of = ""
    one, two = move.first, move.second
    if isinstance(move, CriterionMove):
        of = f" of {move.criterion}"
    else:
        one, two = first.decisions.name_of(move.first), second.decisions.name_of(move.second)
    named = [f"{each.id} {each.file.version}" for each in (first, second)]
    title = f"Invented: {one}{of} under {named[0]}, {two} under {named[1]}"
    name = f"witness-{getattr(move, 'criterion', '')}-{move.first}-{move.second}".replace("_", "-").replace(
        "--", "-"
    )
    record = draft.record(as_of, name[:64], title)
    return {"shown": True, "facts": len(draft.facts), "witness": dict(record.plain()), "file": None}
