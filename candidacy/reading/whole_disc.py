"""Whether what is called normal is a disc as a whole: only then has it no displacement.

``L4-5: normal`` speaks of the level, ``L4-5: normal enhancement`` of something at it and ``prior MRI normal`` of another study. So
every word that belongs to what is called normal must be known to leave it the disc as a whole.
"""

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from candidacy.reading.clause_data import clause_data
from candidacy.reading.clauses import Unread
from candidacy.reading.coverage import Heard
from candidacy.reading.data_files import rows_of
from candidacy.reading.lexer import Tokens
from candidacy.reading.lexicon import lexicon
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import PRESENT, Statement

WHOLE = frozenset(("disc", "contour"))
"""Things that, called normal, leave the disc without displacement; its height or signal alone does not."""
_ENDS = frozenset(
    (",", ";", ".", "(", ")", "and", "but", "while", "whereas", "although", "though", "with", "without")
)
_VERDICTS = ("normal", "abnormality")
_LEVEL_NOUNS = frozenset(("disc", "level", "interspace", "segment"))
_VERBS = frozenset(("is", "are", "remains", "remain", "appears", "appear"))
_PLACED_BY = frozenset(("at", "in", "of", "on"))
_SET_OFF = frozenset((",", ":", "-", "–", "—", "("))


@cache
def _plain() -> frozenset[str]:
    words = rows_of("vocabulary")["whole"].split()
    return frozenset((*words, *map(lexicon().spell, words)))


def of_a_part(parts: Parts, tokens: Tokens, added: int, mentions: list[Mention]) -> list[Unread]:
    """Take out of ``mentions`` the discs called normal beside words that may make it something else."""
    rows = [m for m in mentions if m.kind == "displacement" and m.value == "none" and m.status == PRESENT]
    if not rows:
        return []
    cuts = [-1, *(i for i, w in enumerate(parts.words) if w in _ENDS), len(parts.words)]
    clauses = [(a + 1, b) for a, b in pairwise(cuts) if b > a + 1]
    odd = _other_words(parts, tokens, added)
    told = {o.start for o in parts.objs for x in mentions if x not in rows and x.start <= o.start < x.end}
    odd = [i for i in odd if i not in told]  # "normal in height, signal and contour"
    out = []
    for m in rows:
        low, high = _around(m, clauses, parts, mentions)
        if any(low <= i < high for i in odd):
            mentions.remove(m)
            out.append(Unread((m,), low, high, clause_data()["reasons"]["strange"], False))
    return out


def _around(
    m: Mention, clauses: Sequence[tuple[int, int]], parts: Parts, mentions: Sequence[Mention]
) -> tuple[int, int]:
    """Give the clauses of a finding and its level, with those beside them that tell of nothing else."""
    low, high = m.start, m.end
    if m.group is not None:
        low, high = min(low, m.group.start), max(high, m.group.end)
    own = [k for k, (a, b) in enumerate(clauses) if a < high and low < b]
    if not own:
        return low, high
    first, last = own[0], own[-1]
    while first and not _tells(clauses[first - 1], m, parts, mentions):
        first -= 1
    while last + 1 < len(clauses) and not _tells(clauses[last + 1], m, parts, mentions):
        last += 1
    return clauses[first][0], clauses[last][1]


def _tells(clause: tuple[int, int], m: Mention, parts: Parts, mentions: Sequence[Mention]) -> bool:
    """Say whether a clause tells of something of its own, so that it is no part of what is called normal."""
    low, high = clause
    return (
        any(low <= x.start < high for x in mentions if x is not m)
        or any(low <= x.start < high for rows in (parts.known, parts.heads, parts.acts) for x in rows)
        or any(low <= o.start < high for o in parts.objs if o.entry.kind not in WHOLE)
    )


def _other_words(parts: Parts, tokens: Tokens, added: int) -> list[int]:
    """Give the words that are not known to leave what is called normal a disc as a whole."""
    held = {i for g in tokens.groups for i in range(g.start, g.end)}
    held |= {i for x in parts.places for i in range(x.start, x.end)}
    held |= {i for x in parts.acts if x.entry.kind in _VERDICTS for i in range(x.start, x.end)}
    held |= {i for x in parts.objs if x.entry.kind in WHOLE for i in range(x.start, x.end)}
    held |= {i for x in parts.mods if x.entry.kind == "negation" for i in range(x.start, x.end)}
    plain = _plain()
    return [
        i
        for i, w in enumerate(parts.words)
        if i >= added and i not in held and w[0].isalnum() and w not in plain
    ]


def may_be_of_what_stands_before(
    sentence: Statement, parts: Parts, tokens: Tokens, before: Heard | None
) -> bool:
    """``Ligaments at L3-4 are thick. Normal at L4-5.``: with no subject of its own, a sentence may go on about the one before.

    It does not where that one begins with its level too, or speaks of the disc alone.
    """
    if before is None or sentence.fresh or sentence.item or not tokens.groups or _has_subject(parts, tokens):
        return False
    words, first = before.parts.words, before.tokens.groups[0].start if before.tokens.groups else -1
    if first >= 0 and all(w in _PLACED_BY or w in _LEVEL_NOUNS or w == "the" for w in words[:first]):
        return False
    if first < 0 and tokens.groups[0].start == 0:
        return False  # "Alignment is normal. L4-5 normal."
    others = any(o.entry.kind not in WHOLE for o in before.parts.objs)
    return others or bool(before.parts.known) or bool(_other_words(before.parts, before.tokens, before.added))


def _has_subject(parts: Parts, tokens: Tokens) -> bool:
    """Say whether a sentence names what it calls normal: a level with its verb or noun, or set off in front, or a disc."""
    if any(o.entry.kind in WHOLE for o in parts.objs):
        return True
    first = tokens.groups[0]
    placed = parts.words[first.start - 1 : first.start]
    if placed and placed[0] in _PLACED_BY:
        return False
    behind = "".join(parts.words[first.end : first.end + 1])
    return behind in _SET_OFF or behind in _VERBS or behind in _LEVEL_NOUNS
