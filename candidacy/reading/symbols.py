"""A statement written as a row of letters, one for each word that matters; the clause grammar is matched on these.

Which word and which kind of entry gives which letter is data (``clauses.yaml``), and what each letter means stands there.
"""

import re
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.beside import beside
from candidacy.reading.clause_data import clause_data
from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import lexicon
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import ABSENT, PRESENT
from candidacy.reading.times import other_times

_NONE = ("none", "absent")
_RUNS = frozenset("FfhHZKO#U")
"""Letters of which a run counts as one."""
_UNSAID = frozenset("ZSsPWQA#OU")
"""Letters that give way inside a finding's own words."""
_BARE_ACTS = frozenset(("narrow", "compress", "loss", "dim", "off", "collapse", "normal", "tear"))
"""Actions that, without a thing they are said of, leave something unsaid."""


class Row(NamedTuple):
    """The letters of a statement, and for each the token at which it stands."""

    letters: str
    at: tuple[int, ...]


class _Letters(dict[str, str]):
    """The letter of each word; any other has one by what it is made of."""

    def __missing__(self, word: str) -> str:
        return "Z" if word[0].isalpha() else "#" if _NUMBER.match(word) else ""


@cache
def _by_word() -> _Letters:
    spell = lexicon().spell
    data = clause_data()
    silent = {spell(w): "" for w in data["silent"].split()}
    return _Letters(
        silent | {spell(w): letter for letter, words in data["words"].items() for w in words.split()}
    )


@cache
def _described() -> frozenset[str]:
    return frozenset(clause_data()["described"].split())


_PAST = ("historical", "resolved")
_DONE = frozenset(("prior_surgery", "implant"))
_OF_LEVELS = ("compared", "exception")
"""Places that count only with a level behind them."""
_SIGNS = frozenset(("-", "–", "—", ":", "=", "("))
_NEXT_BY_NAME = ["adjacent", "level"]
_PURPOSE = "u"
_TURNS = frozenset("JoQX")
_PLURAL = ("are", "were")
_NUMBER = re.compile(r"\d")
_NUMERALS = frozenset(("i", "ii", "iii", "iv", "v"))


def letter_of(m: Mention, after: int | None = None) -> str:
    """Give the letter of a finding: asserted, asserted by a denial, or said in a way that asserts nothing.

    ``after`` is the token behind "status post", from which on what was done is of the past.
    """
    if not m.mods and m.status == PRESENT and (after is None or m.start < after):
        return "F"
    kinds = {x.entry.kind for x in m.mods}
    if "historical" in kinds and m.kind in LASTING:
        return "H"
    if after is not None and m.start >= after and m.kind in _DONE and not kinds and m.status == PRESENT:
        return "H"
    denied = "negation" in kinds
    if m.status == PRESENT:
        return "f" if denied else "F"
    if m.status != ABSENT or m.value in _NONE:
        return "h"  # "not normal" says nothing exact
    return "f" if denied else "F"


def row_of(parts: Parts, levels: Sequence[Group], named: Sequence[Group], mentions: Sequence[Mention]) -> Row:
    """Write a statement as letters; ``levels`` are those of which something is said, ``named`` all as they are written."""
    by_word = _by_word()
    letters = [by_word[w] for w in parts.words]
    fresh = clause_data()["fresh"].split() if not _TURNS.isdisjoint(letters) else ()
    for i, word in enumerate(parts.words) if fresh else ():
        if word == "seen" and i and letters[i - 1] in _TURNS:
            letters[i] = "g"  # "absent at L3-4 and present at L4-5"
        elif word in fresh and i and letters[i - 1] in _TURNS:
            letters[i] = "A"
    for i in _grades_in_letters(parts.words):
        letters[i] = "#"
    for i in other_times(parts, mentions):
        letters[i] = "t"
    for start, end, _ in parts.attributes:
        letters[start:end] = [""] * (end - start)
    if "J" in letters and not _described().isdisjoint(parts.words):
        for i, word in enumerate(parts.words):
            if i and letters[i - 1] == "J" and word in _described():
                letters[i] = "A"  # "no fissure and large protrusion"
    for rows, plain in ((parts.objs, "O"), (parts.acts, "U"), (parts.known, "K"), (parts.heads, "K")):
        for start, end, entry in rows:
            letter = plain
            if entry.kind in ("disc", "contour") or (plain == "O" and entry.weak):
                letter = ""
            elif plain == "U" and entry.kind not in _BARE_ACTS:
                letter = "O"
            letters[start:end] = [letter] * (end - start)
    wanders = clause_data()["wanders"]
    astray = any(m.value in wanders for m in mentions)
    _places(parts, levels, named, astray, letters)
    _findings(parts, mentions, letters)
    _severities(parts, mentions, letters)
    _modifiers(parts, mentions, letters)
    for i in _verdicts(parts, mentions):
        letters[i] = ";"
    for i in _listed(parts, mentions):
        letters[i] = "J"
    for i, letter in beside(parts, mentions).items():
        letters[i] = letter
    for g in levels:
        letters[g.start : g.end] = ["L"] + [""] * (g.end - g.start - 1)
    return _row(letters)


