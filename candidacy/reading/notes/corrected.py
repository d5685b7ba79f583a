"""What a note says and then corrects: ``L4-5 concordant. Correction: L5-S1 concordant.``

What a correction replaces is seldom told, so whatever it may replace is no longer known; what it says itself stands.
"""

import re
from collections.abc import Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import discs_in
from candidacy.reading.notes.model import PATIENT, Clause, Said
from candidacy.reading.turns import is_weak, opens_inside, turn_in

_OF_PAIN = ("discography_concordance", "discography_pain_nrs", "discography_pain_pressure")
_PAINLESS = ({"value": "none"}, {"value": 0.0}, {"unknown": "not_applicable"})
_OF_WHICH = re.compile(
    r"\b(?:levels?|number(?:ing|ed)|count(?:ed|ing)?|label(?:led|ed)|injected)\b", re.IGNORECASE
)
_CORRECTED = "words behind it correct it"
_CONFLICT = {"unknown": "conflicting"}


def corrected(text: str, rows: Sequence[Clause], said: Sequence[tuple[Said, int]]) -> list[tuple[Said, int]]:
    """Make unknown what stands right before words that correct, what they say anew, and what else of the discs they name."""
    held: set[int] = set()
    added = False
    for n, clause in enumerate(rows):
        opens = gate_words().any_addendum.match(text, *clause.span) is not None
        added = opens or (added and clause.skip != "heading")
        turn = turn_in(text, *clause.span)
        if turn is None and not added:
            continue
        at, last = (turn.start, n) if turn is not None else (clause.span.start, n)
        after = _of(said, at, last)
        if turn is not None and not after and not _tells(text, turn.end, clause.span.end):
            last = n + 1  # "Strike that. L5-S1 concordant."
            after = _of(said, at, last)
        before = [k for k, (s, m) in enumerate(said) if m <= n and s.span.start < at]
        named = discs_in(text, at, clause.span.end) if not after else frozenset[str]()
        told = frozenset(s.subject for s, _ in said if s.subject != PATIENT)
        if named - told or (named and _OF_WHICH.search(text, at, clause.span.end)):
            named = told  # "the level injected was L5-S1": which disc is which is open
        near = -1
        if turn is not None and (after or named or not is_weak(text, turn)):
            inside = opens_inside(text, clause.span.start, at)
            near = n if inside else max((said[k][1] for k in before), default=-1)
        for k in before:
            one, m = said[k]
            anew = turn is not None and any(_replaces(s, one) for s in after)
            again = any((s.subject, s.element, s.form) == (one.subject, one.element, one.form) for s in after)
            if (m == near or anew or one.subject in named) and not again:
                held.add(k)
    return [(s._replace(form=dict(_CONFLICT), note=_CORRECTED) if k in held else s, n)
            for k, (s, n) in enumerate(said)]  # fmt: skip


def _of(said: Sequence[tuple[Said, int]], at: int, last: int) -> list[Said]:
    return [s for s, m in said if s.span.start >= at and m <= last]


def _tells(text: str, start: int, end: int) -> bool:
    return any(c.isalnum() for c in text[start:end])


def _replaces(new: Said, old: Said) -> bool:
    """Whether one is said of the same thing, or the same pain is told of another disc."""
    if new.element != old.element:
        return False
    moved = new.element in _OF_PAIN and new.form == old.form and new.form not in _PAINLESS
    return new.subject == old.subject or moved
