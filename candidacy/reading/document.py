"""Sections, lines and sentences of a report; it knows layout and headings, not medicine."""

import re
from typing import NamedTuple

from candidacy.reading.levels import PATTERN
from candidacy.reading.lexicon import Lexicon

_LINES = re.compile(r"[^\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")
_STOP = re.compile(r"[.!]+|/{3,}|:|;|•|\s(?=\d{1,2}[.)]\s+[^\W\d])|\?+(?=\s*$)|(?<=\s)\?{1,3}(?=\s+[A-Z][a-z]+ [a-z]+ [a-z]+)")
_BULLET = re.compile(r"[\s.,;:*•·▪‣◦–—>#\-]*(?:\(?\d{1,2}\s*[.)](?=\s|[A-Za-z])\s*)?[\s*•·▪‣◦–—>\-]*")
_ITEM = re.compile(r"\s*(?:[-*•·▪‣◦–—>]|\(?\d{1,2}\s*[.)](?!\d))")
_LEVEL_TAIL = re.compile(
    rf"(?:(?:{PATTERN})(?:\s*(?:,|&|and|/|to|through|-)\s*)?)+\s*(?:(?:disc|disk|level|leve|interspace)s?\s*)*$", re.IGNORECASE
)
_LEVEL_START = re.compile(rf"\s*(?:{PATTERN})\s*(?:level|disc|disk)?s?\s*(?::|\s[-–]\s|$)", re.IGNORECASE)
_WORDS = re.compile(r"[^\W_]+(?:['’][a-z]+)?")


class Sentence(NamedTuple):
    """One sentence, list item or heading line.

    ``order`` is its place in its line, ``fresh`` says a blank line or a new section stands before it,
    ``item`` that its line begins with a bullet or a number.
    """

    start: int
    end: int
    section: str
    region: str
    line: int
    order: int
    fresh: bool
    item: bool


def lines_of(text: str, lex: Lexicon) -> list[tuple[int, int, bool]]:
    """Give the logical lines as (start, end, blank line before), wrapped lines joined again."""
    raw = [(m.start(), m.end()) for m in _LINES.finditer(text)]
    out: list[tuple[int, int, bool]] = []
    filled = _is_filled(text, raw)
    last_end = 0
    for start, end in raw:
        line = text[start:end]
        body = line.strip()
        if not body:
            continue
        blank = bool(out) and text.count("\n", last_end, start) + text.count("\r", last_end, start) > (
            2 if "\r\n" in text[last_end:start] else 1
        )
        last_end = end
        if out and not blank and _goes_on(text[out[-1][0] : out[-1][1]], body, lex, filled):
            out[-1] = (out[-1][0], end, out[-1][2])
        else:
            out.append((start, end, blank))
    return out


def _is_filled(text: str, raw: list[tuple[int, int]]) -> int:
    """Give the width at which a word processor wrapped the text, or 0 if the lines end where they like."""
    if len(raw) < 3:
        return 0
    width = max(len(text[s:e].rstrip()) for s, e in raw)
    if not 30 <= width <= 140:
        return 0
    wraps = broken = 0
    for (s, e), (s2, e2) in zip(raw, raw[1:], strict=False):
        line = text[s:e].rstrip()
        following = text[s2:e2].split(None, 1)
        if not line or not following or line[-1] in ".:!?;":
            continue
        if len(line) + 1 + len(following[0]) > width:
            wraps += 1
        else:
            broken += 1
    return width if wraps >= 2 and wraps >= 3 * broken else 0


def _goes_on(before: str, after: str, lex: Lexicon, filled: int) -> bool:
    before = before.rstrip()
    if before[-1] in ".:!?;" or _ITEM.match(after) or _LEVEL_START.match(after):
        return before[-1] in ",&" if not _ITEM.match(after) and before[-1] not in ".:!?;" else False
    if before[-1] in ",&(-/":
        return True
    last = _WORDS.findall(before[-30:])
    first = _WORDS.match(after)
    if last and last[-1].lower() in lex.dangling:
        return True
    word = first.group().lower() if first else ""
    if word in lex.continuing:
        head = after.split(":", 1)[0].lower().strip() if ":" in after else ""
        return " ".join(head.split()) not in lex.headings
    if after[0] in "(,)&;.":
        return True
    tail = before.rsplit("\n", 1)[-1]
    if filled and len(tail.strip()) + 1 + len(after.split(None, 1)[0]) > filled:
        return True
    return after[0].islower() and len(tail) >= 45


