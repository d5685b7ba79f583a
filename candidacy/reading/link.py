"""From matched words to mentions: what is said of which thing, with its severity, side and site.

Negation, doubt and place come afterwards, in ``scope`` and ``place``.
"""

import copy
from collections.abc import Callable
from typing import Any, NamedTuple

from candidacy.reading.lexer import Group, Match
from candidacy.reading.lexicon import Lexicon, Pair

_COPULA = frozenset(
    "is are was were be been being appears appear appeared appearing seems remains remain also the both very there has have "
    "somewhat relatively at well still : ( - – in moderately mildly still shows show demonstrates slightly overall".split()
)
_JOIN = frozenset(
    "and or , & / the of left right both bilateral with also as well to no upon on over against exit exiting traversing "
    "adjacent corresponding ventral anterior posterior lateral side sided aspect descending at more its underlying "
    "respective neural nerve proximal significant any central in degree".split()
)
_SEV_STOP = frozenset(
    (",", ";", ":", ".", "and", "or", "but", "with", "&", "of", "at", "causing", "to", "the", ")")
)
_QUIET = frozenset(("change", "joint", "degenerate", "abnormality"))
_AND_NOT = frozenset(("and", "or", "but", "not", "/", ",", "without", "possibly", "even", "mildly"))
_RANK = {"mild": 0, "moderate": 1, "severe": 2}


class Severity(NamedTuple):
    """Severity words as a half-open range of tokens, with the lowest and highest grade they name."""

    start: int
    end: int
    value: tuple[str, ...]


class Mention:
    """One finding being put together; positions are token positions of its statement."""

    __slots__ = (
        "also",
        "attributes",
        "discs",
        "end",
        "group",
        "kind",
        "mods",
        "obj",
        "placed",
        "rule",
        "scope",
        "severity",
        "severity_at",
        "severity_graded",
        "sides",
        "start",
        "status",
        "value",
    )

    def __init__(self, kind: str, value: Any, start: int, end: int, rule: str) -> None:
        self.kind, self.value, self.start, self.end, self.rule = kind, value, start, end, rule
        self.status = "present"
        self.severity: tuple[str, ...] = ()
        self.severity_at: tuple[int, int] | None = None
        self.severity_graded = False
        self.sides: tuple[str, ...] = ()
        self.scope = "disc"
        self.also: tuple[str, ...] = ()
        self.mods: list[Match] = []
        self.attributes: list[Match] = []
        self.discs: tuple[str, ...] = ()
        self.group: Group | None = None
        self.placed = ""
        self.obj = ""

    def set_severity(self, found: Severity | None) -> None:
        """Take over severity words; a graded finding takes its value from them."""
        if found is not None:
            self.severity, self.severity_at = found.value, (found.start, found.end)
        if self.severity_graded:
            self.value = self.severity or "present"

    def copy(self) -> "Mention":
        """Make a second mention of the same words, to be placed elsewhere."""
        twin = copy.copy(self)
        twin.mods = list(self.mods)
        return twin


class Parts:
    """The matches of one statement, sorted by what they do."""

    __slots__ = ("acts", "attributes", "heads", "known", "mods", "objs", "places", "severities", "words")

    def __init__(self, words: list[str], matches: list[Match]) -> None:
        self.words = words
        self.heads: list[Match] = []
        self.acts: list[Match] = []
        self.objs: list[Match] = []
        self.mods: list[Match] = []
        self.places: list[Match] = []
        self.attributes: list[Match] = []
        self.known: list[Match] = []
        self.severities: list[tuple[int, int, tuple[str, ...]]] = []
        bins = {
            "findings": self.heads,
            "actions": self.acts,
            "objects": self.objs,
            "modifiers": self.mods,
            "places": self.places,
            "attributes": self.attributes,
            "known": self.known,
        }
        for m in matches:
            group = m.entry.group
            if group == "severity":
                self._severity(m)
            else:
                bins[group].append(m)

    def _severity(self, m: Match) -> None:
        """Join ``mild to moderate`` into one range."""
        value = (str(m.entry.value),)
        if self.severities:
            start, end, last = self.severities[-1]
            gap = self.words[end : m.start]
            if gap in ([], ["to"], ["-"], ["–"], ["/"], ["or"]) and len(last) == 1:
                low, high = sorted((last[0], value[0]), key=_RANK.__getitem__)
                self.severities[-1] = (start, m.end, (low, high) if low != high else (low,))
                return
        self.severities.append((m.start, m.end, value))


