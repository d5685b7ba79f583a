"""From matched words to mentions: what is said of which thing, with its severity, side and site.

Negation, doubt and place come afterwards, in ``scope`` and ``place``.
"""

from itertools import pairwise

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import Entry, Lexicon, Pair, grammar
from candidacy.reading.mention import Mention, Parts, Severity, another, severity_after, severity_before
from candidacy.reading.model import POSSIBLE
from candidacy.reading.reach import SIDES, backward, forward, only_action, side_by_side, within_clause

_NEURAL = frozenset(("root", "sac", "cord", "cauda"))
_MIDLINE = "canal"
_HAVE_SIDES = frozenset(("canal", "recess", "foramen", "facet"))
"""Things that keep the side named before them from one another."""
_MEASURES = frozenset(("height", "signal", "contour", "space"))
_OTHER_THINGS = frozenset(("other", "cord", "cauda", "known"))
"""Things whose signal, height or form is none of a disc; words known for making no finding among them."""
_TURNS = frozenset(("but", "and", "while", "whereas", ",", "though", "although"))
_AND_NOT = grammar("and_not")
_AND = (["and"], ["&"], ["/"])
_WHERE = (["in"], ["at"], ["by"], ["from"], ["of"])
_SIDE_JOINS = (["and"], [","], ["/"], ["&"])
_BETWEEN_SIDES = grammar("between_sides")
_CUT_WORDS = grammar("phrase_end")
_ON = (["on", "the"], ["to", "the"], ["on"])
_BEHIND_SIDE = grammar("behind_side")
_CLAUSE_ENDS = frozenset((",", ";", ".", ":", "but", "while", "whereas"))
_TO_ROOT = frozenset(
    ("the", "on", "upon", "against", "with", "exiting", "exit", "traversing", "descending", "transiting")
)
_BONE_PARTS = grammar("bone") | {
    "endplate",
    "superior",
    "inferior",
    "level",
    "disc",
    "upper",
    "lower",
    "on",
    "over",
    "facet",
}
"""Behind the name of a vertebra: it is the bone that is meant, not the root."""
_ONE_DISC = frozenset(("lumbosacral", "next_up", "next_down", "counted_low", "counted_high"))
"""Places whose words may end in the disc itself."""
_T1 = grammar("not_of_water")
_BONE = grammar("bone")
_APART = frozenset((",", ";", "and", "with", "as"))
"""Between two findings of which each has a thing of its own."""
_BEHIND, _IN_BONE = 3, 7
"""So many words behind a signal may name the images, or the bone."""


def build(parts: Parts, lex: Lexicon) -> list[Mention]:
    """Make the mentions of one statement in the order of the text."""
    found: list[Mention] = []
    words = parts.words
    for m in parts.heads:
        e = m.entry
        if e.not_before and m.end < len(words) and words[m.end] in e.not_before:
            continue
        if (e.needs or e.without) and not _said_so(words, e):
            continue
        if e.not_of and _is_of(words, m, grammar(e.not_of)):
            continue
        mention = Mention(e.kind, e.value, m.start, m.end, e.id)
        mention.scope = e.scope
        mention.also = e.also
        if e.status:
            mention.status = e.status
        mention.set_severity(severity_before(parts, m.start, 0) or severity_after(parts, m.end))
        found.append(mention)
    if parts.acts:
        _discs_in_heads(parts, lex)
        if "<vert>" in words:
            _roots_by_name(parts, lex)
        taken: set[int] = set()
        for a in parts.acts:
            _link(a, parts, lex, taken, found)
    for mention in found:
        _describe(mention, parts)
    found += [twin for m in found if (twin := _ungraded_side(m, parts)) is not None]
    if len(found) > 1:
        found.sort(key=lambda x: (x.start, x.end))
        found = _distinct(found)
        _worn_alike(found, parts)
        found = _without_metal(found, parts)
    return found


