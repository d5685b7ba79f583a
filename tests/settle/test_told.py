"""How it is told: in text, JSON, page and print only where it is asked for, and never that nothing matters where safety does."""

import json
from functools import cache

import pytest
from click.testing import CliRunner

import candidacy
from candidacy.commands.assess import assess as command
from candidacy.explain.compact import compact
from candidacy.explain.compact_schema import compact_schema
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.page import page
from candidacy.explain.settle import URGENT_FIRST
from candidacy.explain.settle_document import StepInfo
from candidacy.explain.settle_lines import CHANGE_TITLE, SETTLE_TITLE
from candidacy.explain.settled import with_settle
from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.interface.answer import Answer
from tests.quick_schema import Schema
from tests.reads import AS_OF

NAMES = (
    "extruded-disc",
    "stale-mri",
    "heavy-patient-for-conference",
    "cauda-equina-signs",
    "imprecise-report",
)


@cache
def answer(name: str) -> Answer:
    return candidacy.assess(demo_cases_folder() / f"{name}.yaml", "practice_baseline", as_of=AS_OF)


@pytest.mark.parametrize("name", NAMES)
def test_the_document_holds_it_only_where_it_is_asked_for(name: str) -> None:
    plain = answer(name).document
    assert plain.settle is None
    assert plain.change is None
    assert not {"settle", "change"} & set(compact(plain))
    told = with_settle(plain, answer(name).assessment)
    assert told.settle == answer(name).settle
    assert told.change == answer(name).change
    assert AssessmentDocument.model_validate_json(told.to_json()) == told
    for document in (plain, told):
        assert Schema(compact_schema()).refusals(json.loads(json.dumps(compact(document)))) == []
    assert SETTLE_TITLE not in page(plain)
    assert SETTLE_TITLE in page(told)
    assert CHANGE_TITLE in page(told)
    assert len(told.settle.ask_first) <= 3


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_said_not_to_matter_while_what_could_forbid_an_injection_is_open(name: str) -> None:
    told = answer(name).settle
    for ending in told.endings:
        if ending.safety_open and ending.standing != "urgent":
            assert "nothing else matters" not in ending.words
            assert "have to be asked before any" in ending.words

    def look(step: StepInfo | None) -> int:
        if step is None:
            return 0
        assert len({lead.answers for lead in step.leads}) == len(step.leads)
        return 1 + max((look(lead.then) for lead in step.leads), default=0)

    assert look(told.first) <= 5


def test_of_an_urgent_case_only_the_act_is_told() -> None:
    found = answer("cauda-equina-signs")
    assert found.settle.says == [URGENT_FIRST]
    assert found.settle.endings == []
    assert found.change.says == [URGENT_FIRST]
    assert found.change.limits == []
    assert found.change.mendable == []


def test_the_amount_and_the_limit_in_words() -> None:
    told = answer("heavy-patient-for-conference").change
    (weight,) = told.mendable
    assert weight.words == (
        "body weight 107.95 kg -> at most 98.3 kg at this height (patient); no date can be given."
    )
    (limit,) = told.limits
    assert "it would have to be above 38.42" not in limit.words
    assert "at least 38.42 kg/m2; the case would then stand as Candidate" in limit.words
    assert any("committee" in caution for caution in told.cautions)


def test_the_command_tells_it_where_asked() -> None:
    case = str(demo_cases_folder() / "extruded-disc.yaml")
    day = ["--as-of", AS_OF.isoformat()]

    def said(*options: str) -> str:
        return CliRunner().invoke(command, [case, *day, *options], catch_exceptions=False).output

    first = "Ask first: cauda equina signs"
    assert first not in said()
    assert first in said("--settle")
    assert SETTLE_TITLE in said("--full")
    told = json.loads(said("--settle", "--format", "json"))
    assert told["settle"]["smallest"] is True
    with pytest.raises(InputError, match="--settle is for one case"):
        said(case, "--settle")
