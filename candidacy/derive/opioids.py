"""Opioid dose per day in morphine milligram equivalents: a figure of risk, never a conversion dose."""

from collections.abc import Callable, Mapping
from math import inf
from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.derive.arithmetic import corners, plus, times
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import FALSE, Span, Why

_AT_LEAST_NOTHING = Span(0, inf)


@derives("opioid_mme_per_day")
def opioid_mme_per_day(inputs: Inputs) -> Span | None:
    """Sum over the opioids of mg per day x factor, or patch rate in mcg/h x factor; mg/d.

    Factors by the table ``opioid_factors`` in the edition of the setting ``mme_factor_edition``.
    Buprenorphine is not counted. An opioid without a known dose, factor or suitable route, and a list
    that may go on, leave only a lower bound.

    Source: ``cdc_2022``; factors of 2016 recalled.
    """
    entries = list(inputs.entries("medicines"))
    counts = [(entry, _is_opioid(entry)) for entry in entries]
    if inputs.options("opioid_use") == FALSE:
        # one with a recent last dose makes the answer itself a conflict, one of long ago has ended
        if any(counted is Truth.MET and not _last_dose_known(entry) for entry, counted in counts):
            raise Underivable(
                Why.CONFLICTING,
                "no opioid is said to be used, yet one is listed without its last dose",
            )
        return Span(0, 0)
    dose, complete = Span(0, 0), inputs.complete("medicines")
    for entry, counted in counts:
        if counted is Truth.NOT_MET:
            continue
        part = _equivalents(entry)
        dose = plus(dose, part if counted is Truth.MET else Span(0, part.high))
    if not complete:
        dose = plus(dose, _AT_LEAST_NOTHING)
        inputs.say("the list of medicines is not stated to be complete, so this is the least it can be")
    if dose.high == inf:
        if dose.low == 0:
            return None
        possible = catalogue()["opioid_mme_per_day"].possible
        highest = inf if possible is None or possible.high is None else possible.high
        return Span(dose.low, max(dose.low, highest))
    return dose


def listed_dose(inputs: Inputs, may_have_ended: Callable[[Inputs], bool]) -> Span:
    """What a list of medicines allows as the dose of a day, of which an opioid that may have ended is all, some or nothing."""
    dose = Span(0, 0) if inputs.complete("medicines") else _AT_LEAST_NOTHING
    for entry in inputs.entries("medicines"):
        counted = _is_opioid(entry)
        if counted is not Truth.NOT_MET:
            part = _equivalents(entry)
            sure = counted is Truth.MET and not may_have_ended(entry)
            dose = plus(dose, part if sure else Span(0, part.high))
    return dose


def _is_opioid(entry: Inputs) -> Truth:
    factors = entry.table("opioid_factors")
    agent = entry.options("medicine_agent")
    by_agent = Truth.UNKNOWN if agent is None else agent.one_of(frozenset((*factors, "other_opioid")))
    named = agent is not None and "other" not in agent.codes
    if by_agent is Truth.MET or (by_agent is Truth.NOT_MET and named):
        return by_agent
    kind = entry.options("medicine_class")
    return Truth.UNKNOWN if kind is None else kind.one_of(frozenset(("opioid",)))


def _last_dose_known(entry: Inputs) -> bool:
    """Whether it is told, however roughly: the relation of the answer looks at one that may be recent."""
    return any(entry.span(f"medicine_last_dose_{way}") is not None for way in ("date", "hours_ago"))


def _equivalents(entry: Inputs) -> Span:
    """Equivalents of one opioid per day; from nothing upwards where its dose or factor is not known."""
    agent = entry.code("medicine_agent")
    row = entry.table("opioid_factors").get(agent or "")
    if row is None:
        entry.say("an opioid without a factor is listed, so this is the least it can be")
        return _AT_LEAST_NOTHING
    if not row["counted"]:
        entry.say(f"{agent} is not counted in morphine equivalents")
        return Span(0, 0)
    if row["patch"]:
        rate = entry.span("medicine_patch_rate")
        return _AT_LEAST_NOTHING if rate is None else _factored(entry, row, rate)
    route = entry.options("medicine_route")
    by_mouth = Truth.UNKNOWN if route is None else route.one_of(frozenset(row["routes"]))
    each, times_a_day = entry.span("medicine_dose"), entry.span("medicine_doses_per_day")
    if each is None or times_a_day is None or by_mouth is not Truth.MET:
        if by_mouth is not Truth.MET:
            entry.say(f"the factor of {agent} is for doses by mouth; its route is another or not recorded")
        return _AT_LEAST_NOTHING
    return _factored(entry, row, corners(lambda dose, number: dose * number, each, times_a_day))


def _factored(entry: Inputs, row: Mapping[str, Any], daily: Span) -> Span:
    factor = row[f"factor_{entry.setting('mme_factor_edition')}"]
    if factor is not None:
        return times(daily, factor)
    tiers = list(entry.table("methadone_factors_2016").values())
    return corners(lambda dose: dose * _tier(tiers, dose), daily)


def _tier(tiers: list[Mapping[str, Any]], dose: float) -> float:
    return float(next(row["factor"] for row in tiers if row["up_to"] is None or dose <= row["up_to"]))
