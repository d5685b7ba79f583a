"""Answers that end the matter: with them nothing else can change the standing, or nothing but an emergency."""

from collections.abc import Sequence
from itertools import combinations

from msgspec import Struct

from candidacy.rules.vocabulary import Standing
from candidacy.settle.answers import Answer, Question
from candidacy.settle.search import Bound, BoundReached, Search, burden_of, rank
from candidacy.settle.situation import Situation
from candidacy.settle.suppose import Supposing

_FEW = 10
_MOST_SITUATIONS = 400


class Part(Struct, frozen=True):
    """One question, and the answers to it that count as one."""

    question: Question
    answers: tuple[Answer, ...]


class Ending(Struct, frozen=True):
    """Answers that settle the standing, of which no part does.

    Attributes
    ----------
    settled
        Whether nothing else matters for the standing; otherwise a sign of an emergency that is still unknown could yet make
        the case urgent.
    safety_open
        Whether criteria stay open that forbid an injection or may be an emergency: they are asked before any injection,
        though they cannot change this standing.
    """

    parts: tuple[Part, ...]
    standing: Standing
    settled: bool
    safety_open: bool


def endings(search: Search) -> tuple[tuple[Ending, ...], bool]:
    """The short endings, of one answer or two, the fewest and least burdensome first; and whether the search was bounded.

    Pairs are looked for among facts for which one criterion waits, or among all where there are few.
    """
    found: list[Ending] = []
    alone: set[tuple[tuple[str, str], Answer]] = set()
    for question in search.questions:
        for answer in question.answers:
            situation = search.situation((answer,))
            if situation.settled or (situation.decided and not search.supposing.now.decided):
                alone.add((question.key, answer))
        found += _grouped(search, (question,), [(a,) for a in question.answers if (question.key, a) in alone])
    bound, bounded = Bound(_MOST_SITUATIONS), False
    try:
        for one, other in _pairs(search):
            left = [
                (a, b)
                for a in one.answers
                for b in other.answers
                if (one.key, a) not in alone and (other.key, b) not in alone
            ]
            ending = []
            for pair in left:
                bound.spend()
                situation = search.situation(pair)
                if not situation.contradicts and (
                    situation.settled or (situation.decided and not search.supposing.now.decided)
                ):
                    ending.append(pair)
            found += _grouped(search, (one, other), ending)
    except BoundReached:
        bounded = True
    return tuple(sorted(found, key=_order)), bounded


def _pairs(search: Search) -> list[tuple[Question, Question]]:
    if len(search.questions) <= _FEW:
        return list(combinations(search.questions, 2))
    found = {}
    for some in search.waiting.values():
        for pair in combinations(some, 2):
            found[pair[0].key, pair[1].key] = pair
    return list(found.values())


def _grouped(
    search: Search, questions: Sequence[Question], ways: Sequence[tuple[Answer, ...]]
) -> list[Ending]:
    """Endings by the same questions with the same standing, put together where every answer goes with every other."""
    alike: dict[tuple[Standing, bool, bool], list[tuple[Answer, ...]]] = {}
    for way in ways:
        situation = search.situation(way)
        key = situation.standing, situation.settled, safety_open(search.supposing, situation)
        alike.setdefault(key, []).append(way)
    made = []
    for (standing, settled, open_), some in alike.items():
        columns = [tuple(dict.fromkeys(column)) for column in zip(*some, strict=True)]
        whole = len(columns[0]) * (len(columns[1]) if len(columns) > 1 else 1) == len(some)
        for each in [columns] if whole else [[(a,) for a in way] for way in some]:
            parts = tuple(Part(q, answers) for q, answers in zip(questions, each, strict=True))
            made.append(Ending(parts, standing, settled, open_))
    return made


def safety_open(supposing: Supposing, situation: Situation) -> bool:
    """Whether a criterion that forbids an injection, or may be an emergency, is open."""
    forces = supposing.reads.forces
    return any(
        forces[name] in ("stop", "absolute") and subject not in situation.aside
        for name, subject in supposing.open(situation)
    )


def _order(ending: Ending) -> tuple[int, bool, bool, tuple[int, ...], list[tuple[int, int, int, str, str]]]:
    questions = [part.question for part in ending.parts]
    return len(questions), not ending.settled, ending.standing != "urgent", burden_of(questions), [
        rank(q) for q in questions
    ]  # fmt: skip
