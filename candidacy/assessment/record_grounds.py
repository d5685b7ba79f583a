"""What the record itself says beside its criteria: facts that contradict each other, and facts nobody read.

A rule set reads what its criteria name. What else a record holds is listed, and a sign of danger among it may not be
passed over: decision rules of force ``record`` say what follows.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

from msgspec import Struct

from candidacy.assessment.certain import Certainly, certainly
from candidacy.assessment.doubts import doubts
from candidacy.assessment.relate import relations_of, subjects_of
from candidacy.assessment.results import UnreadFact
from candidacy.assessment.view import View
from candidacy.case.catalogue import Catalogue, catalogue
from candidacy.case.element import Danger, Element
from candidacy.case.facts import Fact
from candidacy.engine.decision import Ground
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, Value, point
from candidacy.rules.operators import NUMERIC, comparison
from candidacy.rules.relations import Relation
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import (
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
)


@dataclass(frozen=True)
class RecordGrounds:
    """What is to be settled first and unread facts of one case, as grounds of decisions.

    ``conflicts`` holds facts that contradict each other, and values so doubtful that they must be checked first.
    """

    conflicts: tuple[Fact, ...]
    unread: tuple[UnreadFact, ...]

    def of_disc(self, level: str) -> list[Ground]:
        """Grounds about one disc."""
        return [ground for subject, ground in self._grounds if subject == level]

    def of_case(self, not_considered: Collection[str]) -> list[Ground]:
        """Grounds about the case: the patient, entries of lists, and dangers of every disc that may be treated.

        A record that contradicts itself does so at whatever disc: other discs are controls, and tell of the patient.
        """
        return [
            ground
            for subject, ground in self._grounds
            if subject not in not_considered or ground.outcome == "conflict"
        ]

    @cached_property
    def _grounds(self) -> list[tuple[str, Ground]]:
        apart = [(f.subject, Ground(ground_name(f), "record", "conflict")) for f in self.conflicts]
        return apart + [
            (fact.subject, Ground(ground_name(fact), "record", "unread_danger"))
            for fact, dangers, _ in self.unread
            if dangers
        ]


def ground_name(fact: Fact) -> str:
    """How a fact of the record is named among the reasons of a decision; no criterion and no disc is named so."""
    return f"{fact.subject}: {fact.element}"


class Weigher(Struct, frozen=True):
    """A deciding criterion that one element by itself can fail, or make apply.

    ``applies`` is there where the criterion may not apply: then it weighs nothing. Its resolved criterion serves the
    columnar evaluation.
    """

    item: ResolvedCriterion
    gated: bool
    refused: Certainly | None = None

    def weighs(self, view: View, subject: str) -> bool:
        """Whether the criterion applies, or may, to a subject of a case; one about discs, to any disc of the patient."""
        if self.refused is None:
            return True
        if self.item.criterion.subject == "patient":
            return self.refused(view, "patient") is None
        levels = view.named_levels()
        return any(
            self.refused(view, level) is None for level in ([subject] if subject in levels else levels)
        )


class Dangers:
    """What a rule set reads, what it weighs, and which recorded facts it therefore leaves unread.

    A sign of danger is weighed where it could by itself fail a deciding criterion that applies, or makes one apply;
    also through what is worked out from it, a summary that covers it, or a summary it says something about. Being named
    in a condition that something else settles is not enough.
    """

    def __init__(self, rule_set: RuleSet) -> None:
        deciding = [item for item in rule_set.criteria if item.force != "advisory"]
        self._relations = relations_of(rule_set)
        self.weighers = _weighers(deciding)
        self.summaries = _summaries(rule_set.relations)
        self._read = read_elements(rule_set.criteria, rule_set)
        self.decides_by = read_elements(deciding, rule_set)
        self._advised = read_elements([i for i in rule_set.criteria if i.force == "advisory"], rule_set)
        self._dangers = {e.name: _tests_of(e) for e in catalogue().all if e.danger}
        # what is read and can be no danger is never unread; most facts are so
        self._harmless = self._read.difference(self._dangers)
        self._worked_out = [e for e in catalogue().all if e.danger and e.derived]
        told = _told_by_harmless(rule_set.relations).items()
        self.told = {name: places for name, places in told if not self.always_weighed(name)}

    def always_weighed(self, element: str) -> bool:
        """Whether a deciding criterion weighs what an element says in every case."""
        return any(weigher.refused is None for weigher in self.weighers.get(element, ()))

    def weighed(self, view: View, element: str, subject: str) -> bool:
        """Whether any deciding criterion weighs what an element says of a subject."""
        if any(weigher.weighs(view, subject) for weigher in self.weighers.get(element, ())):
            return True
        for summary, place in self.summaries.get(element, ()):
            of = subject_of(summary, subject)
            if of and self.weighed(view, summary, of):
                telling = self._relations.tell(view, summary, place, of)
                if telling is not None and any(tells(fact, element, subject) for fact in telling.facts):
                    return True
        return False

    def doubts(self, view: View) -> Iterator[Fact]:
        """Recorded values that a deciding criterion reads, and that are to be checked before anything passes on them."""
        return doubts(view, self.decides_by)

    def unread(self, view: View) -> tuple[UnreadFact, ...]:
        """Recorded facts that no criterion reads, and dangers that no deciding criterion weighs; dangers first."""
        place = catalogue().place
        found = []
        for fact in (*view.facts.stated(), *self._of_formulas(view), *self._of_relations(view)):
            name = fact.element
            if name in self._harmless or fact.value is None:
                continue
            dangers: tuple[Danger, ...] = ()
            for danger, test in self._dangers.get(name, ()):
                if test(fact.value) is not Truth.NOT_MET and not is_past(view, danger, fact.subject):
                    dangers += (danger,)
            if dangers and not self.weighed(view, name, fact.subject):
                found.append(UnreadFact(fact, dangers, name in self._advised))
            elif name not in self._read:
                found.append(UnreadFact(fact))
        return tuple(sorted(found, key=lambda u: (not u.dangers, place(u.fact.element), u.fact.subject)))

    def told_of(self, view: View, element: str, subject: str) -> bool:
        """Whether details of which none is a danger by itself tell what may be one."""
        return any(
            self._relations.tell(view, element, place, subject) for place in self.told.get(element, ())
        )

    def _of_relations(self, view: View) -> Iterator[Fact]:
        """Facts that only harmless details tell, and that certainly are a danger."""
        for name in self.told:
            for subject in subjects_of(view, catalogue()[name].scope):
                if (
                    view.near(subject).told(name)
                    and not view.states(name, subject)
                    and self.told_of(view, name, subject)
                ):
                    yield from self._certain(view.fact(name, subject))

    def _of_formulas(self, view: View) -> Iterator[Fact]:
        """Facts that only a formula tells and that certainly are a danger; what it leaves open is asked for by others."""
        for element in self._worked_out:
            for subject in subjects_of(view, element.scope):
                if not view.states(element.name, subject):
                    yield from self._certain(view.fact(element.name, subject))

    def _certain(self, fact: Fact) -> Iterator[Fact]:
        """A fact that certainly is a danger."""
        value = fact.value
        if value is not None and any(test(value) is Truth.MET for _, test in self._dangers[fact.element]):
            yield fact


def dangers_of(
    element: Element, fact: Fact, perhaps: bool = True, view: View | None = None
) -> tuple[Danger, ...]:
    """The dangers of an element that a fact is, or ``perhaps`` may be while it is imprecise; none that a case tells to be past."""
    return tuple(
        danger
        for danger, test in _tests_of(element)
        if ((truth := test(fact.value)) is Truth.MET or (perhaps and truth is not Truth.NOT_MET))
        and not (view is not None and is_past(view, danger, fact.subject))
    )


def is_past(view: View, danger: Danger, subject: str) -> bool:
    """Whether a danger of an entry of a list certainly is history, by a date of the same entry."""
    if danger.past is None:
        return False
    since = view.fact(danger.past.date, subject).value
    return isinstance(since, Span) and view.today.low - since.high > danger.past.days


def _tests_of(element: Element) -> tuple[tuple[Danger, Callable[[Any], Truth]], ...]:
    return tuple((danger, comparison(element, danger.op, danger.limits)) for danger in element.danger)


def tells(fact: Fact, element: str, subject: str) -> bool:
    """Whether a detail of a summary is the fact of an element of a subject, or is told by it."""
    return element in told_by_any((fact.element,)) and fact.subject in (subject, "patient")


def subject_of(summary: str, subject: str) -> str:
    """Of which subject a summary is, seen from one of its details; empty where a patient's fact tells of a disc."""
    scope = catalogue()[summary].scope
    return "patient" if scope == "patient" else "" if subject == "patient" else subject


