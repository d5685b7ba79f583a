"""From matched words to mentions: what is said of which thing, with its severity, side and site.

Which things there are tells `things`, which of them an action reaches `reach`, and sides `sides`. Negation, doubt and
place come afterwards, in ``scope`` and ``place``.
"""

from itertools import pairwise

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import Lexicon, Pair, grammar
from candidacy.reading.mention import Mention, Parts, Severity, another, severity_after, severity_before
from candidacy.reading.reach import NEURAL, backward, forward, only_action, side_by_side, within_clause
from candidacy.reading.sides import describe, each_its_side, ungraded_side, words_of_others
from candidacy.reading.things import (
    add_hidden,
    drop_lost_normal,
    is_of,
    of_another,
    of_bone,
    said_so,
    without_metal,
)

_OPENINGS = frozenset(("foramen", "recess"))
_MEASURES = frozenset(("height", "signal", "contour", "space"))
_MEASURES_ALONE = _MEASURES - {"contour"}
_TURNS = frozenset(("but", "and", "while", "whereas", ",", "though", "although"))
_AND_NOT = grammar("and_not")
_AND = (["and"], ["&"], ["/"])
_WHERE = (["in"], ["at"], ["by"], ["from"], ["of"])


def build(parts: Parts, lex: Lexicon) -> list[Mention]:
    """Make the mentions of one statement in the order of the text."""
    found: list[Mention] = []
    words = parts.words
    for m in parts.heads:
        e = m.entry
        if e.not_before and m.end < len(words) and words[m.end] in e.not_before:
            continue
        if (e.needs or e.without) and not said_so(words, e):
            continue
        if e.not_of and is_of(words, m, grammar(e.not_of)):
            continue
        mention = Mention(e.kind, e.value, m.start, m.end, e.id)
        mention.scope = e.scope
        mention.also = e.also
        if e.status:
            mention.status = e.status
        mention.set_severity(severity_before(parts, m.start, 0) or severity_after(parts, m.end))
        found.append(mention)
    if parts.acts:
        drop_lost_normal(parts)
        add_hidden(parts, lex)
        taken: set[int] = set()
        for a in parts.acts:
            _link(a, parts, lex, taken, found)
    found += _normal_too(parts, lex)
    for mention in found:
        describe(mention, parts)
    found += [twin for m in found if (twin := ungraded_side(m, parts)) is not None]
    if len(found) > 1:
        found.sort(key=lambda x: (x.start, x.end))
        found = _distinct(found)
        _worn_alike(found, parts)
        found = without_metal(found, parts)
    return found


def _normal_too(parts: Parts, lex: Lexicon) -> list[Mention]:
    """``Normal hydration and height``: what is joined to a phrase that begins with the word is called normal too."""
    out = []
    for h in parts.heads:
        if parts.words[h.start] != "normal" or h.entry.value != "absent":
            continue
        for o in parts.objs:
            pair = lex.pairs.get(("normal", o.entry.kind))
            if o.entry.kind in _MEASURES_ALONE and pair is not None and parts.words[h.end : o.start] in _AND:
                m = Mention(pair.kind, pair.value, h.start, o.end, pair.id)
                m.obj = o.entry.kind
                out.append(m)
    return out


def _worn_alike(found: list[Mention], parts: Parts) -> None:
    """``Moderate desiccation and height loss``: one grade for both, as desiccation alone has no scale."""
    for first, second in pairwise(found):
        at = first.severity_at
        if at is None or first.kind != "desiccation" or second.kind != "height_loss" or second.severity_at:
            continue
        if at[1] <= first.end and parts.words[first.end : second.start] in _AND:
            second.set_severity(Severity(*at, first.severity))


def _distinct(found: list[Mention]) -> list[Mention]:
    """Drop a mention that only repeats another on the same words."""
    kept: list[Mention] = []
    for m in found:
        for k in kept:
            if (
                k.kind == m.kind
                and k.value == m.value
                and k.sides == m.sides
                and k.start <= m.end
                and m.start <= k.end
                and k.obj == m.obj
            ):
                k.end = max(k.end, m.end)
                break
        else:
            kept.append(m)
    return kept


