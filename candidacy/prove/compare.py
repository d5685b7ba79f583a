"""Two rule sets over all records: equal, one stricter, or a record for each way in which a standing moves.

Every pair of different standings is asked for. Where none can occur the two are equal; where all moves go to one side, that one is
stricter; each move is shown by the smallest record found. What neither a proof nor a record settles is told as not decided.
"""

from collections.abc import Callable, Iterator
from datetime import date
from functools import cache
from typing import Any, Literal

import z3
from msgspec import Struct

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.assessment.record_grounds import Dangers
from candidacy.assessment.relate import with_what_tells
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case
from candidacy.prove.judged import Judged, bounds_of
from candidacy.prove.questions import Alone
from candidacy.prove.samples import demonstration
from candidacy.prove.symbols import World
from candidacy.prove.translate import CONSIDERED
from candidacy.prove.witness import Found, Seeker
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.vocabulary import STANDINGS, Standing

Verdict = Literal["equal", "first_stricter", "second_stricter", "incomparable", "not_decided"]
# From the worst to the best standing, as they are declared.
_RANK = {standing: place for place, standing in enumerate(STANDINGS)}


class Move(Struct, frozen=True):
    """Records that have one standing under the first rule set and another under the second."""

    first: Standing
    second: Standing
    found: Found


class CriterionMove(Struct, frozen=True):
    """Records for which a criterion of both rule sets has two outcomes."""

    criterion: str
    first: str
    second: str
    found: Found


class Comparison(Struct, frozen=True):
    """How two rule sets stand to each other, and every move that can occur, or of which that is not known.

    ``criteria`` are those of both that can come to other outcomes, also where no standing moves by it; ``unasked`` those of which
    that was not asked, because the two rule sets work facts out differently.
    """

    verdict: Verdict
    moves: tuple[Move, ...]
    criteria: tuple[CriterionMove, ...] = ()
    unasked: tuple[str, ...] = ()


def compare(first: RuleSet, second: RuleSet, as_of: date) -> Comparison:
    """Hold two rule sets against each other.

    Raises
    ------
    RuleError
        If a table of either cannot be loaded.
    """
    world = World(as_of, bounds_of(first, second))
    same_dangers = _weighing(first) == _weighing(second)
    one = Judged(world, first)
    two = Judged(world, second, _eyes(first, second), "" if same_dangers else "second")
    changed = [item.id for item in first.criteria if _changed(item, second)]
    see_alike = _see_alike(first, second)
    criteria = [
        move for name in changed if see_alike for move in _criterion_moves(first, second, name, as_of)
    ]
    seeker = Seeker(
        world,
        [one, two],
        lambda: (*(m.found.draft for m in criteria if m.found.draft), *demonstration(as_of)),
    )
    moves = tuple(_moves(one, two, seeker, as_of))
    return Comparison(_verdict(moves), moves, tuple(criteria), () if see_alike else tuple(changed))


def _changed(item: ResolvedCriterion, second: RuleSet) -> bool:
    """Whether another rule set has a criterion of the same id that asks something else."""
    other = next((each for each in second.criteria if each.id == item.id), None)
    return (
        other is not None
        and item.criterion.subject == other.criterion.subject
        and (item.when, item.applies_when, item.criterion.kind)
        != (other.when, other.applies_when, other.criterion.kind)
    )


def _criterion_moves(first: RuleSet, second: RuleSet, name: str, as_of: date) -> Iterator[CriterionMove]:
    """Each pair of outcomes that a criterion can have under the two rule sets."""
    item, other = first.criterion(name), second.criterion(name)
    alone = Alone(first, item, as_of, other)
    here, there = alone.outcome(), alone.outcome(other)
    seeker = Seeker(alone.world, [alone])
    for one, said in (("pass", here.passes), ("fail", here.fails), ("undetermined", here.open)):
        for two, also in (("pass", there.passes), ("fail", there.fails), ("undetermined", there.open)):
            if one == two:
                continue
            asked = [said, also, *([] if alone.subject == "patient" else [alone.world.named(alone.subject)])]
            if alone.standings_free:
                answer = alone.world.check(*asked)
                found = Found("never" if answer == "unsat" else "open")
            else:
                found = seeker.find(asked, _outcomes(alone, item, other, one, two))
            if found.verdict != "never":
                yield CriterionMove(name, one, two, found)