# --- what a rule set reads


def _weighers(deciding: Iterable[ResolvedCriterion]) -> Mapping[str, list[Weigher]]:
    found: dict[str, list[Weigher]] = {}
    for item in deciding:
        criterion, when = item.criterion, item.applies_at_any_age
        failing = Truth.MET if criterion.kind == "exclusion" else Truth.NOT_MET
        if when is not None and "disc_standing" in elements_of(when):
            when = None  # it is not known yet when the record is looked at
        refused = None if when is None else certainly(NoneOf(of=(when,)))
        for name in _weighed_by(alone(item.when, failing), criterion.weighs):
            found.setdefault(name, []).append(Weigher(item, when is not None, refused))
        for name in told_by_any(elements_of(when)) if when is not None else ():
            found.setdefault(name, []).append(Weigher(item, False))
    return found


def _summaries(relations: Mapping[str, Relation]) -> Mapping[str, list[tuple[str, int]]]:
    """By element, the summaries of which it says that they are a danger, and the place of the implication."""
    found: dict[str, list[tuple[str, int]]] = {}
    for summary, relation in relations.items():
        if catalogue()[summary].kind == "members":
            continue  # what a list may hold does not tell what it holds
        dangerous = _dangerous_codes(catalogue()[summary])
        for place, each in enumerate(relation.implied):
            if each.value is None or not each.codes <= dangerous:
                continue
            for name in told_by_any(elements_of(relation.conditions[place])):
                found.setdefault(name, []).append((summary, place))
    return found


