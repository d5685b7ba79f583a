"""What also holds of a record that tells each fact plainly and once, so that a case the solver finds can be written down.

Everything here is asked only where a case is looked for, never for a proof: a case that does not exist is then simply not found.
"""

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

import z3

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case
from candidacy.foundation.errors import CaseError
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Value
from candidacy.prove.draft import Draft
from candidacy.prove.held import as_written, value_is, variables
from candidacy.prove.samples import samples_of
from candidacy.prove.symbols import NO, Expr, Seen, World
from candidacy.prove.translate import Reader, value_test
from candidacy.rules.operators import comparison
from candidacy.rules.relations import Implication, Relation
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import Compare, Node, elements_of, for_disc, walk

_MOST_SAMPLES = 60


class Plainly:
    """Adds to a world what holds of plain records under some rule sets."""

    def __init__(self, world: World, rule_sets: Collection[RuleSet], readers: Collection[Reader]) -> None:
        self.world, self._rule_sets, self._readers = world, tuple(rule_sets), tuple(readers)
        # samples that give a value to what cannot be stated: by the literal that chooses one
        self.chosen: dict[Any, Draft] = {}
        self._samples()
        self._one_view()
        self._summaries()
        self._scales()
        self._relations()

    def _say(self, said: Expr) -> None:
        self.world.solver.add(z3.Implies(self.world.plain, said))

    def _known(self, name: str, subject: str) -> Seen | None:
        """A fact that something asks for already; no further variable is made."""
        scope = catalogue()[name].scope
        return self.world.facts.get((name, "patient" if scope == "patient" else subject, 0))

    def _one_view(self) -> None:
        """Rule sets see the same of what can be stated."""
        for (name, subject, eyes), seen in list(self.world.facts.items()):
            if eyes and seen.element.statable:
                other = self.world.fact(name, subject)
                self._say(seen.known == other.known)
                for one, same in zip(variables(seen), variables(other), strict=True):
                    self._say(one == same)

    def _summaries(self) -> None:
        """A sign that is there makes its summary yes; a denied summary denies its signs."""
        for (_, subject, _), seen in list(self.world.facts.items()):
            for sign in seen.element.covers:
                part = self._known(sign, subject)
                if part is not None:
                    absent = value_test(part, "is", ("normal" if part.element.kind == "choice" else False,))
                    summary = value_test(seen, "is", (True,))
                    self._say(z3.Implies(z3.And(part.known, absent.unmet), z3.And(seen.known, summary.met)))
                    self._say(z3.Implies(z3.And(seen.known, summary.unmet), z3.And(part.known, absent.met)))

    def _scales(self) -> None:
        """Of two scales for one thing a record states one."""
        for (name, subject, _), seen in list(self.world.facts.items()):
            for other in seen.element.excludes:
                part = self._known(other, subject)
                if part is not None and part.element.name > name:
                    self._say(z3.Not(z3.And(seen.known, part.known)))

    def _relations(self) -> None:
        """What details say about a summary holds of it."""
        reader = self._readers[0]
        asked = list(self.world.facts)
        for relation in self._rule_sets[0].relations.values():
            element = catalogue()[relation.element]
            subjects = [subject for name, subject, eyes in asked if name == relation.element and not eyes]
            if element.derived and not element.statable:
                continue
            for subject in subjects:
                for number, implication in enumerate(relation.implied):
                    self._implied(reader, relation, number, implication, subject)

    def _implied(
        self, reader: Reader, relation: Relation, number: int, implication: Implication, subject: str
    ) -> None:
        when: Node = relation.conditions[number]
        if "[" not in subject and subject != "patient":
            when = for_disc(when, subject)
        names = elements_of(when)
        # details that no criterion asks for are never stated, so they can say nothing
        if not all(self._asked(name) for name in names):
            return
        met = reader.truth(when, subject).met
        seen = self.world.fact(relation.element, subject)
        if implication.value is not None:
            if seen.element.kind not in ("boolean", "choice"):
                return
            allowed = tuple(sorted(implication.codes, key=str))
            test = value_test(seen, "one_of", allowed).met
            said = z3.And(seen.known, test) if implication.infer else z3.Implies(seen.known, test)
        else:
            limits = implication.limits
            assert limits is not None
            parts = [value_test(seen, "at_least", (limits.low,)).met] if limits.low is not None else []
            parts += [value_test(seen, "at_most", (limits.high,)).met] if limits.high is not None else []
            said = z3.Implies(seen.known, z3.And(parts))
        self._say(z3.Implies(met, said))

    def _asked(self, name: str) -> bool:
        return any(place[0] == name for place in self.world.facts)

    # --- what cannot be stated

    def _samples(self) -> None:
        """A worked out fact has a value only together with facts from which the program is known to work it out."""
        worked_out = {key: seen for key, seen in self.world.facts.items() if not seen.element.statable}
        tests = self._tests() if worked_out else {}
        for (name, subject, eyes), seen in worked_out.items():
            if name not in tests:
                continue
            rule_set = self._rule_sets[min(eyes, len(self._rule_sets) - 1)]
            self._days(seen)
            if self._readers[min(eyes, len(self._readers) - 1)].tabulated(name):
                continue
            choices = []
            for number, (draft, value, days) in enumerate(self._values(rule_set, seen, tests[name])):
                literal = z3.Bool(f"{subject}.{name}#{eyes} by sample {number}")
                choices.append(literal)
                self.chosen[literal] = draft
                self._say(
                    z3.Implies(literal, z3.And(value_is(seen, value), *days, *self._as_sample(seen, draft)))
                )
            self._say(z3.Implies(seen.known, z3.Or(choices) if choices else NO))

    def _days(self, seen: Seen) -> None:
        """What is worked out is of the day of what it is worked out from."""
        for dated, day in list(seen.days.values()):
            for name in seen.element.reads:
                part = self._known(name, seen.subject)
                if part is not None and part.element.kind != "date":
                    self.world.day_of(part, None)
                    same, also = part.days[""]
                    self._say(z3.And(same == dated, also == day))

    def _tests(self) -> dict[str, list[Compare]]:
        found: dict[str, dict[Compare, None]] = {}
        for rule_set in self._rule_sets:
            for item in rule_set.criteria:
                for root in item.conditions:
                    for node in walk(root):
                        if isinstance(node, Compare):
                            found.setdefault(node.element, {})[node] = None
        return {name: list(nodes) for name, nodes in found.items()}

    def _values(
        self, rule_set: RuleSet, seen: Seen, tests: list[Compare]
    ) -> Iterable[tuple[Draft, Value, list[Expr]]]:
        """Samples with which an element has a value, two for each way in which it answers the tests, with what their day is."""
        told: dict[tuple[Truth, ...], int] = {}
        name, subject = seen.place
        for draft in samples_of(name, self.world.as_of)[:_MOST_SAMPLES]:
            for moved in _for_subject(draft, subject, self.world.bounds.entries):
                view = _view(moved, rule_set, self.world.as_of)
                fact = view.fact(name, subject) if view is not None else None
                if view is None or fact is None or fact.value is None:
                    continue
                key = tuple(_test_of(node)(fact.value) for node in tests)
                told[key] = told.get(key, 0) + 1
                if told[key] <= 2:
                    yield (
                        moved,
                        fact.value,
                        [
                            _aged(view.age_of(fact, by or None), each, self.world)
                            for by, each in seen.days.items()
                        ],
                    )

    def _as_sample(self, seen: Seen, draft: Draft) -> Iterable[Expr]:
        """Everything the sample states is so, and nothing else that the formula looks at is stated."""
        for (subject, name), entry in draft.facts.items():
            told = self._known(name, subject)
            if told is not None and told.element.statable:
                yield as_written(told, entry)
        for (name, subject, eyes), told in self.world.facts.items():
            asked = name in seen.element.reads and subject in ("patient", seen.subject)
            if not eyes and asked and told.element.statable and (subject, name) not in draft.facts:
                yield z3.Not(told.known)
        for name, number in draft.entries.items():
            listed = self.world.lists.get(name)
            if listed is not None:
                yield from (there for place, there in enumerate(listed.there.values(), 1) if place <= number)


