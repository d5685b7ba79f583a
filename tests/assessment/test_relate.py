"""Summaries and their details: worked out, narrowed, conflicting, and signs of danger that act in spite of a denial.

The relations here are small ones of the test; what the shipped ones say is tested beside the rule files.
"""

from datetime import date
from typing import Any

import pytest
import yaml

from candidacy.assessment.relate import Relations, conflicts
from candidacy.assessment.view import View
from candidacy.case.facts import Fact
from candidacy.foundation.errors import RuleError
from candidacy.foundation.files import parse
from candidacy.foundation.shape import validate
from candidacy.foundation.values import FALSE, TRUE, Options, Span, Why, point
from candidacy.rules.library import Library
from candidacy.rules.relations import Relation, RelationFile
from tests.reads import AS_OF, case_of, shipped

RELATIONS = """
id: test
version: "1.0.0"
title: Test
relations:
  - element: medicine_class
    because: An agent has one class.
    implied:
      - {says: the agent is apixaban, value: direct_oral_anticoagulant,
         when: {element: medicine_agent, op: is, value: apixaban}}
  - element: antithrombotic_use
    because: A medicine in the list is in use.
    implied:
      - says: an anticoagulant is in the list of medicines
        value: [anticoagulant, both]
        when: {any_entry: {of: medicines, that: {element: medicine_class, op: one_of,
               value: [direct_oral_anticoagulant, vitamin_k_antagonist]}}}
      - says: an antiplatelet is in the list of medicines
        value: [antiplatelet, both]
        when: {any_entry: {of: medicines, that: {element: medicine_class, op: is, value: antiplatelet}}}
      - says: the complete list of medicines holds none
        value: none
        when: {every_entry: {of: medicines, that: {element: medicine_class, op: none_of,
               value: [direct_oral_anticoagulant, vitamin_k_antagonist, antiplatelet]}}}
  - element: fever
    because: A temperature is a sign.
    acts: true
    implied:
      - says: the temperature is 38 or more
        value: true
        when: {element: body_temperature, op: at_least, value: {parameter: fever_from}}
        present_for: {parameter: present}
    parameters:
      fever_from: {value: 38.0, unit: Cel, meaning: Fever from, cites: [{source: common_practice, supports: value, tag: common practice}]}
      present: {value: 7, unit: day, meaning: A reading speaks of the present, cites: [{source: common_practice, supports: value, tag: common practice}]}
  - element: infection_signs
    because: They are covered.
    acts: true
    implied:
      - {says: an infection is active, value: true, when: {element: active_infection, op: is, value: true}}
  - element: prior_surgery_at_level
    because: The list of operations names levels.
    implied:
      - says: an operation at this disc is in the list
        value: true
        when: {any_entry: {of: surgeries, that: {element: surgery_levels, op: contains, value: this_disc}}}
  - element: displacement_size
    because: No displacement has no size.
    implied:
      - {says: no displacement is described, limits: {low: 0, high: 0},
         when: {element: displacement, op: is, value: none}}
"""


def relations(text: str = RELATIONS) -> Relations:
    file = validate(RelationFile, parse(text, "test.yaml"), "test.yaml", lambda _: [])
    return Relations({each.element: each for each in file.relations})


READY = relations()


def view(body: str, as_of: date = AS_OF) -> View:
    settings = {name: setting.value for name, setting in shipped().settings().items()}
    return View(case_of(body).facts, as_of, settings, shipped().tables(), READY)


def fact(body: str, element: str, subject: str = "patient", **more: Any) -> Fact:
    return view(body, **more).fact(element, subject)


APIXABAN = "medicines: {complete: true, entries: [{medicine_agent: apixaban}]}\n"
PARACETAMOL = "medicines: {complete: true, entries: [{medicine_class: acetaminophen}]}\n"


def test_an_agent_implies_its_class_and_the_class_the_summary() -> None:
    assert fact(APIXABAN, "medicine_class", "medicines[1]").value == Options(
        frozenset(("direct_oral_anticoagulant",))
    )
    assert fact(APIXABAN, "antithrombotic_use").value == Options(frozenset(("anticoagulant", "both")))


def test_the_summary_is_narrowed_by_what_the_list_says() -> None:
    body = APIXABAN + "patient: {antithrombotic_use: {one_of: [antiplatelet, both]}}\n"
    assert fact(body, "antithrombotic_use").value == Options(frozenset(("both",)))


def test_none_beside_an_anticoagulant_is_a_conflict_with_both_values() -> None:
    body = APIXABAN + "patient: {antithrombotic_use: none}\n"
    found = fact(body, "antithrombotic_use")
    assert (found.value, found.why) == (None, Why.CONFLICTING)
    assert [f.element for f in found.derived_from] == ["antithrombotic_use", "medicine_class"]
    assert (
        found.note
        == "antithrombotic use is recorded as none, but an anticoagulant is in the list of medicines"
    )
    assert [f.element for f in conflicts(view(body), READY)] == ["antithrombotic_use"]


def test_agreeing_tellings_are_no_conflict() -> None:
    body = PARACETAMOL + "patient: {antithrombotic_use: none}\n"
    assert fact(body, "antithrombotic_use").value == Options(frozenset(("none",)))
    assert conflicts(view(body), READY) == ()


