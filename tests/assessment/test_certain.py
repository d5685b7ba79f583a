"""The quick test of a condition says met exactly where the direct evaluation does, and by the same facts."""

import pytest

from candidacy.assessment.certain import certainly, details
from candidacy.assessment.evaluate import compiled
from candidacy.assessment.relate import relations_of
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.foundation.truth import Truth
from candidacy.rules.libraries import shipped
from candidacy.rules.tree import for_disc
from tests.cohort.generated import cases
from tests.strategies import AS_OF

RULE_SET = shipped().rule_set("practice_baseline")


@pytest.mark.parametrize("seed", range(3))
def test_every_condition_of_a_relation_holds_where_its_trace_does(seed: int) -> None:
    relations = relations_of(RULE_SET)
    met = 0
    for case in cases(4000 + seed, 12):
        view = View(case.facts, AS_OF, RULE_SET.setting_values(), RULE_SET.tables, relations)
        for relation in relations.by_element.values():
            for each, condition in zip(relation.implied, relation.conditions, strict=True):
                scope = catalogue()[relation.element].scope
                subjects = {"patient": ["patient"], "disc": ["L4-L5"]}.get(scope) or view.entries_of_scope(
                    scope
                )
                if not subjects:
                    continue
                subject = subjects[0]
                when = for_disc(condition, "L4-L5")
                trace = compiled(when).read(view, subject)
                facts = certainly(when)(view, subject)
                assert (facts is not None) is (trace.truth is Truth.MET), (relation.element, each.says)
                if facts is not None:
                    met += 1
                    assert set(facts) == set(details(when, trace)), (relation.element, each.says)
    assert met > 50
