"""Which words of a statement the findings rest on, and which no rule knows."""

import re
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from candidacy.reading.data_files import rows_of
from candidacy.reading.grades import ROMAN
from candidacy.reading.lexer import Group, Match, Tokens
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Parts
from candidacy.reading.model import Finding, Outside, Span
from candidacy.reading.reach import QUIET

GRADES = frozenset((*grammar("grade_cue"), *grammar("grade_filler"), *map(str.lower, ROMAN[1:])))
"""Words that are used where they stand in the words of a finding: a grade and what leads to it."""
_IN_ORDER = ("normal", "free")
_OF_SIGNAL = ("dim", "loss", "off")
"""Words such as "low" that also name a direction or a part."""
_NEAR = 3
_HAVE_SIDES = frozenset(
    (
        "displacement",
        "foraminal_stenosis",
        "recess_stenosis",
        "annular_fissure",
        "high_intensity_zone",
        "neural_compression",
        "endplate_change",
    )
)
_SIDE_LETTERS = {"l": "left", "r": "right", "lt": "left", "rt": "right"}
_ROW = frozenset((",", "/", "&", "and"))
_COMPARED = frozenset((">", "<", "="))
_OF_THE_SPINE = (["spine"], ["spinal"], ["-"], ["s"])
_AS_ABOVE = ("as", "above")
_THE_REST = frozenset(("rest", "others", "remainder"))
_LEADS_IN = frozenset((":", "-", "–", "<disc>", ",", "the", "is"))
_GOES_ON = frozenset(
    (",", ";", ".", "(", "plus", "and", "but", "with", "without", "except", "no", "at", "for")
)
_LIKEWISE = frozenset(("also", "too", "so", "likewise", "similarly", "ditto", "equally"))
_OF_A_DISC = frozenset(("foramen", "recess", "canal", "root", "sac", "annulus", "height", "signal"))
_UNITS = grammar("unit")
_CUES = grammar("grade_cue")
_YES = grammar("form_yes")
_LEADS = frozenset((":", "=", "(", ")", "/", "r", "l", "right", "left", "bilateral"))
_CLOSES = frozenset((",", ";", ".", ")", "/", "and", "left", "right", "r", "l"))
_LETTERS = frozenset("abcd")
_SHARE = re.compile(r"[1-4]/[2-5]")
_LIMITS = frozenset("<>≤≥~≈")


class Heard(NamedTuple):
    """What the reader recognised in a statement; ``added`` words at its front stand in for the name of a column.

    ``seen`` is what it says of anything but the discs, denials among it.
    """

    parts: Parts
    tokens: Tokens
    added: int
    seen: Sequence[Outside]


class LedgerWords(NamedTuple):
    """The data file, with its words as the lexicon spells them."""

    sections: Mapping[str, str]
    no_findings_in: frozenset[str]
    findings_shown_in: frozenset[str]
    plain: frozenset[str]
    cuts: frozenset[str]
    in_order: frozenset[str]
    idle: Mapping[str, Sequence[tuple[tuple[str, ...], str, str]]]
    reasons: Mapping[str, str]
    graded: frozenset[str]
    """Known entries whose degree at a named disc is of weight."""
    limits: frozenset[str]
    no_limit: frozenset[str]
    repeats: frozenset[str]


@cache
def ledger_words() -> LedgerWords:
    """Load the data file once."""
    data, lex = rows_of("ledger"), lexicon()

    def several(name: str) -> frozenset[str]:
        given = data[name].split()
        return frozenset((*given, *(lex.spell(w) for w in given)))

    idle: dict[str, list[tuple[tuple[str, ...], str, str]]] = {}
    for row in data["idle"]:
        for phrase in row["phrases"]:
            words = lex.words(phrase)
            idle.setdefault(words[0], []).append((words, row["id"], row["why"]))
    return LedgerWords(
        data["sections"],
        frozenset(data["no_findings_in"]),
        frozenset(data["findings_shown_in"]),
        several("plain") | several("describing") | several("in_order"),
        several("cuts"),
        several("in_order"),
        idle,
        data["reasons"],
        frozenset(data["graded"]),
        several("limits"),
        several("no_limit"),
        several("repeats"),
    )


