"""``--errors json``: what is wrong, for programs, on standard error."""

import json
from pathlib import Path

import pytest

from candidacy.cli import main
from candidacy.foundation.errors import Code, Problem

KEYS = ["code", "message", "file", "line", "column", "field", "found", "expected", "next_step"]
BAD = "schema_version: '1'\nid: x\npatient:\n  body_weigth: 3\n  body_weight: {value: 900, unit: kg, words: 'é'}\n"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as end:
        main(list(arguments))
    captured = capsys.readouterr()
    return int(end.value.code or 0), captured.out, captured.err


@pytest.fixture
def bad(tmp_path: Path) -> str:
    path = tmp_path / "bad.yaml"
    path.write_text(BAD, encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("place", ["before", "after", "joined"])
def test_every_problem_is_told_wherever_the_option_stands(
    capsys: pytest.CaptureFixture[str], bad: str, place: str
):
    line = {"before": ["--errors", "json", "assess", bad], "after": ["assess", bad, "--errors", "json"],
            "joined": ["assess", "--errors=json", bad]}[place]  # fmt: skip
    status, out, err = run(capsys, *line)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    told = json.loads(err)
    assert told["exit_status"] == 2
    assert [list(each) for each in told["problems"]] == [KEYS] * 2
    assert [(p["code"], p["line"], p["field"], p["file"]) for p in told["problems"]] == [
        ("E204", 4, "patient.body_weigth", bad), ("E205", 5, "patient.body_weight", bad)]  # fmt: skip


def test_the_same_dictionaries_come_from_python(capsys: pytest.CaptureFixture[str], bad: str):
    import candidacy

    _, _, err = run(capsys, "assess", bad, "--errors", "json")
    with pytest.raises(candidacy.CaseError) as error:
        candidacy.assess(bad)
    assert json.loads(err)["problems"] == [problem.as_dict() for problem in error.value.problems]


@pytest.mark.parametrize(
    "line", [["assess", "--nope"], ["nope"], ["assess"], ["rules", "show"], ["read", "r.txt", "--accept"]]
)
def test_wrong_usage_is_told_in_the_form_asked_for(capsys: pytest.CaptureFixture[str], line: list[str]):
    status, out, err = run(capsys, *line, "--errors", "json")
    told = json.loads(err)
    assert (status, out, told["exit_status"]) == (2, "", 2)
    assert [p["code"] for p in told["problems"]] == ["E601"]
    assert told["problems"][0]["message"]


def test_a_fault_of_the_program_is_told_too(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    import candidacy.cli as cli

    def broken(**_: object) -> None:
        raise ZeroDivisionError("secret")

    monkeypatch.setattr(cli.group, "main", broken)
    status, out, err = run(capsys, "demo", "--errors", "json")
    assert (status, out) == (3, "")
    assert [(p["code"], p["message"]) for p in json.loads(err)["problems"]] == [("E901", "ZeroDivisionError")]
    assert "secret" not in err


def test_text_stays_the_default_and_success_says_nothing(capsys: pytest.CaptureFixture[str], bad: str):
    _, _, plain = run(capsys, "assess", bad)
    _, _, asked = run(capsys, "assess", bad, "--errors", "text")
    assert plain == asked
    assert "2 problems found; nothing was written." in plain
    main(["rules", "list", "--errors", "json"])
    captured = capsys.readouterr()
    assert captured.err == ""
    assert "practice_baseline" in captured.out


@pytest.mark.parametrize("given", [["--errors", "xml"], ["--errors=xml"], ["--errors"]])
def test_another_form_is_refused(capsys: pytest.CaptureFixture[str], given: list[str]):
    status, _, err = run(capsys, "demo", *given)
    assert status == 2
    assert "--errors" in err


def test_after_two_dashes_it_is_a_name(capsys: pytest.CaptureFixture[str]):
    status, _, err = run(capsys, "assess", "--", "--errors")
    assert status == 2
    assert "--errors: E101" in err


def test_the_keys_are_there_whatever_is_told():
    assert list(Problem(Code.USAGE, "x").as_dict()) == KEYS
    json.dumps([Problem(code, "x", "f", 1, 2, "a", "b", "c", "d").as_dict() for code in Code])
