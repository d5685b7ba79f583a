"""What a person reads of an assessment: one screen, many cases in rows, the short JSON form, PDF, standard input."""

import csv
import io
import json
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from candidacy.case.load import load_case
from candidacy.cli import main
from candidacy.explain.cautions import GENERAL, INVENTED
from candidacy.explain.document import AssessmentDocument
from tests.quick_schema import Schema, is_schema

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_cases"
GOOD = sorted(path for path in DEMO.glob("*.yaml") if path.stem != "mixed-scales")
BAD = DEMO / "mixed-scales.yaml"


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    try:
        main([str(argument) for argument in arguments])
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@cache
def document_of(path: Path) -> AssessmentDocument:
    from candidacy.commands.assess import assess_file

    return assess_file(path, ("practice_baseline",), None, "durable-rules")[0]


def flat(text: str) -> str:
    return " ".join(text.split())


# --- one screen


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_the_text_is_one_screen_and_leaves_out_nothing_that_warns(path, capsys):
    status, out, _ = run(capsys, "assess", path)
    assert status == 0
    document = document_of(path)
    lines = out.splitlines()
    warned = len(document.conflicts) + len(document.disputed) + sum(bool(u.dangers) for u in document.unread)
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 46 + 6 * (warned + len(document.stops)) + 6 * (document.shown == "urgent")
    said = flat(out)
    for caution in (INVENTED, *GENERAL[:2], GENERAL[3]):
        assert caution in said
    assert document.standing_name.upper() in said
    assert flat(document.reason[0].split(": ", 1)[1]).lower() in said.lower()
    for sentence in (*document.stops, *document.notices, *document.which_disc.says):
        assert flat(sentence).lower() in said.lower()
    for unread in document.unread:
        for danger in unread.dangers:
            assert flat(danger.why.rstrip(".")) in said
    for conflict in document.conflicts:
        assert flat(conflict.question) in said
        assert not conflict.says or flat(conflict.says) in said
    for disputed in document.disputed:
        assert "acts in spite of a denial" in said
        assert disputed.fact.label[1:] in said
    for criterion in document.criteria:
        if criterion.outcome == "fail" and criterion.force == "stop":
            assert criterion.id in said
    for medicine in document.holds.medicines if document.holds else ():
        assert flat(medicine.alarm) in said
        assert flat(medicine.goes_on) in said
    if document.not_yet is not None:
        assert f"Earliest day: {document.not_yet.earliest or 'no date can be given'}" in said
    for words in ("not a diagnosis, not an order", "investigational", "invented", "--full", "sha256:"):
        assert words in said


def test_what_to_ask_for_is_named_as_the_record_names_it_and_a_summary_stands_for_its_signs(capsys):
    out = run(capsys, "assess", DEMO / "first-letter-only.yaml")[1]
    asked = out.split("Ask for, under")[1].split("more that could decide")[0]
    assert "cauda_equina_signs" in asked
    assert "saddle_numbness" not in asked  # told by the answer to cauda_equina_signs
    assert "L4-L5: " in run(capsys, "assess", DEMO / "stale-mri.yaml")[1].split("Ask for, under")[1]


def test_full_gives_everything_and_the_short_form_says_so(capsys):
    short = run(capsys, "assess", DEMO / "anticoagulated.yaml")[1]
    whole = run(capsys, "assess", DEMO / "anticoagulated.yaml", "--full")[1]
    assert len(whole.splitlines()) > 10 * len(short.splitlines())
    document = document_of(DEMO / "anticoagulated.yaml")
    for criterion in document.criteria:
        assert criterion.id in whole
    for source in document.sources:
        assert source.key in whole
    assert "Every criterion, value, source and caution: --full" in short


def test_demo_shows_one_case_on_one_screen_or_in_full(capsys):
    short = run(capsys, "demo", "--case", "pregnant")[1]
    assert short == run(capsys, "assess", DEMO / "pregnant.yaml")[1]
    assert len(run(capsys, "demo", "--case", "pregnant", "--full")[1]) > 10 * len(short)


# --- many cases


def test_the_name_of_a_file_steers_no_terminal(capsys, tmp_path):
    hostile = tmp_path / "a\x1b[31m\nNOT YET.yaml"
    hostile.write_text("no: case\n")
    for form in ("text", "table"):
        status, out, errors = run(capsys, "assess", hostile, DEMO / "pregnant.yaml", "--format", form)
        assert status == 2
        assert "\x1b" not in out + errors
        assert "\nNOT YET.yaml" not in out


