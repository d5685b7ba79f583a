"""``candidacy rules new``: a starting folder that is right as it is, and nothing where it cannot be one."""

import json
import re
import shlex
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from candidacy.check import check_library
from candidacy.cli import main
from candidacy.commands.schema import KINDS
from candidacy.foundation.files import read_tree
from candidacy.rules.in_use import using
from candidacy.rules.libraries import open_folder, shipped
from candidacy.rules.starting_folder import starting_files

SETS = list(shipped().rule_set_files())


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    try:
        main(list(arguments))
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def written(folder: Path, extends: str, identifier: str = "our_practice") -> Path:
    for path, text in starting_files(shipped(), extends, identifier, date(2026, 11, 28)).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    return folder


@pytest.mark.parametrize("extends", SETS)
def test_the_folder_is_accepted_as_it_is_and_changes_nothing_that_decides(
    extends: str, tmp_path: Path
) -> None:
    library = open_folder(written(tmp_path, extends))
    assert check_library(library) == []
    with using(library):
        ours, parent = library.rule_set("our_practice"), shipped().rule_set(extends)
    own = [item for item in ours.criteria if item.id not in {c.id for c in parent.criteria}]
    assert [(item.id, item.force) for item in own] == [("report_confirmed_in_house", "advisory")]
    for item in parent.criteria:
        assert ours.criterion(item.id).parameters == item.parameters
        assert ours.criterion(item.id).force == item.force


@pytest.mark.parametrize("extends", SETS)
def test_the_change_of_a_threshold_is_in_force_once_the_signs_are_taken_away(
    extends: str, tmp_path: Path
) -> None:
    path = written(tmp_path, extends) / "sets" / "our_practice" / "ruleset.yaml"
    text = path.read_text(encoding="utf-8")
    if extends == "report_completeness":  # it compares with no number
        assert "threshold" not in text
        return
    assert re.search(r"^#   - id: ", text, re.M)
    path.write_text(re.sub(r"^# (?=  )", "", text, flags=re.M), encoding="utf-8")
    library = open_folder(tmp_path)
    assert check_library(library) == []
    with using(library):
        rule_set = library.rule_set("our_practice")
    changes = [
        (p.change.reason, p.value, p.declared.value, [c.tag for c in p.change.cites])
        for item in rule_set.criteria
        for p in item.parameters.values()
        if p.change is not None and p.change.reason == "Write here why."
    ]
    assert len(changes) == 1
    assert changes[0][3] == ["local"]


def test_every_written_file_names_a_schema_that_is_there_and_accepts_it(capsys, tmp_path: Path) -> None:
    folder = tmp_path / "Our Rules"
    status, out, _ = run(capsys, "rules", "new", str(folder))
    assert status == 0
    assert "rule set our_rules, which extends practice_baseline" in out
    files = list(folder.rglob("*.yaml"))
    assert len(files) == 6
    for path in files:
        assert str(path.relative_to(folder)) in out
        first = path.read_text(encoding="utf-8").splitlines()[0]
        match = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", first)
        assert match, path
        schema = json.loads((path.parent / match[1]).read_text(encoding="utf-8"))
        Draft202012Validator(schema).validate(read_tree(path).plain())
    case = json.loads((folder / ".schemas" / "case.schema.json").read_text(encoding="utf-8"))
    assert "report_confirmed_here" in case["$defs"]["patient"]["properties"]
    criterion = json.loads((folder / ".schemas" / "criterion.schema.json").read_text(encoding="utf-8"))
    assert "report_confirmed_here" in criterion["$defs"]["known_element"]["enum"]
    assert "our_decision" in criterion["$defs"]["known_source"]["enum"]


def test_the_next_steps_it_prints_work(capsys, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    _, out, _ = run(capsys, "rules", "new", "our_rules", "--id", "our_practice")
    commands = [line[line.index("candidacy ") :] for line in out.splitlines() if "candidacy " in line]
    assert len(commands) == 4
    (tmp_path / "CASE.yaml").write_text(
        'schema_version: "1"\nid: x\npatient: {report_confirmed_here: false}\n'
    )
    for command in commands:
        status, _, err = run(capsys, *shlex.split(command)[1:])
        assert status == 0, (command, err)


def test_an_empty_folder_is_taken_and_missing_ones_above_are_made(capsys, tmp_path: Path) -> None:
    (tmp_path / "empty_one").mkdir()
    assert run(capsys, "rules", "new", str(tmp_path / "empty_one"))[0] == 0
    assert run(capsys, "rules", "new", str(tmp_path / "above" / "below"))[0] == 0
    for name in ("empty_one", "above/below"):
        assert run(capsys, "rules", "check", str(tmp_path / name))[0] == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["above", "empty_one"]


@pytest.mark.parametrize("there", ["a file", "a folder", "a folder with a hidden file", "a link to nothing"])
def test_what_is_there_is_refused_and_left_as_it_is(capsys, tmp_path: Path, there: str) -> None:
    target = tmp_path / "our_rules"
    if there == "a file":
        target.write_text("mine")
    elif there == "a link to nothing":
        target.symlink_to(tmp_path / "nowhere")
    else:
        target.mkdir()
        (target / (".hidden" if "hidden" in there else "notes.md")).write_text("mine")
    before = sorted(str(path) for path in tmp_path.rglob("*"))
    status, out, err = run(capsys, "rules", "new", str(target))
    assert (status, out) == (2, "")
    assert "E601" in err
    assert "something already" in err
    assert sorted(str(path) for path in tmp_path.rglob("*")) == before


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("--extends", "practice_basline"), "E302"),
        (("--id", "Our Practice"), "E203"),
        (("--id", "ab"), "E203"),
        (("--id", "our_practice\n"), "E203"),
        (("--id", "wide_screen"), "E105"),
    ],
)
def test_a_wrong_name_is_refused_and_nothing_is_written(
    capsys, tmp_path: Path, arguments: tuple[str, ...], code: str
) -> None:
    status, out, err = run(capsys, "rules", "new", str(tmp_path / "our_rules"), *arguments)
    assert (status, out) == (2, "")
    assert code in err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_whose_name_makes_no_id_asks_for_one(capsys, tmp_path: Path) -> None:
    status, _, err = run(capsys, "rules", "new", str(tmp_path / "7"))
    assert status == 2
    assert "--id" in err
    assert run(capsys, "rules", "new", str(tmp_path / "7"), "--id", "seventh_floor")[0] == 0


def test_all_schemas_need_a_folder_and_one_schema_a_file(capsys, tmp_path: Path) -> None:
    assert run(capsys, "schema", "all")[0] == 2
    assert run(capsys, "schema", "criterion", "--out", str(tmp_path))[0] == 2
    (tmp_path / "file").write_text("mine")
    assert run(capsys, "schema", "all", "--out", str(tmp_path / "file"))[0] == 2
    assert (tmp_path / "file").read_text() == "mine"
    assert run(capsys, "schema", "all", "--out", str(tmp_path / "schemas"))[0] == 0
    kinds = {kind for kind in KINDS if kind != "proofs" and not kind.startswith("assessment")}
    assert {path.name for path in (tmp_path / "schemas").iterdir()} == {
        f"{kind}.schema.json" for kind in kinds
    }
    assert {"case", "course", "criterion", "letter"} <= kinds