def _told_by_harmless(relations: Mapping[str, Relation]) -> Mapping[str, tuple[int, ...]]:
    """Dangers that details tell of which none is declared to be one, with the places of those implications."""
    shelf, found = catalogue(), {}
    for summary, relation in relations.items():
        element = shelf[summary]
        if not element.danger or element.derived:
            continue
        dangerous = _dangerous_codes(element)
        places = tuple(
            place
            for place, each in enumerate(relation.implied)
            if each.value is not None
            and each.infer
            and each.codes <= dangerous
            and not any(shelf[name].danger for name in told_by_any(elements_of(relation.conditions[place])))
        )
        if places:
            found[summary] = places
    return found


def _dangerous_codes(element: Element) -> frozenset[object]:
    """The codes of an element that are a danger."""
    return frozenset(
        each
        for each, value in _alone_values(element).items()
        for danger in element.danger
        if comparison(element, danger.op, danger.limits)(value) is Truth.MET
    )


def _weighed_by(by_itself: Mapping[str, "Codes"], weighs: Iterable[str]) -> frozenset[str]:
    """What fails a criterion by itself; not an element whose dangerous codes are none of those that do."""
    shelf = catalogue()
    settles_nothing = {
        name
        for name, codes in by_itself.items()
        if codes is not None and shelf[name].danger and not codes & _dangerous_codes(shelf[name])
    }
    return told_by_any(tuple(sorted(set(by_itself).difference(settles_nothing).union(weighs))))


Codes = frozenset[Any] | None


