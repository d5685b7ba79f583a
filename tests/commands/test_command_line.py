"""The command line as a user meets it: help, answers, errors with status 2, nothing half-written."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from candidacy.cli import COMMANDS, main
from tests.quick_schema import Schema, is_schema
from tests.quick_yaml import read_yaml

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_cases"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Run the command line in this process; give status, output and errors."""
    try:
        main(list(arguments))
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_every_command_is_listed_and_explains_itself_with_examples(capsys):
    status, out, _ = run(capsys, "--help")
    assert status == 0
    for name in COMMANDS:
        assert f"  {name} " in out
        status, text, _ = run(capsys, name, "--help")
        assert status == 0
        assert "Usage: candidacy " + name in text
        assert "Example" in text
    for names in (("case", "new"), ("rules", "list"), ("rules", "show"), ("rules", "check")):
        status, text, _ = run(capsys, *names, "--help")
        assert (status, "Example" in text) == (0, True), names


@pytest.mark.parametrize("full", [(), ("--full",)])
def test_assess_prints_the_standing_with_rule_value_source_and_cautions(full, capsys):
    status, out, _ = run(capsys, "assess", str(DEMO / "extruded-disc.yaml"), *full)
    assert status == 0
    assert "NOT A CANDIDATE" in out
    assert "displacement_limit" in out
    assert "extrusion" in out
    assert "imaging report" in out or "Displacement of L4-L5 is extrusion" in out
    assert "Decision support for licensed clinicians" in " ".join(out.split())
    assert "sha256:" in out


def test_assess_json_is_valid_and_repeats_byte_for_byte(capsys):
    arguments = ("assess", str(DEMO / "one-disc-candidate.yaml"), "--format", "json")
    status, first, _ = run(capsys, *arguments)
    assert status == 0
    assert run(capsys, *arguments)[1] == first
    document = json.loads(first)
    assert document["case"]["id"] == "one-disc-candidate"
    assert document["engine"].startswith("durable-rules")


def test_two_engines_differ_in_nothing_but_their_name(capsys):
    for case in sorted(DEMO.glob("*.yaml")):
        status, usual, _ = run(capsys, "assess", str(case), "--format", "json", "--full")
        if status == 2:
            continue
        _, direct, _ = run(capsys, "assess", str(case), "--format", "json", "--full", "--engine", "direct")
        one, other = json.loads(usual), json.loads(direct)
        for document in (one, other):
            document.pop("engine")
            document["notices"] = [n for n in document["notices"] if "direct chainer" not in n]
        assert one == other


def test_several_rule_sets_stand_side_by_side(capsys):
    arguments = ("assess", str(DEMO / "older-patient-for-conference.yaml"), "--rules", "practice_baseline",
                 "--rules", "trial_style_strict")  # fmt: skip
    status, out, _ = run(capsys, *arguments)
    assert status == 0
    assert "Criteria that differ" in out
    document = json.loads(run(capsys, *arguments, "--format", "json")[1])
    assert [a["rule_set"]["id"] for a in document["assessments"]] == [
        "practice_baseline",
        "trial_style_strict",
    ]
    assert any(row["differs"] for row in document["rows"])
    assert "<table>" in run(capsys, *arguments, "--format", "html")[1]


def test_html_stands_alone_and_escapes_text_of_the_case(capsys, tmp_path):
    case = tmp_path / "case.yaml"
    case.write_text(
        'schema_version: "1"\nid: x\ntitle: "<script>alert(1)</script>"\n'
        'patient:\n  birth_date: {value: "1980", words: "<img src=x onerror=alert(2)> [bold]b[/bold]"}\n',
        encoding="utf-8",
    )
    status, page, _ = run(capsys, "assess", str(case), "--as-of", "2026-11-25", "--format", "html")
    assert status == 0
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;" in page
    assert "http://" not in page
    assert "https://" not in page
    status, text, _ = run(capsys, "assess", str(case), "--as-of", "2026-11-25")
    assert "<script>alert(1)</script>" in text


BAD_CASES = {
    "empty": b"",
    "binary": bytes(range(256)) * 8,
    "only spaces": b"  \n\t \n",
    "deep nesting": b"[" * 5000,
    "anchor bomb": b"a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n",
    "a date that does not exist": b'schema_version: "1"\nid: x\npatient:\n  birth_date: 2026-02-30\n',
    "not a number": b'schema_version: "1"\nid: x\npatient:\n  odi_percent: {value: .nan, unit: "%"}\n',
    "too large a number": b'schema_version: "1"\nid: x\npatient:\n  odi_percent: {value: 1e400, unit: "%"}\n',
    "text for a number": b'schema_version: "1"\nid: x\npatient:\n  odi_percent: {value: "30", unit: "%"}\n',
    "true for one": b'schema_version: "1"\nid: x\npatient:\n  back_pain_nrs_average: true\n',
    "a disc twice": b'schema_version: "1"\nid: x\ndiscs:\n  L4-L5: {}\n  L4/5: {}\n',
    "a level that is no disc": b'schema_version: "1"\nid: x\ndiscs:\n  L6: {}\n',
    "a list": b"- 1\n- 2\n",
    "a sentence": b"please see this patient\n",
    "no version": b"id: x\n",
    "another version": b'schema_version: "2"\nid: x\n',
    "json with a comma too many": b'{"schema_version": "1", "id": "x",,}',
}


