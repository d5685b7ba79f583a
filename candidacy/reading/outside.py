"""Things seen outside the discs that somebody should be told of; the words are in ``outside.yaml``."""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.lexer import Tokens
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import (
    ABSENT,
    BODY,
    POSSIBLE,
    PRESENT,
    Finding,
    Modifier,
    Outside,
    Span,
    Statement,
)
from candidacy.reading.scope import apply
from candidacy.reading.spelling import Speller

_STOPS = frozenset((".", ";", ":"))
_KEPT, _QUIET = 16_384, 4_096
_LEAD = grammar("measure_lead")
_BESIDE, _ITEM = 7, 4
"""A size stands within so many words; an item of a list has so many at most."""
_GUESSED = 7
"""A word of so many letters is also known with a typing error."""


class _Row(NamedTuple):
    """A phrase that was found, as a half-open range of tokens, with its row in the data file."""

    start: int
    end: int
    row: Mapping[str, Any]


class _Seen(NamedTuple):
    """What is being put together: its mention, its row, the words of both as ranges of tokens, the organ's name."""

    mention: Mention
    row: Mapping[str, Any]
    ranges: list[tuple[int, int]]
    organ: str


_LESS = grammar("measure_less")
_LOW = "low_end"
_CENTIMETRE = 10
"""Millimetres of it."""


class _Words(NamedTuple):
    """The phrases by their first word, those words without which nothing is outside, the words in them by each accepted spelling, and a guess at others."""

    phrases: Mapping[str, Sequence[tuple[tuple[str, ...], Mapping[str, Any]]]]
    starts: frozenset[str]
    known: Mapping[str, str]
    spell: Speller
    reach: int
    units: frozenset[str]
    joins: frozenset[str]
    breaks: frozenset[str]
    size: str
    memory: dict[tuple[str, str], str]
    """By a token and its word in the lexicon: a table puts the words of its column on the first token of a cell."""
    quiet: set[tuple[str, str]]
    """Tokens met before, with their words, that begin no phrase."""


@cache
def _words() -> _Words:
    data = rows_of("outside")
    rows: list[tuple[str, Mapping[str, Any]]] = [(p, {"group": "shadow", "id": p}) for p in data["shadows"]]
    for group in ("organs", "abnormal", "alone"):
        rows += [(p, {**row, "group": group}) for row in data[group] for p in row["phrases"]]
    known: dict[str, str] = {}
    for phrase, _ in rows:
        for word in phrase.split():
            known[word] = known.get(word, word)
            if len(word) > 3 and not word.endswith("s"):
                known.setdefault(word + "s", known[word])
    guess = {w: target for w, target in known.items() if len(w) >= _GUESSED}
    spell = Speller(known, guess, frozenset())
    phrases: dict[str, list[tuple[tuple[str, ...], Mapping[str, Any]]]] = {}
    for phrase, row in rows:
        words = tuple(known[w] for w in phrase.split())
        phrases.setdefault(words[0], []).append((words, row))
    for found in phrases.values():
        found.sort(key=lambda f: -len(f[0]))
    return _Words(
        phrases,
        frozenset(
            w for w, rows in phrases.items() if any(row["group"] in ("organs", "alone") for _, row in rows)
        ),
        known,
        spell,
        data["reach"],
        frozenset(data["units"]),
        frozenset(data["joins"]),
        frozenset(data["breaks"]),
        data["size"],
        {},
        set(),
    )


def examples() -> list[tuple[str, str, str]]:
    """Give each row's id with its example and counter-example."""
    data = rows_of("outside")
    return [
        (row["id"], row["example"], row["counter"]) for group in ("abnormal", "alone") for row in data[group]
    ]


