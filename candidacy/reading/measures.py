"""Measurements with their unit, and which finding each belongs to. Severity words never become numbers here."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from candidacy.reading.lexer import Group, Tokens
from candidacy.reading.lexicon import grammar, lexicon
from candidacy.reading.mention import Mention, Parts
from candidacy.reading.two_values import becomes

_N = r"\d{1,3}(?:[.,]\d{1,2})?"
_MEASURE = re.compile(
    rf"(?<![\w.])(?:(?P<a>{_N})\s*(?P<u0>mm|cm)?\s*(?:(?P<sep>x|×|by|-|–|to)\s*(?P<b>{_N})\s*(?P<u1>mm|cm)?\s*"
    rf"(?:(?:x|×|by)\s*(?P<c>{_N})\s*)?)?)(?P<unit>mm|cm|%|percent|degrees?|deg|°|millimet(?:er|re)s?|centimet(?:er|re)s?)?(?![\w])",
    re.IGNORECASE,
)
UNITS = grammar("unit")
"""Words without which a statement holds no measurement."""
_OTHER_WAY = grammar("other_direction")
_TENTH = 10.0
_AFTER = grammar("measure_lead")
_MEASURED = grammar("measured")
_OWN = frozenset(("disc", "contour", "annulus"))
"""Things of which a size behind them is still one of the finding."""
_WHAT_IS_LEFT = grammar("what_is_left")
_JOINED = (["and"], ["or"], [","], ["&"])
_BOUNDS = {
    "<": grammar("measure_less"),
    "≤": grammar("measure_at_most"),
    ">": grammar("measure_more"),
    "≥": grammar("measure_at_least"),
}
_CUES = grammar("grade_cue") | {"modic"}
_PAST = grammar("measure_past")
_CHANGES = grammar("measure_change")
_MOTION = frozenset(("translation", "angulation"))
_POSITIONS = grammar("position")
_ABOUT = grammar("measure_about")
_SINGLED = grammar("singled_out")
_AT = grammar("value_at")
_OPENS = frozenset((",", "and", "with", "a", "an"))
_PARTS = frozenset((",", ";", "and", "with", "."))


class Measure(NamedTuple):
    """A measurement that describes a finding; ``values`` are in ``unit`` (mm, percent or degrees)."""

    kind: str
    values: tuple[float, ...]
    start: int
    end: int
    parent: Mention
    range: bool
    bound: str = ""
    about: tuple[int, int] | None = None
    """Tokens by which it is only approximate."""


def about(words: list[str], at: int) -> tuple[int, int] | None:
    """Give the word before a number that makes it approximate, as a range of tokens."""
    return next(((i, i + 1) for i in range(max(0, at - 2), at) if words[i] in _ABOUT), None)


def _unit(raw: str) -> str:
    raw = raw.lower()
    if raw in ("%", "percent"):
        return "percent"
    if raw.startswith(("deg", "°")):
        return "degrees"
    return "cm" if raw.startswith("c") else "mm"


class Written(NamedTuple):
    """A measurement as it stands, in characters and in tokens; ``bound`` (``<``, ``≤``, ``>``, ``≥``) marks a limit."""

    values: tuple[float, ...]
    unit: str
    raw: str
    start: int
    end: int
    at: int
    stop: int
    range: bool
    bound: str
    other_way: bool
    low: int
    """Where the words of its limit begin."""


def written(text: str, tokens: Tokens) -> list[Written]:
    """List the measurements of a statement, lengths in mm."""
    out: list[Written] = []
    if not tokens.found:
        return out
    for m in _MEASURE.finditer(text, tokens.found[0].start(), tokens.found[-1].end()):
        raw_unit = m["unit"] or m["u1"] or m["u0"]
        if raw_unit is None:
            continue
        raw = unit = _unit(raw_unit)
        values = tuple(float(v.replace(",", ".")) for v in (m["a"], m["b"], m["c"]) if v)
        if unit == "cm":
            values = tuple(round(v * _TENTH, 3) for v in values)
            unit = "mm"
        first = m.start()
        at = next((i for i, t in enumerate(tokens.found) if t.start() >= first), 0)
        graded = bool(m["b"]) and bool(at) and tokens.words[at - 1] in (_CUES | lexicon().grade_first)
        if graded and lexicon().scales.isdisjoint(tokens.words):
            graded = (
                False  # "grade 1 - 2 mm slip": the first number may be a grade or the lower end of a size
            )
        if graded and not m["c"]:  # "Pfirrmann 4 - 3 mm bulge"
            first, values = m.start("b"), values[1:]
            at = next((i for i, t in enumerate(tokens.found) if t.start() >= first), 0)
        stop = next((i for i, t in enumerate(tokens.found) if t.start() >= m.end()), len(tokens.found))
        is_range = len(values) > 1 and (m["sep"] or "").lower() in ("-", "–", "to")
        bound, size = _bound(tokens.words[max(0, at - 3) : at])
        other_way = not _OTHER_WAY.isdisjoint(tokens.words[stop : stop + 2])
        out.append(
            Written(values, unit, raw, first, m.end(), at, stop, is_range, bound, other_way, at - size)
        )
    return out


def measures(
    text: str, tokens: Tokens, parts: Parts, groups: Sequence[Group], mentions: list[Mention]
) -> tuple[list[Measure], list[tuple[int, int]]]:
    """Read the measurements of one statement and attach each to the finding it describes.

    Returns them, and the token ranges of those that describe a finding but cannot be given a value. A finding
    denied beyond a size (``no protrusion larger than 3 mm``) is taken out of ``mentions``.
    """
    own: list[Measure] = [m.size for m in mentions if m.size is not None]
    if own:
        return own, []
    out: list[tuple[Measure, Written]] = []
    unread: list[tuple[int, int]] = []
    found = written(text, tokens)
    for w in found:
        owner = _owner(w.unit, w.low, w.stop, parts, mentions)
        if owner is None or w.other_way:
            continue
        if owner.kind == "height_loss" and owner.value == "none":
            unread.append((min(owner.start, w.at), max(owner.end, w.stop)))
            mentions[:] = [m for m in mentions if m is not owner]  # "70 % of the height is preserved"
            continue
        if owner.status == "absent":
            unread.append((min(owner.start, w.at), max(owner.end, w.stop)))
            if w.bound in (">", "≥"):
                mentions[:] = [m for m in mentions if m is not owner]
            continue
        part = (
            None
            if _not_the_size(parts, w, len(found), owner, mentions)
            else _of_levels(parts, w, owner, groups)
        )
        if part is None or (w.bound and len(w.values) > 1):
            unread.append((w.at, w.stop))
            continue
        near = about(parts.words, w.at)
        size = Measure(KIND[owner.kind, w.unit], w.values, w.start, w.end, part, w.range, w.bound, near)
        out.append((size, w))
    several = [m for m, _ in out if len(m.parent.discs) > 1]
    torn = [(m, w) for m, w in out if any(o.parent is m.parent and o.values != m.values for o in several)]
    unread += [(w.at, w.stop) for _, w in torn if len(torn) > 1]  # two sizes for a finding at several discs
    kept = [m for m, w in out if len(torn) < 2 or (m, w) not in torn]
    return kept, unread


def _bound(words: list[str]) -> tuple[str, int]:
    """Tell which limit the words before a number make of it, and how many they are: ``less than``, ``up to``."""
    for size in (3, 2, 1):
        tail = "_".join(words[-size:])
        for mark, known in _BOUNDS.items():
            if tail in known:
                return mark, size
    return "", 0


def _not_the_size(parts: Parts, w: Written, count: int, owner: Mention, mentions: Sequence[Mention]) -> bool:
    """Say whether a number is of another time or position, a difference, or of a finding named right behind it."""
    words = parts.words
    if any(x.entry.kind == "historical" and x.end == w.at for x in parts.mods):
        return True
    if becomes(words, w.stop):
        return True  # "3 mm -> 5 mm"
    if not _POSITIONS.isdisjoint(words) and (
        owner.kind == "listhesis" or (owner.kind in _MOTION and count > 1)
    ):
        return True
    if _PAST.intersection(words[w.stop : w.stop + 2] + words[max(0, w.at - 2) : w.at]) and (
        owner.status == "present"
    ):
        return True
    if words[w.at - 1 : w.at] in _JOINED and words[w.at - 2 : w.at - 1] and words[w.at - 2][0].isdigit():
        return True  # "bulges of 3 and 5 mm": the first number is nobody's
    if owner.kind == "height_loss" and (
        (words[w.low - 1 : w.low] == ["to"] and not w.range)
        or not _WHAT_IS_LEFT.isdisjoint(words[w.stop : w.stop + 4])
    ):
        return True  # "reduced to 40 %", "40 % of normal": what is left, not what is lost
    if words[w.at - 1 : w.at] == ["by"] and w.unit == "mm" and _CHANGES.intersection(words[w.at - 4 : w.at]):
        return True
    return owner.end <= w.at and words[w.low - 1] in _OPENS and any(
        m is not owner and 0 <= m.start - w.stop <= 2 and _PARTS.isdisjoint(words[w.stop : m.start])
        and (m.kind, w.unit) not in KIND
        for m in mentions
    )  # fmt: skip


def _of_levels(parts: Parts, w: Written, owner: Mention, groups: Sequence[Group]) -> Mention | None:
    """Give the finding with the level that a size names; nothing if it names one that the finding is not at."""
    words = parts.words
    near = [g for g in groups if w.stop < g.start <= w.stop + 3 and words[w.stop] in _AT]
    near = near or [g for g in groups if owner.end <= g.start and g.end <= w.at][-1:]
    named = set(near[0].discs) if near else set()
    if owner.start <= w.at and w.stop <= owner.end:
        return owner
    if not named or named == set(owner.discs):
        singled = _SINGLED.intersection(words[owner.end : w.at])
        if not singled or len(owner.discs) < 2:
            return owner
        at = {"former": 0, "latter": -1}.get(next(iter(singled)))
        named = {owner.discs[at]} if at is not None and len(singled) == 1 else set()
    if not named or not named.issubset(owner.discs):
        return None
    part = owner.copy()
    part.discs = tuple(d for d in owner.discs if d in named)
    return part


KIND = {
    ("displacement", "mm"): "displacement_size",
    ("listhesis", "mm"): "slip_mm",
    ("listhesis", "percent"): "slip_percent",
    ("height_loss", "percent"): "disc_height_loss",
    ("translation", "mm"): "translation_on_flexion_extension",
    ("angulation", "degrees"): "angulation_on_flexion_extension",
}
"""Which finding takes which unit, and the measurement it becomes."""


def _owner(unit: str, at: int, stop: int, parts: Parts, mentions: list[Mention]) -> Mention | None:
    words = parts.words
    best: tuple[int, Mention] | None = None
    for m in mentions:
        if (m.kind, unit) not in KIND:
            continue
        if m.start <= at < m.end:
            return m
        if stop <= m.start:
            gap = words[stop : m.start]
            if len(gap) > 6 or any(w in (",", ";", "and", "with", "canal", ".") for w in gap):
                continue
        else:
            gap = words[m.end : at]
            if len(gap) > 14 or any(w in (";", "canal", "cyst", "node") for w in gap):
                continue
            tail = gap[-3:]
            if tail and not any(w in _AFTER for w in tail) and tail[-1] != ",":
                continue
        if best is None or len(gap) < best[0]:
            best = (len(gap), m)
    if best is None:
        return None
    low, high = (stop, best[1].start) if stop <= best[1].start else (best[1].end, at)
    if any(low <= h.start < high for h in (*parts.heads, *parts.known) if h.entry.kind != best[1].kind):
        return None
    apart = any(low <= o.start < high and o.entry.kind not in _OWN for o in parts.objs)
    if apart and high == at and _MEASURED.isdisjoint(words[low:high]):
        return None  # "2 mm bulge, thecal sac AP 9 mm"
    return best[1]
