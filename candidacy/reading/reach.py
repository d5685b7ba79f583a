"""Which things an action reaches in its statement, forward and backward, and what stands in the way."""

from collections.abc import Callable
from itertools import pairwise

from candidacy.reading.lexer import Match
from candidacy.reading.lexicon import Pair, grammar
from candidacy.reading.mention import COPULA, Parts

_JOIN = grammar("join")
_LISTED = grammar("list") | grammar("range")
_AND = frozenset(("and", "or", "&"))
_LEADS_ON = _AND | {"not", "no", "without"}
NEURAL = frozenset(("root", "sac", "cord", "cauda"))
SIDES = frozenset(("left", "right", "bilateral"))
_PLACES = frozenset(("recess", "foramen", "canal"))
_WITHIN = frozenset(("in", "within", "at"))
_CLAUSE = frozenset((";", "with", "and", "causing", "but", "("))
_IN_ORDER = frozenset(("normal", "free"))
_NEAR = 2
QUIET = frozenset(("change", "joint", "degenerate", "abnormality"))
"""Actions that do not stand in the way of another."""


def forward(
    act: Match, parts: Parts, wanted: frozenset[str], pairs: dict[tuple[str, str], Pair]
) -> list[Match]:
    """List the things after an action that it is said of: ``compressing the sac and both roots``."""
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
        if act.entry.kind == "normal" and _said_otherwise(o, gap, parts, last, bool(linked)):
            break
        if not linked:
            if len(gap) > pair.reach or _blocked(parts, last, o.start, act):
                break
            if "," in gap and (_has_its_own(o, parts) or any(w[0] in "0+-" for w in gap)):
                break  # "moderate stenosis, foramina patent"; "stenosis 0, foramina +"
            if act.entry.kind == "compress" and o.entry.kind in _PLACES and not _WITHIN.isdisjoint(gap):
                break  # "the root is compressed in the recess" does not say that the recess is narrow
            if "," in gap and len(gap) > 3 and act.entry.kind == "normal":
                break
            if act.entry.kind == "normal" and gap[:1] == ["and"]:
                break  # "the discs are normal and the canal is wide"
        elif (
            len(gap) > 6
            or "no" in gap
            or ("with" in gap and (act.entry.kind != "compress" or _ends_in_its_own(o, parts)))
            or ("and" in gap and _ends_in_its_own(o, parts))  # "loss of signal and height preserved"
            or (
                act.entry.kind == "compress" and not _WITHIN.isdisjoint(gap)
            )  # "the root in the lateral recess"
            or ("," in gap and _AND.isdisjoint(gap) and _graded_there(parts, last, o.start))
            or ("," in gap and _AND.isdisjoint(gap) and (_said_of(o, parts) or _listed_on(o, parts)))
            or _blocked(parts, last, o.start, act)
            or not all(w in _JOIN or _is_severity(parts, last + i) for i, w in enumerate(gap))
        ):
            break
        linked.append(o)
        last = max(last, o.end)
    return linked


def backward(
    act: Match,
    parts: Parts,
    wanted: frozenset[str],
    taken: set[int],
    allowed: Callable[[list[str], int, Parts], bool],
) -> list[Match]:
    """List the things before an action that it is said of: ``the canal and foramina are narrowed``."""
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
        elif o.entry.kind == "disc" and "and" not in gap:
            break  # "desiccated disc, narrowed canal"
        elif (
            len(gap) > 6
            or o.start in taken  # "loss of signal, height preserved"
            or "no" in gap  # "indents the sac, no canal stenosis"
            or ("with" in gap and not _graded_before(o, parts))  # "clear canal with foraminal stenosis"
            or any(a.end == o.start and a.entry.kind in _IN_ORDER for a in parts.acts)
            or _new_phrase(parts, gap, o, linked)
            or _blocked(parts, o.end, first, act)
            or not all(w in _JOIN or _is_severity(parts, o.end + i) for i, w in enumerate(gap))
        ):
            break
        linked.append(o)
        first = o.start
    linked.reverse()
    return linked


def _said_of(o: Match, parts: Parts) -> bool:
    """``loss of signal, height kept``: a word of its own right behind a thing says something else of it."""
    following = parts.words[o.end : o.end + 1]
    if not following or not following[0][0].isalpha():
        return False
    return following[0] not in _JOIN and not any(x.start == o.end for x in (*parts.objs, *parts.places))


def _listed_on(o: Match, parts: Parts) -> bool:
    """``narrowed canal, height, signal normal``: things in a row that end in an action of their own."""
    at, ends = o.end, {x.start: x.end for x in parts.objs}
    while at < len(parts.words) and (at in ends or parts.words[at] == ","):
        at = ends.get(at, at + 1)
    return at > o.end and any(a.start == at for a in parts.acts)


