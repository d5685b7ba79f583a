"""What the criteria of a rule set read, however deep: which of them a fact bears on, and which facts tell of each other."""

from collections.abc import Iterable, Mapping

from candidacy.assessment.assess import Assessor
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS
from candidacy.rules.relations import Relation
from candidacy.rules.tree import Node, elements_of, lists_of
from candidacy.settle.possible import Possible

_LIST_OF = {scope: name for name, scope in LISTS.items()}


class Reads:
    """Which criteria of a rule set can come out otherwise when an element, or whether a list is complete, becomes known."""

    def __init__(self, assessor: Assessor) -> None:
        self._relations = assessor.rule_set.relations
        self.possible = Possible(assessor.rule_set.decisions)
        forces = self.possible.forces
        self.patient = [c for c in assessor.criteria("patient") if c.resolved.force in forces]
        self.disc = [c for c in assessor.criteria("disc") if c.resolved.force in forces]
        self.of = {c.resolved.id: self._closure(c) for c in (*self.patient, *self.disc)}
        self.by_id = {c.resolved.id: c for c in (*self.patient, *self.disc)}
        self.forces = {name: c.resolved.force for name, c in self.by_id.items()}
        self.by_element: dict[str, list[CompiledCriterion]] = {}
        for criterion in (*self.disc, *self.patient):
            for name in self.of[criterion.resolved.id]:
                self.by_element.setdefault(name, []).append(criterion)
        self.dangers = frozenset(
            e.name for e in catalogue().all if e.danger and not assessor.dangers.always_weighed(e.name)
        )
        self.gated: dict[str, list[tuple[str, Node | None]]] = {
            name: [
                (w.item.criterion.subject, w.item.applies_when if w.gated else None)
                for w in assessor.dangers.weighers.get(name, ())
                if w.item.applies_when is None or "disc_standing" not in elements_of(w.item.applies_when)
            ]
            for name in self.dangers
        }
        self._gates: dict[str, frozenset[str]] = {}
        self._pairs: dict[tuple[str, str], bool] = {}
        self._watching: dict[str, tuple[str, ...]] = {}
        self._watched = {
            e.name: frozenset(told_by((e.name,), self._relations))
            for e in catalogue().all
            if e.name in self._relations or e.covers or e.inputs or e.reported_within
        }

    def _closure(self, criterion: CompiledCriterion) -> frozenset[str]:
        item = criterion.resolved
        names = list(elements_of(*item.conditions))
        recency = item.criterion.recency
        names += [recency.dated_by] if recency is not None and recency.dated_by else []
        lists = [name for node in item.conditions for name in lists_of(node)]
        return frozenset(told_by(names, self._relations)) | frozenset(lists)

    def gates(self, element: str) -> frozenset[str]:
        """Elements on which it rests whether the criteria that weigh an element apply."""
        found = self._gates.get(element)
        if found is None:
            nodes = [node for _, node in self.gated[element] if node is not None]
            lists = [name for node in nodes for name in lists_of(node)]
            found = self._gates[element] = frozenset({*told_by(elements_of(*nodes), self._relations), *lists})
        return found

    def related(self, one: str, other: str) -> bool:
        """Whether two elements tell of the same fact, so that they may contradict each other."""
        found = self._pairs.get((one, other))
        if found is None:
            found = any(other in self._watched[name] for name in self.watching(one))
            self._pairs[one, other] = found
        return found

    def watching(self, element: str) -> tuple[str, ...]:
        """The elements whose tellings may conflict because of one."""
        found = self._watching.get(element)
        if found is None:
            found = tuple(name for name, some in self._watched.items() if element in some)
            self._watching[element] = found
        return found

    def told_with(self, element: str) -> frozenset[str]:
        """Elements that tell of a fact of which one tells too."""
        return frozenset[str]().union(*(self._watched[name] for name in self.watching(element)))


def told_by(names: Iterable[str], relations: Mapping[str, Relation]) -> set[str]:
    """Elements and whatever tells them, however deep, with the names of the lists that are read."""
    shelf, open_, found = catalogue(), list(names), set[str]()
    while open_:
        name = open_.pop()
        if name in found:
            continue
        found.add(name)
        if name not in shelf:
            continue
        element = shelf[name]
        open_ += [*element.covers, *element.reads, *(part for some in element.inputs for part in some)]
        open_ += [shelf.covered_by[name]] if name in shelf.covered_by else []
        open_ += [_LIST_OF[element.scope]] if element.scope in _LIST_OF else []
        if name in relations:
            open_ += relations[name].details
            open_ += [each for when in relations[name].conditions for each in lists_of(when)]
    return found


_ready: dict[str, Reads] = {}
_KEPT = 16


def reads_of(assessor: Assessor) -> Reads:
    """What a rule set reads, worked out once for each content."""
    digest = assessor.rule_set.digest
    if digest not in _ready:
        if len(_ready) >= _KEPT:
            _ready.clear()
        _ready[digest] = Reads(assessor)
    return _ready[digest]
