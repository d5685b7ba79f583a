"""The JSON Schemas of files: they explain every field, accept what loads, and refuse what the shape refuses."""

import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from functools import cache
from importlib import resources
from pathlib import Path
from random import Random
from typing import Any

import pytest
from pydantic import BaseModel, ValidationError

from candidacy.case.element import ElementFile
from candidacy.case.load import load_case, parse_case
from candidacy.cohort.inputs.mapping import Mapping, load_mapping
from candidacy.commands.schema import KINDS, schema_text
from candidacy.course.load import load_course
from candidacy.foundation.errors import CandidacyError
from candidacy.foundation.files import parse, read_tree
from candidacy.foundation.shape import validate
from candidacy.letters.template import LetterTemplate
from candidacy.plan.entries import EntriesFile
from candidacy.plan.plan_file import ExtendedPlanFile, PlanFile
from candidacy.plan.working_days import CalendarFile
from candidacy.rules.criterion_cases import CaseFile, load_cases
from candidacy.rules.json_schema import FILES
from candidacy.rules.rule_set_file import ExtendedRuleSetFile, RuleSetFile
from tests.quick_schema import Schema, is_schema
from tests.rows import each_row

ROOT = Path(__file__).resolve().parents[2]
RULES = ROOT / "rulesets"
ELEMENTS = Path(str(resources.files("candidacy.case") / "elements"))
# every kind of file that a person writes
WRITTEN = tuple(kind for kind in KINDS if kind != "proofs" and not kind.startswith("assessment"))
SHIPPED = {
    "criterion": [p for p in RULES.glob("criteria/*/*.yaml") if not p.name.endswith(".cases.yaml")],
    "criterion_cases": list(RULES.glob("criteria/*/*.cases.yaml")),
    "ruleset": list(RULES.glob("sets/*/ruleset.yaml")),
    "element": list(ELEMENTS.glob("*.yaml")),
    "relation": list(RULES.glob("relations/*.yaml")),
    "table": list(RULES.glob("tables/*.yaml")),
    "sources": [RULES / "sources.yaml"],
    "settings": [RULES / "settings.yaml"],
    "decisions": list(RULES.glob("decisions/*.yaml")),
    # one demonstration record is refused on purpose: its reader mixed two scales
    "case": [p for p in (ROOT / "demo_cases").glob("*.yaml") if p.stem != "mixed-scales"],
    "letter": list(RULES.glob("letters/*.yaml")),
    "plan": list(RULES.glob("plan/*.yaml")),
    "plan_entries": [ROOT / "demo_cases" / "plan" / "entries.yaml"],
    "plan_calendar": [ROOT / "demo_cases" / "plan" / "calendar.yaml"],
    "course": list((ROOT / "demo_cases" / "courses").glob("*.yaml")),
    "mapping": list((ROOT / "demo_cases" / "tables").glob("mapping*.yaml")),
}


@cache
def schema(kind: str) -> dict[str, Any]:
    return json.loads(schema_text(kind))


@cache
def validator(kind: str) -> Schema:
    return Schema(schema(kind))


@cache
def plain(path: Path) -> Any:
    """What a shipped file holds; whoever changes it copies it first."""
    return read_tree(path).plain()


def at(root: dict[str, Any], reference: str) -> dict[str, Any]:
    part: Any = root
    for step in reference.removeprefix("#/").split("/"):
        part = part[step]
    return part


