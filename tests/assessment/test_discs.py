"""Which disc: what is said of every recorded disc, and the next step where a disc that nobody considers passes.

Cases are the shipped demonstration cases with the discs under consideration changed.
"""

from datetime import date
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.discs import disc_choice
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.explain.build import build_document
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.truth import Truth
from candidacy.rules.libraries import load_rule_set

DAY = date(2026, 11, 25)


def record(name: str = "two-discs-candidate", considered: Any = ("L4-L5",), **patient: Any) -> CaseRecord:
    found = load_case(demo_cases_folder() / f"{name}.yaml").record
    entry = None if considered is None else FactEntry.model_validate(
        considered if isinstance(considered, dict) else {"value": considered}
    )  # fmt: skip
    found = with_fact(found, "patient", "discs_under_consideration", entry)
    for element, value in patient.items():
        found = with_fact(found, "patient", element, FactEntry(value=value))
    return found


def spoiled(level: str, considered: Any, **patient: Any) -> CaseRecord:
    """Two discs qualify, then one gets an extrusion, which the baseline refuses."""
    return with_fact(
        record(considered=considered, **patient), level, "displacement", FactEntry(value="extrusion")
    )


def assessed(case: CaseRecord, rules: str = "practice_baseline") -> Assessment:
    return assess(case_from_record(case), load_rule_set(rules), DAY)


def test_the_next_step_asks_about_the_disc_that_passes_instead_of_other_care() -> None:
    found = assessed(spoiled("L4-L5", ["L4-L5"]))
    assert found.standing == "not_candidate"
    choice = disc_choice(found)
    assert [d.level for d in choice.failing] == ["L4-L5"]
    assert [(o.level, o.considered, o.alone) for o in choice.others] == [
        ("L5-S1", Truth.NOT_MET, "candidate")
    ]
    document = build_document(found)
    for text in (document.next_step, document.reason[1]):
        assert "ask whether L5-S1, which passes every disc criterion, should be considered" in text
        assert "other care" not in text
    assert document.which_disc.says == [
        "Considered, but not passing: L4-L5 (not a candidate).",
        "Recorded but not considered, and passing every disc criterion: L5-S1 (if it alone were considered, the "
        "case would be: candidate).",
        "Positive at discography but not considered: L5-S1.",
    ]


def test_without_another_disc_other_care_is_the_next_step() -> None:
    case = with_fact(spoiled("L4-L5", ["L4-L5"]), "L5-S1", "displacement", FactEntry(value="extrusion"))
    document = build_document(assessed(case))
    assert document.standing == "not_candidate"
    assert "consider other care" in document.next_step
    assert document.which_disc.others == []
    assert document.which_disc.positive_not_considered == ["L5-S1"]


def test_a_patient_who_fails_is_not_sent_to_another_disc_and_not_to_other_care() -> None:
    """The issue rules out "other care" while a disc passes everything; that disc would not help here, and it says so."""
    found = assessed(spoiled("L4-L5", ["L4-L5"], able_to_consent=False))
    choice = disc_choice(found)
    assert [(o.level, o.alone) for o in choice.others] == [("L5-S1", "not_candidate")]
    assert choice.helpful == ()
    document = build_document(found)
    assert "other care" not in " ".join(document.reason)
    assert (
        "it would stand if L5-S1, which passes every disc criterion, were considered instead"
        in document.next_step
    )


def test_a_positive_disc_that_is_not_considered_is_named_beside_one_that_passes() -> None:
    document = build_document(assessed(record(considered=["L4-L5"])))
    assert document.standing == "candidate"
    assert document.which_disc.passing == ["L4-L5"]
    assert document.which_disc.positive_not_considered == ["L5-S1"]
    assert document.next_step.startswith("The decision stays")


@pytest.mark.parametrize("considered", [None, {"unknown": "not_asked"}])
def test_where_it_is_not_known_which_are_considered_those_that_would_pass_are_named(considered: Any) -> None:
    document = build_document(assessed(record(considered=considered)))
    assert document.standing == "incomplete"
    which = document.which_disc
    assert which.passing == []
    assert [o.level for o in which.others] == ["L4-L5", "L5-S1"]
    assert set(which.not_known_whether_considered) >= {"L4-L5", "L5-S1"}
    assert any("though not known to be considered: L4-L5" in sentence for sentence in which.says)
    assert any(s.startswith("Positive at discography, though not known to be considered") for s in which.says)


def test_an_emergency_comes_before_any_other_disc() -> None:
    found = assessed(spoiled("L4-L5", ["L4-L5"], saddle_numbness=True, cauda_equina_signs=True))
    assert found.standing == "urgent"
    document = build_document(found)
    assert "L5-S1" not in document.next_step
    assert all(o.alone is None for o in document.which_disc.others)


def test_a_rule_set_that_chooses_no_disc_calls_none_passing() -> None:
    """`procedural_safety` asks a disc about waiting times only, and to have waited long enough recommends no disc."""
    choice = disc_choice(assessed(record(considered=["L4-L5"]), "procedural_safety"))
    assert not choice.judged
    assert choice.passing == ()
    assert choice.others == ()


def test_a_disc_to_which_no_criterion_applies_does_not_pass() -> None:
    """`report_completeness` asks only of considered discs; of the others it says nothing."""
    choice = disc_choice(assessed(record(considered=["L4-L5"]), "report_completeness"))
    assert choice.others == ()


def test_an_order_without_words_for_it_still_names_the_other_disc() -> None:
    found = assessed(spoiled("L4-L5", ["L4-L5"]))
    order = found.rule_set.decisions
    bare = order.model_copy(
        update={"rules": tuple(r.model_copy(update={"other_disc": None}) for r in order.rules)}
    )
    from dataclasses import replace

    rule_set = replace(found.rule_set, decisions=bare)
    document = build_document(assess(found.case, rule_set, DAY))
    assert document.next_step.endswith(
        "Ask also whether L5-S1, which passes every disc criterion, should be considered."
    )


def test_to_ask_about_another_disc_leaves_the_case_as_it_was() -> None:
    found = assessed(spoiled("L4-L5", ["L4-L5"]))
    before = found.case.facts.patient["discs_under_consideration"]
    disc_choice(found)
    assert found.case.facts.patient["discs_under_consideration"] is before
    assert assessed(spoiled("L4-L5", ["L4-L5"])).standing == found.standing
