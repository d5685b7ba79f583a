"""What a command writes: never over a file it was not told to replace, an input, or anything that is no regular file."""

import json
import os
import shutil
import socket
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO

import pytest

from candidacy.cli import main
from candidacy.commands import output

ROOT = Path(__file__).resolve().parents[2]
CASE = ROOT / "demo_cases" / "one-disc-candidate.yaml"
OWN = """id: mine
extends: practice_baseline
version: "0.1.0"
reason: An invented practice.
changes:
  - {version: "0.1.0", date: "2026-11-28", change: First draft.}
"""
REPORT = "MRI LUMBAR SPINE\nFINDINGS:\nL4-L5: Pfirrmann grade IV. Broad-based bulge.\nL3-L4: normal.\n"


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    try:
        main([str(argument) for argument in arguments])
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    return status, captured.out, captured.err


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a case, a report and a rule set of one's own."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(CASE, "case.yaml")
    Path("record.yaml").write_text('schema_version: "1"\nid: r\n', encoding="utf-8")
    Path("report.txt").write_text(REPORT, encoding="utf-8")
    Path("mine").mkdir()
    Path("mine/ruleset.yaml").write_text(OWN, encoding="utf-8")
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


# every command with --out, and one input of it
WRITERS: dict[str, tuple[tuple[str, ...], str | None]] = {
    "assess": (("assess", "case.yaml", "--format", "html"), "case.yaml"),
    "assess json": (("assess", "case.yaml", "--format", "json"), "case.yaml"),
    "assess under a rule set of one's own": (("assess", "case.yaml", "--rules", "mine/ruleset.yaml"), "mine/ruleset.yaml"),
    "read": (("read", "report.txt"), "report.txt"),
    "read as a page": (("read", "report.txt", "--format", "html"), "report.txt"),
    "read many": (("read", "report.txt", "report.txt", "--jobs", "1"), "report.txt"),
    "read and ask": (("read", "report.txt", "--ask"), "report.txt"),
    "read into a new record": (("read", "report.txt", "--into", "record.yaml"), "record.yaml"),
    "rules show": (("rules", "show", "mine/ruleset.yaml"), "mine/ruleset.yaml"),
    "schema": (("schema", "case"), None),
}  # fmt: skip


@pytest.mark.parametrize("name", WRITERS)
def test_an_existing_file_needs_replace_and_then_keeps_its_permissions(name, here, capsys):
    arguments, _ = WRITERS[name]
    out = Path("out.txt")
    status, _, errors = run(capsys, *arguments, "--out", out)
    assert (status, "Traceback" in errors) == (0, False), errors
    first = out.read_bytes()
    assert first
    out.write_bytes(b"mine")
    out.chmod(0o604)
    status, printed, errors = run(capsys, *arguments, "--out", out)
    assert status == 2
    assert "out.txt: E601 the file exists" in errors
    assert "add --replace" in errors
    assert (printed, out.read_bytes()) == ("", b"mine")
    assert run(capsys, *arguments, "--out", out, "--replace")[0] == 0
    assert out.read_bytes() == first
    assert out.stat().st_mode & 0o777 == 0o604
    assert {p.name for p in here.iterdir()} == {"case.yaml", "record.yaml", "report.txt", "mine", "out.txt"}


@pytest.mark.parametrize("name", [name for name, (_, read) in WRITERS.items() if read])
@pytest.mark.parametrize("way", ["by its name", "by another path", "by a link", "by a hard link"])
def test_an_input_is_never_replaced_whatever_it_is_called(name, way, here, capsys):
    arguments, read = WRITERS[name]
    assert read is not None
    out = Path("out.txt")
    if way == "by its name":
        out = Path(read)
    elif way == "by another path":
        out = here / "mine" / ".." / read
    elif way == "by a link":
        out.symlink_to(here / read)
    else:
        os.link(read, out)
    before = contents(here)
    status, printed, errors = run(capsys, *arguments, "--out", out, "--replace")
    assert status == 2
    assert "E601 this file is read in the same run" in errors
    assert "choose another name" in errors
    assert (printed, contents(here)) == ("", before)


def _device(path: Path, minor: int = 3) -> None:
    try:
        os.mknod(path, 0o600 | stat.S_IFCHR, os.makedev(1, minor))
    except OSError:
        pytest.skip("a device may not be made here")


def _socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(path.name)


