"""``candidacy letter``: kinds, forms, and bad usage told with the way out."""

import io
from pathlib import Path

import pytest

from candidacy.cli import main
from candidacy.foundation.shipped import demo_cases_folder
from tests.letters.cases import KINDS

CASE = demo_cases_folder() / "anticoagulated.yaml"


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    status = 0
    try:
        main([str(each) for each in arguments])
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


def test_the_command_alone_lists_the_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "letter")
    assert status == 0
    assert {line.split(" ")[0] for line in out.splitlines()} == set(KINDS)


def test_an_addendum_may_be_asked_for_under_a_rule_set_about_the_report(
    capsys: pytest.CaptureFixture[str],
) -> None:
    case = demo_cases_folder() / "first-letter-only.yaml"
    status, out, _ = run(capsys, "letter", "addendum", case, "--rules", "report_completeness")
    assert status == 0
    assert "Could you kindly add them in an addendum?" in out


def test_a_letter_of_each_form_is_written_once(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    docx = pytest.importorskip("docx", reason="the letters need python-docx")
    status, out, _ = run(
        capsys, "letter", "prescriber", CASE, "--on", "2026-12-14", "--fill", "practice_phone=555 0100"
    )
    assert status == 0
    assert "555 0100" in out
    assert "2026-12-10" in out
    for form in ("pdf", "docx", "text"):
        place = tmp_path / f"letter.{form}"
        assert run(capsys, "letter", "prescriber", CASE, "--format", form, "--out", place)[0] == 0
    assert run(capsys, "letter", "prescriber", CASE, "--out", place)[0] == 2
    assert run(capsys, "letter", "prescriber", CASE, "--out", place, "--replace")[0] == 0
    assert (tmp_path / "letter.pdf").read_bytes().startswith(b"%PDF")
    assert docx.Document(io.BytesIO((tmp_path / "letter.docx").read_bytes())).paragraphs


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("poem", CASE), "no such kind of letter"),
        (("referrer",), "which case?"),
        (("referrer", CASE, "--format", "pdf"), "--out FILE.pdf"),
        (("referrer", CASE, "--fill", "practice_phone"), "NAME=TEXT"),
        (("referrer", CASE, "--on", "2026-02-30"), "--on"),
        (("referrer", CASE, "--rules", "report_completeness"), "answers another question"),
        (("patient_before", CASE, "--rules", "wide_screen"), "Worth a work-up"),
        (("referrer", CASE, "--on", "2026-11-24"), "2026-11-25 or later"),
        (("prescriber", CASE, "--medicine", "medicines[1]"), "medicines[2]"),
        (("prescriber", demo_cases_folder() / "one-disc-candidate.yaml"), "names no antithrombotic"),
        (("referrer", CASE, "--fill", "copies_to=Dr Somebody"), "by hand"),
    ],
)
def test_bad_usage_is_told(
    capsys: pytest.CaptureFixture[str], arguments: tuple[object, ...], said: str
) -> None:
    status, out, err = run(capsys, "letter", *arguments)
    assert status == 2
    assert said in err
    assert "Traceback" not in err
    assert out == ""
