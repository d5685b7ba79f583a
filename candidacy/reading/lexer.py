"""Words of a statement and the lexicon entries they match; meaning comes later, in ``link`` and ``scope``."""

import re
from typing import NamedTuple

from candidacy.reading.levels import BARE, IS_ORDINAL, ORDINAL, PATTERN, Place, read_bare, read_place, span_of
from candidacy.reading.lexicon import Entry, Lexicon, grammar
from candidacy.reading.model import Span

_WORD = r"[^\W_]*(?:['’][a-zA-Z]+)?"
_TOKEN = re.compile(
    rf"{ORDINAL}"
    rf"|[A-CE-KM-RUW-Za-ce-km-ruw-z]{_WORD}"  # a word that cannot begin a level,
    rf"|[DLSTVdlstv][A-UW-Za-uw-z]{_WORD}"  # or whose second letter tells so
    rf"|{PATTERN}"
    rf"|[^\W\d_]{_WORD}"
    r"|\d(?=(?:,\d){2,}(?![\d./]))|\d(?=(?:/\d){2,}(?!\d))|(?<=\d,)\d(?!\d|\.\d)|(?<=\d/)\d(?!\d|[.,]\d)"  # "2,2,3": a value for each of several
    rf"|{BARE}"
    r"|\d+(?:[.,]\d+)?"
    r"|\.{4,}|\.(?:[ \t]\.){2,}|…{2,}"  # dots that lead from a label to its value
    r"|(?<![^\s])[-–—]+|[-–—]+(?![^\s])|[^\w\s\-–—\ufeff\u00ad\u200b-\u200f]"
)
_BREAK = re.compile(r"[-\xad][ \t]*(?:\r\n?|\n)\s*")
_BROKEN = re.compile(r"(?P<head>[^\W\d_]+)(?:-[ \t]*(?:\r\n?|\n)[ \t]*|(?P<soft>\xad)\s*)(?P<tail>[^\W\d_]+)")
"""A word broken at the end of a line, by a hyphen or a soft one."""
_DASHES = frozenset("-")
_LEVEL = re.compile(PATTERN)
_BARE = re.compile(BARE)
_OTHER_COUNT = re.compile(
    r"\b(?:L6|(?:four|six|[46])\s+(?:\S+\s+)?lumbar|transitional|lumbari[sz]|sacrali[sz])", re.IGNORECASE
)
"""In such a report the lumbar discs are not counted as usual."""
_BARE_HEADING = re.compile(rf"\s*({BARE})\s*:")
_NAMES_DISC = frozenset(("disc", "disk", "discs", "disks", "level", "levels", "segment", "interspace"))
_OF_LUMBAR = re.compile(r"\b(?:lumb|LS{1,2}\b|L\s?[1-5]\b)", re.IGNORECASE)
_OF_ANOTHER = re.compile(r"\b(?:cervic|thorac|dorsal spine|[CT]\s?[1-9]\s?[-/–]\s?[CT]?\s?\d)", re.IGNORECASE)
_COMPOUNDS = grammar("before_hyphen")
_RANGE_WORDS = grammar("range")
_LIST_WORDS = grammar("list")
_COMPARED = grammar("compared")
_AT = frozenset(("at", "in", "of"))
_JOINED = {f"mc{n}": ("modic", n) for n in "123"}
"""Written in one word: a name and its grade."""
_SIDE_LETTERS = {"r": "right", "l": "left"}
_BOTH = "bilateral"
_DENIES = frozenset(("no", "without", "not", "nil", "any"))
_SHORT = frozenset((*_SIDE_LETTERS, "deg"))
_OF_A_SIDE = frozenset(
    ("side", "sided", "<vert>", "exiting", "exit", "traversing", "descending", "posterolateral", "lateral", "neural", "nerve",
     "and", ">", "<", "=", "sub", "para", "far", "extra", "lat", "facet", "hemilaminectomy", "hemilaminotomy")
)  # fmt: skip
_BEFORE_SIDE = frozenset(("on", "to", "the", "and", ">", "<", "=", "than", "&"))
_AFTER_SIDE = frozenset(("", ".", ",", ";", ")", "than", ">", "<", "=", "and", "&"))
_COMPARES = frozenset((">", "<", "="))
_VERBS = frozenset(("is", "was", "appears", "looks", "remains"))
_VERDICTS = (["normal"], ["unremarkable"], ["fine"], ["preserve"], ["intact"])


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
    """Lexicon words of a statement with their places in the report text, and the levels among them."""

    words: list[str]
    found: list[re.Match[str]]
    groups: list[Group]

    def span(self, start: int, end: int) -> Span:
        """Give the text span of a half-open range of token positions."""
        return Span(self.found[start].start(), self.found[end - 1].end())