def missed_clauses(
    heard: Heard, used: Sequence[Span], rest: Collection[int], data: LedgerWords
) -> list[Span]:
    """Give the clauses that no finding rests on and that hold more than words of no weight."""
    words, tokens = heard.parts.words, heard.tokens
    out: list[Span] = []
    low = heard.added
    cuts = [i for i, w in enumerate(words) if w in data.cuts and i >= low]
    for high in (*cuts, len(words)):
        if high > low:
            start, end = tokens.found[low].start(), tokens.found[high - 1].end()
            for s, e in used:
                if s < end and start < e:
                    break
            else:
                if _says_something(heard.parts, rest, low, high):
                    out.append(Span(start, end))
        low = high
    return out


def _says_something(parts: Parts, rest: Collection[int], low: int, high: int) -> bool:
    def within(rows: Sequence[Match]) -> list[Match]:
        return [m for m in rows if low <= m.start < high]

    if any(low <= i < high for i in rest) or within(parts.heads):
        return True
    if any(low <= start < high for start, _, _ in parts.severities):
        return True  # "severe stenosis is not seen; mild only"
    alone = [
        o for o in within(parts.objs) if o.entry.kind in _OF_A_DISC and (o.start, o.end) == (low + 1, high)
    ]
    if alone and parts.words[low] == "," == "".join(parts.words[high : high + 1]):
        return True  # "narrowed canal, height, signal normal"
    acts = within(parts.acts)
    normal = all(a.entry.kind == "normal" for a in acts)
    denied = any(m.entry.kind == "negation" for m in within(parts.mods))
    if denied and not within(parts.known) and (within(parts.objs) if not acts else normal):
        return True  # "has lost its water but not its height", "it is not that the disc is normal"
    if denied and not _THE_REST.isdisjoint(parts.words[low:high]):
        return True  # "Modic 1 at L4-5; rest nil"
    if parts.words[low] == "but" and within(parts.objs) and not (acts or denied):
        return True  # "narrowing not of the canal but of the foramina"
    if not _LIKEWISE.isdisjoint(parts.words[low:high]) and any(
        o.entry.kind in _OF_A_DISC for o in within(parts.objs)
    ):
        return True  # "canal narrowing, recesses also", "canal normal, foramina less so"
    if acts and "otherwise" in parts.words[low:high]:
        return True  # "mild bulge, otherwise normal": what of is not said
    return bool(acts and within(parts.objs)) and not within(parts.known) and not normal


def left_aside(heard: Heard, used: Sequence[Span]) -> list[Span]:
    """Give the words that say something of a thing and that no finding rests on: ``adjacent segment degeneration``.

    One that only tells the nature of the finding beside it (``degenerative disc bulge``) belongs to that.
    """
    parts, tokens = heard.parts, heard.tokens
    rows = [
        m for m in (*parts.acts, *parts.heads) if m.entry.kind not in _IN_ORDER and m.start >= heard.added
    ]
    rows = [m for m in rows if parts.words[m.start : m.end] != ["lower"]]  # "the lower lumbar discs"
    out = []
    for m in rows:
        span = tokens.span(m.start, m.end)
        low, high = max(0, m.start - 1), min(len(tokens.found), m.end + 1)
        near = tokens.span(low, high) if m.entry.kind in QUIET or m.entry.kind in _OF_SIGNAL else span
        if not any(s.start < near.end and near.start < s.end for s in used) and not _denied(parts, m.start):
            out.append(span)
    return out


def lost_sides(heard: Heard, findings: Sequence[Finding]) -> list[Span]:
    """Give the words of a side on which no finding of the statement is: ``Protrusions: L4-5 left, L5-S1 right``."""
    parts, tokens = heard.parts, heard.tokens
    compared = not any(f.kind in _HAVE_SIDES for f in findings)
    if not findings or (compared and _COMPARED.isdisjoint(parts.words)):
        return []
    said = {s for f in findings for s in f.sides}
    of_others = {i for k in parts.known for i in range(k.start - _NEAR, k.end)}
    sides = [
        (a.start, a.end)
        for a in parts.attributes
        if a.entry.kind == "side"
        and said.isdisjoint(a.entry.value)
        and parts.words[a.start : a.end] != ["both"]
        and parts.words[a.end : a.end + 1] not in _OF_THE_SPINE
    ]
    if not _SIDE_LETTERS.keys().isdisjoint(parts.words):
        bare = parts.bare if parts.bare is not None else _bare(parts)
        sides += [
            (i, i + 1)
            for i in bare
            if parts.words[i] in _SIDE_LETTERS
            and _SIDE_LETTERS[parts.words[i]] not in said
            and parts.words[i + 1 : i + 2] not in _OF_THE_SPINE
        ]
    if (
        compared
    ):  # "facet arthropathy L4-5, L>R": of what bears no side a comparison is not left out in silence
        sides = [
            (s, e)
            for s, e in sides
            if not _COMPARED.isdisjoint((*parts.words[s - 1 : s], *parts.words[e : e + 1]))
        ]
    return [tokens.span(s, e) for s, e in sides if s >= heard.added and s not in of_others]


