"""Tests of one element as SQL truths: the primitives of each kind of column, of which the operators are made."""

import math
from collections.abc import Callable, Sequence
from math import inf
from typing import Any

from candidacy.case.element import Element
from candidacy.cohort.columns.fact_columns import Code, CodeList, Falling, Flag, Mask, Numbers, mask_of
from candidacy.cohort.engines import sqltext as sql
from candidacy.derive.arithmetic import tidy
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span
from candidacy.rules.operators import (
    MOST_GRADES,
    Primitives,
    codes_meant,
    compare_numbers,
    comparison_of_numbers,
)


def primitives(
    at_least: Callable[[float], str],
    at_most: Callable[[float], str],
    equals: Callable[[float], str] | None = None,
    among: Callable[[Sequence[float]], str] | None = None,
) -> Primitives[str]:
    """What comparisons in SQL are made of. To be equal is to lie between, unless it is said otherwise."""
    same = equals or (lambda point: sql.all_of((at_least(point), at_most(point))))
    return Primitives(
        at_least,
        at_most,
        same,
        among or (lambda points: sql.any_of(same(point) for point in points)),
        sql.negate,
        lambda one, other: sql.all_of((one, other)),
    )


def number_test(cells: Numbers, op: str, limits: Sequence[Any]) -> str:
    """Compare a number or date with limits."""
    of = _untidied if not cells.tidied else _exact if cells.exact else _between_ends
    return compare_numbers(op, limits, of(cells))


def _exact(cells: Numbers) -> Primitives[str]:
    low = cells.low

    def among(points: Sequence[float]) -> str:
        whole = [sql.number(point) for point in points if point.is_integer()]
        return f"({low} IN ({', '.join(whole)}))" if whole else _never(low)

    return primitives(
        lambda limit: f"({low} >= {sql.number(limit)})",
        lambda limit: f"({low} <= {sql.number(limit)})",
        lambda point: f"({low} = {sql.number(point)})",
        among,
    )


def _between_ends(cells: Numbers) -> Primitives[str]:
    return primitives(
        lambda limit: at_least(cells, limit),
        lambda limit: at_most(cells, limit),
        lambda point: equals(cells, point),
        lambda points: _among(cells, points),
    )


def _never(known: str) -> str:
    return f"CASE WHEN {known} IS NOT NULL THEN FALSE END"


def at_most(cells: Numbers, limit: float) -> str:
    shown = sql.number(limit)
    return (
        f"CASE WHEN {cells.high} <= {shown} THEN TRUE "
        f"WHEN {cells.low} > {shown} OR ({cells.low_open} AND {cells.low} = {shown}) THEN FALSE END"
    )


def at_least(cells: Numbers, limit: float) -> str:
    shown = sql.number(limit)
    return (
        f"CASE WHEN {cells.low} >= {shown} THEN TRUE "
        f"WHEN {cells.high} < {shown} OR ({cells.high_open} AND {cells.high} = {shown}) THEN FALSE END"
    )


def equals(cells: Numbers, limit: float) -> str:
    shown = sql.number(limit)
    return (
        f"CASE WHEN {cells.low} IS NULL THEN NULL WHEN {cells.low} = {cells.high} THEN {cells.low} = {shown} "
        f"WHEN ({cells.low} < {shown} OR ({cells.low} = {shown} AND NOT {cells.low_open})) "
        f"AND ({shown} < {cells.high} OR ({shown} = {cells.high} AND NOT {cells.high_open})) "
        "THEN NULL ELSE FALSE END"
    )


def _among(cells: Numbers, points: Sequence[float]) -> str:
    """One of a few whole numbers: settled where all, or none, of the possible whole numbers are among them."""
    low, high = cells.low, cells.high
    wide = sql.any_of(equals(cells, point) for point in points)
    first = f"(CEIL({low}) + CASE WHEN {cells.low_open} AND CEIL({low}) = {low} THEN 1 ELSE 0 END)"
    last = f"(FLOOR({high}) - CASE WHEN {cells.high_open} AND FLOOR({high}) = {high} THEN 1 ELSE 0 END)"
    whole = sorted({float(point) for point in points if float(point).is_integer()})
    hits = [f"CASE WHEN {sql.number(p)} BETWEEN {first} AND {last} THEN 1 ELSE 0 END" for p in whole]
    among = "(" + " + ".join(hits or ["0"]) + ")"
    return (
        f"CASE WHEN {low} IS NULL THEN NULL WHEN NOT ({high} - {low} <= {MOST_GRADES}) THEN {wide} "
        f"WHEN {among} = 0 THEN FALSE WHEN {among} = {last} - {first} + 1 THEN TRUE END"
    )


def _untidied(cells: Numbers) -> Primitives[str]:
    """Compare before rounding to twelve digits: rounding never changes an order, so the limit moves instead.

    ``tidy`` rises with its argument, so ``tidy(x) >= limit`` holds from one double on, which is found here.
    """
    return primitives(
        lambda limit: f"({cells.low} >= {sql.number(least_tidied(limit))})",
        lambda limit: f"({cells.low} < {sql.number(_least_above(limit))})",
    )