def alone(node: Node, wanted: Truth) -> dict[str, Codes]:
    """Elements of which one by itself can bring a condition to a truth, each with the codes that do; ``None`` where any may."""
    met = wanted is Truth.MET
    other = Truth.NOT_MET if met else Truth.MET
    match node:
        case Compare(element=element):
            return {element: _codes_alone(node, wanted)}
        case Elapsed(dates=dates):
            return dict.fromkeys(dates)
        case AllOf():
            return _joined([alone(part, wanted) for part in children(node)], not met)
        case AnyOf():
            return _joined([alone(part, wanted) for part in children(node)], met)
        case NoneOf():
            return _joined([alone(part, other) for part in children(node)], not met)
        case CountOf(of=Each() as each):
            return _joined([alone(each.that, Truth.MET), alone(each.that, Truth.NOT_MET)], True)
        case CountOf() | Complete():
            return {}


def _codes_alone(node: Compare, wanted: Truth) -> Codes:
    element = catalogue()[node.element]
    if element.derived or not _alone_values(element):
        return None
    test = comparison(element, node.op, node.limits)
    return frozenset(each for each, value in _alone_values(element).items() if test(value) is wanted)


def _alone_values(element: Element) -> Mapping[Any, Value]:
    """The values of an element that are tried by themselves: its codes, or of a number the ends of what is a danger."""
    if element.kind in ("number", "integer"):
        return {number: point(number) for danger in element.danger for number in _ends(element, danger)}
    if element.kind == "members":
        return {code: Members(frozenset((code,)), frozenset((code,))) for code in element.codes}
    codes: tuple[bool | str, ...] = (True, False) if element.kind == "boolean" else element.codes
    return {code: Options(frozenset((code,))) for code in codes}


def _ends(element: Element, danger: Danger) -> Iterator[float]:
    """The numbers at which a danger begins, and the farthest beyond it."""
    step, possible = 1 if element.kind == "integer" else 1e-6, element.possible
    beyond = {"more_than": step, "less_than": -step}.get(danger.op, 0)
    yield from (float(limit) + beyond for limit in danger.limits if not isinstance(limit, str))
    if possible is not None and danger.op in NUMERIC:
        end = possible.high if danger.op in ("at_least", "more_than") else possible.low
        yield from () if end is None else (float(end),)


def _joined(parts: list[dict[str, Codes]], one_is_enough: bool) -> dict[str, Codes]:
    names = set().union(*parts) if one_is_enough else set.intersection(*map(set, parts))
    found: dict[str, Codes] = {}
    for name in names:
        told = [part[name] for part in parts if name in part]
        known = [codes for codes in told if codes is not None]
        if one_is_enough:
            found[name] = frozenset().union(*known) if len(known) == len(told) else None
        else:
            found[name] = frozenset.intersection(*known) if known else None
    return {name: codes for name, codes in found.items() if codes is None or codes}


def read_elements(criteria: Collection[ResolvedCriterion], rule_set: RuleSet) -> frozenset[str]:
    """Every element whose value some criteria look at: named ones, what they are worked out from, their details."""
    named: list[str] = ["considered_for_treatment"]
    for item in criteria:
        named += elements_of(*item.conditions)
    found: set[str] = set()
    while named:
        name = named.pop()
        if name not in found:
            found.add(name)
            named += _told_by(catalogue()[name])
            named += rule_set.relations[name].details if name in rule_set.relations else ()
    return frozenset(found)


def told_by_any(names: tuple[str, ...]) -> frozenset[str]:
    """Elements and everything that tells them: covered signs and inputs, however deep."""
    return _told_by_any(names, catalogue())


@lru_cache(maxsize=4096)
def _told_by_any(names: tuple[str, ...], shelf: Catalogue) -> frozenset[str]:
    found: set[str] = set()
    open_ = list(names)
    while open_:
        name = open_.pop()
        if name not in found:
            found.add(name)
            open_ += _told_by(shelf[name])
    return frozenset(found)


def _told_by(element: Element) -> Iterator[str]:
    yield from element.covers
    yield from element.reads
    for inputs in element.inputs:
        yield from inputs
