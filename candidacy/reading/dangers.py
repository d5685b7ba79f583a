"""What a passage that was not read may tell of danger: by its words, or by what it describes. It asserts nothing."""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.case.free_text import told_in
from candidacy.foundation.errors import shorten
from candidacy.reading.data_files import rows_of
from candidacy.reading.model import (
    ABSENT,
    BODY,
    PRESENT,
    Account,
    Contradiction,
    Finding,
    Outside,
    Span,
    Statement,
)
from candidacy.reading.unsaid import NOT_READ_BESIDE

_PROTOCOL = "protocol"
_DENIES = re.compile(r"\b(?:no|not|without|free of|absent|denies|negative)\b(?:(?!\bbut\b)[^,;:.])*$")
_DENIED = re.compile(
    r"\b(?:no(?! longer)|not(?! (?:seen|visible|visualised|visualized))|nil|neither|without|absent|free of)\b"
)
_NOTE = "Passages that may tell of danger and became no fact"
MATTERS = ("allergy", "pregnancy")
"""Topics of danger that are ordinary in a report of imaging and are not in a letter or a note."""
_CLAUSE = re.compile(r"[,;:.]|\b(?:and|with|but)\b", re.IGNORECASE)
_MOST_TOLD = 8
_LONGEST_TOLD = 160  # letters of each, so that it can be read without its source
"""So many passages are quoted in a record."""
_NEAR = 40
"""A question stands so many characters before what it asks."""


class _Described(NamedTuple):
    about: str
    level: bool
    things: re.Pattern[str]
    deeds: re.Pattern[str]
    unless: re.Pattern[str] | None
    clause: bool


class _Unknown(NamedTuple):
    about: str
    vertebra: bool
    half_known: bool
    things: re.Pattern[str]


class _Seen(NamedTuple):
    about: str
    kinds: frozenset[str]
    rules: frozenset[str]
    organs: frozenset[str]
    beside: frozenset[str]


class _Data(NamedTuple):
    unknown: tuple[_Unknown, ...]
    described: tuple[_Described, ...]
    deeds: re.Pattern[str]
    kinds_of: Mapping[str, frozenset[str]]
    ordinary: frozenset[str]
    before: frozenset[str]
    asked: re.Pattern[str]
    gainsaid: frozenset[str]
    seen: tuple[_Seen, ...]


def _form(phrase: str) -> str:
    """Write a phrase as a pattern: blanks or hyphens between its words, any ending behind ``*``, up to three words for ``~``."""
    stem = (
        re.escape(phrase.rstrip("*"))
        .replace(r"\ \~\ ", r"[\s-]+(?:\w+[\s-]+){0,3}")
        .replace(r"\ ", r"[\s-]+")
    )
    return stem + (r"\w*" if phrase.endswith("*") else "")


def _pattern(phrases: Iterable[str]) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(_form, phrases))})(?!\w)", re.IGNORECASE)


def _quick(phrases: Iterable[str]) -> re.Pattern[str]:
    """One pattern for small letters that begins with plain characters, for which the engine has a quick search."""
    by_first: dict[str, list[str]] = {}
    for p in phrases:
        by_first.setdefault(p[0], []).append(_form(p)[1:])
    forms = "|".join(f"(?<={first})(?:{'|'.join(rest)})" for first, rest in by_first.items())
    return re.compile(rf"[{''.join(by_first)}](?<!\w.)(?:{forms})(?!\w)")


@cache
def _data() -> _Data:
    data = rows_of("dangers")
    described = tuple(
        _Described(
            row["about"],
            bool(row.get("level")),
            _pattern(row["things"]),
            _pattern(row["deeds"]),
            _pattern(row["unless"]) if "unless" in row else None,
            bool(row.get("clause")),
        )
        for row in data["described"]
    )
    asked = "|".join(re.escape(p) for p in data["asked"])
    unknown = tuple(
        _Unknown(
            row["about"], bool(row.get("vertebra")), bool(row.get("half_known")), _pattern(row["things"])
        )
        for row in data["unknown"]
    )
    return _Data(
        unknown,
        described,
        _quick(p for row in data["described"] for p in row["deeds"]),
        {row["about"]: frozenset(row["kinds"]) for row in (*data["described"], *data["unknown"])},
        frozenset(data["ordinary"]),
        frozenset(data["before"]),
        re.compile(rf"(?:{asked})\W*(?:\w+\W+){{0,4}}$"),
        frozenset(data["gainsaid"]),
        tuple(
            _Seen(
                row["about"],
                *(frozenset(row.get(name, ())) for name in ("kinds", "rules", "organs", "beside")),
            )
            for row in data["seen"]
        ),
    )


def examples() -> list[tuple[str, str, str]]:
    """Give each row's id with its example and counter-example."""
    return [(row["id"], row["example"], row["counter"]) for row in rows_of("dangers")["described"]]


def labels() -> list[str]:
    """Give every danger that this file names, in the words by which a record knows it again."""
    data = rows_of("dangers")
    return [row["about"] for name in ("described", "unknown", "seen") for row in data[name]]


