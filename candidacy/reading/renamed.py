"""Words, but for the corrections of an addendum, that give a level another name: ``for L4-5 read L3-4``, ``L4-5 above is L5-S1``.

Which of the sentences before they reach nobody can tell, so what is said of the levels they name is a conflict; so is
all that is said of levels, or of sides, where these were mixed up.
"""

import re
from collections.abc import Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import PATTERN, discs_in
from candidacy.reading.model import Account, Contradiction, Finding, Span

RENAMED = "a sentence gives a level another name"
MIXED_UP = "the report says that levels or sides were taken for others"
_LEVEL = re.compile(PATTERN)
_WORD = re.compile(r"[a-z]+|->|→|=")
_READ_FOR = re.compile(r"\bfor @\W*(?:\w+\W+)?read @|\bread @ (?:for|instead of|in place of) @")
_THAT_WAS = re.compile(
    r"^\W*(?:that|(?:the )?(?:above|former|latter)(?: \w+)?) was (?:(?:at|of|for|in) )?(?:the )?@(?: level| disc)?\W*$"
)
_OF_ANOTHER_STUDY = re.compile(
    r"\b(?:prior|previous|outside|old|earlier|last|comparison)\s+(?:report|study|exam|examination|mri?|ct|scan|imaging|film)"
)
_OF_THE_BODY = re.compile(
    r"\b(?:scolio\w+|lordo\w+|kypho\w+|deformit\w+|slip|\w*listhesis|alignment|curv\w+|needle|screws?|rods?|vertebrae)\b"
)
"""What a correction or a mistake may be of that is none of words."""
_OF_EITHER = frozenset(("correction", "by mistake", "amend", "transposed", "swapped", "interchanged"))
_OF_LEVELS = re.compile(r"\b(?:levels?|numbering|rows|lines)\b", re.IGNORECASE)
_SIDE = re.compile(r"\b(?:left|right)\b")
_LAYOUT = "layout"
"""The rule of words that are known one by one, and may mix up levels together."""
_NOT = frozenset(("not",))
"""Of one disc it denies what the sentence before says of another: ``Not at L3-4.``"""
_OTHER = 2
"""Discs that a sentence must name to give one the name of another."""


def renamed(
    text: str, accounts: Sequence[Account], known: Sequence[Span], findings: Sequence[Finding]
) -> tuple[Contradiction, ...]:
    """Make doubtful what is said of the levels that an unread sentence renames; of every level, where it names one alone."""
    out: list[Contradiction] = []
    for a in accounts:
        if (
            not (a.missed or a.rule == _LAYOUT)
            or a.statement < 0
            or any(findings[n].disc for n in a.findings if n < len(findings))
        ):
            continue
        sentence = text[a.span.start : a.span.end]
        if any(s.start <= a.span.start < s.end for s in known) and gate_words().corrects.search(sentence):
            continue
        named = renames(sentence)
        about = RENAMED if named else MIXED_UP
        if named is None:
            continue
        by: dict[tuple[str, str], list[Finding]] = {}
        of_sides = not named and _OF_LEVELS.search(sentence) is None
        for f in findings:
            if (f.disc in named or (f.disc and len(named) < _OTHER)) and (f.sides or not of_sides):
                by.setdefault((f.disc, f.kind), []).append(f)
        out += [Contradiction(about, disc, kind, tuple(rows)) for (disc, kind), rows in by.items()]
    return tuple(out)


def renames(sentence: str) -> frozenset[str] | None:
    """Give the discs that a sentence renames, none where it mixes up levels or sides that it does not name; else nothing."""
    named = discs_in(sentence)
    if not named:
        return frozenset() if _mixes_up(sentence) else None
    plain = " ".join(_LEVEL.sub("@", sentence).lower().split())
    if _OF_ANOTHER_STUDY.search(plain):
        return None
    words = gate_words()
    told = words.renames.search(plain)
    if told is not None and told[0] in _OF_EITHER and _OF_THE_BODY.search(plain):
        return None
    if told is not None or any(shape.search(plain) for shape in (_READ_FOR, _THAT_WAS, words.another_name)):
        return named
    said = set(_WORD.findall(plain))
    alone = said & words.renames_alone
    if alone and (len(named) >= _OTHER or alone != _NOT) and said <= words.renames_alone | words.renames_with:
        return named
    return None


def _mixes_up(sentence: str) -> bool:
    """``The two levels above were swapped``, ``left and right are reversed``, ``for left read right``: of this report, and of words."""
    plain = " ".join(sentence.lower().split())
    words = gate_words()
    turned = False
    if len(set(_SIDE.findall(plain))) > 1:
        sides = _SIDE.sub("@", plain)
        turned = bool(
            words.renames.search(plain) or _READ_FOR.search(sides) or words.another_name.search(sides)
        )
    if not turned and words.mixed_up.search(sentence) is None:
        return False
    return _OF_ANOTHER_STUDY.search(plain) is None and _OF_THE_BODY.search(plain) is None
