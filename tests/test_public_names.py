"""The public names of the package: each resolves quickly, is typed, and is not hidden by a module."""

import inspect
import subprocess
import sys
import types
from importlib import resources
from pathlib import Path

import pytest

import candidacy
import candidacy.assessment.assess  # a module of the package must not hide a public name
from tests.rows import each_row

ROOT = Path(candidacy.__file__).resolve().parents[1]
PUBLIC = [name for name in candidacy.__all__ if name != "__version__"]


def python(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, capture_output=True, text=True, timeout=600, check=False
    )
    return done.stdout + done.stderr


def test_every_public_name_resolves_to_no_module():
    for name in candidacy.__all__:
        assert not isinstance(getattr(candidacy, name), types.ModuleType), name
    assert set(candidacy.__all__) == set(dir(candidacy))


def test_a_name_that_there_is_not_is_an_attribute_error():
    with pytest.raises(AttributeError, match="assess_case"):
        candidacy.assess_case  # noqa: B018


def test_public_names_stay_themselves_whatever_was_imported_before():
    rooms = "assessment.assess, commands.assess, commands.screen, explain.compare, cohort.screening, check, reading"
    imports = "; ".join(f"import candidacy.{room}" for room in rooms.split(", "))
    told = python(
        "-c",
        f"{imports}; print(candidacy.assess.__module__, candidacy.screen.__module__, candidacy.compare.__module__)",
    )
    assert told.split() == ["candidacy.interface.calls"] * 3


def test_a_case_is_assessed_by_public_names_alone():
    case = candidacy.parse_case('schema_version: "1"\nid: x\npatient: {back_pain_nrs_average: 7}\n')
    rules = candidacy.load_rule_set("practice_baseline")
    answer = candidacy.assess(case, rules, as_of="2026-11-25")
    assert answer.standing == "incomplete"
    assert answer.document.standing == "incomplete"


def test_importing_the_package_loads_nothing_of_it():
    code = "import sys, candidacy; print([m for m in sys.modules if m.startswith('candidacy.') or m in ('yaml', 'pydantic', 'pandas')])"
    assert python("-c", code).strip() == "[]"


def test_an_assessment_loads_no_engine_of_tables_no_reader_and_no_page():
    code = (
        "import sys, candidacy; candidacy.assess(candidacy.demo_cases()['pregnant'], as_of='2026-12-02').to_json(); "
        "print([m for m in ('pandas', 'duckdb', 'pyarrow', 'jinja2', 'rich', 'streamlit', 'candidacy.reading') if m in sys.modules])"
    )
    assert python("-c", code).strip() == "[]"


def test_the_package_says_that_it_is_typed():
    assert (resources.files("candidacy") / "py.typed").is_file()


def public_signatures() -> list[tuple[str, inspect.Signature]]:
    found = []
    for name in PUBLIC:
        thing = getattr(candidacy, name)
        if not inspect.isclass(thing):
            found.append((name, inspect.signature(thing)))
            continue
        ours = [base for base in thing.__mro__ if base.__module__.startswith("candidacy.")]
        # gathered first, because a model that is built when first looked at grows
        for own, member in [pair for base in ours for pair in vars(base).items()]:
            member = getattr(member, "fget", None) or getattr(member, "func", None) or member
            if not own.startswith("_") and inspect.isfunction(member):
                found.append((f"{name}.{own}", inspect.signature(member)))
    return found


@each_row(("name", "signature"), public_signatures(), ids=[n for n, _ in public_signatures()])
def test_no_signature_at_the_door_says_any(name: str, signature: inspect.Signature):
    of_self = [p for p in signature.parameters.values() if p.name not in ("self", "cls")]
    hints = [p.annotation for p in of_self] + [signature.return_annotation]
    assert inspect.Parameter.empty not in hints, name
    assert not [hint for hint in hints if "Any" in str(hint)], name


STRICT = """
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import candidacy

case: candidacy.Case = candidacy.load_case(Path("case.yaml"))
data: Mapping[str, object] = {"id": "x"}
again: candidacy.Case = candidacy.load_case(data).with_fact("body_weight", 71, unit="kg", on=date(2026, 11, 1))
text: candidacy.Case = candidacy.parse_case("id: x")
record: candidacy.CaseRecord = case.record
rules: candidacy.RuleSet = candidacy.load_rule_set("practice_baseline")
answer: candidacy.Answer = candidacy.assess(data, rules, as_of="2026-12-02")
side: candidacy.SideBySide = candidacy.compare(case, ["practice_baseline", Path("mine"), rules], as_of=date(2026, 12, 2))
assessment: candidacy.Assessment = answer.assessment
document: candidacy.AssessmentDocument = answer.document
results: tuple[candidacy.CriterionResult, ...] = assessment.results
problems: tuple[candidacy.Problem, ...] = candidacy.check_rules()
code: candidacy.Code = problems[0].code
told: dict[str, str | int] = problems[0].as_dict()
reading: candidacy.Reading = candidacy.read_report("L4-5 bulge")
titles: dict[str, str] = candidacy.rule_sets()
files: dict[str, Path] = candidacy.demo_cases()
label: str = candidacy.catalogue()["body_weight"].label
rule_title: str = candidacy.describe_rule_set(rules).title
errors: list[type[candidacy.CandidacyError]] = [
    candidacy.InputError, candidacy.CaseError, candidacy.RuleError, candidacy.ReportError, candidacy.TableError,
    candidacy.EngineError,
]
version: str = candidacy.__version__
with candidacy.use_library("rules") as library:
    names: list[str] = library.rule_set_names()
with candidacy.screen("cases.csv", as_of="2026-12-02") as cohort:
    same: candidacy.Cohort = cohort
reveal_type(candidacy.assess(case).to_json())
reveal_type(answer.criterion("x").outcome)
"""


def test_a_strict_type_checker_sees_real_names(tmp_path: Path):
    pytest.importorskip("mypy")
    assert set(PUBLIC) <= set(
        STRICT.replace(".", " ")
        .replace("(", " ")
        .replace(")", " ")
        .replace(",", " ")
        .replace("]", " ")
        .replace("[", " ")
        .split()
    )
    script = tmp_path / "script.py"
    script.write_text(STRICT, encoding="utf-8")
    wrong = tmp_path / "wrong.py"
    wrong.write_text(
        "import candidacy\ncandidacy.assess(4)\ncandidacy.assess_case\ncandidacy.rule_sets().nope\n"
    )
    # both in one run, which reads the whole package
    told = python("-m", "mypy", "--strict", str(script), str(wrong))
    assert 'Revealed type is "str"' in told
    assert "Literal['pass']" in told
    assert [kind in told for kind in ("[arg-type]", '"assess_case"', '"nope"')] == [True] * 3
    assert "Found 3 errors in 1 file (checked 2 source files)" in told