def described(text: str, sentence: Span, missed: Sequence[Span], *, names_level: bool) -> str:
    """Say what the words of a sentence that were not used may describe; empty if nothing is recognised.

    What is spoken of may stand anywhere in the sentence, what is said of it stands in the words that were not used and
    is not denied there.
    """
    whole = text[sentence.start : sentence.end]
    if not _data().deeds.search(whole.lower()):
        return ""
    for row in _data().described:
        if not (row.level and names_level) and not row.things.search(whole):
            continue
        if row.unless is not None and not row.clause and row.unless.search(whole):
            continue
        for span in missed:
            for deed in row.deeds.finditer(text, span.start, span.end):
                if row.clause and row.unless is not None:
                    own = _clause_of(whole, deed.start() - sentence.start)
                    if row.unless.search(own):
                        continue
                if not _DENIES.search(text[sentence.start : deed.start()].casefold()) or deed[
                    0
                ].casefold().startswith(("no", "without")):
                    return row.about
    return ""


def _clause_of(sentence: str, at: int) -> str:
    """Give the clause of a sentence that holds a place: ``vacuum gas at L4-5`` of ``... and gas in the body of L3``."""
    low = max((m.end() for m in _CLAUSE.finditer(sentence, 0, at)), default=0)
    end = _CLAUSE.search(sentence, at)
    return sentence[low : end.start() if end is not None else len(sentence)]


def unknown_of(sentence: str, *, names_vertebra: bool, half_known: bool) -> str:
    """Say what a sentence of words that no rule knows may be of, by what it speaks of; empty if of nothing that matters."""
    if _DENIED.search(sentence.casefold()):
        return ""
    rows = [r for r in _data().unknown if r.half_known or not half_known]
    return next((r.about for r in rows if (r.vertebra and names_vertebra) or r.things.search(sentence)), "")


def named(words: str, also: Sequence[str] = ()) -> str:
    """Name the first danger that free words tell of and do not deny (the topics of free text); empty if none.

    ``also`` names topics that are ordinary in a report of imaging and matter in this document; they come first, since
    a medicine of an allergy is no sign of what the medicine is for.
    """
    topics = [t.topic for t in told_in(words)]
    first = [t for t in topics if t in also]
    return next((t for t in (*first, *topics) if t in also or t not in _data().ordinary), "")


def told_before(words: str, section: str) -> str:
    """Name the danger that the requester's words or those on an earlier study tell of; what they only ask is none."""
    data = _data()
    if section not in data.before:
        return ""
    lowered = words.casefold()
    for told in told_in(words):
        at = lowered.find(told.words)
        if lowered[at + len(told.words) :].lstrip().startswith(_PROTOCOL):
            continue  # "tumor protocol" names a set of sequences
        if told.topic not in data.ordinary and not data.asked.search(
            lowered[max(0, at - _NEAR) : max(at, 0)]
        ):
            return told.topic
    return ""


def with_danger(seen: Sequence[Outside], findings: Sequence[Finding]) -> tuple[Outside, ...]:
    """Name the danger of which each thing seen outside the discs may be a sign."""
    return tuple(o._replace(danger=row.about) if (row := _sign(o, findings)) else o for o in seen)


def _sign(o: Outside, findings: Sequence[Finding]) -> _Seen | None:
    for row in _data().seen:
        if o.rule not in row.rules or (row.organs and o.organ not in row.organs):
            continue
        if not row.beside or any(f.kind in row.beside and f.status == PRESENT for f in findings):
            return row
    return None


def note_of(text: str, unread: Sequence[Account], seen: Sequence[Outside] = ()) -> str:
    """Word, for the record's line on the document, which passages may tell of danger and became no fact; empty if none.

    The free text of a record is looked through for signs of danger, so that what a report may tell stays open until a
    person has recorded it or taken the words out.
    """
    told = [(a.danger, " ".join(text[s.start : s.end] for s in a.missed)) for a in unread if a.danger]
    told += [(o.danger, text[o.quoted.start : o.quoted.end]) for o in seen if o.danger]
    if not told:
        return ""
    rows = [f"{about}: “{shorten(' '.join(words.split()), _LONGEST_TOLD)}”" for about, words in told]
    more = [f"{len(rows) - _MOST_TOLD} more"] if len(rows) > _MOST_TOLD else []
    return "; ".join((_NOTE, *rows[:_MOST_TOLD], *more))


def gainsaid(
    text: str,
    accounts: Sequence[Account],
    rows: Sequence[Statement],
    findings: Sequence[Finding],
    seen: Sequence[Outside],
    dangers: Mapping[str, str],
) -> tuple[Contradiction, ...]:
    """Raise what the report denies of its whole where a passage that was not read, or a thing seen outside the discs, may tell of it."""
    data = _data()
    denied = [f for f in findings if f.kind in data.gainsaid and f.status == ABSENT and not f.disc]
    if not denied:
        return ()
    kinds: set[str] = set()
    for a in accounts:
        if a.danger and rows[a.statement].section in BODY:
            by_description = data.kinds_of.get(a.danger, ())
            if by_description:
                kinds.update(by_description)
            elif any(named(text[s.start : s.end]) for s in a.missed):
                kinds.update(k for k, about in dangers.items() if about == a.danger)
    for o in seen:
        row = _sign(o, findings) if o.danger and rows[o.statement].section in BODY else None
        kinds.update(row.kinds if row else ())
    out = []
    for kind in dict.fromkeys(f.kind for f in denied):
        if kind in kinds:
            out.append(Contradiction(NOT_READ_BESIDE, "", kind, tuple(f for f in denied if f.kind == kind)))
    return tuple(out)