def severity_before(parts: Parts, at: int, floor: int) -> Severity | None:
    """Find the severity word of the noun phrase that begins at a token, looking left no further than ``floor``."""
    words = parts.words
    for start, end, value in reversed(parts.severities):
        if end > at:
            continue
        if start < floor or at - end > 5:
            return None
        gap = words[end:at]
        if gap and gap[0] == ",":
            gap = gap[1:]
        if any(w in _SEV_STOP for w in gap):
            return None
        if any(end <= h.start < at for h in parts.heads):
            return None
        return Severity(start, end, value)
    return None


def severity_after(parts: Parts, at: int) -> Severity | None:
    """Find a severity said after the words: ``stenosis is moderate``, ``stenosis (mild)``, ``stenosis, severe``."""
    words = parts.words
    for start, end, value in parts.severities:
        if start < at:
            continue
        gap = words[at:start]
        if len(gap) > 3 or not gap:
            return None
        if all(w in _COPULA for w in gap) or gap == [","]:
            following = words[end : end + 1]
            if gap == [","] and following and following[0] not in (",", ".", "at", "on", "and", "<disc>"):
                return None
            nxt = next((m.start for m in (*parts.objs, *parts.heads, *parts.acts) if m.start >= end), None)
            if (
                nxt is not None
                and nxt - end <= 2
                and ("is" not in gap and "are" not in gap and "(" not in gap)
            ):
                return None
            return Severity(start, end, value)
        return None
    return None


def build(parts: Parts, lex: Lexicon) -> list[Mention]:
    """Make the mentions of one statement in the order of the text."""
    found: list[Mention] = []
    words = parts.words
    for m in parts.heads:
        e = m.entry
        if e.not_before and m.end < len(words) and words[m.end] in e.not_before:
            continue
        mention = Mention(e.kind, e.value, m.start, m.end, e.id)
        mention.scope = e.scope
        mention.also = e.also
        if e.status:
            mention.status = e.status
        mention.set_severity(severity_before(parts, m.start, 0) or severity_after(parts, m.end))
        found.append(mention)
    if parts.acts and parts.objs:
        taken: set[int] = set()
        for a in parts.acts:
            _link(a, parts, lex, taken, found)
    for mention in found:
        _describe(mention, parts)
    if len(found) > 1:
        found.sort(key=lambda x: (x.start, x.end))
        found = _distinct(found)
    return found


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
    back = _backward(act, parts, wanted, taken, _direct)
    pairs = lex.pairs
    if back:
        _emit(act, back, True, parts, pairs, found)
        if act.entry.kind != "normal":
            return
    ahead = _forward(act, parts, wanted, pairs)
    if ahead:
        taken.update(o.start for o in ahead)
        _emit(act, ahead, False, parts, pairs, found)
    elif not back:
        back = _backward(act, parts, wanted, taken, _near if len(parts.acts) > 1 else _alone)
        if back:
            _emit(act, back, True, parts, pairs, found)
        else:
            _share_object(act, parts, wanted, pairs, found)


def _share_object(
    act: Match, parts: Parts, wanted: frozenset[str], pairs: dict[tuple[str, str], Pair], found: list[Mention]
) -> None:
    """``abutting but not displacing the S1 root``: the first action has the object of the second."""
    after = next((a for a in parts.acts if a.start >= act.end and a.entry.kind == act.entry.kind), None)
    if after is None or not all(w in _AND_NOT for w in parts.words[act.end : after.start]):
        return
    ahead = _forward(after, parts, wanted, pairs)
    if ahead:
        _emit(act, ahead, False, parts, pairs, found)
        for m in found[-len(ahead) :]:
            m.end = act.end


def _direct(gap: list[str], start: int, parts: Parts) -> bool:
    if not gap:
        return True
    if len(gap) > 6:
        return False
    at = start
    for w in gap:
        if (
            w not in _COPULA
            and w
            not in (
                "left",
                "right",
                "bilateral",
                "<disc>",
                "level",
                "not",
                "no",
                "now",
                "widely",
                "to",
                "degenerative",
                "diffuse",
                "diffusely",
            )
            and not any(s <= at < e for s, e, _ in parts.severities)
        ):
            return False
        at += 1
    return True


def _near(gap: list[str], start: int, parts: Parts) -> bool:
    return len(gap) <= 4 and not any(w in (",", ";", "with", "and", "causing", "but", "(") for w in gap)


def _alone(gap: list[str], start: int, parts: Parts) -> bool:
    return len(gap) <= 6 and not any(w in (";", "with", "and", "causing", "but", "(") for w in gap)


def _blocked(parts: Parts, low: int, high: int, act: Match) -> bool:
    """Say whether another action, a displacement or a clause end stands between two token positions."""
    for h in parts.heads:
        if low <= h.start < high and h.entry.kind in ("displacement", "listhesis", "modic"):
            return True
    for a in parts.acts:
        if low <= a.start < high and a.start != act.start and a.entry.kind not in _QUIET:
            return True
    for m in parts.mods:
        if low <= m.start < high and m.entry.kind in ("terminate", "assert"):
            return True
    return ";" in parts.words[low:high]


