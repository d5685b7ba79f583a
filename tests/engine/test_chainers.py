"""The chained reading: durable-rules and the direct chainer agree, under threads and over many decisions."""

import gc
import resource
import threading
import tracemalloc
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import product
from random import Random
from typing import Any

import pytest

from candidacy.assessment.assess import Assessor
from candidacy.case.load import case_from_record
from candidacy.engine.choose import chainer_for, engine_version
from candidacy.engine.decision import DirectChainer, Fired, Ground, PossibleStandings
from candidacy.engine.durable_chainer import DurableChainer
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import EngineError
from candidacy.rules.decision_order import DecisionOrder, DecisionPattern, DecisionRule
from candidacy.rules.libraries import shipped
from tests.deep import DEEP
from tests.engine.one_fact_each import OneFactEach
from tests.engine.orders import CITE, FORCES, OUTCOMES, random_discs, random_grounds, random_order
from tests.strategies import AS_OF, elements_read, random_case

STANDARD = shipped().decisions("standing_order")


@pytest.fixture(scope="module")
def durable() -> DurableChainer:
    return DurableChainer(STANDARD)


def ground(force: str, outcome: str, name: str = "one") -> Ground:
    return Ground(name, force, outcome)


# The order of standings as the design page gives it: outcomes, standings of discs, standing.
STANDINGS = [
    ([], {}, "candidate"),
    ([("stop", "pass"), ("absolute", "pass"), ("relative", "pass"), ("advisory", "fail")], {}, "candidate"),
    ([("stop", "fail"), ("absolute", "fail"), ("relative", "undetermined")], {}, "urgent"),
    ([("absolute", "fail"), ("stop", "undetermined"), ("relative", "fail")], {}, "not_candidate"),
    ([("stop", "undetermined"), ("relative", "fail")], {}, "incomplete"),
    ([("absolute", "undetermined"), ("relative", "fail")], {}, "incomplete"),
    ([("relative", "fail"), ("relative", "undetermined")], {}, "borderline"),
    ([("relative", "undetermined"), ("advisory", "fail")], {}, "incomplete"),
    ([("advisory", "undetermined")], {}, "candidate"),
    ([("absolute", "fail")], {"L4-L5": "urgent"}, "urgent"),
    ([("absolute", "pass")], {"L4-L5": "not_candidate"}, "candidate"),
]


@pytest.mark.parametrize(("outcomes", "discs", "standing"), STANDINGS)
def test_the_standing_follows_the_declared_order(
    durable: DurableChainer, outcomes: list[tuple[str, str]], discs: dict[str, str], standing: str
) -> None:
    grounds = [ground(force, outcome, f"c{n}") for n, (force, outcome) in enumerate(outcomes)]
    for chainer in (durable, DirectChainer(STANDARD)):
        decision = chainer.decide(grounds, discs)
        assert decision.standing == standing
        assert decision.rule in {fired.rule for fired in decision.fired}


def test_every_rule_that_fired_is_listed_in_order_with_what_made_it_fire(durable: DurableChainer) -> None:
    grounds = [
        ground("relative", "fail", "heavy"),
        ground("absolute", "fail", "infected"),
        ground("stop", "undetermined", "cauda"),
        ground("absolute", "fail", "pregnant"),
    ]
    for chainer in (durable, DirectChainer(STANDARD)):
        decision = chainer.decide(grounds, {"L4-L5": "urgent", "L5-S1": "candidate"})
        assert decision.standing == "urgent"
        assert decision.fired == (
            Fired("emergency_sign_present", ("L4-L5",)),
            Fired("absolute_contraindication_present", ("infected", "pregnant")),
            Fired("deciding_fact_missing", ("cauda",)),
            Fired("relative_contraindication_present", ("heavy",)),
        )


# --- agreement


