"""Words that no rule knows beside a finding: what they may take back is not asserted.

An unknown verb, noun or adverb in the clause of a finding, between it and its level, or in words that open or follow
the clause may say anything (``has vanished``, ``on her old films``); an unknown adjective right before it only describes it.
"""

from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import pairwise
from typing import NamedTuple

from candidacy.reading.clause_data import clause_data
from candidacy.reading.clauses import Unread
from candidacy.reading.coverage import GRADES, ledger_words, weighty
from candidacy.reading.data_files import rows_of
from candidacy.reading.directions import ALL
from candidacy.reading.groups import OTHERS
from candidacy.reading.lexer import Tokens, is_bare
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import LASTING, Mention, Parts
from candidacy.reading.model import ABSENT, PRESENT
from candidacy.reading.singled import COUNTED, COUNTED_NAMES
from candidacy.reading.spelling import distance

_PLAIN = ("anatomy", "signal", "shape", "degree", "nature", "verbs", "other")
_STRONG_ENDS = frozenset((",", "(", "but"))
_PHRASE_ENDS = frozenset((*_STRONG_ENDS, ":", ";", ".", "and", "with"))
_WITH_IT = frozenset(("with", "a", "an", "also", "mild", "moderate", "severe", "type"))
_IN_ORDER = ("none", "absent")
_CUES = grammar("grade_cue")
_LONG = 9
"""From so many letters on a harmless word is known with one of them wrong."""
_SHORT = 4
"""An unknown word of at most so many letters may stand for any other."""
_JOINING = frozenset(("and", "the", "of", "at", "with"))
_TURNING = frozenset(
    ("negation", "possible", "historical", "resolved", "hypothetical", "other_person", "mood", "pseudo")
)


class _Words(NamedTuple):
    harmless: frozenset[str]
    telling: frozenset[str]
    doubtful: frozenset[str]
    doubtful_ends: frozenset[str]
    describing_ends: frozenset[str]
    ends: frozenset[str]
    openers: frozenset[str]
    takes: frozenset[str]
    picks: frozenset[str]
    leads: frozenset[str]
    undone: frozenset[str]
    between: frozenset[str]
    postures: frozenset[str]
    in_posture: frozenset[str]
    of_posture: frozenset[str]
    labels: frozenset[str]
    ones: frozenset[str]
    of_ones: frozenset[str]
    sorts: frozenset[str]
    parted: frozenset[str]
    some: frozenset[str]
    aged: frozenset[str]
    rest: frozenset[str]
    letters: frozenset[str]


@cache
def _words() -> _Words:
    data, spell, rules = rows_of("vocabulary"), lexicon().spell, clause_data()
    named = {name: frozenset(value.split()) for name, value in data.items()}
    plain = [w for name in _PLAIN for w in named[name]]
    read = [
        w for given in (*rules["words"].values(), rules["silent"], rules["turned"]) for w in given.split()
    ]
    read += [part for name in named["grammar"] for w in grammar(name) for part in (w, *w.split("_"))]
    scales = [w for name in lexicon().grades for w in name]
    harmless = frozenset(
        (*plain, *(spell(w) for w in (*plain, *read)), *GRADES, *scales, *lexicon().grade_values)
    )
    return _Words(harmless, *(named[name] for name in _Words._fields[1:]))


@cache
def _at_ease() -> frozenset[str]:
    """List the words that change nothing beside a finding, in either spelling."""
    return _words().harmless | ledger_words().plain


@cache
def other_parts() -> frozenset[str]:
    """List the words for parts of the body that are no part of a disc as a whole, in either spelling."""
    rows = rows_of("vocabulary")
    named = rows["anatomy"].split()
    return frozenset((*named, *map(lexicon().spell, named))) - frozenset(rows["of_a_disc"].split())