def sentences(text: str, lex: Lexicon) -> list[Sentence]:
    """Split a report into sentences with their section and body region."""
    out: list[Sentence] = []
    section, region = "findings", "lumbar"
    for number, (start, end, blank) in enumerate(lines_of(text, lex)):
        order = 0
        fresh = blank
        item = _ITEM.match(text, start, end) is not None
        for s, e, colon in _pieces(text, start, end, lex):
            found = _heading(text, s, e, colon, lex)
            if found is not None:
                section, fresh, order = found, True, 0
                if found in ("header", "findings"):
                    region = _region(text, s, end, region, lex, True) if found == "header" else region
                continue
            if order == 0:
                region = _region(text, s, e, region, lex, colon)
            out.append(Sentence(s, e, section, region, number, order, fresh, item))
            order += 1
            fresh = False
    return out


def _heading(text: str, start: int, end: int, colon: bool, lex: Lexicon) -> str | None:
    if end - start > 48:
        return None
    body = " ".join(_WORDS.findall(text[start:end].lower()))
    found = lex.headings.get(body)
    if found is None:
        return None
    if not colon and body not in ("findings", "impression", "conclusion", "technique", "comparison", "history",
                                  "indication", "opinion", "impressions", "conclusions", "clinical history"):
        return None
    return found.section


def _region(text: str, start: int, end: int, current: str, lex: Lexicon, colon: bool) -> str:
    """Tell which part of the body a title line such as ``RT KNEE MRI :`` turns to."""
    if end - start > 90 or not (colon or lex.modality_words.search(text, start, end)):
        return current
    names = {lex.regions[_plain(m)].section for m in lex.region_words.findall(text[start:end])}
    if text.count(" ", start, end) > 14:
        return current
    for choice in ("lumbar", "thoracic", "other"):
        if choice in names:
            return choice
    return current


def _pieces(text: str, start: int, end: int, lex: Lexicon) -> list[tuple[int, int, bool]]:
    """Cut one logical line at sentence ends, headings and list numbers: (start, end, ended by a colon)."""
    cuts: list[tuple[int, int, bool]] = []
    at = _BULLET.match(text, start, end).end()  # type: ignore[union-attr]
    for m in _STOP.finditer(text, at, end):
        stop, ch = m.start(), text[m.start()]
        if stop < at:
            continue
        after = m.end()
        if ch in ".!":
            if not _ends_sentence(text, at, stop, after, end, lex):
                continue
        elif ch == ":":
            if _heading(text, at, stop, True, lex) is not None:
                cuts.append((at, stop, True))
                at = _BULLET.match(text, after, end).end()  # type: ignore[union-attr]
                continue
            head = _LEVEL_TAIL.search(text, at, stop)
            if head is not None and text[at : head.start()].rstrip()[-1:] in tuple(".,;/-–)"):
                cuts.append((at, head.start(), False))
                at = head.start()
            elif stop == end - 1 or not text[after:end].strip():
                cuts.append((at, stop + 1, True))
                at = after
            continue
        elif ch == ";":
            if not _LEVEL_START.match(text, after, end):
                continue
        elif ch == "?" and stop + len(m.group()) >= len(text[:end].rstrip()):
            continue
        cuts.append((at, after if ch == "?" else stop, False))
        at = _BULLET.match(text, after, end).end()  # type: ignore[union-attr]
    if text[at:end].strip():
        cuts.append((at, end, False))
    return [c for c in cuts if any(ch.isalnum() for ch in text[c[0] : c[1]])]


def _ends_sentence(text: str, start: int, stop: int, after: int, end: int, lex: Lexicon) -> bool:
    at = stop
    while at > start and text[at - 1].isalnum():
        at -= 1
    word = text[at:stop].lower()
    if after >= end:
        return True
    following = text[after]
    if following.isspace():
        if at == start and word.isdigit():
            return False
        return word not in lex.abbreviations or not text[after:end].strip()
    if following.isalpha() and len(word) > 1 and not word.isdigit():
        return text[after : after + 2].isalpha() and word not in lex.abbreviations
    return after - stop > 1 and not following.isdigit()


def _plain(words: str) -> str:
    return " ".join(w for w in re.split(r"[\s.\-]+", words.lower()) if w)
