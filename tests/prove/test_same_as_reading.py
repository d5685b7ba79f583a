"""The solver's reading of a rule set is the ordinary one: the same outcomes and standings on generated exact records."""

from datetime import date
from random import Random

import pytest
import z3

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.case.catalogue import catalogue
from candidacy.case.element import STANDARD_LEVELS
from candidacy.case.load import Case
from candidacy.foundation.errors import CaseError
from candidacy.foundation.values import Options
from candidacy.prove.draft import Draft
from candidacy.prove.judged import Judged
from candidacy.prove.questions import Alone, reads_standings
from candidacy.prove.samples import demonstration
from candidacy.prove.symbols import Bounds, World
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import ResolvedCriterion, RuleSet, as_declared
from tests.deep import DEEP, only_deep
from tests.prove.pins import pins, random_facts

DAY = date(2026, 11, 28)
RECORDS = 25 if DEEP else 1


def _case(draft: Draft) -> Case | None:
    try:
        return draft.case(DAY)
    except CaseError:  # two scales of one thing
        return None


def _read_both(rule_set: RuleSet, item: ResolvedCriterion, rng: Random) -> tuple[str, str] | None:
    """The outcome by the ordinary reading and by the solver; nothing for a record whose sources conflict."""
    alone = Alone(rule_set, item, DAY)
    outcome = alone.outcome()
    case = _case(random_facts(rng, item, DAY))
    if case is None:
        return None
    view = assessor_for(rule_set, "direct").view(case, DAY)
    standings = {
        level: Options(frozenset(rng.sample(catalogue()["disc_standing"].codes, rng.choice((1, 2)))))
        for level in view.named_levels()
    }
    view.settle_discs(standings)
    pinned = pins(alone.world, view)
    if pinned is None:
        return None
    if reads_standings(item):
        for level, may in alone.reader.standings.items():
            if level in standings:
                pinned += [said == (code in standings[level].codes) for code, said in may.items()]
    assert alone.world.check(*pinned) == "sat", "every such record is ranged over"
    may = {
        name: alone.world.check(*pinned, said) == "sat"
        for name, said in (("pass", outcome.passes), ("fail", outcome.fails), ("undetermined", outcome.open))
    }
    read = CompiledCriterion(item).read(view, alone.subject).outcome
    told = [name for name, possible in may.items() if possible]
    return read, " or ".join(told)


@pytest.mark.parametrize("part", range(4))
def test_every_shipped_criterion_comes_to_the_same_outcome(part: int) -> None:
    rule_set = shipped().rule_set("practice_baseline")
    asked = read_both = 0
    outcomes: set[str] = set()
    for name in shipped().criterion_names()[part::4]:
        rng = Random(f"{name} {part}")
        for _ in range(RECORDS):
            asked += 1
            found = _read_both(rule_set, as_declared(shipped().criterion(name)), rng)
            if found is not None:
                read_both += 1
                assert found[0] == found[1], name
                outcomes.add(found[0])
    assert read_both > 0.8 * asked  # the rest are records whose own facts conflict
    assert outcomes == {"pass", "fail", "undetermined"}


def _exact(draft: Draft, rule_set: RuleSet) -> Draft:
    """What a record states exactly, without dangers that no criterion weighs."""
    facts = {key: entry for key, entry in draft.facts.items() if "value" in entry}
    exact = Draft(facts, draft.discs, draft.entries, draft.complete)
    case = _case(exact)
    unread = assessor_for(rule_set, "direct").assess(case, DAY).unread if case is not None else ()
    gone = {(fact.subject, fact.element) for fact, dangers, _ in unread if dangers}
    return Draft(
        {key: e for key, e in facts.items() if key not in gone}, draft.discs, draft.entries, draft.complete
    )


def _standings(judged: Judged, draft: Draft) -> tuple[str, list[str]] | None:
    """The standing of a case, and those that the solver holds possible; nothing for a record that is not ranged over."""
    case = _case(draft)
    assessor = assessor_for(judged.rule_set, "direct")
    if (
        case is None
        or case.facts.discs.keys() - set(STANDARD_LEVELS)
        or any(n > 8 for n in draft.entries.values())
    ):
        return None
    found = assessor.assess(case, DAY)
    pinned = pins(judged.world, found.view)
    if pinned is None or found.conflicts or any(dangers for _, dangers, _ in found.unread):
        return None
    pinned += [z3.Not(said) for said in (judged.conflict, *judged.unread.values())]
    possible = [
        s for s, said in judged.standings["case"].items() if judged.world.check(*pinned, said) == "sat"
    ]
    return found.standing, possible


@pytest.mark.parametrize("name", ["wide_screen", pytest.param("practice_baseline", marks=only_deep)])
def test_standings_of_cases_are_the_same(name: str) -> None:
    rule_set = shipped().rule_set(name)
    judged = Judged(World(DAY, Bounds(8)), rule_set)
    rng = Random(name)
    drafts = [_exact(draft, rule_set) for draft in demonstration(DAY)[:: 1 if DEEP else 3]]
    for draft in drafts[:]:
        facts = {key: entry for key, entry in draft.facts.items() if rng.random() < 0.85}
        drafts.append(Draft(facts, draft.discs, draft.entries, draft.complete))
    found = [each for each in (_standings(judged, draft) for draft in drafts) if each is not None]
    assert len(found) >= 3
    assert len({read for read, _ in found}) >= 2
    assert [[read] for read, _ in found] == [possible for _, possible in found]
