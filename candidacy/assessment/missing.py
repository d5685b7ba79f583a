"""Which facts are missing, whether each could decide the case, and how burdensome it is to obtain."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Literal

from msgspec import Struct

from candidacy.assessment.evaluate import Trace
from candidacy.assessment.record_grounds import RecordGrounds
from candidacy.assessment.results import CriterionResult, DiscResult
from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.doubtful import is_doubtful
from candidacy.case.element import BURDENS, Burden
from candidacy.case.facts import Fact
from candidacy.engine.decision import Decision, Ground, Standings
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.rules.vocabulary import Force

_FORCE_RANK: dict[Force, int] = {"stop": 0, "absolute": 1, "relative": 2, "advisory": 3}
# Whether a fact could decide: by itself, only after others are known, or not at all.
Weight = Literal["alone", "later", "no"]
WEIGHTS: dict[Weight, str] = {
    "alone": "can decide by itself",
    "later": "can decide once others are known",
    "no": "cannot decide",
}
_WEIGHT_RANK = {weight: place for place, weight in enumerate(WEIGHTS)}
_SETTLE, _CHECK = "Which is right? ", "Is this right? "
_BURDEN_RANK = {burden: place for place, burden in enumerate(BURDENS)}
_ALONE: Weight = "alone"
_IN_CHART: Burden = "in_chart"
_QUESTION: Burden = "question"
_LOOKS_AT_FACTS = ("test", "elapsed")
_Rank = tuple[bool, int, bool, int, int, int, str, str]


class Missing(Struct, frozen=True, gc=False):
    """One fact that an undetermined criterion waits for.

    Attributes
    ----------
    element, subject
        The fact; ``element`` is the name of a list where the list itself is open.
    why
        Why it is missing.
    ask
        The short phrase to ask with.
    weight
        ``alone``, ``later`` or ``no``: whether it could change the standing of the case or its disc.
    burden
        How burdensome it is to obtain.
    criteria
        Ids of the criteria that wait for it.
    """

    element: str
    subject: str
    why: Why
    ask: str
    weight: Weight
    burden: Burden
    force: Force
    criteria: tuple[str, ...]

    @property
    def to_settle(self) -> bool:
        """Whether it is recorded and to be settled at its source, so that no answer to a question brings it."""
        return self.why in (Why.CONFLICTING, Why.DOUBTFUL)


def open_leaves(trace: Trace) -> list[Trace]:
    """Leaves that keep an unknown condition unknown, in the order of the condition."""
    found: list[Trace] = []
    if trace.truth is Truth.UNKNOWN:
        _add_leaves(trace, found)
    return found


def _add_leaves(trace: Trace, found: list[Trace]) -> None:
    if trace.kind == "test":
        found.append(trace)
        return
    inner = [part for part in trace.parts if part.truth is Truth.UNKNOWN]
    if trace.kind.endswith(("_entry", "_entries")) and (trace.why is Why.LIST_INCOMPLETE or not inner):
        found.append(trace)
    for part in inner:
        _add_leaves(part, found)
    if not inner and trace.kind == "elapsed":
        found.append(trace)


def recorded_as_unknown(fact: Fact) -> bool:
    """Whether one of the facts to settle first is unknown by the words of the record, and by no contradiction of its own."""
    return fact.value is None and not fact.derived_from


def missing_facts(
    results: Sequence[CriterionResult],
    decision: Decision,
    discs: Sequence[DiscResult],
    standings: Standings,
    record: RecordGrounds,
) -> tuple[Missing, ...]:
    """List the missing facts: conflicts first, then those that can decide, the easiest to obtain first among equals."""
    not_considered = {disc.level for disc in discs if disc.considered is Truth.NOT_MET}
    grounds = {disc.level: record.of_disc(disc.level) for disc in discs}
    grounds["patient"] = record.of_case(not_considered)
    weights = _Weights(results, grounds, decision, discs, standings)
    gathered: dict[tuple[str, str], _Asked] = {}
    shelf = catalogue()
    for result in results:
        evaluation = result.evaluation
        if evaluation.outcome != "undetermined":
            continue
        force = result.resolved.force
        weight = weights.of(evaluation.subject, force)
        if evaluation.subject in not_considered and weight != "no":
            weight = "later"
        wanted: list[_Want] = []
        for trace in (evaluation.trace, evaluation.applies_trace):
            if trace is not None and trace.truth is Truth.UNKNOWN:
                _add_wanted(trace, shelf, wanted)
        for element, subject, why, note in wanted:
            asked = gathered.get((element, subject))
            if asked is None:
                asked = gathered[element, subject] = _Asked(why, weight, force, note)
            asked.add(evaluation.criterion, weight, force)
    for fact in record.conflicts:
        waiting = gathered.get((fact.element, fact.subject))
        if waiting is not None and waiting.weight != "no" and recorded_as_unknown(fact):
            continue  # a criterion that can decide asks for it already
        asked = gathered.setdefault(
            (fact.element, fact.subject), _Asked(Why.CONFLICTING, "alone", "absolute")
        )
        if is_doubtful(fact):
            asked.why, asked.settle = Why.DOUBTFUL, f"{_CHECK}{fact.note}"
        else:
            asked.why, asked.settle = Why.CONFLICTING, f"{_SETTLE}{fact.note}"
    found = [
        asked.ranked(element, subject, subject in not_considered, shelf)
        for (element, subject), asked in gathered.items()
    ]
    found.sort()
    return tuple([missing for _, missing in found])


class _Asked:
    """What is gathered about one missing fact: the greatest weight and force, and everyone who waits for it."""

    __slots__ = ("criteria", "force", "note", "settle", "weight", "why")

    def __init__(self, why: Why, weight: Weight, force: Force, note: str = "") -> None:
        self.why, self.weight, self.force, self.note = why, weight, force, note
        self.settle = ""
        self.criteria: dict[str, None] = {}

    def add(self, criterion: str, weight: Weight, force: Force) -> None:
        self.criteria[criterion] = None
        if weight != self.weight and _WEIGHT_RANK[weight] < _WEIGHT_RANK[self.weight]:
            self.weight = weight
        if force != self.force and _FORCE_RANK[force] < _FORCE_RANK[self.force]:
            self.force = force

    def ranked(
        self, element: str, subject: str, not_considered: bool, shelf: Catalogue
    ) -> tuple[_Rank, Missing]:
        """The missing fact, and where it stands among all of them; no two have the same place."""
        weight = self.weight
        if self.settle:
            ask, weight, burden = self.settle, _ALONE, _IN_CHART
        elif element in shelf:
            ask, burden = shelf.asked[element]
            if self.note:
                ask = f"{ask}: {self.note}"
        else:
            ask, burden = f"Complete list of {element.replace('_', ' ')}", _QUESTION
        rank = (
            not self.settle,
            _WEIGHT_RANK[weight],
            not_considered,
            _FORCE_RANK[self.force],
            _BURDEN_RANK[burden],
            shelf.place(element),
            subject,
            element,
        )
        return rank, Missing(
            element, subject, self.why, ask, weight, burden, self.force, tuple(self.criteria)
        )


class _Weights:
    """Whether an undetermined criterion could decide: suppose it failed; would the standing of its subject change?

    What the record itself says stays: a danger that nothing reads keeps a case incomplete whatever a criterion comes to.
    The answer is the same for all undetermined criteria of one force and subject.
    """

    def __init__(
        self,
        results: Sequence[CriterionResult],
        record: Mapping[str, Sequence[Ground]],
        decision: Decision,
        discs: Sequence[DiscResult],
        standings: Standings,
    ) -> None:
        self._standings = standings
        self._occurring = {
            subject: Counter((ground.force, ground.outcome) for ground in grounds)
            for subject, grounds in record.items()
        }
        for result in results:
            self._occurring[result.evaluation.subject][result.resolved.force, result.outcome] += 1
        self._now = {disc.level: disc.decision.standing for disc in discs} | {"patient": decision.standing}
        self._of_discs = {disc.decision.standing for disc in discs}
        self._known: dict[tuple[str, Force], Weight] = {}

    def of(self, subject: str, force: Force) -> Weight:
        """The weight of an undetermined criterion of a force."""
        found = self._known.get((subject, force))
        if found is None:
            found = self._known[subject, force] = self._suppose(subject, force)
        return found

    def _suppose(self, subject: str, force: Force) -> Weight:
        if force not in self._standings.forces:
            return "no"
        counts = self._occurring[subject]
        occurring = {*counts, (force, "fail")}
        if counts[force, "undetermined"] == 1:
            occurring.discard((force, "undetermined"))
        now = self._now[subject]
        if self._standings.of(occurring, self._of_discs if subject == "patient" else frozenset()) != now:
            return "alone"
        return "later" if now == "incomplete" else "no"


_Want = tuple[str, str, Why, str]


def _add_wanted(trace: Trace, shelf: Catalogue, found: list[_Want]) -> None:
    """Add the stated facts that a condition waits for: the inputs of a derived one, the list of an open list."""
    for leaf in (trace,) if trace.kind == "test" else open_leaves(trace):
        if leaf.kind not in _LOOKS_AT_FACTS:
            found.append((leaf.element, "patient", Why.LIST_INCOMPLETE, ""))
        # a disc's own criteria name what is missing for its standing
        elif leaf.element != "disc_standing" and leaf.fact is not None:
            _add_inputs(leaf.fact, leaf.why or Why.NOT_RECORDED, shelf, found)


def _add_inputs(fact: Fact, why: Why, shelf: Catalogue, found: list[_Want]) -> None:
    parts = fact.derived_from
    if fact.why is Why.DOES_NOT_APPLY and fact.element in shelf.never_stated:
        # what it was worked out from is known and no answer to that brings it, so it is named itself, with the reason
        found.append((fact.element, fact.subject, why, fact.note))
    elif not parts or fact.element not in shelf.never_stated:
        found.append((fact.element, fact.subject, why, ""))
    elif unknown := [part for part in parts if part.value is None]:
        for part in unknown:
            _add_inputs(part, part.why or Why.NOT_RECORDED, shelf, found)
    else:
        for part in parts:
            _add_inputs(part, why, shelf, found)
