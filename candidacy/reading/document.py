"""Sections, lines and sentences of a report; it knows layout and headings, not medicine."""

import itertools
import re
from collections.abc import Iterator, Mapping

from candidacy.reading.headings import heading, is_heading_line, lead, numeral, spoken, tail
from candidacy.reading.levels import PATTERN
from candidacy.reading.lexicon import Heading, Lexicon, grammar
from candidacy.reading.model import Span, Statement
from candidacy.reading.sections import Where
from candidacy.reading.set_table import Line, tables
from candidacy.reading.study import is_study_label
from candidacy.reading.table import cells, columns, row_of

_LINES = re.compile(r"[^\r\n\v\f\x1c-\x1e\x85\u2028\u2029]+")
_STOP = re.compile(
    # One of these characters first, which the engine has a quick search for; then what must stand around it.
    r"[.!/:;•?\s](?:(?<=\.)(?:[ \t]\.){2,}|(?<=[.!])[.!]*|(?<=/)/{2,}|(?<=[:;•])|(?<=\s)(?=\d{1,2}[.)]\s+[^\W\d])"
    r"|(?<=\?)(?:\?*(?=\s*$)|\?*(?=\s+[-–—]\s)|(?<=\s\?)\?{0,2}(?=\s+[A-Z][a-z]+ [a-z]+ [a-z]+)|\?*(?=\s+[A-Za-z/]+:))"
    rf"|(?<=\s)(?=[Aa](?:[Nn][Dd]\s+[Aa])?[Tt]\s+(?:{PATTERN})\s+(?i:there\s+(?:is|are))\b)"
    rf"|(?<=\s)(?=(?:{PATTERN})\s+(?i:there\s+(?:is|are)|(?:is|are)\s+(?:normal|unremarkable|negative))\b))"
)
_BULLET = re.compile(r"[\s\ufeff.,;:*•·▪‣◦–—>#\-]*(?:\(?\d{1,2}\s*[.)](?=\s|[A-Za-z])\s*)?[\s*•·▪‣◦–—>\-]*")
_ITEM = re.compile(r"[\s\ufeff]*(?:[-*•·▪‣◦–—>]|\(?\d{1,2}\s*[.)](?!\d))")
_LEVEL_TAIL = re.compile(
    rf"(?:(?:{PATTERN})(?:\s*(?:,|&|and|/|to|through|-)\s*)?)+\s*(?:(?:disc|disk|level|leve|interspace)s?\s*)*$",
    re.IGNORECASE,
)
_LEVEL_START = re.compile(
    rf"\s*(?:(?:disc|disk|level|segment|interspace)\s+)?(?:{PATTERN})\s*(?:level|disc|disk)?s?\s*(?::|\s[-–]\s|[\[☐☒☑]|\.{{4}}|\.(?:[ \t]\.){{2}}|…{{2}}|$)",
    re.IGNORECASE,
)
_LISTED = re.compile(rf"\s*[A-Za-z][A-Za-z ]{{2,40}}:\s*(?:{PATTERN})(?![^\W_])", re.IGNORECASE)
"""``Bulges: L3-4: mild; L4-5: moderate``: what is before the first colon is said of each level."""
_LEVEL_FIRST = re.compile(PATTERN)
_LEVEL_LEFT_OPEN = re.compile(
    rf":\s*(?:{PATTERN})\s+(?!and\b|to\b|through\b|levels?\b|dis[ck]s?\b)[A-Za-z][^:]*[;,]\s*(?:{PATTERN})$",
    re.IGNORECASE,
)  # "Modic: L3-4 none; L4-5", of which the value stands on the next line
_LABEL_START = re.compile(
    r"[A-Za-z]+(?:[ /][A-Za-z]+)?:(?:\s+\S|\s*$)"
)  # a line of a form: "Foramina: patent", "Canal:"
_WORDS = re.compile(r"[^\W_]+(?:['’][a-z]+)?")


