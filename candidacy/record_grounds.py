"""What the record itself says beside its criteria: facts that contradict each other, and facts nobody read.

A rule set reads what its criteria name. What else a record holds is listed, and a sign of danger among it may not be
passed over: decision rules of force ``record`` say what follows.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from candidacy.case.catalogue import Danger, Element, catalogue
from candidacy.case.facts import Fact
from candidacy.comparisons import comparison
from candidacy.engine.decision import Ground
from candidacy.results import UnreadFact
from candidacy.rules.conditions import elements_of
from candidacy.rules.relations import Relation
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.schema import DecisionRule
from candidacy.truth import Truth
from candidacy.view import View


@dataclass(frozen=True, slots=True)
class RecordGrounds:
    """Conflicts and unread facts of one case, as grounds of decisions."""

    conflicts: tuple[Fact, ...]
    unread: tuple[UnreadFact, ...]

    def of_disc(self, level: str) -> list[Ground]:
        """Grounds about one disc."""
        return [ground for subject, ground in self._grounds() if subject == level]

    def of_case(self, not_considered: Collection[str]) -> list[Ground]:
        """Grounds about the case: the patient, entries of lists, and every disc that may be treated."""
        return [ground for subject, ground in self._grounds() if subject not in not_considered]

    def _grounds(self) -> Iterator[tuple[str, Ground]]:
        for fact in self.conflicts:
            yield fact.subject, Ground(ground_name(fact), "record", "conflict")
        for fact, dangers, _ in self.unread:
            if dangers:
                yield fact.subject, Ground(ground_name(fact), "record", "unread_danger")


def ground_name(fact: Fact) -> str:
    """How a fact of the record is named among the reasons of a decision."""
    return fact.element if fact.subject == "patient" else f"{fact.subject}: {fact.element}"


def of_record(name: str, rule: DecisionRule, facts: Collection[str]) -> bool:
    """Whether a reason of a decision rule names a fact of the record, and not a criterion of the same name.

    ``facts`` are the names of the facts that a record gives as grounds, see `ground_name`.
    """
    return name in facts and any(pattern.force == "record" for pattern in rule.when)


class Dangers:
    """What a rule set reads, and which recorded facts it therefore leaves unread."""

    def __init__(self, rule_set: RuleSet) -> None:
        deciding = [item for item in rule_set.criteria if item.force != "advisory"]
        self._decided = read_elements(deciding, rule_set)
        self._dangerous = frozenset(element.name for element in catalogue().all if element.danger)
        self._read = self._decided | read_elements(rule_set.criteria, rule_set)

    def decides(self, element: str) -> bool:
        """Whether a deciding criterion reads an element."""
        return element in self._decided

    def unread(self, view: View) -> tuple[UnreadFact, ...]:
        """Recorded facts that no criterion reads, those of danger first; dangers that only advisory criteria read too."""
        shelf = catalogue()
        found = []
        for fact in view.facts.stated():
            name = fact.element
            if name in self._decided or fact.value is None:
                continue
            dangers = dangers_of(shelf[name], fact) if name in self._dangerous else ()
            if dangers or name not in self._read:
                found.append(UnreadFact(fact, dangers, name in self._read))
        if not found:
            return ()
        return tuple(
            sorted(found, key=lambda u: (not u.dangers, shelf.place(u.fact.element), u.fact.subject))
        )


def dangers_of(element: Element, fact: Fact) -> tuple[Danger, ...]:
    """The dangers of an element that a fact is, or may be while it is imprecise."""
    return tuple(
        danger
        for danger in element.danger
        if comparison(element, danger.op, danger.limits)(fact.value) is not Truth.NOT_MET
    )


def read_elements(criteria: Collection[ResolvedCriterion], rule_set: RuleSet) -> frozenset[str]:
    """Every element whose value can matter to some criteria: named ones, what they are worked out from, their details.

    A formula that does not list its inputs counts as reading what its element declares in ``reads``.
    """
    shelf, relations = catalogue(), rule_set.relations
    open_: list[str] = ["considered_for_treatment"]
    for item in criteria:
        open_ += elements_of(item.criterion.when)
        open_ += elements_of(item.criterion.applies_when) if item.criterion.applies_when is not None else ()
    found: set[str] = set()
    while open_:
        name = open_.pop()
        if name in found:
            continue
        found.add(name)
        open_ += _told_by(shelf[name], relations.get(name))
    return frozenset(found)


def _told_by(element: Element, relation: Relation | None) -> Iterator[str]:
    yield from element.covers
    yield from element.reads
    for inputs in element.inputs:
        yield from inputs
    if relation is not None:
        yield from relation.details
