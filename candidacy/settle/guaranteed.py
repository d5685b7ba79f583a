"""Sets of missing facts that settle the standing whatever their answers are."""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import prod

from msgspec import Struct

from candidacy.case.element import LEVELS
from candidacy.settle.answers import Answer, Question
from candidacy.settle.search import Bound, BoundReached, Open, Search, burden_of, rank
from candidacy.settle.situation import Situation

# How many questions are answered, with what they led to, and which answer each got.
_Node = tuple[int, Situation, tuple[int, ...]]
# With so few facts and combinations every subset is looked at.
_FEW, _FEW_COMBINATIONS = 8, 3000
_MOST_SITUATIONS = 400
# With more facts missing nothing is searched: a set of so many helps nobody.
_MANY = 120
# Beside one situation for each question: how often a search may turn back before it has found answers that leave something open.
_MORE = 40
_MOST_TOGETHER = 2


class Guaranteed(Struct, frozen=True):
    """What settles whatever the answers are.

    Attributes
    ----------
    sets
        Minimal sets, the smallest first and among equals the least burdensome; empty where no set does.
    smallest
        Whether the first is known to be as small as any.
    bounded
        Whether the search stopped at its bound, so that more, or smaller, sets may exist.
    open_after
        Where no set settles: criteria that stay open although every question is answered, in one case of answers.
    """

    sets: tuple[tuple[Question, ...], ...]
    smallest: bool
    bounded: bool = False
    open_after: tuple[Open, ...] = ()


def guaranteed(search: Search) -> Guaranteed:
    """Find the sets that settle whatever the answers are."""
    many = len(search.questions)
    if many > _MANY:
        return Guaranteed((), False, True)
    few = many <= _FEW and prod(len(q.answers) for q in search.questions) <= _FEW_COMBINATIONS
    bound = Bound(10 * _FEW_COMBINATIONS if few else max(_MOST_SITUATIONS - many, many + _MORE))
    try:
        failing = counterexample(search, search.questions, bound)
    except BoundReached:
        return Guaranteed((), False, True)
    if failing is not None:
        return Guaranteed((), False, False, tuple(sorted(search.supposing.open(failing) & mattering(search))))
    return _every(search) if few else _one(search)


def counterexample(search: Search, questions: Sequence[Question], bound: Bound) -> Situation | None:
    """Answers to some questions with which the standing is not settled, or nothing where every combination settles it.

    A standing that is settled stays so, so no further question is put after that. A question to which every answer would
    contradict what was answered before stays unanswered. Answers that bring the same outcomes are put once, as long as no
    later question tells of the same fact or bears on the same criterion.
    """
    order = sorted(questions, key=rank)
    # what may still tell two answers apart that bring the same outcomes now
    later: list[frozenset[str]] = [frozenset()]
    for question in reversed(order[1:]):
        later.insert(0, later[0] | search.read_with(question.missing.element))
    # first the answers with which, by themselves, the least fails
    ranked = [
        sorted(enumerate(q.answers), key=lambda each: _failing(search.situation((each[1],)))) for q in order
    ]
    matter = [
        [at for at in range(place + 1) if order[at].missing.element in later[place]]
        for place in range(len(order))
    ]

    def nexts(place: int, situation: Situation, picked: tuple[int, ...]) -> Iterator[_Node]:
        possible = False
        for number, answer in ranked[place]:
            after = search.supposing.extended(situation, answer.reply)
            if not after.contradicts:
                possible = True
                yield place + 1, after, (*picked, number)
        if not possible:
            yield place + 1, situation, (*picked, -1)

    seen: set[tuple[object, ...]] = set()
    stack: list[Iterator[_Node]] = [iter([(0, search.supposing.now, ())])]
    while stack:
        node = next(stack[-1], None)
        if node is None:
            stack.pop()
            continue
        place, situation, picked = node
        if place:
            told = tuple([picked[at] for at in matter[place - 1]])
            key = place, frozenset(situation.changed.items()), situation.possible, told, situation.levels
            if key in seen:
                continue
            seen.add(key)
        bound.spend()
        if situation.settled:
            continue
        if place == len(order):
            return situation
        stack.append(nexts(place, situation, picked))
    return None


