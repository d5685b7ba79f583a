"""``candidacy outcomes`` as a new user meets it."""

import json
from pathlib import Path

import pytest

pytest.importorskip("statsmodels", reason="counting outcomes is an optional part")

from candidacy.cli import main
from candidacy.foundation.shipped import demo_cases_folder

YEAR = str(demo_cases_folder() / "clinic_year")
FEW = f"{YEAR}/with_mistakes"
DAY = ("--as-of", "2026-11-30")


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    try:
        main(["outcomes", *arguments])
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_text_is_masked_unless_asked_and_no_definition_is_preferred(
    capsys: pytest.CaptureFixture[str],
) -> None:
    status, out, _ = run(capsys, YEAR, *DAY)
    assert status == 0
    assert "Counts from 1 to 10 are shown as <11" in out
    assert "all stand equal" in out
    assert "CY-0" not in out
    status, out, _ = run(capsys, YEAR, *DAY, "--mask", "0", "--definition", "pain_half", "--at", "months_6")
    assert "60 patients with a session that is counted" in out
    assert "at six months" in out
    assert "[pain_half] [declared]" in out
    assert "no comparison group" in out
    assert "CY-012: The visit months_6" in out


def test_json_and_page(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, FEW, *DAY, "--format", "json")
    told = json.loads(out)
    assert (told["mask_below"], told["patients"]["treated"]) == (11, "<11")
    again = run(capsys, FEW, *DAY, "--format", "json")[1]
    assert again == out
    _, page, _ = run(capsys, FEW, *DAY, "--format", "html")
    assert page.startswith("<!doctype html>")


def test_another_rule_set_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, FEW, *DAY, "--mask", "0", "--definition", "pain_half", "--rules", "wide_screen")
    assert "which was asked for, in place of practice_baseline" in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--mask", "2"), "masks nothing"),
        (("--registry",), "add --out FOLDER"),
        (("--out", "x", "--days"), "add --registry"),
        (("--replace",), "add --out FOLDER"),
        (("--definition", "pain_haf"), "closest is pain_half"),
        (("--at", "month_12"), "closest is months_12"),
        (("--as-of", "2026-02-30"), "this day does not exist"),
        (("--rules", "practise_baseline"), "practice_baseline"),
    ],
)
def test_wrong_use_is_told_with_the_way_out(
    arguments: tuple[str, ...],
    told: str,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, err = run(capsys, FEW, *arguments)
    assert status == 2
    assert not out
    assert told in err
    assert not list(tmp_path.iterdir())


def test_a_folder_of_results_is_not_overwritten(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    place = tmp_path / "results"
    assert run(capsys, FEW, *DAY, "--out", str(place), "--registry", "--days")[0] == 0
    assert (place / "registry" / "dictionary.csv").exists()
    assert "CY-0" not in (place / "summary.html").read_text(encoding="utf-8")
    status, _, err = run(capsys, FEW, *DAY, "--out", str(place))
    assert status == 2
    assert "--replace" in err
    assert run(capsys, FEW, *DAY, "--out", FEW, "--replace")[0] == 2
