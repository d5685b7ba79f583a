"""What one rule set can never say: of its criteria, its decision rules and its parameters.

A "never" is proved for all records (`candidacy.prove.symbols`); its opposite is shown by a record that was read. A record in
which values are imprecise, or sources conflict, knows less than one that states them: what an exact record can never settle, it
cannot settle either. That a failure always comes with another is proved of exact records only.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, Literal

import z3
from msgspec import Struct

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS
from candidacy.case.load import Case
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.prove.draft import Draft
from candidacy.prove.judged import Judged, Outcome, entries_needed, outcome_of
from candidacy.prove.samples import demonstration, samples_of
from candidacy.prove.symbols import NO, Bounds, Expr, World
from candidacy.prove.tabulated import Tabulated
from candidacy.prove.translate import STANDING, Reader, all_true, any_true
from candidacy.prove.witness import Found, Seeker
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import Compare, CountOf, elements_of, operands_of, walk

CriterionQuestion = Literal["pass", "fail", "apply"]
# From the force that decides most to the one that decides nothing.
_FORCES = ("stop", "absolute", "relative", "advisory")


class Alone:
    """One criterion in a world of its own, for a subject; with the standings of discs free where it reads them.

    ``beside`` is another that is held against it.
    """

    def __init__(
        self, rule_set: RuleSet, item: ResolvedCriterion, as_of: date, beside: ResolvedCriterion | None = None
    ) -> None:
        conditions = (*item.conditions, *(beside.conditions if beside is not None else ()))
        bounds = Bounds(entries_needed(conditions), LEVELS)
        self.world, self.rule_set, self.item = World(as_of, bounds), rule_set, item
        self.reader = Reader(self.world, Tabulated(rule_set, as_of))
        self.conflict: Expr = NO
        self.unread: dict[str, Expr] = {}
        self.standings_free = reads_standings(item)
        if self.standings_free:
            codes = catalogue()[STANDING].codes
            may = {level: {c: z3.Bool(f"{level} may be {c}") for c in codes} for level in self.world.levels}
            self.reader.standings = may
            self.world.solver.add(*(z3.Or(list(each.values())) for each in may.values()))
        self.subject = "patient" if item.criterion.subject == "patient" else "L4-L5"

    def outcome(self, item: ResolvedCriterion | None = None, subject: str = "") -> Outcome:
        """Its outcome, or that of another criterion of the same subject."""
        return outcome_of(self.reader, item or self.item, subject or self.subject)


def criterion_question(
    rule_set: RuleSet,
    item: ResolvedCriterion,
    question: CriterionQuestion,
    as_of: date,
    *,
    only_never: bool = False,
) -> Found:
    """Whether a criterion can ever apply, or pass or fail where it does.

    ``only_never`` looks for no record: the answer is then never or open.
    """
    alone = Alone(rule_set, item, as_of)
    levels = (
        ("patient",)
        if alone.subject == "patient"
        else ("L4-L5", *(level for level in LEVELS if level != "L4-L5"))
    )
    for subject in levels:
        found = _of_subject(alone, question, subject, only_never)
        if found.verdict != "never":
            return found
    return found


def _of_subject(alone: Alone, question: CriterionQuestion, subject: str, only_never: bool) -> Found:
    asked = _asked(alone.outcome(subject=subject), question)
    if subject != "patient":
        asked = z3.And(asked, alone.world.named(subject))
    if only_never or alone.standings_free:  # with the standings of discs it is asked of the whole rule set
        answer = alone.world.check(asked)
        return Found("never" if answer == "unsat" else "open")
    compiled, assessor = CompiledCriterion(alone.item), assessor_for(alone.rule_set, "direct")

    def shows(case: Case) -> bool:
        view = assessor.view(case, alone.world.as_of)
        if subject != "patient" and subject not in view.named_levels():
            return False
        view.settle_discs({})
        return _answers(compiled.read(view, subject), question)

    seeker = Seeker(alone.world, [alone], lambda: _records(alone.item, alone.world.as_of))
    return seeker.find([asked], shows, small=False)


def _asked(outcome: Outcome, question: CriterionQuestion) -> Expr:
    applies = outcome.applies.met
    return {"pass": all_true((outcome.passes, applies)), "fail": outcome.fails, "apply": applies}[question]


def _answers(evaluation: Evaluation, question: CriterionQuestion) -> bool:
    """Whether a reading shows it. One that passes as not applying shows nothing of its condition."""
    return evaluation.applies is Truth.MET and question in ("apply", evaluation.outcome)


def _records(item: ResolvedCriterion, as_of: date) -> Iterator[Draft]:
    """Written records that may show something of a criterion."""
    for name in elements_of(*item.conditions):
        yield from samples_of(name, as_of)
    yield from demonstration(as_of)


# --- the whole rule set


def criterion_in_set(
    seeker: Seeker, judged: Judged, item: ResolvedCriterion, question: CriterionQuestion
) -> Found:
    """Whether a criterion of the patient that reads the standings of discs can ever pass, fail or apply."""
    asked = _asked(judged.outcomes[item.id, "patient"], question)
    assessor = assessor_for(judged.rule_set, "direct")

    def shows(case: Case) -> bool:
        results = assessor.assess(case, judged.world.as_of).results
        return any(_answers(r.evaluation, question) for r in results if r.id == item.id)

    return seeker.find([asked], shows, small=False)


def reads_standings(item: ResolvedCriterion) -> bool:
    """Whether a criterion reads what discs come to."""
    return STANDING in elements_of(*item.conditions)


def deciding_rule(judged: Judged, rule: str) -> Expr:
    """A decision rule decides the case, or a disc that is named."""
    of_discs = [
        z3.And(judged.world.named(level), judged.deciding[rule, level]) for level in judged.world.levels
    ]
    return any_true((judged.deciding[rule, "case"], *of_discs))


def decides(rule_set: RuleSet, rule: str, as_of: date) -> Any:
    """Whether the ordinary reading of a case decides by a rule, for the case or a disc."""
    assessor = assessor_for(rule_set, "direct")

    def shows(case: Case) -> bool:
        found = assessor.assess(case, as_of)
        return rule in (found.decision.rule, *(disc.decision.rule for disc in found.discs))

    return shows


def idle_rules(rule_set: RuleSet) -> frozenset[str]:
    """Decision rules that speak only of forces that no criterion of the rule set has: its order is shared with others."""
    forces = {item.force for item in rule_set.criteria} | {"record"}
    idle: set[str] = set()
    standings: set[str] = set()
    for rule in rule_set.decisions.rules:
        spoken = not rule.when or any(p.force in forces or p.any_disc in standings for p in rule.when)
        if spoken:
            standings.add(rule.standing)
        else:
            idle.add(rule.id)
    return frozenset(idle)


class Implied(Struct, frozen=True):
    """A criterion that fails only where another fails too."""

    criterion: str
    by: str
    both_ways: bool


def implied(judged: Judged, never_fail: Iterable[str]) -> tuple[list[Implied], list[tuple[str, str]]]:
    """Criteria whose failure never adds anything, each with the one that fails wherever it does, and pairs not decided.

    Only criteria of one subject that read an element in common are held against each other, and only where the other's force
    decides at least as much.
    """
    left_out = set(never_fail)
    items = [item for item in judged.rule_set.criteria if item.id not in left_out]
    reads = {item.id: set(elements_of(*item.conditions)) for item in items}
    only_in: dict[tuple[str, str], bool] = {}
    open_: list[tuple[str, str]] = []
    for one in items:
        for other in items:
            if (
                one is other
                or one.criterion.subject != other.criterion.subject
                or reads[one.id].isdisjoint(reads[other.id])
            ):
                continue
            answer = _fails_only_with(judged, one, other)
            if answer == "unsat":
                only_in[one.id, other.id] = True
            elif answer == "unknown":
                open_.append((one.id, other.id))
    force = {item.id: _FORCES.index(item.force) for item in items}
    found = []
    for one_id, other_id in only_in:
        both = (other_id, one_id) in only_in
        if force[other_id] <= force[one_id] and not (
            both and force[other_id] == force[one_id] and one_id < other_id
        ):
            found.append(Implied(one_id, other_id, both))
    return found, open_


def _fails_only_with(judged: Judged, one: ResolvedCriterion, other: ResolvedCriterion) -> str:
    subjects = (
        ("patient",) if one.criterion.subject == "patient" else ("L4-L5", "L1-L2", "L2-L3", "L3-L4", "L5-S1")
    )
    answer = "unsat"
    for subject in subjects:
        if answer == "unsat":
            fails, also = judged.outcomes[one.id, subject].fails, judged.outcomes[other.id, subject].fails
            answer = judged.world.check(fails, z3.Not(also))
    return answer


# --- parameters


class Influence(Struct, frozen=True):
    """A parameter of a criterion whose value changes no outcome, from ``low`` to ``high`` where it is a number."""

    criterion: str
    parameter: str
    verdict: Literal["never", "open"]
    tried: tuple[Any, ...]


def without_influence(rule_set: RuleSet, item: ResolvedCriterion, as_of: date) -> Iterator[Influence]:
    """Parameters of which no allowed value gives any record another outcome.

    A number is asked for at both ends of its range, and beside its value. Where it stands in one place, each outcome rises or
    falls with it, so that both ends settle all between; where it stands in several, it is told as not decided.
    """
    for name in item.parameters:
        values = list(_others(item, name))
        if not values:
            continue
        answers = {_changes(rule_set, item, name, value, as_of) for value in values}
        if "sat" in answers:
            continue
        settled = answers == {"unsat"} and (
            _is_number(item.parameters[name].value) is False or _once(item, name)
        )
        yield Influence(item.id, name, "never" if settled else "open", tuple(values))


def _changes(rule_set: RuleSet, item: ResolvedCriterion, name: str, value: Any, as_of: date) -> str:
    changed = replace(item, parameters={**item.parameters, name: replace(item.parameters[name], value=value)})
    alone = Alone(rule_set, item, as_of, changed)
    here, there = alone.outcome(), alone.outcome(changed)
    return alone.world.check(z3.Or(here.passes != there.passes, here.fails != there.fails))


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _once(item: ResolvedCriterion, name: str) -> bool:
    """Whether a parameter stands in one test, or is an age of facts, and in no count with two limits."""
    used = [
        node
        for root in item.conditions
        for node in walk(root)
        if any(o.parameter == name for o in operands_of(node))
    ]
    recency = item.criterion.recency
    as_age = recency is not None and recency.max_age.parameter == name
    return (len(used) + as_age == 1 or (as_age and not used)) and not any(
        isinstance(node, CountOf) and node.op in ("between", "is") for node in used
    )


def _others(item: ResolvedCriterion, name: str) -> Iterator[Any]:
    parameter = item.parameters[name]
    value, declared = parameter.value, parameter.declared
    if isinstance(value, tuple | str):
        codes = _codes(item, name)
        if isinstance(value, str):
            yield from (code for code in codes if code != value)
        else:
            for code in codes:
                changed = tuple(each for each in value if each != code) if code in value else (*value, code)
                if changed:
                    yield changed
        return
    if not _is_number(value):
        yield not value
        return
    number: Any = value
    bounds = declared.allowed
    low = bounds.low if bounds is not None and bounds.low is not None else None
    high = bounds.high if bounds is not None and bounds.high is not None else None
    ends = [low if low is not None else 0, high if high is not None else 10 * abs(number) + 10]
    beside = [number - 1, number + 1]
    for other in dict.fromkeys((*ends, *(b for b in beside if ends[0] <= b <= ends[1]))):
        if other != number:
            yield (
                type(number)(other)
                if float(other).is_integer() or isinstance(number, float)
                else float(other)
            )


def _codes(item: ResolvedCriterion, name: str) -> tuple[str, ...]:
    """The codes of the element that a parameter is compared with."""
    for root in item.conditions:
        for node in walk(root):
            if isinstance(node, Compare) and any(o.parameter == name for o in node.operands):
                return catalogue()[node.element].codes
    return ()
