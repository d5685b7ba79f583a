"""Relations made ready: what the details of a case say about its summaries, read with the tests of criteria."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property
from math import inf
from typing import Any

from msgspec import Struct

from candidacy.assessment.certain import Certainly, certainly
from candidacy.assessment.reconcile import Telling, once
from candidacy.assessment.view import View, entry_mark
from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.element import STANDARD_LEVELS, Element
from candidacy.case.facts import CaseFacts, Fact
from candidacy.foundation.truth import Truth, all_of, any_of, negate
from candidacy.foundation.values import Options, Span, Why
from candidacy.rules.operators import comparison_of_numbers
from candidacy.rules.relations import Implication, Relation
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import (
    DISCS,
    AllOf,
    AnyOf,
    Compare,
    Complete,
    CountOf,
    Each,
    Elapsed,
    Node,
    NoneOf,
    children,
    elements_of,
    for_disc,
    imprecise_reads,
    lists_of,
    names_this_disc,
    walk,
)


@dataclass(slots=True)
class _Ready:
    """One implication; its condition is compiled when first asked for, for each disc where it names one."""

    summary: str
    says: str
    infer: bool
    when: Node
    allows: frozenset[Any]
    sources: frozenset[str] | None
    limits: Span | None
    present_for: float | None
    imprecise: frozenset[str]
    of_a_day: bool
    lists: tuple[str, ...]
    holds: Certainly | None = None

    def _compiled(self) -> Certainly:
        when = self.when

        @cache
        def at_disc(level: str) -> Certainly:
            return certainly(for_disc(when, level))

        if names_this_disc(when):
            self.holds = lambda view, subject: at_disc(subject)(view, subject)
        else:
            self.holds = certainly(when)
        return self.holds

    def tell(self, view: View, subject: str) -> Telling | None:
        """What it says of a case, or ``None`` where its condition is not certainly met."""
        if self.imprecise and not _any_imprecise(view, self.imprecise, subject):
            return None  # what leans does so only where something is imprecise
        details = (self.holds or self._compiled())(view, subject)
        if details is None:
            return None
        facts = once(details) if len(details) > 1 else details
        day = view.day_of_lists(self.lists) if self.lists and not facts else None
        if day is not None and self.present_for is not None and not view.of_these_days(day, self.present_for):
            return None
        if (
            self.present_for is not None
            and not all(view.present(fact, self.present_for) for fact in facts)
            and not (self.of_a_day and _of_one_day(view.as_written(self.summary, subject), facts))
        ):
            return None
        return Telling(self.allows or None, self.limits, self.infer, self.says, facts, day)


class Relations:
    """Every relation of a library, compiled once and read on any case.

    Parameters
    ----------
    relations
        Relations by element; without a circle, which the loader refuses.
    """

    def __init__(self, relations: Mapping[str, Relation]) -> None:
        self.by_element = dict(relations)
        sources = _Sources(self.by_element)
        self.watched = _watched(self.by_element, sources)
        self._ready = {
            name: [_ready(each, when, relation, sources) for each, when in relation.told]
            for name, relation in self.by_element.items()
        }
        self._kept: dict[frozenset[str], Near] = {}
        self.related = frozenset(self.by_element)
        self._acting = frozenset(name for name, relation in self.by_element.items() if relation.acts)
        stated = catalogue().only_stated.items()
        self.simple = frozenset(catalogue().only_stated).intersection(self.by_element)
        self.only_stated = {name: scope for name, scope in stated if name not in self.by_element}

    @cached_property
    def told_by(self) -> Mapping[str, Sequence[str]]:
        """By element, what it tells directly: as an input of a formula, a sign of a summary, a summary of signs, or a detail."""
        told: dict[str, list[str]] = {}
        for element in catalogue().all:
            tellers = [*element.covers, *element.reads, *(name for some in element.inputs for name in some)]
            tellers += self.by_element[element.name].details if element.name in self.by_element else ()
            for name in tellers:
                told.setdefault(name, []).append(element.name)
            if element.covers:
                told.setdefault(element.name, []).extend(element.covers)
        return told

    def near(self, recorded: frozenset[str]) -> "Near":
        """What may be told where so much is recorded; kept, for records of one make are read one after the other."""
        found = self._kept.get(recorded)
        if found is None:
            if len(self._kept) >= _KEPT:
                self._kept.clear()
            found = self._kept[recorded] = Near(recorded, self._ready, self.watched)
        return found

    def acts(self, element: str) -> bool:
        """Whether a sign of danger outranks its denial."""
        return element in self._acting

    def of(self, view: View, element: str, subject: str, settled: object = None) -> list[Telling]:
        """What the details of a case say about an element of a subject: the implications that are met.

        Those that allow a code that is ``settled`` are left out: they can neither contradict nor narrow it.
        """
        found: list[Telling] = []
        for ready in view.near(subject).told(element):
            if settled is not None and settled in ready.allows:
                continue
            if ready.imprecise and any(telling.codes == ready.allows for telling in found):
                continue  # it is told for certain already
            if (telling := ready.tell(view, subject)) is not None:
                found.append(telling)
        return found

    def tell(self, view: View, element: str, place: int, subject: str) -> Telling | None:
        """What one implication of an element says of a case, or ``None`` where it is not met."""
        return self._ready[element][place].tell(view, subject)

    def limits(self, element: str, place: int) -> Span | None:
        """The numbers that one implication allows."""
        return self._ready[element][place].limits


class Near:
    """What may be told where certain things are recorded, worked out when it is first asked for."""

    def __init__(
        self, recorded: frozenset[str], ready: Mapping[str, Sequence[_Ready]], watched: Mapping[str, "_Watch"]
    ) -> None:
        self._recorded, self._ready, self._watched = recorded, ready, watched
        self._told: dict[str, tuple[_Ready, ...]] = {}
        self._unstated: dict[str, tuple[str, ...]] = {}

    def told(self, element: str) -> tuple[_Ready, ...]:
        """The implications of an element of which something recorded may be the reason."""
        found = self._told.get(element)
        if found is None:
            found = self._told[element] = tuple(
                each
                for each in self._ready[element]
                if each.sources is None or not each.sources.isdisjoint(self._recorded)
            )
        return found

    def unstated(self, scope: str) -> tuple[str, ...]:
        """Elements of a scope whose tellings may conflict where they are not stated."""
        found = self._unstated.get(scope)
        if found is None:
            found = self._unstated[scope] = tuple(self._watched[scope].unstated(self._recorded))
        return found


def conflicts(view: View, relations: Relations) -> tuple[Fact, ...]:
    """Every fact of a case whose tellings conflict, or that stands in spite of a denial, in the order of the catalogue."""
    found, known = [], view.known
    for scope, watch in relations.watched.items():
        for subject in subjects_of(view, scope):
            unstated = [name for name in view.near(subject).unstated(scope) if not view.states(name, subject)]
            for name in (*view.stated_among(watch.stated, subject), *unstated):
                fact = known.get((name, subject)) or view.fact(name, subject)
                if fact.disputed or told_apart(fact):
                    found.append(fact)
    place = catalogue().place
    return tuple(sorted(found, key=lambda fact: (place(fact.element), fact.subject)))


def told_apart(fact: Fact) -> bool:
    """Whether a fact is unknown because its own tellings conflict, and not because a source says so."""
    return fact.value is None and fact.why is Why.CONFLICTING and bool(fact.derived_from)


def _of_one_day(stated: Fact | None, details: Iterable[Fact]) -> bool:
    """Whether details are of the day of the answer that they are held against: however old, it speaks of the same time."""
    day = stated.provenance.day if stated is not None and stated.value is not None else None
    days = [fact.provenance.day for fact in details]
    return day is not None and all(each is not None and each.low == day.low for each in days)


def _any_imprecise(view: View, names: Iterable[str], subject: str) -> bool:
    """Whether a date, number or grade of a subject, or of any entry of a list, is not exact, as stated or worked out."""
    shelf = catalogue()
    for name in names:
        read = view.fact if name in shelf.derived else view.as_written
        scope = shelf[name].scope
        for each in (subject,) if scope == "disc" else subjects_of(view, scope):
            fact = read(name, each)
            value = fact.value if fact is not None else None
            if isinstance(value, Options) and len(value.codes) > 1:
                return True
            if isinstance(value, Span) and value.low != value.high:
                return True
    return False


def subjects_of(view: View, scope: str) -> Sequence[str]:
    """The subjects of a case that may have facts of a scope."""
    if scope == "patient":
        return ("patient",)
    return view.named_levels() if scope == "disc" else view.entries_of_scope(scope)


class _Sources:
    """Everything recorded that may tell an element: itself, details, their details, and lists; worked out once for each.

    ``None`` where a formula is among them, which may read anything.
    """

    def __init__(self, relations: Mapping[str, Relation]) -> None:
        self._relations = relations
        self._of: dict[str, frozenset[str] | None] = {}
        self._marks: dict[str, frozenset[str]] = {}

    def of(self, names: Iterable[str]) -> frozenset[str] | None:
        """The same of any of some elements."""
        found = frozenset[str]()
        for name in names:
            if name not in self._of:
                self._of[name] = self._of_one(name)
            sources = self._of[name]
            if sources is None:
                return None
            found |= sources
        return found

    def _of_one(self, element: str) -> frozenset[str] | None:
        shelf = catalogue()
        found: set[str] = set()
        for each in with_what_tells((element,), self._relations, lambda element: ()):
            if shelf[each].derived and not shelf[each].inputs:
                return None
            found.add(each)
            if each in self._relations:
                if any(_from_afar(when, shelf[each].scope) for when in self._relations[each].conditions):
                    return None
                found |= self._marks_of(each)
        return frozenset(found)

    def _marks_of(self, element: str) -> frozenset[str]:
        if element not in self._marks:
            marks = [marks_of(when) for when in self._relations[element].conditions]
            self._marks[element] = frozenset[str]().union(*marks)
        return self._marks[element]


def with_what_tells(
    names: Iterable[str], relations: Mapping[str, Relation], more: Callable[[Element], Iterable[str]]
) -> Iterator[str]:
    """Elements and whatever tells them, however deep: inputs, signs, summaries and details, and ``more`` of each."""
    shelf, open_, found = catalogue(), list(names), set[str]()
    while open_:
        name = open_.pop()
        if name in found:
            continue
        found.add(name)
        yield name
        element = shelf[name]
        open_ += [*element.covers, *more(element), *(part for inputs in element.inputs for part in inputs)]
        open_ += [shelf.covered_by[name]] if name in shelf.covered_by else []
        open_ += relations[name].details if name in relations else ()


def _from_afar(when: Node, scope: str) -> bool:
    """Whether a condition may be met by what is not recorded near its subject: by nothing at all, or at another disc."""
    others = scope == "disc" and any(
        isinstance(node, AllOf | AnyOf | CountOf) and isinstance(node.of, Each) and node.of.over == DISCS
        for node in walk(when)
    )
    return others or _of_nothing(when) is Truth.MET


def _of_nothing(node: Node) -> Truth:
    """What a condition comes to where nothing is recorded."""
    match node:
        case Compare(op="known") | Complete():
            return Truth.NOT_MET
        case Compare() | Elapsed():
            return Truth.UNKNOWN
        case NoneOf(of=parts):
            return negate(any_of(map(_of_nothing, parts)))
        case AllOf(of=of) | AnyOf(of=of) | CountOf(of=of):
            if not isinstance(of, Each):
                truths, open_ = [_of_nothing(part) for part in of], 0.0
            elif of.over == DISCS:
                truths, open_ = [_of_nothing(of.that)] * len(STANDARD_LEVELS), 0.0
            else:
                truths, open_ = [Truth.UNKNOWN], inf
    if not isinstance(node, CountOf):
        return all_of(truths) if isinstance(node, AllOf) else any_of(truths)
    met = truths.count(Truth.MET)
    count = Span(met, met + truths.count(Truth.UNKNOWN) + open_)
    return comparison_of_numbers(node.op, node.limits)(count)


def marks_of(when: Node, denied: bool = False) -> frozenset[str]:
    """How `View.recorded` marks what must be there of each list for a condition, or its denial, to be met.

    That there is an entry of some kind takes an entry; that there is none, or few, may be told by a complete list without any.
    """
    match when:
        case Complete(of=name):
            return frozenset((name,))
        case AllOf(of=of) | AnyOf(of=of) | CountOf(of=of) if isinstance(of, Each):
            if of.over == DISCS:
                return marks_of(of.that, denied) | marks_of(of.that, not denied)
            op = (
                when.op
                if isinstance(when, CountOf)
                else "more_than"
                if isinstance(when, AnyOf)
                else "less_than"
            )
            some = op in (("at_most", "less_than") if denied else ("at_least", "more_than"))
            mark = entry_mark(of.over) if some else of.over
            return marks_of(of.that, denied) | marks_of(of.that, not denied) | {mark}
        case CountOf():
            return frozenset().union(
                *(marks_of(part, way) for part in children(when) for way in (False, True))
            )
        case _:
            way = denied is not isinstance(when, NoneOf)
            return frozenset().union(*(marks_of(part, way) for part in children(when)))


class _Watch(Struct, frozen=True):
    """Elements of one scope whose tellings can conflict: where stated, where worked out, or by their details alone."""

    stated: frozenset[str]
    worked_out: tuple[tuple[str, tuple[frozenset[str], ...]], ...]
    by_itself: tuple[tuple[str, frozenset[str] | None], ...]

    def unstated(self, recorded: frozenset[str]) -> Iterator[str]:
        """Those that may conflict without being stated, where so much is recorded."""
        for name, inputs in self.worked_out:
            if any(recorded.issuperset(some) for some in inputs):
                yield name
        for name, sources in self.by_itself:
            if sources is None or not sources.isdisjoint(recorded):
                yield name


def _watched(relations: Mapping[str, Relation], sources: _Sources) -> dict[str, _Watch]:
    """By scope, the elements whose tellings can conflict."""
    found: dict[str, list[Element]] = {}
    for element in catalogue().all:
        if element.name in relations or element.covers or element.inputs or element.reported_within:
            found.setdefault(element.scope, []).append(element)
    return {
        scope: _Watch(
            frozenset(e.name for e in elements),
            tuple((e.name, tuple(map(frozenset, e.inputs))) for e in elements if e.derived and e.inputs),
            tuple(
                (e.name, sources.of((e.name,)))
                for e in elements
                if _by_itself(e, relations.get(e.name)) and not (e.derived and e.inputs)
            ),
        )
        for scope, elements in found.items()
    }


def _by_itself(element: Element, relation: Relation | None) -> bool:
    """Whether no value satisfies all that details may say, so that they can conflict where nothing is stated."""
    said = [each.codes for each in relation.implied if each.value is not None] if relation else []
    said += [frozenset((True,))] if element.covers else []
    return bool(said) and not frozenset.intersection(*said)


def _ready(implication: Implication, when: Node, relation: Relation, sources: _Sources) -> _Ready:
    limits, stays = implication.limits, implication.present_for
    read, scope = sources.of(elements_of(when)), catalogue()[relation.element].scope
    codes: frozenset[Any] = implication.codes if implication.value is not None else frozenset()
    return _Ready(
        relation.element,
        implication.says,
        implication.infer and bool(codes),
        when,
        codes,
        None if read is None or _from_afar(when, scope) else read | marks_of(when),
        None
        if limits is None
        else Span(-inf if limits.low is None else limits.low, inf if limits.high is None else limits.high),
        None if stays is None else float(str(relation.parameters[stays.parameter].value)),
        imprecise_reads(when),
        not relation.acts,
        lists_of(when),
    )


_made: dict[tuple[str, Catalogue], Relations] = {}
_aged: dict[tuple[str, Catalogue], frozenset[str]] = {}
_KEPT = 64


def relations_of(rule_set: RuleSet) -> Relations:
    """The relations of a rule set, made ready once for each content."""
    key = (rule_set.relations_digest, catalogue())
    if key not in _made:
        _made[key] = Relations(rule_set.relations)
    return _made[key]


def aged_elements(rule_set: RuleSet) -> frozenset[str]:
    """Elements whose age can matter under a rule set: those of a recency, of details that speak of the present only, and
    whatever tells them. Worked out once for each content."""
    key = (rule_set.digest, catalogue())
    found = _aged.get(key)
    if found is None:
        if len(_aged) >= _KEPT:
            _aged.clear()
        found = _aged[key] = _whose_age_matters(rule_set)
    return found


def _whose_age_matters(rule_set: RuleSet) -> frozenset[str]:
    relations = rule_set.relations
    named = [n for i in rule_set.criteria if i.criterion.recency for n in i.criterion.recency.elements]
    for relation in relations.values():
        kept = [i.present_for is not None for i in relation.implied]
        named += elements_of(*(when for when, one in zip(relation.conditions, kept, strict=True) if one))
    return frozenset(with_what_tells(named, relations, lambda element: element.reads))


def view_of(facts: CaseFacts, as_of: date, rule_set: RuleSet) -> View:
    """A case as a rule set sees it on a day."""
    return View(facts, as_of, rule_set.setting_values(), rule_set.tables, relations_of(rule_set))
