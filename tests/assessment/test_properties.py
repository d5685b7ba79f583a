"""Laws of whole assessments, on generated cases, under a rule set with every operator and under every shipped one.

The laws are those of the design: unknown never passes and never fails; a fact may settle and never unsettle; order
never matters; the same input gives the same bytes; exactly one outcome per criterion and subject.
"""

import hashlib
import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.record_grounds import read_elements
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord
from candidacy.engine.decision import Fired, Ground, PossibleStandings
from candidacy.explain.build import build_document
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Span, Why
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import asks_presence, elements_of, walk
from tests.deep import DEEP
from tests.strategies import AS_OF, FULL, SPARSE, Mix, elements_read, hints_of, random_case

OWN = Library(Path(__file__).parents[1] / "data" / "rulesets", base=shipped())
RULE_SETS = [*(f"own:{name}" for name in OWN.rule_set_files()), *shipped().rule_set_files()]
MIXES = {"even": Mix(), "full": FULL, "sparse": SPARSE}
each_rule_set = pytest.mark.parametrize("name", RULE_SETS)


@cache
def rule_set_of(name: str) -> RuleSet:
    base = Library(shipped().folder)
    return (Library(OWN.folder, base) if name.startswith("own:") else base).rule_set(
        name.removeprefix("own:")
    )


@cache
def assessor_of(name: str, engine: str = "durable-rules") -> Assessor:
    return Assessor(rule_set_of(name), engine)


def read_rules_afresh() -> None:
    for kept in (rule_set_of, assessor_of, asks_for_presence, turned_by_presence, possible_standings):
        kept.cache_clear()


