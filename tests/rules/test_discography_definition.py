"""One definition of a positive disc in every shipped rule set that reads discography, and both sets agree on a case."""

from pathlib import Path
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.catalogue import catalogue
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord
from candidacy.derive import work_out
from candidacy.explain.build import build_document
from candidacy.foundation.dates import day
from candidacy.foundation.files import read_tree
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.truth import Truth
from candidacy.rules.libraries import shipped
from candidacy.rules.relations import RelationFile
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import Compare, elements_of, walk
from tests.quick_yaml import read_yaml
from tests.views import case_of, view_of

SETS = list(shipped().rule_set_files())
READ_OF_THE_CLASS = {"discography_class", "discography_counts_as_control", "pressure_category"}
TWO = ("practice_baseline", "disc_source")


def sets_that_classify() -> list[RuleSet]:
    found = []
    for name in SETS:
        rules = shipped().rule_set(name)
        read = {e for item in rules.criteria for e in elements_of(item.when)}
        if read & READ_OF_THE_CLASS:
            found.append(rules)
    return found


def test_every_set_that_classifies_a_disc_uses_one_definition_and_says_where_it_departs() -> None:
    classifying = sets_that_classify()
    assert {rules.id for rules in classifying} >= {*TWO, "trial_style_strict"}
    assert len({rules.setting_values()["discography_definition"] for rules in classifying}) == 1
    for rules in classifying:
        setting = rules.settings["discography_definition"]
        assert setting.change is not None  # stated by the set, so that reason and source are shown
        assert setting.change.reason
        assert setting.change.cites


def test_the_numbers_of_concordant_provocation_are_those_of_the_definition() -> None:
    # 7 of 10 and 50 psi above opening, limit included: society's later form [memory]
    for rules in sets_that_classify():
        if not any(item.id == "concordant_provocation" for item in rules.criteria):
            continue
        row = rules.tables("discography_definitions")[rules.setting_values()["discography_definition"]]
        numbers = rules.criterion("concordant_provocation").parameters
        assert numbers["intensity"].value == row["intensity_at_least"]
        assert numbers["pressure_limit"].value == row["above_opening_limit"]
        assert row["limit_included"]  # the criterion says at most


# --- a positive provocation with a valid control, the anaesthetic test left out


def without_anaesthetic(**changes: Any) -> dict[str, Any]:
    """The demonstration case of one painful disc with every fact of the anaesthetic test taken out."""
    path: Path = demo_cases_folder() / "one-disc-candidate.yaml"
    record: dict[str, Any] = read_yaml(path.read_text(encoding="utf-8"))
    for facts in record["discs"].values():
        for name in [name for name in facts if name.startswith("anaesthetic_")]:
            del facts[name]
    record["discs"]["L4-L5"].update(changes)
    return record


def assessed(record: dict[str, Any], rules: str) -> Assessment:
    case = case_from_record(CaseRecord.model_validate(record))
    return assess(case, shipped().rule_set(rules), day(record["as_of"]))


NOT_DONE = {"anaesthetic_test_done": {"value": False}}


@pytest.mark.parametrize("rules", TWO)
def test_it_is_a_candidate_once_it_is_recorded_that_the_test_was_not_done(rules: str) -> None:
    found = assessed(without_anaesthetic(**NOT_DONE), rules)
    assert found.standing == "candidate"
    relief = next(r for r in found.results if (r.id, r.subject) == ("anaesthetic_relief_adequate", "L4-L5"))
    assert (relief.outcome, relief.evaluation.applies) == ("pass", Truth.NOT_MET)


def test_not_applicable_is_such_an_answer_too() -> None:
    names = ("anaesthetic_relief_reported", "anaesthetic_pain_before", "anaesthetic_pain_after")
    absent = {name: {"unknown": "not_applicable"} for name in names}
    assert assessed(without_anaesthetic(**absent), "practice_baseline").standing == "candidate"


def test_without_that_answer_it_stays_incomplete_where_relief_counts() -> None:
    for answer in (
        {},
        {"anaesthetic_test_done": {"unknown": "not_asked"}},
        {"anaesthetic_test_done": {"value": True}},
    ):
        assert assessed(without_anaesthetic(**answer), "practice_baseline").standing == "incomplete"


SPOILT_CONTROL = [
    ({"discography_leak": {"value": True}}, "borderline"),
    ({"discography_peak_pressure": {"value": 74, "unit": "psi"}}, "borderline"),
    ({"discography_leak": None}, "incomplete"),
    ({"discography_peak_pressure": None}, "incomplete"),
    ({"discography_pain_nrs": {"value": 6}}, "incomplete"),  # against "no pain": a conflict
]


@pytest.mark.parametrize("rules", TWO)
@pytest.mark.parametrize(("changes", "standing"), SPOILT_CONTROL)
def test_a_spoilt_or_open_control_is_no_candidate_in_either_set(
    rules: str, changes: dict[str, Any], standing: str
) -> None:
    record = without_anaesthetic(**NOT_DONE)
    control = record["discs"]["L3-L4"]
    control.update(changes)
    record["discs"]["L3-L4"] = {name: value for name, value in control.items() if value is not None}
    assert assessed(record, rules).standing == standing


@pytest.mark.parametrize("rules", TWO)
def test_more_volume_than_the_definition_allows_is_for_the_conference_in_both(rules: str) -> None:
    record = without_anaesthetic(**NOT_DONE, discography_volume={"value": 3.6, "unit": "mL"})
    assert assessed(record, rules).standing == "borderline"
    record = without_anaesthetic(**NOT_DONE, discography_volume={"value": 3.5, "unit": "mL"})
    assert assessed(record, rules).standing == "candidate"


def test_the_answer_shows_the_definition_and_what_it_replaces() -> None:
    case = load_case(demo_cases_folder() / "one-disc-candidate.yaml")
    for rules in (*TWO, "trial_style_strict"):
        document = build_document(assess(case, shipped().rule_set(rules), day("2026-11-25")))
        setting = next(s for s in document.settings if s.name == "discography_definition")
        assert setting.replaces
        assert setting.reason


# --- relations of whether a test was done

RELATIONS = RelationFile.model_validate(read_tree(shipped().folder / "relations" / "tests_done.yaml").plain())


def test_each_test_that_may_be_left_out_is_related_to_all_that_shows_it_was_done() -> None:
    for relation in RELATIONS.relations:
        element = catalogue()[relation.element]
        for implication, when in zip(relation.implied, relation.conditions, strict=True):
            for part in walk(when):
                if not isinstance(part, Compare) or part.op != "known":
                    continue
                detail = catalogue()[part.element]
                facts = {part.element: example(part.element)}
                case = case_of(disc=facts) if detail.scope == "disc" else case_of(facts)
                subject = "L4-L5" if element.scope == "disc" else "patient"
                done = work_out(relation.element, view_of(case), subject).value
                assert done is not None, part.element
                assert implication.value in done.codes


def example(name: str) -> Any:
    element = catalogue()[name]
    if element.kind == "date":
        return "2026-10-20"
    if element.kind == "boolean":
        return False
    if element.kind == "choice":
        return next(iter(element.choices or {}))
    return {"value": 2, "unit": element.unit} if element.unit else 2