def tokenise(text: str, start: int, end: int, lex: Lexicon) -> Tokens:
    """Split ``text[start:end]`` into lexicon words, reading level names and lists of them on the way."""
    known = lex.spell.memory.get
    found = list(_TOKEN.finditer(text, start, end))
    bare = _opens_bare(text, start)
    if (
        text.find("-\n", start, end) >= 0
        or text.find("-\r", start, end) >= 0
        or text.find("\xad", start, end) >= 0
    ):
        return _rejoined(text, found, lex)
    words = [known(m[0]) or _word(m[0], lex) for m in found]
    if "." in words[:-1]:
        found, words = _without_dots(found, words, lex)
    if "/" in words and not _SIDE_LETTERS.keys().isdisjoint(words):
        found, words = _both_sides(found, words, lex)
    if not _JOINED.keys().isdisjoint(words):
        found, words = _parted(found, words)
    if not _SHORT.isdisjoint(words):
        _spell_short(words, lex)
    if bare:
        words[0] = "<disc>"
    for i, word in enumerate(words):
        if (
            word == "<disc>"
            and " " in found[i][0]
            and IS_ORDINAL.fullmatch(found[i][0])
            and _OTHER_COUNT.search(text)
        ):
            words[i] = found[i][0].lower()
        if len(word) > 2 and word[0].isdigit() and is_bare(found, i) and _of_lumbar_alone(text):
            words[i] = "<disc>"
    if "<disc>" in words or "<vert>" in words:
        for i in range(1, len(words) if "junction" in words else 0):
            if words[i] == "junction" and words[i - 1] in ("<disc>", "disc"):
                words[i] = "level"  # "the L5-S1 junction"; any other junction is a place of its own
        return Tokens(words, found, _groups(words, _places(found, words)))
    return Tokens(words, found, [])


def _without_dots(
    found: list[re.Match[str]], words: list[str], lex: Lexicon
) -> tuple[list[re.Match[str]], list[str]]:
    """Leave out the dot of a short form: ``deg. disc``."""
    dots = {
        i
        for i in range(1, len(words) - 1)
        if words[i] == "."
        and found[i - 1].end() == found[i].start()
        and (found[i - 1][0].lower() in lex.before_small or _cut_short(found, words, i, lex))
    }
    return [m for i, m in enumerate(found) if i not in dots], [
        w for i, w in enumerate(words) if i not in dots
    ]


def _cut_short(found: list[re.Match[str]], words: list[str], dot: int, lex: Lexicon) -> bool:
    """``no def. root compression``: an unknown word between a denial and a dot, behind which it goes on small."""
    return (
        dot > 1
        and words[dot - 2] in _DENIES
        and found[dot - 1][0].isalpha()
        and not _is_word(words[dot - 1], lex)
        and found[dot + 1][0][0].islower()
    )


def _both_sides(
    found: list[re.Match[str]], words: list[str], lex: Lexicon
) -> tuple[list[re.Match[str]], list[str]]:
    """Read ``B/L``, and ``R/L`` before a thing that has sides, as one word for both; else it may lead two values."""
    dropped: set[int] = set()
    words = list(words)
    for i in range(len(words) - 2):
        first, stroke, last = words[i : i + 3]
        if stroke != "/" or last not in _SIDE_LETTERS or i in dropped:
            continue
        behind = words[i + 3] if i + 3 < len(words) else ""
        pair = first in _SIDE_LETTERS and first != last
        ends = lex.trie.get(behind, {}).get("", ())
        sided = behind in _OF_A_SIDE or any(e.group in ("objects", "findings") for e in ends)
        if (first == "b" and last == "l") or (pair and sided):
            words[i] = _BOTH
            dropped |= {i + 1, i + 2}
    kept = [i for i in range(len(words)) if i not in dropped]
    return [found[i] for i in kept], [words[i] for i in kept]