def outside(parts: Parts, tokens: Tokens, sentence: Statement, number: int) -> list[Outside]:
    """Give what a statement says of anything but the discs, denials among it, in the order of the text."""
    data = _words()
    memory, quiet = data.memory, data.quiet
    raw = [m[0] for m in tokens.found]
    if quiet.issuperset(zip(raw, parts.words, strict=True)):
        return []
    pairs = list(zip(raw, parts.words, strict=True))
    loud = [pair for pair in pairs if pair not in quiet]
    if len(memory) > _KEPT:
        memory.clear()
    if len(quiet) > _QUIET:
        quiet.clear()
    starts = data.starts
    begun = False
    for pair in loud:
        if (memory.get(pair) or _spelled(*pair, data)) in starts:
            begun = True
        else:
            quiet.add(pair)
    if not begun:
        return []
    words = [memory.get(pair) or _spelled(*pair, data) for pair in pairs]
    found = _phrases(words, data)
    organs = [r for r in found if r.row["group"] == "organs"]
    made: list[_Seen] = []
    paired: set[int] = set()
    for said in (r for r in found if r.row["group"] == "abnormal"):
        within = [o for o in organs if not _denied_between(parts, said, o)]
        organ = _nearest(words, said, within, data.reach)
        if organ is not None:
            ranges = sorted(((said.start, said.end), (organ.start, organ.end)))
            made.append(_Seen(_mention(said), said.row, ranges, organ.row["name"]))
            paired.add(said.start)
    for row in (r for r in found if r.row["group"] == "alone" and r.start not in paired):
        made.append(_Seen(_mention(row), row.row, [(row.start, row.end)], row.row["organ"]))
    named = list(made)
    for organ in (o for o in organs if o.row.get("sized")):
        end = next(
            (i for i in range(organ.end, len(words)) if words[i] in data.units or words[i] in _STOPS), None
        )
        if end is not None and words[end] in data.units and end - organ.end <= data.reach:
            m = Mention("outside", "present", organ.start, end + 1, "sized")
            m.status = POSSIBLE
            wide = _if_wide(organ, words, end)
            row_of_size = {"id": "sized", "name": data.size, **wide}
            if wide or not named:
                made.append(_Seen(m, row_of_size, [(m.start, m.end)], organ.row["name"]))
                break
    made += _low_ends(organs, words, tokens)
    apply(parts, [each.mention for each in made])
    if any(each.mention.status != ABSENT for each in named):
        made = [
            each for each in made if each in named or not named or each.row["id"] == _LOW
        ]  # "aorta dilated to 4 cm" is told already
    for each in made:
        _deny_within(parts, each.mention)
    for each in made:
        if each.mention.status == ABSENT and not _surely_denied(words, each.mention, data):
            each.mention.status = POSSIBLE
        if each.mention.status == PRESENT and _set_off_doubt(words, parts, each.mention):
            each.mention.status = POSSIBLE
    out = [_told(each, _with_size(words, each.ranges, data), tokens, sentence, number) for each in made]
    return _once(sorted(out, key=lambda o: o.evidence))


def _low_ends(organs: Sequence[_Row], words: Sequence[str], tokens: Tokens) -> list[_Seen]:
    """``The conus terminates at L4``: an organ of which the end is told by a level, and where that is low."""
    found = []
    for organ in organs:
        low = organ.row.get("low")
        behind = next((g for g in tokens.groups if g.start >= organ.end), None) if low else None
        if (
            low is None
            or behind is None
            or not set(organ.row["to_its_end"]).issuperset(words[organ.end : behind.start])
        ):
            continue
        if behind.vertebra in low["vertebrae"] or not set(low["discs"]).isdisjoint(behind.discs):
            m = Mention("outside", "present", organ.start, behind.end, _LOW)
            found.append(_Seen(m, {"id": _LOW, "name": low["name"]}, [(m.start, m.end)], organ.row["name"]))
    return found


def _deny_within(parts: Parts, m: Mention) -> None:
    """Deny what is part of its own denial: ``no abnormal marrow signal``, where "no abnormal" is one phrase."""
    own = [x for x in parts.mods if x.start < m.start and m.end <= x.end and x.entry.kind == "negation"]
    if m.status == PRESENT and own:
        m.mods, m.status = (*m.mods, *own[:1]), ABSENT


