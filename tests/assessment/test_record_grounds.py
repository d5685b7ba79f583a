"""What a rule set reads and weighs, what is left unread, and what the decision rules make of it."""

from random import Random

import pytest

from candidacy.assessment.assess import assessor_for
from candidacy.assessment.record_grounds import Dangers, alone
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.load import case_from_record, parse_case
from candidacy.derive import work_out
from candidacy.derive.base import FORMULAS
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Why
from candidacy.rules.conditions import Condition
from candidacy.rules.libraries import shipped
from candidacy.rules.tree import lower
from tests.derive.test_laws import MIXES, choices
from tests.reads import AS_OF
from tests.strategies import random_case

BASELINE = shipped().rule_set("practice_baseline")
TEST = {"element": "fever", "op": "is", "value": True}
OTHER = {"element": "inr", "op": "at_least", "value": 2}
KIND = {"element": "medicine_class", "op": "is", "value": "nsaid"}


@pytest.mark.parametrize(
    ("condition", "wanted", "names"),
    [
        ({"all": [KIND, {"element": "medicine_class", "op": "is_not", "value": "nsaid"}]}, Truth.MET, set()),
        ({"any": [KIND, {"element": "medicine_class", "op": "is_not", "value": "nsaid"}]}, Truth.NOT_MET, set()),
        (TEST, Truth.MET, {"fever"}),
        ({"any": [TEST, OTHER]}, Truth.MET, {"fever", "inr"}),
        ({"any": [TEST, OTHER]}, Truth.NOT_MET, set()),
        ({"all": [TEST, OTHER]}, Truth.MET, set()),
        ({"all": [TEST, OTHER]}, Truth.NOT_MET, {"fever", "inr"}),
        ({"none": [TEST, OTHER]}, Truth.NOT_MET, {"fever", "inr"}),
        ({"not": {"any": [TEST, OTHER]}}, Truth.NOT_MET, {"fever", "inr"}),
        # two tests of one element are still that element alone
        ({"all": [OTHER, {"element": "inr", "op": "known"}]}, Truth.MET, {"inr"}),
        ({"any_entry": {"of": "medicines", "that": {"element": "medicine_class", "op": "is", "value": "nsaid"}}},
         Truth.MET, {"medicine_class"}),
    ],
)  # fmt: skip
def test_what_can_bring_a_condition_to_a_truth_alone(
    condition: dict[str, object], wanted: Truth, names: set[str]
) -> None:
    assert set(alone(lower(Condition.model_validate(condition), {}), wanted)) == names


def case(patient: str, discs: str = "{}", more: str = "") -> View:
    body = f'schema_version: "1"\nid: x\npatient: {patient}\ndiscs: {discs}\n{more}'
    return assessor_for(BASELINE).view(parse_case(body), AS_OF)


def weighed(view: View, element: str, subject: str = "patient") -> bool:
    return Dangers(BASELINE).weighed(view, element, subject)


def test_an_agent_is_weighed_through_class_and_summary() -> None:
    view = case("{}", more="medicines: {complete: true, entries: [{medicine_agent: apixaban}]}\n")
    assert weighed(view, "medicine_agent", "medicines[1]")


def test_what_only_a_condition_of_two_findings_names_is_not_weighed() -> None:
    """`unstable_slip` applies to a slip; motion without one must be weighed by another criterion."""
    without = [item for item in BASELINE.criteria if item.id != "instability_recorded"]
    view = case(
        "{}", "{L4-L5: {meyerding_grade: none, translation_on_flexion_extension: {value: 4, unit: mm}}}"
    )
    assert not Dangers(replace(BASELINE, criteria=tuple(without))).weighed(
        view, "translation_on_flexion_extension", "L4-L5"
    )
    assert weighed(view, "translation_on_flexion_extension", "L4-L5")


@pytest.mark.parametrize("rules", sorted(shipped().rule_set_files()))
def test_of_an_element_that_is_weighed_no_dangerous_code_passes_by_itself(rules: str) -> None:
    """Weighers are kept for an element: each of its dangerous codes must be one that some of them can fail on."""
    rule_set = shipped().rule_set(rules)
    passed = []
    for name, weighers in Dangers(rule_set).weighers.items():
        element = catalogue()[name]
        dangerous = (
            frozenset(c for d in element.danger for c in d.limits)
            if element.kind == "choice"
            else frozenset()
        )
        found: set[object] = set()
        for weigher in weighers:
            criterion = weigher.item.criterion
            failing = Truth.MET if criterion.kind == "exclusion" else Truth.NOT_MET
            codes = alone(weigher.item.when, failing).get(name)
            found |= dangerous if codes is None else codes
        passed += [(name, code) for code in dangerous - found]
    assert passed == []


def test_an_infection_that_cleared_is_weighed_where_a_criterion_says_so() -> None:
    assert weighed(case("{recent_infection: true}"), "recent_infection")


def test_a_fact_that_nobody_reads_is_listed_and_one_of_danger_first() -> None:
    body = "{eq5d_index: 0.4, frailty: true}"
    unread = Dangers(BASELINE).unread(case(body))
    assert [(u.fact.element, bool(u.dangers)) for u in unread] == [("frailty", True), ("eq5d_index", False)]


def test_elements_that_a_formula_reads_are_declared() -> None:
    """So that a danger which only feeds a derived element counts as read with it."""
    shelf = catalogue()
    elements = [e for e in shelf.all if e.statable and not e.derived]
    tables = shipped().tables()
    seen: dict[str, set[str]] = {}

    class Watched(View):
        depth = 0

        def fact(self, element: str, subject: str):  # type: ignore[no-untyped-def]
            if self.depth == 0:
                seen.setdefault(self.formula, set()).add(element)
            self.depth += 1
            try:
                return super().fact(element, subject)
            finally:
                self.depth -= 1

    for seed in range(60):
        rng = Random(7000 + seed)
        record = random_case(rng, elements, mix=rng.choice(MIXES))
        view = Watched(case_from_record(record).facts, AS_OF, choices(rng), tables)
        for name in FORMULAS:
            view.formula = name
            scope = shelf[name].scope
            for subject in {"patient": ["patient"], "disc": ["L4-L5"]}.get(scope) or view.entries_of_scope(
                scope
            ):
                work_out(name, view, subject)
    # the date that dates a study is no value of a formula
    missing = {
        name: names
        - set(shelf[name].reads)
        - {n for i in shelf[name].inputs for n in i}
        - {name, "lumbar_mri_date"}
        for name, names in seen.items()
    }
    assert {name: names for name, names in missing.items() if names} == {}


def test_a_study_and_its_report_months_apart_conflict_and_a_letter_may_tell_of_any_study() -> None:
    text = (
        'schema_version: "1"\nid: x\n'
        "documents: {report: {kind: imaging_report, date: 2026-08-31}, letter: {kind: referral_letter, date: 2026-08-31}}\n"
        "patient: {lumbar_mri_date: {value: 2026-05-20, source: SOURCE}}\n"
    )
    report = assessor_for(BASELINE).view(parse_case(text.replace("SOURCE", "report")), AS_OF)
    assert report.fact("lumbar_mri_date", "patient").why is Why.CONFLICTING
    letter = assessor_for(BASELINE).view(parse_case(text.replace("SOURCE", "letter")), AS_OF)
    assert letter.fact("lumbar_mri_date", "patient").value is not None
    before = text.replace("2026-05-20", "2026-09-02").replace("SOURCE", "report")
    assert (
        assessor_for(BASELINE).view(parse_case(before), AS_OF).fact("lumbar_mri_date", "patient").why
        is Why.CONFLICTING
    )