def cases_for(name: str, number: int, start: int = 0, *, all_of_them: bool = False) -> Iterator[CaseRecord]:
    """Records about what a rule set reads, in turn evenly known, nearly fully known and hardly known.

    A third of the number, unless `DEEP` runs are asked for.
    """
    number = number if DEEP or all_of_them else max(3, number // 3)
    rule_set = rule_set_of(name)
    elements, hints = elements_read(rule_set), hints_of(rule_set)
    for seed in range(start, start + number):
        yield random_case(Random(seed), elements, hints=hints, mix=list(MIXES.values())[seed % 3])


def assess(name: str, record: CaseRecord, engine: str = "durable-rules") -> Assessment:
    return assessor_of(name, engine).assess(case_from_record(record), AS_OF)


def outcomes(assessment: Assessment) -> dict[tuple[str, str], str]:
    return {(r.id, r.subject): r.outcome for r in assessment.results}


@cache
def possible_standings(name: str) -> PossibleStandings:
    return PossibleStandings(rule_set_of(name).decisions)


@cache
def asks_for_presence(name: str) -> frozenset[str]:
    """Criteria that ask whether something is stated, and so may turn with any fact."""
    found = set()
    for item in rule_set_of(name).criteria:
        if any(asks_presence(node) for root in item.conditions for node in walk(root)):
            found.add(item.id)
    return frozenset(found)


@cache
def turned_by_presence(name: str, detail: str) -> frozenset[str]:
    """Criteria with a summary that turns when a detail is stated at all: a medicine without a last dose counts as in use."""
    rules = rule_set_of(name)
    summaries = {
        relation.element
        for relation in rules.relations.values()
        for root in relation.conditions
        for node in walk(root)
        if asks_presence(node) and detail in elements_of(node)
    }
    return frozenset(item.id for item in rules.criteria if summaries & looked_at(rules, item))


def facts_in(plain: dict[str, Any]) -> Iterator[tuple[Any, ...]]:
    """Paths of all facts of a plain record."""
    yield from (("patient", key) for key in plain.get("patient", {}))
    for level, table in plain.get("discs", {}).items():
        yield from (("discs", level, key) for key in table)
    for name in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
        for number, table in enumerate(plain.get(name, {}).get("entries", ())):
            yield from ((name, "entries", number, key) for key in table)


def without(plain: Any, path: tuple[Any, ...]) -> Any:
    """A copy of plain data with one key left out."""
    step, *rest = path
    if isinstance(plain, list):
        return [without(part, tuple(rest)) if n == step else part for n, part in enumerate(plain)]
    if not rest:
        return {key: part for key, part in plain.items() if key != step}
    return {key: without(part, tuple(rest)) if key == step else part for key, part in plain.items()}


_LAST: list[tuple[Assessment, set[tuple[str, str]]]] = []


def contradicted(assessment: Assessment) -> set[tuple[str, str]]:
    """`contradictions` of one of the last two assessments, which are compared with one another, is worked out once."""
    for known, found in _LAST:
        if known is assessment:
            return found
    found = contradictions(assessment)
    _LAST[:] = [*_LAST[-1:], (assessment, found)]
    return found


def contradictions(assessment: Assessment) -> set[tuple[str, str]]:
    """Criteria that look at a fact about which the record contradicts itself, directly or through what tells it.

    The law is about facts that agree. A contradiction is no knowledge: the fewer of its parts are known, the less it shows.
    """
    conflicting = {fact.element for fact in assessment.conflicts}

    # many traces read one fact, and many facts are worked out from it; the fact is kept so that its id stays its own
    seen: dict[int, tuple[Fact, bool]] = {}

    def contradicted_fact(fact: Fact) -> bool:
        if id(fact) not in seen:
            derived = bool(fact.derived_from) or catalogue()[fact.element].derived
            found = (
                (derived and fact.why is Why.CONFLICTING)
                # told twice with two values that rounding explains: between them lies a limit on which they disagree
                or any(p.element == fact.element and p.subject == fact.subject for p in fact.derived_from)
                or any(contradicted_fact(part) for part in fact.derived_from)
            )
            seen[id(fact)] = fact, found
        return seen[id(fact)][1]

    def reads_one(trace: Trace) -> bool:
        if trace.fact is not None:
            if trace.fact.derived_from and trace.why in (Why.OUT_OF_DATE, Why.UNDATED):
                return True  # what is worked out is as old as its oldest input, so one more input may make it too old
            if contradicted_fact(trace.fact):
                return True
        return any(reads_one(part) for part in trace.parts)

    def counts_standings(trace: Trace) -> bool:
        return trace.element == "disc_standing" or any(counts_standings(part) for part in trace.parts)

    evaluations = [r.evaluation for r in assessment.results]
    found = {
        (r.criterion, r.subject)
        for r in evaluations
        if reads_one(r.trace) or (r.applies_trace is not None and reads_one(r.applies_trace))
    }
    found |= {
        (r.id, r.subject)
        for r in assessment.results
        if conflicting & looked_at(assessment.rule_set, r.resolved)
    }
    if any(subject != "patient" for _, subject in found):
        # what a contradiction leaves open in a disc is counted by the criteria that count standings
        found |= {(r.criterion, r.subject) for r in evaluations if counts_standings(r.trace)}
    return found


_LOOKED_AT: dict[tuple[str, str], frozenset[str]] = {}


def looked_at(rule_set: RuleSet, item: ResolvedCriterion) -> frozenset[str]:
    """Every element that can matter to a criterion."""
    key = rule_set.digest, item.id
    if key not in _LOOKED_AT:
        _LOOKED_AT[key] = read_elements([item], rule_set)
    return _LOOKED_AT[key]


def check_less_is_known(
    name: str, before: Assessment, after: Assessment, what: tuple[object, tuple[Any, ...] | str]
) -> None:
    """Fewer facts may turn a settled outcome into undetermined and do nothing else."""
    old, new = outcomes(before), outcomes(after)
    assert new.keys() <= old.keys(), what
    beside = contradicted(before) | contradicted(after)
    detail = what[1] if isinstance(what[1], str) else str(what[1][-1])
    may_turn = asks_for_presence(name) | turned_by_presence(name, detail)
    for key, outcome in new.items():
        if key[0] not in may_turn and key not in beside:
            assert outcome in (old[key], "undetermined"), (what, key, old[key], outcome)
    possible = possible_standings(name)
    was = {disc.level: disc.decision.standing for disc in before.discs}
    # a danger that nobody weighs, and a conflict, act on the standing as long as they are recorded
    if not beside and not before.conflicts and not any(unread.dangers for unread in before.unread):
        for disc in after.discs:
            # what asks for presence may have turned, so it says nothing of the standing that was
            grounds = [
                Ground(r.id, r.resolved.force, "undetermined" if r.id in may_turn else r.outcome)
                for r in after.of_subject(disc.level)
            ]
            assert was[disc.level] in possible.of(grounds), (what, disc.level)


@each_rule_set
def test_deleting_any_single_fact_unsettles_at_most_and_never_turns_an_outcome(name: str) -> None:
    rng = Random(name)
    for record in cases_for(name, 24):
        plain = record.plain()
        before = assess(name, record)
        paths = list(facts_in(plain))
        for path in rng.sample(paths, min(len(paths), 25)):
            # the law asks nothing of the standing that the chainer gives to the lesser record
            after = assess(name, CaseRecord.model_validate(without(plain, path)), "direct")
            check_less_is_known(name, before, after, (record.id, path))


@each_rule_set
def test_taking_facts_away_one_after_another_ends_with_nothing_settled_that_needs_a_fact(name: str) -> None:
    for record in cases_for(name, 4, start=1000):
        plain = record.plain()
        before = assess(name, record)
        for path in Random(record.id).sample(list(facts_in(plain)), len(list(facts_in(plain)))):
            plain = without(plain, path)
            after = assess(name, CaseRecord.model_validate(plain))
            check_less_is_known(name, before, after, (record.id, path))
            before = after


@each_rule_set
def test_a_list_no_longer_stated_to_be_complete_unsettles_at_most(name: str) -> None:
    for record in cases_for(name, 60, start=2000):
        plain = record.plain()
        before = None
        for listed in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
            if plain.get(listed, {}).get("complete"):
                before = before or assess(name, record)
                after = assess(
                    name, CaseRecord.model_validate(without(plain, (listed, "complete"))), "direct"
                )
                check_less_is_known(name, before, after, (record.id, listed))


def exactly(entry: dict[str, Any], rng: Random) -> dict[str, Any] | None:
    """An imprecise entry made exact by one of the values it allows."""
    if "one_of" in entry and all(isinstance(code, str) for code in entry["one_of"]):
        return {k: v for k, v in entry.items() if k != "one_of"} | {"value": rng.choice(entry["one_of"])}
    for form in ("between", "one_of"):
        if form in entry and not isinstance(entry[form][0], str):
            return {k: v for k, v in entry.items() if k != form} | {"value": rng.choice(entry[form])}
    for form in ("at_least", "at_most"):
        if form in entry:
            return {k: v for k, v in entry.items() if k != form} | {"value": entry[form]}
    if "includes" in entry:
        return {k: v for k, v in entry.items() if k != "includes"} | {"value": entry["includes"]}
    return None


@each_rule_set
def test_learning_an_imprecise_value_exactly_never_unsettles(name: str) -> None:
    rng = Random(name)
    for record in cases_for(name, 40, start=3000):
        plain = record.plain()
        after = assess(name, record, "direct")
        for path in facts_in(plain):
            table: Any = plain
            for step in path[:-1]:
                table = table[step]
            exact = exactly(table[path[-1]], rng)
            if exact is not None and rng.random() < 0.4:
                kept, table[path[-1]] = table[path[-1]], exact
                sharper = assess(name, CaseRecord.model_validate(plain))
                check_less_is_known(name, sharper, after, (record.id, path))
                table[path[-1]] = kept


@each_rule_set
def test_a_case_with_no_facts_passes_and_fails_nothing_that_needs_one(name: str) -> None:
    empty = CaseRecord.model_validate({"schema_version": "1", "id": "empty", "discs": {"L4-L5": {}}})
    assessment = assess(name, empty)
    settled = {r.id for r in assessment.results if r.outcome != "undetermined"} - asks_for_presence(name)
    assert settled == set()
    assert "candidate" not in {assessment.standing, *(d.decision.standing for d in assessment.discs)}


@each_rule_set
def test_exactly_one_outcome_for_every_criterion_and_subject(name: str) -> None:
    rule_set = rule_set_of(name)
    for record in cases_for(name, 30, start=4000):
        assessment = assess(name, record)
        levels = [disc.level for disc in assessment.discs]
        wanted = Counter(
            (item.id, subject)
            for item in rule_set.criteria
            for subject in (["patient"] if item.criterion.subject == "patient" else levels)
        )
        assert Counter((r.id, r.subject) for r in assessment.results) == wanted
        assert set(wanted.values()) == {1}
        assert {r.outcome for r in assessment.results} <= {"pass", "fail", "undetermined"}


def shuffled(data: Any, rng: Random) -> Any:
    """The same mappings in another order; lists keep theirs, for their order is content."""
    if isinstance(data, dict):
        keys = list(data)
        rng.shuffle(keys)
        return {key: shuffled(data[key], rng) for key in keys}
    return [shuffled(part, rng) for part in data] if isinstance(data, list) else data


@each_rule_set
def test_order_of_facts_never_shows_in_the_answer(name: str) -> None:
    for record in cases_for(name, 15, start=5000):
        first = build_document(assess(name, record)).to_json()
        other = CaseRecord.model_validate(shuffled(record.plain(), Random(record.id)))
        assert build_document(assess(name, other)).to_json() == first


def named(fired: Fired) -> Counter[str]:
    """What made a rule fire, whatever number an entry has in its list."""
    return Counter(re.sub(r"\[\d+\]", "[]", reason) for reason in fired.because)


@each_rule_set
def test_order_of_list_entries_and_of_criteria_never_changes_an_outcome(name: str) -> None:
    rule_set = rule_set_of(name)
    criteria = list(rule_set.criteria)
    Random(name).shuffle(criteria)
    other = Assessor(replace(rule_set, criteria=tuple(criteria)))
    for record in cases_for(name, 15, start=6000):
        plain = record.plain()
        for listed in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
            if plain.get(listed, {}).get("entries"):
                plain[listed]["entries"].reverse()
        before = assess(name, record)
        after = other.assess(case_from_record(CaseRecord.model_validate(plain)), AS_OF)
        assert outcomes(before) == outcomes(after)
        assert before.standing == after.standing
        assert [f.rule for f in before.decision.fired] == [f.rule for f in after.decision.fired]
        assert [named(f) for f in before.decision.fired] == [named(f) for f in after.decision.fired]
        assert [(d.level, d.decision.standing) for d in before.discs] == [
            (d.level, d.decision.standing) for d in after.discs
        ]


def test_order_in_which_files_are_found_never_matters(monkeypatch: pytest.MonkeyPatch) -> None:
    read_rules_afresh()
    before = {name: rule_set_of(name).digest for name in RULE_SETS}
    glob, walk = Path.glob, os.walk
    monkeypatch.setattr(Path, "glob", lambda self, pattern: reversed(list(glob(self, pattern))))
    monkeypatch.setattr(os, "walk", lambda folder: [(p, d, n[::-1]) for p, d, n in walk(folder)][::-1])
    base = Library(shipped().folder)
    own = Library(OWN.folder, base=base)
    after = {
        name: (own if name.startswith("own:") else base).rule_set(name.removeprefix("own:")).digest
        for name in RULE_SETS
    }
    assert after == before
    assert list(own.criterion_files()) == list(OWN.criterion_files())


@each_rule_set
def test_both_chainers_give_the_same_answer(name: str) -> None:
    for record in cases_for(name, 40, start=7000):
        durable, direct = assess(name, record), assess(name, record, "direct")
        assert durable.decision == direct.decision
        assert durable.discs == direct.discs
        assert durable.missing == direct.missing
        assert outcomes(durable) == outcomes(direct)


def json_digest(name: str) -> str:
    """Digest of the documents of some cases, from freshly read rules; run in this and in fresh processes."""
    read_rules_afresh()
    whole = hashlib.sha256()
    for record in cases_for(name, 12, start=8000):
        whole.update(build_document(assess(name, record)).to_json().encode())
    return whole.hexdigest()


def test_same_input_gives_the_same_bytes_in_fresh_processes_with_other_hash_seeds() -> None:
    names = ["own:every_operator", "practice_baseline"]
    here = [json_digest(name) for name in names]
    root = Path(__file__).resolve().parents[2]
    code = f"from tests.assessment.test_properties import json_digest; print(*(json_digest(n) for n in {names!r}))"
    for seed in ("0", "1", "4242"):
        environment = os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(root)}
        run = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True, cwd=root)  # fmt: skip
        assert run.stdout.split() == here


