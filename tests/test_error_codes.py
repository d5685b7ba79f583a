"""Every error code has an example that triggers it; a code nothing triggers would be a promise never kept."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from candidacy.case.load import load_case, parse_case
from candidacy.check import check_library
from candidacy.errors import CandidacyError, Code, InputError, Problem, shorten, shown
from candidacy.rules.library import load_rule_set
from tests.check.test_check import CASES
from tests.rules.builder import Builder
from tests.rules.test_library import put

HEAD = 'schema_version: "1"\nid: example\n'
Trigger = Callable[[Path], object]


def file_with(content: bytes) -> Trigger:
    def trigger(folder: Path) -> object:
        path = folder / "case.yaml"
        path.write_bytes(content)
        return load_case(path)

    return trigger


def case(body: str) -> Trigger:
    return lambda folder: parse_case(HEAD + body + "\n")


def rules(write: Callable[[Builder], object]) -> Trigger:
    """Write rules and check them; the check reports what loading refuses, too."""

    def trigger(folder: Path) -> object:
        build = Builder(folder)
        build.write("criteria/who/number_less_than.cases.yaml", CASES)
        write(build)
        if not (folder / "criteria" / "who" / "number_less_than.yaml").exists():
            build.criterion()
        if not (folder / "sets").exists():
            build.rule_set()
        problems = check_library(build.library())
        if problems:
            raise InputError(problems)
        return None

    return trigger


def criterion(path: str, value: Any) -> Trigger:
    return rules(lambda build: build.criterion(edit=put(path, value)))


def rule_set(path: str, value: Any) -> Trigger:
    return rules(lambda build: build.rule_set(edit=put(path, value)))


def _circle(build: Builder) -> None:
    build.rule_set("one_set", put("extends", "other_set"))
    build.rule_set("other_set", put("extends", "one_set"))


def _undecided(build: Builder) -> None:
    build.order(lambda data: data["rules"].pop())
    build.rule_set(edit=put("decisions", "lenient_order"))


TRIGGERS: dict[Code, Trigger] = {
    Code.UNREADABLE: lambda folder: load_case(folder / "missing.yaml"),
    Code.TOO_LARGE: file_with(b"x" * 5_000_000),
    Code.NOT_TEXT: file_with(b"\xff\xfe\x00"),
    Code.SYNTAX: case("a: [1"),
    Code.DUPLICATE_KEY: case("id: again"),
    Code.ALIAS: case("note: &a x"),
    Code.TOO_DEEP: case("note: " + "[" * 60),
    Code.BAD_SCALAR: case("note: .nan"),
    Code.EMPTY: file_with(b""),
    Code.UNKNOWN_KEY: case("pateint: {}"),
    Code.MISSING_KEY: lambda folder: parse_case("id: example\n"),
    Code.WRONG_TYPE: case('patient: {age: {value: "30", unit: year}}'),
    Code.UNKNOWN_ELEMENT: case("patient: {agee: 30}"),
    Code.IMPOSSIBLE_VALUE: case("patient: {age: {value: 300, unit: year}}"),
    Code.BAD_UNIT: case("patient: {age: {value: 30, unit: kg}}"),
    Code.BAD_DATE: case("patient: {birth_date: 2026-02-30}"),
    Code.BAD_CHOICE: case("patient: {sex: m}"),
    Code.BAD_LEVEL: case("discs: {L6: {}}"),
    Code.WRONG_SCALE: case("discs: {L4-L5: {pfirrmann_grade: 4}}"),
    Code.CONTRADICTION: case("patient: {sex: {value: male, unknown: not_asked}}"),
    Code.UNKNOWN_DOCUMENT: case("patient: {sex: {value: male, source: letter}}"),
    Code.BAD_VERSION: criterion("version", "0.2.0"),
    Code.BAD_RULE: criterion("when.op", "is"),
    Code.UNKNOWN_RULE_SET: lambda folder: load_rule_set("no_such_rule_set"),
    Code.UNKNOWN_CRITERION: rule_set("criteria", [{"id": "no_such_criterion"}]),
    Code.UNKNOWN_PARAMETER: criterion("when.value", {"parameter": "other"}),
    Code.UNUSED_PARAMETER: criterion("when", {"element": "worse_sitting", "op": "is", "value": True}),
    Code.UNCITED: criterion("when.value", 35),
    Code.UNKNOWN_SOURCE: criterion("cites", [{"source": "nowhere", "supports": "use", "tag": "seen"}]),
    Code.NO_CASES: rules(lambda build: build.criterion("yes_or_no")),
    Code.CASE_DIFFERS: rules(lambda build: build.write("criteria/who/number_less_than.cases.yaml", [{"name": "x", "expect": "pass"}])),
    Code.CYCLE: rules(_circle),
    Code.UNIT_CONFUSED: criterion("parameters.limit.unit", "kg"),
    Code.STATUS_TOO_HIGH: criterion("status", "reviewed"),
    Code.UNDECIDED: rules(_undecided),
    Code.CONTRADICTORY_RULES: rule_set("leaves_out", [{"id": "yes_or_no", "reason": "x"}]),
    Code.UNREACHABLE: criterion("parameters.limit.value", 3500),
}  # fmt: skip

# Raised by other parts, whose tests trigger them, or by the command line itself.
ELSEWHERE = {
    Code.BAD_REPORT: "tests/reading",
    Code.BAD_TABLE: "tests/cohort",
    Code.BAD_MAPPING: "tests/cohort",
    Code.USAGE: "tests/cohort",
    Code.INTERNAL: "tests/commands",
}


def test_every_code_has_a_trigger_here_or_in_the_tests_of_its_part() -> None:
    assert set(TRIGGERS) | set(ELSEWHERE) == set(Code)
    assert not set(TRIGGERS) & set(ELSEWHERE)
    assert len({code.value for code in Code}) == len(Code)


@pytest.mark.parametrize("code", TRIGGERS, ids=lambda code: f"{code.value} {code.name}")
def test_the_example_of_a_code_triggers_it(code: Code, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        TRIGGERS[code](tmp_path)
    assert code in {problem.code for problem in caught.value.problems}
    assert isinstance(caught.value, CandidacyError)
    assert code.value in str(caught.value)


def test_the_unedited_rules_of_the_triggers_are_sound(tmp_path: Path) -> None:
    assert rules(lambda build: None)(tmp_path) is None
    shutil.rmtree(tmp_path)


def test_a_problem_prints_only_what_it_has() -> None:
    assert str(Problem(Code.EMPTY, "nothing")) == "input: E109 nothing"
    whole = Problem(Code.EMPTY, "nothing", "a.yaml", 3, 7, "b.c", "x", "y", "z")
    assert str(whole).splitlines() == [
        "a.yaml:3:7: E109 nothing",
        "  field     b.c",
        "  found     x",
        "  expected  y",
        "  next      z",
    ]
    assert str(InputError([whole, Problem(Code.EMPTY, "nothing")])).count("E109") == 2


def test_foreign_values_are_quoted_short_on_one_line_and_without_control_characters() -> None:
    assert shorten("x" * 100) == "x" * 59 + "…"
    assert shorten("a\x1b[31mb\nc\u202ed") == "a�[31mb�c�d"
    assert shown("30") == '"30"'
    assert shown(30) == "30"
    assert (shown(True), shown(None), shown([1, "a"]), shown({"a": False})) == (
        "true",
        "nothing",
        '[1, "a"]',
        "{a: false}",
    )


def test_every_code_is_explained_for_developers() -> None:
    text = (Path(__file__).resolve().parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert [code.value for code in Code if code.value not in text] == []
