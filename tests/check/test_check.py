"""The check of rules: everything wrong with criteria, their cases and rule sets is reported at once."""

import shutil
from pathlib import Path
from typing import Any

import pytest

from candidacy.check import check_library, check_rule_set
from candidacy.foundation.errors import Code, Problem
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from tests.quick_yaml import read_yaml
from tests.rules.builder import CITE, SMALL, Builder, Edit
from tests.rules.test_library import drop, put

# Cases that cover the criterion number_less_than (body mass index below 35).
CASES: list[dict[str, Any]] = [
    {"name": "below", "given": {"body_mass_index": {"value": 34.9, "unit": "kg/m2"}}, "expect": "pass"},
    {"name": "on it", "given": {"body_mass_index": {"value": 35, "unit": "kg/m2"}}, "expect": "fail"},
    {"name": "unknown", "expect": "undetermined"},
]


@pytest.fixture
def build(tmp_path: Path) -> Builder:
    return Builder(tmp_path)


def codes(problems: list[Problem]) -> list[Code]:
    return [problem.code for problem in problems]


def with_cases(
    build: Builder, cases: list[dict[str, Any]] | str | None, edit: Edit = lambda data: None
) -> list[Problem]:
    """Check a library of one criterion with these cases beside it."""
    build.criterion(edit=edit)
    if cases is not None:
        build.write("criteria/who/number_less_than.cases.yaml", cases)
    build.rule_set()
    return check_library(build.library())


def test_a_sound_library_has_nothing_to_report(build: Builder) -> None:
    assert with_cases(build, CASES) == []


# --- what only the check asks for, beyond what loading refuses


def optional_in_all(data: dict[str, Any]) -> None:
    """What is not recorded would fail the inclusion: its guarded condition is then not met."""
    known = {"element": "body_mass_index", "op": "known"}
    data["applies_when"] = {"any": [known, {"element": "age", "op": "known"}]}
    data["when"] = {"all": [dict(known), data["when"]]}


