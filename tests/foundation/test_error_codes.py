"""Every error code is explained, in order and once, where developers look."""

import re
from pathlib import Path

from candidacy.foundation.errors import Code

ROOT = Path(__file__).resolve().parents[2]


def test_every_code_has_its_row_in_developers_and_no_row_is_left_over():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (E\d{3}) \| (.+?) \| (.+?) \|$", text, re.MULTILINE)
    assert [code for code, _, _ in rows] == [code.value for code in Code]


def test_every_code_is_raised_somewhere():
    source = "".join(p.read_text(encoding="utf-8") for p in (ROOT / "candidacy").rglob("*.py"))
    raised = set(re.findall(r"\bCode\.([A-Z_]+)", source))
    assert raised == {code.name for code in Code}