_DIGIT = re.compile(r"\d")
_BOX = re.compile(r"\[\s?[xX]?\s?\]|[☐☑☒]")
_OPEN_ENDED = grammar("open_ended")
_BEFORE_LEVEL = frozenset(grammar("before_level"))
_MODIC = "modic"
_GRADE_CUES = frozenset(grammar("grade_cue"))
_LEADS_TO_LEVEL = grammar("leads_to_level")
_DASH = re.compile(r"\s+[-–—]\s")
_LEVEL_CELL = re.compile(rf"\s*(?:{PATTERN})\s*:?\s*\Z")
_NUMBERED = re.compile(r"\d[.)]\s*\Z|\(\d\)\s*\Z")
"""The number of an item of a list."""
_DENIED_WORD = re.compile(r"(?:\b(?:no|without|not|nil|any)|w/o)\s+([A-Za-z]{2,8})\Z", re.IGNORECASE)
_REST = re.compile(r"\s*\Z")
_LABEL = 90
"""A level list before a colon is looked for in so many characters."""
_LONGEST = 1200
"""Longer sentences are cut at a space."""
_MAIN = "h_findings"


def lines_of(text: str, lex: Lexicon, rows: Mapping[int, Line] | None = None) -> list[tuple[int, int, bool]]:
    """Give the logical lines as (start, end, blank line before), wrapped lines joined again.

    ``rows`` are the lines of tables, where they are known already (`tables`).
    """
    raw = [(m.start(), m.end()) for m in _LINES.finditer(text)]
    out: list[tuple[int, int, bool]] = []
    filled = _is_filled(text, raw, lex)
    rows = tables(text) if rows is None else rows
    last_start = last_end = 0
    for start, end in raw:
        line = text[start:end]
        body = line.strip()
        if not body:
            continue
        blank = bool(out) and text.count("\n", last_end, start) + text.count("\r", last_end, start) > (
            2 if "\r\n" in text[last_end:start] else 1
        )
        if (
            out
            and not blank
            and start not in rows
            and last_start not in rows
            and _goes_on(text[last_start:last_end], body, lex, filled)
        ):
            out[-1] = (out[-1][0], end, out[-1][2])
        else:
            out.append((start, end, blank))
        last_start, last_end = start, end
    return out


def _is_filled(text: str, raw: list[tuple[int, int]], lex: Lexicon) -> int:
    """Give the width at which a word processor wrapped the text, or 0 if the lines end where they like."""
    if len(raw) < 3:
        return 0
    lines = [text[s:e].strip() for s, e in raw]
    width = max(map(len, lines))
    if not 30 <= width <= 140:
        return 0
    filled = wraps = broken = 0
    for line, following in itertools.pairwise(lines):
        if not line or not following:
            continue
        full = len(line) + 1 + len(following.split(None, 1)[0]) > width
        filled += full
        if line[-1] in ".:!?;" or line.lower() in lex.headings or lex.modality_words.search(line):
            continue
        wraps += full
        broken += not full
    return width if wraps and filled >= 2 and wraps >= 4 * broken else 0


def _goes_on(before: str, after: str, lex: Lexicon, filled: int) -> bool:
    before = before.rstrip()
    tail = before.strip()
    head = after.split(":", 1)[0].lower() if ":" in after else ""
    if _ITEM.match(after) or _LEVEL_START.match(after) or " ".join(head.split()) in lex.headings:
        last = _WORDS.findall(before[-30:])[-1:]
        open_ended = (
            ":" not in after
            and before[-1].isalnum()
            and _BEFORE_LEVEL.issuperset(w.lower() for w in last or ("",))
        )
        return (before[-1] in ",&" or open_ended) and not _ITEM.match(after)  # "resection of the / L4-5 disc"
    if _BOX.search(after) and _LEVEL_FIRST.match(after):
        return False
    if "|" in after or "...." in after or is_heading_line(before, lex) or is_heading_line(after, lex):
        return False
    if len(after) <= 40 and lex.modality_words.search(after):
        return False
    if before[-1] == ":" and "." in tail[:-1] and not _LEVEL_TAIL.search(tail, 0, len(tail) - 1):
        return True  # a label wrapped away from its value
    if filled and len(tail) + 1 + len(after.split(None, 1)[0]) > filled and tail.lower() not in lex.headings:
        return True
    if before[-1] in ".:!?;":
        return False
    if before[-1] in ",&(-/" or _LEVEL_LEFT_OPEN.search(before):
        return True
    if _LABEL_START.match(after):
        return False
    last = _WORDS.findall(before[-30:])
    if last and last[-1].lower() in lex.dangling:
        return True
    first = _WORDS.match(after)
    word = first.group().lower() if first else ""
    if word in lex.continuing or after[0] in "(,)&;.":
        return True
    if _LEVEL_FIRST.match(after):
        return False  # "l5/s1 disc is normal", written small
    return after[0].islower() and len(tail) >= 45 and word not in lex.starting


