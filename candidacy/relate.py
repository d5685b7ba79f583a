"""Relations made ready: what the details of a case say about its summaries, read with the tests of criteria."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from math import inf

from candidacy.case.catalogue import LEVELS, Element, catalogue
from candidacy.case.facts import CaseFacts, Fact
from candidacy.certain import Certainly, certainly
from candidacy.evaluate import Test, Trace, compiled
from candidacy.reconcile import Telling, once
from candidacy.rules.conditions import Condition, elements_of, lists_of
from candidacy.rules.relations import Implication, Relation, for_disc, names_this_disc
from candidacy.rules.resolved import ResolvedParameter, RuleSet
from candidacy.truth import Truth
from candidacy.values import Span, Why
from candidacy.view import View

_EVERY_PART = frozenset(
    ("all", "none", "not", "every_disc", "every_entry", "count_discs", "count_entries", "elapsed")
)


@dataclass(frozen=True, slots=True)
class _Ready:
    """One implication, compiled for each disc where it names one."""

    implication: Implication
    holds: Mapping[str, Certainly]
    tests: Mapping[str, Test]
    sources: frozenset[str] | None
    limits: Span | None
    present_for: float | None

    def tell(self, view: View, subject: str) -> Telling | None:
        """What it says of a case, or ``None`` where its condition is not certainly met."""
        key = subject if subject in self.tests else ""
        if not self.holds[key](view, subject):
            return None
        facts = once(_details(self.tests[key].read(view, subject)))
        if self.present_for is not None and not all(view.present(fact, self.present_for) for fact in facts):
            return None
        codes = self.implication.codes if self.implication.value is not None else None
        infer = self.implication.infer and codes is not None
        return Telling(codes, self.limits, infer, self.implication.says, facts)


class Relations:
    """Every relation of a library, compiled once and read on any case.

    Parameters
    ----------
    relations
        Relations by element; without a circle, which the loader refuses.
    """

    def __init__(self, relations: Mapping[str, Relation]) -> None:
        self.by_element = dict(relations)
        self.conflicting = _may_conflict(self.by_element)
        self._ready = {
            name: [_ready(each, relation, self.by_element) for each in relation.implied]
            for name, relation in self.by_element.items()
        }
        self.related = frozenset(self.by_element)
        stated = catalogue().only_stated.items()
        self.only_stated = {name: scope for name, scope in stated if name not in self.by_element}

    def acts(self, element: str) -> bool:
        """Whether a sign of danger outranks its denial."""
        relation = self.by_element.get(element)
        return relation is not None and relation.acts

    def of(self, view: View, element: str, subject: str) -> list[Telling]:
        """What the details of a case say about an element of a subject: the implications that are met."""
        recorded = view.recorded_near(subject)
        found = []
        for ready in self._ready[element]:
            if ready.sources is None or not ready.sources.isdisjoint(recorded):
                telling = ready.tell(view, subject)
                if telling is not None:
                    found.append(telling)
        return found

    def tell(self, view: View, element: str, place: int, subject: str) -> Telling | None:
        """What one implication of an element says of a case, or ``None`` where it is not met."""
        return self._ready[element][place].tell(view, subject)

    def limits(self, element: str, place: int) -> Span | None:
        """The numbers that one implication allows."""
        return self._ready[element][place].limits


def conflicts(view: View, relations: Relations) -> tuple[Fact, ...]:
    """Every fact of a case whose tellings conflict, or that stands in spite of a denial, in the order of the catalogue."""
    found = []
    for name, (sources, by_itself) in relations.conflicting.items():
        if sources is not None and sources.isdisjoint(view.recorded):
            continue
        for subject in subjects_of(view, name):
            if not by_itself:
                stated = view.as_written(name, subject)
                if stated is None or stated.value is None:
                    continue
            fact = view.fact(name, subject)
            if fact.disputed or told_apart(fact):
                found.append(fact)
    return tuple(found)


def told_apart(fact: Fact) -> bool:
    """Whether a fact is unknown because its own tellings conflict, and not because a source says so."""
    return fact.value is None and fact.why is Why.CONFLICTING and bool(fact.derived_from)


def subjects_of(view: View, element: str) -> list[str]:
    """The subjects of a case that may have a fact of an element."""
    scope = catalogue()[element].scope
    if scope == "patient":
        return ["patient"]
    if scope == "disc":
        return list(view.named_levels())
    return view.entries_of_scope(scope)


def sources_of(names: Iterable[str], relations: Mapping[str, Relation]) -> frozenset[str] | None:
    """Everything recorded that may tell elements: themselves, details, their details, and lists.

    ``None`` where a formula is among them, which may read anything.
    """
    shelf = catalogue()
    found: set[str] = set()
    open_ = list(names)
    while open_:
        each = open_.pop()
        if each in found:
            continue
        found.add(each)
        element = shelf[each]
        if element.derived and not element.inputs:
            return None
        open_ += [*element.covers, *(part for inputs in element.inputs for part in inputs)]
        open_ += [shelf.covered_by[each]] if each in shelf.covered_by else []
        if each in relations:
            open_ += relations[each].details
            found |= {part for i in relations[each].implied for part in lists_of(i.when)}
    return frozenset(found)


def _may_conflict(relations: Mapping[str, Relation]) -> dict[str, tuple[frozenset[str] | None, bool]]:
    """Elements whose tellings can conflict, in the order of the catalogue.

    Each with what must be recorded for it, and whether its details can conflict where nothing is stated.
    """
    return {
        element.name: (
            sources_of((element.name,), relations),
            _by_itself(element, relations.get(element.name)),
        )
        for element in catalogue().all
        if element.name in relations or element.covers or element.inputs
    }


def _by_itself(element: Element, relation: Relation | None) -> bool:
    """Whether no value satisfies all that details may say, or a formula may find its inputs impossible."""
    if element.derived:
        return True
    said = [each.codes for each in relation.implied if each.value is not None] if relation else []
    said += [frozenset((True,))] if element.covers else []
    return bool(said) and not frozenset.intersection(*said)


def _ready(implication: Implication, relation: Relation, relations: Mapping[str, Relation]) -> _Ready:
    parameters = {n: ResolvedParameter(n, p.value, p.unit, p) for n, p in relation.parameters.items()}
    when = implication.when
    levels = LEVELS if names_this_disc(when) else ("",)
    limits, stays = implication.limits, implication.present_for
    read = sources_of(elements_of(when), relations)

    def when_at(level: str) -> Condition:
        return for_disc(when, level) if level else when

    return _Ready(
        implication,
        {level: certainly(when_at(level), parameters) for level in levels},
        {level: compiled(when_at(level), parameters) for level in levels},
        None if read is None else read | frozenset(lists_of(when)),
        None
        if limits is None
        else Span(-inf if limits.low is None else limits.low, inf if limits.high is None else limits.high),
        None if stays is None else float(str(parameters[stays.parameter].value)),
    )


def _details(trace: Trace) -> Iterator[Fact]:
    """The known facts that made a condition come out as met."""
    if trace.kind == "test":
        if trace.fact is not None and trace.fact.value is not None:
            yield trace.fact
        return
    for part in trace.parts:
        if trace.kind in _EVERY_PART or part.truth is Truth.MET:
            yield from _details(part)


_made: dict[str, Relations] = {}


def relations_of(rule_set: RuleSet) -> Relations:
    """The relations of a rule set, made ready once for each content."""
    key = rule_set.relations_digest
    if key not in _made:
        _made[key] = Relations(rule_set.relations)
    return _made[key]


def view_of(facts: CaseFacts, as_of: date, rule_set: RuleSet) -> View:
    """A case as a rule set sees it on a day."""
    return View(facts, as_of, rule_set.setting_values(), rule_set.tables, relations_of(rule_set))
