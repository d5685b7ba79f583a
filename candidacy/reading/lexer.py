"""Words of a statement and the lexicon entries they match; meaning comes later, in ``link`` and ``scope``."""

import re
from typing import NamedTuple

from candidacy.reading.levels import BARE, PATTERN, Place, read_bare, read_place, span_of
from candidacy.reading.lexicon import Entry, Lexicon

_TOKEN = re.compile(
    rf"(?P<level>{PATTERN})"
    rf"|(?P<bare>{BARE})"
    r"|(?P<word>[^\W\d_][^\W_]*(?:['’][a-zA-Z]+)?)"
    r"|(?P<number>\d+(?:[.,]\d+)?)"
    r"|(?P<mark>(?<![^\s])[-–—]+|[-–—]+(?![^\s])|[^\w\s\-–—\ufeff\u00ad\u200b-\u200f])",
    re.IGNORECASE,
)
_RANGE_WORDS = frozenset(("through", "to", "thru", "till", "until", "-", "–", "down", "throughout"))
_LIST_WORDS = frozenset(
    (",", "and", "&", "/", "or", "+", "level", "the", "disc", "as", "well", "at", "both", "also")
)


class Match(NamedTuple):
    """A lexicon entry found in a statement, as a half-open range of token positions."""

    start: int
    end: int
    entry: Entry


class Group(NamedTuple):
    """Discs or one vertebra named together, as a half-open range of token positions."""

    start: int
    end: int
    discs: tuple[str, ...]
    vertebra: str


class Tokens(NamedTuple):
    """Lexicon words of a statement with their places in the report text."""

    words: list[str]
    starts: list[int]
    ends: list[int]
    groups: list[Group]


def tokenise(text: str, start: int, end: int, lex: Lexicon) -> Tokens:
    """Split ``text[start:end]`` into lexicon words, reading level names and lists of them on the way."""
    words: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    places: list[tuple[int, Place]] = []
    spell = lex.spell
    memory = spell.memory
    for m in _TOKEN.finditer(text, start, end):
        kind = m.lastgroup
        raw = m.group()
        if kind == "word":
            word = memory.get(raw) or spell(raw)
        elif kind == "level" or kind == "bare":
            if kind == "level":
                place = read_place(raw)
            elif places and len(words) - places[-1][0] <= 3 and _listed(words, places[-1][0] + 1):
                place = read_bare(raw)
            else:
                place = Place((), "")
            if place.discs:
                word = "<disc>"
            elif place.vertebra:
                word = "<vert>"
            else:
                word = raw.lower()
            if word[0] == "<":
                places.append((len(words), place))
        else:
            word = raw
        words.append(word)
        starts.append(m.start())
        ends.append(m.end())
    return Tokens(words, starts, ends, _groups(words, places) if places else [])


def _listed(words: list[str], start: int) -> bool:
    return all(w in _LIST_WORDS or w in _RANGE_WORDS for w in words[start:])


def _groups(words: list[str], places: list[tuple[int, Place]]) -> list[Group]:
    """Join neighbouring level names into lists and ranges (``L3-4, L4-5 and L5-S1``, ``L1-2 to L4-5``)."""
    groups: list[Group] = []
    at = 0
    while at < len(places):
        pos, place = places[at]
        at += 1
        if at < len(places):
            nxt, other = places[at]
            gap = words[pos + 1 : nxt]
            if (
                1 <= len(gap) <= 3
                and gap[-1] != "and"
                and any(w in _RANGE_WORDS for w in gap)
                and all(w in _RANGE_WORDS or w in ("level", "the", "disc") for w in gap)
            ):
                discs = span_of(place, other)
                if discs:
                    groups.append(Group(pos, nxt + 1, discs, ""))
                    at += 1
                    continue
        groups.append(Group(pos, pos + 1, place.discs, place.vertebra))
    joined = [groups[0]]
    for g in groups[1:]:
        last = joined[-1]
        gap = words[last.end : g.start]
        if g.discs and last.discs and len(gap) <= 4 and all(w in _LIST_WORDS for w in gap):
            joined[-1] = Group(last.start, g.end, tuple(dict.fromkeys((*last.discs, *g.discs))), "")
        else:
            joined.append(g)
    return joined


def match(words: list[str], lex: Lexicon) -> list[Match]:
    """Find the longest lexicon phrase at each place, left to right, without overlaps."""
    found: list[Match] = []
    trie = lex.trie
    at, size = 0, len(words)
    while at < size:
        node = trie.get(words[at])
        if node is None:
            at += 1
            continue
        ends = node.get("")
        stop = look = at + 1
        while look < size:
            node = node.get(words[look])
            if node is None:
                break
            look += 1
            here = node.get("")
            if here is not None:
                ends, stop = here, look
        if ends is None:
            at += 1
            continue
        for entry in ends:
            found.append(Match(at, stop, entry))
        at = stop
    return found
