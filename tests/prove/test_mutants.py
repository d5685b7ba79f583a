"""Slips of the pen in rule sets are found: a fault by a proof, a change of meaning by a record, and what is the same is proved equal."""

from collections import Counter
from collections.abc import Iterator
from datetime import date

import pytest

from candidacy.assessment.assess import assessor_for
from candidacy.case.load import case_from_mapping, parse_case
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import day
from candidacy.prove.compare import compare
from candidacy.prove.prove import prove, prove_against
from candidacy.prove.questions import CriterionQuestion, criterion_question
from candidacy.prove.quick import dead_rules
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.resolved import RuleSet
from tests.deep import only_deep
from tests.prove.mutants import Mutant, edge_of_range, mutants

DAY = date(2026, 11, 28)
SMALL = ("number_at_most", "number_between", "yes_or_no", "any_entry_of_a_list", "applies_only_to_some",
         "disc_grade_between", "months_elapsed")  # fmt: skip


def small() -> RuleSet:
    """A few criteria of the test library, of most kinds."""
    every = load_rule_set("tests/data/rulesets/sets/every_operator")
    return replace(every, criteria=tuple(item for item in every.criteria if item.id in SMALL))


def found(mutant: Mutant, original: RuleSet) -> bool:
    """Whether a mutant is told as what it is."""
    if mutant.kind == "fault":
        return any(_faults(mutant))
    comparison = compare(original, mutant.rule_set, DAY)
    if mutant.kind == "same":
        return comparison.verdict == "equal" and not comparison.criteria
    return any(move.found.verdict == "shown" for move in (*comparison.moves, *comparison.criteria))


def _faults(mutant: Mutant) -> Iterator[bool]:
    if mutant.of not in {item.id for item in mutant.rule_set.criteria}:
        yield mutant.of in dead_rules(mutant.rule_set)
        return
    item = mutant.rule_set.criterion(mutant.of)
    questions: tuple[CriterionQuestion, ...] = (
        ("pass", "fail", "apply") if item.applies_when else ("pass", "fail")
    )
    for question in questions:
        yield criterion_question(mutant.rule_set, item, question, DAY, only_never=True).verdict == "never"


def test_slips_in_a_small_rule_set_are_found() -> None:
    original = small()
    planted = mutants(original, 9, "a few")
    assert len({mutant.what for mutant in planted}) == 9
    assert [mutant.what for mutant in planted if not found(mutant, original)] == []


def test_a_criterion_that_fails_wherever_it_applies_is_found() -> None:
    """Where it does not apply it passes, and that says nothing of its condition."""
    original = shipped().rule_set("wide_screen")
    (planted,) = [each for each in edge_of_range(original) if each.of == "weakness_measured"]
    item, moved = (each.criterion(planted.of) for each in (original, planted.rule_set))
    assert item.applies_when is not None
    assert criterion_question(original, item, "pass", DAY).verdict == "shown"
    assert criterion_question(planted.rule_set, moved, "pass", DAY).verdict == "never"
    assert criterion_question(planted.rule_set, moved, "fail", DAY).verdict == "shown"


def test_what_was_proved_of_a_moved_limit_is_shown_by_the_ordinary_reading() -> None:
    original = small()
    item = original.criterion("number_at_most")
    value = item.parameters["fewest"].value
    assert isinstance(value, int | float)
    changed = original.with_trial({(item.id, "fewest"): value - 2})
    told = prove_against(prove(original, DAY), original, changed, DAY)
    assert told.comparison is not None
    moves = [move for move in told.comparison.moves if move.shown]
    assert moves
    assert told.comparison.verdict in ("first_stricter", "not_decided")
    for move in moves:
        assert move.witness is not None
        case = parse_case(case_from_mapping(move.witness).to_yaml())
        assert case.record.invented
        as_of = day(case.record.as_of or "")
        assert assessor_for(original).assess(case, as_of).standing == move.first
        assert assessor_for(changed).assess(case, as_of).standing == move.second
    (outcome,) = [each for each in told.comparison.criteria if (each.first, each.second) == ("fail", "pass")]
    assert outcome.facts == 1


@only_deep
@pytest.mark.parametrize(
    ("name", "count"),
    [
        ("tests/data/rulesets/sets/every_operator", 40),
        ("report_completeness", 15),
        ("wide_screen", 25),
        ("procedural_safety", 20),
    ],
)
def test_a_hundred_slips_are_found(name: str, count: int) -> None:
    original = load_rule_set(name)
    planted = mutants(original, count, name)
    assert len(planted) == count
    missed = [f"{mutant.what}: {mutant.of}" for mutant in planted if not found(mutant, original)]
    assert missed == [], Counter(mutant.kind for mutant in planted)


@only_deep
@pytest.mark.parametrize("name", shipped().rule_set_names())
def test_every_shipped_rule_set_is_proved(name: str) -> None:
    proof = prove(shipped().rule_set(name), DAY)
    assert not proof.faults
    assert (
        proof.shown + len([line for line in proof.undecided if line.startswith("whether")]) >= proof.questions
    )
    assert proof.shown >= 0.97 * proof.questions