def test_all_combinations_of_up_to_two_outcomes_agree(durable: DurableChainer) -> None:
    direct = DirectChainer(STANDARD)
    pairs = list(product(FORCES, OUTCOMES))
    for first in pairs:
        for second in pairs:
            grounds = [ground(*first, "a"), ground(*second, "b")]
            assert durable.decide(grounds, {}) == direct.decide(grounds, {})


def test_both_chainers_and_one_told_every_criterion_agree_on_thousands_of_outcome_sets(
    durable: DurableChainer,
) -> None:
    rng, direct, seen = Random(2026), DirectChainer(STANDARD), Counter[str]()
    each = OneFactEach(STANDARD)
    for _ in range(50_000 if DEEP else 4_000):
        grounds, discs = random_grounds(rng), random_discs(rng)
        decision = durable.decide(grounds, discs)
        assert decision == direct.decide(grounds, discs) == each.decide(grounds, discs)
        seen[decision.standing] += 1
    assert set(seen) == {"urgent", "not_candidate", "incomplete", "borderline", "candidate"}
    assert min(seen.values()) > 20


def test_both_chainers_agree_under_orders_of_any_kind() -> None:
    rng = Random(7)
    for number in range(60):
        order = random_order(rng, number)
        chainer, direct, each = DurableChainer(order), DirectChainer(order), OneFactEach(order)
        for _ in range(25):
            grounds, discs = random_grounds(rng, 12), random_discs(rng)
            decision = chainer.decide(grounds, discs)
            assert decision == direct.decide(grounds, discs) == each.decide(grounds, discs)


def test_a_name_that_is_a_ground_twice_is_one_reason() -> None:
    order = shipped().decisions("standing_order")
    pair = [p for rule in order.rules for p in rule.when if p.force == "record"]
    grounds = [Ground("patient: fever", p.force or "", p.outcome or "") for p in [*pair, *pair]]
    assert grounds
    for chainer in (DurableChainer(order), DirectChainer(order)):
        fired = chainer.decide(grounds, {}).fired
        assert all(found.because == ("patient: fever",) for found in fired)


def test_the_order_in_which_outcomes_come_changes_nothing_but_the_order_of_reasons(
    durable: DurableChainer,
) -> None:
    rng = Random(3)
    for _ in range(200):
        grounds, discs = random_grounds(rng), random_discs(rng)
        before = durable.decide(grounds, discs)
        rng.shuffle(grounds)
        after = durable.decide(grounds, dict(reversed(discs.items())))
        assert (before.standing, before.rule) == (after.standing, after.rule)
        assert [(f.rule, set(f.because)) for f in before.fired] == [
            (f.rule, set(f.because)) for f in after.fired
        ]


# --- standings a disc may still come to


def completions(grounds: list[Ground]) -> Iterator[list[Ground]]:
    """Every way in which undetermined outcomes may become known, or not."""
    open_ = [n for n, g in enumerate(grounds) if g.outcome == "undetermined"]
    for ways in product(OUTCOMES, repeat=len(open_)):
        done = list(grounds)
        for place, outcome in zip(open_, ways, strict=True):
            done[place] = replace(done[place], outcome=outcome)
        yield done


def test_possible_standings_are_those_of_every_way_the_open_outcomes_may_turn_out() -> None:
    rng = Random(11)
    orders = [
        STANDARD,
        shipped().decisions("completeness_order"),
        *(random_order(rng, 900 + n) for n in range(30)),
    ]
    for order in orders:
        possible, direct = PossibleStandings(order), DirectChainer(order)
        for _ in range(30):
            grounds = random_grounds(rng, 6)
            wanted = {direct.decide(done, {}).standing for done in completions(grounds)}
            assert possible.of(grounds) == wanted
            if all(g.outcome != "undetermined" for g in grounds):
                assert possible.of(grounds) == {direct.decide(grounds, {}).standing}