def _ends_in_its_own(o: Match, parts: Parts) -> bool:
    """Say whether a word for normal stands right behind a thing: ``... with foramina spared``."""
    return any(a.start == o.end and a.entry.kind in _IN_ORDER for a in parts.acts)


def _graded_before(o: Match, parts: Parts) -> bool:
    """Say whether a thing has a degree of its own: ``mild canal with moderate foraminal stenosis``."""
    return any(o.start - _NEAR <= e <= o.start for _, e, _ in parts.severities)


def _said_otherwise(o: Match, gap: list[str], parts: Parts, low: int, joined: bool) -> bool:
    """``Normal disc with mild facet arthropathy``: what stands behind "with", has a degree or an action of its own is not called normal."""
    graded = joined and any(_is_severity(parts, low + i) for i in range(len(gap)))
    return "with" in gap or graded or any(a.start == o.end and a.entry.kind != "normal" for a in parts.acts)


def _has_its_own(o: Match, parts: Parts) -> bool:
    """Say whether an action stands right behind a thing or a list of things, or behind "is" or "not", of which it is said."""
    at, ends = o.end, {x.start: x.end for x in parts.objs}
    while at < len(parts.words) and (at in ends or parts.words[at] in COPULA or parts.words[at] in _LEADS_ON):
        at = ends.get(at, at + 1)
    return any(a.start == at for a in parts.acts)


def _graded_there(parts: Parts, low: int, high: int) -> bool:
    return any(low <= s and e <= high for s, e, _ in parts.severities)


def _new_phrase(parts: Parts, gap: list[str], o: Match, linked: list[Match]) -> bool:
    """``patent foramina, mild canal stenosis``: behind a comma something else begins, unless each has its own grade."""
    if "," not in gap or not _AND.isdisjoint(gap):
        return False
    if any(not _AND.isdisjoint(parts.words[a.end : b.start]) for a, b in pairwise(reversed(linked))):
        return False
    return not any(s < o.start and o.start - e <= 2 for s, e, _ in parts.severities)


def side_by_side(gap: list[str], start: int, parts: Parts) -> bool:
    """Allow a gap of copulas, sides, levels and severities: ``the disc at L4-5 is mildly narrowed``."""
    if not gap:
        return True
    places = [i for i, w in enumerate(gap) if w == "<disc>"]
    listed = range(places[0], places[-1] + 1) if len(places) > 1 else range(0)  # "at L3-4, L4-5 and L5-S1"
    if len(gap) - len(listed) > 6:
        return False
    at = start
    dark = {
        i
        for rows in (parts.heads, parts.acts)
        for h in rows
        if h.entry.kind in ("desiccation", "degenerate")
        for i in range(h.start, h.end)
    }
    worn = gap[0] == "with" and start - 1 in dark and SIDES.isdisjoint(gap)
    for i, w in enumerate(gap):
        if (
            not (worn and i == 0)  # "a desiccated disc with mild narrowing"
            and not (i in listed and w in _LISTED)
            and at not in dark  # "the disc is desiccated and narrowed"
            and not (w in ("and", ",") and at - 1 in dark)
            and w not in COPULA
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


def within_clause(gap: list[str], start: int, parts: Parts) -> bool:
    """Allow a short gap within one clause."""
    rest = gap[1:] if gap[:1] == [","] else gap  # "the disc is dark, narrowed, with a bulge"
    return len(gap) <= 4 and _CLAUSE.isdisjoint(rest) and "," not in rest


def only_action(gap: list[str], start: int, parts: Parts) -> bool:
    """Allow a longer gap where the statement holds no other action."""
    return len(gap) <= 6 and _CLAUSE.isdisjoint(gap)


def _blocked(parts: Parts, low: int, high: int, act: Match) -> bool:
    """Say whether another action, a displacement or a clause end stands between two token positions."""
    for h in parts.heads:
        if low <= h.start < high and h.entry.kind in ("displacement", "listhesis", "modic"):
            return True
    for a in parts.acts:
        if low <= a.start < high and a.start != act.start and a.entry.kind not in QUIET:
            return True
    for m in parts.mods:
        kind = m.entry.kind
        if low <= m.start < high and (
            kind == "terminate" or (kind == "assert" and parts.words[m.start] not in COPULA)
        ):
            return True
    return ";" in parts.words[low:high]


def _is_severity(parts: Parts, at: int) -> bool:
    return any(s <= at < e for s, e, _ in parts.severities)