def _ungraded_side(m: Mention, parts: Parts) -> Mention | None:
    """``Bilateral stenosis, severe on the right``: it is there on the other side too, in a degree that is not said."""
    if len(m.sides) < 2 or m.severity_at is None or m.severity_at[0] < m.end:
        return None
    behind = m.severity_at[1]
    at = behind + next((len(w) for w in _ON if parts.words[behind : behind + len(w)] == w), 0)
    side = next((a.entry.value for a in parts.attributes if a.start == at and a.entry.kind == "side"), ())
    if len(side) != 1:
        return None
    twin = m.copy()
    twin.severity, twin.severity_at = (), None
    twin.set_severity(None)
    twin.sides, m.sides = tuple(s for s in m.sides if s not in side), side
    return twin


def _without_metal(found: list[Mention], parts: Parts) -> list[Mention]:
    """``Fractured left S1 screw``, ``the cage has migrated``: what befalls an implant is no finding of bone or disc."""
    metal = [m for m in found if m.kind == "implant"]
    if not metal:
        return found
    if not any(m.kind == "displacement" for m in found):
        found = [m for m in found if m.kind != "displacement_migrated"]
    for m in found:
        if m.kind == "fracture" and any(_of_metal(m, x, parts) for x in metal):
            m.status = POSSIBLE
    return found


def _of_metal(m: Mention, metal: Mention, parts: Parts) -> bool:
    low, high = sorted((m, metal), key=lambda x: x.start)
    gap = parts.words[low.end : high.start]
    return len(gap) <= _BEHIND + 1 and _CUT_WORDS.isdisjoint(gap) and "and" not in gap


def _said_so(words: list[str], e: Entry) -> bool:
    """Say whether a statement holds the words that a finding needs, and none with which it is another one."""
    if any(grammar(name).isdisjoint(words) for name in e.needs):
        return False
    if not e.without:
        return True
    other = grammar(e.without)
    ends, known = tuple(w[1:] for w in other if w[0] == "-"), grammar("spine_surgery")
    return other.isdisjoint(words) and not any(w.endswith(ends) and w not in known for w in words)


def _is_of(words: list[str], m: Match, things: frozenset[str]) -> bool:
    """Say whether a finding is one of some other things: under their label, or beside their name with nothing between."""
    label = words[: words.index(":")] if ":" in words[: m.start] else []
    before, behind = words[len(label) : m.start], words[m.end :]
    start = max((i + 1 for i, w in enumerate(before) if w in _APART), default=0)
    end = next((i for i, w in enumerate(behind) if w in _APART), len(behind))
    if not things.isdisjoint(label):
        return "disc" not in before
    return not things.isdisjoint((*before[start:], *behind[:end]))


def _discs_in_heads(parts: Parts, lex: Lexicon) -> None:
    """``Dehydrated disc, narrowed``, ``the lumbosacral disc is narrowed``: the disc of a longer phrase can also be narrowed."""
    rows = [h for h in parts.heads if h.entry.kind == "desiccation"]
    rows += [p for p in parts.places if p.entry.kind in _ONE_DISC]
    more = [
        Match(h.end - 1, h.end, e)
        for h in rows
        if h.end - h.start > 1 and parts.words[h.end - 1] == "disc"
        for e in lex.trie["disc"][""]
        if e.group == "objects"
    ]
    if more:
        parts.objs = sorted((*parts.objs, *more), key=lambda o: o.start)


