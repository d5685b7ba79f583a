"""Codes of diagnoses in a record that may tell a sign of danger. A code is a hint and no proof: it settles nothing."""

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ELEMENT = "diagnosis_code"
_CODE = re.compile(r"(?<![\w.])([A-Z]\d[0-9A-Z])(?:\.?([0-9A-Z]{1,4}))?(?!\w)", re.IGNORECASE)


def told_by_codes(text: str) -> Iterator[tuple[str, str]]:
    """Each topic of danger that a code of a text belongs to, with the code as it is written."""
    for match in _CODE.finditer(text):
        code = f"{match[1]}{match[2] or ''}".upper()
        for topic, first, last in _ranges():
            if first <= code[: len(first)] and code[: len(last)] <= last:
                yield topic, match[0]


@cache
def _ranges() -> tuple[tuple[str, str, str], ...]:
    """Topics with the first and the last beginning of a code; both are the same but for a range."""
    found = []
    for line in Path(__file__).with_name("danger_codes.txt").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            topic, codes = line.split(":")
            for each in codes.replace(".", "").split():
                first, _, last = each.partition("-")
                found.append((topic, first, last or first))
    return tuple(found)
