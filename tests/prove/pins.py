"""One record in the language of the solver: every variable pinned to what the ordinary reading sees of the record."""

from datetime import date
from random import Random
from typing import Any

import z3

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LISTS, STANDARD_LEVELS, Element
from candidacy.foundation.values import Why
from candidacy.prove.draft import Draft, Facts
from candidacy.prove.held import value_is
from candidacy.prove.symbols import NO, World
from candidacy.rules.resolved import ResolvedCriterion
from candidacy.rules.tree import Compare, Elapsed, elements_of, walk


def pins(world: World, view: View) -> list[Any] | None:
    """What holds of every variable of a world for one record; nothing where the record is not one of those ranged over."""
    found: list[Any] = []
    for name, listed in world.lists.items():
        complete, subjects = view.entries(name)
        found.append(listed.complete == complete)
        found += [there == (place in subjects) for place, there in listed.there.items()]
    found += [world.named(level) == (level in view.named_levels()) for level in world.levels]
    for (name, subject, _), seen in list(world.facts.items()):
        if "[" in subject and subject not in view.entries(subject.partition("[")[0])[1]:
            found.append(z3.Not(seen.known))
            continue
        if name == "disc_standing":
            continue
        fact = view.fact(name, subject)
        if fact.why is Why.CONFLICTING:
            return None
        found.append(seen.known == (fact.value is not None))
        if fact.value is not None and name != "considered_for_treatment":
            value = value_is(seen, fact.value)
            if value is NO:
                return None  # worked out without an end
            found.append(value)
        for key, (dated, day) in seen.days.items():
            age = view.age_of(fact, None)
            by_other = view.age_of(fact, key or None)
            if age is None and by_other is not None and not fact.derived_from and fact.told_again is None:
                by_other = None  # dated by the patient's date, which is a fact of its own
            found.append(dated == (by_other is not None))
            if by_other is not None:
                found.append(day == world.today - int(by_other.high))
    return found


def random_facts(rng: Random, item: ResolvedCriterion, as_of: date) -> Draft:
    """An exact record about what a criterion reads: values on and beside its limits, some facts missing, some dated."""
    shelf = catalogue()
    limits = _limits(item)
    names = set(elements_of(*item.conditions))
    names |= {part for name in names for part in shelf[name].reads}
    dated_by = [
        node.age.dated_by
        for root in item.conditions
        for node in walk(root)
        if isinstance(node, Compare) and node.age
    ]
    names |= {name for name in dated_by if name}
    facts: Facts = {}
    entries: dict[str, int] = {}
    discs = rng.sample(STANDARD_LEVELS, rng.choice((1, 2, 3)))
    for name in sorted(names):
        element = shelf[name]
        if not element.statable:
            continue
        for subject in _subjects(rng, element, discs, entries):
            if rng.random() < 0.75:
                facts[subject, name] = _entry(rng, element, limits.get(name, ()), as_of)
    complete = frozenset(name for name in LISTS if rng.random() < 0.5)
    return Draft(facts, frozenset(discs), entries, complete)


def _subjects(rng: Random, element: Element, discs: list[str], entries: dict[str, int]) -> list[str]:
    if element.scope == "patient":
        return ["patient"]
    if element.scope == "disc":
        return discs
    name = next(name for name, scope in LISTS.items() if scope == element.scope)
    entries.setdefault(name, rng.choice((0, 1, 2)))
    return [f"{name}[{number}]" for number in range(1, entries[name] + 1)]


def _limits(item: ResolvedCriterion) -> dict[str, tuple[Any, ...]]:
    found: dict[str, tuple[Any, ...]] = {}
    for root in item.conditions:
        for node in walk(root):
            if isinstance(node, Compare):
                found[node.element] = (*found.get(node.element, ()), *node.limits)
            elif isinstance(node, Elapsed):
                for name in node.dates:
                    found[name] = (*found.get(name, ()), *((limit, node.unit) for limit in node.limits))
    return found


def _entry(rng: Random, element: Element, limits: tuple[Any, ...], as_of: date) -> dict[str, Any]:
    entry: dict[str, Any] = {"value": _value(rng, element, limits, as_of)}
    if element.unit:
        entry["unit"] = element.unit
    if rng.random() < 0.7:
        entry["date"] = _day(
            as_of,
            rng.choice(
                (-3, 0, 0, 1, 20, 29, 30, 31, 60, 89, 92, 180, 182, 184, 360, 364, 365, 366, 367, 800)
            ),
        )
    return entry


def _day(as_of: date, days_ago: int) -> str:
    return date.fromordinal(as_of.toordinal() - days_ago).isoformat()


def _value(rng: Random, element: Element, limits: tuple[Any, ...], as_of: date) -> Any:
    kind = element.kind
    if kind == "boolean":
        return rng.random() < 0.5
    if kind == "choice":
        return rng.choice([*element.codes, *(limit for limit in limits if limit in element.codes)])
    if kind == "members":
        codes = STANDARD_LEVELS if element.levels else element.codes
        return [code for code in codes if rng.random() < (0.5 if code in limits else 0.2)]
    if kind == "date":
        days = [
            round(limit * {"day": 1, "week": 7, "month": 30.44, "year": 365.25}[unit])
            for limit, unit in limits
        ]
        return _day(as_of, rng.choice([*days, *days, 0, 10, 400, -10]) + rng.choice((-2, -1, 0, 0, 1, 2)))
    if kind == "words":
        return "plain words"
    possible = element.possible
    assert possible is not None
    low = possible.low if possible.low is not None else 0
    high = possible.high if possible.high is not None else 100
    beside = [
        float(limit) + step
        for limit in limits
        if isinstance(limit, int | float)
        for step in (-1, -0.5, 0, 0, 0.5, 1)
    ]
    near = [value for value in beside if low <= value <= high]
    value = rng.choice(near) if near and rng.random() < 0.8 else rng.uniform(low, high)
    return round(value) if kind == "integer" else round(value, 1)
