"""Loading rule sets: what cannot be meant is refused, everything at once, each with its place."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from candidacy.assessment.assess import Assessor
from candidacy.foundation.errors import Code, RuleError
from candidacy.rules.criterion import Criterion
from candidacy.rules.libraries import load_rule_set, shipped
from candidacy.rules.library import Library
from tests.rules.builder import CHANGE, CITE, SMALL, Builder, Edit

Set = Callable[..., Edit]


@pytest.fixture
def build(tmp_path: Path) -> Builder:
    return Builder(tmp_path)


def put(path: str, value: Any) -> Edit:
    """An edit that puts a value at a dotted path."""

    def edit(data: dict[str, Any]) -> None:
        *steps, last = path.split(".")
        for step in steps:
            data = data.setdefault(step, {})
        data[last] = value

    return edit


REASON = "Another practice, for a test."


def extending(identifier: str) -> Edit:
    """An edit by which a rule set extends another."""
    return lambda data: data.update(extends=identifier, reason=REASON)


def drop(key: str) -> Edit:
    return lambda data: data.pop(key)


# --- one criterion that cannot be used: edit, code, field, part of found or expected


def aged_and_denied(data: dict[str, Any]) -> None:
    """Give a test criterion of force stop an age of facts, and deny what it asks."""
    data["when"] = {"not": data["when"]}
    data["parameters"] = {"oldest": {"value": 30, "unit": "day", "meaning": "Oldest answer", "cites": [CITE]}}
    data["recency"] = {"max_age": {"parameter": "oldest"}, "elements": ["cauda_equina_signs"]}


BAD_CRITERIA: list[tuple[str, str, Edit, Code, str]] = [
    ("a misspelt key", "number_less_than", put("wehn", {}), Code.UNKNOWN_KEY, "closest is when"),
    ("a missing key", "number_less_than", drop("why"), Code.MISSING_KEY, ""),
    ("an unknown force", "number_less_than", put("force", "strong"), Code.WRONG_TYPE, "absolute"),
    ("two heads in one condition", "number_less_than", put("when.any", [{"element": "age", "op": "known"}]), Code.WRONG_TYPE, "exactly one"),
    ("an empty join", "number_less_than", put("when", {"all": []}), Code.WRONG_TYPE, "at least 1"),
    ("an operator without its value", "number_less_than", put("when", {"element": "age", "op": "at_least"}), Code.WRONG_TYPE, "needs value"),
    ("a value where none belongs", "number_less_than", put("when", {"element": "age", "op": "known", "value": 3}), Code.WRONG_TYPE, "takes no value"),
    ("between without both ends", "number_less_than", put("when", {"element": "age", "op": "between", "low": 3}), Code.WRONG_TYPE, "low and high"),
    ("an operator that is none", "number_less_than", put("when.op", ">="), Code.WRONG_TYPE, "at_least"),
    ("an emergency that does not say what to do", "yes_or_no", put("act", ""), Code.WRONG_TYPE, "must say in act"),
    ("an element that is none", "number_less_than", put("when.element", "body_mass_indx"), Code.UNKNOWN_ELEMENT, "body_mass_index"),
    ("an element of a disc read of the patient", "number_less_than", put("when", {"element": "pfirrmann_grade", "op": "known"}), Code.BAD_RULE, "disc"),
    ("an element of a list read of the patient", "number_less_than", put("when", {"element": "medicine_name", "op": "known"}), Code.BAD_RULE, "medicine"),
    ("an operator that does not fit", "yes_or_no", put("when.op", "at_least"), Code.BAD_RULE, "is, known"),
    ("a comparison of codes that have no order", "number_less_than", put("when", {"element": "sex", "op": "at_least", "value": "female"}), Code.BAD_RULE, "one_of"),
    ("a code the element has not", "negated", put("when.not.value", "sometimes"), Code.UNREACHABLE, "sometimes"),
    ("text for a number", "number_less_than", put("parameters.limit.value", "35"), Code.UNREACHABLE, "not a number"),
    ("a limit that no value can reach", "number_less_than", put("parameters.limit.value", 3500), Code.UNREACHABLE, "3500"),
    ("a list for a single value", "number_less_than", put("parameters.limit.value", [30, 35]), Code.BAD_RULE, "[30, 35]"),
    ("an empty list of codes", "list_of_codes", put("parameters.agents.value", []), Code.BAD_RULE, "empty"),
    ("another unit than the element's", "number_less_than", put("parameters.limit.unit", "kg"), Code.UNIT_CONFUSED, "kg/m2"),
    ("no unit", "number_less_than", lambda data: data["parameters"]["limit"].pop("unit"), Code.UNIT_CONFUSED, "none"),
    ("a parameter that is not declared", "number_less_than", put("when.value", {"parameter": "limt"}), Code.UNKNOWN_PARAMETER, "limit"),
    ("limits in the wrong order", "number_between", put("parameters.youngest.value", 80), Code.UNREACHABLE, "80 is above 75"),
    ("grades in the wrong order", "disc_grade_between", put("parameters.least.value", "V"), Code.UNREACHABLE, "above"),
    ("a count of half a disc", "count_of_suitable_discs", put("parameters.fewest.value", 0.5), Code.BAD_RULE, "0.5"),
    ("counts in the wrong order", "count_of_suitable_discs", put("parameters.fewest.value", 3), Code.UNREACHABLE, "3 is above 2"),
    ("more conditions needed than there are", "at_least_so_many", put("parameters.needed.value", 4), Code.UNREACHABLE, "1 to 3"),
    ("time since something that is no date", "months_elapsed", put("when.elapsed.since", "age"), Code.UNKNOWN_ELEMENT, "age"),
    ("time in another unit than its limit", "months_elapsed", put("parameters.wait.unit", "day"), Code.UNIT_CONFUSED, "month"),
    ("an age in no unit of the calendar", "number_at_most", put("parameters.laboratory_max_age.unit", "mm"), Code.UNIT_CONFUSED, "week"),
    ("an age of half a month", "disc_grade_between", put("parameters.imaging_max_age.value", 1.5), Code.UNIT_CONFUSED, "1.5"),
    ("an age of something that is not read", "number_at_most", put("recency.elements", ["inr"]), Code.BAD_RULE, "inr"),
    ("an emergency whose sign is denied and has an age", "yes_or_no", aged_and_denied, Code.BAD_RULE, "speak for the emergency"),
    ("dated by something that is no date", "disc_grade_between", put("recency.dated_by", "age"), Code.UNKNOWN_ELEMENT, "age"),
    ("a disc criterion that reads its own standing", "disc_sign_of_infection", put("when", {"element": "disc_standing", "op": "is", "value": "urgent"}), Code.CYCLE, "standing"),
]  # fmt: skip


@pytest.mark.parametrize(("base", "edit", "code", "words"), [row[1:] for row in BAD_CRITERIA], ids=[row[0] for row in BAD_CRITERIA])  # fmt: skip
def test_a_criterion_that_cannot_be_read_on_a_case_is_refused(
    build: Builder, base: str, edit: Edit, code: Code, words: str
) -> None:
    path = build.criterion(base, edit)
    build.rule_set(criteria=(base,))
    problems = build.problems()
    assert {p.code for p in problems} == {code}
    first = problems[0]
    assert first.file == str(path)
    assert first.line >= 1
    assert words in " ".join((first.message, first.found, first.expected))


def test_every_problem_of_every_criterion_is_told_at_once(build: Builder) -> None:
    build.criterion("number_less_than", put("when.element", "nothing"))
    build.criterion("number_between", put("parameters.youngest.unit", "month"))
    build.criterion("yes_or_no", put("forse", "stop"))
    build.rule_set(criteria=("number_less_than", "number_between", "yes_or_no", "no_such_criterion"))
    assert {p.code for p in build.problems()} == {
        Code.UNKNOWN_ELEMENT,
        Code.UNIT_CONFUSED,
        Code.UNKNOWN_KEY,
        Code.UNKNOWN_CRITERION,
    }


def test_a_file_whose_id_is_another_is_refused(build: Builder) -> None:
    build.criterion("number_less_than", name="number_less_than")
    (build.folder / "criteria" / "who" / "number_less_than.yaml").rename(
        build.folder / "criteria" / "who" / "other.yaml"
    )
    build.rule_set(criteria=("other",))
    (problem,) = build.problems()
    assert (problem.code, problem.found, problem.expected) == (Code.BAD_RULE, "number_less_than", "other")


# --- rule sets


def change(value: Any, unit: str | None = "kg/m2") -> dict[str, Any]:
    return {"value": value, **({"unit": unit} if unit else {}), **CHANGE}


def selecting(parameters: dict[str, Any], **more: Any) -> Edit:
    return put("criteria", [{"id": "number_less_than", "parameters": parameters, **more}])


BAD_SETS: list[tuple[str, Edit, Code, str]] = [
    ("nothing selected", put("criteria", []), Code.BAD_RULE, "selects no criterion"),
    ("an unknown criterion", put("criteria", [{"id": "number_les_than"}]), Code.UNKNOWN_CRITERION, "closest is number_less_than"),
    ("the same criterion twice", put("criteria", [{"id": "number_less_than"}] * 2), Code.DUPLICATE_KEY, "selected twice"),
    ("an unknown parameter", selecting({"limt": change(30)}), Code.UNKNOWN_PARAMETER, "limit"),
    ("another unit", selecting({"limit": change(30, "kg")}), Code.UNIT_CONFUSED, "kg/m2"),
    ("no unit", selecting({"limit": change(30, None)}), Code.UNIT_CONFUSED, "kg/m2"),
    ("another kind of value", selecting({"limit": change("30")}), Code.WRONG_TYPE, "like 35"),
    ("outside the bounds of the parameter", selecting({"limit": change(90)}), Code.IMPOSSIBLE_VALUE, "25 to 60"),
    ("no reason", selecting({"limit": {"value": 30, "unit": "kg/m2", "cites": [CITE]}}), Code.MISSING_KEY, ""),
    ("no source", selecting({"limit": {"value": 30, "unit": "kg/m2", "reason": "x", "cites": []}}), Code.WRONG_TYPE, "at least 1"),
    ("an unknown setting", put("settings", {"no_such_setting": change(1, None)}), Code.UNKNOWN_PARAMETER, "no_such_setting"),
    ("a choice the setting has not", put("settings", {"leg_to_back_scale": change("feet", None)}), Code.BAD_CHOICE, "average_nrs"),
    ("extending what is not there", extending("practice_bseline"), Code.UNKNOWN_RULE_SET, "practice_baseline"),
    ("leaving out what was never there", put("leaves_out", [{"id": "yes_or_no", "reason": "x"}]), Code.CONTRADICTORY_RULES, "does not have"),
    ("a version that is none", put("version", "1.0"), Code.WRONG_TYPE, "pattern"),
    ("an order of decisions that is not there", put("decisions", "no_such_order"), Code.BAD_RULE, "no_such_order"),
    ("a misspelt key", put("extneds", "practice_baseline"), Code.UNKNOWN_KEY, "closest is extends"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("edit", "code", "words"), [row[1:] for row in BAD_SETS], ids=[row[0] for row in BAD_SETS]
)
def test_a_rule_set_that_cannot_be_meant_is_refused(
    build: Builder, edit: Edit, code: Code, words: str
) -> None:
    build.criterion(edit=put("parameters.limit.allowed", {"low": 25, "high": 60}))
    build.rule_set(edit=edit)
    problems = build.problems()
    assert {p.code for p in problems} == {code}
    text = " ".join(" ".join((p.message, p.found, p.expected)) for p in problems)
    assert words in text


def test_extending_in_a_circle_is_refused_and_the_circle_is_shown(build: Builder) -> None:
    build.criterion()
    build.rule_set("first_set", extending("second_set"))
    build.rule_set("second_set", extending("third_set"))
    build.rule_set("third_set", extending("first_set"))
    (problem,) = build.problems("first_set")
    assert problem.code is Code.CYCLE
    assert problem.found == "first_set -> second_set -> third_set -> first_set"
    build.rule_set("alone_set", extending("alone_set"))
    assert [p.code for p in build.problems("alone_set")] == [Code.CYCLE]


def test_an_extension_that_contradicts_itself_is_refused(build: Builder) -> None:
    build.criterion()
    build.criterion("yes_or_no")
    build.rule_set("base_set", criteria=("number_less_than", "yes_or_no"))

    def both(data: dict[str, Any]) -> None:
        extending("base_set")(data)
        data["leaves_out"] = [{"id": "yes_or_no", "reason": "Not wanted."}]
        data["criteria"] = [{"id": "yes_or_no"}]

    build.rule_set("upper_set", both)
    (problem,) = build.problems("upper_set")
    assert (problem.code, problem.field) == (Code.CONTRADICTORY_RULES, "criteria.0.id")


def test_an_extension_takes_over_leaves_out_and_changes(build: Builder) -> None:
    build.criterion()
    build.criterion("yes_or_no")
    build.criterion("number_between")
    build.rule_set("base_set", selecting({"limit": change(33)}), criteria=("number_less_than",))
    build.rule_set(
        "middle_set",
        lambda d: d.update(
            extends="base_set", reason=REASON, criteria=[{"id": "yes_or_no"}, {"id": "number_between"}]
        ),
    )
    build.rule_set(
        "upper_set",
        lambda d: d.update(
            extends="middle_set",
            reason=REASON,
            leaves_out=[{"id": "number_between", "reason": "Not wanted."}],
            criteria=[{"id": "number_less_than", "force": {"value": "advisory", **CHANGE}}],
        ),
    )
    found = build.library().rule_set("upper_set")
    assert [item.id for item in found.criteria] == ["number_less_than", "yes_or_no"]
    first = found.criterion("number_less_than")
    assert (first.force, first.criterion.force) == ("advisory", "relative")
    limit = first.parameters["limit"]
    assert (limit.value, limit.declared.value, limit.departs) == (33, 35, True)
    with pytest.raises(KeyError):
        found.criterion("number_between")


def test_a_departure_that_does_not_fit_the_catalogue_is_refused_where_it_stands(build: Builder) -> None:
    build.criterion("disc_grade_between")
    path = build.rule_set(
        edit=put("criteria", [{"id": "disc_grade_between", "parameters": {"most": change("VI", None)}}])
    )
    (problem,) = build.problems()
    assert (problem.code, problem.file, problem.found) == (Code.UNREACHABLE, str(path), '"VI"')
    build.rule_set(
        edit=put("criteria", [{"id": "disc_grade_between", "parameters": {"most": change("II", None)}}])
    )
    assert [p.message for p in build.problems()] == ["the lower limit is above the upper one"]


# --- orders of decision rules

BAD_ORDERS: list[tuple[str, Edit, Code]] = [
    ("no rule for the rest", lambda data: data["rules"].pop(), Code.UNDECIDED),
    ("two rules of one id", lambda data: data["rules"].insert(0, data["rules"][0]), Code.DUPLICATE_KEY),
    ("no rule at all", put("rules", []), Code.WRONG_TYPE),
    ("half a pattern", lambda data: data["rules"][0].update(when=[{"force": "absolute"}]), Code.WRONG_TYPE),
    ("two patterns in one", lambda data: data["rules"][0].update(when=[{"force": "absolute", "outcome": "fail", "any_disc": "urgent"}]), Code.WRONG_TYPE),
    ("a standing that is none", lambda data: data["rules"][0].update(standing="maybe"), Code.WRONG_TYPE),
]  # fmt: skip


@pytest.mark.parametrize(
    ("edit", "code"), [row[1:] for row in BAD_ORDERS], ids=[row[0] for row in BAD_ORDERS]
)
def test_decision_rules_that_would_not_decide_every_case_once_are_refused(
    build: Builder, edit: Edit, code: Code
) -> None:
    build.criterion()
    path = build.order(edit)
    build.rule_set(edit=put("decisions", "lenient_order"))
    problems = build.problems()
    assert {p.code for p in problems} == {code}
    assert {p.file for p in problems} == {str(path)}


# --- finding a rule set


def test_an_unknown_rule_set_names_those_there_are_and_the_nearest() -> None:
    with pytest.raises(RuleError) as caught:
        load_rule_set("practice_base_line")
    (problem,) = caught.value.problems
    assert problem.code is Code.UNKNOWN_RULE_SET
    assert "closest is practice_baseline" in problem.expected


@pytest.mark.parametrize("name", ["../no/such/folder", "/no/such/file.yaml", "sets/nothing.yaml"])
def test_a_path_that_is_not_there_is_told_plainly(name: str) -> None:
    with pytest.raises(RuleError) as caught:
        load_rule_set(name)
    assert caught.value.problems[0].code is Code.UNREADABLE


def test_a_rule_set_of_ones_own_is_loaded_by_path_and_takes_from_the_library_what_it_does_not_bring(
    tmp_path: Path,
) -> None:
    base = shipped().rule_set("practice_baseline")
    name = base.criteria[0].id
    data = yaml.safe_load((SMALL / "sets" / "every_operator" / "ruleset.yaml").read_text(encoding="utf-8"))
    data |= {"id": "my_practice", "criteria": [{"id": name}]}
    file = tmp_path / "ruleset.yaml"
    file.write_text(yaml.safe_dump(data), encoding="utf-8")
    for path in (str(file), str(tmp_path)):
        found = load_rule_set(path)
        assert (found.id, [item.id for item in found.criteria]) == ("my_practice", [name])
        assert found.decisions.id == "standing_order"


def test_a_whole_library_folder_may_stand_anywhere(tmp_path: Path) -> None:
    copy = tmp_path / "rules"
    shutil.copytree(SMALL, copy)
    there = Library(copy, base=shipped()).rule_set("every_operator")
    here = Library(SMALL, base=shipped()).rule_set("every_operator")
    assert there.digest == here.digest


def test_every_shipped_rule_set_loads_and_can_be_made_ready() -> None:
    names = list(shipped().rule_set_files())
    assert "practice_baseline" in names
    for name in names:
        assert Assessor(shipped().rule_set(name), "direct").rule_set.id == name


# --- digest and local trial


def test_the_digest_covers_all_that_can_change_an_answer_or_what_is_said_about_it(build: Builder) -> None:
    def digest(
        criterion: Edit = lambda data: None, rule_set: Edit = lambda data: None, source: str = "x"
    ) -> str:
        build.write("sources.yaml", {"sources": {"test_rules": {"title": source}}})
        build.criterion(edit=criterion)
        build.rule_set("lower_set", rule_set)
        build.rule_set(edit=lambda data: data.update(extends="lower_set", reason=REASON, criteria=[]))
        return build.library().rule_set("a_rule_set").digest

    plain = digest()
    assert digest() == plain
    other = change(30)
    changes = [
        digest(put("parameters.limit.value", 34)),
        digest(put("why", "Another reason.")),
        digest(put("force", "absolute")),
        digest(put("cautions", ["Take care."])),
        digest(rule_set=selecting({"limit": other})),
        digest(rule_set=selecting({"limit": {**other, "reason": "Another reason of the lower set."}})),
        digest(source="Another title of the source"),
    ]
    assert len({plain, *changes}) == 8


def test_a_local_trial_changes_parameters_says_so_and_leaves_the_rule_set_alone(build: Builder) -> None:
    build.criterion(edit=put("parameters.limit.allowed", {"low": 25, "high": 60}))
    build.rule_set()
    base = build.library().rule_set("a_rule_set")
    trial = base.with_trial({("number_less_than", "limit"): 30})
    parameter = trial.criterion("number_less_than").parameters["limit"]
    assert (parameter.value, parameter.unit, parameter.departs) == (30, "kg/m2", True)
    assert parameter.cites[0].tag == "local"
    assert trial.trial == ("number_less_than.limit = 30",)
    assert trial.digest != base.digest
    assert base.criterion("number_less_than").parameters["limit"].value == 35
    assert base.trial == ()


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        (("number_less_than", "limt"), 30, Code.UNKNOWN_PARAMETER),
        (("no_such", "limit"), 30, Code.UNKNOWN_PARAMETER),
        (("number_less_than", "limit"), "30", Code.WRONG_TYPE),
        (("number_less_than", "limit"), True, Code.WRONG_TYPE),
        (("number_less_than", "limit"), 61, Code.IMPOSSIBLE_VALUE),
        (("disc_grade_between", "most"), "VI", Code.UNREACHABLE),
        (("disc_grade_between", "most"), "I", Code.UNREACHABLE),
    ],
)
def test_a_local_trial_of_something_impossible_is_refused(
    build: Builder, key: tuple[str, str], value: Any, code: Code
) -> None:
    build.criterion(edit=put("parameters.limit.allowed", {"low": 25, "high": 60}))
    build.criterion("disc_grade_between")
    build.rule_set(criteria=("number_less_than", "disc_grade_between"))
    with pytest.raises(RuleError) as caught:
        build.library().rule_set("a_rule_set").with_trial({key: value})
    assert {p.code for p in caught.value.problems} == {code}


def test_every_criterion_file_of_the_test_library_is_read_as_it_is_written() -> None:
    library = Library(SMALL, base=shipped())
    for identifier, path in library.criterion_files().items():
        written = yaml.safe_load(path.read_text(encoding="utf-8"))
        dumped = library.criterion(identifier).model_dump(mode="json", by_alias=True, exclude_unset=True)
        assert dumped == written
        assert Criterion.model_validate(written) == library.criterion(identifier)