def _roots_by_name(parts: Parts, lex: Lexicon) -> None:
    """``Touching the left S1``: what lies behind a word of contact or compression is the root of that name."""
    held = {i for o in parts.objs for i in range(o.start, o.end)}
    sides = {i for a in parts.attributes if a.entry.kind == "side" for i in range(a.start, a.end)}
    entries = [e for e in lex.trie["root"][""] if e.group == "objects"]
    more = []
    for a in parts.acts:
        at = a.end
        while at < len(parts.words) and (at in sides or parts.words[at] in _TO_ROOT):
            at += 1
        if a.entry.kind != "compress" or parts.words[at : at + 1] != ["<vert>"] or at in held:
            continue
        if not _BONE_PARTS.intersection(parts.words[at + 1 : at + 2]):
            more += [Match(at, at + 1, e) for e in entries]
    if more:
        parts.objs = sorted((*parts.objs, *more), key=lambda o: o.start)


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
    if parts.words[act.end : act.end + 1] == ["in"] and _of_another(act, parts):
        return  # "the marrow is low in signal"
    within = act.entry.kind == "normal" and parts.words[act.end : act.end + 1] == ["in"]
    if within and forward(act, parts, _MEASURES & wanted, pairs):
        back: list[Match] = []  # "the disc is normal in height" calls its height normal, not the disc
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
            _share_object(act, parts, wanted, pairs, found)
            or _elided(act, parts, pairs, found)
            or _same_disc(act, parts, pairs, found)
        ):
            _alone_mention(act, parts, pairs.get((act.entry.kind, "alone")), found)


def _of_another(act: Match, parts: Parts) -> bool:
    """Say whether what is said is of a thing that is none of a disc."""
    before = max((o for o in (*parts.objs, *parts.known) if o.end <= act.start), key=_ends, default=None)
    if before is None or before.entry.kind not in _OTHER_THINGS:
        return False
    return side_by_side(parts.words[before.end : act.start], before.end, parts)


def _reaches_a_root(
    act: Match,
    back: list[Match],
    parts: Parts,
    wanted: frozenset[str],
    pairs: dict[tuple[str, str], Pair],
) -> bool:
    """Say whether what touches or presses is said of a nerve or the sac behind it, and not of the opening before it."""
    if any(o.entry.kind in _NEURAL for o in back) or parts.words[act.end : act.end + 1] in _WHERE:
        return False
    ahead = forward(act, parts, wanted, pairs)
    return bool(ahead) and ahead[0].entry.kind in _NEURAL


def _ends(m: Match) -> int:
    return m.end


def _alone_mention(act: Match, parts: Parts, pair: Pair | None, found: list[Mention]) -> None:
    """``with mild stenosis`` names no place within the spine; it is taken as of the canal and marked so by its rule."""
    if pair is None or parts.words[act.start] not in pair.only:
        return
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


def _elided(act: Match, parts: Parts, pairs: dict[tuple[str, str], Pair], found: list[Mention]) -> bool:
    """``height is reduced at L5-S1 but maintained at L4-5``: the second action is of the thing of the first."""
    before = next((m for m in reversed(found) if m.end <= act.start), None)
    pair = pairs.get((act.entry.kind, before.obj)) if before is not None else None
    if before is None or pair is None or before.kind != pair.kind or before.value == pair.value:
        return False
    gap = parts.words[before.end : act.start]
    if "<disc>" not in gap or _TURNS.isdisjoint(gap) or _blocked_by_finding(parts, before.end, act.start):
        return False
    m = Mention(pair.kind, pair.value, act.start, act.end, pair.id)
    m.severity_graded, m.also, m.obj = pair.graded, pair.also, before.obj
    m.set_severity(severity_before(parts, act.start, before.end) or severity_after(parts, act.end))
    found.append(m)
    return True


def _same_disc(act: Match, parts: Parts, pairs: dict[tuple[str, str], Pair], found: list[Mention]) -> bool:
    """``the disc is narrowed and degenerated``: the second word is of the disc of the first."""
    before = next((m for m in reversed(found) if m.end <= act.start), None)
    pair = pairs.get((act.entry.kind, "disc"))
    if before is None or pair is None or before.obj != "disc" or before.kind == pair.kind:
        return False
    graded = {i for start, end, _ in parts.severities for i in range(start, end)}
    gap = [w for i, w in enumerate(parts.words[before.end : act.start], before.end) if i not in graded]
    if gap not in (["and"], [","], [",", "and"]):
        return False
    found.append(Mention(pair.kind, pair.value_by(act.entry), act.start, act.end, pair.id))
    found[-1].obj = "disc"
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
        objs = [o for o in objs if not (of_signal or o.entry.kind == "signal") or not _of_bone(act, o, parts)]
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
        m.beside = _beside(o, objs, act, parts) if len(objs) > 1 else ()
        found.append(m)
        if pair.graded and severity is not None:
            _other_side(m, severity, parts, found)
            _side_behind(m, severity, parts, found)
        last = o