def _grades_in_letters(words: Sequence[str]) -> list[int]:
    """``Modic I at L4-5, II at L5-S1``: a numeral before a level is a grade as a figure is."""
    if lexicon().scales.isdisjoint(words):
        return []
    return [
        i
        for i, w in enumerate(words[:-1])
        if w in _NUMERALS and "<disc>" in words[i + 1 : i + 3] and words[i + 1] in ("<disc>", "at", "in")
    ]


def _places(
    parts: Parts, levels: Sequence[Group], named: Sequence[Group], astray: bool, letters: list[str]
) -> None:
    table = clause_data()["places"]
    for p in parts.places:
        kind = p.entry.kind
        if kind not in table:
            continue
        at_level = kind not in _OF_LEVELS or "<disc>" in parts.words[p.end : p.end + 4]
        if not (at_level or (kind == "exception" and not p.start)):
            continue
        if kind == "beyond" and (astray or not _is_beside(parts, p, levels, named)):
            continue  # the level was read as the one that is meant
        letters[p.start : p.end] = [table[kind]] + [""] * (p.end - p.start - 1)


def _is_beside(parts: Parts, p: Match, levels: Sequence[Group], named: Sequence[Group]) -> bool:
    """Say whether a place is told by a level that it is not, and no level behind it says which it is.

    ``the disc below L4-5`` is not that level, ``the disc below: L5-S1`` is the one named.
    """
    at = p.end + (parts.words[p.end : p.end + 1] == ["the"])
    if parts.words[p.start : p.end] == _NEXT_BY_NAME and any(g.start == p.end for g in levels):
        return False  # "adjacent level L4-5: bulge"
    told = [g for g in named if p.start <= g.start < p.end or g.start == at]
    if told:
        return any(g.start == h.start and g.discs == h.discs for g in levels for h in told)
    return not any(g.start >= p.end for g in levels)


def _findings(parts: Parts, mentions: Sequence[Mention], letters: list[str]) -> None:
    cores = [(x.start, x.end) for x in (*parts.heads, *parts.acts, *parts.objs)]
    own: dict[int, str] = {}
    after = next((x.end for x in parts.mods if x.entry.reach == "phrase"), None)
    for m in mentions:
        letter, low, high = letter_of(m, after), m.start, m.end
        held = [i for start, end in cores if low <= start and end <= high for i in range(start, end)]
        for i in range(low, high):
            if letters[i] in _UNSAID:
                letters[i] = ""
        for i in held or (low,):
            if own.get(i) != "F":  # what asserts shows before what does not
                own[i] = letter if own.get(i) != "f" or letter == "F" else "f"
    for i, letter in own.items():
        letters[i] = letter
    for x in parts.heads:
        if x.entry.status == ABSENT:  # "no prior surgery" holds its own denial
            letters[x.start : x.end] = ["N", *"f" * (x.end - x.start - 1)]