def _outcomes(
    alone: Alone, item: ResolvedCriterion, other: ResolvedCriterion, one: str, two: str
) -> Callable[[Case], bool]:
    assessor, first, second = (
        assessor_for(alone.rule_set, "direct"),
        CompiledCriterion(item),
        CompiledCriterion(other),
    )

    def shows(case: Case) -> bool:
        view = assessor.view(case, alone.world.as_of)
        if alone.subject != "patient" and alone.subject not in view.named_levels():
            return False
        view.settle_discs({})
        return (
            first.read(view, alone.subject).outcome == one and second.read(view, alone.subject).outcome == two
        )

    return shows


def _moves(one: Judged, two: Judged, seeker: Seeker, as_of: date) -> Iterator[Move]:
    for first in _given(one.rule_set):
        for second in _given(two.rule_set):
            if first == second:
                continue
            asked = z3.And(one.standings["case"][first], two.standings["case"][second])
            found = seeker.find([asked], _shows(one.rule_set, first, two.rule_set, second, as_of))
            if found.verdict != "never":
                yield Move(first, second, found)


def _given(rule_set: RuleSet) -> list[Standing]:
    given = {rule.standing for rule in rule_set.decisions.rules}
    return [standing for standing in _RANK if standing in given]


def _shows(
    first: RuleSet, standing: Standing, second: RuleSet, other: Standing, as_of: date
) -> Callable[[Case], bool]:
    one, two = assessor_for(first, "direct"), assessor_for(second, "direct")
    return lambda case: (
        one.assess(case, as_of).standing == standing and two.assess(case, as_of).standing == other
    )


def _verdict(moves: tuple[Move, ...]) -> Verdict:
    shown = {_RANK[move.second] > _RANK[move.first] for move in moves if move.found.verdict == "shown"}
    possible = {_RANK[move.second] > _RANK[move.first] for move in moves}
    if len(shown) == 2:
        return "incomparable"
    if not possible:
        return "equal"
    if possible != shown:
        return "not_decided"
    return "first_stricter" if True in shown else "second_stricter"


def _eyes(first: RuleSet, second: RuleSet) -> Callable[[str], int]:
    """Of which elements the second rule set may see another value than the first in one record.

    Other relations may tell anything otherwise that a record does not tell alone; other settings and tables what is worked out,
    and what that tells.
    """
    related = {*first.relations, *second.relations}
    stated = catalogue().only_stated
    if first.relations_digest != second.relations_digest:
        return lambda name: int(name not in stated or name in related)
    if _see_alike(first, second):
        return lambda name: 0
    shelf = catalogue()

    @cache
    def may_differ(name: str) -> int:
        tells = with_what_tells([name], first.relations, lambda element: element.reads)
        return int(any(shelf[each].derived and each != CONSIDERED for each in tells))

    return may_differ


def _see_alike(first: RuleSet, second: RuleSet) -> bool:
    """Whether both see the same facts in every record."""
    same = first.tables.digest == second.tables.digest and first.relations_digest == second.relations_digest
    return same and first.setting_values() == second.setting_values()


def _weighing(rule_set: RuleSet) -> Any:
    """What decides which recorded dangers a rule set leaves unread."""
    found: dict[str, Any] = {}
    for element, weighers in Dangers(rule_set).weighers.items():
        gated = {(w.item.criterion.subject, w.item.applies_at_any_age) for w in weighers if w.gated}
        found[element] = "always" if any(not w.gated for w in weighers) else gated
    return found, rule_set.relations_digest