def _link(act: Match, parts: Parts, lex: Lexicon, taken: set[int], found: list[Mention]) -> None:
    wanted = lex.acts_of.get(act.entry.kind)
    if wanted is None:
        return
    pairs = lex.pairs
    if parts.words[act.end : act.end + 1] == ["in"] and of_another(act, parts):
        return  # "the marrow is low in signal"
    within = act.entry.kind == "normal" and (
        parts.words[act.end : act.end + 1] == ["in"]
        or any(o.start == act.end and o.entry.kind in _MEASURES_ALONE for o in parts.objs)
    )
    if within and forward(act, parts, _MEASURES & wanted, pairs):
        back: list[
            Match
        ] = []  # "the disc is normal in height", "disc: normal height": not the disc is called so
    else:
        back = backward(act, parts, wanted, taken, side_by_side)
    if back and act.entry.kind == "compress" and _reaches_a_root(act, back, parts, wanted, pairs):
        back = []  # "in the lateral recess impinging on the S1 root"
    if back:
        _emit(act, back, True, parts, pairs, found)
        if act.entry.kind != "normal" or parts.words[act.end : act.end + 1] == [","]:
            return  # "disc normal, facets arthritic"
    ahead = forward(act, parts, wanted, pairs)
    if ahead:
        taken.update(o.start for o in ahead)
        _emit(act, ahead, False, parts, pairs, found)
    elif not back:
        back = backward(act, parts, wanted, taken, within_clause if len(parts.acts) > 1 else only_action)
        if back:
            _emit(act, back, True, parts, pairs, found)
        elif not (
            _share_object(act, parts, wanted, pairs, found) or _of_thing_before(act, parts, pairs, found)
        ):
            _alone_mention(act, parts, pairs.get((act.entry.kind, "alone")), found)


def _reaches_a_root(
    act: Match,
    back: list[Match],
    parts: Parts,
    wanted: frozenset[str],
    pairs: dict[tuple[str, str], Pair],
) -> bool:
    """Say whether what touches or presses is said of a nerve or the sac behind it, and not of the opening before it."""
    if any(o.entry.kind in NEURAL for o in back) or parts.words[act.end : act.end + 1] in _WHERE:
        return False
    ahead = forward(act, parts, wanted, pairs)
    return bool(ahead) and ahead[0].entry.kind in NEURAL


def _alone_mention(act: Match, parts: Parts, pair: Pair | None, found: list[Mention]) -> None:
    """``with mild stenosis`` names no place within the spine; it is taken as of the canal and marked so by its rule."""
    if pair is None or parts.words[act.start] not in pair.only:
        return
    openings = [o for o in parts.objs if o.entry.kind in _OPENINGS and o.end <= act.start]
    if any(not any(m.start <= o.start < m.end for m in found) for o in openings):
        return  # "both foramina at L4-5, but only the left one at L5-S1, show stenosis"
    m = Mention(pair.kind, pair.value, act.start, act.end, pair.id)
    m.severity_graded = pair.graded
    m.set_severity(severity_before(parts, act.start, 0) or severity_after(parts, act.end))
    found.append(m)


def _share_object(
    act: Match, parts: Parts, wanted: frozenset[str], pairs: dict[tuple[str, str], Pair], found: list[Mention]
) -> bool:
    """``abutting but not displacing the S1 root``: the first action has the object of the second."""
    after = next((a for a in parts.acts if a.start >= act.end and a.entry.kind == act.entry.kind), None)
    if after is None or not all(w in _AND_NOT for w in parts.words[act.end : after.start]):
        return False
    ahead = forward(after, parts, wanted, pairs)
    if ahead:
        _emit(act, ahead, False, parts, pairs, found)
        for m in found[-len(ahead) :]:
            m.end = act.end
    return bool(ahead)


