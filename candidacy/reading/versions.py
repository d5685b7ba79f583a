"""Which of several versions of one report holds: a corrected one over a final, a final over a preliminary, the newest.

A version that was withdrawn takes back the others of the same report, unless one was made after it. Where nothing
says which of two holds, both are read and marked.
"""

from collections.abc import Sequence
from typing import NamedTuple

from candidacy.foundation.errors import Code, Problem
from candidacy.reading.model import Mark
from candidacy.reading.sent import AMENDED, FINAL, PRELIMINARY, WITHDRAWN

_RANK = {PRELIMINARY: 0, "": 1, FINAL: 1, AMENDED: 2}


class Version(NamedTuple):
    """What versions are told by: see `sent.ReportText`; ``content`` is the text, ``refused`` says that it was not read."""

    name: str
    status: str
    key: str
    issued: str
    content: str
    refused: bool


class Verdict(NamedTuple):
    """What became of a version: read, set aside for another (``superseded``), or taken back (``problems``)."""

    superseded: str = ""
    marks: tuple[Mark, ...] = ()
    problems: tuple[Problem, ...] = ()


def verdicts(versions: Sequence[Version]) -> list[Verdict]:
    """Say of each version whether it holds, in the order given; a report without a key stands by itself."""
    out = [Verdict()] * len(versions)
    groups: dict[str, list[int]] = {}
    for at, version in enumerate(versions):
        if version.key:
            groups.setdefault(version.key, []).append(at)
    for group in groups.values():
        if len(group) > 1:
            _settle(versions, group, out)
    return out


def _settle(versions: Sequence[Version], group: list[int], out: list[Verdict]) -> None:
    taken_back = [versions[n] for n in group if versions[n].status == WITHDRAWN]
    left: list[int] = []
    for n in (n for n in group if versions[n].status != WITHDRAWN and not versions[n].refused):
        after = next((w for w in taken_back if not _later(versions[n], w)), None)
        if after is None:
            left.append(n)
        else:
            problem = Problem(
                Code.WITHDRAWN, "the report was withdrawn by a later message", versions[n].name, found=after.name,
                next_step="ask the sender for the report that holds",
            )  # fmt: skip
            out[n] = Verdict(problems=(problem,))
    if len(left) < 2:
        return
    best = max(_RANK.get(versions[n].status, 1) for n in left)
    top = [n for n in left if _RANK.get(versions[n].status, 1) == best]
    holders = _newest(versions, top)
    name = versions[holders[0]].name
    aside = [n for n in left if n not in holders]
    for n in aside:
        out[n] = Verdict(superseded=name)
    marks: list[Mark] = []
    if aside:
        names = ", ".join(versions[n].name for n in aside)
        marks.append(Mark("replaces", f"other versions of the same report were set aside for it: {names}"))
    if any(_later(versions[n], versions[holders[0]]) for n in aside):
        marks.append(Mark("versions", "a version of lesser standing was made after this one: compare them"))
    if len(holders) > 1:
        names = ", ".join(versions[n].name for n in holders)
        marks.append(
            Mark("versions", f"several versions of one report, and nothing says which holds: {names}")
        )
    for n in holders:
        out[n] = Verdict(marks=tuple(marks))


def _later(one: Version, other: Version) -> bool:
    return bool(one.issued and other.issued) and one.issued > other.issued


def _newest(versions: Sequence[Version], top: list[int]) -> list[int]:
    """The versions among those of equal standing that may hold: one, unless nothing tells them apart."""
    if len({versions[n].content for n in top}) == 1:
        return top[:1]
    last = max(versions[n].issued for n in top)
    newest = [n for n in top if versions[n].issued == last]
    return newest if all(versions[n].issued for n in top) else top
