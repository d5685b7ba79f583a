"""Marks that somebody dictated as words, ``bulge at L4-5 comma no stenosis period``, written as the marks that they stand for.

Every character keeps its place: what is left of a word is filled with signs that no reader sees.
"""

import re
from collections.abc import Sequence

from candidacy.reading.model import KNOWN, Account, Span, Statement

_MARKS = {"comma": ",", "period": ".", "full stop": ".", "semicolon": ";", "colon": ":"}
_FILL = "\u200b"
_HEADS = "findings|impression|conclusion|technique|history|indication|comparison|examination|addendum|discs?|canal|level"
_SAID = re.compile(
    r"(?<=[\w)])(?<!\ba)(?<!\bthe)(?<!\bthis)(?<!\btime)(?<!\bsame)(?:[ \t]+|[ \t]*\n[ \t]*)(?P<word>comma|period|full\s+stop|semicolon)(?![ \t]+(?:of|shaped))(?=\s|$)"
    rf"|\b(?:{_HEADS})[ \t]+(?P<colon>colon)(?=\s)",
    re.IGNORECASE,
)
_FEWEST = 2
"""So many marks a text must hold, or it speaks of a period of time."""


def with_marks(text: str) -> str:
    """Write dictated marks as such; any other text is given as it is.

    Examples
    --------
    >>> with_marks("Bulge at L4-5 comma no stenosis period").replace("\u200b", "")
    'Bulge at L4-5, no stenosis.'
    """
    if "comma" not in text and "period" not in text and "stop" not in text:
        return text
    found = list(_SAID.finditer(text))
    if len(found) < _FEWEST:
        return text
    out = text
    for m in found:
        name = "colon" if m["colon"] else "word"
        start, end = m.span(name)
        start -= 1  # the blank or the end of the line before it
        mark = _MARKS[" ".join(m[name].lower().split())]
        out = out[:start] + mark.rjust(end - start, _FILL) + out[end:]
    return out


def with_whole_marks(
    given: str, text: str, rows: Sequence[Statement], accounts: Sequence[Account]
) -> tuple[list[Statement], tuple[Account, ...]]:
    """Let each statement, and its entry in the account, end behind the word of the mark that ends it, as it was given.

    A word between two of them, as in ``findings colon``, has an entry of its own.
    """
    cut = {
        row.end
        for row in rows
        if row.end < len(given) and given[row.end].isalpha() and text[row.end] in _MARKS.values()
    }

    def longer(span: Span) -> Span:
        return span._replace(end=span.end + 1) if span.end in cut else span

    told = [a._replace(span=longer(a.span), missed=tuple(map(longer, a.missed))) for a in accounts]
    covered = [(a.span.start, a.span.end) for a in told]
    for m in _SAID.finditer(given):
        word = Span(*m.span("colon" if m["colon"] else "word"))
        if text[word.start : word.end] != given[word.start : word.end] and not any(
            s < word.end and word.start < e for s, e in covered
        ):
            told.append(Account(word, KNOWN, -1, rule="layout", why="a mark that was dictated"))
    told.sort(key=lambda a: a.span)
    return [r._replace(end=r.end + (r.end in cut)) for r in rows], tuple(told)