def _of_thing_before(
    act: Match, parts: Parts, pairs: dict[tuple[str, str], Pair], found: list[Mention]
) -> bool:
    """The action is of the thing of the finding before it.

    ``height is reduced at L5-S1 but maintained at L4-5``: another value, at another level. ``the disc is narrowed and
    degenerated``: something else of the same disc.
    """
    before = next((m for m in reversed(found) if m.end <= act.start), None)
    pair = pairs.get((act.entry.kind, before.obj)) if before is not None else None
    if before is None or pair is None:
        return False
    gap = parts.words[before.end : act.start]
    again = before.kind == pair.kind
    if again:
        if before.value == pair.value or "<disc>" not in gap or _TURNS.isdisjoint(gap):
            return False
        if _blocked_by_finding(parts, before.end, act.start):
            return False
    else:
        graded = {i for start, end, _ in parts.severities for i in range(start, end)}
        gap = [w for i, w in enumerate(gap, before.end) if i not in graded]
        if before.obj != "disc" or gap not in (["and"], [","], [",", "and"]):
            return False
    m = Mention(pair.kind, pair.value_by(act.entry), act.start, act.end, pair.id)
    m.obj = before.obj
    if again:
        m.severity_graded, m.also = pair.graded, pair.also
        m.set_severity(severity_before(parts, act.start, before.end) or severity_after(parts, act.end))
    found.append(m)
    return True


def _blocked_by_finding(parts: Parts, low: int, high: int) -> bool:
    return any(low <= h.start < high for rows in (parts.heads, parts.acts, parts.objs) for h in rows)


def _emit(
    act: Match,
    objs: list[Match],
    back: bool,
    parts: Parts,
    pairs: dict[tuple[str, str], Pair],
    found: list[Mention],
) -> None:
    if act.entry.kind == "black" or any(o.entry.kind == "signal" for o in objs):
        of_signal = act.entry.kind == "black"
        objs = [o for o in objs if not (of_signal or o.entry.kind == "signal") or not of_bone(act, o, parts)]
    if parts.words[act.start] == "stenosis":  # "disc-related stenosis" is none of the disc's height
        objs = [o for o in objs if o.entry.kind != "disc"]
    if not objs:
        return
    first = min(objs[0].start, act.start)
    ends = (h.end for h in parts.heads if h.end <= first and not another(h, parts.words))
    floor = max(ends, default=0) if parts.heads else 0
    inherited = None if back else severity_before(parts, act.start, floor)
    last = objs[0]
    for o in objs:
        pair = pairs[act.entry.kind, o.entry.kind]
        other = pair.instead.get(parts.words[act.end - 1]) if pair.instead else None
        if other:
            pair = pairs[act.entry.kind, other]
        severity: Severity | None = None
        if pair.graded or back:
            low = floor if o is objs[0] else last.end
            severity = severity_before(parts, o.start, low) or inherited
            if back and o is objs[0]:
                inherited = severity
        if pair.graded and not severity:
            severity = (_inside(parts, objs[-1].end, act.start) if back else None) or severity_after(
                parts, max(act.end, objs[-1].end)
            )
        m = Mention(
            pair.kind, pair.value_by(act.entry), min(act.start, o.start), max(act.end, o.end), pair.id
        )
        m.severity_graded = pair.graded
        m.set_severity(severity)
        m.also = pair.also
        m.obj = other or o.entry.kind
        m.beside = words_of_others(o, objs, parts) if len(objs) > 1 else ()
        found.append(m)
        if pair.graded and severity is not None:
            found += each_its_side(m, severity, parts)
        last = o


def _inside(parts: Parts, low: int, high: int) -> Severity | None:
    """Give the grade that stands last between a thing and what is said of it: the nearest to the finding's own word."""
    rows = [Severity(s, e, v) for s, e, v in parts.severities if low <= s and e <= high]
    return rows[-1] if rows else None