def _set_off_doubt(words: Sequence[str], parts: Parts, m: Mention) -> bool:
    """Say whether a doubt stands by itself between commas: ``a renal mass, possibly, as far as can be seen``."""
    size = len(words)
    return any(
        x.entry.kind == "possible"
        and x.start > 0
        and words[x.start - 1] in (",", "(")
        and (x.end == size or words[x.end] in (",", ")", "."))
        and _STOPS.isdisjoint(words[min(x.end, m.end) : max(x.start, m.start)])
        for x in parts.mods
    )


def _spelled(raw: str, word: str, data: _Words) -> str:
    """Give a word as the phrases have it: as written, as the lexicon spells it, or mistyped."""
    low = raw.lower()
    guess = low == word and not lexicon().spell.knows(low)
    found = data.known.get(low) or data.known.get(word) or (data.spell(low) if guess else word)
    if low.isalpha():
        data.memory[raw, word] = found
    return found


def _phrases(words: Sequence[str], data: _Words) -> list[_Row]:
    """Find phrases, the longest first at each place; words that are both sorts of phrase count as both."""
    out: list[_Row] = []
    at = 0
    while at < len(words):
        begun = data.phrases.get(words[at])
        if begun is None:
            at += 1
            continue
        here = [(p, row) for p, row in begun if tuple(words[at : at + len(p)]) == p]
        size = max((len(p) for p, _ in here), default=1)
        out += [_Row(at, at + size, row) for p, row in here if len(p) == size]
        at += size
    return out


def not_of_the_spine(seen: Iterable[Outside], tokens: Tokens, mentions: list[Mention]) -> None:
    """Take out tumours of the spine that are masses of an organ apart from it: ``a mass of the left kidney``."""
    apart, spinal = _apart()
    words = [w for o in seen if o.organ in apart for w in o.words]
    if not words or tokens.groups or not spinal.isdisjoint(m[0].lower() for m in tokens.found):
        return
    mentions[:] = [
        m
        for m in mentions
        if m.kind != "tumour" or not any(_meet(tokens.span(m.start, m.end), w) for w in words)
    ]


def _meet(a: Span, b: Span) -> bool:
    return a.start < b.end and b.start < a.end


@cache
def _apart() -> tuple[frozenset[str], frozenset[str]]:
    data = rows_of("outside")
    return frozenset(r["name"] for r in data["organs"] if r.get("apart")), frozenset(data["spinal"])


def _nearest(words: Sequence[str], said: _Row, organs: Sequence[_Row], reach: int) -> _Row | None:
    only, never = said.row.get("only"), said.row.get("not_of", ())
    best: tuple[int, _Row] | None = None
    for organ in organs:
        if (only and organ.row["id"] not in only) or organ.row["id"] in never:
            continue
        low, high = (organ.end, said.start) if organ.start < said.start else (said.end, organ.start)
        gap, between = high - low, words[low:high]
        if organ.start <= 1 and between[:1] == [":"]:
            between = between[1:]  # "Hips: mild osteoarthritis"
        if gap > reach or not _STOPS.isdisjoint(between):
            continue
        if best is None or gap < best[0]:
            best = (gap, organ)
    return best[1] if best else None


def _denied_between(parts: Parts, said: _Row, organ: _Row) -> bool:
    """``endplate oedema, no paraspinal collection``: behind a denial another thing is spoken of."""
    return any(
        x.entry.kind == "negation" and x.entry.reach == "forward" and said.end <= x.start < organ.start
        for x in parts.mods
    )


def _mention(said: _Row) -> Mention:
    return Mention("outside", "present", said.start, said.end, said.row["id"])


def _if_wide(organ: _Row, words: Sequence[str], unit: int) -> dict[str, Any]:
    """Give the finding that an organ of the size before ``unit`` may be: an aorta of 47 mm is wide."""
    wide, number = organ.row.get("wide"), words[unit - 1].replace(",", ".")
    if not wide or not number.replace(".", "", 1).isdecimal():
        return {}
    if not _LESS.isdisjoint(("_".join(words[unit - 3 : unit - 1]), words[unit - 2])):
        return {}  # "less than 30 mm"
    millimetres = float(number) * (_CENTIMETRE if words[unit].startswith("c") else 1)
    return {"kind": wide["kind"], "doubt": True} if millimetres >= wide["from"] else {}