def least_tidied(limit: float) -> float:
    """The smallest double that rounds to at least ``limit`` at twelve significant digits."""
    return _first_double(lambda x: tidy(x) >= limit, limit)


def _least_above(limit: float) -> float:
    return _first_double(lambda x: tidy(x) > limit, limit)


def _first_double(holds: Callable[[float], bool], near: float) -> float:
    step = max(abs(near), 1e-9) * 1e-11
    low, high = near - step, near + step
    while holds(low):
        low -= step
    while not holds(high):
        high += step
    while math.nextafter(low, inf) < high:
        middle = low + (high - low) / 2
        if not low < middle < high:
            break
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def falling_test(cells: Falling, op: str, limits: Sequence[Any]) -> str:
    """Compare a value that falls as its date rises, by the days on which the comparison changes."""

    def first_below(limit: float, or_at: bool) -> int:
        """The first day on which the value is below ``limit`` (or at it)."""
        low, high = cells.first, cells.last + 1
        while low < high:
            middle = (low + high) // 2
            value = cells.value_on(middle)
            if value < limit or (or_at and value == limit):
                high = middle
            else:
                low = middle + 1
        return low

    day = cells.day
    met = compare_numbers(
        op,
        limits,
        primitives(
            lambda limit: f"({day} < {first_below(limit, False)})",
            lambda limit: f"({day} >= {first_below(limit, True)})",
        ),
    )
    return f"CASE WHEN {day} BETWEEN {cells.first} AND {cells.last} THEN {met} END"


def code_test(cells: Code | Mask | Flag, element: Element, op: str, limits: Sequence[Any]) -> str:
    """Compare a coded or yes-or-no value with codes."""
    codes, denied = codes_meant(element, op, limits)
    found = _one_of(cells, element, codes)
    return sql.negate(found) if denied else found


def _one_of(cells: Code | Mask | Flag, element: Element, allowed: frozenset[Any]) -> str:
    codes: tuple[Any, ...] = (True, False) if element.kind == "boolean" else element.codes
    inside = [code for code in codes if code in allowed]
    if isinstance(cells, Flag):
        if len(inside) == 1:
            return cells.truth if inside[0] is True else sql.negate(cells.truth)
        return f"CASE WHEN {cells.known} THEN {'TRUE' if inside else 'FALSE'} END"
    if isinstance(cells, Code):
        if not inside:
            return _never(cells.code)
        if len(inside) == 1:
            return f"({cells.code} = {sql.text(inside[0])})"
        others = [code for code in codes if code not in allowed]
        return f"({sql.place_among((*inside, *others), cells.code)} <= {len(inside)})"
    within = mask_of(codes, inside)
    beyond = mask_of(codes, [code for code in codes if code not in allowed])
    return (
        f"CASE WHEN ({cells.mask} & {beyond}) = 0 THEN TRUE WHEN ({cells.mask} & {within}) = 0 THEN FALSE END"
    )


def list_test(cells: CodeList, element: Element, op: str, limits: Sequence[Any]) -> str:
    """Whether a list of codes holds any of some, or is empty."""
    if op == "empty":
        return f"CASE WHEN {cells.certain} <> 0 THEN FALSE WHEN {cells.possible} = 0 THEN TRUE END"
    some = mask_of(element.codes, limits)
    return f"CASE WHEN ({cells.certain} & {some}) <> 0 THEN TRUE WHEN ({cells.possible} & {some}) = 0 THEN FALSE END"


def tally_test(certain: str, possible: str, op: str, limits: Sequence[Any]) -> str:
    """Compare a count that is a range while some conditions are unknown."""

    def settled(met: str, not_met: str) -> str:
        return f"CASE WHEN {met} THEN TRUE WHEN {not_met} THEN FALSE END"

    return compare_numbers(
        op,
        limits,
        primitives(
            lambda n: settled(f"{certain} >= {sql.number(n)}", f"{possible} < {sql.number(n)}"),
            lambda n: settled(f"{possible} <= {sql.number(n)}", f"{certain} > {sql.number(n)}"),
        ),
    )


def leaning(truth: str, leans: Truth, known: str) -> str:
    """A test of known values that counts as it leans where they are too imprecise to tell."""
    told = sql.TRUE if leans is Truth.MET else sql.FALSE
    return f"CASE WHEN ({truth}) IS NULL AND {known} THEN {told} ELSE {truth} END"


def span_test(span: Span, op: str, limits: Sequence[Any]) -> str:
    """A count that is the same for every case, compared once."""
    truth = comparison_of_numbers(op, limits)(span)
    return {"met": sql.TRUE, "not_met": sql.FALSE, "unknown": sql.UNKNOWN}[truth.value]