def _severities(parts: Parts, mentions: Sequence[Mention], letters: list[str]) -> None:
    used = {m.severity_at for m in mentions} if parts.severities else ()
    for start, end, _ in parts.severities:
        inside = any(m.start <= start and end <= m.end for m in mentions)
        letters[start:end] = ["S" if inside or (start, end) in used else "s"] + [""] * (end - start - 1)


def _verdicts(parts: Parts, mentions: Sequence[Mention]) -> list[int]:
    """Give the commas behind which a thing is called normal: ``no bulge or herniation, canal patent``."""
    found: list[int] = []
    normal = [m for m in mentions if m.value in _NONE and m.status == PRESENT and not m.mods and m.obj]
    if not normal:
        return found
    ends = [m.end for m in mentions if any(x.entry.kind == "negation" and x.end <= m.start for x in m.mods)]
    for m in normal:
        if min(ends, default=m.end) < m.start:
            at = m.start - 1
            if at > 0 and parts.words[at] == "the":
                at -= 1
            if at > 0 and parts.words[at] == ",":
                found.append(at)
    return found


def _listed(parts: Parts, mentions: Sequence[Mention]) -> list[int]:
    """Give the commas of a list that one plural verb denies: ``bulge, tear, stenosis are not seen``."""
    found = []
    for x in parts.mods:
        if x.entry.kind == "negation" and x.entry.reach == "backward" and parts.words[x.start] in _PLURAL:
            own = [m for m in mentions if any(y is x for y in m.mods)]
            low = min((m.end for m in own), default=x.start)
            found += [i for i in range(low, x.start) if parts.words[i] == ","]
    return found


def _modifiers(parts: Parts, mentions: Sequence[Mention], letters: list[str]) -> None:
    if not parts.mods:
        return
    table = clause_data()["modifiers"]
    used: set[tuple[int, str]] = set()
    starts: set[int] = set()
    lasting: set[int] = set()  # "the bulge described before is unchanged"
    for m in mentions:
        for x in m.mods:
            used.add((x.start, x.entry.id))
            starts.add(x.start)
            if m.status == PRESENT and x.entry.kind in _PAST:
                lasting.add(x.start)
    done: set[int] = set()
    for x in parts.mods:
        name = x.entry.kind
        if x.entry.reach == "backward":
            name += "_end" if x.entry.at_end else "_after"
        elif x.entry.reach == "forward_far":
            name += "_far"
        pair = table.get(name) or table.get(x.entry.kind)
        if pair is None:
            letters[x.start : x.end] = ["" if c == _PURPOSE else c for c in letters[x.start : x.end]]
        mine = (x.start, x.entry.id) in used
        if x.entry.at_end and not mine and not _stray(parts.words, x, mentions):
            continue  # it stands not at the end, so it says something else
        if pair is None or x.start in done or (x.start in starts and not mine):
            continue
        if not mine and any(not m.mods and m.start <= x.start and x.end <= m.end for m in mentions):
            continue  # the word is the finding's own: "Modic: none"
        done.add(x.start)
        if mine and x.start in lasting:
            continue
        letters[x.start : x.end] = [pair[0] if mine else pair[1]] + [""] * (x.end - x.start - 1)


def _stray(words: Sequence[str], x: Match, mentions: Sequence[Mention]) -> bool:
    """Say whether a denial that belongs to the end of a clause stands right beside a finding elsewhere.

    ``Neg. herniation`` opens a clause, and of ``HIZ negative bulge`` nobody can tell which of both it denies.
    """
    if x.entry.kind != "negation":
        return False
    before = words[x.start - 1] if x.start else ""
    opens = not before or (before != "<disc>" and not before[0].isalnum())
    return (opens and any(m.start == x.end for m in mentions)) or any(
        m.end <= x.start and _SIGNS.issuperset(words[m.end : x.start]) for m in mentions
    )


def _row(letters: Sequence[str]) -> Row:
    row: list[str] = []
    at: list[int] = []
    last = ""
    for i, letter in enumerate(letters):
        if letter and (letter != last or letter not in _RUNS):
            row.append(letter)
            at.append(i)
            last = letter
    return Row("".join(row), tuple(at))