def beside_unknown(parts: Parts, tokens: Tokens, added: int, mentions: list[Mention]) -> list[Unread]:
    """Take out of ``mentions`` those that an unknown word may take back; tell of each stretch of words.

    The first ``added`` words of the statement are the name of a column and say nothing of their own.
    """
    own = [m for m in mentions if m.kind != "known" and _asserts(m)]
    if not own:
        return []
    words, known = parts.words, _words()
    odd = _unknown(parts, tokens, added)
    one = _one_of_several(parts, tokens, mentions)
    posed: list[int] = []
    if not known.postures.isdisjoint(words):
        posed = [i for i, w in enumerate(words) if w in known.postures and words[i - 1] in known.in_posture]
    mixed = [
        *_mixed(parts, tokens, added, own),
        *_narrowed(parts, tokens, added, own),
        *_of_another_one(parts, own),
        *_of_a_part(parts, tokens, added, own),
    ]
    strokes = _strokes(words)
    if not (odd or posed or one or mixed or strokes):
        return []
    cuts = [i for i, w in enumerate(words) if w in known.ends]
    of_all = one or _opening(words, odd, cuts, parts, mentions)
    lost: dict[Mention, tuple[int, int]] = {}
    for m in own:
        low = max((c + 1 for c in cuts if c < m.start), default=0)
        high = min((c for c in cuts if c >= m.end), default=len(words))
        reach = [(low, high), *_between(m, mentions, cuts)]
        if words[low - 1 : low] == ["that"] and m.status == PRESENT:
            reach.append((low - 2, low - 1))  # "he imagines that there is a bulge"
        if (
            of_all
            or m in mixed
            or (_of_several(m) and sum(low <= i < high for i in strokes) > 1)
            or any(
                s <= i < e for s, e in reach for i in (*odd, *(posed if m.kind in known.of_posture else ()))
            )
            or _taken_back(words, odd, high, cuts, mentions)
            or _has_unknown_value(words, odd, m)
        ):
            lost[m] = (low, high)
    if not lost:
        return []
    for m in own:  # "at the lowest an extrusion with Modic 1": what is with it is where it is
        before = next((x for x in lost if x.end <= m.start and words[x.end : x.end + 1] == ["with"]), None)
        if m in lost or before is None or (m.group is not None and m.group.start >= before.start):
            continue
        if all(w in _WITH_IT for w in words[before.end : m.start]):
            lost[m] = lost[before]
    mentions[:] = [m for m in mentions if m not in lost]
    reason = clause_data()["reasons"]["strange"]
    out: dict[tuple[int, int], list[Mention]] = {}
    for m, ends in lost.items():
        out.setdefault(ends, []).append(m)
    return [Unread(tuple(rows), low, high, reason, False) for (low, high), rows in sorted(out.items())]


def _between(m: Mention, mentions: Sequence[Mention], cuts: Sequence[int]) -> list[tuple[int, int]]:
    """Give the clauses between a finding and its level, without those that speak of another finding."""
    if m.group is None:
        return []
    low, high = min(m.end, m.group.end), max(m.start, m.group.start)
    edges = [low, *(c for c in cuts if low < c < high), high]
    others = [x.start for x in mentions if x is not m and x.kind != "known"]
    return [(a, b) for a, b in pairwise(edges) if not any(a <= o < b for o in others)]


def _asserts(m: Mention) -> bool:
    """Say whether a finding says something certain; a danger that is said to be there is told in any case."""
    return m.status == ABSENT or m.value in _IN_ORDER or (m.status == PRESENT and m.kind not in LASTING)


def _unknown(parts: Parts, tokens: Tokens, added: int) -> list[int]:
    """Give the unknown words that may say anything, by position."""
    known, at_ease = _words(), _at_ease()
    found: list[int] = []
    if "not" in parts.words and not known.undone.isdisjoint(parts.words):
        denials = {x.end for x in parts.mods if x.entry.kind == "negation"}
        found = [
            i
            for i in denials
            if parts.words[i - 1] == "not" and known.undone.intersection(parts.words[i : i + 1])
        ]
    for i in weighty(parts, tokens.groups, added, known.telling | known.doubtful):
        word, raw = parts.words[i], tokens.found[i][0].lower()
        if is_bare(tokens.found, i):
            found.append(i)  # "disc 3/4", of a part of the spine that the report does not say
        if (
            (i == added and word in known.labels)
            or (len(raw) < 2 and raw not in known.letters)
            or not (raw[0].isalpha() and word[0].isalpha())
        ):
            continue
        pointed = i > 0 and parts.words[i - 1] == "the"  # "the former bulges", but "a former bulge"
        doubtful = raw in known.doubtful and not pointed and _stands_before(parts, i)
        if (word in known.telling or raw in known.telling or doubtful) or (
            word not in at_ease
            and raw not in at_ease
            and not _describes(parts, i, raw)
            and not _mistyped(raw)
        ):
            found.append(i)
    return found


def _one_of_several(parts: Parts, tokens: Tokens, mentions: Sequence[Mention]) -> bool:
    """``L4-5 and L5-S1, the last extruded``: a sentence of several discs singles one out by its place among them.

    ``the second one`` is read elsewhere.
    """
    words, picks, between = parts.words, _words().picks, _words().between
    if picks.isdisjoint(words) and between.isdisjoint(words):
        return False
    if len({d for g in tokens.groups for d in g.discs}) < 2 and not any(map(_of_several, mentions)):
        return False
    held = {i for start, end, _ in parts.matches for i in range(start, end)}
    things = {o.start for o in parts.objs} | {k.start for k in parts.known}
    for i, word in enumerate(words):
        if word in between and words[i + 1 : i + 2] == ["<disc>"]:
            return True
        if word in picks and i not in held and i + 1 not in things:
            apart = (
                i == 0
                or words[i - 1] not in _words().leads
                or words[i + 1 : i + 2] == ["one"]
                or (word == "one" and i > 0 and words[i - 1] in picks)
            )
            if not apart and (i == 0 or words[i - 1] not in _CUES):
                return True
    return False