def _beside(o: Match, objs: list[Match], act: Match, parts: Parts) -> tuple[tuple[int, int], ...]:
    """Give the words of the other things in a list: ``mild canal and moderate right recess stenosis``.

    A side before the list, or before the thing ahead in it, is of all (``bilateral``, ``left recess and foramen``), unless
    a thing has its own; the canal lies in the middle.
    """
    at = objs.index(o)
    found = [(o.end, max(objs[-1].end, o.end))]
    if at:
        before = objs[at - 1].end
        own = any(a.entry.kind == "side" and before <= a.start < o.start for a in parts.attributes)
        if own or o.entry.kind == _MIDLINE:
            found.append((0, before))
    if _differ(objs):  # "both the canal and the recess": the word joins them
        found += [
            (a.start, a.end)
            for a in parts.attributes
            if parts.words[a.start : a.end + 1] == ["both", "the"] and a.start < objs[0].start
        ]
    return tuple((low, high) for low, high in found if low < high)


def _differ(objs: list[Match]) -> bool:
    return len({o.entry.kind for o in objs}) > 1


def _of_bone(act: Match, o: Match, parts: Parts) -> bool:
    """Say whether a signal is told on images that do not show how much water a disc holds, or of a bone: ``low T1 signal in L3``."""
    words = parts.words
    low, high = min(act.start, o.start), max(act.end, o.end)
    stop = next((i for i in range(high, len(words)) if words[i] in _CUT_WORDS), len(words))
    if not _T1.isdisjoint(words[max(0, low - 1) : min(stop, high + _BEHIND)]):
        return True
    start = next((i + 1 for i in range(low - 1, -1, -1) if words[i] in _CLAUSE_ENDS), 0)
    clause = words[start:stop]
    if "disc" not in clause and "<disc>" not in clause and not _BONE.isdisjoint(words[start:low]):
        return True  # "cord and conus show normal signal"
    behind = words[high : min(stop, high + _IN_BONE)]
    return "disc" not in behind and "<disc>" not in behind and not _BONE.isdisjoint(behind)


def _other_side(m: Mention, near: Severity, parts: Parts, found: list[Mention]) -> None:
    """``severe right and moderate left foraminal stenosis``: two grades, one to each side."""
    sided = {a.start: a.entry.value for a in parts.attributes if a.entry.kind == "side"}
    for start, end, value in parts.severities:
        between = range(end, near.start)
        sides = [sided[i] for i in between if i in sided]
        stop = m.start if near.end <= m.start else m.end  # "foramina: mild right, moderate left stenosis"
        if (
            end <= near.start <= end + 3
            and sides
            and all(i in sided or parts.words[i] in ("and", ",", "/", "&") for i in between)
        ):
            twin = m.copy()
            twin.set_severity(Severity(start, end, value))
            twin.sides, m.sides = (
                sides[0],
                next((sided[i] for i in range(near.end, stop) if i in sided), ()),
            )
            found.append(twin)
            return


def _side_behind(m: Mention, first: Severity, parts: Parts, found: list[Mention]) -> None:
    """``stenosis is mild on the left and moderate on the right``: the later grade is of the other side."""
    at = max(m.end, first.end)
    own = _side_in(parts, at, next((s for s, _, _ in parts.severities if s >= at), at))
    for start, end, value in parts.severities:
        if start < at:
            continue
        behind = _side_in(parts, end, end + 4)
        if not behind or not _BETWEEN_SIDES.issuperset(parts.words[at:start]):
            return
        twin = m.copy()
        twin.set_severity(Severity(start, end, value))
        twin.sides, m.sides = behind, own or m.sides
        found.append(twin)
        at = end


