"""One dangerous fact or one contradiction in any candidate demonstration record: none stays a candidate."""

from collections.abc import Callable
from copy import deepcopy
from functools import cache
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.case.catalogue import catalogue
from candidacy.case.load import Case, case_from_mapping, load_case
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError, Code
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.truth import Truth
from candidacy.rules.libraries import shipped
from candidacy.rules.relations import Relation
from candidacy.rules.tree import elements_of
from tests.clinical.planting import (
    CannotPlantError,
    Planting,
    dangers,
    plant_contradiction,
    plant_danger,
)
from tests.deep import DEEP


@cache
def assessor(rules: str) -> Assessor:
    return Assessor(shipped().rule_set(rules))


def holds(rules: str, outcome: str) -> bool:
    """Whether the order of decisions of a rule set says what follows from a conflict or a danger of the record itself."""
    order = shipped().rule_set(rules).decisions
    return any(
        (pattern.force, pattern.outcome) == ("record", outcome)
        for rule in order.rules
        for pattern in rule.when
    )


SETS = [rules for rules in shipped().rule_set_files() if holds(rules, "conflict")]
WEIGH = [rules for rules in SETS if holds(rules, "unread_danger")]  # the others speak of a report alone


def assess(case: Case, rules: str, beside: Assessment | None = None) -> Assessment:
    """An assessment of a record as of its day; beside another of the same record it says the same and takes less."""
    assert case.record.as_of is not None
    return assessor(rules).assess(case, day(case.record.as_of), beside)


@cache
def beds() -> dict[tuple[str, str], tuple[dict[str, Any], tuple[str, ...]]]:
    """Every demonstration case that is a candidate under a rule set: its record, and the discs considered."""
    found = {}
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            case = load_case(path)
        except CaseError:
            continue  # refused on purpose, see its own test
        answer = None
        for rules in SETS:
            answer = assess(case, rules, answer)
            considered = tuple(d.level for d in answer.discs if d.considered is Truth.MET)
            if answer.standing == "candidate" and considered:
                found[path.stem, rules] = (case.record.plain(), considered)
    return found


def ground(rules: str) -> list[str]:
    """The demonstration cases that are a candidate under a rule set, in the order of their names."""
    return [name for name, under in beds() if under == rules]


def _tried() -> dict[tuple[str, tuple[str, ...]], list[str]]:
    """Records to plant in, with the discs considered: each once, with every rule set it is tried under.

    Two candidates of the baseline (in deep runs all), the first of every other set.
    """
    found: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for rules in SETS:
        names = ground(rules)
        most = (len(names) if DEEP else 2) if rules == "practice_baseline" else 1
        for name in names[:most]:
            found.setdefault((name, beds()[name, rules][1]), []).append(rules)
    return found


def case_of(planting: Planting) -> Case | None:
    """A planted record as a case, or ``None`` where it is refused as contradictory."""
    try:
        return planting.case()
    except CaseError as refusal:
        if any(problem.code is not Code.CONTRADICTION for problem in refusal.problems):
            raise
        return None


def test_there_is_ground_to_plant_in() -> None:
    assert {"practice_baseline", "procedural_safety"} <= {rules for _, rules in beds()}
    assert len(ground("practice_baseline")) >= 3
    assert [rules for rules in SETS if not ground(rules)] == [], (
        "no demonstration case is a candidate under these"
    )


# --- dangerous facts

DANGERS = list(dangers())

# Dangerous facts that a deciding criterion weighs and clears in the record they are planted in: rule set and fact, and why.
_NOT_IN_PRODUCT = "the instructions of this product name other residues"
CLEARED = {
    ("procedural_safety", "antithrombotic_use one_of 'anticoagulant'"): "held long enough, its prescriber agreed",
    ("procedural_safety", "high_thrombotic_risk is True"): "the prescriber agreed to the plan in writing",
} | {
    ("procedural_safety", f"residue_allergies contains_any ['{residue}']"): _NOT_IN_PRODUCT
    for residue in (
        "polymyxin_b", "bacitracin", "povidone_iodine", "surfactant", "alcohol", "glycerol", "bovine_serum",
        "porcine_material", "hyaluronate", "other",
    )
}  # fmt: skip


# The same in one record only.
CLEARED_IN = {
    (
        "morning-of-the-procedure",
        "antithrombotic_use one_of 'anticoagulant'",
    ): "the plan was agreed with the prescriber",
}


def test_what_is_cleared_is_a_danger_that_is_planted() -> None:
    record, discs = next(iter(beds().values()))
    planted = {p.what for element, danger in DANGERS for p in plant_danger(record, element, danger, discs)}
    assert {what for _, what in (*CLEARED, *CLEARED_IN)} <= planted


def test_every_danger_is_planted() -> None:
    assert DANGERS, "the catalogue declares no danger"
    unstatable = {e.name for e in catalogue().all if e.danger and not e.statable}
    assert unstatable == set(WORKED_OUT), (
        "a danger of an element that no record states is planted by what tells it"
    )


