"""Where a note's sentences begin and end, under which heading they stand, and which disc their place gives them."""

import re
from collections.abc import Iterator
from functools import cache

from candidacy.reading.document import lines_of
from candidacy.reading.levels import PATTERN
from candidacy.reading.lexicon import lexicon
from candidacy.reading.model import Span
from candidacy.reading.notes.model import Clause
from candidacy.reading.notes.tables import tables
from candidacy.reading.notes.vocabulary import OTHER_PRESSURE, PRESSURE_UNITS, items, vocabulary, words_for

_END = re.compile(rf"(?:(?<![A-Za-z]\.[A-Za-z])[.!?]+|(?<=\.[A-Za-z])\.(?=\s+(?:{PATTERN})\s*:))(?=\s|$)")
_NEXT = re.compile(rf"\s+(?:{PATTERN})\s*:")
"""A disc with its colon begins a sentence also behind a short form: ``20 psi a.o. L5-S1: ...``."""
_BULLET = re.compile(r"\s*(?:[-*•·–]\s+|\(?\d{1,2}[.)]\s+)?")
_HEAD = re.compile(r"\s*([A-Za-z][A-Za-z/ \-]{1,40}?)\s*(?::|$)")
_LABELLED = re.compile(
    r"[^\S\n]*(?:[-*•][^\S\n]*)?([A-Za-z][A-Za-z /.\-]{1,40}?)[^\S\n]*(?:\([^)\n]*\))?[^\S\n]*:"
)
_FIELD = re.compile(r"[^\s:][^:\n]*?:[^\S\n]*\S(?:(?!\s{2}|\t).)*")
_FIELDS = re.compile(rf"\s*{_FIELD.pattern}(?:(?:[^\S\n]{{2,}}|\t+){_FIELD.pattern})+\s*$")
"""A line of several labelled fields, wide gaps between: ``OP: 22 psi   Max: 82 psi``."""
_BARE_DISC = re.compile(
    r"(?<![\w.,/\-])(?:L\s?)?[1-5]\s?[-/–]\s?(?:L\s?[2-6]|[2-6]|S\s?1|1)(?![\w.]|\s?[-/–%]|\s*[A-Za-z]+\s*/)",
    re.IGNORECASE,
)
"""What may be the name of a disc without its letter: what follows is not said of the disc before."""
_CELLS = re.compile(r"\||\t+|(?<=\S) {3,}(?=\S)")
_QUOTED = re.compile(r"(?m)^([ \t>]*)[^\n]*")
_MOST = 0.8
"""Lines that begin with the mark of a quotation are that in a text of which so many do."""
_WRAPPED = 30
"""A line of so many characters may have been wrapped."""
_SKIP = {
    "history": "stands under history or indication",
    "comparison": "stands under comparison",
    "plan": "stands under plan",
}


def _any(name: str) -> str:
    return "|".join(map(re.escape, sorted(words_for(name), key=lambda w: (-len(w), w))))


@cache
def _short() -> re.Pattern[str]:
    return re.compile(rf"\b(?:{_any('abbreviations')})\Z", re.IGNORECASE)


@cache
def _block() -> re.Pattern[str]:
    """A line that is the head of a disc's block: ``Level 1: L4-5 (target)``, ``L4-L5 disc:``."""
    disc = _any("disc")
    return re.compile(
        rf"\s*(?:(?:{disc})\s*#?\s*(?:\d|[A-C])?\s*[:.\-–]?\s*)?(?:(?:{_any('the')})\s+)?({PATTERN})\s*(?:{disc})?\s*"
        rf"(?:\([^)]*\))?\s*(?::|\s[-–—]\s|$|\.$)",
        re.IGNORECASE,
    )


@cache
def _one_unit() -> re.Pattern[str]:
    leads = (p.removesuffix("<unit>").split() for p in vocabulary().data["one_unit"])
    forms = "|".join(r"\s+".join(map(re.escape, lead)) for lead in leads)
    return re.compile(rf"\b(?:{forms})\s+({'|'.join(map(re.escape, _units()))})(?!\w)", re.IGNORECASE)


@cache
def _units() -> dict[str, str]:
    """The ways to write a unit of pressure, the longest first, each with its unit."""
    table = vocabulary().data["units"]
    found = {phrase: unit for unit in (*PRESSURE_UNITS, OTHER_PRESSURE) for phrase in table[unit]}
    return dict(sorted(found.items(), key=lambda row: -len(row[0])))


def unquoted(text: str) -> str:
    """Give the text, as long as before, without the marks of a message that quotes it line by line."""
    lines = [m for m in _QUOTED.finditer(text) if m[0].strip()]
    if not lines or sum(">" in m[1] for m in lines) <= _MOST * len(lines):
        return text
    rest = list(text)
    for m in lines:
        rest[m.start(1) : m.end(1)] = " " * (m.end(1) - m.start(1))
    return "".join(rest)


def clauses(text: str) -> list[Clause]:
    """Split a note into clauses in the order of the text."""
    named = {_units()[m[1].lower()] for m in _one_unit().finditer(text)}
    unit = named.pop() if len(named) == 1 else ""
    out, taken = tables(text, unit)
    rest = list(text)
    for span in taken:
        rest[span.start : span.end] = " " * (span.end - span.start)
    blanked = "".join(rest)
    out += (c._replace(unit=unit) for c in _running(blanked))
    return sorted(out, key=lambda c: c.span)


