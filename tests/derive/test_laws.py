"""Laws that every derived element keeps, on random cases over what it may be worked out from.

* A value known more exactly gives a result inside the one before: intervals contain what every point inside gives.
* Less is known after a fact is deleted: what was open stays open, what was settled is the same or wider.
"""

from datetime import date
from math import isfinite
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import CaseFacts, Fact, FactList
from candidacy.case.load import case_from_record
from candidacy.derive import FORMULAS, work_out
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import FALSE, Members, Options, Span, Value, Why, Words
from candidacy.rules.libraries import shipped
from tests.rows import each_row
from tests.strategies import AS_OF, FULL, SPARSE, Mix, random_case

SETTINGS = shipped().settings()
TABLES = shipped().tables()
MIXES = (Mix(), FULL, SPARSE)


def facts_for(rng: Random) -> CaseFacts:
    """Facts of a random case that states no derived element, so that every one is worked out."""
    elements = [e for e in catalogue().all if e.statable and not e.derived]
    record = random_case(rng, elements, mix=rng.choice(MIXES))
    return case_from_record(record).facts


def choices(rng: Random) -> dict[str, object]:
    """Settings as a rule set may set them."""
    return {
        name: rng.choice(list(setting.choices)) if setting.choices else setting.value
        for name, setting in SETTINGS.items()
    }


def results(facts: CaseFacts, settings: dict[str, object]) -> dict[tuple[str, str], Fact]:
    view = View(facts, AS_OF, settings, TABLES)
    found: dict[tuple[str, str], Fact] = {}
    for element in FORMULAS:
        scope = catalogue()[element].scope
        subjects = {"patient": ["patient"], "disc": list(view.levels())}.get(
            scope, view.entries(f"{scope}s")[1]
        )
        for subject in subjects:
            found[element, subject] = view.fact(element, subject)
    return found


def inside(narrow: Value, wide: Value) -> bool:
    """Whether everything that ``narrow`` leaves possible was possible under ``wide``."""
    if isinstance(narrow, Span) and isinstance(wide, Span):
        low = narrow.low > wide.low or (narrow.low == wide.low and (narrow.low_open or not wide.low_open))
        high = narrow.high < wide.high or (
            narrow.high == wide.high and (narrow.high_open or not wide.high_open)
        )
        return low and high
    if isinstance(narrow, Options) and isinstance(wide, Options):
        return narrow.codes <= wide.codes
    if isinstance(narrow, Members) and isinstance(wide, Members):
        return narrow.certain >= wide.certain and (
            wide.possible is None or (narrow.possible is not None and narrow.possible <= wide.possible)
        )
    return isinstance(narrow, Words) and narrow == wide


def check(less: dict[tuple[str, str], Fact], more: dict[tuple[str, str], Fact]) -> None:
    for key, before in less.items():
        after = more[key]
        if before.value is None or contradicted(after):
            continue  # nothing was known; or the facts contradict each other, which is no knowledge
        if key[0] == "medicine_hold_until" and "its prescriber refused" in after.note:
            continue  # a refusal takes a date back: no date may stand beside it, and no criterion reads it
        if key[0] == "opioid_mme_per_day" and any(f.value == FALSE for f in after.derived_from):
            continue  # whether an opioid with a last dose contradicts its denial is told by a relation, and there is none here
        assert after.value is not None, (key, before.value, after.why, after.note)
        assert inside(after.value, before.value), (key, before.value, after.value)


def contradicted(fact: Fact) -> bool:
    """Sources conflict, or an event turns out to lie after the as-of date and so says nothing of the time since."""
    apart = (Why.CONFLICTING, Why.AFTER_AS_OF)
    return fact.why in apart or any(contradicted(part) for part in fact.derived_from)


# --- changes of what is known


def everywhere(facts: CaseFacts) -> list[tuple[dict[str, Fact], str]]:
    tables = [facts.patient, *facts.discs.values(), *(t for g in facts.lists.values() for t in g.entries)]
    return [(table, name) for table in tables for name in table]


def copied(facts: CaseFacts) -> CaseFacts:
    return CaseFacts(
        facts.id,
        dict(facts.patient),
        {level: dict(table) for level, table in facts.discs.items()},
        {n: FactList(g.complete, [dict(t) for t in g.entries]) for n, g in facts.lists.items()},
    )


