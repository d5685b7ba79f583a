"""Texts of which a regular expression needs one, so that most texts are passed over before any expression is made ready.

To make a long expression of alternatives ready takes far longer than to look for a few letters in a text. `needed` works out
short texts of which every match holds at least one; a text with none of them is no match. The technique: Cox R,
"Regular Expression Matching in the Wild" (2010), on sets of filtered expressions.
"""

import re
from collections.abc import Iterable, Iterator
from functools import cache
from typing import NamedTuple

# Joined parts that may be more texts than these are told apart no further.
_MOST = 16
_TOKEN = re.compile(
    r"(?P<escaped>\\.)|(?P<set>\[\^?\]?(?:\\.|[^\]\\])*\])|(?P<opens>\((?P<kind>\?(?:[:=!]|<[=!]))?)|(?P<closes>\))|(?P<or>\|)"
    r"|(?P<times>(?:[?*+]|\{(?P<least>\d*)(?:,\d*)?\})[?+]?)|(?P<any>\.)|(?P<edge>[\^$])|(?P<plain>[^\\\[\]()|?*+{}.^$]+(?![?*+{])|.)",
    re.DOTALL,
)
_WORD = re.compile(r"\w+")
_RANGE = re.compile(r"([a-z0-9])-([a-z0-9])")


class _Read(NamedTuple):
    """What a part of an expression matches: all of it, where that is few texts; and texts of which it needs one."""

    whole: frozenset[str] | None
    needs: frozenset[str]


_UNKNOWN = frozenset[str]()
_NOTHING = frozenset(("",))
_EMPTY = _Read(_NOTHING, _UNKNOWN)
_ANYTHING = _Read(None, _UNKNOWN)


def needed(expression: str) -> frozenset[str]:
    """Texts of which each match of an expression holds one; none where that cannot be told.

    Reads literals, groups that keep nothing, sets, quantifiers, and what looks ahead or behind, which it passes over. Flags
    are not known: of an expression that ignores case it tells too much.

    Raises
    ------
    ValueError
        For a group of another kind.
    """
    return _either(_TOKEN.finditer(expression)).needs


def _either(tokens: Iterator[re.Match[str]]) -> _Read:
    """What the alternatives match up to the end of their group."""
    wholes: set[str] | None = set()
    needs: set[str] | None = set()
    more = True
    while more:
        read, more = _sequence(tokens)
        wholes = None if wholes is None or read.whole is None else wholes | read.whole
        needs = None if needs is None or not read.needs else needs | read.needs
    few = wholes is not None and len(wholes) <= _MOST
    return _Read(frozenset(wholes) if few and wholes is not None else None, frozenset(needs or ()))


def _sequence(tokens: Iterator[re.Match[str]]) -> tuple[_Read, bool]:
    """What parts match one behind the other, and whether another alternative follows."""
    parts: list[_Read] = []
    more = False
    for token in tokens:
        kind = token.lastgroup
        if kind in ("closes", "or"):
            more = kind == "or"
            break
        if kind == "times":
            parts.append(_several(parts.pop(), token))
        else:
            parts.append(_part(kind, token, tokens))
    return _joined(parts), more


def _joined(parts: list[_Read]) -> _Read:
    best, run, broken = _UNKNOWN, _NOTHING, False
    for part in parts:
        if part.whole is not None and len(run) * len(part.whole) <= _MOST:
            run = frozenset([a + b for a in run for b in part.whole])
        else:
            best, broken = _better(_better(best, run), part.needs), True
            run = _NOTHING if part.whole is None else part.whole
    return _Read(None if broken else run, _better(best, run))


def _better(one: frozenset[str], other: frozenset[str]) -> frozenset[str]:
    """The set that fewer texts hold one of: that of longer words; none where one of its texts is empty."""
    rare_one, rare_other = (min(map(_rareness, texts), default=(0, 0)) for texts in (one, other))
    if rare_one == rare_other:
        return min(one, other, key=len) if rare_one[1] else _UNKNOWN
    return one if rare_one > rare_other else other


@cache
def _rareness(text: str) -> tuple[int, int]:
    """How long the longest word of a text is, and the text: "saddle" is rarer than " of the "."""
    return max(map(len, _WORD.findall(text)), default=0), len(text)


def _several(read: _Read, token: re.Match[str]) -> _Read:
    """What a part matches with the quantifier behind it."""
    if token[0][0] == "?":
        return _Read(read.whole | _NOTHING if read.whole is not None else None, _UNKNOWN)
    at_least_one = token[0][0] == "+" or bool(token["least"] and int(token["least"]))
    return _Read(None, read.needs if at_least_one else _UNKNOWN)


def _part(kind: str | None, token: re.Match[str], tokens: Iterator[re.Match[str]]) -> _Read:
    """What one token matches, or the group that it opens."""
    if kind == "plain":
        return _of((token[0],))
    if kind == "opens":
        inside = _either(tokens)
        if token["kind"] is None:
            raise ValueError("a group that keeps what it matches, or of another kind, is not read here")
        return inside if token["kind"] == "?:" else _EMPTY
    if kind == "set":
        members = token[0][1:-1]
        known = members[0] != "^" and "\\" not in members
        return _of(_RANGE.sub(_filled, members)) if known else _ANYTHING
    if kind == "escaped":
        sign = token[0][1]
        return _EMPTY if sign == "b" else _ANYTHING if sign.isalnum() else _of((sign,))
    return _EMPTY if kind == "edge" else _ANYTHING


def _of(texts: Iterable[str]) -> _Read:
    found = frozenset(texts)
    return _Read(found, found) if len(found) <= _MOST else _ANYTHING


def _filled(found: re.Match[str]) -> str:
    return "".join(map(chr, range(ord(found[1]), ord(found[2]) + 1)))
