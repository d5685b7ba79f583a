"""The page "Your own rule set in fifteen minutes" does what it says: its files are written and its commands run, in order.

A fence after a line that ends with a file name and a colon is that file, or, where the line goes on "under `KEY:`", lines
to be put below that key. A ``sh`` fence is run; each line of the ``text`` fence after it stands in what was printed.
"""

import json
import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest
from jsonschema import Draft202012Validator

from candidacy.cli import main
from candidacy.foundation.files import read_tree

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "rulesets" / "README.md"
_FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)
_FILE = re.compile(r"^`([^`]+)`(?:, under `([^`]+)`)?:$")
_STATUS = re.compile(r"# status (\d)$")


class Block(NamedTuple):
    """One fenced block of the page, with the file it is, and the key it is put under."""

    kind: str
    text: str
    file: str
    under: str


def blocks(page: str) -> Iterator[Block]:
    for match in _FENCE.finditer(page):
        before = page[: match.start()].rstrip("\n").rpartition("\n")[2]
        named = _FILE.match(before)
        yield Block(match[1], match[2], named[1] if named else "", (named[2] or "") if named else "")


def run(command: str, capsys: pytest.CaptureFixture[str]) -> str:
    """Run one line of the page; its status is the one the page names, else 0."""
    wanted = _STATUS.search(command)
    name, *arguments = shlex.split(command, comments=True)
    if name == "cp":
        shutil.copy(*arguments)
        return ""
    assert name == "candidacy", command
    status = 0
    try:
        main(arguments)
    except SystemExit as stop:
        status = int(stop.code or 0)
    printed = capsys.readouterr()
    assert status == (int(wanted[1]) if wanted else 0), (command, printed.err)
    return printed.out


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def clone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in which the demonstration records lie, as in a clone."""
    shutil.copytree(ROOT / "demo_cases", tmp_path / "demo_cases")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CANDIDACY_LIBRARY", raising=False)
    return tmp_path


def test_the_page_does_what_it_says(clone: Path, capsys: pytest.CaptureFixture[str]) -> None:
    printed, done = "", {"sh": 0, "text": 0, "yaml": 0}
    for block in blocks(PAGE.read_text(encoding="utf-8")):
        done[block.kind] += 1
        if block.kind == "sh":
            printed = "".join(run(line, capsys) for line in block.text.splitlines())
        elif block.kind == "text":
            for line in block.text.splitlines():
                assert words(line) in words(printed), (line, printed[:2000])
        elif block.under:
            target = clone / block.file
            text = target.read_text(encoding="utf-8")
            assert text.count(f"\n{block.under}\n") == 1
            target.write_text(text.replace(f"\n{block.under}\n", f"\n{block.under}\n{block.text}"))
        else:
            assert block.file.endswith(".yaml")
            target = clone / block.file
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(block.text, encoding="utf-8")
    assert done["sh"] >= 7
    assert done["text"] >= 6
    assert done["yaml"] >= 7
    named = [path for path in (clone / "our_rules").rglob("*.yaml")
             if (path.read_text(encoding="utf-8").startswith("# yaml-language-server"))]  # fmt: skip
    assert len(named) == 9
    for path in named:
        schema = path.parent / path.read_text(encoding="utf-8").splitlines()[0].partition("$schema=")[2]
        Draft202012Validator(json.loads(schema.read_text(encoding="utf-8"))).validate(read_tree(path).plain())
    record = json.loads((clone / "our_rules" / ".schemas" / "case.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(record).validate(read_tree(clone / "case.yaml").plain())
    assert "travel_time_home" in read_tree(clone / "case.yaml").plain()["patient"]


def test_a_criterion_that_replaces_a_shipped_one_says_so(
    clone: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the page says of replacing: refused without the declaration, told with it."""
    run("candidacy rules new our_rules", capsys)
    (shipped,) = (ROOT / "rulesets" / "criteria").rglob("body_mass_index_limit.yaml")
    target = clone / "our_rules" / "criteria" / shipped.parent.name / shipped.name
    target.parent.mkdir(exist_ok=True)
    text = shipped.read_text(encoding="utf-8").replace("\nstatus: source_checked", "\nstatus: draft")
    target.write_text(text)
    cases = shipped.with_name("body_mass_index_limit.cases.yaml")
    shutil.copy(cases, target.with_name(cases.name))
    assert "E314" in run("candidacy rules check our_rules # status 1", capsys)
    version = read_tree(shipped).plain()["version"]
    target.write_text(text + f'\nreplaces: {{version: "{version}", reason: We weigh it otherwise.}}\n')
    run("candidacy rules check our_rules", capsys)
    told = run("candidacy rules diff practice_baseline our_rules --library our_rules", capsys)
    assert "criterion body_mass_index_limit" in told
    assert "We weigh it otherwise." in told
    assert "before: source_checked after: draft" in words(told)


def test_the_reader_of_the_page_finds_every_kind_of_block() -> None:
    page = "x\n```sh\na\n```\n`a/b.yaml`:\n```yaml\nc: 1\n```\n`d.yaml`, under `e:`:\n```yaml\n  f: 2\n```\n"
    assert list(blocks(page)) == [
        Block("sh", "a\n", "", ""), Block("yaml", "c: 1\n", "a/b.yaml", ""), Block("yaml", "  f: 2\n", "d.yaml", "e:"),
    ]  # fmt: skip