def lost_shares(heard: Heard, findings: Sequence[Finding]) -> list[Span]:
    """Give fractions beside a lost height that no finding holds: ``height loss > 1/3``, which is no percentage as written."""
    if all(f.kind != "height_loss" for f in findings):
        return []
    words, found = heard.parts.words, heard.tokens.found
    used = [f.evidence for f in findings if f.kind != "height_loss"]
    out = []
    for i, token in enumerate(found):
        if i < heard.added or words[i] == "<disc>":
            continue
        span = _share_at(found, i)
        if span is not None and not any(u.start <= token.start() < u.end for u in used):
            out.append(span)
    return out


def _share_at(found: Sequence[re.Match[str]], at: int) -> Span | None:
    """Give the words of a fraction that begins at a token, with the sign before it."""
    low = at - 1 if at and found[at - 1][0] in _LIMITS else at
    if _SHARE.fullmatch(found[at][0]):
        return Span(found[low].start(), found[at].end())
    if [m[0] for m in found[at + 1 : at + 2]] == ["/"] and at + 2 < len(found):
        whole = f"{found[at][0]}/{found[at + 2][0]}"
        return Span(found[low].start(), found[at + 2].end()) if _SHARE.fullmatch(whole) else None
    return None


def lost_sites(heard: Heard, findings: Sequence[Finding]) -> list[Span]:
    """Give the words of a site beside a displaced disc that are the site of none: ``protrusion 8 mm, left subarticular zone``."""
    parts, tokens = heard.parts, heard.tokens
    if all(f.kind != "displacement" for f in findings):
        return []
    used = [f.evidence for f in findings]
    others = [
        (x.start, x.end)
        for rows in (parts.objs, parts.heads, parts.acts, parts.known, parts.places)
        for x in rows
    ]
    spans = [
        tokens.span(a.start, a.end)
        for a in parts.attributes
        if a.entry.kind == "site"
        and a.start >= heard.added
        and (
            "zone" in parts.words[a.start : a.end + 1]
            or not any(s < a.end and a.start < e for s, e in others)
        )
    ]
    return [s for s in spans if not any(u.start < s.end and s.start < u.end for u in used)]


def repeats(heard: Heard) -> list[Span]:
    """Give the words by which a level takes over what was said before, beside something of its own: ``L5-S1: same without tear``."""
    words, data = heard.parts.words, ledger_words()
    ends = {i: i + 1 for i, w in enumerate(words) if w in data.repeats}
    ends |= {i: i + 2 for i, w in enumerate(words[:-1]) if (w, words[i + 1]) == _AS_ABOVE}
    return [
        heard.tokens.span(at, end)
        for at, end in ends.items()
        if at >= heard.added
        and (at == heard.added or words[at - 1] in _LEADS_IN)
        and (end == len(words) or words[end] in _GOES_ON)
    ]


def _denied(parts: Parts, at: int) -> bool:
    """Say whether a denial stands right before: what is denied and not asserted is of no weight."""
    return any(
        m.entry.kind == "negation" and m.end <= at <= m.end + _NEAR and "," not in parts.words[m.end : at]
        for m in parts.mods
    )


def not_covered(heard: Heard, findings: Sequence[Finding], data: LedgerWords) -> frozenset[int]:
    """Give the words, by position, that no entry of the lexicon and no list of plain words covers.

    A number with a unit counts too, where nothing was measured by it.
    """
    parts, tokens = heard.parts, heard.tokens
    words, plain = parts.words, data.plain
    left = weighty(parts, tokens.groups, heard.added)
    if not left:
        return frozenset()
    used = [f.evidence for f in findings if f.statement < 0 or f.rule == "measure"]
    used += [s for o in heard.seen for s in o.words]
    graded = [f.evidence for f in findings]
    scales = lexicon().grade_first | lexicon().grade_values
    out = set()
    for i in left:
        word = words[i]
        if not (_is_grade(words, i) or _is_bare_grade(words, i)):
            if word[0].isdigit():
                if not _has_unit(words, i) and not _is_value(parts, i):
                    continue
            elif not word[0].isalpha() or len(word) < 2:
                continue
        found = tokens.found[i]
        answer = word in GRADES or word in scales or word in _YES or _is_grade(words, i)
        answer |= word[0].isdigit() and _UNITS.isdisjoint(words[i + 1 : i + 2])  # "Pfirrmann 4/5, 3 mm bulge"
        near = used + graded if answer else used
        if found[0].lower() in plain or any(s.start <= found.start() < s.end for s in near):
            continue
        out.add(i)
    return frozenset(out)


