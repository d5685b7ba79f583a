"""The calls at the top: every form of a case, a rule set and a day, and every refusal."""

import json
from datetime import date, datetime
from pathlib import Path

import pytest
import yaml

import candidacy
from candidacy import Answer, CaseError, Code, InputError, ReportError, RuleError
from tests.rules.own import write

DAY = "2026-12-02"
DEMOS = candidacy.demo_cases()
ONE = DEMOS["heavy-patient-for-conference"]


def problem(error: InputError) -> candidacy.Problem:
    assert len(error.problems) == 1, error
    return error.problems[0]


def test_every_form_of_a_case_gives_the_same_answer():
    case = candidacy.load_case(ONE)
    forms = [
        ONE,
        str(ONE),
        case,
        case.record,
        yaml.safe_load(ONE.read_text("utf-8")),
        json.loads(json.dumps(case.record.plain())),
    ]
    answers = {candidacy.assess(form, as_of=DAY).to_json() for form in forms}
    assert len(answers) == 1
    assert json.loads(answers.pop())["standing"] == "borderline"


def test_a_date_that_another_reader_of_yaml_made_of_a_date_is_that_date():
    data = yaml.safe_load("{schema_version: '1', id: x, patient: {lumbar_mri_date: 2026-09-14}}")
    assert isinstance(data["patient"]["lumbar_mri_date"], date)
    text = candidacy.parse_case("{schema_version: '1', id: x, patient: {lumbar_mri_date: 2026-09-14}}")
    assert candidacy.load_case(data).digest == text.digest


def test_every_form_of_a_rule_set_gives_the_same_answer(monkeypatch: pytest.MonkeyPatch):
    rules = candidacy.load_rule_set("wide_screen")
    by_id = {candidacy.assess(ONE, form, as_of=DAY).to_json() for form in ("wide_screen", rules)}
    paths = (rules.path, Path(rules.path), Path(rules.path).parent, str(Path(rules.path).parent))
    by_path = [candidacy.assess(ONE, form, as_of=DAY) for form in paths]
    assert len(by_id) == len({answer.to_json() for answer in by_path}) == 1
    assert [c.outcome for c in by_path[0].criteria] == [
        c["outcome"] for c in json.loads(by_id.pop())["criteria"]
    ]
    monkeypatch.chdir(Path(rules.path).parent.parent)
    assert candidacy.load_rule_set(Path("wide_screen")).digest == by_path[0].rule_set.digest
    assert candidacy.load_rule_set().id == candidacy.assess(ONE).rule_set.id == "practice_baseline"


def test_the_day_is_that_asked_for_else_of_the_record_else_today():
    assert (
        candidacy.assess(ONE, as_of=date(2026, 12, 2)).as_of
        == candidacy.assess(ONE, as_of=DAY).as_of
        == date(2026, 12, 2)
    )
    case = candidacy.parse_case("{schema_version: '1', id: x, as_of: 2025-01-31}")
    assert candidacy.assess(case).as_of == date(2025, 1, 31)
    assert candidacy.assess(case, as_of=DAY).as_of == date(2026, 12, 2)
    before = date.today()
    found = candidacy.assess(candidacy.parse_case("{schema_version: '1', id: x}")).as_of
    assert before <= found <= date.today()


@pytest.mark.parametrize(
    ("as_of", "code"),
    [("2026-02-30", Code.BAD_DATE), ("2026-12", Code.BAD_DATE), ("today", Code.BAD_DATE), ("", Code.BAD_DATE), ("2200-01-01", Code.BAD_DATE), (date.max, Code.BAD_DATE),
     (datetime(2026, 12, 2, 9), Code.WRONG_TYPE), (20261202, Code.WRONG_TYPE)],
)  # fmt: skip
def test_a_day_that_is_none_is_refused(as_of: object, code: Code):
    for call in (
        lambda: candidacy.assess(ONE, as_of=as_of),  # type: ignore[arg-type]
        lambda: candidacy.compare(ONE, ["practice_baseline", "wide_screen"], as_of=as_of),  # type: ignore[arg-type]
        lambda: candidacy.screen("cases.csv", as_of=as_of),  # type: ignore[arg-type]
    ):
        with pytest.raises(InputError) as error:
            call()
        assert (problem(error.value).code, problem(error.value).field) == (code, "as_of")


