"""Demonstration cases: their standing under every shipped rule set, and that together they exercise all criteria."""

import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.case.load import Case, load_case
from candidacy.check.cases import run_case
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.criterion import Criterion
from candidacy.rules.criterion_cases import cases_path, load_cases
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.resolved import as_declared
from candidacy.rules.tree import asks_presence, children, walk
from candidacy.rules.vocabulary import STANDINGS
from tests.quick_yaml import read_yaml
from tests.rows import each_row

EXPECTED: dict[str, dict[str, Any]] = read_yaml(
    (Path(__file__).parent / "expected.yaml").read_text(encoding="utf-8")
)["cases"]
CASES = {file.stem: file for file in sorted(demo_cases_folder().glob("*.yaml"))}
READ = [name for name, row in EXPECTED.items() if "refused" not in row]
SETS = list(shipped().rule_set_files())


@cache
def assessor(rules: str) -> Assessor:
    return Assessor(shipped().rule_set(rules))


@cache
def read(name: str) -> Case:
    return load_case(CASES[name])


@cache
def assessment(name: str, rules: str) -> Assessment:
    case = read(name)
    assert case.record.as_of is not None, (
        "a demonstration case names its day, so that its answer stays the same"
    )
    return assessor(rules).assess(case, day(case.record.as_of))


def test_every_case_has_its_expected_standings() -> None:
    assert set(EXPECTED) == set(CASES)
    assert all(set(EXPECTED[name]) == set(SETS) for name in READ)


@pytest.mark.parametrize("rules", SETS)
@each_row("name", READ)
def test_standing_is_as_expected(name: str, rules: str) -> None:
    assert assessment(name, rules).standing == EXPECTED[name][rules]


@pytest.mark.parametrize("name", [name for name in EXPECTED if name not in READ])
def test_a_case_that_is_wrong_on_purpose_is_refused_with_its_code(name: str) -> None:
    with pytest.raises(CaseError) as refusal:
        load_case(CASES[name])
    assert EXPECTED[name]["refused"] in str(refusal.value)


def test_each_standing_occurs() -> None:
    assert {standing for name in READ for standing in EXPECTED[name].values()} == set(STANDINGS)
    baseline = [EXPECTED[name]["practice_baseline"] for name in READ]
    assert set(baseline) == set(STANDINGS)


@pytest.mark.parametrize("rules", SETS)
def test_some_case_is_a_candidate_under_every_rule_set(rules: str) -> None:
    assert "candidate" in {EXPECTED[name][rules] for name in READ}


# --- every criterion is exercised


@pytest.mark.parametrize("rules", SETS)
def test_every_criterion_of_a_rule_set_is_settled_by_some_case(rules: str) -> None:
    settled = {r.id for name in READ for r in assessment(name, rules).results if r.outcome != "undetermined"}
    assert {item.id for item in shipped().rule_set(rules).criteria} - settled == set()


@cache
def outcomes() -> dict[str, set[str]]:
    """Outcomes of every criterion over its own cases and all demonstration cases."""
    found: dict[str, set[str]] = defaultdict(set)
    library = shipped()
    for identifier, path in library.criterion_files().items():
        for case in load_cases(cases_path(path))[0]:
            found[identifier].add(run_case(library, library.criterion(identifier), case).outcome)
    for name in READ:
        for rules in SETS:
            for result in assessment(name, rules).results:
                found[result.id].add(result.outcome)
    return found


def asks_only_whether_something_is_recorded(criterion: Criterion) -> bool:
    """Such a criterion is always settled: every leaf asks for presence, nothing ages and nothing else decides."""
    leaves = [node for node in walk(as_declared(criterion).when) if not children(node)]
    presence = all(asks_presence(leaf) for leaf in leaves)
    return presence and criterion.applies_when is None and criterion.recency is None


# Those of the weeks after an injection stand in no rule set; the cases beside them come to every outcome (tests/course).
ASSESSED = [
    name for name in shipped().criterion_files() if shipped().criterion(name).group != "after_injection"
]


def test_every_criterion_stands_in_a_rule_set_or_is_read_after_an_injection() -> None:
    used = {item.id for name in shipped().rule_set_names() for item in load_rule_set(name).criteria}
    assert used == set(ASSESSED)


@each_row("identifier", ASSESSED)
def test_every_criterion_passes_fails_and_stays_open_somewhere(identifier: str) -> None:
    wanted = {"pass", "fail", "undetermined"}
    if asks_only_whether_something_is_recorded(shipped().criterion(identifier)):
        wanted.remove("undetermined")
        assert "undetermined" not in outcomes()[identifier]
    assert outcomes()[identifier] == wanted


def test_only_criteria_of_report_completeness_are_excepted() -> None:
    excepted = {
        name for name in shipped().criterion_files()
        if asks_only_whether_something_is_recorded(shipped().criterion(name))
    }  # fmt: skip
    assert excepted
    assert all(shipped().criterion(name).group == "report" for name in excepted)


# --- what the cases say about themselves


@pytest.mark.parametrize("name", list(CASES))
def test_every_case_says_that_it_is_invented(name: str) -> None:
    text = CASES[name].read_text(encoding="utf-8")
    assert text.startswith("# Demonstration data: invented, describes no real person.\n")
    assert re.search(r"^invented: true$", text, re.MULTILINE)
    assert re.search(r"^# Invented\.", text, re.MULTILINE)
    assert f"id: {name}\n" in text


def test_the_overview_lists_every_case_once() -> None:
    text = (demo_cases_folder() / "README.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^\| `([a-z0-9-]+)` \|", text, re.MULTILINE)) == sorted(CASES)
    assert "All cases are invented" in text