def _parted(found: list[re.Match[str]], words: list[str]) -> tuple[list[re.Match[str]], list[str]]:
    """Read ``MC1`` as the two words that it stands for, both where it stands."""
    pairs = [(m, w) for m, word in zip(found, words, strict=True) for w in _JOINED.get(word, (word,))]
    return [m for m, _ in pairs], [w for _, w in pairs]


def _spell_short(words: list[str], lex: Lexicon) -> None:
    """Spell out ``R``, ``L`` and ``deg`` where the words beside them say what they stand for."""
    for i, word in enumerate(words):
        following = words[i + 1] if i + 1 < len(words) else ""
        if word in _SIDE_LETTERS:
            if following in _COMPARES and words[i + 2 : i + 3] and words[i + 2][0].isdigit():
                continue  # "L = 5 mm" may be a length
            if (
                following in _OF_A_SIDE
                or _describes_a_place(following, lex)
                or (i and words[i - 1] in _BEFORE_SIDE and following in _AFTER_SIDE)
            ):
                words[i] = _SIDE_LETTERS[word]
        elif word == "deg" and not (i and words[i - 1][:1].isdigit()):
            words[i] = "degenerative"


def _describes_a_place(word: str, lex: Lexicon) -> bool:
    ends = lex.trie.get(word, {}).get("", ())
    return any(e.group in ("attributes", "objects", "findings", "severity") for e in ends)


def _opens_bare(text: str, start: int) -> bool:
    """``4-5: bulge``: two numbers before a colon name a disc, in a text that speaks of the lumbar spine and of no other."""
    found = _BARE_HEADING.match(text, start)
    return found is not None and bool(read_bare(found[1]).discs) and _of_lumbar_alone(text)


def is_bare(found: list[re.Match[str]], at: int) -> bool:
    """``disc 3/4``: behind the word two numbers name a disc, of whichever part of the spine."""
    before, here = found[at - 1][0].lower() if at else "", found[at][0]
    behind = found[at + 1][0].lower() if at + 1 < len(found) else ""
    if behind == "of":
        return False  # "the disc 3/4 of its height"
    return before in _NAMES_DISC and _BARE.fullmatch(here) is not None and bool(read_bare(here).discs)


def _of_lumbar_alone(text: str) -> bool:
    return _OF_LUMBAR.search(text) is not None and _OF_ANOTHER.search(text) is None


def _rejoined(text: str, found: list[re.Match[str]], lex: Lexicon) -> Tokens:
    """Split a statement in which words are broken at the end of a line (``protru-`` and ``sion``): they are one word.

    Two words that are known by themselves stay two (``broad-`` and ``based``).
    """
    words: list[str] = []
    kept: list[re.Match[str]] = []
    past = -1
    for token in found:
        if token.start() < past:
            continue
        broken = _BROKEN.match(text, token.start(), found[-1].end())
        whole = "" if broken is None else broken["head"] + broken["tail"]
        if broken is None or broken.end("head") != token.end() or not _is_one(whole, broken, lex):
            if (
                token[0] in _DASHES
                and _BREAK.match(text, token.start())
                and text[token.start() - 1 : token.start()].isalpha()
            ):
                continue  # the hyphen of "right-sided"
            kept.append(token)
            words.append(lex.spell.memory.get(token[0]) or _word(token[0], lex))
            continue
        kept.append(broken)
        words.append(_word(whole, lex))
        past = broken.end()
    if not _SHORT.isdisjoint(words):
        _spell_short(words, lex)
    if "<disc>" in words or "<vert>" in words:
        return Tokens(words, kept, _groups(words, _places(kept, words)))
    return Tokens(words, kept, [])