def _has_unit(words: Sequence[str], at: int) -> bool:
    """Say whether a unit stands behind a number, or behind the last of a row of them: ``1, 2, 3 mm``."""
    at += 1
    while (
        words[at : at + 1]
        and (words[at] in _ROW or words[at] == "or")
        and words[at + 1 : at + 2]
        and words[at + 1][0].isdigit()
    ):
        at += 2
    return words[at : at + 1] != [] and words[at] in _UNITS


def _is_value(parts: Parts, at: int) -> bool:
    """``facet arthropathy (R/L): 1/2``, ``canal stenosis: 2``: a number as the value of a finding, of no scale that is named."""
    words, low = parts.words, at
    while low and (words[low - 1] in _LEADS or words[low - 1][0].isdigit()):
        low -= 1
    behind = words[at + 1 : at + 2]
    if behind and behind[0] not in _CLOSES:
        return False
    return any(a.end == low for a in parts.acts)


def _is_grade(words: Sequence[str], at: int) -> bool:
    """``type 2``, ``grade C``, ``Modic 1``: a grade right behind its cue or scale; one that no finding holds was not read."""
    if at == 0 or not (words[at].isdigit() or words[at] in _LETTERS):
        return False
    return words[at - 1] in _CUES or (words[at].isdigit() and words[at - 1] in lexicon().scales)


def _is_bare_grade(words: Sequence[str], at: int) -> bool:
    """``Modic: L4-5 I``, ``Modic L4-5 1, L5-S1 2``: a numeral right behind a level, with no word behind it."""
    behind = words[at + 1 : at + 2]
    if not words[at].isalnum():
        return False
    graded = words[at] in GRADES or (len(words[at]) == 1 and not lexicon().scales.isdisjoint(words[:at]))
    return graded and words[at - 1 : at] == ["<disc>"] and not (behind and behind[0][0].isalpha())


def weighty(parts: Parts, groups: Sequence[Group], added: int, also: Collection[str] = ()) -> list[int]:
    """Give the words, by position, that no entry, no level and no list of plain words covers; and those of ``also``."""
    words, plain = parts.words, ledger_words().plain
    bare = parts.bare if parts.bare is not None else _bare(parts)
    left = [i for i in bare if i >= added and (words[i] not in plain or words[i] in also)]
    for ranges in (parts.severities, groups):  # each with what joins its words
        for within in ranges if left else ():
            left = [i for i in left if not within[0] <= i < within[1]]
    return left


def _bare(parts: Parts) -> tuple[int, ...]:
    """Give the positions of the words that no entry of the lexicon holds."""
    bare: list[int] = []
    past = 0
    for start, end, _ in parts.matches:
        if start > past:
            bare.extend(range(past, start))
        past = end
    bare.extend(range(past, len(parts.words)))
    parts.bare = tuple(bare)
    return parts.bare


def odd_words(heard: Heard, rest: Collection[int], within: Sequence[Span]) -> list[Span]:
    """Give the words that no rule knows outside the clauses given, neighbours together."""
    out: list[Span] = []
    last = -2
    for i in sorted(rest):
        span = heard.tokens.span(i, i + 1)
        if any(s.start <= span.start < s.end for s in within):
            continue
        if i == last + 1:
            out[-1] = Span(out[-1].start, span.end)
        else:
            out.append(span)
        last = i
    return out


def together(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Give spans in the order of the text, those that overlap as one."""
    out: list[Span] = []
    for s in sorted(spans):
        if out and s.start < out[-1].end:
            out[-1] = Span(out[-1].start, max(out[-1].end, s.end))
        else:
            out.append(s)
    return tuple(out)


def tokens_in(heard: Heard, spans: Sequence[Span]) -> list[int]:
    """Give the positions of the words that stand in one of the spans, which are in order and do not overlap."""
    starts, low = [m.start() for m in heard.tokens.found], heard.added
    return [
        i for s in spans for i in range(bisect_left(starts, s.start, low), bisect_left(starts, s.end, low))
    ]
