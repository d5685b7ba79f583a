"""A document puts words to an assessment and works nothing out; its parts are as if each had been checked."""

import ast
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import candidacy.explain
from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.view import View
from candidacy.case.load import load_case
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set

DAY = date(2026, 11, 25)
# A walk through what was evaluated, the name of a ground, and what a rule set reads of any case; anything else that is not
# a type would work something out of a case.
WALKS = {"open_leaves", "ground_name", "read_elements"}


def assessed(stem: str, rules: str = "practice_baseline") -> Assessment:
    return assess(load_case(demo_cases_folder() / f"{stem}.yaml"), load_rule_set(rules), DAY)


@cache
def demos() -> list[str]:
    found = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            load_case(path)
        except CaseError:
            continue  # a demo of what is refused
        found.append(path.stem)
    return found


def test_what_explains_takes_types_from_the_assessment_and_calls_nothing_of_it() -> None:
    taken = set()
    for path in Path(candidacy.explain.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("candidacy.assessment"):
                taken |= {alias.name for alias in node.names}
    assert WALKS | {"Assessment", "HoldPlan", "Outlook", "DiscChoice"} <= taken
    assert {name for name in taken if not name[0].isupper()} == WALKS


@pytest.mark.parametrize("rules", ["practice_baseline", "procedural_safety"])
@pytest.mark.parametrize("stem", ["anticoagulated", "morning-with-reasons-to-wait", "no-control-disc"])
def test_no_fact_is_looked_up_while_a_document_is_built(
    stem: str, rules: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = assessed(stem, rules)
    expected = build_document(assessed(stem, rules))
    beside = [c.assessment for c in found.companions if c.assessment is not None]
    assert beside
    for each in (found, *beside):
        assert each.outlook.name
        assert each.disc_choice is each.disc_choice

    def refuse(*_: Any) -> Any:
        raise AssertionError("a fact was looked up")

    monkeypatch.setattr(View, "fact", refuse)
    with pytest.raises(AssertionError, match="looked up"):
        assess(found.case, found.rule_set, DAY)
    assert build_document(found) == expected


@pytest.mark.parametrize("stem", demos())
def test_parts_made_without_a_check_are_those_that_a_check_would_have_made(stem: str) -> None:
    """Checked parts are written in the order of their fields; bytes that are equal have it too."""
    text = build_document(assessed(stem)).to_json()
    assert AssessmentDocument.model_validate_json(text).to_json() == text


def test_documents_share_no_list() -> None:
    one, other = build_document(assessed("anticoagulated")), build_document(assessed("anticoagulated"))
    assert one == other
    for row in one.criteria:
        for part in (row.parameters, row.cites, row.cautions, row.because):
            part.clear()
    assert build_document(assessed("anticoagulated")) == other