def _strokes(words: Sequence[str]) -> list[int]:
    """Give the strokes between values (``wide / wide / mild stenosis``), by position; those of levels and of ``w/o`` are none."""
    return [
        i
        for i, word in enumerate(words)
        if word == "/"
        and i > 0
        and words[i - 1] not in ("<disc>", "w")
        and words[i + 1 : i + 2] != ["<disc>"]
    ]


def _of_several(m: Mention) -> bool:
    return len(m.discs) > 1 or m.discs in (ALL, OTHERS) or not COUNTED_NAMES.isdisjoint(m.discs)


def _mixed(parts: Parts, tokens: Tokens, added: int, mentions: Sequence[Mention]) -> list[Mention]:
    """List two degrees of one thing with an unknown word between: ``extrusion, nope, bulge``, ``bulge-like protrusion``."""
    rows = [m for m in mentions if m.kind == "displacement" and m.status == PRESENT]
    if len(rows) < 2:
        return []
    bare = weighty(parts, tokens.groups, added)
    known = _words()
    odd = [i for i in bare if parts.words[i] not in known.harmless and parts.words[i][0].isalpha()]
    out: list[Mention] = []
    for a, b in pairwise(rows):
        if a.value != b.value and set(a.discs) & set(b.discs) and any(a.end <= i < b.start for i in odd):
            out += [a, b]
    return out


def _of_a_part(parts: Parts, tokens: Tokens, added: int, mentions: Sequence[Mention]) -> list[Mention]:
    """``The upper three discs are normal``, ``outer annulus intact``: what is said of a part leaves the rest open.

    Where no level is named, any word before the thing that no rule knows may say which part is meant.
    """
    in_order = [m for m in mentions if m.value in _IN_ORDER]
    if not in_order:
        return []
    parted = _words().parted | _words().some
    unknown = set() if tokens.groups or added else set(weighty(parts, tokens.groups, added))
    held = {i for o in parts.objs for i in range(o.start, o.end)}
    placed = {i for p in parts.places for i in range(p.start, p.end)}
    held |= {i for p in parts.places if p.entry.kind in COUNTED for i in range(p.start, p.end)}
    at = [
        i
        for i, w in enumerate(parts.words)
        if (i in unknown and w.isalpha())
        or (w in parted and i not in held)
        or (w in _words().rest and i not in placed)
    ]
    return [m for m in in_order if any(_leads(parts.words, i, m) for i in at)]


def _leads(words: Sequence[str], at: int, m: Mention) -> bool:
    """Say whether a word that parts stands before what is called in order, in its phrase; a number only where no level is named."""
    if at >= m.end or (m.group is not None and words[at] in _words().some):
        return False
    return not _PHRASE_ENDS.intersection(words[at : m.start])


def _narrowed(parts: Parts, tokens: Tokens, added: int, mentions: Sequence[Mention]) -> list[Mention]:
    """``No pathological fracture``, ``no large protrusion``: a denial of one sort of a thing denies no other sort of it.

    Of what lasts (a fracture) the denial of a recent one is weighed elsewhere.
    """
    denied = [m for m in mentions if m.mods and (m.status == ABSENT or m.value in _IN_ORDER)]
    if not denied:
        return []
    at_ease = _at_ease()
    aged = [i for i, found in enumerate(tokens.found) if i >= added and found[0].lower() in _words().aged]
    odd = [
        i
        for i in weighty(parts, tokens.groups, added)
        if parts.words[i] in _words().sorts
        or (parts.words[i] not in (*at_ease, "longer") and _describes(parts, i, tokens.found[i][0].lower()))
    ]
    return [
        m
        for m in denied
        if any(
            x.start <= i < _thing(m, aged)
            and x.entry.kind == "negation"
            and not _another_between(parts, i, m, mentions)
            for x in m.mods
            for i in (odd if m.kind in LASTING else (*odd, *aged))
        )
    ]


def _thing(m: Mention, aged: Sequence[int]) -> int:
    """Give the first word of the finding that says what it is: in ``acute pathology`` that is the second."""
    return next((i for i in range(m.start, m.end) if i not in aged), m.start)


def _another_between(parts: Parts, low: int, m: Mention, mentions: Sequence[Mention]) -> bool:
    """Say whether a word stands before another thing of a list: ``no acute fracture or protrusion``, but ``no large bulge or protrusion``."""
    if all(w not in (",", "or", "and") for w in parts.words[low : m.start]):
        return False
    return not any(x.kind == m.kind and low < x.end <= m.start for x in mentions)