def test_a_complete_list_without_any_says_none_and_an_open_list_does_not() -> None:
    assert fact(PARACETAMOL, "antithrombotic_use").value == Options(frozenset(("none",)))
    open_list = "medicines: {entries: [{medicine_class: acetaminophen}]}\n"
    assert fact(open_list, "antithrombotic_use").value is None


def test_a_recorded_conflict_of_sources_is_not_settled_by_details() -> None:
    body = PARACETAMOL + "patient: {antithrombotic_use: {unknown: conflicting}}\n"
    found = fact(body, "antithrombotic_use")
    assert (found.value, found.why) == (None, Why.CONFLICTING)


def test_a_sign_of_danger_acts_in_spite_of_a_denial_all_the_way_up() -> None:
    body = "patient: {fever: false, infection_signs: false, body_temperature: {value: 39, unit: Cel}}\n"
    found = fact(body, "fever")
    assert found.value == TRUE
    assert [f.element for f in found.disputed] == ["fever"]
    above = fact(body, "infection_signs")
    assert above.value == TRUE
    assert {f.element for f in conflicts(view(body), READY)} == {"fever", "infection_signs"}


def test_a_denied_summary_denies_its_signs_until_a_sign_says_otherwise() -> None:
    assert fact("patient: {infection_signs: false}\n", "fever").value == FALSE


def test_an_old_reading_says_nothing_about_today_and_an_undated_one_does() -> None:
    old = "patient: {fever: false, body_temperature: {value: 39, unit: Cel, date: 2026-03-01}}\n"
    assert fact(old, "fever").value == FALSE
    assert conflicts(view(old), READY) == ()
    undated = "patient: {body_temperature: {value: 39, unit: Cel}}\n"
    assert fact(undated, "fever").value == TRUE


def test_a_relation_of_a_disc_reads_the_entries_that_name_this_disc() -> None:
    body = (
        "surgeries: {complete: true, entries: [{surgery_kind: fusion, surgery_levels: [L5-S1]}]}\n"
        "discs: {L4-L5: {prior_surgery_at_level: false}, L5-S1: {prior_surgery_at_level: false}}\n"
    )
    assert fact(body, "prior_surgery_at_level", "L4-L5").value == FALSE
    assert fact(body, "prior_surgery_at_level", "L5-S1").why is Why.CONFLICTING
    assert [f.subject for f in conflicts(view(body), READY)] == ["L5-S1"]


def test_a_number_is_checked_and_never_worked_out() -> None:
    assert fact("discs: {L4-L5: {displacement: none}}\n", "displacement_size", "L4-L5").value is None
    body = "discs: {L4-L5: {displacement: none, displacement_size: {value: 6, unit: mm}}}\n"
    assert fact(body, "displacement_size", "L4-L5").why is Why.CONFLICTING
    body = "discs: {L4-L5: {displacement: protrusion, displacement_size: {value: 6, unit: mm}}}\n"
    assert fact(body, "displacement_size", "L4-L5").value == point(6)


def test_a_number_stated_beside_what_it_is_worked_out_from() -> None:
    """BMI of 180 cm and 90 kg is 27.8: kg/m2 by definition."""
    inputs = "body_height: {value: 180, unit: cm}, body_weight: {value: 90, unit: kg}"
    apart = f"patient: {{body_mass_index: {{value: 40, unit: kg/m2}}, {inputs}}}\n"
    assert fact(apart, "body_mass_index").why is Why.CONFLICTING
    close = f"patient: {{body_mass_index: {{value: 28, unit: kg/m2}}, {inputs}}}\n"
    value = fact(close, "body_mass_index").value
    assert isinstance(value, Span)
    assert (round(value.low, 1), value.high) == (27.8, 28)


def test_a_later_day_is_never_recent() -> None:
    found = view("patient: {fever: {value: false, date: 2027-03-01}}\n")
    recent, age = found.recent(found.fact("fever", "patient"), 12, "month", None)
    assert recent.value == "unknown"
    assert age is not None
    assert age.high < 0


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ("element: medicine_class", "E105"),
        ("element: nothing", "E204"),
        ("value: direct_oral_anticoagulantt", "E208"),
    ],
)
def test_a_wrong_relation_is_refused(tmp_path: Any, change: str, code: str) -> None:
    tree = yaml.safe_load(RELATIONS)
    key, value = change.split(": ")
    if key == "element":
        tree["relations"][1]["element"] = value
    else:
        tree["relations"][0]["implied"][0]["value"] = value
    (tmp_path / "relations").mkdir()
    (tmp_path / "relations" / "test.yaml").write_text(yaml.safe_dump(tree), encoding="utf-8")
    with pytest.raises(RuleError) as found:
        Library(tmp_path, base=shipped()).relations()
    assert code in {p.code.value for p in found.value.problems}


def test_a_circle_is_refused(tmp_path: Any) -> None:
    text = """
id: circle
version: "1.0.0"
title: Circle
relations:
  - {element: diabetes, because: x, implied: [{says: x, value: none, when: {element: diabetes_uncontrolled, op: is, value: false}}]}
  - {element: diabetes_uncontrolled, because: x, implied: [{says: x, value: false, when: {element: diabetes, op: is, value: none}}]}
"""
    (tmp_path / "relations").mkdir()
    (tmp_path / "relations" / "circle.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(RuleError) as found:
        Library(tmp_path).relations()
    assert [p.code.value for p in found.value.problems] == ["E310"]


def test_every_relation_of_the_test_fits() -> None:
    assert isinstance(READY.by_element["fever"], Relation)
