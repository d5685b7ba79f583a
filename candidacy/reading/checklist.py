"""Boxes and blanks of a form: ``[x] bulge [ ] protrusion``, ``Fissure: ( ) yes (X) no``, ``Bulge: Y  Protrusion: N``.

Each field is read on its own. A box without a mark says nothing; only a ``no`` that is marked denies.
"""

import re
from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

from candidacy.reading.levels import PATTERN
from candidacy.reading.lexer import Group, Tokens, tokenise
from candidacy.reading.lexicon import Lexicon, grammar
from candidacy.reading.model import Span

_BOX = re.compile(
    r"\[\s*(?P<a>[xX✓✔*+]?)\s*\]|\(\s*(?P<b>[xX✓✔]?)\s*\)|(?P<c>[☐□▢❏❑])|(?P<d>[☑☒✓✔✅⊠])"
    r"|(?<![^\W_])_+(?P<e>[xX✓✔])_+(?![^\W_])|(?P<f>_{2,})"
)
_CHOICE = re.compile(
    r"[\[(]?\s*\b(?:yes\s*/\s*no|y\s*/\s*n|no\s*/\s*yes|present\s*/\s*absent)\b\s*[\])]?", re.IGNORECASE
)
_MARK = re.compile(r"[\[(_☐□▢❏❑☑☒✓✔✅⊠]")
"""Without one of these there is no box and no blank."""
_ASKED = re.compile(r":\s*[YyNn]")
"""Without it nothing is answered."""
_SLASH = re.compile(r"/\s*[NnYyAa]")
"""Without it nothing is left to choose."""
_BLANK_END = re.compile(r":\s*_{2,}\s*(?:mm|cm|%)?\s*\Z")
_ANSWER = re.compile(
    r"(?<=:)\s*(?P<said>Y|N|[Yy][Ee][Ss]|[Nn][Oo])(?=\s*(?:[,;.|]|\Z)|\s{2,}|\s+[A-Z][\w /-]{2,40}:)"
)
_APART = re.compile(r"\s{2,}|\s*[\t|]\s*|[.;]\s+")
"""Between an option and the label of the next field."""
_HEAD = re.compile(rf"\s*(?:{PATTERN})\s*(?:levels?|dis[ck]s?)?\s*(?::|\s[-–—]\s)?\s*")
_BLANK = " \t\r\n,;:.|/-–—"
_NO = grammar("form_no") | {"n"}
_YES = grammar("form_yes") | {"y"}


class Field(NamedTuple):
    """What a form asks (``label``, perhaps empty), and the answers with whether each is marked."""

    label: Span
    options: tuple[tuple[bool, Span], ...]


class Form(NamedTuple):
    """The marked answers of a statement, each to be read by itself, and what nobody marked."""

    units: list[Tokens]
    unmarked: list[Span]


def signs_of_form(text: str) -> list[int]:
    """Give the places of a text, in order, without one of which a statement holds no box, blank or answer."""
    return sorted(m.start() for p in (_MARK, _SLASH, _ASKED) for m in p.finditer(text))


def form_of(text: str, start: int, end: int, lex: Lexicon) -> Form | None:
    """Read the boxes and blanks of a statement; nothing if it has none."""
    boxes = list(_BOX.finditer(text, start, end)) if _MARK.search(text, start, end) else []
    if boxes and not any(b["e"] for b in boxes) and not _BLANK_END.search(text[start:end]):
        boxes = [b for b in boxes if not b["f"]]  # a name or a date was blotted out
    choice = _CHOICE.search(text, start, end) if _SLASH.search(text, start, end) else None
    asked = not boxes and _ASKED.search(text, max(start - 1, 0), end) is not None
    answers = list(_ANSWER.finditer(text, start, end)) if asked else []
    if not (boxes or choice or len(answers) > 1 or any(len(a["said"]) == 1 for a in answers)):
        return None
    head = _HEAD.match(text, start, min(end, boxes[0].start() if boxes else end))
    low = head.end() if head else start
    opening = [tokenise(text, start, low, lex)] if head else []
    if choice:  # a form that nobody filled in
        return Form([_joined(opening)] if head else [], [Span(start, end)])
    if boxes and _mixed(text, low, end, boxes):
        return Form([_joined(opening)] if head else [], [Span(low, end)])
    fields = list(_fields(text, low, end, boxes) if boxes else _answered(text, low, end, answers))
    units: list[Tokens] = []
    unmarked: list[Span] = []
    for f in fields:
        read = _units(text, f, lex)
        units += read
        if not read and (f.label.end > f.label.start or any(s.end > s.start for _, s in f.options)):
            unmarked.append(Span(f.label.start, max((s.end for _, s in f.options), default=f.label.end)))
    if head:
        units = [_joined([*opening, units[0]]), *units[1:]] if units else [_joined(opening)]
    return Form(units, unmarked)


def _trim(text: str, start: int, end: int) -> Span:
    while start < end and text[start] in _BLANK:
        start += 1
    while end > start and text[end - 1] in _BLANK:
        end -= 1
    return Span(start, end)