def test_a_disc_that_fails_may_still_turn_out_urgent() -> None:
    possible = PossibleStandings(STANDARD)
    failing = ground("absolute", "fail", "a")
    assert possible.of([failing]) == {"not_candidate"}
    assert possible.of([failing, ground("relative", "undetermined", "b")]) == {"not_candidate"}
    assert possible.of([failing, ground("stop", "undetermined", "b")]) == {"not_candidate", "urgent"}


# --- laws of the engine


def _order(*rules: DecisionRule) -> DecisionOrder:
    return DecisionOrder(id="order_of_a_test", version="0.1.0", title="Test", why="Test.", rules=rules)


def _rule(name: str, *patterns: DecisionPattern) -> DecisionRule:
    return DecisionRule(id=name, standing="candidate", when=patterns, means="x", next_step="x", cites=CITE)


def test_where_no_rule_decides_both_chainers_raise() -> None:
    # the loader refuses such an order; the engine would not be silent either
    order = _order(_rule("only_failures", DecisionPattern(force="stop", outcome="fail")))
    for chainer in (DurableChainer(order), DirectChainer(order)):
        assert chainer.decide([ground("stop", "fail")], {}).rule == "only_failures"
        with pytest.raises(EngineError):
            chainer.decide([ground("stop", "pass")], {})


def test_an_action_that_fails_raises_and_leaves_the_chainer_usable(monkeypatch: pytest.MonkeyPatch) -> None:
    broken: list[bool] = []

    def note(self: DurableChainer, rule: DecisionRule) -> object:
        def run(context: object) -> None:
            if broken:
                raise ZeroDivisionError("a fault inside an action")

        return run

    monkeypatch.setattr(DurableChainer, "_note", note)
    chainer = DurableChainer(STANDARD)
    broken.append(True)
    with pytest.raises(EngineError, match="a fault inside an action"):
        chainer.decide([ground("stop", "fail")], {})
    broken.clear()
    assert chainer.decide([ground("stop", "fail")], {}).standing == "urgent"


def test_a_clock_that_jumps_changes_no_decision(
    durable: DurableChainer, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the library drops what runs while the clock jumps ahead: the machine slept, or summer time began
    grounds = [ground("stop", "fail", "a"), ground("require", "undetermined", "b")]
    expected = DirectChainer(STANDARD).decide(grounds, {"L4-L5": "candidate"})
    looked = 0

    def clock(jump_at: int) -> float:
        nonlocal looked
        looked += 1
        return 3600.0 if looked >= jump_at else 0.0

    for jump_at in range(1, 100):
        looked = 0
        monkeypatch.setattr("durable.engine._unix_now", lambda jump_at=jump_at: clock(jump_at))
        assert durable.decide(grounds, {"L4-L5": "candidate"}) == expected
        if looked < jump_at:
            break  # later than the decision
    else:
        pytest.fail("a decision looked at the clock a hundred times")
    assert jump_at > 2


@pytest.mark.parametrize("order", [STANDARD, random_order(Random(7), 41), random_order(Random(8), 42)])
def test_what_was_decided_before_is_not_asked_again_and_comes_out_the_same(order: DecisionOrder) -> None:
    rng, asked = Random(7), list[object]()

    class Counting(DurableChainer):
        def _run(self, told: Sequence[Mapping[str, Any]]) -> tuple[list[str], list[str]]:
            asked.append(told)
            return super()._run(told)

    keeping, asking, direct = Counting(order, keeps=True), DurableChainer(order), DirectChainer(order)
    work = [(random_grounds(rng), random_discs(rng)) for _ in range(60)]
    assert [keeping.decide(*each) for each in work] == [asking.decide(*each) for each in work]
    times = len(asked)
    assert times
    # other criteria in another order with the same outcomes: their own names, and no question
    for grounds, discs in work:
        others = [replace(ground, criterion=f"again {n}") for n, ground in enumerate(grounds)][::-1]
        assert keeping.decide(others, discs) == direct.decide(others, discs)
    assert len(asked) == times


def test_a_case_leaves_nothing_behind_for_the_next(durable: DurableChainer) -> None:
    for _ in range(50):
        assert durable.decide([ground("stop", "fail")], {"L4-L5": "urgent"}).standing == "urgent"
        assert durable.decide([ground("stop", "pass")], {}).standing == "candidate"


def test_odd_criterion_names_are_only_names(durable: DurableChainer) -> None:
    # the loader allows lower_snake_case only; a chainer must not depend on it
    for name in ('"', "\\", "a b", "1", "null", "closing", "x" * 300, "é"):
        decision = durable.decide([ground("absolute", "fail", name)], {})
        assert decision.fired[0] == Fired("absolute_contraindication_present", (name,))


# --- threads and memory


def test_eight_threads_get_the_answers_one_thread_gets(durable: DurableChainer) -> None:
    rng = Random(5)
    work = [(random_grounds(rng, 15), random_discs(rng)) for _ in range(500)]
    direct = DirectChainer(STANDARD)
    wanted = [direct.decide(*each) for each in work]
    start = threading.Barrier(8)

    def run(offset: int) -> int:
        start.wait()
        order = list(range(offset, len(work))) + list(range(offset))
        return sum(durable.decide(*work[n]) != wanted[n] for n in order)

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(run, range(0, 400, 50))) == 0


