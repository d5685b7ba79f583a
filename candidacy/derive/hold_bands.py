"""Hold rules by creatinine clearance: what the bands of the table ``renal_holds`` add to a row of the guideline."""

from collections.abc import Mapping
from itertools import pairwise
from math import inf, isfinite
from typing import Any

from candidacy.derive.arithmetic import common
from candidacy.derive.base import Inputs
from candidacy.derive.hold_table import Rule, read_wait
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Span

_EVERY_CLEARANCE = Span(0, inf)
_Bands = Mapping[str, Mapping[str, Any]]


def by_renal_function(entry: Inputs, rule: Rule) -> list[Rule]:
    """The rule for every creatinine clearance that is possible: one for each combination of bands.

    Every band that a clearance lies in counts, and on an edge that two bands share both do, so that the longer
    interval is waited for. A clearance that a set of bands leaves out is left to the prescriber; one that is not
    known, too old or undated may be any.
    """
    if rule.action != "interval" or not rule.waits:
        return [rule]
    bands = _bands(entry, rule)
    if not bands:
        return [rule]
    clearance = _clearance(entry)
    pieces = [piece for piece in _pieces(bands) if common(clearance, piece) is not None]
    return list(dict.fromkeys(_rule_within(rule, bands, piece) for piece in pieces))


def _clearance(entry: Inputs) -> Span:
    """The clearance of which the blood was taken recently enough; what is older counts as read, and as unknown."""
    fact = entry.apart(entry.subject).fact("creatinine_clearance")
    if fact.value is not None:
        worked_out = fact.provenance.day is None
        taken = [part for part in fact.derived_from if worked_out and part.element == "creatinine"]
        why = entry.too_old(taken[0] if taken else fact, entry.setting("renal_function_max_age"))
        fact = fact if why is None else replace(fact, value=None, why=why)
    entry.read.append(fact)
    return fact.value if isinstance(fact.value, Span) else _EVERY_CLEARANCE


def _bands(entry: Inputs, rule: Rule) -> _Bands:
    source = entry.setting("renal_hold_bands")
    row = entry.table(rule.table)[rule.row]
    if row["medicine_class"] == "low_molecular_weight_heparin" and not entry.setting(
        "heparin_renal_doubling"
    ):
        return {}
    return {
        key: band
        for key, band in entry.table("renal_holds").items()
        if band["agent"] == row["agent"]
        and band["source"] in (source, "any")
        and band["guideline"] in (rule.table, "any")
        and (band["intensity"] is None or row["intensity"] == band["intensity"])
    }


def _pieces(bands: _Bands) -> list[Span]:
    """Every clearance cut at the edges of the bands: the edges themselves and what lies between them."""
    ends = {end for band in bands.values() for end in (band["low"], band["high"]) if end is not None}
    edges = sorted({0.0, *(float(end) for end in ends)})
    between = [Span(low, high, True, isfinite(high)) for low, high in pairwise((*edges, inf))]
    return [*(Span(edge, edge) for edge in edges), *between]


def _rule_within(rule: Rule, bands: _Bands, piece: Span) -> Rule:
    """The rule for a piece that no band cuts."""
    inside = {key: band for key, band in bands.items() if common(piece, _range(band)) is not None}
    if {_set(band) for band in bands.values()} - {_set(band) for band in inside.values()}:
        remark = "no interval was read for this renal function"
        return replace(rule, action="shared_decision", waits=(), remark=remark)
    factor = max(band["factor"] for band in inside.values())
    printed = [read_wait(band["interval"]) for band in inside.values() if band["interval"] is not None]
    waits = (*(wait.times(factor) for wait in rule.waits), *printed)
    return replace(rule, waits=tuple(dict.fromkeys(waits)), bands=tuple(inside))


def _set(band: Mapping[str, Any]) -> tuple[str, str]:
    return band["source"], band["guideline"]


def _range(row: Mapping[str, Any]) -> Span:
    high = inf if row["high"] is None else row["high"]
    return Span(row["low"], high, row["low_left_out"], row["high_left_out"])
