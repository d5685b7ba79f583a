"""Small rule sets and cases made at random, whose every completion can be looked at."""

import json
from functools import cache
from random import Random
from typing import Any

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.load import Case, case_from_mapping
from candidacy.engine.decision import Ground, PossibleStandings
from candidacy.foundation.changed_copy import replace
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.vocabulary import Standing
from candidacy.settle.situation import Replies
from candidacy.settle.suppose import Supposing
from tests.reads import AS_OF, criterion

ORDERS = ("standing_order", "safety_order", "screen_order")
# single facts, a summary with two of its signs, a sum with its parts, and codes
TESTS: dict[str, list[dict[str, Any]]] = {
    "breastfeeding": [{"op": "is", "value": True}],
    "pregnant": [{"op": "is", "value": True}],
    "able_to_consent": [{"op": "is", "value": True}],
    "hba1c": [{"op": "at_most", "value": 7.5}, {"op": "more_than", "value": 9}, {"op": "between", "low": 6, "high": 8}],
    "smoking_status": [{"op": "is", "value": "current"}, {"op": "none_of", "value": ["never", "former"]}],
    "infection_signs": [{"op": "is", "value": True}],
    "fever": [{"op": "is", "value": True}],
    "body_mass_index": [{"op": "less_than", "value": 40}],
    "age": [{"op": "at_least", "value": 18}],
}  # fmt: skip


def condition(rng: Random, names: list[str], depth: int = 2) -> dict[str, Any]:
    """A condition over a few elements."""
    if depth == 0 or rng.random() < 0.4:
        name = rng.choice(names)
        return {"element": name, **rng.choice(TESTS[name])}
    parts = [condition(rng, names, depth - 1) for _ in range(rng.randint(2, 3))]
    kind = rng.choice(("all", "any", "none", "not", "at_least_of"))
    if kind == "not":
        return {"not": parts[0]}
    return {"at_least_of": {"count": 2, "conditions": parts}} if kind == "at_least_of" else {kind: parts}


def rule_set(rng: Random, names: list[str]) -> RuleSet:
    """One to four criteria under one of the shipped orders."""
    base = bare()
    criteria: list[ResolvedCriterion] = []
    for number in range(rng.randint(1, 4)):
        more: dict[str, Any] = {"force": rng.choice(("stop", "absolute", "relative", "advisory"))}
        if more["force"] == "stop":
            more["act"] = "Act."
        if rng.random() < 0.3:
            more["applies_when"] = json.dumps(condition(rng, names, 0))
        criteria.append(
            criterion(
                json.dumps(condition(rng, names)),
                id=f"made_{number}",
                kind=rng.choice(("inclusion", "exclusion")),
                **more,
            )
        )
    return replace(
        base, criteria=tuple(criteria), decisions=shipped().decisions(rng.choice(ORDERS)), companions=()
    )


@cache
def bare() -> RuleSet:
    return shipped().rule_set("practice_baseline")


def case(rng: Random, names: list[str]) -> Case:
    """A case in which some of the facts are known, and one may be imprecise."""
    said: dict[str, Any] = {}
    for name in names:
        if name != "pregnant" and rng.random() < 0.25:
            said[name] = {
                "breastfeeding": {"value": True},
                "able_to_consent": {"value": True},
                "hba1c": rng.choice([{"value": 7, "unit": "%"}, {"between": [5, 8], "unit": "%"}]),
                "smoking_status": rng.choice([{"value": "current"}, {"one_of": ["never", "current"]}]),
                "infection_signs": {"value": False},
                "fever": {"value": True},
                "body_mass_index": {"value": 41, "unit": "kg/m2"},
                "age": {"value": 40, "unit": "year"},
            }[name]
    if "infection_signs" in said:
        said.pop("fever", None)
    return case_from_mapping(
        {"schema_version": "1", "id": "made", "as_of": AS_OF.isoformat(), "patient": said}
    )


def whole(supposing: Supposing, replies: Replies) -> Assessment:
    """The whole assessment of the case with facts supposed."""
    found = supposing.assessment
    return assess(replace(found.case, facts=supposing.facts(replies)), found.rule_set, found.as_of, "direct")


def possible(assessment: Assessment) -> frozenset[Standing]:
    """Every standing that a case without discs may come to, from its outcomes and what its record says."""
    grounds = [Ground(r.id, r.resolved.force, r.outcome) for r in assessment.results]
    grounds += [Ground(f.element, "record", "conflict") for f in assessment.conflicts]
    grounds += [Ground(u.fact.element, "record", "unread_danger") for u in assessment.unread if u.dangers]
    return PossibleStandings(assessment.rule_set.decisions).of(grounds)
