"""Words, but for the corrections of an addendum, that give a level another name: ``for L4-5 read L3-4``, ``L4-5 above should read L5-S1``.

Which of the sentences before they reach nobody can tell, so what is said of the levels they name is a conflict.
"""

import re
from collections.abc import Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import KEYS, PATTERN, read_place
from candidacy.reading.model import Account, Contradiction, Finding, Span

RENAMED = "a sentence gives a level another name"
_LEVEL = re.compile(PATTERN)
_WORD = re.compile(r"[a-z]+|->|→|=")
_READ_FOR = re.compile(r"\bfor @\W*(?:\w+\W+)?read @|\bread @ (?:for|instead of|in place of) @")
_OF_ANOTHER_STUDY = re.compile(
    r"\b(?:prior|previous|outside|old|earlier|last|comparison)\s+(?:report|study|exam|examination|mri?|ct|scan|imaging|film)"
)
_OF_THE_BODY = re.compile(
    r"\b(?:scolio\w+|lordo\w+|kypho\w+|deformit\w+|slip|\w*listhesis|alignment|curv\w+|needle|screws?|rods?|vertebrae)\b"
)
"""What a correction or a mistake may be of that is none of words."""
_OF_EITHER = frozenset(("correction", "by mistake", "amend", "transposed", "swapped", "interchanged"))
_OTHER = 2
"""Discs that a sentence must name to give one the name of another."""


def renamed(
    text: str, accounts: Sequence[Account], known: Sequence[Span], findings: Sequence[Finding]
) -> tuple[Contradiction, ...]:
    """Make doubtful what is said of the levels that an unread sentence renames; of every level, where it names one alone."""
    out: list[Contradiction] = []
    for a in accounts:
        if not a.missed or a.findings or a.statement < 0:
            continue
        sentence = text[a.span.start : a.span.end]
        if any(s.start <= a.span.start < s.end for s in known) and gate_words().corrects.search(sentence):
            continue
        named = _renames(sentence)
        if named is None:
            continue
        by: dict[tuple[str, str], list[Finding]] = {}
        for f in findings:
            if f.disc in named or (f.disc and len(named) < _OTHER):
                by.setdefault((f.disc, f.kind), []).append(f)
        out += [Contradiction(RENAMED, disc, kind, tuple(rows)) for (disc, kind), rows in by.items()]
    return tuple(out)


def _renames(sentence: str) -> frozenset[str] | None:
    """Give the discs that a sentence renames; nothing where it does not."""
    named = frozenset(d for m in _LEVEL.finditer(sentence) for d in read_place(m[0]).discs if d in KEYS)
    if not named:
        return None
    plain = " ".join(_LEVEL.sub("@", sentence).lower().split())
    if _OF_ANOTHER_STUDY.search(plain):
        return None
    words = gate_words()
    told = words.renames.search(plain)
    if told is not None and told[0] in _OF_EITHER and _OF_THE_BODY.search(plain):
        return None
    if told is not None or _READ_FOR.search(plain):
        return named
    said = set(_WORD.findall(plain))
    if said & words.renames_alone and said <= words.renames_alone | words.renames_with:
        return named
    return None