def test_the_cases_reach_every_standing_and_settle_every_criterion_both_ways() -> None:
    """Guard of the properties above: a law that is never put to the test is no law."""
    standings: Counter[str] = Counter()
    seen: set[tuple[str, str]] = set()
    for name in ("own:every_operator", "own:other_order"):
        for record in cases_for(name, 900, start=9000, all_of_them=True):
            assessment = assess(name, record)
            standings.update([assessment.standing, *(d.decision.standing for d in assessment.discs)])
            seen |= {(r.id, r.outcome) for r in assessment.results}
    assert set(standings) == {"urgent", "not_candidate", "incomplete", "borderline", "candidate"}
    wanted = {
        (item.id, o)
        for item in rule_set_of("own:every_operator").criteria
        for o in ("pass", "fail", "undetermined")
    }
    # a test of presence that does not apply to some is never undetermined
    assert wanted - seen <= {("presence", "undetermined")}


def test_ranges_of_counts_hold_the_count_that_full_knowledge_gives() -> None:
    """A count over discs is a range while a disc is open, and the count in the end lies in it."""
    name = "own:every_operator"
    for record in cases_for(name, 30, start=10_000):
        plain = record.plain()
        less = plain
        for path in list(facts_in(plain))[::2]:
            less = without(less, path)
        full, part = assess(name, record), assess(name, CaseRecord.model_validate(less))
        for one, other in zip(full.of_subject("patient"), part.of_subject("patient"), strict=True):
            if one.evaluation.trace.kind in ("count_discs", "count_entries"):
                inner, outer = one.evaluation.trace.tally, other.evaluation.trace.tally
                assert isinstance(inner, Span)
                assert isinstance(outer, Span)
                assert outer.low <= inner.low <= inner.high <= outer.high, record.id
