"""Discs told by their place in a row: ``the former``, ``the lower of the two``, ``the lowest two lumbar discs``.

A place in a row is resolved only where the row is known and has the length that the words suppose; else no disc is given.
"""

from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.groups import set_place
from candidacy.reading.levels import KEYS, LUMBAR
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

COUNTED = ("counted_low", "counted_high")
"""Places that count discs from the lowest or from the uppermost one."""
COUNTED_NAMES = frozenset(f"*{end}{n}" for end in ("lowest", "uppermost") for n in range(1, 6))
"""They stand for discs counted from one end until it is known how many there are."""
_NUMBERS = {"two": 2, "2": 2, "three": 3, "3": 3, "four": 4, "4": 4, "five": 5, "5": 5}
_IN_ORDER = {
    "former": (0, 2),
    "latter": (-1, 2),
    "first": (0, 0),
    "second": (1, 0),
    "third": (2, 0),
    "last": (-1, 0),
}
"""Place among the discs in the order they were named, and how many those must be (0: more than one)."""
_BY_HEIGHT = {
    "upper": (0, 2), "higher": (0, 2), "uppermost": (0, 0), "topmost": (0, 0), "highest": (0, 0), "top": (0, 0),
    "middle": (1, 3), "lower": (-1, 2), "lowermost": (-1, 0), "lowest": (-1, 0), "bottom": (-1, 0),
}  # fmt: skip
"""The same, in the order they lie."""
_UNKNOWN = frozenset(("one", "other", "larger", "smaller", "some", "most", "two"))
"""Words that single out without saying which."""
_WORDS = frozenset((*_IN_ORDER, *_BY_HEIGHT, *_UNKNOWN))
_ENDS = {
    **dict.fromkeys(("last", "lowest", "lowermost", "bottom"), LUMBAR[-1]),
    **dict.fromkeys(("uppermost", "topmost", "highest", "top"), LUMBAR[0]),
}
"""Words that name an end of the lumbar spine as well as one of a row."""
_ORDINALS = frozenset(("first", "second", "third"))
_ONE = "one"
_ALONE = frozenset(("former", "latter"))
_NOUNS = grammar("row_nouns")
_OF = (("of", "these"), ("of", "those"), ("of", "them"), ("of", "the", "two"), ("of", "the", "three"))
_VERBS = grammar("row_verbs")
_LEADS = grammar("row_leads")
_BREAKS = frozenset((";", "."))
_APPOSED = frozenset((",", "(", ":", "-", "–", "namely", "at", "i", "e", ".", "the"))
"""May stand between counted discs and their names."""
_NEAR = 5
"""So many words may stand between a finding and the disc told behind it: ``a tear is seen at the lowest of these``."""


class Mark(NamedTuple):
    """Words that single out some of the discs of a row; ``number`` of them from that place on, 0 if unknown."""

    start: int
    end: int
    word: str
    number: int
    absolute: bool = False
    """Whether the words may as well be counted among all lumbar discs: ``the lowest disc``."""


def single_out(
    parts: Parts, groups: Sequence[Group], mentions: Sequence[Mention], before: Sequence[str]
) -> None:
    """Give each finding told of one disc of a row that disc, or none where the words leave open which it is.

    ``before`` are the discs that the statement before spoke of; within a statement those named before the words count.
    """
    if _WORDS.isdisjoint(parts.words):
        return
    marks = _marks(parts)
    for m in mentions if marks else ():
        if m.scope == "report":
            continue
        mark = _mark_of(parts, marks, groups, m)
        if mark is None:
            continue
        own = tuple(dict.fromkeys(d for g in groups if g.end <= mark.start for d in g.discs))
        named = any(g.discs for g in groups)
        row = own or (() if named else tuple(before))
        if named and not own:
            continue  # "the lower disc, L5-S1": it has a name
        discs = _meant(mark, row)
        if discs and m.group is not None:
            m.discs = discs
        elif discs:
            set_place(m, discs, "carried")
        elif len(m.discs) > 1 or not named or not COUNTED_NAMES.isdisjoint(m.discs):
            set_place(m, (), "left_out")