def _side_in(parts: Parts, low: int, high: int) -> tuple[str, ...]:
    """Give the side that is named first in a range of tokens, if only words between sides stand before it."""
    for a in parts.attributes:
        if a.entry.kind == "side" and low <= a.start < high:
            named = _thing_follows(parts, a.end)
            alone = not named and _BETWEEN_SIDES.issuperset(parts.words[low : a.start])
            return a.entry.value if alone else ()  # "severe right foraminal stenosis" has its own thing
    return ()


def _thing_follows(parts: Parts, at: int) -> bool:
    """Say whether a thing of its own follows a side, further grades and sides between: ``right and mild left foramen``."""
    inner = {i for start, end, _ in parts.severities for i in range(start, end)}
    inner |= {i for a in parts.attributes if a.entry.kind == "side" for i in range(a.start, a.end)}
    joined = at
    while joined in inner or parts.words[joined : joined + 1] in _SIDE_JOINS:
        joined += 1
    if joined > at and joined - 1 not in inner:
        return False
    return any(o.start == joined for rows in (parts.objs, parts.heads, parts.acts) for o in rows)


def _inside(parts: Parts, low: int, high: int) -> Severity | None:
    """Give the grade that stands last between a thing and what is said of it: the nearest to the finding's own word."""
    rows = [Severity(s, e, v) for s, e, v in parts.severities if low <= s and e <= high]
    return rows[-1] if rows else None


def _describe(m: Mention, parts: Parts) -> None:
    """Collect side, site and containment words of the noun phrase around a mention."""
    if not parts.attributes or m.sides:
        return
    sides: list[str] = []
    for a in parts.attributes:
        near = m.start - 7 <= a.start < m.end or (a.start >= m.end and a.start - m.end <= 2)
        if not near or any(low <= a.start < high for low, high in m.beside):
            continue
        if a.end <= m.start and _cut(parts, a.end, m.start, m):
            continue
        if a.start >= m.end and parts.words[m.end : a.start] not in (
            [],
            ["on", "the"],
            ["to", "the"],
            [","],
            ["("],
        ):
            continue
        if a.entry.kind == "side":
            if m.kind == "displacement" and parts.words[a.start : a.end] == ["both"]:
                continue  # "both bulge" speaks of discs
            if a.start > m.end and not _closes_phrase(parts, a.end, m):
                continue
            sides += [s for s in a.entry.value if s not in sides]
        elif m.kind == "displacement":
            m.attributes = (*m.attributes, a)
    m.sides = tuple(sides)


def _closes_phrase(parts: Parts, at: int, m: Mention) -> bool:
    """Say whether a side set off behind a finding names nothing else: ``stenosis, left``, but not ``stenosis, left facet cyst``."""
    rest = parts.words[at : at + 1]
    if m.obj in _HAVE_SIDES and any(o.start == at for o in parts.objs):
        return False  # "right foramen patent, left foramen narrowed"
    own = any(x.start == at for rows in (parts.attributes, parts.mods, parts.places) for x in rows)
    return (
        not rest
        or own
        or not rest[0][0].isalpha()
        or rest[0] in _BEHIND_SIDE
        or any(s == at for s, _, _ in parts.severities)
    )


def _cut(parts: Parts, low: int, high: int, m: Mention) -> bool:
    """Say whether the noun phrase of a mention begins after a word that stands before it."""
    gap = parts.words[low:high]
    if not _CUT_WORDS.isdisjoint(gap):
        return True
    if "and" in gap and SIDES.isdisjoint(gap[gap.index("and") :]):
        return True
    high = min(high, m.start)
    others = _NEURAL | _HAVE_SIDES if m.obj in _HAVE_SIDES else _NEURAL
    return any(low <= h.start < high for rows in (parts.heads, parts.acts) for h in rows) or any(
        low <= o.start < high and o.entry.kind in others for o in parts.objs
    )
