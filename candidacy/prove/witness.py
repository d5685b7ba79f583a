"""From what the solver says to what is told: never, or a record that shows it, or not decided.

A case that the solver finds is written down, read as any case file is, and assessed in the ordinary way. Only where the ordinary
reading shows what was asked for is it told; otherwise the solver is taught what that reading saw instead, and asked again. What is
told is then made smaller, one fact after the other, as long as the reading still shows it.
"""

from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import date
from itertools import islice
from typing import Any, Literal, Protocol

import z3
from msgspec import Struct

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.relate import with_what_tells
from candidacy.assessment.view import View
from candidacy.case.doubtful import CHECKED, unusual
from candidacy.case.load import Case
from candidacy.foundation.errors import CaseError
from candidacy.foundation.values import Value, point
from candidacy.prove.disturbed import disturbances
from candidacy.prove.draft import Draft, Facts
from candidacy.prove.held import is_value, value_is, variables
from candidacy.prove.plainly import Plainly
from candidacy.prove.symbols import Expr, Seen, World
from candidacy.prove.translate import Reader, value_test
from candidacy.rules.resolved import RuleSet

Verdict = Literal["never", "shown", "open"]
Shows = Callable[[Case], bool]
# How often the solver is taught, and how often a record is read to make it smaller.
_ATTEMPTS, _DISTURBED, _READINGS = 12, 6, 160


class Found(Struct, frozen=True):
    """What is known of a question, with the record that shows it."""

    verdict: Verdict
    draft: Draft | None = None


NEVER, OPEN = Found("never"), Found("open")


class Read(Protocol):
    """A rule set, or a criterion of it, read in a world."""

    @property
    def rule_set(self) -> RuleSet: ...
    @property
    def reader(self) -> Reader: ...
    @property
    def conflict(self) -> Expr: ...
    @property
    def unread(self) -> Mapping[str, Expr]: ...


class Seeker:
    """Looks for records in one world.

    Parameters
    ----------
    judged
        The rule sets that are asked about.
    others
        Records to try where the solver finds none that can be written down.
    """

    def __init__(
        self, world: World, judged: Collection[Read], others: Callable[[], Iterable[Draft]] = tuple
    ) -> None:
        self.world, self._judged, self._others = world, tuple(judged), others
        self._rule_sets = [each.rule_set for each in judged]
        self._plainly: Plainly | None = None
        self.found: list[Draft] = []

    def find(self, asked: Iterable[Expr], shows: Shows, *, small: bool = True) -> Found:
        """Whether a record shows something.

        Parameters
        ----------
        asked
            What must hold of it.
        shows
            Whether the ordinary reading of a case shows it.
        small
            Whether the record is made as small as it can be.
        """
        asked = list(asked)
        answer = self.world.check(*asked)
        if answer != "sat":
            return NEVER if answer == "unsat" else OPEN
        if self._plainly is None:
            self._plainly = Plainly(self.world, self._rule_sets, [each.reader for each in self._judged])
            for each in self._judged:
                self.world.solver.add(
                    z3.Implies(self.world.quiet, z3.Not(z3.Or(each.conflict, *each.unread.values())))
                )
        draft = self._by_solver(asked, shows) or self._disturbed(asked, shows) or self._by_others(shows)
        if draft is None:
            return OPEN
        draft = smaller(draft, shows, self.world.as_of) if small else draft
        self.found.append(draft)
        return Found("shown", draft)

    def _by_solver(self, asked: list[Expr], shows: Shows) -> Draft | None:
        world = self.world
        for _ in range(_ATTEMPTS):
            calm = world.plain, world.quiet
            if world.check(*asked, *calm, world.usual) != "sat" and world.check(*asked, *calm) != "sat":
                return None
            model = world.solver.model()
            draft = self._written(model)
            case = _case(draft, self.world.as_of)
            if case is not None and shows(case):
                return draft
            self._teach(model, case)
        return None

    def _written(self, model: Any) -> Draft:
        assert self._plainly is not None
        return written(self.world, model, self._plainly)

    def _disturbed(self, asked: list[Expr], shows: Shows) -> Draft | None:
        """A record that tells something twice and differently, or a danger that nobody weighs."""
        conflict = [each.conflict for each in self._judged]
        unread = [said for each in self._judged for said in each.unread.values()]
        if not unread or self.world.check(*asked, self.world.plain) != "sat":
            return None
        model = self.world.solver.model()
        read = {name for name, _, _ in self.world.facts}
        kinds = [
            kind
            for kind, said in (("conflict", conflict), ("danger", unread))
            if any(z3.is_true(model.eval(e)) for e in said)
        ]
        added = [
            each for kind in kinds for scope in ("patient", "disc") for each in islice(disturbances(read, kind, scope), _DISTURBED)
        ]  # fmt: skip
        # a record that was found before may want no more than that
        for draft in (self._written(model), *reversed(self.found)):
            for disturbance in added:
                tried = draft.joined(Draft(dict(disturbance)))
                case = _case(tried, self.world.as_of)
                if case is not None and shows(case):
                    return tried
        return None

    def _by_others(self, shows: Shows) -> Draft | None:
        for draft in self._others():
            case = _case(draft, self.world.as_of)
            if case is not None and shows(case):
                return draft
        return None

    def _teach(self, model: Any, case: Case | None) -> None:
        """Rule out what the reading saw otherwise."""
        taught = False
        for number, rule_set in enumerate(self._rule_sets if case is not None else ()):
            assert case is not None
            assessor = assessor_for(rule_set, "direct")
            view = assessor.view(case, self.world.as_of)
            for (name, subject, eyes), seen in list(self.world.facts.items()):
                told = _value(view, name, subject)
                if eyes in (0, number) and not is_value(seen, told, model):
                    self._learn(model, seen, told, rule_set)
                    taught = True
            taught = self._avoid_dangers(assessor.record(view).unread, rule_set) or taught
        if not taught:
            kept = [seen.known for seen in self.world.facts.values()]
            self._not_again(model, kept)

    def _learn(self, model: Any, seen: Seen, told: Value | None, rule_set: RuleSet) -> None:
        """With everything that tells a fact as it is here, the fact is as it was read; one that is stated cannot be stated so."""
        name = seen.element.name
        tells = set(with_what_tells([name], rule_set.relations, lambda element: element.reads))
        parts = [
            part for (each, _, _), other in self.world.facts.items()
            if each in tells and (other is not seen or seen.element.statable) for part in _parts(other)
        ]  # fmt: skip
        if seen.element.statable:
            self._not_again(model, parts)
            return
        same = [part == model.eval(part, True) for part in parts]
        so = z3.Not(seen.known) if told is None else z3.And(seen.known, value_is(seen, told))
        self.world.solver.add(z3.Implies(z3.And(self.world.plain, *same), so))

    def _not_again(self, model: Any, parts: Iterable[Expr]) -> None:
        same = [part == model.eval(part, True) for part in parts]
        self.world.solver.add(z3.Implies(self.world.plain, z3.Not(z3.And(same))))

    def _avoid_dangers(self, unread: Iterable[Any], rule_set: RuleSet) -> bool:
        """A danger that no criterion weighs would decide instead."""
        taught = False
        for fact, dangers, _ in unread:
            seen = self.world.facts.get((fact.element, fact.subject, 0))
            for danger in dangers if seen is not None else ():
                assert seen is not None
                met = value_test(seen, danger.op, danger.limits).met
                self.world.solver.add(z3.Implies(self.world.plain, z3.Not(z3.And(seen.known, met))))
                taught = True
        return taught


