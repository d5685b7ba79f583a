"""What settles a standing, held to every completion of small cases and to whole assessments of the demo cases."""

from collections.abc import Iterator
from functools import cache
from itertools import combinations, product
from random import Random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from candidacy.assessment.assess import Assessment, assess, assessor_for
from candidacy.assessment.record_grounds import dangers_of
from candidacy.case.catalogue import catalogue
from candidacy.case.load import load_case
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import shipped
from candidacy.rules.vocabulary import Standing
from candidacy.settle.answers import Question
from candidacy.settle.endings import Ending
from candidacy.settle.search import Search
from candidacy.settle.settling import Settle, settle
from candidacy.settle.situation import Replies
from candidacy.settle.steps import MOST_QUESTIONS, Step
from candidacy.settle.suppose import Supposing
from tests.reads import AS_OF
from tests.settle.made import TESTS, case, possible, rule_set, whole


class Completions:
    """Every combination of answers to the questions of a case, each assessed whole."""

    def __init__(self, search: Search) -> None:
        self.search, self.supposing = search, search.supposing
        self._found: dict[Replies, tuple[Standing, frozenset[Standing]] | None] = {}
        self._known = {(f.element, f.subject) for f in self.supposing.assessment.conflicts}

    def of(self, replies: Replies) -> tuple[Standing, frozenset[Standing]] | None:
        """The standing and those it may come to; nothing where a reply contradicts the record or another."""
        key = tuple(sorted(replies, key=lambda r: (r.element, r.subject)))
        if key not in self._found:
            found = whole(self.supposing, key)
            new = {(f.element, f.subject) for f in found.conflicts} - self._known
            self._found[key] = None if new else (found.standing, possible(found))
        return self._found[key]

    def answers(self, questions: tuple[Question, ...]) -> Iterator[Replies]:
        """Every combination of answers; a question to which none is possible stays unanswered."""

        def go(place: int, said: Replies) -> Iterator[Replies]:
            if place == len(questions):
                yield said
                return
            nexts = [(*said, a.reply) for a in questions[place].answers if self.of((*said, a.reply))]
            for each in nexts or [said]:
                yield from go(place + 1, each)

        return go(0, ())

    def after(self, said: Replies) -> set[Standing]:
        """The standings of every completion, in which any other fact may stay unknown."""
        known = {r.element for r in said}
        rest = [q for q in self.search.questions if q.missing.element not in known]
        found = set()
        for some in product(*([None, *(a.reply for a in q.answers)] for q in rest)):
            told = self.of((*said, *(r for r in some if r is not None)))
            if told is not None:
                found.add(told[0])
        return found

    def settled(self, said: Replies) -> bool:
        told = self.of(said)
        return told is not None and len(told[1]) == 1 and self.after(said) == {told[0]}


@given(seed=st.integers(0, 10**9))
@example(seed=149467)  # nothing is missing, yet what weighs a danger may turn out not to apply
@example(seed=1984)  # one danger is certain, another may turn out to be none
@example(seed=29)  # a summary tells that its signs are no danger
@settings(max_examples=40, deadline=None)
def test_small_cases_are_settled_by_what_is_said_and_by_nothing_less(seed: int) -> None:
    rng = Random(seed)
    names = rng.sample(sorted(TESTS), rng.randint(2, 4))
    found = assess(case(rng, names), rule_set(rng, names), AS_OF, "direct")
    told = settle(found)
    if found.standing == "urgent":
        assert told == Settle("urgent", settled=True)
        return
    search = Search.of(Supposing(found))
    every = Completions(search)
    if told.settled or not _weighed_for_now(found):  # see below
        assert told.settled == every.settled(())
    if told.settled:
        assert every.after(()) == {found.standing}
        return
    assert told.guaranteed is not None
    sets = [
        frozenset(q.key for q in some)
        for size in range(len(search.questions) + 1)
        for some in combinations(search.questions, size)
        if all(every.settled(said) for said in every.answers(some))
    ]
    minimal = {some for some in sets if not any(other < some for other in sets)}
    told_sets = {frozenset(q.key for q in some) for some in told.guaranteed.sets}
    if _weighed_for_now(found):
        # a fact that no question asks for could leave the danger unweighed, so less may be called settled
        assert all(any(other <= some for other in minimal) for some in told_sets)
    else:
        assert told_sets == minimal
        assert told.guaranteed.smallest == bool(minimal)
    for some in told.guaranteed.sets:
        for said in every.answers(some):
            assert len(every.after(said)) == 1
    ways = {
        said
        for size in (1, 2)
        for some in combinations(search.questions, size)
        for said in product(*([a.reply for a in q.answers] for q in some))
        if every.settled(said) and not any(every.settled((r,)) for r in said)
    } | {(a.reply,) for q in search.questions for a in q.answers if every.settled((a.reply,))}
    told_ways = {frozenset(way) for e in told.endings if e.settled for way in _ways(e)}
    assert told_ways <= {frozenset(way) for way in ways}
    if _weighed_for_now(found):
        return
    # a pair of which one half already decides but for an emergency is not told again
    left = {frozenset(w) for w in ways} - told_ways
    assert all(any(_decides(every, (r,), found) for r in way) for way in left)
    for ending in told.endings:
        for way in _ways(ending):
            after = every.after(way)
            assert (
                after == {ending.standing}
                if ending.settled
                else after == {ending.standing, "urgent"} or (after == {ending.standing})
            )
    _check_tree(told.first, every, (), 1)