def properties(part: Any, place: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property of a schema that a person may write, with its place; not the conditions between keys."""
    if isinstance(part, list):
        for number, inner in enumerate(part):
            yield from properties(inner, f"{place}[{number}]")
    elif isinstance(part, dict):
        # a mapping without a closed list of keys only says how keys depend on each other
        for name, inner in part.get("properties", {}).items() if "additionalProperties" in part else ():
            yield f"{place}.{name}", inner
        for key, inner in part.items():
            if key == "properties":
                for name, each in inner.items():
                    yield from properties(each, f"{place}.{name}")
            elif key == "$defs":
                for name, each in inner.items():
                    yield from properties(each, name)
            elif key not in ("enum", "const", "default", "if", "then", "else"):
                yield from properties(inner, place)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_one_of_the_dialect_it_names_and_has_an_identifier(kind: str) -> None:
    found = schema(kind)
    assert is_schema(found)
    assert found["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert found["$id"] == f"urn:candidacy:schema:{kind}:1"


@pytest.mark.parametrize("kind", WRITTEN)
def test_every_property_is_explained(kind: str) -> None:
    root = schema(kind)
    every = list(properties(root))
    assert len(every) > 1
    silent = [
        place
        for place, part in every
        if len(part.get("description") or at(root, part.get("$ref", "#/$defs")).get("description", "")) < 4
    ]
    assert silent == []


def test_an_element_is_explained_by_meaning_unit_and_range() -> None:
    said = schema("case")["$defs"]["patient"]["properties"]["body_weight"]["description"]
    for part in ("weight", "In kg", "lb", "Possible: ", "To be checked at the source outside "):
        assert part in said


def test_what_may_be_named_is_offered_with_its_meaning() -> None:
    offered = schema("criterion")["$defs"]["known_element"]
    place = offered["enum"].index("body_weight")
    assert "weight" in offered["enumDescriptions"][place].lower()
    assert {"$ref": "#/$defs/known_element"} in schema("criterion")["$defs"]["Condition"]["properties"]["element"]["anyOf"][0]["anyOf"]  # fmt: skip
    assert "practice_baseline" in schema("ruleset")["$defs"]["known_rule_set"]["enum"]
    assert "body_mass_index_limit" in schema("ruleset")["$defs"]["known_criterion"]["enum"]


@pytest.mark.parametrize("kind", WRITTEN)
def test_every_shipped_file_is_accepted(kind: str) -> None:
    assert SHIPPED[kind]
    for path in SHIPPED[kind]:
        assert validator(kind).refusals(plain(path)) == [], path.name


def load(kind: str, path: Path) -> object:
    """Load a file as the program does, by its shape."""
    if kind == "case":
        return load_case(path)
    if kind == "letter":
        return validate(LetterTemplate, read_tree(path), str(path), lambda _: [])
    if kind == "course":
        return load_course(path)
    if kind.startswith("plan"):
        own = read_tree(path).plain().get("extends")
        model = {
            "plan": ExtendedPlanFile if own else PlanFile,
            "plan_entries": EntriesFile,
            "plan_calendar": CalendarFile,
        }[kind]
        return validate(model, read_tree(path), str(path), lambda _: [])
    if kind == "criterion_cases":
        return load_cases(path)
    if kind == "mapping":
        return load_mapping(path)
    if kind == "ruleset" and read_tree(path).plain().get("extends"):
        return validate(ExtendedRuleSetFile, read_tree(path), str(path), lambda _: [])
    return validate(FILES[kind][0], read_tree(path), str(path), lambda _: [])


def file(kind: str, name: str) -> Any:
    return plain(next(p for p in SHIPPED[kind] if p.name == name or p.parent.name == name))


Edit = Callable[[Any], object]


def put(path: str, value: object) -> Edit:
    def edit(tree: Any) -> None:
        *steps, last = [int(s) if s.isdigit() else s for s in path.split("/")]
        for step in steps:
            tree = tree[step]
        tree[last] = value

    return edit


def drop(path: str) -> Edit:
    def edit(tree: Any) -> None:
        *steps, last = path.split("/")
        for step in steps:
            tree = tree[int(step) if step.isdigit() else step]
        del tree[last]

    return edit


CITE = {"source": "local_trial", "supports": "use", "tag": "local"}
TEST = {"element": "body_weight", "op": "at_least", "value": 3}
BMI, CAUDA = "body_mass_index_limit.yaml", "cauda_equina_signs_present.yaml"
BAD: list[tuple[str, str, Edit]] = [
    ("criterion", BMI, put("titel", "a typing error")),
    ("criterion", BMI, drop("why")),
    ("criterion", BMI, put("id", "With Spaces")),
    ("criterion", BMI, put("version", "1.0")),
    ("criterion", BMI, put("checked_on", "last week")),
    ("criterion", BMI, put("force", "severe")),
    ("criterion", BMI, put("group", "other")),
    ("criterion", BMI, put("title", 7)),
    ("criterion", BMI, put("supports", "yes")),
    ("criterion", BMI, put("cites", [])),
    ("criterion", BMI, put("cites", [{**CITE, "tag": "certain"}])),
    ("criterion", BMI, put("cites", [{**CITE, "supports": "all"}])),
    ("criterion", BMI, put("changes", [])),
    ("criterion", BMI, put("force", "stop")),
    ("criterion", BMI, put("when", {})),
    ("criterion", BMI, put("when", {**TEST, "all": [TEST]})),
    ("criterion", BMI, put("when", {"element": "body_weight"})),
    ("criterion", BMI, put("when", {"op": "known"})),
    ("criterion", BMI, put("when", {"all": []})),
    ("criterion", BMI, put("when", {"all": [TEST], "value": 3})),
    ("criterion", BMI, put("when", {"not": {"all": [{"any": [{**TEST, "op": "above"}]}]}})),
    ("criterion", BMI, put("when", {**TEST, "op": "between"})),
    ("criterion", BMI, put("when", {"element": "body_weight", "op": "between", "low": 1})),
    ("criterion", BMI, put("when", {**TEST, "op": "known"})),
    ("criterion", BMI, put("when", {**TEST, "low": 1})),
    ("criterion", BMI, put("when", {"element": "body_weight", "op": "at_least"})),
    ("criterion", BMI, put("when", {"count_discs": {"that": TEST, "op": "between", "value": 1}})),
    ("criterion", BMI, put("when", {"count_discs": {"op": "at_least", "value": 1}})),
    ("criterion", BMI, put("when", {"count_entries": {"of": "visits", "that": TEST, "op": "is", "value": 1}})),
    ("criterion", BMI, put("when", {"elapsed": {"since": "birth_date", "unit": "decade", "op": "at_least", "value": 1}})),
    ("criterion", BMI, put("when", {"elapsed": {"since": "birth_date", "unit": "day", "op": "at_least"}})),
    ("criterion", BMI, put("when", {"at_least_of": {"count": 1, "conditions": []}})),
    ("criterion", BMI, put("mendable", {"how": "act"})),
    ("criterion", BMI, put("mendable", {"how": "act", "act": "", "who": "patient"})),
    ("criterion", BMI, put("mendable", {"how": "no", "act": "something"})),
    ("criterion", BMI, put("mendable", {"how": "time", "act": "it", "who": "patient", "earliest": {"today": True}})),
    ("criterion", BMI, put("mendable", {"how": "act", "act": "it", "who": "patient", "earliest": {}})),
    ("criterion", BMI, put("mendable", {"how": "act", "act": "it", "who": "patient",
                                        "earliest": {"today": True, "elapsed": True}})),
    ("criterion", BMI, put("mendable", {"how": "act", "act": "it", "who": "nobody"})),
    ("criterion", BMI, put("found", {"pass": "", "fail": "heavy"})),
    ("criterion", BMI, put("recency", {"max_age": 12, "elements": ["body_weight"]})),
    ("criterion", BMI, put("recency", {"max_age": {"parameter": "age"}, "elements": []})),
    ("criterion", CAUDA, put("act", "")),
    ("criterion", CAUDA, drop("act")),
    ("ruleset", "practice_baseline", put("status", "approved")),
    ("ruleset", "practice_baseline", put("criteria/0/weight", 2)),
    ("ruleset", "practice_baseline", drop("decisions")),
    ("ruleset", "practice_baseline", put("criteria/0/force", {"value": "absolute", "cites": [CITE]})),
    ("ruleset", "practice_baseline", put("settings", {"x": {"value": 1, "reason": "r", "cites": []}})),
    ("ruleset", "practice_baseline", put("companions", [{"id": "abc", "when": "always", "says": "x", "stops_on": ["borderline"]}])),
    ("ruleset", "practice_baseline", put("companions", [{"id": "abc", "when": "near_procedure", "says": "x"}])),
    ("ruleset", "practice_baseline", put("companions", [{"id": "abc", "when": "near_procedure", "says": "x",
        "within": {"value": 2, "unit": "week", "meaning": "m", "cites": [CITE]}}])),
    ("ruleset", "practice_baseline", put("companions", [{"id": "abc", "when": "near_procedure", "says": "x",
        "within": {"value": -1, "unit": "day", "meaning": "m", "cites": [CITE]}}])),
    ("decisions", "standing_order.yaml", put("rules", [])),
    ("decisions", "standing_order.yaml", put("names", {"maybe": "Perhaps"})),
    ("decisions", "standing_order.yaml", put("rules/0/when", [{"force": "stop"}])),
    ("decisions", "standing_order.yaml", put("rules/0/when", [{"force": "stop", "outcome": "fail", "any_disc": "urgent"}])),
    ("decisions", "standing_order.yaml", put("rules/0/when", [{"force": "stop", "outcome": "conflict"}])),
    ("decisions", "standing_order.yaml", put("rules/0/when", [{"force": "record", "outcome": "fail"}])),
    ("decisions", "standing_order.yaml", put("rules/0/other_disc", {"helps": "no disc named", "does_not_help": "{discs}"})),
    ("relation", "pregnancy.yaml", put("relations/0/implied/0/limits", {"low": 1})),
    ("relation", "pregnancy.yaml", drop("relations/0/implied/0/value")),
    ("relation", "pregnancy.yaml", put("relations/0/implied", [])),
    ("relation", "pregnancy.yaml", drop("relations/0/because")),
    ("table", "ideal_weight.yaml", put("rows", [])),
    ("table", "ideal_weight.yaml", put("rows/0/cites", [])),
    ("table", "ideal_weight.yaml", put("columns", ["a"])),
    ("sources", "sources.yaml", put("sources/some_key", {"title": "t", "year": 20202})),
    ("sources", "sources.yaml", put("sources/some_key", {"authors": "without a title"})),
    ("settings", "settings.yaml", put("settings/some_setting", {"value": 1, "meaning": "m", "cites": []})),
    ("element", "10_person.yaml", put("elements/0/kind", "amount")),
    ("element", "10_person.yaml", put("elements/0/name", "Body Weight")),
    ("element", "10_person.yaml", put("elements/0/colour", "red")),
    ("case", "pregnant.yaml", put("patient/body_wieght", {"value": 70, "unit": "kg"})),
    ("case", "pregnant.yaml", put("patient/body_weight", {"value": 70})),
    ("case", "pregnant.yaml", put("patient/body_weight", {"value": "70", "unit": "kg"})),
    ("case", "pregnant.yaml", put("patient/pregnancy_status", "perhaps")),
    ("case", "pregnant.yaml", put("schema_version", 1)),
    ("case", "pregnant.yaml", put("documents", {"letter": {"kind": "postcard"}})),
    ("criterion_cases", "body_mass_index_limit.cases.yaml", put("0/expect", "met")),
    ("criterion_cases", "body_mass_index_limit.cases.yaml", put("0/given", {"no_such_element_at_all": 1})),
    ("criterion_cases", "body_mass_index_limit.cases.yaml", drop("0/name")),
    ("criterion_cases", "body_mass_index_limit.cases.yaml", put("0/disc_standings", {"L4-L5": "fine"})),
    ("mapping", "mapping.yaml", put("version", "2")),
    ("mapping", "mapping.yaml", drop("confirmed")),
    ("mapping", "mapping.yaml", put("patients/colums", {})),
    ("mapping", "mapping.yaml", put("lists", {"visits": {}})),
]  # fmt: skip

# An element without what its kind needs, or with what it cannot have.
BAD_ELEMENTS: list[dict[str, Any]] = [
    {"kind": "number", "unit": "kg"},
    {"kind": "number", "unit": "stone", "possible": {"low": 0, "high": 9}},
    {"kind": "boolean", "unit": "kg"},
    {"kind": "choice"},
    {"kind": "choice", "choices": {}},
    {"kind": "boolean", "choices": {"a": "A"}},
    {"kind": "boolean", "ordered": True},
    {"kind": "choice", "choices": {"a": "A"}, "covers": ["pregnancy_status"]},
    {"kind": "boolean", "statable": False},
    {"kind": "boolean", "statable": False, "derived": True, "inputs": [["body_weight"]]},
    {"kind": "boolean", "agrees_within": -1},
    {"kind": "boolean", "danger": [{"op": "is", "value": True, "why": "w", "source": "s", "tag": "sure"}]},
]


@each_row(("kind", "name", "edit"), BAD, ids=[f"{k}-{n}" for n, (k, _, _) in enumerate(BAD)])
def test_what_the_shape_refuses_the_schema_refuses(kind: str, name: str, edit: Edit, tmp_path: Path) -> None:
    tree = deepcopy(file(kind, name))
    assert validator(kind).refusals(tree) == []
    edit(tree)
    path = tmp_path / "file.json"
    path.write_text(json.dumps(tree), encoding="utf-8")
    assert not validator(kind).accepts(tree)
    if kind == "criterion_cases" and "given" in tree[0] and "no_such_element_at_all" in tree[0]["given"]:
        return  # its shape holds any fact; that the element is unknown is found when the case is run
    with pytest.raises(CandidacyError):
        load(kind, path)


@pytest.mark.parametrize("keys", BAD_ELEMENTS, ids=str)
def test_an_element_that_cannot_be_is_refused_by_both(keys: dict[str, Any]) -> None:
    good = {"name": "new_element", "scope": "patient", "kind": "boolean", "meaning": "A fact."}
    assert validator("element").refusals({"group": "own_facts", "title": "t", "elements": [good]}) == []
    tree = {"group": "own_facts", "title": "t", "elements": [good | keys]}
    assert not validator("element").accepts(tree)
    with pytest.raises(CandidacyError):
        validate(ElementFile, parse(json.dumps(tree)), "elements", lambda _: [])


EXTENDING: dict[str, Any] = {
    "id": "my_practice", "version": "0.1.0", "extends": "practice_baseline", "reason": "Our scanner.",
    "changes": [{"version": "0.1.0", "date": "2026-11-28", "change": "First."}],
}  # fmt: skip


@pytest.mark.parametrize("more", [{}, {"title": None, "cautions": None}, {"title": "Ours", "companions": []}])
def test_a_rule_set_that_extends_another_says_only_what_differs(more: dict[str, Any]) -> None:
    tree = EXTENDING | more
    assert validator("ruleset").refusals(tree) == []
    validate(ExtendedRuleSetFile, parse(json.dumps(tree)), "file", lambda _: [])


@pytest.mark.parametrize("gone", list(EXTENDING))
def test_what_an_extending_rule_set_must_say_is_asked_for(gone: str) -> None:
    tree = {key: part for key, part in EXTENDING.items() if key != gone}
    assert not validator("ruleset").accepts(tree)
    for model in (ExtendedRuleSetFile, RuleSetFile):
        with pytest.raises(CandidacyError):
            validate(model, parse(json.dumps(tree)), "file", lambda _: [])


@pytest.mark.parametrize("name", ["title", "cautions", "decisions", "review_by"])
def test_a_whole_rule_set_leaves_nothing_open(name: str) -> None:
    tree = deepcopy(file("ruleset", "practice_baseline"))
    assert "extends" not in tree
    tree[name] = None
    assert not validator("ruleset").accepts(tree)
    with pytest.raises(CandidacyError):
        validate(RuleSetFile, parse(json.dumps(tree)), "file", lambda _: [])


def test_both_forms_of_a_rule_set_have_the_same_keys() -> None:
    assert set(ExtendedRuleSetFile.model_fields) == set(RuleSetFile.model_fields)


def test_a_short_and_a_long_fact_are_accepted_where_the_loader_accepts_them() -> None:
    text = json.dumps({
        "schema_version": "1", "id": "x", "medicines": None, "treatments": {"complete": None},
        "patient": {
            "pregnancy_status": {"unknown": "not_asked"}, "birth_date": "1984-05", "back_pain_nrs_average": 7,
            "body_weight": {"between": [70, 72], "unit": "kg", "words": "about 71 kg", "by": "referrer"},
        },
        "discs": {"l4/5": {"modified_pfirrmann_grade": {"one_of": [4, 5]}}},
    })  # fmt: skip
    parse_case(text)
    assert validator("case").refusals(json.loads(text)) == []


# What is put at any place of a file; "gone" takes the place away, "more" adds a key that nobody knows.
ODD: tuple[Any, ...] = (
    None, 7, -1, 0.5, "text", "", [], {}, True, False, ["a"], {"a": 1}, [{}], "gone", "more", "gone", "more",
)  # fmt: skip
TRIALS = 120


def loads(kind: str, tree: Any) -> bool:
    """Whether the shape of a kind of file accepts a tree."""
    model: type[BaseModel] = {"criterion_cases": CaseFile, "mapping": Mapping, "letter": LetterTemplate}.get(
        kind
    ) or FILES[kind][0]
    if kind == "criterion_cases" and isinstance(tree, list):
        tree = {"cases": tree}
    if kind == "ruleset" and tree.get("extends") is not None:
        model = ExtendedRuleSetFile
    try:
        model.model_validate(tree)
    except ValidationError:
        return False
    return True


def odd(tree: Any, chance: Random) -> tuple[str, Any]:
    """A copy of a tree with something odd at one place, and where; a long list, or many entries by name, is cut to a few."""
    part = tree = deepcopy(tree)
    steps: list[str | int] = []
    while isinstance(part, dict | list) and part and (not steps or chance.random() < 0.75):
        if isinstance(part, list):
            del part[3:]
        steps.append(chance.choice(list(part) if isinstance(part, dict) else range(len(part))))
        # entries by name: no shipped file states so many keys of a shape
        if isinstance(part, dict) and len(part) > 25:
            for name in list(part)[3:]:
                if name != steps[-1]:
                    del part[name]
        parent, part = part, part[steps[-1]]
    value = chance.choice(ODD)
    if value == "gone":
        del parent[steps[-1]]
    elif value == "more" and isinstance(part, dict):
        part["no_such_key"] = 1
    else:
        parent[steps[-1]] = value
    return f"{'.'.join(map(str, steps))} = {value!r}", tree


@pytest.mark.parametrize("kind", [*FILES, "mapping", "criterion_cases", "letter"])
def test_loader_and_schema_agree_whatever_is_put_wherever(kind: str) -> None:
    chance = Random(kind)
    answers = []
    for _ in range(TRIALS):
        path = chance.choice(sorted(SHIPPED[kind]))
        place, tree = odd(plain(path), chance)
        loaded, valid = loads(kind, tree), validator(kind).accepts(tree)
        answers.append(loaded)
        if kind == "criterion_cases" and loaded and not valid:
            continue  # the shape of a case holds any fact; the schema knows the elements, as running the case does
        if kind == "table" and valid and not loaded and (".values" in place or "columns" in place):
            continue  # a schema cannot say that each row has the columns of its own table
        assert loaded == valid, (path.name, place)
    assert {True, False} == set(answers)