def _value(view: View, name: str, subject: str) -> Any:
    if (
        subject not in ("patient", *view.levels())
        and subject not in view.entries(subject.partition("[")[0])[1]
    ):
        return None
    return view.fact(name, subject).value


def _parts(seen: Seen) -> Iterable[Expr]:
    return (seen.known, *variables(seen))


def _case(draft: Draft, as_of: date) -> Case | None:
    try:
        return draft.case(as_of)
    except CaseError:
        return None


# --- writing a model down


def written(world: World, model: Any, plainly: Plainly) -> Draft:
    """The record that a model of the solver stands for."""
    facts: Facts = {}
    for (name, subject, eyes), seen in world.facts.items():
        if not eyes and seen.element.statable and z3.is_true(model.eval(seen.known)):
            facts[subject, name] = _entry(seen, model, world)
    there = {
        name: sum(z3.is_true(model.eval(each)) for each in listed.there.values())
        for name, listed in world.lists.items()
    }
    complete = frozenset(
        name for name, listed in world.lists.items() if z3.is_true(model.eval(listed.complete))
    )
    discs = frozenset(level for level in world.levels if z3.is_true(model.eval(world.named(level))))
    found = Draft(facts, discs, {name: number for name, number in there.items() if number}, complete)
    for literal, sample in plainly.chosen.items():
        if z3.is_true(model.eval(literal)):
            found = found.joined(sample)
    return found


def _entry(seen: Seen, model: Any, world: World) -> dict[str, Any]:
    element = seen.element
    entry: dict[str, Any] = {}
    if element.kind == "words":
        entry["value"] = "invented"
    elif element.kind == "members":
        entry["value"] = [code for code, member in seen.members.items() if z3.is_true(model.eval(member))]
    elif seen.may:
        entry["value"] = next(code for code, said in seen.may.items() if z3.is_true(model.eval(said, True)))
    else:
        value = model.eval(seen.value, True)
        if element.kind == "boolean":
            entry["value"] = z3.is_true(value)
        elif element.kind == "choice":
            entry["value"] = element.codes[value.as_long()]
        elif element.kind == "date":
            entry["value"] = date.fromordinal(value.as_long()).isoformat()
        else:
            number = float(value.as_fraction()) if z3.is_rational_value(value) else float(value.as_long())
            entry["value"] = int(number) if number.is_integer() else round(number, 6)
            if unusual(element, point(number)):
                entry["note"] = CHECKED
    if element.unit is not None:
        entry["unit"] = element.unit
    for dated, day in seen.days.values():
        if z3.is_true(model.eval(dated)):
            entry["date"] = date.fromordinal(model.eval(day, True).as_long()).isoformat()
    return entry


# --- making it smaller


def smaller(draft: Draft, shows: Shows, as_of: date) -> Draft:
    """A record from which nothing more can be taken out, or as small as it gets in so many readings."""
    readings = 0
    size = max(1, len(draft.parts()) // 2)
    while size:
        parts, place, less = draft.parts(), 0, False
        while place < len(parts) and readings < _READINGS:
            tried = draft.without(parts[place : place + size])
            case = _case(tried, as_of)
            readings += 1
            if case is not None and shows(case):
                draft, less = tried, True
                del parts[place : place + size]
            else:
                place += size
        if size == 1 and (not less or readings >= _READINGS):
            break
        size = max(1, size // 2) if size > 1 else 1
    return draft
