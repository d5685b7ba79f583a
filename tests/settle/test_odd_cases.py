"""Odd cases: what is told of them must not read as more than it is."""

from collections.abc import Iterator
from typing import Any

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.load import case_from_mapping, load_case
from candidacy.explain.settle import settle_info
from candidacy.explain.settle_document import LeadsInfo, SettleInfo, StepInfo
from candidacy.explain.settle_lines import change_lines, settle_lines
from candidacy.explain.would_change import change_info
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import shipped
from candidacy.settle.changing import change
from candidacy.settle.settling import settle
from tests.reads import AS_OF

RULES = shipped().rule_set("practice_baseline")
BEFORE = "Facts that could forbid an injection are still unknown and have to be asked before any."


def known(*gone: str, medicines: dict[str, Any] | None = None, **changed: Any) -> Assessment:
    """A case of which everything is known, with some of it taken out or told otherwise."""
    data = load_case(demo_cases_folder() / "one-disc-candidate.yaml").record.model_dump(
        mode="json", by_alias=True, exclude_none=True, exclude_unset=True
    )
    data["patient"] = {key: v for key, v in data["patient"].items() if key not in gone} | changed
    if medicines is not None:
        data["medicines"] = medicines
    return assess(case_from_mapping(data), RULES, AS_OF)


def settling(found: Assessment) -> SettleInfo:
    return settle_info(settle(found), RULES)


def leads(step: StepInfo | None) -> Iterator[tuple[StepInfo, LeadsInfo]]:
    """Every answer of a tree with its question."""
    for lead in step.leads if step is not None else ():
        assert step is not None
        yield step, lead
        yield from leads(lead.then)


def test_a_standing_that_nothing_changes_does_not_hide_what_could_forbid_an_injection() -> None:
    consent = {"value": False}
    told = settling(known("bleeding_disorder", able_to_consent=consent))
    assert told.settled
    assert BEFORE in told.says
    assert told.ask_first == [BEFORE]
    assert BEFORE in [line.text for line in settle_lines(told)]
    assert BEFORE not in settling(known(able_to_consent=consent)).says


def test_a_list_settles_only_where_it_is_complete_as_recorded() -> None:
    told = settling(known(medicines={"complete": False, "entries": []}))
    (only,) = told.sets
    assert [asked.element for asked in only] == ["medicines"]
    said = " ".join((*told.ask_first, *told.says))
    assert "whatever the answer" not in said
    assert "complete as it is recorded; a further entry may not" in said


def test_once_only_an_emergency_is_open_nothing_else_is_asked_and_the_open_branch_goes_on() -> None:
    found = assess(load_case(demo_cases_folder() / "stale-mri.yaml"), RULES, AS_OF)
    told = settling(found)
    seen = list(leads(told.first))
    beyond = {lead.then.asked.element for _, lead in seen if lead.decided and lead.then is not None}
    assert beyond <= {"displacement_containment"}  # a sign of danger where the tissue is free
    assert told.first is not None
    assert any(lead.then is not None for lead in told.first.leads if not lead.decided)
    assert told.first.asked.anew
    assert "what is recorded is out of date" in told.ask_first[0]


def test_no_answer_leads_to_no_open_criteria_while_the_record_contradicts_itself() -> None:
    found = known(
        "diabetes_uncontrolled", diabetes={"value": "type_2"}, hba1c={"value": 9.2, "unit": "%", "date": str(AS_OF)},
        opioid_mme_per_day={"value": 90, "unit": "mg/d"},
    )  # fmt: skip
    assert found.conflicts
    told = settling(found)
    words = [lead.words for _, lead in leads(told.first)]
    assert words
    assert not any(said.startswith("0 criteria") for said in words)
    assert any("Incomplete still: the record contradicts itself" in said for said in words)
    lines = [line.text for line in change_lines(change_info(change(found), RULES)) if line.depth]
    assert len(lines) == len(set(lines))
    assert not any("hbA1c" in line for line in lines)
    assert any("HbA1c from which" in line for line in lines)