def _weighed_for_now(found: Assessment) -> bool:
    """Whether a recorded sign of danger is weighed only by criteria that apply under a condition."""
    dangers = assessor_for(found.rule_set, "direct").dangers
    shelf = catalogue()
    return any(
        shelf[fact.element].danger
        and dangers_of(shelf[fact.element], fact)
        and dangers.weighers.get(fact.element)
        and not dangers.always_weighed(fact.element)
        for fact in found.case.facts.stated()
    )


def _decides(every: Completions, said: Replies, found: Assessment) -> bool:
    told = every.of(said)
    return told is not None and told[0] != "incomplete" and told[1] <= {told[0], "urgent"}


def _ways(ending: Ending) -> Iterator[Replies]:
    return product(*([answer.reply for answer in part.answers] for part in ending.parts))


def _check_tree(step: Step | None, every: Completions, said: Replies, depth: int) -> None:
    """Every branch of the tree leads where the whole assessment of its answers stands."""
    if step is None:
        return
    assert depth <= MOST_QUESTIONS
    assert step.question.key not in {(r.element, r.subject) for r in said}
    for lead in step.leads:
        for answer in lead.answers:
            told = every.of((*said, answer.reply))
            assert told is not None
            assert told[0] == lead.standing
            assert lead.settled == every.settled((*said, answer.reply))
        if lead.then is not None:
            _check_tree(lead.then, every, (*said, lead.answers[0].reply), depth + 1)


@cache
def demo(name: str) -> tuple[Assessment, Settle]:
    found = assess(
        load_case(demo_cases_folder() / f"{name}.yaml"),
        shipped().rule_set("practice_baseline"),
        AS_OF,
        "direct",
    )
    return found, settle(found)


def _demo_names() -> list[str]:
    names = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            load_case(path)
        except CaseError:
            continue  # a demo of what is refused
        names.append(path.stem)
    return names


@pytest.mark.parametrize("name", _demo_names())
def test_what_a_demo_case_is_told_agrees_with_whole_assessments(name: str) -> None:
    found, told = demo(name)
    supposing = Supposing(found)
    assert supposing.now.standing == found.standing
    if found.standing == "urgent":
        assert told == Settle("urgent", settled=True)
        return
    search = Search.of(supposing)  # which learns what old tellings no longer count
    rng = Random(name)
    for ending in rng.sample(told.endings, min(4, len(told.endings))):
        way = next(_ways(ending))
        assert whole(supposing, way).standing == ending.standing
    if told.guaranteed is None or not told.guaranteed.sets or len(told.guaranteed.sets[0]) > 2:
        return
    every = Completions(search)
    for said in every.answers(told.guaranteed.sets[0]):
        told_now = every.of(said)
        assert told_now is not None
        asked = {(r.element, r.subject) for r in said}
        further = [
            every.of((*said, answer.reply))
            for question in search.questions
            if question.key not in asked
            for answer in question.answers
        ]
        assert {after[0] for after in further if after is not None} <= {told_now[0]}


def test_the_emergency_is_asked_for_first_and_one_answer_may_end_the_matter() -> None:
    _, told = demo("extruded-disc")
    assert told.first is not None
    assert told.first.question.missing.element == "cauda_equina_signs"
    assert {(lead.standing, lead.settled) for lead in told.first.leads} == {
        ("urgent", True), ("not_candidate", True),
    }  # fmt: skip
    assert told.guaranteed is not None
    assert told.guaranteed.smallest
    assert {tuple(q.missing.element for q in some) for some in told.guaranteed.sets} == {
        ("cauda_equina_signs",)
    }


def test_a_letter_that_says_little_is_told_that_no_set_of_facts_settles_it_for_sure() -> None:
    _, told = demo("first-letter-only")
    assert told.guaranteed is not None
    assert told.guaranteed.sets == ()
    assert told.guaranteed.open_after
    assert [m.element for m in told.unasked] == ["antithrombotic_use"]
    assert told.first is not None
    assert told.first.question.missing.force == "stop"