def _failing(situation: Situation) -> tuple[bool, int]:
    return situation.settled, sum(outcome == "fail" for outcome in situation.changed.values())


def _every(search: Search) -> Guaranteed:
    """All minimal sets, by looking at every subset from the smallest."""
    found: list[frozenset[tuple[str, str]]] = []
    sets: list[tuple[Question, ...]] = []
    for size in range(1, len(search.questions) + 1):
        for some in combinations(search.questions, size):
            keys = frozenset(q.key for q in some)
            if any(known <= keys for known in found):
                continue
            if counterexample(search, some, Bound(10 * _FEW_COMBINATIONS)) is None:
                found.append(keys)
                sets.append(some)
    sets.sort(key=lambda some: (len(some), burden_of(some)))
    return Guaranteed(tuple(sets), True)


def _one(search: Search) -> Guaranteed:
    """One minimal set: what settles each criterion that matters, then whatever is not needed left out."""
    bound = Bound(_MOST_SITUATIONS)
    chosen = {q.key: q for key in needed(search) for q in _settling(search, key)}
    try:
        while True:
            some = list(chosen.values())
            failing = counterexample(search, some, bound)
            if failing is None:
                break
            more = [q for key in search.supposing.open(failing) for q in search.waiting.get(key, ())]
            added = [q for q in more or search.questions if q.key not in chosen] or [
                q for q in search.questions if q.key not in chosen
            ]
            chosen |= {q.key: q for q in added}
    except BoundReached:
        return Guaranteed((), False, True)
    some = sorted(chosen.values(), key=rank)
    forced = 0
    try:
        # the most burdensome is left out first, and what bears on an emergency last
        for question in sorted(some, key=lambda q: (burden_of([q]), rank(q)), reverse=True):
            rest = [q for q in some if q.key != question.key]
            if counterexample(search, rest, bound) is None:
                some = rest
        for question in some:
            rest = [q for q in search.questions if q.key != question.key]
            forced += counterexample(search, rest, bound) is not None
    except BoundReached:
        return Guaranteed((tuple(some),), False, True)
    return Guaranteed((tuple(some),), forced == len(some), forced < len(some))


def mattering(search: Search) -> frozenset[Open]:
    """Criteria of which an open outcome may matter, whatever the others are."""
    aside = search.supposing.now.aside
    reads = search.supposing.reads
    every = {(c.resolved.id, "patient") for c in reads.patient}
    return frozenset(
        every | {(c.resolved.id, level) for c in reads.disc for level in LEVELS if level not in aside}
    )


def needed(search: Search) -> tuple[Open, ...]:
    """The open criteria on each of which alone the standing would still depend if all others passed."""
    supposing = search.supposing
    passing = frozenset(key for key, some in search.waiting.items() if some)
    return tuple(key for key in sorted(passing) if len(supposing.possible_if(frozenset((key,)), passing)) > 1)


def _settling(search: Search, key: Open) -> tuple[Question, ...]:
    """The fewest questions that determine one criterion whatever their answers are, or all that it waits for."""
    waiting = search.waiting[key]
    for size in range(1, _MOST_TOGETHER + 1):
        ways = [some for some in combinations(waiting, size) if _determine(search, key, some)]
        if ways:
            return min(ways, key=lambda some: (burden_of(some), [rank(q) for q in some]))
    return waiting


def _determine(search: Search, key: Open, questions: Sequence[Question]) -> bool:
    def open_(place: int, answers: tuple[Answer, ...]) -> bool:
        situation = search.situation(answers)
        if situation.contradicts or situation.changed.get(key, "undetermined") != "undetermined":
            return False
        return place == len(questions) or any(
            open_(place + 1, (*answers, a)) for a in questions[place].answers
        )

    return not open_(0, ())