_OTHER_STUDIES = ("history", "comparison", "technique", "recommendation")
"""Sections that may name a study of another part of the body without turning to it."""


def sentences(text: str, lex: Lexicon) -> list[Statement]:
    """Split a report into sentences with their section and body region."""
    out: list[Statement] = []
    where, region = Where(), "lumbar"
    set_rows = tables(text)
    lines = [(s, e, blank, _cut_up(text, s, e, lex)) for s, e, blank in lines_of(text, lex, set_rows)]
    opens = [(n, p[2]) for n, row in enumerate(lines) for p in row[3] if p[2]]
    headed = max((n for n, h in opens if h.id == _MAIN), default=-1)
    coming = [h.section for _, h in opens]
    opened, said, passed = -1, 0, 0
    names: list[Span] = []
    for number, (start, end, blank, pieces) in enumerate(lines):
        order, past = 0, end
        fresh = blank
        if start in set_rows:
            line_of = set_rows[start]
            passed += sum(p[2] is not None for p in pieces)
            begins = number > headed and (line_of.cells or line_of.unsure)
            if begins and where.is_over(
                text, start, end, line=number > opened, blank=blank, first=len(out) == said,
                ahead=coming[passed] if passed < len(coming) else "",
            ):  # fmt: skip
                where.section, fresh = "findings", True
            out += _set_row(start, end, line_of, where.section, region, number, fresh)
            continue
        bullet = _ITEM.match(text, start, end)
        item = bullet.end() - start if bullet else 0
        opening = columns(text, start, end)
        names = opening or names
        if opening and not any(row_of(text, s, e, opening) for s, e, *_ in lines[number + 1 : number + 3]):
            opening = []  # no row of a table follows
        row = row_of(text, start, end, names) if names else []
        ahead = coming[passed] if passed < len(coming) else ""
        if row and number > headed and where.is_over(
            text, start, end, line=number > opened, blank=blank, first=len(out) == said, ahead=ahead
        ):  # fmt: skip
            where.section, fresh = "findings", True
        if row or opening:
            passed += sum(p[2] is not None for p in pieces)
        for order, (cell, name) in enumerate(row):
            label = name if order else None
            out.append(
                Statement(
                    cell.start, cell.end, where.section, region, number, order, fresh and not order, 0, label
                )
            )
        for s, e, found, colon in [] if row or opening else pieces:
            if found is not None:
                where.open(found, e, line=order == 0)
                passed += 1
                ahead = coming[passed] if passed < len(coming) else ""
                fresh, order = True, 0
                opened, said = number, len(out)
                if found.section == "header":
                    region = _region(text, s, end, region, lex, True)
                continue
            line = order == 0 and number > opened
            if number > headed and where.is_over(
                text, s, e, line=line, blank=blank, first=len(out) == said, ahead=ahead
            ):  # fmt: skip
                where.section, fresh = "findings", True
            if order == 0 and where.section not in _OTHER_STUDIES:
                region = _region(text, s, e, region, lex, colon)
            where.note(text, s, e)
            listed = _NUMBERED.search(text, past, s) is not None
            out.append(Statement(s, e, where.section, region, number, order, fresh, item, listed=listed))
            past = e
            order += 1
            fresh = False
    return out


