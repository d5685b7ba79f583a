"""Is a report about the lumbar spine? What speaks of another part of the body is not read, and told."""

import re
from collections.abc import Iterator, Sequence

from candidacy.reading.gate_words import gate_words
from candidacy.reading.levels import KEYS, PATTERN, read_place
from candidacy.reading.lexicon import Lexicon
from candidacy.reading.model import Mark, Span, Statement
from candidacy.reading.study import plain

_UPPER = re.compile(
    r"[CcTt](?<![\w/].)(?:(?<=[Cc])(?:\s?[1-7]\s?[-/–]\s?(?:[Cc]\s?)?[2-7]|7\s?[-/–]\s?[Tt]1)"
    r"|(?<=[Tt])(?:[3-9]|10)\s?[-/–]\s?(?:[Tt]\s?)?(?:[4-9]|1[01]))(?![\w])"
)
"""A disc above the ones this reader knows; T1 and T2 are left out, being sequences as well."""
_LEVEL = re.compile(PATTERN)
_LETTERS = re.compile(r"[^\W\d_]+")
_TITLE = 60
"""The title of a part of a text is no longer."""
_DIGIT = re.compile(r"\d")
"""Without one there is no level."""
_LUMBAR = frozenset(KEYS)
_ASIDE = ("history", "comparison", "technique", "recommendation")
_FIRST = 4
_TITLE_WORDS = 14
_ENOUGH = 3
"""So many lumbar levels in a report with another title are read, with a mark."""
_STEP = "give the report of the lumbar spine"
OTHER = "other"
"""The region of a statement that is not read."""


def body_part(
    text: str, rows: Sequence[Statement], lex: Lexicon, words: Sequence[str]
) -> tuple[list[Mark], list[Statement]]:
    """Give marks about the part of the body, and the statements with their regions set right.

    ``words`` are those of the text (`words_of`).
    """
    untitled = text.isascii() and lex.modality_letters.isdisjoint(words)
    titles, others = _titles(text, [r for r in rows if r.section == "header"] if untitled else rows, lex)
    upper = _UPPER.search(text)
    out = _regions(text, _by_titles(text, rows, lex), upper is not None)
    said = [r for r in out if r.section not in _ASIDE and r.region != OTHER]
    apart = [r for r in out if r.region == OTHER]
    turned = any(_headed(text, r, lex) for r in out) or _turns_back(text, rows, lex)
    if others and "lumbar" not in titles and not turned:
        if upper is not None or sum(_lumbar_levels(text, r) for r in said) < _ENOUGH:
            return [_elsewhere(*others[0])], out
        about = f"its title names another part of the body ({others[0][0]}), and lumbar discs stand in it"
        return [Mark("region", about, False, others[0][1], "check the title")], out
    levels = any(_is_lumbar(m[0]) for r in said for m in _levels(text, r))
    if len(apart) == len(out) or (upper is not None and not levels and "lumbar" not in titles):
        if others:
            return [_elsewhere(*others[0])], out
        if upper is not None:
            return [_elsewhere(gate_words().upper_spine, Span(*upper.span()))], out
        return [_elsewhere(_named_in(text, apart, lex) or "not the lumbar spine", apart[0].span)], out
    marks: list[Mark] = []
    if apart:
        name = _named_in(text, apart, lex) or (gate_words().upper_spine if upper else "")
        count = f"{len(apart)} sentence{'s' if len(apart) > 1 else ''}"
        about = f"{count} about another part of the body not read{f': {name}' if name else ''}"
        marks.append(Mark("region", about, False, apart[0].span))
    if not levels and not any(_names_lumbar(text, r, lex) for r in said) and "lumbar" not in titles:
        step = "check that it is a report of the lumbar spine"
        marks.append(Mark("no_level", "it names no lumbar disc or vertebra", next_step=step))
    return marks, out


def _elsewhere(name: str, span: Span) -> Mark:
    return Mark("region", f"it is a report of another part of the body: {name}", True, span, _STEP)


def _named_in(text: str, rows: Sequence[Statement], lex: Lexicon) -> str:
    """The parts of the body that statements name, the lumbar spine apart."""
    found = [m[0] for r in rows for m in lex.region_words.finditer(text, r.start, r.end)]
    names = dict.fromkeys(plain(w) for w in found if lex.regions[plain(w)].section != "lumbar")
    return ", ".join(names)[:80]


