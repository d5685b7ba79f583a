"""What a reading says in words: the value, how it compares, and why it is open."""

from typing import Any

import pytest

from candidacy.assessment.results import CriterionResult
from candidacy.explain.build import rule_sentence
from candidacy.explain.reason import because_words
from candidacy.explain.wording import capped, listed, span_words, with_unit
from candidacy.foundation.values import Span
from tests.reads import criterion, read

BMI = "{element: body_mass_index, op: less_than, value: {parameter: limit}}"
LIMIT = {"limit": (35, "kg/m2")}
WEIGHT = "{element: body_weight, op: at_least, value: {parameter: limit}}"
KG = {"limit": (100, "kg")}
SITTING = "{element: worse_sitting, op: is, value: true}"
THINNER = "any_entry: {of: medicines, that: {element: medicine_class, op: is, value: antiplatelet}}"
WAIT = "elapsed: {since: discography_date, unit: day, op: at_least, value: {parameter: wait}}"

# condition, parameters, facts, what is said
SAID: list[tuple[str, dict[str, Any], str, str]] = [
    (BMI, LIMIT, "patient: {body_mass_index: {value: 32, unit: kg/m2}}", "Body mass index is 32 kg/m2, which is less than 35 kg/m2"),
    (BMI, LIMIT, "patient: {body_mass_index: {value: 36, unit: kg/m2}}", "Body mass index is 36 kg/m2, which is not less than 35 kg/m2"),
    (BMI, LIMIT, "", "Body mass index: not recorded; compared with: less than 35 kg/m2"),
    (BMI, LIMIT, "patient: {body_mass_index: {unknown: not_asked}}", "Body mass index: not asked; compared with: less than 35 kg/m2"),
    (BMI, LIMIT, "patient: {body_mass_index: {at_least: 30, unit: kg/m2}}", "Body mass index is at least 30 kg/m2: not precise enough to settle it; compared with: less than 35 kg/m2"),
    (WEIGHT, KG, "patient: {body_weight: {value: 238, unit: lb}}", "Body weight is 107.95 kg, which is at least 100 kg"),
    (WEIGHT, KG, "patient: {body_weight: {value: 107.9549, unit: kg}}", "Body weight is 107.9549 kg, which is at least 100 kg"),
    (WEIGHT, {"limit": (107.95, "kg")}, "patient: {body_weight: {value: 238, unit: lb}}", "Body weight is 107.954984 kg, which is at least 107.95 kg"),
    (SITTING, {}, "patient: {worse_sitting: true}", "Worse sitting: yes"),
    (SITTING, {}, "patient: {worse_sitting: false}", "Worse sitting: no"),
    ("{element: sex, op: is, value: female}", {}, "patient: {sex: male}", "Sex is male, which is not female"),
    ("{element: sex, op: is_not, value: male}", {}, "patient: {sex: male}", "Sex: male"),
    ("{element: sex, op: is_not, value: male}", {}, "patient: {sex: female}", "Sex is female, which is not male"),
    ("{element: sex, op: none_of, value: [male]}", {}, "patient: {sex: male}", "Sex is male, which is one of male"),
    ("{element: sex, op: known}", {}, "", "Sex is not known"),
    ("{element: antibiotic_allergies, op: contains, value: penicillin}", {}, "patient: {antibiotic_allergies: [vancomycin]}", "Antibiotic allergies is vancomycin, which does not include penicillin"),
    (WAIT, {"wait": (14, "day")}, "patient: {discography_date: 2026-11-20}", "Time since discography date: 5 days, which is not at least 14 days"),
    (WAIT, {"wait": (14, "day")}, "patient: {discography_date: '2026-11'}", "Time since discography date: -5 to 24 days, which cannot yet be settled as at least 14 days"),
    (WAIT, {"wait": (14, "day")}, "", "Time since discography date: cannot be counted, discography date (not recorded); compared with: at least 14 days"),
    (WAIT.replace("unit", "until: planned_procedure_date, unit"), {"wait": (14, "day")}, "patient: {discography_date: 2026-11-20, planned_procedure_date: 2026-11-30}", "Time from discography date to planned procedure date: 10 days, which is not at least 14 days"),
    (THINNER, {}, "medicines: {entries: [{medicine_class: opioid}]}", "List of medicines: not stated to be complete"),
    (THINNER, {}, "medicines: {complete: true}", "List of medicines: none qualifies"),
    (THINNER, {}, "medicines: {complete: true, entries: [{medicine_class: antiplatelet}]}", "Medicine class of medicine 1: antiplatelet"),
    ("complete_list: medicines", {}, "", "List of medicines is not stated to be complete"),
    ("count_discs: {that: {element: pfirrmann_grade, op: is, value: V}, op: at_most, value: {parameter: n}}", {"n": (4, "1")}, "discs: {L4-L5: {pfirrmann_grade: V}}", "Number of discs that qualify: 1 to 5; cannot yet be settled as at most 4"),
]  # fmt: skip