@pytest.mark.parametrize("case", [4, None, b"case.yaml", ["case.yaml"], ONE.read_text("utf-8")])
def test_what_is_no_case_is_refused_with_the_way_out(case: object):
    with pytest.raises(CaseError) as error:
        candidacy.assess(case, as_of=DAY)  # type: ignore[arg-type]
    found = problem(error.value)
    assert "CaseRecord" in found.expected or "parse_case" in found.next_step


def test_a_path_that_is_missing_is_refused_with_its_name(tmp_path: Path):
    for call, kind in (
        (lambda path: candidacy.load_case(path), CaseError),
        (lambda path: candidacy.load_rule_set(path), RuleError),
        (lambda path: candidacy.check_rules(path), RuleError),
        (lambda path: candidacy.read_report(path), ReportError),
        (lambda path: candidacy.read_report(str(path)), ReportError),
    ):
        missing = tmp_path / "nowhere.txt"
        with pytest.raises(kind) as error:
            call(missing)
        assert (problem(error.value).code, problem(error.value).file) == (Code.UNREADABLE, str(missing))


def test_an_id_that_is_almost_one_is_refused_with_the_nearest():
    for call in (candidacy.load_rule_set, lambda rules: candidacy.assess(ONE, rules), candidacy.describe_rule_set,
                 lambda rules: candidacy.compare(ONE, [rules, "wide_screen"]), lambda rules: candidacy.screen("x.csv", rules)):  # fmt: skip
        with pytest.raises(RuleError) as error:
            call("practise_baseline")
        assert problem(error.value).code is Code.UNKNOWN_RULE_SET
        assert "closest is practice_baseline" in problem(error.value).expected
        with pytest.raises(RuleError) as error:
            call(4)
        assert problem(error.value).code is Code.WRONG_TYPE


def test_an_unknown_chainer_is_refused_and_both_answer_alike():
    with pytest.raises(InputError) as error:
        candidacy.assess(ONE, as_of=DAY, engine="quick")  # type: ignore[arg-type]
    assert (problem(error.value).code, problem(error.value).field) == (Code.BAD_CHOICE, "engine")
    assert (
        candidacy.assess(ONE, as_of=DAY, engine="direct").standing
        == candidacy.assess(ONE, as_of=DAY).standing
    )


def test_everything_wrong_with_a_mapping_is_told_with_its_field():
    data = {"schema_version": "1", "id": "x", "patient": {"body_weigth": 3, "body_weight": {"value": 900, "unit": "kg"}},
            "discs": {"L9": {}}}  # fmt: skip
    with pytest.raises(CaseError) as error:
        candidacy.load_case(data)
    assert {(p.code, p.field) for p in error.value.problems} == {
        (Code.UNKNOWN_ELEMENT, "patient.body_weigth"), (Code.IMPOSSIBLE_VALUE, "patient.body_weight"), (Code.BAD_LEVEL, "discs.L9"),
    }  # fmt: skip


class Pretender(int):
    """A number that is no plain one."""


CIRCLE: dict[str, object] = {}
CIRCLE["discs"] = CIRCLE


@pytest.mark.parametrize(
    ("data", "code", "field"),
    [({"patinet": {}}, Code.UNKNOWN_KEY, "patinet"), ({3: 4}, Code.WRONG_TYPE, ""), (CIRCLE, Code.TOO_DEEP, "discs." * 40 + "discs"),
     ({"patient": {"age": float("nan")}}, Code.BAD_SCALAR, "patient.age"), ({"patient": {"age": 10**15}}, Code.BAD_SCALAR, "patient.age"),
     ({"patient": {"age": Pretender(3)}}, Code.WRONG_TYPE, "patient.age"), ({"note": "a\x00b"}, Code.NOT_TEXT, "note"),
     ({"note": "\ud800"}, Code.NOT_TEXT, "note"), ({"as_of": datetime(2026, 1, 1)}, Code.WRONG_TYPE, "as_of"), ({"note": {1, 2}}, Code.WRONG_TYPE, "note")],
)  # fmt: skip
def test_what_no_file_could_hold_is_refused(data: dict[str, object], code: Code, field: str):
    with pytest.raises(CaseError) as error:
        candidacy.load_case({"schema_version": "1", "id": "x"} | data)
    assert (code, field) in {(p.code, p.field) for p in error.value.problems}


