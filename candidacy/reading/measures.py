"""Measurements with their unit, and which finding each belongs to. Severity words never become numbers here."""

import re
from typing import NamedTuple

from candidacy.reading.lexer import Tokens
from candidacy.reading.lexicon import grammar
from candidacy.reading.mention import Mention, Parts

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


class Measure(NamedTuple):
    """A measurement that describes a finding; ``values`` are in ``unit`` (mm, percent or degrees)."""

    kind: str
    values: tuple[float, ...]
    start: int
    end: int
    parent: Mention
    range: bool


def _unit(raw: str) -> str:
    raw = raw.lower()
    if raw in ("%", "percent"):
        return "percent"
    if raw.startswith(("deg", "°")):
        return "degrees"
    return "cm" if raw.startswith("c") else "mm"


def measures(
    text: str, start: int, end: int, tokens: Tokens, parts: Parts, mentions: list[Mention]
) -> list[Measure]:
    """Read the measurements of one statement and attach each to the finding it describes."""
    out: list[Measure] = []
    for m in _MEASURE.finditer(text, start, end):
        raw_unit = m["unit"] or m["u1"] or m["u0"]
        if raw_unit is None:
            continue
        unit = _unit(raw_unit)
        values = tuple(float(v.replace(",", ".")) for v in (m["a"], m["b"], m["c"]) if v)
        if unit == "cm":
            values = tuple(round(v * _TENTH, 3) for v in values)
            unit = "mm"
        at = next((i for i, t in enumerate(tokens.found) if t.start() >= m.start()), 0)
        stop = next((i for i, t in enumerate(tokens.found) if t.start() >= m.end()), len(tokens.found))
        owner = _owner(unit, at, stop, parts, mentions)
        if owner is not None and not _OTHER_WAY.intersection(tokens.words[stop : stop + 2]):
            is_range = (m["sep"] or "").lower() in ("-", "–", "to")
            out.append(Measure(_KIND[owner.kind, unit], values, m.start(), m.end(), owner, is_range))
    return out


_KIND = {
    ("displacement", "mm"): "displacement_size",
    ("listhesis", "mm"): "slip_mm",
    ("listhesis", "percent"): "slip_percent",
    ("height_loss", "percent"): "disc_height_loss",
    ("translation", "mm"): "translation_on_flexion_extension",
    ("angulation", "degrees"): "angulation_on_flexion_extension",
}


def _owner(unit: str, at: int, stop: int, parts: Parts, mentions: list[Mention]) -> Mention | None:
    words = parts.words
    best: tuple[int, Mention] | None = None
    for m in mentions:
        if (m.kind, unit) not in _KIND:
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
    return best[1]