def _forward(
    act: Match, parts: Parts, wanted: frozenset[str], pairs: dict[tuple[str, str], Pair]
) -> list[Match]:
    linked: list[Match] = []
    last = act.end
    for o in parts.objs:
        if o.start < act.end or o.entry.weak or o.entry.kind not in wanted:
            if o.start >= act.end and linked and o.entry.kind not in wanted:
                break
            continue
        pair = pairs[act.entry.kind, o.entry.kind]
        if pair.back_only:
            continue
        gap = parts.words[last : o.start]
        if not linked:
            if len(gap) > pair.reach or _blocked(parts, last, o.start, act):
                break
            if any(w in (",", "with") for w in gap) and len(gap) > 3 and act.entry.kind == "normal":
                break
        elif (
            len(gap) > 6
            or _blocked(parts, last, o.start, act)
            or not all(w in _JOIN or _is_severity(parts, last + i) for i, w in enumerate(gap))
        ):
            break
        linked.append(o)
        last = max(last, o.end)
    return linked


def _is_severity(parts: Parts, at: int) -> bool:
    return any(s <= at < e for s, e, _ in parts.severities)


def _backward(
    act: Match,
    parts: Parts,
    wanted: frozenset[str],
    taken: set[int],
    allowed: Callable[[list[str], int, Parts], bool],
) -> list[Match]:
    linked: list[Match] = []
    first = act.start
    for o in reversed(parts.objs):
        if o.end > act.start or o.entry.kind not in wanted:
            continue
        if o.start in taken and not linked:
            return []
        if o.end > first:
            continue
        gap = parts.words[o.end : first]
        if not linked:
            if _blocked(parts, o.end, first, act) or not allowed(gap, o.end, parts):
                return []
        elif (
            len(gap) > 6
            or _blocked(parts, o.end, first, act)
            or not all(w in _JOIN or _is_severity(parts, o.end + i) for i, w in enumerate(gap))
        ):
            break
        linked.append(o)
        first = o.start
    linked.reverse()
    return linked


def _emit(
    act: Match,
    objs: list[Match],
    back: bool,
    parts: Parts,
    pairs: dict[tuple[str, str], Pair],
    found: list[Mention],
) -> None:
    floor = max((h.end for h in parts.heads if h.end <= objs[0].start and h.end <= act.start), default=0)
    inherited = None if back else severity_before(parts, act.start, floor)
    last = objs[0]
    for o in objs:
        pair = pairs[act.entry.kind, o.entry.kind]
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
        m = Mention(pair.kind, pair.value, min(act.start, o.start), max(act.end, o.end), pair.id)
        m.severity_graded = pair.graded
        m.set_severity(severity)
        m.also = pair.also
        m.obj = o.entry.kind
        found.append(m)
        if pair.graded and severity is not None:
            _other_side(m, severity, parts, found)
        last = o


def _other_side(m: Mention, near: Severity, parts: Parts, found: list[Mention]) -> None:
    """``severe right and moderate left foraminal stenosis``: two grades, one to each side."""
    sided = {a.start: a.entry.value for a in parts.attributes if a.entry.kind == "side"}
    for start, end, value in parts.severities:
        between = range(end, near.start)
        sides = [sided[i] for i in between if i in sided]
        if (
            end <= near.start <= end + 3
            and sides
            and all(i in sided or parts.words[i] in ("and", ",", "/", "&") for i in between)
        ):
            twin = m.copy()
            twin.set_severity(Severity(start, end, value))
            twin.sides, m.sides = (
                sides[0],
                next((sided[i] for i in range(near.end, m.start) if i in sided), ()),
            )
            found.append(twin)
            return


def _inside(parts: Parts, low: int, high: int) -> Severity | None:
    return next((Severity(s, e, v) for s, e, v in parts.severities if low <= s and e <= high), None)


def _describe(m: Mention, parts: Parts) -> None:
    """Collect side, site and containment words of the noun phrase around a mention."""
    if not parts.attributes or m.sides:
        return
    sides: list[str] = []
    for a in parts.attributes:
        near = m.start - 7 <= a.start < m.end or (a.start >= m.end and a.start - m.end <= 2)
        if not near:
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
            sides += [s for s in a.entry.value if s not in sides]
        elif m.kind == "displacement":
            m.attributes.append(a)
    m.sides = tuple(sides)


def _cut(parts: Parts, low: int, high: int, m: Mention) -> bool:
    if any(w in (",", ";", ".", "with", "causing") for w in parts.words[low:high]):
        return True
    return any(low <= h.start < high for h in (*parts.heads, *parts.acts) if h.start < m.start)