# Dangers that a formula or the loader alone tells, and what plants them.
WORKED_OUT: dict[str, Callable[[dict[str, Any]], object]] = {
    "danger_in_text": lambda record: record.update(note="Takes apixaban, which is not on the list."),
    "medicine_not_recognised": lambda record: entry(
        record, "medicines", medicine_name="qwertium", medicine_class="other"
    ),
    "planned_date_passed": lambda record: record["patient"].update(
        planned_procedure_date={"value": "2024-01-05"}
    ),
    "product_expired_by_planned_day": lambda record: record["patient"].update(
        product_expiry_date={"value": "2024-01-05"}
    ),
    "injection_steroid_just_given": lambda record: entry(
        record, "injections", injection_kind="epidural_steroid", injection_date=record["as_of"]
    ),
    "local_anaesthetic_load": lambda record: record["patient"].update(
        planned_local_anaesthetics={"value": ["bupivacaine"]},
        planned_bupivacaine_strength={"value": 0.5, "unit": "%"},
        planned_bupivacaine_volume={"value": 100, "unit": "mL"},
        planned_bupivacaine_with_epinephrine={"value": False},
    ),
}


def entry(record: dict[str, Any], name: str, **facts: object) -> None:
    listed = record.setdefault(name, {"complete": True})
    listed["entries"] = [
        *listed.get("entries", ()),
        {element: {"value": value} for element, value in facts.items()},
    ]


@pytest.mark.parametrize("element", WORKED_OUT)
@pytest.mark.parametrize("name", ["one-disc-candidate", "two-discs-candidate"])
def test_what_a_formula_tells_of_danger_leaves_no_candidate(element: str, name: str) -> None:
    record = deepcopy(beds()[name, "practice_baseline"][0])
    WORKED_OUT[element](record)
    found = assess(case_from_mapping(record), "practice_baseline")
    assert found.standing != "candidate"
    assert element in {unread.fact.element for unread in found.unread if unread.dangers} | {
        result.id for result in found.results if result.outcome != "pass"
    }


def test_no_dangerous_fact_leaves_a_candidate() -> None:
    unhurt = []
    for (name, discs), tried in _tried().items():
        record, _ = beds()[name, tried[0]]
        planted = 0
        for element, danger in DANGERS:
            for planting in plant_danger(record, element, danger, discs):
                case = case_of(planting)
                planted += 1
                found = None
                for rules in WEIGH if case is not None else ():
                    if (
                        rules not in tried
                        or (rules, planting.what) in CLEARED
                        or (name, planting.what) in CLEARED_IN
                    ):
                        continue
                    found = assess(case, rules, found)
                    # a danger at one of two considered discs must hold back that disc; the other may still pass
                    discs_standing = {disc.level: disc.decision.standing for disc in found.discs}
                    if {found.standing, discs_standing.get(planting.subject, found.standing)} == {
                        "candidate"
                    }:
                        unhurt.append(f"{name} under {rules}: {planting.subject}: {planting.what}")
        assert planted >= len(DANGERS) > 0, name
    assert unhurt == []


# --- contradictions

# Implications for which no contradiction can be stated in a record: the words of the relation, and why.
NOT_STATABLE: dict[str, str] = {}


@cache
def relations() -> dict[str, Relation]:
    return shipped().relations()


def test_every_implication_is_planted_or_listed() -> None:
    assert relations(), "no relation is declared"
    record, discs = next(iter(beds().values()))
    cannot = {}
    for relation in relations().values():
        for implication in relation.implied:
            try:
                plant_contradiction(record, relation, implication, discs)
            except CannotPlantError as why:
                cannot[f"{relation.element}: {implication.says}"] = str(why)
    assert cannot == NOT_STATABLE


def test_no_contradiction_leaves_a_candidate() -> None:
    unhurt, unnamed = [], []
    for (name, discs), tried in _tried().items():
        record, _ = beds()[name, tried[0]]
        planted = 0
        for relation in relations().values():
            for implication, when in zip(relation.implied, relation.conditions, strict=True):
                if f"{relation.element}: {implication.says}" in NOT_STATABLE:
                    continue
                planting = plant_contradiction(record, relation, implication, discs)
                case = case_of(planting)
                planted += 1
                found = None
                for rules in tried if case is not None else ():
                    found = assess(case, rules, found)
                    if found.standing == "candidate":
                        unhurt.append(f"{name} under {rules}: {planting.what}")
                    # the summary; or a detail that itself conflicts with the record, and so says nothing of the summary
                    told = {relation.element, *elements_of(when)}
                    if not told & {fact.element for fact in found.conflicts}:
                        unnamed.append(f"{name} under {rules}: {planting.what}")
        assert planted > 0, name
    assert unhurt == []
    assert unnamed == []