def test_many_cases_give_a_row_each_and_a_bad_one_is_listed(capsys):
    files = (DEMO / "pregnant.yaml", BAD, DEMO / "stale-mri.yaml", ROOT / "no-such-case.yaml")
    rows: dict[str, list[dict[str, Any]]] = {}
    for form in ("csv", "jsonl"):
        status, out, errors = run(capsys, "assess", *files, "--format", form)
        assert status == 2
        assert "the others were answered" in errors
        assert f"{BAD}:175:5: E210" in errors
        rows[form] = (
            list(csv.DictReader(io.StringIO(out)))
            if form == "csv"
            else [json.loads(r) for r in out.splitlines()]
        )
    for found in rows.values():
        assert [row["file"] for row in found] == [str(file) for file in files]
        assert [row["id"] for row in found] == ["pregnant", "", "stale-mri", ""]
        assert [row["standing"] for row in found] == ["not_yet", "", "incomplete", ""]
        assert [row["invented"] for row in found] == ["yes", "", "yes", ""]
        assert found[1]["error"].startswith("E210 ")
        assert found[3]["error"].startswith("E101 ")
        assert found[2]["first_ask_element"] == "modified_pfirrmann_grade"
        assert found[2]["discs_considered"] == "L4-L5"
        assert found[2]["case_digest"] == document_of(files[2]).case.digest
    counts = [None if row["missing"] == "" else int(row["missing"]) for row in rows["csv"]]
    assert counts == [row["missing"] for row in rows["jsonl"]]
    assert counts[0] == 0
    assert counts[1] is None
    status, out, _ = run(capsys, "assess", *files)
    assert status == 2
    for words in ("pregnant", "not assessed", "stale-mri", "modified_pfirrmann_grade"):
        assert words in out
    status, out, _ = run(capsys, "assess", *files, "--format", "text")
    assert (status, "NOT YET" in out, "INCOMPLETE" in out, "not assessed" in out) == (2, True, True, True)


def test_many_cases_of_which_all_are_good_end_well_and_go_to_a_file(capsys, tmp_path):
    out = tmp_path / "all.csv"
    status, printed, _ = run(capsys, "assess", *GOOD, "--format", "csv", "--out", out)
    assert (status, printed) == (0, "")
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert [row["standing"] for row in rows] == [document_of(path).shown for path in GOOD]
    assert not any(row["error"] for row in rows)
    sets = ("--rules", "practice_baseline", "--rules", "wide_screen")
    out2 = run(capsys, "assess", GOOD[0], GOOD[1], *sets, "--format", "csv")[1]
    assert [row["rule_set"] for row in csv.DictReader(io.StringIO(out2))] == [
        "practice_baseline",
        "wide_screen",
    ] * 2


def test_no_cell_is_a_formula(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("=1+1.yaml", "@x.yaml", "+2.yaml"):
        Path(name).write_text('schema_version: "1"\nid: x\n', encoding="utf-8")
    status, out, _ = run(
        capsys, "assess", "=1+1.yaml", "@x.yaml", "+2.yaml", "--as-of", "2026-11-25", "--format", "csv"
    )
    assert status == 0
    for row in csv.reader(io.StringIO(out)):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)


def test_a_rule_set_that_cannot_be_used_is_told_once_and_nothing_is_written(capsys, tmp_path):
    out = tmp_path / "out.csv"
    status, _, errors = run(capsys, "assess", *GOOD, "--rules", "nope", "--format", "csv", "--out", out)
    assert (status, errors.count("E302"), out.exists()) == (2, 1, False)


def test_standard_input_is_a_case(tmp_path):
    path = DEMO / "pregnant.yaml"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "candidacy", "assess", "-", "--format", "csv"]
    done = subprocess.run(command, input=path.read_bytes(), capture_output=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    (row,) = csv.DictReader(io.StringIO(done.stdout.decode()))
    assert (row["id"], row["case_digest"]) == ("pregnant", load_case(path).digest)
    done = subprocess.run(command[:-2], input=b"id: [", capture_output=True, env=environment, check=False)
    assert done.returncode == 2
    assert b"standard input:" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((GOOD[0], GOOD[1], "--format", "json"), "use --format jsonl or csv"),
        ((GOOD[0], GOOD[1], "--format", "html"), "use --format jsonl or csv"),
        ((GOOD[0], "--format", "pdf"), "add --out FILE.pdf"),
        ((GOOD[0], "--format", "csv", "--full"), "--full is for text and json"),
        (("-", "-"), "standard input twice"),
    ],
)
def test_options_that_do_not_go_together_are_refused(arguments, told, capsys):
    status, out, errors = run(capsys, "assess", *arguments)
    assert (status, out) == (2, "")
    assert "E601" in errors
    assert told in errors