@pytest.mark.parametrize(("when", "parameters", "body", "said"), SAID, ids=[row[3] for row in SAID])
def test_what_is_said_of_a_reading(when: str, parameters: dict[str, Any], body: str, said: str) -> None:
    item = criterion(when, parameters=parameters)
    assert because_words(CriterionResult(read(item, f"{body}\n"), item)) == [said]


def test_only_what_decided_is_said() -> None:
    item = criterion(f"any: [{SITTING}, {{element: worse_flexion, op: is, value: true}}]")
    both = read(item, "patient: {worse_sitting: false, worse_flexion: true}\n")
    assert because_words(CriterionResult(both, item)) == ["Worse flexion: yes"]
    neither = read(item, "patient: {worse_sitting: false, worse_flexion: false}\n")
    assert because_words(CriterionResult(neither, item)) == ["Worse sitting: no", "Worse flexion: no"]
    one_open = read(item, "patient: {worse_sitting: false}\n")
    assert because_words(CriterionResult(one_open, item)) == ["Worse flexion: not recorded"]


def test_a_criterion_that_does_not_apply_says_why() -> None:
    item = criterion(SITTING, applies_when="{element: sex, op: is, value: female}")
    assert because_words(CriterionResult(read(item, "patient: {sex: male}\n"), item)) == [
        "Does not apply: Sex is male, which is not female"
    ]
    unknown = because_words(CriterionResult(read(item), item))
    assert unknown[-1].startswith("whether it applies: Sex: not recorded")


def test_an_old_fact_says_how_old_it_is() -> None:
    item = criterion(
        "{element: platelet_count, op: at_least, value: {parameter: least}}",
        parameters={"least": (100, "10*9/L"), "oldest": (30, "day")},
        recency="{max_age: {parameter: oldest}, elements: [platelet_count]}",
    )
    body = "patient: {platelet_count: {value: 200, unit: 10*9/L, date: 2026-01-01}}\n"
    (said,) = because_words(CriterionResult(read(item, body), item))
    assert "328 days old: out of date" in said
    assert (
        rule_sentence(item)
        == "Passes when platelet count is at least 100 × 10⁹/L; facts older than 30 days count as unknown."
    )


def test_the_rule_is_said_with_the_parameters_in_use() -> None:
    assert (
        rule_sentence(criterion(BMI, parameters=LIMIT))
        == "Passes when body mass index is less than 35 kg/m2."
    )
    exclusion = criterion(BMI, parameters=LIMIT, kind="exclusion")
    assert rule_sentence(exclusion) == "Fails when body mass index is less than 35 kg/m2."


def test_lists_and_ranges_are_written_as_a_person_writes_them() -> None:
    assert (listed([]), listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"], "or")) == (
        "",
        "a",
        "a and b",
        "a, b or c",
    )
    assert capped(["a", "b", "c", "d", "e"], 3) == "a, b, c and 2 more"
    assert (with_unit("1", "month"), with_unit("2", "month"), with_unit("5", "%"), with_unit("3", "1")) == (
        "1 month",
        "2 months",
        "5%",
        "3",
    )
    assert span_words(Span(4, 6), "mm") == "4 to 6 mm"
    assert span_words(Span(4, 6, True, True), "mm") == "more than 4 to less than 6 mm"