@pytest.mark.parametrize("name", BAD_CASES)
def test_a_bad_case_ends_with_status_2_a_place_and_no_traceback(name, capsys, tmp_path):
    path, out = tmp_path / "case.yaml", tmp_path / "out.html"
    path.write_bytes(BAD_CASES[name])
    status, printed, errors = run(capsys, "assess", str(path), "--format", "html", "--out", str(out))
    assert status == 2
    assert printed == ""
    assert str(path) in errors
    assert "Traceback" not in errors
    assert ": E" in errors
    assert "nothing was written" in errors
    assert not out.exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["case.yaml"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("assess",),
        ("assess", "no-such-file.yaml"),
        ("assess", str(DEMO)),
        ("assess", str(DEMO / "one-disc-candidate.yaml"), "--rules", "no_such_set"),
        ("assess", str(DEMO / "one-disc-candidate.yaml"), "--as-of", "2026-02-30"),
        ("assess", str(DEMO / "one-disc-candidate.yaml"), "--as-of", "yesterday"),
        ("assess", str(DEMO / "one-disc-candidate.yaml"), "--format", "docx"),
        ("assess", str(DEMO / "one-disc-candidate.yaml"), "--out", "/no/such/folder/out.txt"),
        ("rules", "show", "no_such_set"),
        ("rules", "check", "no/such/folder"),
        ("elements", "zzzz"),
        ("case", "new", "--ruleset", "no_such_set"),
        ("case", "new", "--id", "Jane Doe"),
        ("demo", "--full"),
        ("demo", "--case", "zzzz"),
        ("schema", "nothing"),
        ("nonsense",),
    ],
)
def test_bad_usage_ends_with_status_2_and_a_way_out(arguments, capsys):
    status, _, errors = run(capsys, *arguments)
    assert status == 2
    assert errors.strip()
    assert "Traceback" not in errors


def test_a_file_that_exists_is_kept_when_writing_fails(capsys, tmp_path):
    out = tmp_path / "kept.html"
    out.write_text("old", encoding="utf-8")
    bad = tmp_path / "bad.yaml"
    bad.write_text("id: [", encoding="utf-8")
    assert run(capsys, "assess", str(bad), "--format", "html", "--out", str(out))[0] == 2
    assert out.read_text(encoding="utf-8") == "old"
    good = str(DEMO / "one-disc-candidate.yaml")
    assert run(capsys, "assess", good, "--format", "html", "--out", str(out))[0] == 2
    assert out.read_text(encoding="utf-8") == "old"
    assert run(capsys, "assess", good, "--format", "html", "--out", str(out), "--replace")[0] == 0
    assert out.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_demo_shows_every_standing_and_says_that_it_is_invented(capsys):
    status, out, _ = run(capsys, "demo")
    assert status == 0
    for word in ("Urgent", "Not a candidate", "Incomplete", "Borderline", "Candidate"):
        assert word in out
    assert "invented" in out
    assert "refused" in out


def test_the_case_schema_accepts_every_demo_case_and_refuses_a_typing_error(capsys):
    schema = json.loads(run(capsys, "schema")[1])
    assert is_schema(schema)
    held = Schema(schema)
    for path in sorted(DEMO.glob("*.yaml")):
        record = read_yaml(path.read_text(encoding="utf-8"))
        errors = held.refusals(record)
        assert bool(errors) == (path.stem == "mixed-scales"), (path.stem, errors[:3])
    assert held.refusals({"schema_version": "1", "id": "x", "patient": {"odi_precent": 3}})


def test_a_plain_assess_loads_no_screen_table_or_language_library():
    script = (
        "import sys\nfrom candidacy.cli import main\n"
        f"sys.argv = ['candidacy', 'assess', {str(DEMO / 'one-disc-candidate.yaml')!r}]\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'streamlit', 'pandas', 'spacy', 'duckdb', 'pyspark', 'numpy', 'z3', 'jinja2'} & set(sys.modules)\n"
        "sys.exit(f'loaded {heavy}' if heavy else 0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr


def test_rules_check_finds_nothing_wrong_with_what_is_shipped(capsys):
    status, out, errors = run(capsys, "rules", "check")
    assert (status, errors) == (0, ""), out
    assert "Nothing wrong" in out


def test_rules_show_prints_a_document_with_sources_tags_and_sign_off(capsys):
    status, out, _ = run(capsys, "rules", "show", "practice_baseline")
    assert status == 0
    assert "[seen]" in out
    assert "[common practice]" in out
    page = run(capsys, "rules", "show", "practice_baseline", "--format", "html")[1]
    assert "Sign-off" in page
    assert "45 CFR 170.315(b)(11)" in page


def test_rules_diff_tells_what_differs_and_ends_with_status_0(capsys, tmp_path):
    status, out, _ = run(capsys, "rules", "diff", "practice_baseline", "trial_style_strict")
    assert status == 0
    assert "bmi_upper_limit: 35 kg/m2 → 30 kg/m2" in out
    path = ROOT / "rulesets" / "sets" / "practice_baseline"
    status, out, _ = run(capsys, "rules", "diff", "practice_baseline", str(path), "--format", "json")
    assert status == 0
    assert json.loads(out)["identical"] is True
    target = tmp_path / "changes.md"
    status, out, _ = run(
        capsys, "rules", "diff", "practice_baseline", "wide_screen", "--format", "md", "--out", str(target)
    )
    assert (status, out) == (0, "")
    assert target.read_text(encoding="utf-8").startswith("# From practice")
    status, out, err = run(capsys, "rules", "diff", "practice_baseline", "practice_basline")
    assert (status, out) == (2, "")
    assert "E302" in err
    assert "practice_baseline" in err