def _marked(box: re.Match[str]) -> bool:
    return bool(box["a"] or box["b"] or box["d"] or box["e"])


def _mixed(text: str, low: int, end: int, boxes: list[re.Match[str]]) -> bool:
    """``Bulge [x]  Canal: [x] mild``: some boxes stand before their word and some behind it."""
    first = _trim(text, low, boxes[0].start())
    last = _trim(text, boxes[-1].end(), end)
    led = first.end == first.start or text[first.end :].lstrip()[:1] == ":"
    gaps = [_trim(text, a.end(), b.start()) for a, b in pairwise(boxes)]
    if led and last.end > last.start and first.end > first.start:
        labels = [
            g for g in gaps if text[g.end :].lstrip()[:1] == ":"
        ]  # "Bulge: [x]  Protrusion: [ ] fissure"
        return any(not _APART.search(text, g.start, g.end) for g in labels)
    if led and last.end == last.start and len(boxes) > 1:
        return any(text[g.end :].lstrip()[:1] != ":" for g in gaps)  # "[ ] normal [x] bulge; Modic 0[ ] 1[x]"
    if first.end == first.start or last.end == last.start or text[first.end :].lstrip()[:1] == ":":
        return False
    return any(":" in text[a.end() : b.start()] for a, b in pairwise(boxes))


def _fields(text: str, low: int, end: int, boxes: list[re.Match[str]]) -> Iterator[Field]:
    first = _trim(text, low, boxes[0].start())
    last = _trim(text, boxes[-1].end(), end)
    starts = [low, *(b.end() for b in boxes)]
    stops = [*(b.start() for b in boxes), end]
    gaps = [_trim(text, s, e) for s, e in zip(starts, stops, strict=True)]
    if last.end > last.start or (
        len(boxes) == 1 and first.end == first.start
    ):  # the box stands before its word
        label, options = first, []
        for box, gap in zip(boxes, gaps[1:], strict=True):
            parted = _APART.search(text, gap.start, gap.end)
            if parted and box is not boxes[-1]:  # "[ ] extrusion   stenosis [ ] none"
                options.append((_marked(box), _trim(text, gap.start, parted.start())))
                yield Field(label, tuple(options))
                label, options = _trim(text, parted.end(), gap.end), []
                continue
            word = re.match(r"[A-Za-z]+", text[gap.start : gap.end])
            plain = word[0].lower() if word else ""
            more = _trim(text, gap.start + len(plain), gap.end)
            if plain in _YES | _NO and more.end > more.start:  # "[x] no  Bulge [x] yes"
                options.append((_marked(box), Span(gap.start, gap.start + len(plain))))
                yield Field(label, tuple(options))
                label, options = more, []
            else:
                options.append((_marked(box), gap))
        if options:
            yield Field(label, tuple(options))
        return
    label = Span(low, low)
    cut = text.rfind(":", first.start, first.end)
    if cut >= 0:
        label, first = _trim(text, first.start, cut), _trim(text, cut + 1, first.end)
    rows = zip(boxes, [first, *gaps[1:-1]], strict=True)
    options = [(_marked(box), gap) for box, gap in rows]
    if label.end > label.start:
        yield Field(label, tuple(options))
    else:
        for each in options:
            yield Field(label, (each,))


def _answered(text: str, low: int, end: int, answers: list[re.Match[str]]) -> Iterator[Field]:
    at = low
    for a in answers:
        yield Field(_trim(text, at, a.start()), ((True, Span(a.start("said"), a.end())),))
        at = a.end()
    rest = _trim(text, at, end)
    if rest.end > rest.start:
        yield Field(Span(at, at), ((True, rest),))


def _units(text: str, field: Field, lex: Lexicon) -> list[Tokens]:
    """Give what is marked in a field; two marks on a question of yes and no say nothing."""
    label, options = field
    marked = [s for on, s in options if on]
    words = [text[s.start : s.end].lower() for s in marked]
    asked = tokenise(text, label.start, label.end, lex) if label.end > label.start else None
    if asked is None or not asked.words:
        return [tokenise(text, s.start, s.end, lex) for s in marked if s.end > s.start]
    if len(marked) != 1 and all(w in _YES | _NO for w in words):
        return []
    out: list[Tokens] = []
    for s, word in zip(marked, words, strict=True):
        if word in _YES:
            out.append(asked)
            continue
        said = tokenise(text, s.start, s.end, lex)
        if not said.words:
            out.append(asked)
            continue
        colon = Tokens([":"], [said.found[0]], [])
        if word in _NO:
            said = Tokens(["none"], said.found[:1], [])
        out.append(_joined([asked, colon, said]))
    return out


def _joined(rows: list[Tokens]) -> Tokens:
    words: list[str] = []
    found: list[re.Match[str]] = []
    groups: list[Group] = []
    for t in rows:
        size = len(words)
        groups += [Group(g.start + size, g.end + size, g.discs, g.vertebra) for g in t.groups]
        words += t.words
        found += t.found
    return Tokens(words, found, groups)
