"""What to ask first, and then: a tree of at most five questions, each answer with what it leads to.

A question that settles the standing whatever its answer comes first; then those that bear on an emergency. Among them that one is
chosen which in the worst case leaves the fewest criteria open, then the one with most answers that end the matter, then the
least burdensome. No probability is used. It looks one step ahead, so a shorter tree may exist.
"""

from collections.abc import Sequence

from msgspec import Struct

from candidacy.case.element import LISTS
from candidacy.rules.vocabulary import Standing
from candidacy.settle.answers import Answer, Question
from candidacy.settle.endings import safety_open
from candidacy.settle.guaranteed import needed
from candidacy.settle.search import Search, rank
from candidacy.settle.situation import Situation

MOST_QUESTIONS = 5
# So many are compared again after the first question; the others came out worse for it.
_POOL = 24
_MOST_STEPS = 20


class Leads(Struct, frozen=True):
    """Where some answers lead.

    Attributes
    ----------
    standing
        The standing they give, with everything else left unknown.
    settled, decided
        Whether nothing else can change it; whether nothing but a sign of an emergency can.
    open
        How many criteria that matter are open still.
    safety_open
        Whether one of the open criteria forbids an injection or may be an emergency.
    then
        What to ask next; nothing where it is settled, after the last question, or where nothing more can be asked.
    """

    answers: tuple[Answer, ...]
    standing: Standing
    settled: bool
    decided: bool
    open: int
    safety_open: bool
    then: "Step | None" = None


class Step(Struct, frozen=True):
    """One question, where its answers lead, and what to ask if it stays unknown."""

    question: Question
    leads: tuple[Leads, ...]
    if_unknown: Question | None = None


def steps(search: Search) -> tuple[Step | None, bool]:
    """The tree, or nothing where no question can be asked; and whether it was cut short before five questions."""
    made = _Tree(search)
    return made.step(search.supposing.now, (), list(search.questions), 1), made.cut


class _Tree:
    def __init__(self, search: Search) -> None:
        self._search, self._needed = search, needed(search)
        self._made, self.cut = 0, False

    def step(
        self, situation: Situation, asked: tuple[Question, ...], pool: Sequence[Question], depth: int
    ) -> Step | None:
        if self._made >= _MOST_STEPS:
            self.cut = True
            return None
        known = {q.key for q in asked}
        ranked = sorted(
            (
                (*told, rank(q), q)
                for q in pool
                if q.key not in known and (told := self._worth(situation, q)) is not None
            ),
            key=lambda row: row[:-1],
        )
        if not ranked:
            return None
        self._made += 1
        chosen = ranked[0][-1]
        rest = [row[-1] for row in ranked[1 : _POOL + 1]]
        leads = []
        # where more than an emergency is open is gone on first: the tree may be cut short
        for answers, after in sorted(self._nexts(situation, chosen), key=lambda each: each[1].decided):
            then = None
            if not after.settled and depth < MOST_QUESTIONS:
                then = self.step(after, (*asked, chosen), rest, depth + 1)
            leads.append(
                Leads(
                    answers,
                    after.standing,
                    after.settled,
                    after.decided,
                    self._open(after),
                    safety_open(self._search.supposing, after),
                    then,
                )
            )
        leads.sort(key=lambda each: (not each.settled, not each.decided))
        return Step(chosen, tuple(leads), rest[0] if rest else None)

    def _worth(self, situation: Situation, question: Question) -> tuple[bool, bool, int, int] | None:
        """How good a question is, the least the best; nothing if it tells nothing."""
        nexts = self._nexts(situation, question)
        if all(
            after.changed == situation.changed and after.possible == situation.possible for _, after in nexts
        ):
            return None
        if situation.decided and not self._may_change(situation, question, [after for _, after in nexts]):
            return None
        # a list may have a further entry as well, of which nothing is known
        more = [situation] if question.missing.element in LISTS else []
        worst = max(self._open(after) for after in (*more, *(after for _, after in nexts)))
        ending = sum(
            len(answers)
            for answers, after in nexts
            if after.settled or (after.decided and not situation.decided)
        )
        return worst > 0, question.missing.force != "stop", worst, -ending

    def _may_change(self, situation: Situation, question: Question, nexts: Sequence[Situation]) -> bool:
        """Whether a question can tell of an emergency, where nothing else changes the standing any more."""
        return (
            question.missing.force == "stop"
            or self._search.supposing.may_be_danger(question.key)
            or any(
                (after.standing, after.possible) != (situation.standing, situation.possible)
                for after in nexts
            )
        )

    def _nexts(self, situation: Situation, question: Question) -> list[tuple[tuple[Answer, ...], Situation]]:
        """The situations after each answer, those put together that nothing tells apart."""
        alike: dict[object, tuple[list[Answer], Situation]] = {}
        for answer in question.answers:
            after = self._search.supposing.extended(situation, answer.reply)
            if after.contradicts:
                continue
            key: object = after.standing if after.settled else (
                after.standing, after.possible, frozenset(after.changed.items()),
            )  # fmt: skip
            alike.setdefault((after.settled, key), ([], after))[0].append(answer)
        return [(tuple(answers), after) for answers, after in alike.values()]

    def _open(self, situation: Situation) -> int:
        """How many criteria that matter are open."""
        if situation.settled:
            return 0
        forces = self._search.supposing.reads.forces
        left = {key for key in self._needed if situation.changed.get(key, "undetermined") == "undetermined"}
        base = self._search.supposing.base
        left |= {
            key
            for key, outcome in situation.changed.items()
            if outcome == "undetermined" and base.get(key) != outcome and key[1] not in situation.aside
        }
        return sum(forces[name] == "stop" for name, _ in left) if situation.decided else len(left)