def test_one_assessor_serves_several_threads() -> None:
    rule_set = shipped().rule_set("practice_baseline")
    assessor, elements = Assessor(rule_set), elements_read(rule_set)
    cases = [case_from_record(random_case(Random(seed), elements)) for seed in range(20)]
    wanted = [assessor.assess(case, AS_OF) for case in cases]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda case: assessor.assess(case, AS_OF), cases * 4))
    assert [a.decision for a in found] == [a.decision for a in wanted * 4]
    assert [a.missing for a in found] == [a.missing for a in wanted * 4]


def test_memory_stays_flat_over_thousands_of_decisions(durable: DurableChainer) -> None:
    rng = Random(9)
    work = [(random_grounds(rng, 10), random_discs(rng)) for _ in range(50)]

    def run(times: int) -> None:
        for _ in range(times):
            for grounds, discs in work:
                durable.decide(grounds, discs)

    run(20)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    run(100)  # 5,000 decisions
    assert (
        resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 20_000
    )  # kilobytes, the library's own too
    tracemalloc.start()
    run(2)
    gc.collect()  # only what is really held counts, whenever the collector last ran
    held = tracemalloc.get_traced_memory()[0]
    run(10)
    gc.collect()
    grown = tracemalloc.get_traced_memory()[0] - held
    tracemalloc.stop()
    assert grown < 100_000  # bytes held by Python


# --- which chainer serves


def test_durable_rules_serves_and_says_its_version() -> None:
    chainer, notice = chainer_for(STANDARD)
    assert (chainer.name, notice) == ("durable-rules", "")
    assert engine_version(chainer) == "durable-rules 2.0.28"
    again, _ = chainer_for(STANDARD.model_copy(update={"why": "Other words."}))
    assert (
        again is chainer
    )  # one host per order: the library cannot unregister rules, and words decide nothing
    other, _ = chainer_for(STANDARD.model_copy(update={"rules": STANDARD.rules[1:]}))
    assert other is not chainer


def test_where_durable_rules_cannot_be_imported_the_direct_chainer_serves_with_a_notice(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "candidacy.engine.durable_chainer", None)
    rule_set = shipped().rule_set("practice_baseline")
    assessor = Assessor(rule_set)
    assessment = assessor.assess(case_from_record(random_case(Random(1), elements_read(rule_set))), AS_OF)
    assert assessment.engine == "direct chainer"
    assert "durable-rules cannot be imported" in assessment.notices[0]


def test_the_direct_chainer_may_be_asked_for_and_says_so() -> None:
    chainer, notice = chainer_for(STANDARD, "direct")
    assert engine_version(chainer) == "direct chainer"
    assert "asked for" in notice
