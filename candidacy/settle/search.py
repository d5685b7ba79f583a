"""The questions of one case, which criteria wait for each, and how far a search may go."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from candidacy.assessment.missing import Missing
from candidacy.case.catalogue import catalogue
from candidacy.case.element import BURDENS, LISTS
from candidacy.rules.vocabulary import FORCES
from candidacy.settle.answers import Answer, Answers, Question
from candidacy.settle.situation import Situation
from candidacy.settle.suppose import Supposing

_BURDEN = {burden: place for place, burden in enumerate(BURDENS)}
_FORCE = {force: place for place, force in enumerate(FORCES)}
Open = tuple[str, str]


class BoundReached(Exception):
    """Raised where a search has looked at as many situations as it may."""


@dataclass
class Bound:
    """How many situations a search may still look at."""

    left: int

    def spend(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise BoundReached


@dataclass
class Search:
    """One case, ready to be searched.

    Attributes
    ----------
    questions
        The missing facts that could decide and that can be answered; the gravest first, then the least burdensome.
    unasked
        Missing facts that could decide of which no answer can be looked at: contradictions, which are settled at their source,
        and facts that only a new test changes.
    waiting
        For each open criterion and subject, the questions on which it waits.
    """

    supposing: Supposing
    questions: tuple[Question, ...]
    unasked: tuple[Missing, ...]
    waiting: dict[Open, tuple[Question, ...]] = field(default_factory=dict)
    _together: dict[str, frozenset[str]] = field(default_factory=dict)

    @classmethod
    def of(cls, supposing: Supposing) -> "Search":
        """Make an assessed case ready to be searched."""
        assessment = supposing.assessment
        answers = Answers(supposing)
        questions: list[Question] = []
        unasked: list[Missing] = []
        for missing in assessment.missing:
            if missing.weight == "no":
                continue
            question = answers.question(missing)
            if question is None:
                unasked.append(missing)
            else:
                questions.append(question)
        for question in questions:
            supposing.look_out_for(*question.key, [answer.reply for answer in question.answers])
        supposing.forget()
        questions.sort(key=rank)
        search = cls(supposing, tuple(questions), tuple(unasked))
        for name, subject in sorted(supposing.open(supposing.now)):
            search.waiting[name, subject] = tuple(
                q for q in questions if name in q.missing.criteria and _of_same(q.missing, subject)
            )
        return search

    def read_with(self, element: str) -> frozenset[str]:
        """Every element that is read together with one, by a criterion or because both tell of one fact."""
        found = self._together.get(element)
        if found is None:
            reads = self.supposing.reads
            of = [reads.of[c.resolved.id] for c in reads.by_element.get(element, ())]
            found = self._together[element] = reads.told_with(element).union(*of)
        return found

    def situation(self, answers: Iterable[Answer]) -> Situation:
        return self.supposing.situation(answer.reply for answer in answers)


def rank(question: Question) -> tuple[int, int, int, str, str]:
    """The gravest first, then the least burdensome, then in the order of the catalogue."""
    return rank_of(question.missing)


def rank_of(missing: Missing) -> tuple[int, int, int, str, str]:
    return (
        _FORCE[missing.force],
        _BURDEN[missing.burden],
        catalogue().place(missing.element),
        missing.element,
        missing.subject,
    )


def burden_of(questions: Sequence[Question]) -> tuple[int, ...]:
    """How burdensome some questions are together, the worst first."""
    return tuple(sorted((_BURDEN[q.missing.burden] for q in questions), reverse=True))


def _of_same(missing: Missing, subject: str) -> bool:
    """Whether a criterion of a subject may wait for a fact: its own, or one of the patient or of a list."""
    about = missing.subject
    return (
        about == subject
        or about == "patient"
        or "[" in about
        or subject == "patient"
        or missing.element in LISTS
    )
