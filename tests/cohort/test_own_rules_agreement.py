"""Random rules of one's own over random records: the single case, its two chainers and the columns say the same.

The shipped rule sets use a part of the language in a part of its combinations (`test_agreement.py`). Here are own elements of every
kind and subject, own relations and dangers, and conditions of every form and operator nested in each other, with limits that values
fall on. Few elements at a time, so that tables lack the columns that a rule would like to read.
"""

import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from candidacy import load_case
from candidacy.assessment.assess import assess
from candidacy.case.catalogue import catalogue
from candidacy.case.element import Element
from candidacy.case.load import Case, case_from_record
from candidacy.check.elements import element_misfits
from candidacy.cohort.columns.query import read
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.inputs.from_cases import frame_of_cases
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import CaseError
from candidacy.rules.criterion import Criterion
from candidacy.rules.fit import misfits
from candidacy.rules.in_use import using
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from candidacy.rules.relation_fit import circle_of, relation_misfits
from candidacy.rules.relations import Relation
from candidacy.rules.resolved import RuleSet, as_declared
from tests.cohort.agreement import Single, differences, of_assessment
from tests.deep import DEEP
from tests.rules.random_rules import CITE, RuleMaker, own_elements
from tests.strategies import AS_OF, Mix, elements_read, hints_of, random_case

ROUNDS = 200 if DEEP else 18
CRITERIA, CASES, ASSESSED = 8, 24, 3
MIXES = (Mix(), Mix(stated=0.9, unknown=0.05), Mix(stated=0.8, imprecise=0.6, on_a_limit=0.7))


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    """A library with elements of one's own, in use."""
    folder = tmp_path_factory.mktemp("own")
    (folder / "elements").mkdir()
    (folder / "elements" / "invented.yaml").write_text(json.dumps(own_elements()), encoding="utf-8")
    sources = {"sources": {"test_rules": {"title": "Invented"}}}
    (folder / "sources.yaml").write_text(json.dumps(sources), encoding="utf-8")
    with using(Library(folder, base=shipped())) as found:
        yield found


def _few(rng: Random) -> list[Element]:
    """Elements that the rules of one round may read, own and shipped ones, with a date of every subject."""
    shelf = catalogue()
    own = [element for element in shelf.all if shelf.group_of(element.name) == "invented"]
    others = [e for e in shelf.all if shelf.group_of(e.name) != "invented" and e.kind != "words"]
    dates = [e for e in others if e.kind == "date" and e.scope == "patient"]
    chosen = [*rng.sample(own, 12), *rng.sample(others, 10), *rng.sample(dates, 2)]
    chosen += [shelf[f"{scope}_day"] for scope in ("patient", "disc", "medicine", "injection")]
    return list({element.name: element for element in chosen}.values())


def _rules(rng: Random, base: RuleSet, few: list[Element]) -> RuleSet:
    maker = RuleMaker(rng, few)
    criteria = tuple(maker.criterion(f"rule_{number}") for number in range(CRITERIA))
    relations = dict(base.relations)
    own = [element for element in few if catalogue().group_of(element.name) == "invented"]
    for element in rng.sample(own, rng.choice((0, 3, 6))):
        relation = maker.relation(element, rng.randint(0, 2))
        if relation is not None and not circle_of({**relations, element.name: relation}):
            relations[element.name] = relation
    return replace(base, criteria=criteria, companions=(), relations=relations)


def _records(rng: Random, rule_set: RuleSet, few: list[Element]) -> list[Case]:
    wanted = {element.name for element in elements_read(rule_set)}
    for element in few:
        wanted |= {element.name, *element.covers}
        if element.name in rule_set.relations:
            wanted |= rule_set.relations[element.name].details
    statable = [element for element in catalogue().all if element.name in wanted and element.statable]
    hints, found = hints_of(rule_set), list[Case]()
    while len(found) < CASES:
        levels = [level for level in ("L3-L4", "L4-L5", "L5-S1", "L5-L6") if rng.random() < 0.5]
        record = random_case(rng, statable, hints=hints, mix=rng.choice(MIXES), levels=levels)
        try:
            found.append(case_from_record(record.model_copy(update={"id": f"case-{len(found)}"})))
        except CaseError:
            continue  # a mixture that the loader refuses is no case
    return found


def _in_columns(folder: Path, given: list[Case], rule_set: RuleSet) -> list[dict[str, Any]]:
    folder.mkdir()
    engine = EmbeddedEngine(folder)
    evaluation = read(frame_of_cases(engine, folder, given), rule_set, AS_OF)
    evaluation.hold()
    rows: list[dict[str, Any]] = engine.arrow(evaluation.outcome_query()).to_pylist()
    engine.close()
    return rows


def test_the_elements_of_the_rounds_are_elements_that_a_library_may_have(library: Library) -> None:
    shelf = catalogue()
    own = [element for element in shelf.all if shelf.group_of(element.name) == "invented"]
    assert [wrong for element in own for wrong in element_misfits(element, shelf, library.sources())] == []