def test_a_comparison_is_of_two_rule_sets_or_more_each_once():
    side = candidacy.compare(ONE, ["practice_baseline", "trial_style_strict", "wide_screen"], as_of=DAY)
    assert [answer.rule_set.id for answer in side] == [
        "practice_baseline",
        "trial_style_strict",
        "wide_screen",
    ]
    assert [answer.standing for answer in side] == [candidacy.assess(ONE, each, as_of=DAY).standing for each in (
        "practice_baseline", "trial_style_strict", "wide_screen")]  # fmt: skip
    assert len(json.loads(side.to_json())["assessments"]) == len(side) == 3
    for rules in (
        "practice_baseline",
        ["practice_baseline"],
        [],
        ["wide_screen", candidacy.load_rule_set("wide_screen")],
    ):
        with pytest.raises(InputError) as error:
            candidacy.compare(ONE, rules, as_of=DAY)
        assert (problem(error.value).code, problem(error.value).field) == (Code.USAGE, "rules")


def test_a_report_is_text_or_a_file(tmp_path: Path):
    text = "L4-5: mild disc bulge.\nL5-S1: normal."
    file = tmp_path / "report.txt"
    file.write_text(text, encoding="utf-8")
    assert candidacy.read_report(text) == candidacy.read_report(file) == candidacy.read_report(str(file))
    assert candidacy.read_report("L4-5: mild disc bulge.").discs_named == ("L4-L5",)
    for nothing in ("", " \n "):
        with pytest.raises(ReportError) as error:
            candidacy.read_report(nothing)
        assert problem(error.value).code is Code.EMPTY
    with pytest.raises(ReportError) as error:
        candidacy.read_report(b"L4-5")  # type: ignore[arg-type]
    assert problem(error.value).code is Code.WRONG_TYPE


def test_rules_of_ones_own_are_checked(tmp_path: Path):
    shipped = Path(candidacy.load_rule_set("wide_screen").path)
    text = shipped.read_text("utf-8").replace("id: wide_screen\n", "id: our_screen\n", 1)
    own = tmp_path / "own" / "ruleset.yaml"
    own.parent.mkdir()
    own.write_text(text, encoding="utf-8")
    assert candidacy.check_rules(own) == candidacy.check_rules(own.parent) == ()
    own.write_text(text.replace("status: draft", "status: in_use"), encoding="utf-8")
    assert {p.code for p in candidacy.check_rules(own)} == {Code.STATUS_TOO_HIGH}
    (tmp_path / "empty").mkdir()
    with pytest.raises(RuleError) as error:
        candidacy.check_rules(tmp_path / "empty")
    assert problem(error.value).code is Code.EMPTY


def test_shipped_rule_sets_and_demo_cases_are_listed():
    assert (
        candidacy.rule_sets()["practice_baseline"] == candidacy.load_rule_set("practice_baseline").file.title
    )
    assert all(path.is_file() and path.stem == name for name, path in DEMOS.items())
    assert len(DEMOS) > 20


def test_an_answer_can_be_made_of_any_assessment():
    answer = candidacy.assess(ONE, as_of=DAY)
    assert Answer(answer.assessment).to_json() == answer.to_json()
    with pytest.raises(InputError) as error:
        answer.criterion("degeneration_grade_window")
    assert "L4-L5" in problem(error.value).expected
    with pytest.raises(InputError) as error:
        answer.criterion("body_mass_index_limits")
    assert problem(error.value).expected == "closest is body_mass_index_limit"


def test_a_case_with_facts_of_a_library_that_was_closed_is_refused_and_no_fault(tmp_path):
    with candidacy.use_library(write(tmp_path / "mine")):
        case = candidacy.load_case(ONE).with_fact("needle_path_depth", 20, unit="cm")
        assert candidacy.assess(case, "our_practice", as_of=DAY).standing
    with pytest.raises(CaseError) as refused:
        candidacy.assess(case, as_of=DAY)
    told = problem(refused.value)
    assert (told.code, told.found) == (Code.UNKNOWN_ELEMENT, "needle_path_depth")
    assert "--library" in told.next_step
