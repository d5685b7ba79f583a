"""The assessment as a document: its published shape, its sources, its missing facts, its reason."""

import json
import math
from functools import cache
from random import Random
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment
from candidacy.assessment.evaluate import Trace
from candidacy.assessment.missing import WEIGHTS, recorded_as_unknown
from candidacy.assessment.record_grounds import RecordGrounds
from candidacy.case.catalogue import catalogue
from candidacy.case.element import BURDENS
from candidacy.engine.decision import DirectChainer, Ground
from candidacy.explain import document as shape
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.page import page
from candidacy.explain.record import A_LIST
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.rules.operators import NUMERIC
from candidacy.rules.vocabulary import FORCES, GROUPS, STANDINGS
from tests.assessment.test_properties import RULE_SETS, assess, cases_for, rule_set_of
from tests.quick_schema import Schema, is_schema

each_rule_set = pytest.mark.parametrize("name", RULE_SETS)
TAGS = {"seen", "weak", "memory", "memory, low", "common practice", "local", "derived"}


@cache
def assessments(name: str) -> tuple[Assessment, ...]:
    return tuple(assess(name, record) for record in cases_for(name, 12, start=40_000))


def documents(name: str) -> list[AssessmentDocument]:
    return [build_document(assessment) for assessment in assessments(name)]


def nodes_of(test: shape.TestInfo) -> list[shape.TestInfo]:
    return [test, *(inner for part in test.parts for inner in nodes_of(part))]


# --- shape


@each_rule_set
def test_json_is_valid_under_the_published_schema_and_reads_back_equal(name: str) -> None:
    schema = AssessmentDocument.model_json_schema()
    assert is_schema(schema)
    held = Schema(schema)
    for document in documents(name):
        text = document.to_json()
        data = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
        assert held.refusals(data) == []
        assert AssessmentDocument.model_validate_json(text) == document
        assert AssessmentDocument.model_validate_json(text).to_json() == text


def test_the_schema_refuses_what_is_not_a_document() -> None:
    held = Schema(AssessmentDocument.model_json_schema())
    data: dict[str, Any] = json.loads(documents("practice_baseline")[0].to_json())
    for change in ({"standing": "maybe"}, {"score": 3}, {"criteria": [{}]}):
        assert held.refusals(data | change)
    del data["cautions"]
    assert held.refusals(data)


@each_rule_set
def test_criteria_come_in_the_order_in_which_a_clinician_thinks(name: str) -> None:
    for document in documents(name):
        groups = [list(GROUPS).index(criterion.group) for criterion in document.criteria]
        assert groups == sorted(groups)
        assert [disc.level for disc in document.discs] == [
            d.level for d in document.discs if d.standing in STANDINGS
        ]


# --- every number with its source


@each_rule_set
def test_every_number_of_a_rule_comes_from_a_parameter_that_cites_with_a_tag(name: str) -> None:
    own = name.startswith("own:")
    for document in documents(name):
        known = {source.key for source in document.sources}
        for criterion in document.criteria:
            parameters = {p.name: p for p in criterion.parameters}
            assert criterion.cites
            for parameter in criterion.parameters:
                assert parameter.cites, (criterion.id, parameter.name)
                assert parameter.meaning
            for cite in [*criterion.cites, *(c for p in criterion.parameters for c in p.cites)]:
                assert cite.tag in TAGS
                assert cite.source in known
            for test in nodes_of(criterion.tests):
                if test.op in NUMERIC:
                    assert test.parameters or own, (criterion.id, test.element)
                assert set(test.parameters) <= set(parameters)


