"""Templates that nobody filled in: options without a tick, blanks and placeholders. Ticked lists are read elsewhere."""

import re
from collections.abc import Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.model import BODY, Mark, Span, Statement
from candidacy.reading.spans import Stretches

_EMPTY = re.compile(r"\[[ \t_]{0,4}\]|[☐□❏❑]|\([ \t_]{1,4}\)")
_TICKED = re.compile(r"\[\s?[xX✓✔✗]\s?\]|[☑☒✓✔■]|\([xX✓✔]\)")
_FILLED = re.compile(r"(?<![^\W_])_+[xX✓✔]_+(?![^\W_])")
_PLACE = re.compile(
    r"\{[^{}\n]{0,80}\b[A-Za-z][^{}\n]{0,80}\}|<<[^<>\n]{0,80}>>|@[A-Za-z_]{3,40}@|\$[A-Za-z_]{2,40}\$|%[A-Za-z_]{3,40}%"
    r"|<([^<>\n]{1,60})>|\[([^\[\]\n]{1,80})\]"
    r"|(?<![*\w])\*{3}(?![*\w])|(?<!\w)[Xx]{2,4}\s?(?:mm|cm)\b|(?<![_\w])_{2,}(?![_])"
)
_HINT = re.compile(r"[\[{<@$%_*☐□❏❑(Xx](?:(?<![(Xx])|(?<=\()[ \t]|(?<=[Xx][Xx])\s?[mc]m)")
"""Without one of these there is no box and no blank."""
_LINE = re.compile(r"[^\r\n\v\f\u2028\u2029]+")
_WORD = re.compile(r"[^\W\d_]+")
_DECORATED = re.compile(r"\s*\*.*\*\s*\Z")
_NEAR = 200
"""Characters of its line on either side that say what a blank is for."""
_HALF = 0.5
"""From this share of the statements on, the report as a whole is an unfilled template."""
NEXT = "ask for the finished report"


def unfilled(text: str, rows: Sequence[Statement]) -> tuple[list[Mark], frozenset[int]]:
    """Find the statements that hold options or blanks nobody filled in, and mark them.

    Boxes count only where no box of the report is ticked; the positions given are those in ``rows``.
    """
    if _HINT.search(text) is None:
        return [], frozenset()
    boxes = len(_EMPTY.findall(text)) > 1 and _TICKED.search(text) is None
    lines = [Span(*m.span()) for m in _LINE.finditer(text)]
    open_lines = Stretches([s for s in lines if boxes and _EMPTY.search(text, s.start, s.end)])
    places = Stretches(
        [Span(*m.span()) for s in lines for m in _PLACE.finditer(text, *s) if _is_place(text, s, m)]
    )
    hit = [
        n for n, r in enumerate(rows) if places.touch(r.start, r.end + 1) or open_lines.touch(r.start, r.end)
    ]
    body = sum(r.section in BODY for r in rows)
    if not hit:
        return [], frozenset()
    first = rows[hit[0]]
    whole = sum(rows[n].section in BODY for n in hit) >= _HALF * max(body, 1)
    about = (
        "a template that nobody filled in"
        if whole
        else f"{len(hit)} sentence{'s' if len(hit) > 1 else ''} with options or blanks that nobody filled in, not read"
    )
    return [Mark("template", about, whole, Span(first.start, first.end), NEXT)], frozenset(hit)


def _is_place(text: str, span: Span, m: re.Match[str]) -> bool:
    """Whether what was found in a line stands for a value that nobody gave."""
    words = gate_words()
    line = text[max(span.start, m.start() - _NEAR) : min(span.end, m.end() + _NEAR)]
    inner = m[1] or m[2]
    if inner is not None:
        found = [w.lower() for w in _WORD.findall(inner)]
        options = m[2] is not None and re.search(r"\w\s*[/|]\s*\w", inner) is not None
        return bool(found) and (
            words.placeholder.issuperset(found) or (options and not inner.startswith("*"))
        )
    said = [w.lower() for w in _WORD.findall(line)]
    if m[0][0] == "*":
        return bool(said) and _DECORATED.match(line) is None
    if m[0][0] == "_":
        return len(said) > 1 and _FILLED.search(line) is None and words.signature.isdisjoint(said)
    return True