UNSOUND: list[tuple[str, Edit, Code, str]] = [
    ("a criterion that does not say what was found", drop("found"), Code.MISSING_KEY, "found: {pass"),
    ("the same found on both sides", put("found", {"pass": "Mass", "fail": "Mass"}), Code.BAD_RULE, "Mass"),
    ("a deciding criterion that does not say what mends it", drop("mendable"), Code.MISSING_KEY, "mendable: {how"),
    ("a deciding finding that only supports", put("supports", True), Code.BAD_RULE, "force: advisory"),
    ("mended with discs it does not count", put("mendable", {"how": "discs"}), Code.BAD_RULE, "count_discs"),
    ("a day by elapsed time that is not tested", put("mendable", {"how": "time", "act": "x", "who": "patient", "earliest": {"elapsed": True}}), Code.BAD_RULE, "elapsed"),
    ("a growing number that is no length of time", put("mendable", {"how": "time", "act": "x", "who": "patient", "earliest": {"grows": ["body_mass_index"]}}), Code.BAD_RULE, "length of time"),
    ("a day read from what is no date", put("mendable", {"how": "act", "act": "x", "who": "patient", "earliest": {"day_of": "age"}}), Code.UNKNOWN_ELEMENT, "age"),
    ("a wait that cites nothing known", put("mendable", {"how": "time", "act": "x", "who": "patient", "earliest": {"wait": {"amount": 1, "unit": "day", "cites": [{"source": "nowhere", "supports": "value", "tag": "seen"}]}}}), Code.UNKNOWN_SOURCE, "nowhere"),
    ("a time longer than dates of a record lie apart", put("when", {"elapsed": {"since": "birth_date", "unit": "day", "op": "at_least", "value": 99999999}}), Code.UNREACHABLE, "between two dates"),
    ("a number with no source", put("when.value", 35), Code.UNCITED, "parameter"),
    ("a parameter that is never used", put("parameters.other", {"value": 1, "meaning": "x", "cites": [{"source": "test_rules", "supports": "value", "tag": "seen"}]}), Code.UNUSED_PARAMETER, "other"),
    ("a parameter whose value no source supports", put("parameters.limit.cites", [{"source": "test_rules", "supports": "direction", "tag": "seen"}]), Code.UNCITED, "supports: value"),
    ("a doubtful recollection as default", put("parameters.limit.cites", [{"source": "test_rules", "supports": "value", "tag": "memory, low"}]), Code.UNCITED, "alternative"),
    ("a use no source supports", put("cites", [{"source": "test_rules", "supports": "value", "tag": "seen"}]), Code.UNCITED, "supports: use"),
    ("an unknown source", put("cites", [{"source": "nowhere", "supports": "use", "tag": "seen"}]), Code.UNKNOWN_SOURCE, "nowhere"),
    ("a default outside its own bounds", put("parameters.limit.allowed", {"low": 40, "high": 60}), Code.UNREACHABLE, "35"),
    ("source checked without having seen the sources", put("status", "source_checked"), Code.STATUS_TOO_HIGH, "draft"),
    ("a last change of another version", put("version", "0.2.0"), Code.BAD_VERSION, "0.2.0"),
    ("presence asked for in applies_when without a test of the value", put("applies_when", {"element": "age", "op": "known"}), Code.BAD_RULE, "presence"),
    ("absence asked for in applies_when", put("applies_when", {"not": {"element": "body_mass_index", "op": "known"}}), Code.BAD_RULE, "presence"),
    ("presence that would make an inclusion fail where nothing is recorded", optional_in_all, Code.BAD_RULE, "presence"),
    ("presence asked for where it would turn unknown into pass", put("when", {"any": [{"element": "body_mass_index", "op": "known"}, {"element": "body_mass_index", "op": "less_than", "value": {"parameter": "limit"}}]}), Code.BAD_RULE, "presence"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("edit", "code", "words"), [row[1:] for row in UNSOUND], ids=[row[0] for row in UNSOUND]
)
def test_what_is_unsound_is_reported_with_its_place(
    build: Builder, edit: Edit, code: Code, words: str
) -> None:
    problems = with_cases(build, CASES, edit)
    assert code in codes(problems)
    problem = next(p for p in problems if p.code is code)
    assert problem.file.endswith("number_less_than.yaml")
    assert problem.line >= 1
    assert words in " ".join((problem.message, problem.found, problem.expected))


def test_what_loading_refuses_is_reported_by_the_check_too_with_all_the_rest(build: Builder) -> None:
    def edit(data: dict[str, Any]) -> None:
        data["when"]["element"] = "body_mass_indx"
        data["version"] = "0.2.0"
        data["cites"][0]["source"] = "nowhere"

    assert {Code.UNKNOWN_ELEMENT, Code.BAD_VERSION, Code.UNKNOWN_SOURCE} <= set(
        codes(with_cases(build, CASES, edit))
    )


# --- cases beside a criterion


def without_case(name: str) -> list[dict[str, Any]]:
    return [case for case in CASES if case["name"] != name]


CASE_PROBLEMS: list[tuple[str, list[dict[str, Any]] | str | None, Code, str]] = [
    ("no cases at all", None, Code.NO_CASES, "no cases stand beside"),
    ("an empty list", "[]", Code.WRONG_TYPE, "at least 1"),
    ("no unknown", without_case("unknown"), Code.NO_CASES, "undetermined"),
    ("no case that fails", without_case("on it"), Code.NO_CASES, "fail"),
    ("another outcome", [*CASES, {"name": "wrong", "given": {"body_mass_index": {"value": 40, "unit": "kg/m2"}}, "expect": "pass"}], Code.CASE_DIFFERS, "wrong"),
    ("another reason", [*CASES, {"name": "reason", "expect": "undetermined", "why": "out_of_date"}], Code.CASE_DIFFERS, "not_recorded"),
    ("an impossible fact", [*CASES, {"name": "odd", "given": {"body_mass_index": {"value": 4000, "unit": "kg/m2"}}, "expect": "fail"}], Code.CASE_DIFFERS, "outside"),
    ("an unknown element", [*CASES, {"name": "odd", "given": {"bmi": {"value": 40, "unit": "kg/m2"}}, "expect": "fail"}], Code.CASE_DIFFERS, "not a data element"),
    ("an unknown parameter", [*CASES, {"name": "odd", "parameters": {"limt": 30}, "expect": "undetermined"}], Code.CASE_DIFFERS, "no such parameter"),
    ("a parameter that does not fit", [*CASES, {"name": "odd", "parameters": {"limit": 9000}, "expect": "undetermined"}], Code.CASE_DIFFERS, "outside the possible range"),
    ("an unknown setting", [*CASES, {"name": "odd", "settings": {"no_such": 1}, "expect": "undetermined"}], Code.CASE_DIFFERS, "no such setting"),
    ("a misspelt key", [*CASES, {"name": "odd", "expct": "pass"}], Code.UNKNOWN_KEY, "closest is expect"),
]  # fmt: skip


@pytest.mark.parametrize(("cases", "code", "words"), [row[1:] for row in CASE_PROBLEMS], ids=[row[0] for row in CASE_PROBLEMS])  # fmt: skip
def test_cases_that_do_not_hold_or_do_not_cover_are_reported(
    build: Builder, cases: list[dict[str, Any]] | str | None, code: Code, words: str
) -> None:
    problems = with_cases(build, cases)
    assert code in codes(problems)
    assert words in " ".join(" ".join((p.message, p.found, p.expected)) for p in problems if p.code is code)


def test_a_boundary_with_cases_on_one_side_only_is_reported(build: Builder) -> None:
    build.criterion("number_between")
    young = [{"name": "young", "given": {"age": {"value": 17, "unit": "year"}}, "expect": "fail"}]
    known = [{"name": "right", "given": {"age": {"value": 40, "unit": "year"}}, "expect": "pass"}]
    build.write(
        "criteria/who/number_between.cases.yaml",
        young + known + [{"name": "unknown", "expect": "undetermined"}],
    )
    assert check_library(build.library()) == []
    build.criterion("at_least_so_many")
    assert [p.code for p in check_library(build.library())] == [Code.NO_CASES]


# --- rule sets and shared files


def test_a_rule_set_in_use_needs_every_criterion_source_checked(build: Builder) -> None:
    build.criterion()
    build.rule_set(edit=put("status", "in_use"))
    problems = check_rule_set(build.library(), build.folder / "sets" / "a_rule_set" / "ruleset.yaml")
    assert Code.STATUS_TOO_HIGH in codes(problems)


@pytest.mark.parametrize(
    ("edit", "code"),
    [
        (put("version", "0.2.0"), Code.BAD_VERSION),
        (put("criteria", [{"id": "number_less_than", "force": {"value": "advisory", "reason": "x", "cites": [{"source": "nowhere", "supports": "use", "tag": "seen"}]}}]), Code.UNKNOWN_SOURCE),
        (put("criteria", [{"id": "number_less_than", "parameters": {"limit": {"value": 30, "unit": "kg/m2", "reason": "x", "cites": [{"source": "nowhere", "supports": "value", "tag": "seen"}]}}}]), Code.UNKNOWN_SOURCE),
        (put("settings", {"leg_to_back_scale": {"value": "vas", "reason": "x", "cites": [{"source": "nowhere", "supports": "value", "tag": "seen"}]}}), Code.UNKNOWN_SOURCE),
        (drop("criteria"), Code.BAD_RULE),
    ],
)  # fmt: skip
def test_a_rule_set_is_checked_with_its_departures(build: Builder, edit: Edit, code: Code) -> None:
    build.criterion()
    build.write("criteria/who/number_less_than.cases.yaml", CASES)
    build.rule_set(edit=edit)
    assert codes(check_library(build.library())) == [code]


def safe(data: dict[str, Any]) -> None:
    """The order of the test library without what lets pass in spite of failures, and with emergencies first."""
    absolute, stop, still_open, _, rest = data["rules"]
    data["rules"] = [stop, absolute, still_open, rest]


def test_decision_rules_that_can_never_decide_or_cite_nothing_known_are_reported(build: Builder) -> None:
    build.criterion()
    build.write("criteria/who/number_less_than.cases.yaml", CASES)
    build.rule_set(edit=put("decisions", "lenient_order"))

    def hide(data: dict[str, Any]) -> None:
        safe(data)
        again = dict(data["rules"][1], id="hidden", when=[{"any_disc": "urgent"}])
        data["rules"].insert(2, again)

    build.order(hide)
    assert codes(check_library(build.library())) == [Code.UNREACHABLE]

    def early(data: dict[str, Any]) -> None:
        safe(data)
        data["rules"].insert(0, dict(data["rules"][-1], id="early"))

    build.order(early)
    assert Code.UNREACHABLE in codes(check_library(build.library()))
    build.order(lambda data: (safe(data), data["rules"][0]["cites"][0].update(source="nowhere")))
    assert codes(check_library(build.library())) == [Code.UNKNOWN_SOURCE]


def test_sources_settings_and_tables_are_checked(build: Builder) -> None:
    cite = [{"source": "nowhere", "supports": "value", "tag": "seen"}]
    build.write("settings.yaml", {"settings": {"own": {"value": 1, "meaning": "x", "cites": cite}}})
    table = {
        "id": "own_table", "version": "0.1.0", "title": "x", "meaning": "x", "columns": {"a": "x"},
        "rows": [{"key": "one", "values": {"a": 1}, "cites": cite}],
        "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "x"}],
    }  # fmt: skip
    build.write("tables/own_table.yaml", table)
    found = check_library(build.library())
    assert codes(found) == [Code.UNUSED_PARAMETER, Code.UNKNOWN_SOURCE, Code.UNKNOWN_SOURCE]
    build.write("settings.yaml", {"settings": {}})
    build.write("tables/own_table.yaml", table | {"columns": {"a": "x", "b": "x"}})
    assert codes(check_library(build.library())) == [Code.WRONG_TYPE]
    build.write("sources.yaml", "sources: {a: {titel: x}}")
    assert Code.UNKNOWN_KEY in codes(check_library(build.library()))


def _flags(key: str, scales: object, says: object = "look first") -> dict[str, object]:
    return {
        "id": "report_red_flags", "version": "0.1.0", "title": "x", "meaning": "x",
        "replaces": {"version": "0.2.0", "reason": "Invented for a test."},
        "columns": {"says": "x", "scales": "x"},
        "rows": [{"key": key, "values": {"says": says, "scales": scales}, "cites": [CITE]}],
        "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "x"}],
    }  # fmt: skip


def _scales(key: str, least: object) -> dict[str, object]:
    made = _flags("fever", None)
    del made["replaces"]
    return made | {
        "id": "own_scales",
        "columns": {"severe_from": "x"},
        "rows": [{"key": key, "values": {"severe_from": least}, "cites": [CITE]}],
    }


def test_red_flags_of_a_report_name_elements_and_grades_that_there_are(build: Builder) -> None:
    def found(flags: dict[str, object], scales: dict[str, object] | None = None) -> list[Code]:
        build.write("tables/report_red_flags.yaml", flags)
        if scales is not None:
            build.write("tables/own_scales.yaml", scales)
        return codes(check_library(build.library()))

    assert found(_flags("fracture_on_imaging", None)) == []
    assert found(_flags("fractured", None)) == [Code.UNKNOWN_ELEMENT]
    assert found(_flags("fracture_on_imaging", None, None)) == [Code.MISSING_KEY, Code.WRONG_TYPE]
    assert found(_flags("canal_stenosis", "no_such_table")) == [Code.BAD_RULE]
    for scale, least, wrong in (
        ("schizas_grade", "C", []),
        ("schizas_grade", "E", [Code.BAD_RULE]),
        ("lee_central_grade", 3, []),
        ("lee_central_grade", 4, [Code.BAD_RULE]),
        ("lee_central_grade", "3", [Code.BAD_RULE]),
        ("fever", True, [Code.BAD_RULE]),
        ("no_such_scale", "C", [Code.BAD_RULE]),
    ):
        assert found(_flags("canal_stenosis", "own_scales"), _scales(scale, least)) == wrong, (scale, least)


def test_problems_come_in_the_order_of_files_and_lines(tmp_path: Path) -> None:
    shutil.copytree(SMALL, tmp_path / "rules")
    problems = check_library(Library(tmp_path / "rules", base=shipped()))
    assert len(problems) > 20  # the test library has no cases beside its criteria
    places = [(p.file, p.line, p.column) for p in problems]
    assert places == sorted(places)


def test_one_rule_set_is_checked_with_the_criteria_it_uses_and_no_others(build: Builder) -> None:
    build.criterion()
    build.write("criteria/who/number_less_than.cases.yaml", CASES)
    build.criterion("yes_or_no", put("version", "0.9.0"))
    path = build.rule_set()
    assert check_rule_set(build.library(), path) == []
    assert check_library(build.library()) != []


def test_the_shipped_library_has_nothing_to_report() -> None:
    problems = check_library(Library(shipped().folder))
    assert [str(problem) for problem in problems] == []


def test_every_case_beside_a_shipped_criterion_has_a_sentence_of_its_own() -> None:
    for path in shipped().folder.glob("criteria/*/*.cases.yaml"):
        names = [case["name"] for case in read_yaml(path.read_text(encoding="utf-8"))]
        assert len(set(names)) == len(names), path.name


def test_every_standing_of_an_order_needs_a_name_and_what_can_be_mended_too(build: Builder) -> None:
    build.criterion()
    build.write("criteria/who/number_less_than.cases.yaml", CASES)
    build.order(lambda data: (safe(data), data["names"].pop("urgent"), data.pop("not_yet")))
    build.rule_set(edit=put("decisions", "lenient_order"))
    found = check_library(build.library())
    assert {(p.code, p.found) for p in found} == {(Code.MISSING_KEY, "urgent"), (Code.MISSING_KEY, "")}


def test_a_rule_set_that_lets_a_criterion_decide_needs_to_know_what_mends_it(build: Builder) -> None:
    build.criterion(edit=lambda data: (data.update(force="advisory"), data.pop("mendable")))
    build.write("criteria/who/number_less_than.cases.yaml", CASES)
    change = {
        "value": "absolute",
        "reason": "Test.",
        "cites": [{"source": "test_rules", "supports": "use", "tag": "local"}],
    }
    build.rule_set(edit=put("criteria", [{"id": "number_less_than", "force": change}]))
    assert [(p.code, p.found) for p in check_library(build.library())] == [
        (Code.MISSING_KEY, "number_less_than")
    ]