@pytest.mark.parametrize("part", range(3))
def test_random_rules_come_to_the_same_in_every_evaluation(
    library: Library, part: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    base, outcomes = library.rule_set("practice_baseline"), Counter[str]()
    for seed in range(part, ROUNDS, 3):
        rng = Random(seed)
        few = _few(rng)
        rule_set = _rules(rng, base, few)
        given = _records(rng, rule_set, few)
        single = Single(rule_set, AS_OF)
        expected = {case.record.id: single.outcomes(case) for case in given}
        for case in given[:ASSESSED]:
            for engine in ("direct", "durable-rules"):
                assert of_assessment(assess(case, rule_set, AS_OF, engine)) == expected[case.record.id], seed
        # row by row in memory, and by combinations, as of a larger table
        for at_hand in (EmbeddedEngine.at_hand, 0):
            with monkeypatch.context() as patch:
                patch.setattr(EmbeddedEngine, "at_hand", at_hand)
                rows = _in_columns(tmp_path / f"{seed} {at_hand}", given, rule_set)
            assert differences(expected, rows) == [], seed
        for each in expected.values():
            outcomes.update(str(value) for value in each.values())
    # otherwise agreement would say little
    assert {"pass", "fail", "undetermined", "incomplete"} <= set(outcomes)
    assert len({"urgent", "not_candidate", "borderline", "candidate"} & set(outcomes)) >= 3


# --- single rules that once came to something else in one evaluation, or in a table of other columns


def _criterion(when: dict[str, Any], **more: Any) -> Any:
    data = {
        "id": "the_rule", "kind": "exclusion", "title": "Invented", "subject": "patient", "group": "documentation",
        "status": "draft", "version": "0.1.0", "checked_on": "2026-11-25", "why": "Invented.", "force": "absolute",
        "when": when, "if_unknown": "ask", "ask_for": "Nothing", "cites": [{**CITE, "supports": "use"}],
        "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "First."}],
    }  # fmt: skip
    item = as_declared(Criterion.model_validate(data | more))
    assert misfits(item) == []
    return item


def _relation(element: str, when: dict[str, Any], **says: Any) -> Relation:
    implied = [{"says": "the detail says so", "when": when, "infer": False, **says}]
    present = {"present": {"value": 30, "unit": "day", "meaning": "Invented", "cites": [CITE]}}
    parameters = present if "present_for" in says else {}
    found = Relation.model_validate(
        {"element": element, "because": "Invented.", "implied": implied, "parameters": parameters}
    )
    assert relation_misfits(found) == []
    return found


YEAR = {"year": {"value": 1, "unit": "year", "meaning": "Invented", "cites": [CITE]}}
AGED = {"parameters": YEAR, "recency": {"max_age": {"parameter": "year"}}}
HARMLESS = {"element": "patient_limp", "op": "is", "value": True}
FINE: dict[str, Any] = {"patient": {"patient_limp": False, "patient_numb": False}}
PRESENT = {"present_for": {"parameter": "present"}}


def _aged(*elements: str) -> dict[str, Any]:
    return {**AGED, "recency": {**AGED["recency"], "elements": list(elements)}}


# What is tried; the criterion; the relations; records, each beside the standing that it has for sure.
ALONE: list[tuple[str, Any, list[Any], list[tuple[dict[str, Any], str]]]] = [
    (
        "the age of what is worked out from entries of a list",
        lambda: _criterion({"element": "months_since_lumbar_surgery", "op": "less_than", "value": 6},
                           **_aged("months_since_lumbar_surgery")),
        [],
        [({"surgeries": {"complete": True, "entries": [{"surgery_date": {"value": "2026-09-01", "date": "2026-10-01"},
                                                        "surgery_kind": {"value": "discectomy", "date": "2026-10-01"}}]}},
          "not_candidate"),
         ({"surgeries": {"complete": True, "entries": [{"surgery_date": {"value": "2026-09-01"}}]}}, "incomplete")],
    ),
    (
        "a length of time told in a letter of which only the year is known",
        lambda: _criterion({"elapsed": {"since": "pain_began", "unit": "week", "op": "at_least", "value": 12}}),
        [],
        [({"patient": {"pain_duration": {"at_most": 12, "unit": "month", "date": "2026"}}}, "incomplete"),
         ({"patient": {"pain_duration": {"value": 30, "unit": "month", "date": "2026-11"}}}, "not_candidate")],
    ),
    (
        "a choice of two codes that a number tells, in a table without that choice",
        lambda: _criterion({"not": {"element": "pregnancy_test_result", "op": "is", "value": "negative"}}),
        [],
        [({"patient": {"serum_hcg": {"value": 1, "unit": "m[IU]/mL", "date": "2026-11-25"}}}, "candidate"),
         ({"patient": {"serum_hcg": {"value": 60, "unit": "m[IU]/mL", "date": "2026-11-25"}}}, "not_candidate")],
    ),
    (
        "a relation of a disc that is met at another disc",
        lambda: _criterion(HARMLESS),
        [("disc_length", {"any_disc": {"that": {"element": "disc_day", "op": "known"}}}, {"limits": {"high": 20}})],
        [(FINE | {"discs": {"L4-L5": {"disc_length": {"value": 30, "unit": "mm"}}, "L5-S1": {"disc_day": "2026-01-02"}}},
          "incomplete"),
         (FINE | {"discs": {"L4-L5": {"disc_length": {"value": 20, "unit": "mm"}}, "L5-S1": {"disc_day": "2026-01-02"}}},
          "candidate")],
    ),
    (
        "a complete list without entries holds none of a kind",
        lambda: _criterion(HARMLESS),
        [("patient_score", {"not": {"any_entry": {"of": "injections", "that": {"element": "injection_limp", "op": "known"}}}},
          {"limits": {"high": 0}})],
        [(FINE | {"patient": FINE["patient"] | {"patient_score": 3}, "injections": {"complete": True}}, "incomplete"),
         (FINE | {"patient": FINE["patient"] | {"patient_score": 3}, "injections": {}}, "candidate")],
    ),
    (
        "what follows from nothing recorded has no day",
        lambda: _criterion({"element": "patient_sort", "op": "is", "value": "green"}, **_aged("patient_sort")),
        [("patient_sort", {"not": {"element": "patient_grade", "op": "known"}}, {"value": "green", "infer": True})],
        [(FINE, "incomplete")],
    ),
    (
        "a detail of the same old day, of which another row has a list",
        lambda: _criterion(HARMLESS),
        [("patient_limp", {"element": "systemic_steroid_use", "op": "is", "value": True}, {"value": True, **PRESENT})],
        [({"patient": {"systemic_steroid_use": {"value": True, "date": "2024-01-02"},
                       "patient_limp": {"value": False, "date": "2024-01-02"}}}, "incomplete"),
         ({"patient": {"patient_limp": False}, "medicines": {"complete": True}}, "candidate")],
    ),
    (
        "one of several details where the others are of a list that nobody has",
        lambda: _criterion(HARMLESS),
        [("patient_limp", {"at_least_of": {"count": 2, "conditions": [
            {"element": "patient_day", "op": "known"}, {"element": "patient_grade", "op": "known"},
            {"complete_list": "injections"}]}}, {"value": True})],
        [({"patient": {"patient_limp": False, "patient_day": "2026-01-02", "patient_grade": "none"}}, "incomplete"),
         ({"patient": {"patient_limp": False, "patient_day": "2026-01-02"}}, "candidate")],
    ),
    (
        "a grade too rough to tell beside what it may contradict",
        lambda: _criterion(HARMLESS),
        [("patient_score", {"element": "patient_grade", "op": "at_most", "value": "mild"}, {"limits": {"high": 3}, "perhaps": True})],
        [({"patient": {"patient_limp": False, "patient_score": 9, "patient_grade": {"one_of": ["mild", "moderate"]}}}, "incomplete"),
         ({"patient": {"patient_limp": False, "patient_score": 9, "patient_grade": "moderate"}}, "candidate")],
    ),
    (
        "a danger in a list of codes of which a criterion asks for another code, and a relation bounds it",
        lambda: _criterion({"element": "patient_set", "op": "contains", "value": "one"}),
        [("patient_set", {"element": "patient_sort", "op": "is", "value": "green"}, {"value": ["one", "four"]})],
        [({"patient": {"patient_set": ["four"]}}, "borderline"), ({"patient": {"patient_set": ["two"]}}, "candidate"),
         ({"patient": {"patient_set": ["two"], "patient_sort": "green"}}, "incomplete")],
    ),
    (
        "a danger of a number of which a criterion looks at the other end",
        lambda: _criterion({"element": "patient_length", "op": "less_than", "value": 3}),
        [],
        [({"patient": {"patient_length": {"value": 60, "unit": "mm", "note": "checked at the source"}}}, "borderline"),
         ({"patient": {"patient_length": {"value": 40, "unit": "mm"}}}, "candidate"),
         ({"patient": {"patient_length": {"value": 2, "unit": "mm"}}}, "not_candidate")],
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("criterion", "relations", "records"), [row[1:] for row in ALONE], ids=[row[0] for row in ALONE]
)
def test_a_rule_comes_to_what_is_right_in_every_evaluation(
    library: Library,
    criterion: Any,
    relations: list[Any],
    records: list[tuple[dict[str, Any], str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    base = library.rule_set("practice_baseline")
    own = {name: _relation(name, when, **says) for name, when, says in relations}
    rule_set = replace(base, criteria=(criterion(),), companions=(), relations={**base.relations, **own})
    given = [load_case({"schema_version": "1", "id": f"c{n}", **data}) for n, (data, _) in enumerate(records)]
    told = [standing for _, standing in records]
    assert [assess(case, rule_set, AS_OF).standing for case in given] == told
    for at_hand in (EmbeddedEngine.at_hand, 0):
        monkeypatch.setattr(EmbeddedEngine, "at_hand", at_hand)
        rows = _in_columns(tmp_path / str(at_hand), given, rule_set)
        assert [row["standing"] for row in sorted(rows, key=lambda row: row["case_id"])] == told
