"""A model checks the same from its kept shape as from its class, and whatever happens to what is kept."""

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from pydantic import BaseModel, ValidationError

from candidacy.case.record import CaseRecord, FactEntry
from candidacy.explain.document import AssessmentDocument
from candidacy.foundation import kept_shapes, parsed
from candidacy.foundation.cache_folder import VARIABLE
from candidacy.foundation.files import read_tree
from candidacy.foundation.kept_shapes import Shaped
from candidacy.foundation.parsed import Keep
from candidacy.foundation.shipped import demo_cases_folder, rulesets_folder
from candidacy.rules.criterion import Criterion

ROOT = Path(__file__).resolve().parents[2]


def below(model: type[BaseModel]) -> list[type[BaseModel]]:
    return [each for sub in model.__subclasses__() for each in (sub, *below(sub))]


def ours() -> list[type[BaseModel]]:
    return [
        each
        for each in below(Shaped)
        if each.__module__.split(".")[:2] in kept_shapes._OURS and each.model_fields
    ]


@pytest.fixture
def keep(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Keep:
    made = Keep(kept_shapes.HERE, tmp_path / "shapes.parsed")
    monkeypatch.setattr(kept_shapes, "keep_of", lambda _: made)
    return made


@pytest.fixture
def fresh(monkeypatch: pytest.MonkeyPatch):
    """Has a model stand as it does when its module has just been loaded."""

    def again(model: type[BaseModel]) -> type[BaseModel]:
        model.model_rebuild()
        for name in kept_shapes._BUILT:
            built = vars(model)[name]
            monkeypatch.setattr(model, name, kept_shapes._Later(model, name, built))
        return model

    return again


# a function bound to a limit is not written down: pydantic builds these, which only outcomes load
BUILT_EACH_TIME = "candidacy.rules.outcome_files"


def test_every_model_of_these_rooms_has_a_shape_that_comes_back_the_same():
    kept = [model for model in ours() if model.__module__ != BUILT_EACH_TIME]
    assert len(kept) > 80
    for model in kept:
        model.model_rebuild()
        assert kept_shapes._written(model), model


def test_what_a_kept_shape_checks_is_what_its_class_checks(keep, fresh):
    files = [
        (path, Criterion)
        for path in sorted(rulesets_folder().glob("criteria/*/*.yaml"))
        if ".cases" not in path.name
    ]
    files += [(path, CaseRecord) for path in sorted(demo_cases_folder().glob("*.yaml"))]
    plain = [(read_tree(path).plain(), model) for path, model in files]
    spoilt = [({**content, "colour": "red"}, model) for content, model in plain]
    spoilt += [
        ({**content, "id": 7, "title": None, "discs": [1], "when": {"element": "age"}}, m)
        for content, m in plain
    ]
    assert len(plain) > 250

    def told(content, model):
        try:
            found = model.model_validate(content)
        except ValidationError as error:
            return error.errors(include_url=False, include_context=False)
        return (
            repr(found),
            found.model_dump_json(),
            found.model_dump(by_alias=True, exclude_defaults=True),
            found.model_fields_set,
        )

    by_class = [told(*each) for each in (*plain, *spoilt)]
    for model in (Criterion, CaseRecord):
        keep.remember(
            f"shape {kept_shapes._name(model)}", (kept_shapes._RUNTIME,), kept_shapes._written(model)
        )
        fresh(model)
    by_shape = [told(*each) for each in (*plain, *spoilt)]
    assert by_shape == by_class
    assert not isinstance(vars(Criterion)["__pydantic_validator__"], kept_shapes._Later)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text: "",
        lambda text: text[:-1],
        lambda text: "[]",
        lambda text: "[1, 2]",
        lambda text: '[{"type": "no such type"}, {}]',
        lambda text: text.replace("candidacy.case.record", "os"),
        lambda text: text.replace("candidacy.case.record", "candidacy.cli"),
        lambda text: text.replace("FactEntry", "NoSuchClass"),
        lambda text: text.replace("FactEntry", "CaseRecord"),
        lambda text: text.replace("_short_form", "no_such_method"),
        lambda text: json.dumps([{"$": ["eval", "1"]}, None]),
        lambda text: json.dumps([{"$": ["class", "os:getcwd"]}, None]),
        lambda text: json.dumps([{"$": ["function", "os:getcwd"]}, None]),
    ],
)
def test_a_shape_that_is_not_whole_is_passed_over_and_the_model_built(keep, fresh, spoil):
    model = fresh(FactEntry)
    text = kept_shapes._written(model)
    name = f"shape {kept_shapes._name(model)}"
    keep.remember(name, (kept_shapes._RUNTIME,), spoil(text))
    assert model.model_validate({"unknown": "not_asked"}).unknown == "not_asked"
    with pytest.raises(ValidationError):
        model.model_validate({"colour": "red"})
    assert keep.remembered(name, (kept_shapes._RUNTIME,)) == text  # and kept anew


def test_a_shape_of_other_code_or_other_versions_is_not_used(keep, fresh, monkeypatch):
    name = f"shape {kept_shapes._name(FactEntry)}"
    keep.remember(name, (kept_shapes._RUNTIME,), "[{}, {}]")
    monkeypatch.setattr(kept_shapes, "_RUNTIME", "another")
    assert keep.remembered(name, (kept_shapes._RUNTIME,)) == ""
    monkeypatch.undo()
    monkeypatch.setattr(parsed, "_code", lambda: b"another")
    assert keep.remembered(name, ("another",)) == ""


def test_a_document_made_from_kept_shapes_says_the_same(tmp_path):
    """Two fresh processes, the second with every shape kept; and JSON Schema is made from the class in both."""
    run = (
        "import json; from candidacy.explain.document import AssessmentDocument as A; from candidacy.case.record import FactEntry as F;"
        "f = F.model_validate({'unknown': 'not_asked'});"
        "print(f.model_dump_json(), json.dumps(A.model_json_schema()), json.dumps(F.model_json_schema()), F.model_validate(f.model_dump(exclude_none=True)) == f)"
    )
    environment = {**os.environ, VARIABLE: str(tmp_path / "c"), "PYTHONPATH": str(ROOT)}
    said = [
        subprocess.run(
            [sys.executable, "-c", run], capture_output=True, text=True, check=True, env=environment, cwd=ROOT
        ).stdout
        for _ in range(2)
    ]
    assert said[0] == said[1]
    assert AssessmentDocument.__name__ in said[0]


def test_shapes_rest_on_rooms_whose_code_is_in_their_digest():
    """What these modules import from the package, at the top, lies in rooms that are digested."""
    for module in sorted({each.__module__ for each in ours()}):
        tree = ast.parse((ROOT / (module.replace(".", "/") + ".py")).read_text("utf-8"))
        names = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
        for name in names:
            parts = name.split(".")
            assert parts[0] != "candidacy" or parts[1] in parsed.ROOMS, (module, name)