def test_pdf_goes_to_a_file(capsys, tmp_path):
    pypdf = pytest.importorskip("pypdf", reason="reading PDF is an optional part")
    pytest.importorskip("reportlab", reason="PDF is an optional part")
    out = tmp_path / "case.pdf"
    assert run(capsys, "assess", DEMO / "pregnant.yaml", "--format", "pdf", "--out", out)[0] == 0
    text = "".join(page.extract_text() for page in pypdf.PdfReader(out).pages)
    assert "Not yet" in text
    assert "Decision support" in text


# --- the short JSON form


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_json_is_short_follows_its_schema_and_keeps_what_decides_and_warns(path, capsys):
    status, out, _ = run(capsys, "assess", path, "--format", "json")
    assert status == 0
    assert len(out.encode()) < 64_000
    data, document = json.loads(out), document_of(path)
    schema = json.loads(run(capsys, "schema", "assessment")[1])
    assert is_schema(schema)
    assert Schema(schema).refusals(data) == []
    assert (data["schema_version"], data["form"]) == ("2", "compact")
    assert (data["standing"], data["shown"], data["reason"]) == (
        document.standing,
        document.shown,
        document.reason,
    )
    assert (data["stops"], data["cautions"], data["notices"]) == (
        document.stops,
        document.cautions,
        document.notices,
    )
    assert data["next_step"] == document.next_step
    outcomes = {(c.id, c.subject): c.shown for c in document.criteria}
    found = {
        (name, subject): row if isinstance(row, str) else row["shown"]
        for name, about in data["criteria"].items()
        for subject, row in about["outcomes"].items()
    }
    assert found == outcomes
    considered = {d.level for d in document.discs if d.considered != "not_met"} | {"patient"}
    for c in document.criteria:
        if c.outcome == "fail" and c.subject in considered:
            assert data["criteria"][c.id]["outcomes"][c.subject]["because"] == c.because
    assert len(data["conflicts"]) == len(document.conflicts)
    assert [u["fact"]["element"] for u in data["unread"]] == [
        u.fact.element for u in document.unread if u.dangers
    ]
    asked = [
        (m["element"], f"{m['subject']}[{n}]" if n else m["subject"], m["weight"])
        for m in data["missing"]
        for n in m.get("entries", [0])
    ]
    assert asked == [(m.element, m.subject, m.weight) for m in document.missing if m.weight != "no"]
    others = {(name, subject) for subject, names in data["missing_others"].items() for name in names}
    assert others == {(m.element, m.subject) for m in document.missing if m.weight == "no"}
    for fact in document.facts:
        if fact.known:
            row = data["facts"][fact.subject][fact.element]
            assert row["value"] == fact.value
            assert row.get("words", "") == fact.words
            if fact.document and not fact.worked_out_from:
                assert row["document"] == fact.document
                assert row.get("date", data["documents"][fact.document]["date"]) == fact.date


def test_full_json_is_the_whole_document_with_how_firm_it_is(capsys):
    path = DEMO / "extruded-disc.yaml"
    out = run(capsys, "assess", path, "--format", "json", "--full")[1]
    found = AssessmentDocument.model_validate_json(out)
    assert found.firm is not None
    assert found.firm.case.subject == "patient"
    assert out == document_of(path).model_copy(update={"firm": found.firm}).to_json()
    schema = json.loads(run(capsys, "schema", "assessment-full")[1])
    assert Schema(schema).refusals(json.loads(out)) == []
    assert json.loads(out)["schema_version"] == "1"