def _is_one(whole: str, broken: re.Match[str], lex: Lexicon) -> bool:
    head = broken["head"].lower()
    if broken["soft"] or _is_word(whole.lower(), lex):
        return True
    return head not in _COMPOUNDS and not _is_word(head, lex)


def _is_word(word: str, lex: Lexicon) -> bool:
    return lex.spell.knows(word) or word in lex.trie


def _word(raw: str, lex: Lexicon) -> str:
    """Find the lexicon word of a token not met before; level names stand as ``<disc>`` or ``<vert>``."""
    ordinal = " " in raw and IS_ORDINAL.fullmatch(raw) is not None
    if raw[0].isalpha() or ordinal:
        if ordinal or _LEVEL.fullmatch(raw):
            place = read_place(raw)
            word = "<disc>" if place.discs else "<vert>" if place.vertebra else raw.lower()
            return lex.spell.keep(raw, word)
        return lex.spell(raw)
    return lex.spell.keep(raw, ":" if raw.startswith("....") else raw.lower())


def _places(found: list[re.Match[str]], words: list[str]) -> list[tuple[int, Place]]:
    """Read the level names; a bare ``4-5`` counts after another disc in a list."""
    places: list[tuple[int, Place]] = []
    for at, word in enumerate(words):
        if word == "<disc>" or word == "<vert>":
            raw = found[at][0]
            places.append((at, read_bare(raw) if _BARE.fullmatch(raw) else read_place(raw)))
        elif (
            places
            and len(word) > 2
            and word[0].isdigit()
            and at - places[-1][0] <= 4
            and _BARE.fullmatch(word)
        ):
            place = read_bare(word)
            graded = at == places[-1][0] + 1 and "modic" in words[:at]  # "Modic L4-5 1-2": a type
            if place.discs and not graded and _listed(words[:at], places[-1][0] + 1):
                words[at] = "<disc>"
                places.append((at, place))
    return places


def _listed(words: list[str], start: int) -> bool:
    return all(w in _LIST_WORDS or w in _RANGE_WORDS for w in words[start:])


def _has_its_own(words: list[str], at: int) -> bool:
    """``L3-4 (mild), L4-5 (with a tear)``: words in brackets right behind a level are of that level alone."""
    if words[at : at + 1] != ["("] or ")" not in words[at:]:
        return False
    inside = words[at + 1 : words.index(")", at)]
    return "<disc>" not in inside and any(w.isalnum() for w in inside)


def _groups(words: list[str], places: list[tuple[int, Place]]) -> list[Group]:
    """Join neighbouring level names into lists and ranges (``L3-4, L4-5 and L5-S1``, ``L1-2 to L4-5``)."""
    if not places:
        return []
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
        again = not set(last.discs).isdisjoint(g.discs)  # "L4-5 and L5-S1, the L4-5 prolapse ..."
        again = again or (last.start > 0 and words[last.start - 1] in _AT and _called_normal(words, g.end))
        if gap[:1] == [","] and not _COMPARED.isdisjoint(words[max(0, last.start - 3) : last.start]):
            again = True  # "compared with L3-4, the L4-5 disc ..."
        again = again or _has_its_own(words, g.end)
        if g.discs and last.discs and not again and len(gap) <= 4 and _LIST_WORDS.issuperset(gap):
            joined[-1] = Group(last.start, g.end, tuple(dict.fromkeys((*last.discs, *g.discs))), "")
        else:
            joined.append(g)
    return joined


def _called_normal(words: list[str], at: int) -> bool:
    """``bulge at L3-4, the L4-5 disc is normal``: the later level has a verdict of its own."""
    at += words[at : at + 1] in (["disc"], ["level"])
    return words[at : at + 1] != [] and words[at] in _VERBS and words[at + 1 : at + 2] in _VERDICTS


def match(words: list[str], lex: Lexicon) -> list[Match]:
    """Find the longest lexicon phrase at each place, left to right, without overlaps."""
    found: list[Match] = []
    trie = lex.trie
    past, size = 0, len(words)
    for at, word in enumerate(words):
        node = trie.get(word)
        if node is None or at < past:
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
            continue
        for entry in ends:
            found.append(Match(at, stop, entry))
        past = stop
    return found
