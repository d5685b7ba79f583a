"""A value so unusual that a slip is likelier is used as it stands, and nothing passes on it before it is checked.

The ranges are those of the catalogue (common practice); the slips are usual ones: pounds as kilograms, inches as
centimetres, mmol/L as mg/dL, a digit too few.
"""

from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.doubtful import CHECKED
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord
from candidacy.explain.build import build_document
from candidacy.foundation.dates import day
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set

SLIPS = {
    "body_weight": {"value": 31, "unit": "kg"},
    "body_height": {"value": 66, "unit": "cm"},
    "hba1c": {"value": 2.8, "unit": "%"},
    "glucose": {"value": 6, "unit": "mg/dL"},
    "haemoglobin": {"value": 1.4, "unit": "g/dL"},
}


def with_facts(**facts: Any) -> Assessment:
    """The demonstration record that is a candidate, with some facts in place of its own."""
    record = load_case(demo_cases_folder() / "one-disc-candidate.yaml").record.plain()
    assert "body_mass_index" not in record["patient"]
    record["patient"] |= {name: fact | {"date": record["as_of"]} for name, fact in facts.items()}
    return assess(
        case_from_record(CaseRecord.model_validate(record)),
        load_rule_set("practice_baseline"),
        day(record["as_of"]),
    )


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_of_unit_or_digit_holds_the_case_back_until_it_is_checked(name: str) -> None:
    held = with_facts(**{name: SLIPS[name]})
    assert held.decision.standing != "candidate"
    assert name in [fact.element for fact in held.conflicts]
    (first, *_) = [m for m in held.missing if m.element == name]
    assert first.to_settle
    assert "Is this right?" in first.ask
    checked = with_facts(**{name: SLIPS[name] | {"note": f"{CHECKED.capitalize()}: weighed twice"}})
    assert not [fact for fact in checked.conflicts if fact.element == name]


def test_a_danger_in_an_unusual_value_acts_all_the_same() -> None:
    """A ratio of 9 is far above what any society allows before a puncture; it fails, unusual or not."""
    found = with_facts(inr={"value": 9})
    assert found.decision.standing == "not_candidate"
    assert "inr" in [fact.element for fact in found.conflicts]


def test_an_unusual_value_that_nothing_reads_is_asked_about_and_holds_nothing_back() -> None:
    found = with_facts(eq5d_index={"value": -0.9})
    assert found.decision.standing == "candidate"
    assert any("-0.9: unusual" in notice for notice in found.notices)


def test_the_document_says_what_is_unusual_once_and_how_to_say_that_it_is_right() -> None:
    document = build_document(with_facts(body_weight=SLIPS["body_weight"]))
    (held,) = document.conflicts
    assert (held.element, held.facts[0].value) == ("body_weight", "31 kg")
    assert "Body weight of patient is 31 kg: unusual" in held.says
    assert CHECKED in held.question
    assert not [notice for notice in document.notices if "unusual" in notice]