def _with_size(
    words: Sequence[str], ranges: Sequence[tuple[int, int]], data: _Words
) -> list[tuple[int, int]]:
    """Add a size that stands beside the words: ``a 4 cm left renal mass``, ``cyst measuring 5 cm``."""
    low, high = ranges[0][0], ranges[-1][1]
    for at in range(max(0, low - _BESIDE), min(len(words) - 1, high + _BESIDE)):
        if words[at][0].isdigit() and words[at + 1] in data.units:
            gap = words[at + 2 : low] if at < low else words[high:at]
            led = "," not in gap or all(w == "," or w in _LEAD for w in gap)
            if led and _STOPS.isdisjoint(gap):
                return sorted((*ranges, (at, at + 2)))
    return list(ranges)


def _told(
    seen: _Seen, ranges: Sequence[tuple[int, int]], tokens: Tokens, sentence: Statement, number: int
) -> Outside:
    m, row, organ = seen.mention, seen.row, seen.organ
    told = tuple(tokens.span(start, end) for start, end in ranges)
    mods = tuple(Modifier(x.entry.kind, x.entry.id, tokens.span(x.start, x.end)) for x in m.mods)
    kind = row.get("kind", "")
    if "kind_of" in row and organ not in _names(row["kind_of"]):
        kind = ""
    if organ in _names(row.get("kind_not_of", ())):
        kind = ""
    if sentence.section not in BODY and m.status == "present":
        m.status = "possible"  # advice to look for something is no finding
    return Outside(
        organ,
        row["name"],
        m.status,
        Span(told[0].start, told[-1].end),
        told,
        mods,
        row["id"],
        kind,
        bool(row.get("doubt")),
        bool(row.get("denies")),
        number,
    )


def _surely_denied(words: Sequence[str], m: Mention, data: _Words) -> bool:
    """Say whether a denial reaches for certain: over a comma only in a list (``no mass, cyst or stone``)."""
    for x in m.mods:
        if x.entry.kind == "negation":
            gap = words[x.end : m.start] if x.end <= m.start else words[m.end : x.start]
            if "," not in gap or _listed(words, x.end, m, data):
                return True
    return False


def _listed(words: Sequence[str], start: int, m: Mention, data: _Words) -> bool:
    """Say whether words behind a denial are items of a list that an ``or`` closes."""
    end = next((i for i in range(m.end, len(words)) if words[i] in _STOPS), len(words))
    last = next((i for i in range(end - 1, start, -1) if words[i] in data.joins), -1)
    if last < 0 or last + _ITEM < m.start:
        return False
    gap = words[start : max(m.start, last)]
    plain = data.breaks.isdisjoint(gap) and not any(w[0].isdigit() for w in gap)
    items = " ".join(gap).split(",")
    return plain and all(len(item.split()) <= _ITEM for item in items)


def findings_of(seen: Sequence[Outside], sentence: Statement) -> list[Finding]:
    """Give the findings that criteria read of what was seen outside the discs."""
    out = []
    for o in seen:
        if o.kind and (o.status != ABSENT or o.denies):
            status = POSSIBLE if o.doubt and o.status == PRESENT else o.status
            rest = (o.modifiers, (), (), o.rule, sentence.section, o.statement)
            out.append(Finding(o.kind, "present", status, "", "report", o.evidence, None, *rest))
    return out


@cache
def _all_names() -> dict[str, str]:
    return {row["id"]: row["name"] for row in rows_of("outside")["organs"]}


def _names(ids: Iterable[str]) -> set[str]:
    return {_all_names()[i] for i in ids}


def _once(rows: Sequence[Outside]) -> list[Outside]:
    """Leave out what is said twice of the same words."""
    return list({(o.organ, o.about, o.evidence): o for o in rows}.values())
