"""Which findings a negation, a doubt or a reference to the past reaches.

Follows the idea of NegEx (Chapman 2001) and ConText (Harkema 2009): a trigger reaches forward or backward to
a clause end; a longer phrase shadows a shorter one. The triggers are data; only reach and clause ends are here.
"""

from collections.abc import Sequence

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import ABSENT, POSSIBLE

_SEEN_GOES_ON = grammar("seen_goes_on")
_PARTICIPLES = grammar("fresh_clause")
_VERBS = frozenset(("is", "are", "was", "were", "has", "have"))
_PHRASE_END = grammar("phrase_end")
_ONLY = (["only"], ["just"], ["merely"], ["and"], ["a"], ["at"], ["most"])
_PHRASE_STOPS = _PHRASE_END | {"and", "now"}
_RATHER = "m_rather"
_INSIDE = ("negation", "possible", "resolved", "hypothetical")
_DANGERS = frozenset(("infection", "tumour", "fracture", "cauda_equina_compression", "aortic_aneurysm"))
_TODAY = grammar("today")
_SETS_OFF = frozenset((",", "and"))
_AT = (["at"], ["in"], ["on"])
_ANEW = (["a"], ["an"], ["there"])
_EITHER = frozenset(("or", "nor"))
_LIST_ENDS = frozenset(("and", "or", "nor", "&", "/"))


def spans(parts: Parts) -> list[tuple[int, int, Match]]:
    """Give for each modifier the half-open range of tokens it reaches."""
    out: list[tuple[int, int, Match]] = []
    size = len(parts.words)
    for m in parts.mods:
        reach = m.entry.reach
        if not reach or (m.entry.at_end and not _closes(parts, m.end)):
            continue
        if reach in ("forward", "forward_far", "phrase", "both"):
            out.append((m.end, _forward_end(m, parts, size), m))
        if reach == "backward" or reach == "both":
            out.append((_backward_start(m, parts), m.start, m))
    return out


def _closes(parts: Parts, end: int) -> bool:
    """Say whether nothing follows, or behind a question mark nothing but a place: ``tear ? at L4-5``."""
    rest = parts.words[end:]
    if not rest or rest[0] in (".", ")", ",", ";"):
        return True
    return (
        parts.words[end - 1] == "?"
        and rest[0] in ("at", "in", "<disc>")
        and not any(h.start >= end for rows in (parts.heads, parts.acts) for h in rows)
    )


def _forward_end(m: Match, parts: Parts, size: int) -> int:
    words = parts.words
    doubt = m.entry.kind == "possible" and m.entry.reach != "forward_far"
    ends = {t.start for t in parts.mods if t.start >= m.end and t.entry.kind in ("terminate", "assert")}
    past = m.entry.kind == "historical"
    put_in = _put_in(m, words) if doubt else -1
    for at in range(m.end, size):
        if at in ends:
            return at
        w = words[at]
        if (m.entry.reach == "phrase" and w in _PHRASE_STOPS) or (past and at > m.end and w in _TODAY):
            return at
        if at == m.end <= put_in or at == put_in:
            continue
        if w == ";" or w == ":" or w == "." or (w == ")" and "(" not in words[m.end : at]):
            return at
        nxt = words[at + 1] if at + 1 < size else ""
        if w == "seen" and nxt and at > m.end and nxt not in _SEEN_GOES_ON:
            return at + 1
        if w in _SETS_OFF and at > m.end and _opens_at_a_level(parts, m.end, at):
            return at
        if w == ",":
            if nxt in _PARTICIPLES or _severity_at(parts, at + 1):
                return at
            if doubt and nxt not in ("or", "and") and "or" not in words[at : at + 6]:
                return at
        elif (
            w in ("and", "with")
            and (_severity_at(parts, at + 1) or nxt in ("a", "an", "there"))
            and at > m.end
        ) or (doubt and w in ("-", "–")):
            return at
    return size


def _opens_at_a_level(parts: Parts, start: int, at: int) -> bool:
    """``No stenosis and at L4-5 a bulge``, ``no stenosis, L4-5 bulge``: behind a level that opens a clause something is told anew.

    Without an article only where the denial names no level and lists nothing on: ``no L3-4 bulge, L4-5 tear or L5-S1 slip``.
    """
    words = parts.words
    level = at + 1 + (words[at + 1 : at + 2] in _AT)
    if words[level : level + 1] != ["<disc>"]:
        return False
    if words[level + 1 : level + 2] in _ANEW:
        return True
    listed = "<disc>" in words[start:at] or not _EITHER.isdisjoint(words[start:])
    told = {x.start for rows in (parts.heads, parts.objs, parts.acts) for x in rows}
    return not listed and (level + 1 in told or _severity_at(parts, level + 1))