def _set_row(
    start: int, end: int, line: Line, section: str, region: str, number: int, fresh: bool
) -> Iterator[Statement]:
    """Give the cells of a table's row; a line of a table that cannot be read is one statement that is not."""
    if line.unsure:
        yield Statement(start, end, section, "table", number, 0, fresh, 0)
        return
    if line.name is not None:
        yield Statement(line.name.start, line.name.end, section, "row_name", number, 0, fresh, 0)
    for order, c in enumerate(line.cells, int(line.name is not None)):
        place = (section, region, number, order, fresh and not order, 0)
        yield Statement(c.span.start, c.span.end, *place, c.label, c.level)


def _cut_up(text: str, start: int, end: int, lex: Lexicon) -> list[tuple[int, int, Heading | None, bool]]:
    """Give the pieces of a line, with the section that a heading among them opens."""
    named = spoken(text, start, end)
    if named:
        pieces = []
        for (s, e), (after, _) in zip(named, (*named[1:], (end, end)), strict=True):
            pieces += [(s, e, True), *_pieces(text, e, after, lex)]
    else:
        pieces = _pieces(text, start, end, lex)
    whole = len(pieces) == 1
    return [(s, e, heading(text, s, e, lex, colon=colon, whole=whole), colon) for s, e, colon in pieces]


def _region(text: str, start: int, end: int, current: str, lex: Lexicon, colon: bool) -> str:
    """Tell which part of the body a title line such as ``RT KNEE MRI :`` turns to."""
    if end - start > 90 or (not colon and text[end : end + 1] == "."):
        return current
    if not colon and not lex.modality_words.search(text, start, end):
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
    if text.count("|", start, end) > 1:
        row = cells(text, start, end)
        # a row of a table without names of columns
        if row and _LEVEL_CELL.match(text, row[0].start, row[0].end):
            rest = [piece for c in row[1:] if c.end > c.start for piece in _pieces(text, c.start, c.end, lex)]
            return [(row[0].start, row[0].end, True), *rest]
    cuts: list[tuple[int, int, bool]] = []
    at = _opened(text, start, end, cuts)
    for m in _STOP.finditer(text, at, end):
        stop, after = m.span()
        if stop < at:
            continue
        ch = text[stop]
        if ch.isspace() and text.rfind("(", at, stop) > text.rfind(")", at, stop):
            continue  # "(type 1) changes" is no list number
        if ch.isspace():
            word = "".join(_WORDS.findall(text, max(at, stop - 12), stop)[-1:]).lower()
            if word in _GRADE_CUES or word == _MODIC or word in lex.grade_first:
                continue  # "Anterolisthesis, grade 1. Mild stenosis.", "Modic 1. Mild stenosis.", "Pfirrmann 5."
        if ch.isspace() and _LEVEL_FIRST.match(text, after) and not _is_run_on(text, at, stop):
            continue
        if ch.isspace() and _first_word(text, at, stop) in _OPEN_ENDED:
            continue  # "Other than a bulge at L4-5 there is nothing."
        if ch in ".!":
            if not _ends_sentence(text, at, stop, after, end, lex):
                continue
        elif ch == ":":
            named = tail(text, at, stop)
            if named > at:
                cuts.append((at, named, False))
                at = named
            if heading(text, at, stop, lex, colon=True, whole=False) is not None:
                cuts.append((at, stop, True))
                at = _opened(text, after, end, cuts)
                continue
            if is_study_label(text, at, stop, lex):
                cuts.append((at, stop, True))
                at = _opened(text, after, end, cuts)
                continue
            head = (
                _LEVEL_TAIL.search(text, max(at, stop - _LABEL), stop)
                if stop - at > 12 and _DIGIT.search(text, max(at, stop - 16), stop)
                else None
            )
            if head is not None and _LISTED.match(text, at, head.start()):
                continue
            if head is not None and text[at : head.start()].rstrip()[-1:] in tuple(".,;/-–)"):
                cuts.append((at, head.start(), False))
                at = head.start()
            elif _REST.match(text, after, end):
                cuts.append((at, stop + 1, True))
                at = after
            continue
        elif ch == ";":
            if not _LEVEL_START.match(text, after, end) or _LISTED.match(text, at, stop):
                continue
        elif (
            ch == "?"
            and not _DASH.match(text, after, end)
            and (_REST.match(text, after, end) or text[at:stop].rstrip()[-1:] in ("", ":"))
        ):
            continue
        cuts.append((at, after if ch == "?" else stop, False))
        at = _opened(text, after, end, cuts)
    if text[at:end].strip():
        cuts.append((at, end, False))
    if end - start > _LONGEST:
        cuts = [part for c in cuts for part in _bounded(text, *c)]
    return [c for c in cuts if c[1] - c[0] > 3 or any(ch.isalnum() for ch in text[c[0] : c[1]])]