KINDS: dict[str, tuple[Callable[[Path], None], Callable[[int], bool]]] = {
    "a folder": (Path.mkdir, stat.S_ISDIR),
    "a pipe": (os.mkfifo, stat.S_ISFIFO),
    "a socket": (_socket, stat.S_ISSOCK),
    "a device": (_device, stat.S_ISCHR),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("linked", [False, True])
@pytest.mark.parametrize("name", ["assess", "read", "rules show", "schema"])
def test_what_is_no_regular_file_is_refused_with_a_code_and_left_alone(name, kind, linked, here, capsys):
    make, test = KINDS[kind]
    make(Path("odd"))
    if linked:
        Path("link").symlink_to("odd")
    for more in ((), ("--replace",)):
        status, printed, errors = run(capsys, *WRITERS[name][0], "--out", "link" if linked else "odd", *more)
        assert (status, printed) == (2, "")
        assert f"E601 this is {kind}, not a file" in errors
        assert test(Path("odd").stat().st_mode)


def test_screen_writes_a_proposal_over_no_input_and_no_device(here, capsys):
    pytest.importorskip("duckdb", reason="cohort screening is an optional part")
    Path("t.csv").write_text("Ref,Gender\na,male\n", encoding="utf-8")
    os.mkfifo("pipe")
    os.link("t.csv", "t2.csv")
    for target, words in (
        ("t.csv", "read in the same run"), ("t2.csv", "read in the same run"), ("pipe", "a pipe"), ("mine", "a folder"),
    ):  # fmt: skip
        before = contents(here)
        status, _, errors = run(capsys, "screen", "t.csv", "--suggest-mapping", target, "--replace")
        assert (status, contents(here)) == (2, before)
        assert "E601" in errors
        assert words in errors


def test_links_are_followed_to_a_file_that_may_be_replaced_or_is_not_there_yet(here, capsys):
    Path("there").write_text("old", encoding="utf-8")
    Path("link").symlink_to("there")
    Path("ahead").symlink_to("not-yet")
    assert run(capsys, "schema", "case", "--out", "link")[0] == 2
    assert run(capsys, "schema", "case", "--out", "link", "--replace")[0] == 0
    assert run(capsys, "schema", "case", "--out", "ahead")[0] == 0
    assert Path("link").is_symlink()
    assert Path("there").read_bytes() == Path("not-yet").read_bytes() != b"old"
    Path("round").symlink_to("round")
    status, _, errors = run(capsys, "schema", "case", "--out", "round")
    assert (status, "E101" in errors) == (2, True)


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_appears_while_the_answer_is_made_is_kept(links, here, capsys, monkeypatch):
    usual = output._permit

    def meanwhile(temporary: str, place: Path) -> None:
        usual(temporary, place)
        place.write_text("mine", encoding="utf-8")

    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(output, "_permit", meanwhile)
    if not links:
        monkeypatch.setattr(os, "link", no_links)
    status, _, errors = run(capsys, "schema", "case", "--out", "out.json")
    assert (status, "E601 the file exists" in errors) == (2, True)
    assert Path("out.json").read_text(encoding="utf-8") == "mine"
    assert not list(here.glob(".out.json*"))


def test_a_file_system_without_hard_links_is_written_all_the_same(here, capsys, monkeypatch):
    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", no_links)
    assert run(capsys, "schema", "case", "--out", "out.json")[0] == 0
    assert json.loads(Path("out.json").read_text(encoding="utf-8"))


def test_replace_without_out_is_refused(here, capsys):
    for arguments, _ in WRITERS.values():
        status, printed, errors = run(capsys, *arguments, "--replace")
        assert (status, printed) == (2, "")
        assert "--replace: E601 there is nothing to replace" in errors


# --- findings into a record

WRITTEN = """# referral of Tuesday
schema_version: "1"
id: 'demo'   # ours

patient:
  sex: male          # as told

# the discs
discs:
  L4/5:
    pfirrmann_grade: {unknown: not_stated}   # ask
  # the lowest
  L5-S1: {}
# the end
"""


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_findings_go_into_a_record_that_keeps_its_comments_order_and_quotes(ends, here, capsys):
    path = Path("mine.yaml")
    path.write_bytes(WRITTEN.replace("\n", ends).encode())
    path.chmod(0o640)
    status, _, errors = run(capsys, "read", "report.txt", "--into", "mine.yaml")
    assert status == 0, errors
    text = path.read_bytes().decode()
    assert path.stat().st_mode & 0o777 == 0o640
    if ends == "\r\n":
        assert text.count("\n") == text.count("\r\n")
    lines, was = text.replace(ends, "\n").splitlines(), WRITTEN.splitlines()
    kept = [line for line in was if "pfirrmann_grade" not in line]
    assert [line for line in lines if line in kept] == kept
    graded = next(line for line in lines if "pfirrmann_grade" in line and "ask" in line)
    assert graded.startswith("    pfirrmann_grade: {value: IV, ")
    assert graded.endswith("}   # ask")
    assert lines.index("discs:") < lines.index(graded) < lines.index("  # the lowest")


def test_a_json_record_stays_json_in_its_own_indentation(here, capsys):
    for indent in (None, 2, 4, "\t"):
        record = {
            "schema_version": "1",
            "id": "demo",
            "discs": {"L4-L5": {"pfirrmann_grade": {"unknown": "not_stated"}}},
        }
        Path("mine.json").write_text(json.dumps(record, indent=indent), encoding="utf-8")
        before = Path("mine.json").read_text(encoding="utf-8")
        assert run(capsys, "read", "report.txt", "--into", "mine.json")[0] == 0
        text = Path("mine.json").read_text(encoding="utf-8")
        found = json.loads(text)
        assert found["discs"]["L4-L5"]["pfirrmann_grade"]["value"] == "IV"
        assert json.dumps(found, indent=indent) == text
        assert list(found) == ["schema_version", "id", "documents", "patient", "discs"]
        assert text != before


def test_a_second_reading_that_changes_nothing_leaves_every_byte(here, capsys):
    Path("mine.yaml").write_text(WRITTEN, encoding="utf-8")
    assert run(capsys, "read", "report.txt", "--into", "mine.yaml", "--out", "new.yaml")[0] == 0
    assert Path("mine.yaml").read_text(encoding="utf-8") == WRITTEN
    assert "# the lowest" in Path("new.yaml").read_text(encoding="utf-8")


def test_a_record_is_written_through_a_link_and_never_into_a_pipe_or_the_report(here, capsys):
    Path("mine.yaml").write_text(WRITTEN, encoding="utf-8")
    Path("link.yaml").symlink_to("mine.yaml")
    assert run(capsys, "read", "report.txt", "--into", "link.yaml")[0] == 0
    assert Path("link.yaml").is_symlink()
    assert "value: IV" in Path("mine.yaml").read_text(encoding="utf-8")
    os.mkfifo("pipe")
    status, _, errors = run(capsys, "read", "report.txt", "--into", "pipe")
    assert (status, "E601 this is a pipe" in errors) == (2, True)
    os.link("report.txt", "same.yaml")
    status, _, errors = run(capsys, "read", "report.txt", "--into", "same.yaml")
    assert (status, "read in the same run" in errors) == (2, True)
    assert Path("report.txt").read_text(encoding="utf-8") == REPORT


# --- a reader that leaves


def _command(*arguments: object) -> list[str]:
    return [sys.executable, "-m", "candidacy", *map(str, arguments)]


@pytest.mark.parametrize("streams", ["output", "both"])
def test_a_reader_that_leaves_gets_no_fault_and_changes_no_status(streams, here):
    for arguments in (
        ("assess", CASE, "--full"),
        ("schema", "case"),
        ("elements",),
        ("rules", "show", "practice_baseline"),
    ):
        reader, writer = os.pipe()
        os.close(reader)
        errors = writer if streams == "both" else subprocess.PIPE
        done = subprocess.run(
            _command(*arguments), stdout=writer, stderr=errors, cwd=ROOT, check=False, timeout=300
        )
        os.close(writer)
        assert done.returncode == 0, arguments
        assert not done.stderr


def test_results_are_written_although_the_reader_of_the_output_left(here):
    pytest.importorskip("duckdb", reason="cohort screening is an optional part")
    Path("t.csv").write_text("case_id,sex\na,male\n", encoding="utf-8")
    reader, writer = os.pipe()
    os.close(reader)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    arguments = (
        "screen",
        "t.csv",
        "--rules",
        "report_completeness",
        "--as-of",
        "2026-11-25",
        "--out",
        "cohort",
    )
    done = subprocess.run(_command(*arguments), stdout=writer, stderr=subprocess.PIPE, cwd=here, env=environment,
                          check=False, timeout=300)  # fmt: skip
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, b"")
    assert Path("cohort/run.json").is_file()


def _is_full(stream: IO[bytes]) -> bool:
    try:
        os.write(stream.fileno(), b"x")
    except OSError:
        return True
    return False


def test_a_full_disk_under_the_output_is_told_as_such(here):
    _device(Path("full"), 7)
    try:
        stream = open("full", "wb")  # noqa: SIM115
    except OSError:
        pytest.skip("a device may not be opened here")
    with stream:
        if not _is_full(stream):
            pytest.skip("no device that is always full")
        done = subprocess.run(
            _command("schema", "case"),
            stdout=stream,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            check=False,
            timeout=300,
        )
    assert done.returncode == 2
    assert b"standard output: E101 cannot be written" in done.stderr
    assert b"Traceback" not in done.stderr