def _aged(age: Span | None, days: tuple[Expr, Expr], world: World) -> Expr:
    dated, day = days
    return z3.Not(dated) if age is None else z3.And(dated, day == world.today - int(age.high))


def _for_subject(draft: Draft, subject: str, most: int) -> Iterable[Draft]:
    """A sample as it stands where a fact of a subject is wanted: an entry of a list may be any entry of the sample."""
    if any(number > most for number in draft.entries.values()):
        return
    if "[" not in subject:
        yield draft
        return
    name = subject.partition("[")[0]
    for number in range(1, draft.entries.get(name, 0) + 1):
        facts = {key: entry for key, entry in draft.facts.items() if "[" not in key[0]}
        facts |= {
            (subject, key[1]): entry for key, entry in draft.facts.items() if key[0] == f"{name}[{number}]"
        }
        place = int(subject.rstrip("]").partition("[")[2])
        yield Draft(facts, draft.discs, {name: place}, frozenset())


def _test_of(node: Compare) -> Any:
    return comparison(catalogue()[node.element], node.op, node.limits)


def _view(draft: Draft, rule_set: RuleSet, as_of: date) -> View | None:
    try:
        case: Case = draft.case(as_of)
    except CaseError:
        return None
    return assessor_for(rule_set, "direct").view(case, as_of)