def _marks(parts: Parts) -> list[Mark]:
    words = parts.words
    held = {i for x in parts.mods for i in range(x.start, x.end)}
    held |= {i for p in parts.places if p.entry.kind in COUNTED for i in range(p.start, p.end)}
    found = []
    for i, word in enumerate(words):
        if word not in _WORDS or i in held:
            continue
        end, count = i + 1, 1
        if words[end : end + 1] and words[end] in _NUMBERS and word not in _UNKNOWN:
            count = _NUMBERS[words[end]]
            end += 1
        noun = words[end] if end < len(words) else ""
        tail = next((len(t) for t in _OF if tuple(words[end : end + len(t)]) == t), 0)
        lead = words[i - 1] if i else ""
        if word in _UNKNOWN:
            if tail:
                found.append(Mark(i, end + tail, word, count))
        elif tail or noun in _NOUNS:
            if parts.several and count == 1 and not tail and noun != _ONE:
                count = 0  # "the upper levels" are not one of those named
            absolute = not tail and noun != _ONE and (word in _ENDS or word in _ORDINALS)
            found.append(Mark(i, end + (tail or 1), word, count, absolute))
        elif word in _ALONE or (lead in _LEADS and (count > 1 or not noun or noun in _VERBS)):
            found.append(Mark(i, end, word, count))
    return found


def _mark_of(parts: Parts, marks: Sequence[Mark], groups: Sequence[Group], m: Mention) -> Mark | None:
    """Find the words that single out the disc of a finding: those before it, or those directly behind it."""
    for mark in marks:
        gap = parts.words[m.end : mark.start]
        if mark.start >= m.end and len(gap) <= _NEAR and _LEADS.issuperset(gap):
            return mark
    before = [mark for mark in marks if mark.end <= m.start]
    if not before:
        return None
    mark = before[-1]
    if not _BREAKS.isdisjoint(parts.words[mark.end : m.start]):
        return None
    if any(mark.end <= g.start < m.start for g in groups):
        return None
    return mark


def _meant(mark: Mark, row: Sequence[str]) -> tuple[str, ...]:
    """Give the discs that a place in a row means; nothing where the row does not fit."""
    place, size = _IN_ORDER.get(mark.word) or _BY_HEIGHT.get(mark.word) or (0, -1)
    if not mark.number or size < 0 or len(row) < 2 or any(d not in KEYS for d in row):
        return ()
    if mark.word in _BY_HEIGHT:
        row = sorted(row, key=KEYS.index)
    if mark.number > 1:
        if mark.number >= len(row) or mark.word in ("second", "third", "middle", *_ALONE):
            return ()
        return tuple(row[-mark.number :] if place < 0 else row[: mark.number])
    if (size and len(row) != size) or place >= len(row):
        return ()
    if mark.absolute and row[place] != _ENDS.get(mark.word):
        return ()
    return (row[place],)


def counted(parts: Parts, discs: list[Group], before: Sequence[str]) -> list[Group]:
    """Add the discs counted from below or above: ``the lowest two lumbar discs``, ``the upper three discs``.

    Without "lumbar" they may be counted among discs named before; where that is another answer no disc is given.
    """
    rows = [p for p in parts.places if p.entry.kind in COUNTED]
    if not rows:
        return discs
    for p in rows:
        if any(_named_beside(parts, p, g) for g in discs):
            continue  # "the lower three discs (L3-4 to L5-S1)"
        words = parts.words[p.start : p.end]
        number = next((_NUMBERS[w] for w in words if w in _NUMBERS), 1)
        low = p.entry.kind == COUNTED[0]
        meant: tuple[str, ...] = (f"*{'lowest' if low else 'uppermost'}{number}",)
        row = [d for g in discs if g.end <= p.start for d in g.discs] or list(before)
        row = sorted({d for d in row if d in KEYS}, key=KEYS.index)
        if "lumbar" not in words and len(row) > number:
            some = row[-number:] if low else row[:number]
            meant = meant if tuple(some) == spelled(meant[0], LUMBAR) else ()
        discs = [*discs, Group(p.start, p.end, meant, "")]
    return sorted(discs)


def _named_beside(parts: Parts, p: Match, g: Group) -> bool:
    low, high = (p.end, g.start) if g.start >= p.end else (g.end, p.start)
    return low <= high and _APPOSED.issuperset(parts.words[low:high])


def spelled(disc: str, every: Sequence[str]) -> tuple[str, ...]:
    """Give the discs that a counted name stands for, among all lumbar discs of the patient."""
    number = int(disc[-1])
    return tuple(every[-number:] if disc.startswith("*lowest") else every[:number])