@each_rule_set
def test_every_value_used_tells_where_it_came_from(name: str) -> None:
    for assessment, document in zip(assessments(name), documents(name), strict=True):
        facts = {(fact.element, fact.subject): fact for fact in document.facts}
        labels = {fact.label for fact in document.facts}
        for fact in document.facts:
            assert fact.known is (fact.why is None)
            if fact.known and not fact.worked_out_from:
                assert fact.as_written, fact.element
                record = assessment.case.record
                assert not fact.document or fact.document in record.documents
            for part in fact.worked_out_from:
                # what a list says by being empty or complete has no fact behind it, and the note says which list
                assert part.split(" (")[0] in labels or (part == A_LIST and fact.note)
        for criterion in document.criteria:
            for test in nodes_of(criterion.tests):
                if test.kind == "test" and test.element != "disc_standing":
                    assert (test.element, test.subject) in facts


@each_rule_set
def test_margins_and_ages_are_numbers_or_open_and_never_infinite(name: str) -> None:
    for document in documents(name):
        for criterion in document.criteria:
            for test in nodes_of(criterion.tests):
                for number in [*(test.margin or ()), *(test.age_days or ())]:
                    assert number is None or math.isfinite(number)


# --- missing facts


def waits_for(trace: Trace) -> set[str]:
    """Elements of the open leaves of a reading, found without the code under test."""
    if trace.truth is not Truth.UNKNOWN:
        return set()
    if trace.kind == "test":
        return {trace.element}
    return {name for part in trace.parts for name in waits_for(part)} | ({trace.element} - {""})


@each_rule_set
def test_every_undetermined_criterion_is_waited_for_by_a_missing_fact(name: str) -> None:
    for assessment in assessments(name):
        named = {(criterion, m.subject) for m in assessment.missing for criterion in m.criteria}
        anywhere = {criterion for criterion, _ in named}
        for result in assessment.results:
            if result.outcome == "undetermined":
                wanted = waits_for(result.evaluation.trace)
                if result.evaluation.applies_trace is not None:
                    wanted |= waits_for(result.evaluation.applies_trace)
                assert result.id in anywhere or wanted == {"disc_standing"}, result.id
        open_ = {r.id for r in assessment.results if r.outcome == "undetermined"}
        assert anywhere <= open_


@each_rule_set
def test_missing_facts_come_by_whether_they_could_decide_then_force_then_burden(name: str) -> None:
    weights, forces = list(WEIGHTS), list(FORCES)
    for assessment in assessments(name):
        out_of_question = {d.level for d in assessment.discs if d.considered is Truth.NOT_MET}
        # contradictions of the record stand first, whatever they weigh: they are settled from the chart
        apart = {(fact.element, fact.subject) for fact in assessment.conflicts}
        # what a source leaves unknown is asked for by the criterion that waits for it
        unknown = {(f.element, f.subject) for f in assessment.conflicts if recorded_as_unknown(f)}
        apart -= {
            (m.element, m.subject)
            for m in assessment.missing
            if (m.element, m.subject) in unknown and not m.ask.startswith("Is this right?")
        }
        first = [m for m in assessment.missing if (m.element, m.subject) in apart]
        assert first == list(assessment.missing[: len(first)])
        assert len(first) == len(apart)
        assert all(m.to_settle and (m.weight, m.burden) == ("alone", "in_chart") for m in first)
        keys = [
            (
                weights.index(m.weight),
                m.subject in out_of_question,
                forces.index(m.force),
                BURDENS.index(m.burden),
            )
            for m in assessment.missing[len(first) :]
        ]
        assert keys == sorted(keys)
        assert len({(m.element, m.subject) for m in assessment.missing}) == len(assessment.missing)
        for m in assessment.missing[len(first) :]:
            element = catalogue().get(m.element)
            if element is not None:
                assert m.burden == element.burden
                # what is worked out cannot be asked for; why it does not apply is told
                assert element.statable or m.why is Why.DOES_NOT_APPLY, m.element


