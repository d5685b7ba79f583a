"""Headings of a report in every place where they are found: with a colon, a dash, in capitals, marked up, on a line."""

import re
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.lexicon import Heading, Lexicon

_WORDS = re.compile(r"[^\W_]+(?:['’][a-z]+)?")
_LONGEST, _LONGEST_ALONE = 48, 34
_DECOR = r"[\[=_<~*#\s]*"
_CLOSE = r"(?:\*{1,3}|_{2,3}|\]|>|={2,}|~{2,})"
_NUMERAL = re.compile(r"\s*(?:[IVX]{1,4}|[A-H])[.)]\s+(?=[A-Z]{4})")


class _Words(NamedTuple):
    """The data file: what counts without a colon, what needs it, and what may stand beside a heading."""

    lead: re.Pattern[str]
    capitals: re.Pattern[str]
    tail: re.Pattern[str]
    colon_only: frozenset[str]
    main: frozenset[str]
    filler: frozenset[str]
    joins: frozenset[str]


@cache
def _words() -> _Words:
    data = rows_of("sections")
    rows = sorted(data["main"], key=len, reverse=True)
    any_of = "|".join(r"\s+".join(map(re.escape, p.split())) for p in rows)
    capitals = "|".join(r"\s+".join(map(re.escape, p.upper().split())) for p in rows)
    dash = r"(?:\s*[–—]+\s*|\s+-+>?\s+|-+\s+|\s*=+>?\s+|\s*>+\s+)"
    return _Words(
        re.compile(rf"{_DECOR}(?P<name>{any_of})(?:{dash}|\s*{_CLOSE}\s*[-–—:.]*\s*)(?=\S)", re.IGNORECASE),
        re.compile(rf"{_DECOR}(?P<name>{capitals})\s+(?=[A-Z][a-z]|[LS]\d)"),
        re.compile(rf"(?<=[a-z.)\d]\s)(?P<name>{capitals})\s*\Z"),
        frozenset(data["colon_only"]),
        frozenset(data["main"]),
        frozenset(data["filler"].split()),
        frozenset(data["joins"]),
    )


def numeral(text: str, at: int, end: int) -> int:
    """Give where the words begin behind a numeral or letter that counts sections (``II. FINDINGS``)."""
    m = _NUMERAL.match(text, at, end)
    return m.end() if m else at


def lead(text: str, at: int, end: int) -> tuple[int, int, int] | None:
    """Give a heading without a colon at a place: where its name begins and ends, and where its text begins."""
    words = _words()
    m = words.lead.match(text, at, end) or words.capitals.match(text, at, end)
    return (m.start("name"), m.end("name"), m.end()) if m else None


def spoken(text: str, start: int, end: int) -> list[tuple[int, int]]:
    """Give the headings of a line dictated without a stop: ``history back pain technique t2 findings there is``."""
    first, then = _spoken()
    m = first.match(text, start, end)
    if m is None:
        return []
    found = [(m.start("name"), m.end("name"))]
    for name in then:
        follows = name.search(text, found[-1][1], end)
        if follows is not None:
            found.append((follows.start("name"), follows.end("name")))
    return found if len(found) > 2 else []


@cache
def _spoken() -> tuple[re.Pattern[str], list[re.Pattern[str]]]:
    data = rows_of("sections")["spoken"]
    any_of = "|".join(r"\s+".join(p.split()) for p in sorted(data["first"], key=len, reverse=True))
    first = re.compile(rf"\s*(?P<name>{any_of})\s+(?=\w)", re.IGNORECASE)
    then = [re.compile(rf"(?<=\w)[.,;]?\s+(?P<name>{w})\s+(?=\w)", re.IGNORECASE) for w in data["then"]]
    return first, then


def tail(text: str, at: int, stop: int) -> int:
    """Give where a heading in capitals begins that ends at a colon in the middle of a line; -1 if there is none."""
    m = _words().tail.search(text, max(at, stop - _LONGEST), stop)
    return m.start("name") if m else -1


def heading(text: str, start: int, end: int, lex: Lexicon, *, colon: bool, whole: bool) -> Heading | None:
    """Give the section that words open, if they are a heading.

    Parameters
    ----------
    colon
        A colon, or what does its work, stands behind them.
    whole
        They are all of their line.
    """
    if end - start > (_LONGEST if colon else _LONGEST_ALONE):
        return None
    body = text[start:end].lower()
    first = _WORDS.search(body)
    if first is None or first[0] not in _first_words(lex):
        return None
    words = _WORDS.findall(body)
    body = " ".join(words)
    data = _words()
    found = lex.headings.get(body)
    if found is not None and not (colon and text[end - 1].isdigit()):
        alone = body in data.main or (whole and body not in data.colon_only)
        return found if colon or (alone and body not in data.colon_only) else None
    if not (colon or whole) or len(words) < 2:
        return None
    if not data.joins.isdisjoint(words):
        return _several(words, lex)
    rest = " ".join(w for w in words if w not in data.filler)
    if rest not in data.main or (rest in data.colon_only and not colon):
        return None
    return lex.headings.get(rest) if words[0] in (rest.split()[0], *data.filler) else None


@lru_cache(maxsize=1)
def _first_words(lex: Lexicon) -> frozenset[str]:
    """List the words one of which every heading begins with."""
    data = _words()
    firsts = (_WORDS.search(p) for p in (*lex.headings, *data.main))
    return frozenset(m[0] for m in firsts if m is not None) | data.filler


def _several(words: Sequence[str], lex: Lexicon) -> Heading | None:
    """``CLINICAL HISTORY AND INDICATION``: several headings of one section."""
    parts: list[list[str]] = [[]]
    for w in words:
        if w in _words().joins:
            parts.append([])
        else:
            parts[-1].append(w)
    found = [lex.headings.get(" ".join(p)) for p in parts]
    first = found[0]
    if first is None or any(f is None or f.section != first.section for f in found):
        return None
    return first


def is_heading_line(text: str, lex: Lexicon) -> bool:
    """Say whether a line is a heading and nothing else, so that no line goes on from it."""
    body = text.strip().strip("*#_=[]<>~ \t")
    return heading(body, 0, len(body), lex, colon=False, whole=True) is not None if body else False