def _titles(text: str, rows: Sequence[Statement], lex: Lexicon) -> tuple[set[str], list[tuple[str, Span]]]:
    """The regions that titles name, and the words for those that are not lumbar."""
    found: set[str] = set()
    others: list[tuple[str, Span]] = []
    for number, row in enumerate(rows):
        if row.section in _ASIDE or not (row.section == "header" or number < _FIRST):
            continue
        if text.count(" ", row.start, row.end) > _TITLE_WORDS:
            continue
        if row.section != "header" and not lex.modality_words.search(text, row.start, row.end):
            continue
        if any(_levels(text, row)):
            continue
        for m in lex.region_words.finditer(text, row.start, row.end):
            region = lex.regions[plain(m[0])].section
            found.add(region)
            if region != "lumbar":
                others.append((" ".join(m[0].lower().split()), Span(m.start(), m.end())))
    return found, others


def _headed(text: str, row: Statement, lex: Lexicon) -> bool:
    """Whether a short line of its own turns to the lumbar spine further down: ``LUMBAR SPINE:``."""
    return row.end - row.start < 60 and row.order == 0 and text[row.start : row.end].rstrip()[-1:] == ":" and (
        _names_lumbar(text, row, lex)
    )  # fmt: skip


def _turn(text: str, row: Statement, lex: Lexicon) -> str:
    """Tell the one part of the body to which the words before a colon turn: ``Lumbar spine MRI: ...``; empty if to none."""
    colon = text.find(":", row.start, min(row.end + 1, row.start + _TITLE))
    head = text[row.start : colon] if colon > 0 else ""
    words = [w.lower() for w in _LETTERS.findall(head)]
    if not words or not lex.title_words.issuperset(words):
        return ""
    found = {lex.regions[plain(m[0])].section for m in lex.region_words.finditer(head)}
    return found.pop() if len(found) == 1 else ""


def _turns_back(text: str, rows: Sequence[Statement], lex: Lexicon) -> bool:
    """Say whether a text that turned to another part of the body turns to the lumbar spine by a title of its own."""
    turns = [t for r in rows if (t := _turn(text, r, lex))]
    return "lumbar" in turns and any(t != "lumbar" for t in turns)


def _by_titles(text: str, rows: Sequence[Statement], lex: Lexicon) -> list[Statement]:
    """Set apart what stands between the title of another part of the body and that of the lumbar spine.

    A section of its own without a title is of the lumbar spine from the first lumbar level that it names.
    """
    if not _turns_back(text, rows, lex):
        return list(rows)
    out: list[Statement] = []
    at, titled = "lumbar", ""
    for row in rows:
        told = _turn(text, row, lex) or ("lumbar" if _headed(text, row, lex) else "")
        if told:
            at, titled = told, row.section
        elif row.section != titled and _lumbar_levels(text, row):
            at = "lumbar"
        out.append(row if at == "lumbar" or row.section in _ASIDE else row._replace(region=OTHER))
    return out


def _names_lumbar(text: str, row: Statement, lex: Lexicon) -> bool:
    return any(
        lex.regions[plain(m[0])].section == "lumbar"
        for m in lex.region_words.finditer(text, row.start, row.end)
    )


def _levels(text: str, row: Statement) -> Iterator[re.Match[str]]:
    if _DIGIT.search(text, row.start, row.end) is None:
        return iter(())
    return _LEVEL.finditer(text, row.start, row.end)


def _lumbar_levels(text: str, row: Statement) -> int:
    return sum(_is_lumbar(m[0]) for m in _levels(text, row))


def _is_lumbar(level: str) -> bool:
    place = read_place(level)
    return not _LUMBAR.isdisjoint(place.discs) or place.vertebra[:1] == "L" or place.vertebra == "S1"


def _regions(text: str, rows: Sequence[Statement], above: bool) -> list[Statement]:
    """Set statements apart that speak of discs above, and those that follow them on the same subject."""
    if not above and not any(r.region == "thoracic" for r in rows):
        return list(rows)
    out: list[Statement] = []
    apart, section = False, ""
    for row in rows:
        lumbar = _lumbar_levels(text, row) > 0
        if row.region == "thoracic" and not lumbar:
            row = row._replace(region=OTHER)
        elif above:
            if lumbar or row.section != section or row.fresh:
                apart = False
            if not lumbar and _UPPER.search(text, row.start, row.end):
                apart = True
            if apart:
                row = row._replace(region=OTHER)
        section = row.section
        out.append(row)
    return out
