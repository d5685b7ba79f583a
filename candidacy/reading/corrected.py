"""What a sentence outside the addenda corrects: ``Amended to read L5-S1 protrusion``, ``I misspoke, L5-S1 protrusion``.

What it replaces is seldom told, so all that it may replace is a conflict, and what it says itself stands.
"""

import re
from collections.abc import Sequence

from candidacy.reading.addendum import family
from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import discs_in
from candidacy.reading.model import BODY, Account, Contradiction, Finding, Span
from candidacy.reading.turns import is_weak, opens_inside, turn_in

CORRECTED = "words behind it correct it"
DOUBTED = "the words behind it doubt it"
"""What such a conflict is about."""
_SHORT = 10
"""So many words a sentence has at most that only doubts."""
_ALONE = 3
"""So many where nothing of it says what it is of."""
_GRADE = re.compile(r"\b(?:\d+(?: ?[cm]m)?|I{1,3}|IV|V|mild|moderate|severe|small|large|left|right)\W*$")


def corrected(
    text: str, accounts: Sequence[Account], known: Sequence[Span], findings: Sequence[Finding]
) -> tuple[Contradiction, ...]:
    """Make doubtful what stands right before words that correct, and what is said of the same disc, or the same of another, before them."""
    rows = sorted((f for f in findings if f.section in BODY), key=lambda f: f.evidence)
    held: dict[tuple[str, str], list[Finding]] = {}
    for a in accounts:
        if a.statement < 0 or any(s.start <= a.span.start < s.end for s in known):
            continue
        turn = turn_in(text, a.span.start, a.span.end) if rows else None
        if turn is None:
            continue
        before = [f for f in rows if f.evidence.start < turn.start]
        after = [f for f in rows if f.statement == a.statement and f.evidence.start >= turn.start]
        named = discs_in(text, turn.end, a.span.end) if not after else frozenset[str]()
        if is_weak(text, turn) and not (after or named or _gives_a_grade(text[turn.end : a.span.end])):
            continue
        inside = opens_inside(text, a.span.start, turn.start)
        near = a.statement if inside else before[-1].statement if before else -1
        for f in before:
            told = any(
                family(f.kind) == family(g.kind) and (f.disc == g.disc or f.value == g.value) for g in after
            )
            if f.statement == near or told or f.disc in named:
                held.setdefault((f.disc, f.kind), []).append(f)
    return tuple(
        Contradiction(CORRECTED, disc, kind, tuple(dict.fromkeys(of))) for (disc, kind), of in held.items()
    )


def doubted(text: str, accounts: Sequence[Account], findings: Sequence[Finding]) -> tuple[Contradiction, ...]:
    """Make doubtful what the sentence before says, where one says no more than that it is uncertain; of several, all of the section."""
    rows = sorted((f for f in findings if f.section in BODY), key=lambda f: f.evidence)
    held: dict[tuple[str, str], list[Finding]] = {}
    says = gate_words().doubts["says"].search(text) is not None
    for a in accounts if rows and says else ():
        sentence = text[a.span.start : a.span.end]
        if not a.missed or a.findings or a.statement < 0 or not _doubts(sentence):
            continue
        before = [f for f in rows if f.evidence.start < a.span.start]
        near = before[-1] if before else None
        several = gate_words().doubts["several"].search(sentence) is not None
        for f in before:
            if near is not None and (
                f.statement == near.statement or (several and f.section == near.section)
            ):
                held.setdefault((f.disc, f.kind), []).append(f)
    return tuple(Contradiction(DOUBTED, disc, kind, tuple(of)) for (disc, kind), of in held.items())


def _doubts(sentence: str) -> bool:
    """``This is uncertain.``, ``The second finding may be artifact.``: of words that name no level and little else."""
    words = gate_words().doubts
    short = len(sentence.split()) <= _SHORT and not discs_in(sentence)
    elliptic = len(sentence.split()) <= _ALONE and words["begins"].match(sentence.lstrip())
    return short and bool(
        words["says"].search(sentence)
        and (elliptic or words["refers"].search(sentence))
        and not words["not"].search(sentence)
    )


def _gives_a_grade(said: str) -> bool:
    """``Actually grade 4``: a grade, or one sort for another, without what it is of."""
    return len(said.split()) <= _ALONE and _GRADE.search(said) is not None
