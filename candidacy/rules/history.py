"""Whether the history of a file leads to its version, and goes forward."""

from collections.abc import Sequence
from itertools import pairwise

from candidacy.foundation.errors import Code
from candidacy.rules.cited import Change
from candidacy.rules.findings import Findings


def check_history(changes: Sequence[Change], version: str, findings: Findings) -> None:
    """Add a last change of another version, and changes that go backwards."""
    if changes[-1].version != version:
        findings.add(("changes",), Code.BAD_VERSION, "the last change is not of this version", found=changes[-1].version,
                     expected=version)  # fmt: skip
    for number, (before, change) in enumerate(pairwise(changes), start=1):
        if _numbers(change) < _numbers(before):
            findings.add(("changes", number, "version"), Code.BAD_VERSION, "an earlier version than that of the change before it",
                         found=change.version, expected=f"{before.version} or later")  # fmt: skip
        if change.date < before.date:
            findings.add(("changes", number, "date"), Code.BAD_VERSION, "a day before the change before it",
                         found=change.date, expected=f"{before.date} or later")  # fmt: skip


def _numbers(change: Change) -> tuple[int, ...]:
    return tuple(map(int, change.version.split(".")))