def _running(text: str) -> Iterator[Clause]:
    section = "use"
    discs: tuple[str, ...] = ()
    place: Span | None = None
    block = empty = told = False
    for start, end, blank in _lines(text):
        at = _BULLET.match(text, start, end).end()  # type: ignore[union-attr]
        if at >= end:
            continue
        heading = _heading(text, at, end)
        if heading is not None:
            section, body, keeps = heading
            told = bool(text[body:end].strip())
            if blank or not block or not text[body:end].strip():
                discs, place, block = (), None, False
            if not keeps:
                if body > at:
                    yield Clause(_trim(text, at, body), section, skip="heading")
                at = body
        elif blank:
            if section in _SKIP:
                section = "use"
            if not (block and empty):
                discs, place, block = (), None, False
        head = _block().match(text, at, end)
        if head is not None and section == "history" and told:
            section = "use"  # an indication of one line ends where a disc's block begins
        if head is not None:
            named = [r.value for i in items(text, at, head.end()) for r in i.roles_of("discs")]
            if len(named) == 1 and len(named[0]) == 1:
                discs, place, block, empty = named[0], Span(*head.span(1)), True, True
        first = True
        for span in _sentences(text, at, end):
            named = [r.value for i in items(text, *span) for r in i.roles_of("discs")]
            flat = {d for n in named for d in n}
            if not flat and _names_another(text, span):
                discs, place, block = (), None, False
            yield Clause(span, section, discs, place, skip=_SKIP.get(section, "") or _broken_row(text, span))
            if len(flat) == 1 and not (block and first):
                if block and (*flat,) != discs:
                    discs, place, block = (
                        (),
                        None,
                        False,
                    )  # another disc inside a block: whose is what follows?
                else:
                    discs, place = (*flat,), span
            elif len(flat) > 1:
                discs, place, block = (), None, False
            first = False
        if not (head is not None and head.end() >= end):
            empty = False


def _names_another(text: str, span: Span) -> bool:
    """Say whether a sentence seems to name a disc without its letter: ``4-5: opening 12 psi``, ``at 4-5 the``."""
    for m in _BARE_DISC.finditer(text, span.start, span.end):
        behind = items(text, m.end(), span.end)
        if not behind or not behind[0].role("units"):
            return True
    return False


def _broken_row(text: str, span: Span) -> str:
    gaps = len(_CELLS.findall(text, span.start, span.end))
    return "a row of a table whose head is not understood" if gaps > 1 else ""


def _lines(text: str) -> list[tuple[int, int, bool]]:
    """Logical lines; a number is joined to its unit and a denial to what it denies where a line broke between them."""
    out: list[tuple[int, int, bool]] = []
    for start, end, blank in _cut(text):
        if out and _goes_on(text, out[-1], start, end, blank):
            out[-1] = (out[-1][0], end, out[-1][2])
        else:
            out.append((start, end, blank))
    return out


def _goes_on(text: str, before: tuple[int, int, bool], start: int, end: int, blank: bool) -> bool:
    tail = text[before[0] : before[1]].rstrip()
    if not tail or tail[-1] in ".:;!?" or _block().match(text, start, end) or _labelled(text, start, end):
        return False
    row = items(text, start, end)
    if row and row[0].role("above"):
        return True
    last = items(text, max(before[0], before[1] - 60), before[1])[-1]
    if any(last.role(name) for name in ("negations", "hedges", "mood", "past", "bounds")):
        return True
    if blank or not row or not (row[0].text[0].isalnum() or row[0].text == "("):
        return False
    if any(last.role(name) for name in ("number", "at", "reach", "about")) or last.text == ",":
        return True
    if last.role("discs") and row[0].role("number"):
        return True
    if not last.roles and last.text.lower().endswith(tuple(vocabulary().data["doubtful_endings"])):
        return True
    return (row[0].text[0].islower() or tail.isupper()) and len(tail) >= _WRAPPED


def _cut(text: str) -> Iterator[tuple[int, int, bool]]:
    """Logical lines as in other reports, cut again where one begins with a label of a note or with a disc's block."""
    for start, end, blank in lines_of(text, lexicon()):
        at = start
        for m in re.finditer(r"\n", text[start:end]):
            cut = start + m.end()
            if _block().match(text, cut, end) or _labelled(text, cut, end):
                yield at, cut - 1, blank
                at, blank = cut, False
        yield at, end, blank


def _labelled(text: str, start: int, end: int) -> bool:
    m = _LABELLED.match(text, start, end)
    return m is not None and any(i.role("label") for i in items(text, *m.span(1)))


def _trim(text: str, start: int, end: int) -> Span:
    body = text[start:end]
    return Span(start + len(body) - len(body.lstrip()), start + len(body.rstrip()))


def _heading(text: str, start: int, end: int) -> tuple[str, int, bool] | None:
    """Tell which section a line opens, where its own words go on, and whether the heading is also a label."""
    m = _HEAD.match(text, start, end)
    if m is None:
        return None
    words = " ".join(m[1].lower().split())
    for section, phrases in vocabulary().data["sections"].items():
        if words in phrases:
            labels = {r.value for i in items(text, m.start(1), m.end(1)) for r in i.roles_of("label")}
            keeps = bool(labels) and text[m.end() - 1 : m.end()] == ":" and section not in _SKIP
            return section, m.end(), keeps
    return None


def _sentences(text: str, start: int, end: int) -> Iterator[Span]:
    fields = _FIELDS.match(text, start, end)
    if fields is not None:
        for field in _FIELD.finditer(text, start, end):
            yield _trim(text, *field.span())
        return
    at = start
    for m in _END.finditer(text, start, end):
        if m.start() < at or (
            _short().search(text, at, m.start()) and m.end() < end and not _NEXT.match(text, m.end())
        ):
            continue
        if text[at : m.start()].strip():
            yield _trim(text, at, m.end() if "?" in m[0] else m.start())
        at = m.end()
    if text[at:end].strip():
        yield _trim(text, at, end)
