"""The page of the Python interface: every block runs alone, prints what it shows, and together they use every public name."""

import re
from contextlib import redirect_stdout
from importlib import resources
from io import StringIO
from pathlib import Path

import pytest

import candidacy

PAGE = (resources.files("candidacy") / "API.md").read_text(encoding="utf-8")
BLOCKS = re.findall(
    r"^### (\d+)\. ([^\n]*)\n(?:(?!```).*\n)*?```python\n((?:(?!```).*\n)*)```$", PAGE, re.MULTILINE
)


def test_there_are_twenty_blocks_and_none_is_overlooked():
    assert [int(number) for number, _, _ in BLOCKS] == list(range(1, 21))
    assert PAGE.count("```python") == len(BLOCKS)


@pytest.mark.parametrize(("number", "title", "block"), BLOCKS, ids=[f"{n}-{title}" for n, title, _ in BLOCKS])
def test_a_block_prints_what_it_shows(
    number: str, title: str, block: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(tmp_path)
    code = [line for line in block.splitlines() if not line.startswith("# >")]
    shown = [line[3:].removeprefix(" ") for line in block.splitlines() if line.startswith("# >")]
    printed = StringIO()
    with redirect_stdout(printed):
        exec(compile("\n".join(code), f"API.md, {number}", "exec"), {"__name__": f"block_{number}"})
    assert shown
    assert printed.getvalue().splitlines() == shown


def test_the_blocks_use_every_public_name():
    used = set(re.findall(r"candidacy\.(\w+)", "".join(block for _, _, block in BLOCKS)))
    assert set(candidacy.__all__) - used == set()