def _put_in(m: Match, words: Sequence[str]) -> int:
    """Find where words put in behind a doubt end: ``possibly, as far as can be seen, a mass``; -1 if none are."""
    if words[m.end : m.end + 1] != [","]:
        return -1
    return next((i for i in range(m.end + 1, len(words)) if words[i] == ","), m.end)


def _severity_at(parts: Parts, at: int) -> bool:
    while parts.words[at : at + 1] in _ONLY:
        at += 1
    return any(s == at for s, _, _ in parts.severities)


def _backward_start(m: Match, parts: Parts) -> int:
    words = parts.words
    starts = {t.end for t in parts.mods if t.end <= m.start and t.entry.kind in ("terminate", "assert")}
    at = m.start
    while at > 0 and m.start - at < 14:
        if at in starts or (
            words[at - 1] in (";", ":", ".") and not (at == m.start and words[at - 1] == ":")
        ):
            return at
        if words[at - 1] == "," and m.entry.kind == "negation" and _own_clause(parts, at, m.start):
            return at
        at -= 1
    return at


def _own_clause(parts: Parts, low: int, high: int) -> bool:
    """``height is kept, annular tear is not seen``: after the comma a finding of its own, not the end of a list."""
    words = parts.words
    named = any(low <= h.start < high for rows in (parts.heads, parts.acts) for h in rows)
    alone = words[high] in ("is", "was") or not _VERBS.isdisjoint(words[:low])
    return named and alone and _LIST_ENDS.isdisjoint(words[low:high])


def apply(parts: Parts, mentions: Sequence[Mention]) -> None:
    """Set the status of each mention and note the modifiers that shaped it."""
    if not parts.mods or not mentions:
        return
    for low, high, m in spans(parts):
        hit = [x for x in mentions if low <= x.start and x.end <= high] or [
            x for x in mentions if low <= _anchor(x) < high and not x.start < m.start < x.end
        ]
        inner = [x for x in mentions if x.start < m.start and m.end <= x.end and x not in hit]
        if inner and m.entry.kind in _INSIDE and m.entry.reach in ("forward", "both"):
            hit += inner  # "the canal is not narrowed": the trigger stands inside the finding
        if m.entry.tight and hit:
            edge = hit[-1] if high == m.start else hit[0]
            hit = [x for x in hit if _joined(parts, x, edge)] if m.entry.id != "m_versus" else [edge]
        if m.entry.kind == "negation" and m.end <= low:
            hit = [x for x in hit if not _own_verdict(parts, m, x)]
        for x in hit:
            x.mods = (*x.mods, m)
    for x in mentions:
        if x.mods:
            x.status = status_of({m.entry.kind for m in x.mods}, x.status)
    for x in mentions:
        if x.status != ABSENT or all(m.entry.id != _RATHER for m in x.mods):
            continue
        if x.kind in _DANGERS or any(k.status == POSSIBLE for k in mentions):
            x.status = (
                POSSIBLE  # "degenerative rather than infection", "I favour a bulge rather than protrusion"
            )


def _own_verdict(parts: Parts, m: Match, x: Mention) -> bool:
    """``no bulge or herniation, canal patent``: behind a comma or "and" a thing is called normal; the denial stops there."""
    return (
        x.value in ("none", "absent")
        and bool(x.obj)
        and not _SETS_OFF.isdisjoint(parts.words[m.end : x.start])
    )


def _joined(parts: Parts, x: Mention, edge: Mention) -> bool:
    """Say whether two findings stand in one phrase: ``bulge or tear ?``, but not ``bulge with tear ?``."""
    low, high = sorted((x, edge), key=lambda y: y.start)
    gap = parts.words[low.end : high.start]
    return abs(x.start - edge.start) <= 3 and _PHRASE_END.isdisjoint(gap)


def _anchor(x: Mention) -> int:
    return x.start


def status_of(kinds: set[str], given: str) -> str:
    """Give the status that several modifiers leave, the more decisive first."""
    if "other_person" in kinds:
        return "other_person"
    if "hypothetical" in kinds:
        return "hypothetical"
    if "resolved" in kinds:
        return "resolved"
    if "negation" in kinds:
        return "absent"
    if "possible" in kinds:
        return "possible"
    if "historical" in kinds and "persists" not in kinds:
        return "historical"
    return given