def test_rule_sets_side_by_side_are_short_too_and_full_on_demand(capsys):
    arguments = ("assess", DEMO / "extruded-disc.yaml", "--rules", "practice_baseline", "--rules", "wide_screen",
                 "--format", "json")  # fmt: skip
    short, whole = run(capsys, *arguments)[1], run(capsys, *arguments, "--full")[1]
    assert len(short) * 8 < len(whole)
    assert [a["form"] for a in json.loads(short)["assessments"]] == ["compact"] * 2
    differing = [row["id"] for row in json.loads(whole)["rows"] if row["differs"]]
    assert [row["id"] for row in json.loads(short)["rows"]] == differing


# --- blank records and elements


@pytest.mark.parametrize("rules", ["practice_baseline", "report_completeness", "procedural_safety"])
def test_a_blank_record_is_empty_and_valid_and_every_line_of_it_can_be_filled(rules, capsys, tmp_path):
    from candidacy.assessment.record_grounds import read_elements
    from candidacy.case.catalogue import catalogue
    from candidacy.case.edit import empty_record
    from candidacy.case.element import LISTS
    from candidacy.case.load import parse_case
    from candidacy.rules.libraries import load_rule_set

    path = tmp_path / "new.yaml"
    assert run(capsys, "case", "new", "--rules", rules, "--out", path)[0] == 0
    text = path.read_text(encoding="utf-8")
    assert parse_case(text).record == empty_record()
    rule_set, shelf = load_rule_set(rules), catalogue()
    wanted = {name for name in read_elements(rule_set.criteria, rule_set) if shelf[name].statable}
    offered = [line.strip("# ").split(":")[0] for line in text.splitlines() if line.startswith("#  ")]
    assert {name for name in offered if name in shelf} == wanted
    for name in wanted:
        element = shelf[name]
        assert all(code in text for code in element.codes)
        assert element.unit is None or f'unit: "{element.unit}"' in text
    # with every # before a line taken away, each fact stands where the record expects it
    import yaml

    bare = "\n".join(re.sub(r"^#(?= {2}|[a-z_]+:)", "", line) for line in text.splitlines())
    data = yaml.safe_load(bare.replace("value: ,", "value: 1,"))
    places = {"patient": data.get("patient") or {}, "disc": (data.get("discs") or {}).get("L4-L5") or {}}
    places |= {scope: data[name]["entries"][0] for name, scope in LISTS.items() if name in data}
    assert {name for found in places.values() for name in found} == wanted
    assert all(shelf[name].scope == scope for scope, found in places.items() for name in found)
    # and a value behind the colon is read
    for number, name in enumerate(sorted(wanted)):
        element = shelf[name]
        if number % 7 or element.kind not in ("boolean", "choice"):
            continue
        value = "true" if element.kind == "boolean" else f'"{element.codes[0]}"'
        block = {"patient": "patient:\n", "disc": "discs:\n  L4-L5:\n"}
        block |= {scope: f"{key}:\n  entries:\n    -\n" for key, scope in LISTS.items()}
        (line,) = [line[1:] for line in text.splitlines() if line.strip("# ").startswith(f"{name}:")]
        record = f'schema_version: "1"\nid: x\n{block[element.scope]}{line.replace(f"{name}:", f"{name}: {value}", 1)}\n'
        assert name in str(parse_case(record, name).record.plain())


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("height",), "body_height"),
        (("body", "weight"), "body_weight"),
        (("extrusion",), "displacement"),
        (("Oswestry",), "odi_percent"),
        (("pfirman",), "pfirrmann_grade"),
        (("kg/m2",), "body_mass_index"),
    ],
)
def test_elements_are_found_by_name_wording_code_unit_or_near_spelling(words, expected, capsys):
    status, out, _ = run(capsys, "elements", *words)
    assert status == 0
    assert f"  {expected} " in out


def test_a_found_element_shows_unit_codes_and_who_reads_it(capsys):
    out = run(capsys, "elements", "displacement")[1]
    assert "extrusion: " in out
    assert "read by: practice_baseline, report_completeness" in out
    rows = json.loads(run(capsys, "elements", "body_mass_index", "--format", "json")[1])
    (row,) = [row for row in rows if row["name"] == "body_mass_index"]
    assert row["unit"] == "kg/m2"
    assert "practice_baseline" in row["read_by"]


def test_near_spellings_are_found_without_the_optional_part(capsys, monkeypatch):
    monkeypatch.setitem(sys.modules, "rapidfuzz", None)
    status, out, errors = run(capsys, "elements", "pfirman")
    assert (status, "What comes near" in errors, "  pfirrmann_grade " in out) == (0, True, True)
