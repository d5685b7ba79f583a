"""The words of ``gates.yaml``, ready for use."""

import re
from collections.abc import Iterable
from functools import cache
from typing import Any, NamedTuple

from candidacy.reading.data_files import rows_of

_LINE = r"(?:(?<=[\r\n])|\A)[^\w\r\n]*"
_LETTERS = re.compile(r"[^\W\d_]+")
NO = "no,"
"""The one of the words that correct of which the letters stand in most texts."""
_END = r"(?=[\r\n]|\Z)"
_STANDING = ("withdrawn", "preliminary", "amended")


class GateWords(NamedTuple):
    """What the gates look for; phrases of ``standing`` are tuples of words, by the kind of mark."""

    standing: dict[str, frozenset[tuple[str, ...]]]
    first_words: frozenset[str]
    standing_words: re.Pattern[str]
    standing_pieces: frozenset[str]
    about: frozenset[str]
    any_addendum: re.Pattern[str]
    addendum_pieces: tuple[str, ...]
    addendum: re.Pattern[str]
    addendum_over: re.Pattern[str]
    corrects: re.Pattern[str]
    levels_wrong: re.Pattern[str]
    of_levels: re.Pattern[str]
    renames: re.Pattern[str]
    renames_alone: frozenset[str]
    renames_with: frozenset[str]
    another_name: re.Pattern[str]
    mixed_up: re.Pattern[str]
    doubts: dict[str, re.Pattern[str]]
    turns: re.Pattern[str]
    turn_pieces: tuple[str, ...]
    weak_turns: frozenset[str]
    placeholder: frozenset[str]
    signature: frozenset[str]
    upper_spine: str
    number: re.Pattern[str]


@cache
def gate_words() -> GateWords:
    """Load the words once."""
    data: dict[str, Any] = rows_of("gates")
    standing = {k: frozenset(tuple(re.findall(r"[^\W_]+", p)) for p in data[k]) for k in _STANDING}
    longest = [max(p.split(), key=len) for k in _STANDING for p in data[k]]
    return GateWords(
        standing,
        frozenset(phrase[0] for phrases in standing.values() for phrase in phrases),
        re.compile(rf"(?<!\w)(?:{'|'.join(longest)})(?!\w)", re.I),
        frozenset(w.lower() for p in longest for w in _LETTERS.findall(p)[:1]),
        frozenset(data["about"].split()),
        re.compile(_any(data["addendum"]), re.I),
        pieces(data["addendum"]),
        re.compile(
            rf"{_LINE}(?:{_any(data['addendum'])})\b(?:[^.:\r\n]{{0,60}}:|[^.:\r\n]{{0,60}}{_END})", re.I
        ),
        re.compile(rf"{_LINE}(?:{_any(data['addendum_over'])})\b[^\w\r\n]*(?::|{_END})", re.I),
        re.compile(rf"(?<!\w)(?:{_any(data['corrects'])})(?!\w)", re.I),
        re.compile(rf"(?<!\w)(?:{_any(data['levels_wrong'])})(?!\w)", re.I),
        re.compile(rf"(?<!\w)(?:{_any(data['of_levels'])})(?!\w)", re.I),
        re.compile(rf"(?<!\w)(?:{_any(data['renames'])})(?!\w)", re.I),
        frozenset(data["renames_alone"].split()),
        frozenset(data["renames_with"].split()),
        _another_name(data),
        _mixed_up(**data["mixed_up"]),
        {name: re.compile(rf"(?<!\w)(?:{_any(some)})(?!\w)", re.I) for name, some in data["doubts"].items()},
        _turns(data),
        pieces([w for w in (*data["turns"], *data["turns_first"]) if w != NO]),
        frozenset(data["turns_first"]),
        frozenset(data["placeholder"].split()),
        frozenset(data["signature"]),
        data["upper_spine"],
        re.compile(rf"(?<!\w)(?:{_any(data['number'])})\W{{0,5}}([A-Za-z0-9][\w\-./]{{2,40}})", re.I),
    )


def words_of(text: str) -> list[str]:
    """Give the words of a text in small letters, each a run of letters."""
    if text.isascii():
        return _LETTERS.findall(text.lower())
    return [w.lower() for w in _LETTERS.findall(text)]


def pieces(phrases: Iterable[str]) -> tuple[str, ...]:
    """Give runs of small letters without which a text in ASCII holds none of the phrases, as few as will do."""
    runs = {max(_LETTERS.findall(p), key=len).lower() for p in phrases}
    return tuple(r for r in sorted(runs) if not any(o != r and o in r for o in runs))


def _turns(data: dict[str, Any]) -> re.Pattern[str]:
    """Words that correct: at the beginning of a sentence, and most of them behind a sign within one."""
    anywhere = r"(?:\A|(?<=[\r\n.!?;,:(\[–—-])|(?<=[.!?;,:(\[–—-][ \t]))\W{0,6}"
    first = r"(?:\A|(?<=[\r\n.!])|(?<=[.!][ \t]))\W{0,4}"
    behind = rf"(?!\w)(?!\s+(?:{_one_of(data['turns_not'])})\b)"
    both = rf"{anywhere}(?:{_any(data['turns'])})|{first}(?:{_any(data['turns_first'])})"
    return re.compile(rf"(?:{both}){behind}", re.I)


def _one_of(words: str) -> str:
    return "|".join(map(re.escape, words.split()))


def _another_name(data: dict[str, Any]) -> re.Pattern[str]:
    """``@ is @``, ``what was called @ here is really @``: two levels, each written as ``@``, with little but a copula between them."""
    little = rf"(?:\W*\b(?:{_one_of(data['renames_with'])}|really|in|fact|actually|this)\b){{0,5}}"
    return re.compile(
        rf"@{little},?(?:\s+|\s*(?==))(?:{_one_of(data['another_name'])})(?!\w){little}\W*@", re.I
    )


def _mixed_up(what: list[str], how: list[str]) -> re.Pattern[str]:
    """``Levels were swapped``, ``swap the two levels``; nothing is switched "off" or "to"."""
    things, ways = _any(what), _any(how)
    near = r"\W+(?:\w+\W+){0,4}?"
    return re.compile(
        rf"\b(?:(?:{things}){near}(?:{ways})(?!\s+(?:off|on|to)\b)|(?:{ways}){near}(?:{things}))\b", re.I
    )


def _any(phrases: list[str]) -> str:
    return "|".join(r"\s+".join(map(re.escape, p.split())) for p in sorted(phrases, key=len, reverse=True))