def narrowed(rng: Random, value: Value, whole: bool) -> Value:
    """A value inside an imprecise one: an end of it, or somewhere between."""
    if isinstance(value, Options):
        return Options(frozenset((rng.choice(sorted(value.codes, key=str)),)))
    if isinstance(value, Members):
        return Members(value.certain, value.certain)
    if not isinstance(value, Span) or value.exact:
        return value
    # clear of an open end by more than the rounding of a result
    step = (value.high - value.low) / 1000 if value.bounded else 1
    low, high = value.low + step * value.low_open, value.high - step * value.high_open
    points = [low, high, low + (high - low) * rng.random()]
    number = rng.choice([p for p in points if isfinite(p) and value.may_be(p)])
    number = round(number) if whole and value.may_be(round(number)) else number
    return Span(number, number) if not whole or float(number).is_integer() else value


@pytest.mark.parametrize("block", range(8))
def test_a_value_known_exactly_gives_a_result_inside_the_range_before(block: int) -> None:
    for seed in range(block * 60, block * 60 + 60):
        rng = Random(seed)
        facts, settings = facts_for(rng), choices(rng)
        wide = results(facts, settings)
        exact = copied(facts)
        for table, name in everywhere(exact):
            fact, kind = table[name], catalogue()[name].kind
            if fact.value is not None and rng.random() < 0.7:
                table[name] = replace(fact, value=narrowed(rng, fact.value, kind in ("integer", "date")))
        check(wide, results(exact, settings))


@pytest.mark.parametrize("block", range(8))
def test_deleting_a_fact_never_settles_what_was_open(block: int) -> None:
    for seed in range(10000 + block * 40, 10000 + block * 40 + 40):
        rng = Random(seed)
        facts, settings = facts_for(rng), choices(rng)
        full = results(facts, settings)
        for _ in range(4):
            fewer = copied(facts)
            places = everywhere(fewer)
            for table, name in rng.sample(places, min(len(places), rng.choice((1, 1, 5, 20)))):
                table.pop(name, None)
            check(results(fewer, settings), full)


@pytest.mark.parametrize("block", range(4))
def test_an_entry_added_to_an_open_list_unsettles_nothing(block: int) -> None:
    for seed in range(5000 + block * 30, 5000 + block * 30 + 30):
        rng = Random(seed)
        facts, settings = facts_for(rng), choices(rng)
        fewer = copied(facts)
        for group in fewer.lists.values():
            group.complete = False
            if group.entries and rng.random() < 0.7:
                group.entries.pop()
        more = copied(facts)
        for name, group in more.lists.items():
            group.complete = False if rng.random() < 0.5 else facts.lists[name].complete
        less = results(fewer, settings)
        check(less, {key: fact for key, fact in results(more, settings).items() if key in less})


@given(st.integers(0, 10**9))
def test_same_facts_give_the_same_results_in_any_order(seed: int) -> None:
    rng = Random(seed)
    facts, settings = facts_for(rng), choices(rng)
    turned = copied(facts)
    turned.patient = dict(reversed(facts.patient.items()))
    turned.discs = dict(reversed(turned.discs.items()))
    told = {key: (fact.value, fact.why) for key, fact in results(facts, settings).items()}
    assert told == {key: (fact.value, fact.why) for key, fact in results(turned, settings).items()}


# --- the catalogue and the formulas


def test_every_derived_element_has_a_formula() -> None:
    derived = {element.name for element in catalogue().all if element.derived}
    assert derived - set(FORMULAS) == {"disc_standing"}  # the engine settles that one
    assert set(FORMULAS) <= derived


@each_row("element", sorted(FORMULAS))
def test_a_formula_tells_its_source(element: str) -> None:
    text = FORMULAS[element].__doc__ or ""
    assert "Source:" in text


@each_row("element", sorted(FORMULAS))
def test_an_empty_case_gives_no_value_and_a_reason(element: str) -> None:
    view = View(CaseFacts("empty"), date(2026, 11, 25), {n: s.value for n, s in SETTINGS.items()}, TABLES)
    scope = catalogue()[element].scope
    found = work_out(element, view, {"patient": "patient", "disc": "L4-L5"}.get(scope, f"{scope}s[1]"))
    assert found.value is None
    assert found.why in (Why.INPUT_MISSING, Why.LIST_INCOMPLETE)
