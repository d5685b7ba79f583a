"""Is a report written in English? Told from a small profile of words for each language (``languages.yaml``).

Short reports of Latin terms and abbreviations are English as long as nothing speaks for another language.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Any, NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.gate_words import pieces, words_of
from candidacy.reading.lexicon import Lexicon
from candidacy.reading.model import Mark, Span

_PIECE = re.compile(r"[^\n\r.!?;:|]+")
_WORD = re.compile(r"[^\W\d_]+")
_FEW = 12
"""A text of fewer words is never refused for what it lacks."""
_LEAST = 0.15
"""The share of a text's words that the reader or a short list of English words knows; the least of 470 real and invented notes is 0.4."""
_WHOLE = 0.25
"""From this share of foreign words on, or two sentences, the whole report is refused."""
NEXT = "have it translated by a person who reads both, and read the translation"


class _Profile(NamedTuple):
    name: str
    telling: frozenset[str]
    small: frozenset[str]
    starts: tuple[str, ...]


class _Known(NamedTuple):
    english: frozenset[str]
    profiles: tuple[_Profile, ...]
    all_telling: frozenset[str]
    start_pieces: tuple[str, ...]


@cache
def profiles() -> _Known:
    """The lists of words, without those that English has as well."""
    data: dict[str, Any] = rows_of("languages")
    rows = [
        _Profile(
            r["name"],
            frozenset(r["telling"].split()),
            frozenset(r["small"].split()),
            tuple(r.get("starts", "").split()),
        )
        for r in data["languages"]
    ]
    return _Known(
        frozenset(data["english"].split()),
        tuple(rows),
        frozenset().union(*(r.telling for r in rows)),
        pieces([w for r in rows for w in r.starts]),
    )


class Foreign(NamedTuple):
    """What is not English: the marks, and the stretches of text that must not be read."""

    marks: tuple[Mark, ...]
    spans: tuple[Span, ...]


def foreign(text: str, lex: Lexicon, words: Sequence[str] | None = None) -> Foreign:
    """Find what of a report is in another language; the whole report where much of it is.

    ``words`` are those of the text, where they are known already (`words_of`).
    """
    known = profiles()
    words = words_of(text) if words is None else words
    plain = text.isascii() and known.all_telling.isdisjoint(words)
    if plain:
        low = text.lower()
        plain = not any(p in low for p in known.start_pieces)
    found = [] if plain else _sentences(text, known)
    if not found:
        if len(words) < _FEW or _is_known(words, lex):
            return Foreign((), ())
        mark = Mark("language", "hardly a word of it is known as English", True, next_step=NEXT)
        return Foreign((mark,), ())
    told: Counter[str] = Counter()
    for _, language, count in found:
        told[language] += count
    name, strange = max(told, key=lambda n: told[n]), told.total()
    spans = tuple(span for span, _, _ in found)
    if len(found) > 1 or strange >= _WHOLE * len(words):
        about = f"it is written in {name}" if 2 * strange > len(words) else f"parts of it are in {name}"
        return Foreign((Mark("language", about, True, spans[0], NEXT),), spans)
    return Foreign((Mark("language", f"a sentence in {name} was not read", False, spans[0], NEXT),), spans)


def _sentences(text: str, known: _Known) -> list[tuple[Span, str, int]]:
    """The sentences that are not English, each with its language and how many words it has."""
    out: list[tuple[Span, str, int]] = []
    for piece in _PIECE.finditer(text):
        written = _WORD.findall(piece[0])
        words = [w.lower() for w in written]
        others = sum(len(w) for w in words if not _is_latin(w))
        language = "a script other than the Latin one" if 2 * others > sum(map(len, words)) else ""
        if not language:
            marked = sum(not w.isascii() and len(w) > 3 and w[0].islower() for w in written)
            language = _language(words, marked, known)
        if language:
            out.append((Span(piece.start(), piece.end()), language, len(words)))
    return out


def _language(words: list[str], marked: int, known: _Known) -> str:
    """Name the language of a sentence, or give nothing if nothing speaks against English.

    ``marked`` counts words with letters that English does not have, names apart.
    """
    best, most = "", 0
    english = sum(w in known.english for w in words)
    for p in known.profiles:
        telling = sum(w in p.telling or (bool(p.starts) and w.startswith(p.starts)) for w in words)
        small = sum(w in p.small for w in words)
        seen = telling + small
        enough = telling > 1 or (telling and small) or (telling and len(words) <= 4)
        if enough and seen > english and seen > most:
            best, most = p.name, seen
    return best or ("another language" if marked > 1 and marked > english else "")


def _is_known(words: Sequence[str], lex: Lexicon) -> bool:
    """Whether enough of the words are known as English; letters alone do not count."""
    known = _familiar(lex).__contains__
    if sum(map(known, words[: len(words) // 3])) >= _LEAST * len(words):
        return True  # the rest of them can only add to it
    seen = sum(map(known, words))
    return seen >= _LEAST * len(words) or seen >= _LEAST * sum(len(w) > 1 for w in words)


@lru_cache(maxsize=1)
def _familiar(lex: Lexicon) -> frozenset[str]:
    """Words that are known as English, letters apart."""
    every = profiles().english | lex.spell.spellings() | lex.title_words
    return frozenset(w for w in every if len(w) > 1)


def _is_latin(word: str) -> bool:
    return word.isascii() or all(
        unicodedata.name(ch, "").startswith(("LATIN", "MICRO")) for ch in word if ch.isalpha()
    )
