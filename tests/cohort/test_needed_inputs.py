"""What the columns take to be needed for a formula is needed: where every set of its inputs lacks some, it says nothing."""

from functools import cache
from random import Random

import pytest

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import CaseFacts, Fact
from candidacy.cohort.columns.derived_columns import needed_of
from candidacy.derive import work_out
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Why
from tests.derive.test_laws import SETTINGS, TABLES, facts_for
from tests.strategies import AS_OF

ELEMENTS = [element for element in catalogue().all if element.derived and all(needed_of(element) or [[]])]


def test_the_formulas_with_costly_combinations_are_among_them() -> None:
    """Age, weight and creatinine make as many combinations as there are cases."""
    assert "creatinine_clearance" in {element.name for element in ELEMENTS}


@cache
def _made(seed: int) -> CaseFacts:
    return facts_for(Random(seed))


def _facts(seed: int) -> CaseFacts:
    """Generated facts, in tables from which a test may take some."""
    made = _made(seed)
    discs = {level: dict(table) for level, table in made.discs.items()}
    return replace(made, patient=dict(made.patient), discs=discs)


def _table(facts: CaseFacts, name: str, subject: str) -> dict[str, Fact]:
    return facts.patient if catalogue()[name].scope == "patient" else facts.discs.get(subject, {})


@pytest.mark.parametrize("element", ELEMENTS, ids=lambda element: element.name)
def test_nothing_is_worked_out_without_what_is_needed(element) -> None:
    settings = {name: setting.value for name, setting in SETTINGS.items()}
    gave = 0
    for seed in range(60):
        facts = _facts(seed)
        subject = "patient" if element.scope == "patient" else next(iter(facts.discs), "L4-L5")
        gave += work_out(element.name, View(facts, AS_OF, settings, TABLES), subject).value is not None
        rng = Random(seed)
        for _ in range(4):
            taken_out = [name for some in needed_of(element) for name in rng.choice(some)]
            lacking = {name: _table(facts, name, subject) for name in taken_out}
            taken = {name: table.pop(name, None) for name, table in lacking.items()}
            found = work_out(element.name, View(facts, AS_OF, settings, TABLES), subject)
            assert found.value is None
            assert found.why is not Why.CONFLICTING
            for name, kept in taken.items():
                if kept is not None:
                    lacking[name][name] = kept
    assert gave  # with everything there, the formula does say something
