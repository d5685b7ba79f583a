"""Two statements of one report that differ: the range in which both lie, marked as a conflict of the sources.

A rule that every value of the range decides alike may decide; any other cannot. Values without an order give no range.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.facts import SOURCES_CONFLICT
from candidacy.case.record import FactEntry
from candidacy.reading.addendum import DIFFER
from candidacy.reading.model import (
    ABSENT,
    PRESENT,
    SECTIONS_DIFFER,
    TWO_GRADES,
    TWO_SEVERITIES,
    Contradiction,
    Finding,
    Reading,
)

_ABOUT = frozenset((SECTIONS_DIFFER, TWO_GRADES, TWO_SEVERITIES, DIFFER))
"""Contradictions in which two values are stated; any other leaves nothing that a range could hold."""


def range_of(
    element: str, rule: dict[str, Any], rows: Sequence[Finding], against: Sequence[Contradiction]
) -> dict[str, Any] | None:
    """Give the smallest range that holds every value stated, as a form of a fact; nothing where there is none.

    Parameters
    ----------
    rows
        Everything said of one disc and kind.
    against
        The contradictions raised of it.
    """
    if any(c.about not in _ABOUT for c in against) or not any(f.status == PRESENT for f in rows):
        return None
    form = rule["form"]
    if form == "number":
        return _numbers(rule, rows)
    if form == "grade" and rule.get("integer"):
        return _integers(rows)
    if form == "choice" and not rule.get("ordered"):
        return None
    scale: Sequence[str] = rule["order"] if form == "choice" else catalogue()[element].codes
    if form not in ("choice", "graded", "grade"):
        return None
    places: set[int] = set()
    for f in rows:
        at = _places(form, rule, scale, f)
        if not at:
            return None
        places |= at
    held = list(scale[min(places) : max(places) + 1])
    return {"one_of": held} if len(held) > 1 else None


def _places(form: str, rule: dict[str, Any], scale: Sequence[str], f: Finding) -> set[int]:
    """Where on its scale a finding may lie; nothing where its words do not tell."""
    if f.status == ABSENT:
        return {0} if scale[0] in ("none", "0") else set()
    if form == "graded":
        if f.severity:
            return {scale.index(s) for s in f.severity}
        own = [str(f.value)] if str(f.value) in rule["open"] else rule["open"]
        return {scale.index(s) for s in own}
    values = f.value if isinstance(f.value, tuple) else (f.value,)
    table = rule["values"] if form == "choice" else rule.get("among", {})
    codes = [code for v in values for code in table.get(str(v), [str(v)])]
    return {scale.index(code) for code in codes} if all(code in scale for code in codes) else set()


def _each(rows: Iterable[Finding]) -> list[str] | None:
    if any(f.status == ABSENT for f in rows):
        return None
    return [str(v) for f in rows for v in (f.value if isinstance(f.value, tuple) else (f.value,))]


def _numbers(rule: dict[str, Any], rows: Sequence[Finding]) -> dict[str, Any] | None:
    found = _each(rows)
    if not found:
        return None
    values = sorted(map(float, found))
    return {"between": [values[0], values[-1]], "unit": rule["unit"]} if values[0] < values[-1] else None


def _integers(rows: Sequence[Finding]) -> dict[str, Any] | None:
    found = _each(rows)
    if not found or not all(v.isdigit() for v in found):
        return None
    values = sorted(map(int, found))
    return {"between": [values[0], values[-1]]} if values[0] < values[-1] else None


def conflict_note(reading: Reading, rows: Sequence[Finding], against: Sequence[Contradiction]) -> str:
    """Say that the sources conflict, in what, and what each says, so that a range is never taken for one statement."""
    said: dict[str, None] = {}
    told = dict.fromkeys((*rows, *(f for c in against for f in c.findings)))
    for f in sorted(told, key=lambda f: f.evidence):
        where = "addendum" if reading.of_addendum(f) else f.section or "report"
        said[f'{where} "{" ".join(reading.words(f.quoted).split())}"'] = None
    about = " and ".join(dict.fromkeys(c.about for c in against))
    return f"{SOURCES_CONFLICT} ({about}): {'; '.join(said)}"


def is_conflict(entry: FactEntry) -> bool:
    """Say whether a fact is the range between two statements of one report that differ."""
    return entry.note is not None and entry.note.startswith(SOURCES_CONFLICT)
