"""Proofs from outside: the command, its documents, the checks of a library, and what is said where the solver is missing."""

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import NamedTuple

import pytest
import yaml

from candidacy.assessment.assess import assessor_for
from candidacy.case.catalogue import catalogue
from candidacy.case.load import load_case
from candidacy.check.library import check_rule_set_file
from candidacy.check.proofs import not_run
from candidacy.cli import main
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.dates import day
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.prove import available
from candidacy.prove.judged import Judged
from candidacy.prove.prove import prove
from candidacy.prove.questions import criterion_question
from candidacy.prove.ranges import ranges
from candidacy.prove.symbols import EFFORT, NO, World
from candidacy.rules.in_use import using
from candidacy.rules.libraries import load_rule_set, open_folder, shipped
from candidacy.rules.vocabulary import STANDINGS
from tests.deep import only_deep
from tests.published.protocols.admission import keys, protocol
from tests.rules.builder import CHANGE, Builder

DAY = date(2026, 11, 28)


class Ran(NamedTuple):
    """How a command ended, and all it said."""

    exit_code: int
    output: str


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Runs ``candidacy rules prove``."""

    def ran(*arguments: str) -> Ran:
        status = 0
        try:
            main(["rules", "prove", *arguments])
        except SystemExit as stop:
            status = int(stop.code or 0)
        captured = capsys.readouterr()
        return Ran(status, captured.out + captured.err)

    return ran


def test_a_shipped_rule_set_is_proved_and_says_over_what(run: Callable[..., Ran]) -> None:
    answer = run("report_completeness", "--as-of", "2026-11-28")
    assert answer.exit_code == 0, answer.output
    assert "No fault found." in answer.output
    assert "state each fact exactly" in answer.output
    told = json.loads(run("report_completeness", "--as-of", "2026-11-28", "--format", "json").output)
    (proof,) = told["proofs"]
    assert proof["never"] == proof["dead_rules"] == proof["undecided"] == []
    assert proof["shown"] == proof["questions"] > 60


def practice(folder: Path) -> str:
    """A rule set of two criteria that a practice wrote, with all that a check asks for; and one with another limit."""
    for name, limit in (("ours_now", 85), ("ours_before", 80)):
        file = shipped().rule_set("wide_screen").file
        data = file.model_dump(mode="json", by_alias=True, exclude_none=True, exclude_unset=True)
        change = {"value": limit, "unit": "year", **CHANGE}
        data |= {"id": name, "criteria": [{"id": "age_upper_limit", "parameters": {"highest_age": change},
                                           "force": {"value": "absolute", **CHANGE}}, {"id": "age_lower_limit"}]}  # fmt: skip
        data.pop("settings", None)
        data.pop("companions", None)
        Builder(folder).write(f"sets/{name}/ruleset.yaml", data)
    return str(folder)


def test_a_difference_is_written_as_a_case_file_that_shows_it(
    run: Callable[..., Ran], tmp_path: Path
) -> None:
    library, out = practice(tmp_path / "ours"), tmp_path / "moved"
    arguments = ("ours_now", "--against", "ours_before", "--library", library, "--as-of", "2026-11-28")
    answer = run(*arguments, "--witnesses", str(out), "--format", "json")
    assert answer.exit_code == 0, answer.output
    comparison = json.loads(answer.output)["proofs"][0]["comparison"]
    assert comparison["verdict"] == "second_stricter"
    found = {(move["first"], move["second"]): move["file"] for move in comparison["moves"] if move["shown"]}
    assert found[("candidate", "not_candidate")]
    worse = list(STANDINGS)
    assert all(worse.index(second) < worse.index(first) for first, second in found)
    with using(open_folder(Path(library))) as used:
        for (first, second), file in found.items():
            case = load_case(Path(file))
            assert case.record.invented
            assert "Invented" in case.record.title
            for name, standing in (("ours_now", first), ("ours_before", second)):
                assert assessor_for(used.rule_set(name)).assess(case, DAY).standing == standing
    assert run(*arguments, "--witnesses", str(out)).exit_code != 0  # what is there is not written over


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--against", "wide_screen"], "name the rule set"),
        (["wide_screen", "--witnesses", "x"], "--against"),
        (["wide_scren"], "wide_screen"),
        (["wide_screen", "--as-of", "2026-02-30"], "E207"),
    ],
)
def test_wrong_usage_is_refused(run: Callable[..., Ran], arguments: list[str], said: str) -> None:
    answer = run(*arguments)
    assert answer.exit_code != 0
    assert said in answer.output


def test_without_the_solver_the_extra_is_named(
    run: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(available, "find_spec", lambda name: None)
    answer = run("wide_screen")
    assert answer.exit_code != 0
    assert "candidacy[prove]" in answer.output
    assert "candidacy[prove]" in not_run()


def test_a_limit_at_the_end_of_the_possible_range_is_a_fault_of_the_rule_set(tmp_path: Path) -> None:
    builder = Builder(tmp_path)
    builder.criterion("number_at_least")
    declared = yaml.safe_load((next(tmp_path.rglob("number_at_least.yaml"))).read_text())
    (name, parameter) = next(iter(declared["parameters"].items()))

    def moved(value: float) -> list[str]:
        change = {"value": value, "unit": parameter["unit"], **CHANGE}
        path = builder.rule_set(edit=lambda data: data["criteria"][0].update(parameters={name: change}),
                                criteria=("number_at_least",))  # fmt: skip
        library = builder.library()
        return [problem.code.value for problem in check_rule_set_file(library, path)]

    assert "E316" not in moved(parameter["value"] + 1)
    possible = catalogue()["body_mass_index"].possible
    assert possible is not None
    assert possible.low is not None
    assert moved(possible.low) == ["E316"]


def test_more_discs_or_entries_than_usual_are_thought_of() -> None:
    # a level beside the five usual ones makes this criterion fail; with those alone it never could
    item = protocol("amirdelfan_2021").criterion("levels_outside_range")
    assert criterion_question(protocol("amirdelfan_2021"), item, "fail", DAY).verdict == "shown"
    every = load_rule_set("tests/data/rulesets/sets/every_operator")
    item = every.criterion("count_of_entries")
    (name,) = item.parameters
    more = replace(item, parameters={name: replace(item.parameters[name], value=5)})
    assert {criterion_question(every, more, question, DAY).verdict for question in ("pass", "fail")} == {
        "shown"
    }


def test_the_solver_stops_after_so_much_work_and_then_nothing_is_told_as_proved() -> None:
    def asked(effort: int) -> list[str]:
        judged = Judged(World(DAY, effort=effort), rule_set)
        forces = [*judged.standings["case"].values(), NO]
        return [judged.world.check(said) for said in forces]

    rule_set = shipped().rule_set("wide_screen")
    little = asked(2000)
    assert "unknown" in little
    assert little == asked(2000)  # the same work, not the same time
    whole = asked(EFFORT)
    assert "unknown" not in whole
    assert all(told in ("unknown", answer) for told, answer in zip(little, whole, strict=True))


def test_a_number_may_go_as_far_as_no_outcome_changes() -> None:
    rule_set = shipped().rule_set("wide_screen")
    case = load_case(demo_cases_folder() / "anticoagulated.yaml")
    as_of = day(case.record.as_of or "")
    told = {(each.criterion, each.parameter): each for each in ranges(rule_set, case, as_of)}
    limit = told["age_lower_limit", "lowest_age"]
    assert limit.high is not None
    assert limit.changes_above == "patient pass becomes fail"
    before = assessor_for(rule_set, "direct").assess(case, as_of)
    outcomes = {}
    for value in (limit.high, limit.high + 1):
        tried = rule_set.with_trial({("age_lower_limit", "lowest_age"): int(value)})
        outcomes[value] = next(
            r.evaluation.outcome
            for r in assessor_for(tried, "direct").assess(case, as_of).results
            if r.id == "age_lower_limit"
        )
    same = next(r.evaluation.outcome for r in before.results if r.id == "age_lower_limit")
    assert outcomes == {limit.high: same, limit.high + 1: "fail"}


def test_a_case_is_read_on_the_day_that_is_asked_for_and_the_day_is_told(run: Callable[..., Ran]) -> None:
    case = demo_cases_folder() / "anticoagulated.yaml"
    own = day(load_case(case).record.as_of or "").isoformat()
    asked = run("report_completeness", "--case", str(case), "--as-of", "2029-01-01")
    assert asked.output.count("as of 2029-01-01") == 2
    assert own not in asked.output


@only_deep
@pytest.mark.parametrize("key", keys())
def test_every_published_protocol_is_proved(key: str) -> None:
    proof = prove(protocol(key), DAY)
    assert not proof.faults
    assert len(proof.undecided) <= 2