@each_rule_set
def test_a_fact_said_to_decide_alone_would_change_the_standing_if_its_criterion_failed(name: str) -> None:
    chainer = DirectChainer(rule_set_of(name).decisions)
    for assessment in assessments(name):
        discs = {d.level: d.decision.standing for d in assessment.discs}
        record = RecordGrounds(assessment.conflicts, assessment.unread)
        apart = {(fact.element, fact.subject) for fact in assessment.conflicts}
        not_considered = {d.level for d in assessment.discs if d.considered is Truth.NOT_MET}
        for m in assessment.missing:
            if (m.element, m.subject) in apart:
                continue  # a contradiction decides by a rule of its own, not through a criterion
            changes = []
            for result in assessment.results:
                if result.id in m.criteria and result.outcome == "undetermined" and m.weight == "alone":
                    same = [r for r in assessment.results if r.subject == result.subject]
                    supposed = [
                        Ground(r.id, r.resolved.force, "fail" if r is result else r.outcome) for r in same
                    ]
                    patient = result.subject == "patient"
                    supposed += record.of_case(not_considered) if patient else record.of_disc(result.subject)
                    now = assessment.standing if patient else discs[result.subject]
                    changes.append(chainer.decide(supposed, discs if patient else {}).standing != now)
            assert m.weight != "alone" or any(changes), (m.element, m.subject)


@each_rule_set
def test_an_incomplete_case_names_a_fact_that_could_decide(name: str) -> None:
    for assessment in assessments(name):
        weights = {m.weight for m in assessment.missing}
        # under another order of decisions, incomplete may mean that a known fact fails
        if assessment.standing == "incomplete" and rule_set_of(name).decisions.id == "standing_order":
            assert weights & {"alone", "later"}
        if not any(r.outcome == "undetermined" for r in assessment.results):
            assert assessment.missing == ()


# --- reason


@each_rule_set
def test_the_reason_is_two_sentences_that_open_with_the_standing(name: str) -> None:
    for document in documents(name):
        assert len(document.reason) == 2
        title = rule_set_of(name).file.title
        assert document.reason[0].startswith(f"{document.standing_name} under {title} as of 2026-11-25")
        assert all(sentence.endswith((".", "?", ")")) for sentence in document.reason)
        assert "not_met" not in " ".join(document.reason)


@each_rule_set
def test_what_is_said_of_a_criterion_names_the_value_that_decided_it(name: str) -> None:
    for document in documents(name):
        for criterion in document.criteria:
            assert criterion.because, criterion.id
            text = " ".join(criterion.because)
            for word in ("not_met", "None", "Truth.", "frozenset", "not not", "_entry", "inf "):
                assert word not in text, (criterion.id, text)


def test_every_output_carries_the_cautions_and_a_demonstration_says_so() -> None:
    for document in documents("practice_baseline"):
        text = " ".join(document.cautions)
        assert "not a diagnosis, not an order, not a decision" in text
        assert "prevail" in text
        # an emergency under a companion rule set outranks this program just the same
        urgent = "urgent" in (document.standing, *(c.standing for c in document.companions))
        assert document.cautions[1 if urgent else 0].startswith("Demonstration data")
        assert (document.cautions[0].startswith("A sign of a possible emergency")) is urgent


def test_the_status_of_a_criterion_says_what_was_done_and_claims_no_reviewer() -> None:
    shown = page(documents("wide_screen")[0])
    assert "source checked" in shown
    assert ", source_checked" not in shown
    assert ", reviewed" not in shown


def test_the_document_names_what_made_it() -> None:
    for assessment, document in zip(
        assessments("practice_baseline"), documents("practice_baseline"), strict=True
    ):
        assert document.rule_set.digest == assessment.rule_set.digest
        assert document.case.digest == assessment.case.digest
        assert document.program.startswith("candidacy ")
        assert document.engine == "durable-rules 2.0.28"


def test_random_cases_of_these_tests_differ() -> None:
    """Guard: the cases above must not all be of one standing."""
    standings = {a.standing for name in RULE_SETS for a in assessments(name)}
    assert len(standings) >= 3
    assert Random(1).random() != Random(2).random()