def _opened(text: str, start: int, end: int, cuts: list[tuple[int, int, bool]]) -> int:
    """Give where the next sentence begins: behind a bullet or number, and behind a heading without a colon."""
    at = numeral(text, _BULLET.match(text, start, end).end(), end)  # type: ignore[union-attr]
    named = lead(text, at, end)
    if named is None:
        return at
    cuts.append((named[0], named[1], True))
    return _BULLET.match(text, named[2], end).end()  # type: ignore[union-attr]


def _is_run_on(text: str, start: int, stop: int) -> bool:
    """Say whether what stands before a level is whole without it: ``mild bulge l4-5 there is a protrusion``."""
    before = text[start:stop].rstrip()
    words = before.rsplit(None, 1)
    return before[-1:].isalpha() and words[-1].lower() not in _LEADS_TO_LEVEL


def _first_word(text: str, start: int, stop: int) -> str:
    found = _WORDS.search(text, start, stop)
    return found[0].lower() if found else ""


def _bounded(text: str, start: int, end: int, colon: bool) -> Iterator[tuple[int, int, bool]]:
    """Cut what is too long to be a sentence, so that no text takes more than its length in time."""
    while end - start > _LONGEST:
        cut = text.rfind(" ", start + 1, start + _LONGEST)
        cut = cut if cut > start else start + _LONGEST
        yield start, cut, False
        start = cut
    yield start, end, colon


def _ends_sentence(text: str, start: int, stop: int, after: int, end: int, lex: Lexicon) -> bool:
    if after >= end:
        return True
    if after - stop >= 4 and text[after:end].strip():
        return False  # dots that lead from a label to its value
    before = text[max(start, stop - 14) : stop]
    word = before.rsplit(None, 1)[-1].lstrip("([").lower() if before.strip() else ""
    following = text[after]
    if following.isspace():
        if word.isdigit() and stop - start == len(word):
            return False
        if word in lex.before_small and text[after:end].lstrip()[:1].islower():
            return False  # "deg. disc"
        if _cut_short_behind_a_denial(text, start, stop, after, end, lex):
            return False
        return word not in lex.abbreviations or not text[after:end].strip()
    if following.isalpha() and len(word) > 1 and not word.isdigit():
        return text[after : after + 2].isalpha() and word not in lex.abbreviations
    return after - stop > 1 and not following.isdigit()


def _cut_short_behind_a_denial(text: str, start: int, stop: int, after: int, end: int, lex: Lexicon) -> bool:
    """``no def. root compression``: an unknown word right behind a denial, its sentence going on small, is a short form."""
    if not text[after:end].lstrip()[:1].islower():
        return False
    found = _DENIED_WORD.search(text, max(start, stop - 24), stop)
    word = "" if found is None else found[1].lower()
    return bool(word) and not lex.spell.knows(word) and word not in lex.trie


def _plain(words: str) -> str:
    return " ".join(w for w in re.split(r"[\s.\-]+", words.lower()) if w)