def _of_another_one(parts: Parts, mentions: Sequence[Mention]) -> list[Mention]:
    """``The upper, L4-5, bulges; the lower has a tear``: a disc told by its place alone is none of those before it."""
    words, known = parts.words, _words()
    marks = [
        i
        for i, w in enumerate(words[:-1])
        if w in known.ones and words[i - 1 : i] == ["the"] and words[i + 1] in known.of_ones
    ]
    if not marks:
        return []
    return [m for m in mentions if any(i < m.start and (m.group is None or m.group.end <= i) for i in marks)]


@lru_cache(maxsize=4096)
def _mistyped(raw: str) -> bool:
    """Say whether a long word is one of the harmless ones with a letter wrong."""
    return len(raw) >= _LONG and any(distance(raw, w, 1) <= 1 for w in _words().harmless if len(w) >= _LONG)


@cache
def _turning() -> frozenset[str]:
    """List the single words that deny, doubt or take back, or say that something was so."""
    ends = [(word, node.get("", ())) for word, node in lexicon().trie.items()]
    found = {w for w, rows in ends if any(e.group == "modifiers" and e.kind in _TURNING for e in rows)}
    return frozenset(w for w in found | _words().doubtful if len(w) > _SHORT)


@lru_cache(maxsize=4096)
def _stands_for_another(raw: str) -> bool:
    """Say whether an unknown word may be a short form, or a word that takes back mistyped: ``poss``, ``withuot``."""
    if len(raw) <= _SHORT:
        return raw[:-1] not in _JOINING or raw[-1:] != raw[-2:-1]  # "andd" stands for nothing else
    limit = 1 if len(raw) < _LONG else 2
    return any(w.startswith(raw) or distance(raw, w, limit) <= limit for w in _turning())


def _describes(parts: Parts, at: int, raw: str) -> bool:
    """Say whether an unknown word is an adjective of a thing or a finding behind it."""
    known = _words()
    if not raw.isalpha():
        return False  # "n0 stenosis": a sign that was read wrongly describes nothing
    if raw in known.doubtful or raw.endswith(tuple(known.doubtful_ends)) or _stands_for_another(raw):
        return False
    if raw.endswith("s") and not raw.endswith(tuple(known.describing_ends)):
        return False
    return _stands_before(parts, at)


def _stands_before(parts: Parts, at: int) -> bool:
    """Say whether a thing or a finding stands behind a word, severities and sides between."""
    within = {i for start, end, _ in parts.severities for i in range(start, end)}
    within |= {i for a in parts.attributes for i in range(a.start, a.end)}
    at += 1
    while at in within:
        at += 1
    return any(
        start == at for rows in (parts.heads, parts.objs, parts.acts, parts.known) for start, _, _ in rows
    )


def _opening(
    words: Sequence[str], odd: Sequence[int], cuts: Sequence[int], parts: Parts, mentions: Sequence[Mention]
) -> bool:
    """``On the films she brought, ...``, ``Baseline: ...``: unknown words before a comma or a colon change all behind."""
    first = next((c for c in cuts if words[c] in (",", ":")), 0)
    if not first or not any(i < first for i in odd) or any(m.start < first for m in mentions):
        return False
    known = _words()
    if words[first] == ":" or words[0] in known.openers:
        return True
    return any(words[i].endswith(tuple(known.doubtful_ends)) for i in odd if i < first)


def _has_unknown_value(words: Sequence[str], odd: Sequence[int], m: Mention) -> bool:
    """``Tear: noen``: the one word behind a finding and its colon is not known."""
    return (
        words[m.end : m.end + 1] == [":"]
        and m.end + 1 in odd
        and words[m.end + 1] not in grammar("form_yes")
        and "".join(words[m.end + 2 : m.end + 3]) in ("", *_words().ends)
    )


def _taken_back(
    words: Sequence[str], odd: Sequence[int], high: int, cuts: Sequence[int], mentions: Sequence[Mention]
) -> bool:
    """``extrusion, now gone``, ``extrusion (sic)``, ``suggested but not proven``: unknown words right behind the clause."""
    if high >= len(words) or words[high] not in _STRONG_ENDS:
        return False
    end = next((c for c in cuts if c > high), len(words))
    inside = [i for i in odd if high < i < end]
    if not inside or any(high < m.start < end for m in mentions):
        return False
    known = _words()
    return (
        words[high] != ","
        or any(words[i].endswith(tuple(known.doubtful_ends)) for i in inside)
        or not known.takes.isdisjoint(words[high + 1 : end])
    )
