"""Tests of one element as SQL truths; each says what the single-case comparison of the same name says."""

import math
from collections.abc import Callable, Sequence
from math import inf
from typing import Any

from candidacy.case.catalogue import Element
from candidacy.cohort.columns.fact_columns import Code, CodeList, Falling, Flag, Mask, Numbers, mask_of
from candidacy.cohort.engines import sqltext as sql
from candidacy.derive.arithmetic import tidy
from candidacy.foundation.errors import EngineError
from candidacy.foundation.values import Span

# More whole numbers than any grade or score has; a wider range is not spelled out (as in `evaluate`).
_MOST_GRADES = 1000


def number_test(cells: Numbers, op: str, limits: Sequence[float]) -> str:
    """Compare a number or date with limits."""
    if not cells.tidied:
        return _untidied(cells.low, op, limits)
    if cells.exact:
        return _exact(cells.low, op, limits)
    if op in ("one_of", "none_of"):
        found = _among(cells, limits)
        return found if op == "one_of" else sql.negate(found)
    return {
        "at_least": lambda: at_least(cells, limits[0]),
        "at_most": lambda: at_most(cells, limits[0]),
        "more_than": lambda: sql.negate(at_most(cells, limits[0])),
        "less_than": lambda: sql.negate(at_least(cells, limits[0])),
        "between": lambda: sql.all_of((at_least(cells, limits[0]), at_most(cells, limits[1]))),
        "is": lambda: equals(cells, limits[0]),
        "is_not": lambda: sql.negate(equals(cells, limits[0])),
    }[op]()


def _exact(low: str, op: str, limits: Sequence[float]) -> str:
    shown = [sql.number(limit) for limit in limits]
    if op in ("one_of", "none_of"):
        whole = [sql.number(limit) for limit in limits if float(limit).is_integer()]
        found = f"({low} IN ({', '.join(whole)}))" if whole else _never(low)
        return found if op == "one_of" else sql.negate(found)
    if op == "between":
        return f"({low} >= {shown[0]} AND {low} <= {shown[1]})"
    sign = {"at_least": ">=", "at_most": "<=", "more_than": ">", "less_than": "<", "is": "=", "is_not": "<>"}
    return f"({low} {sign[op]} {shown[0]})"


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
        f"CASE WHEN {low} IS NULL THEN NULL WHEN NOT ({high} - {low} <= {_MOST_GRADES}) THEN {wide} "
        f"WHEN {among} = 0 THEN FALSE WHEN {among} = {last} - {first} + 1 THEN TRUE END"
    )


def _untidied(low: str, op: str, limits: Sequence[float]) -> str:
    """Compare before rounding to twelve digits: rounding never changes an order, so the limit moves instead.

    ``tidy`` rises with its argument, so ``tidy(x) >= limit`` holds from one double on, which is found here.
    """
    if op in ("one_of", "none_of", "is", "is_not"):
        found = sql.any_of(
            f"({low} >= {sql.number(least_tidied(point))} AND {low} < {sql.number(_least_above(point))})"
            for point in limits
        )
        return found if op in ("one_of", "is") else sql.negate(found)
    from_ = sql.number(least_tidied(limits[0]))
    above = sql.number(_least_above(limits[-1]))
    return {
        "at_least": f"({low} >= {from_})",
        "less_than": f"({low} < {from_})",
        "at_most": f"({low} < {above})",
        "more_than": f"({low} >= {above})",
        "between": f"({low} >= {from_} AND {low} < {above})",
    }[op]


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


def falling_test(cells: Falling, op: str, limits: Sequence[float]) -> str:
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
    at_most_from = first_below(limits[-1], True)
    less_from = first_below(limits[0], False)
    inside = f"{day} BETWEEN {cells.first} AND {cells.last}"
    met = {
        "at_least": f"{day} < {less_from}",
        "more_than": f"{day} < {at_most_from}",
        "at_most": f"{day} >= {at_most_from}",
        "less_than": f"{day} >= {less_from}",
        "between": f"{day} < {less_from} AND {day} >= {at_most_from}",
        "is": f"{day} < {less_from} AND {day} >= {at_most_from}",
        "is_not": f"NOT ({day} < {less_from} AND {day} >= {at_most_from})",
    }.get(op)
    if met is None:
        raise EngineError(f"{op} does not suit a value read through a date")
    return f"CASE WHEN {inside} THEN {met} END"


def code_test(cells: Code | Mask | Flag, element: Element, op: str, limits: Sequence[Any]) -> str:
    """Compare a coded or yes-or-no value with codes."""
    allowed = allowed_codes(element, op, limits)
    found = _one_of(cells, element, allowed)
    return sql.negate(found) if op in ("is_not", "none_of") else found


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
        return f"({cells.code} IN ({', '.join(sql.text(code) for code in inside)}))"
    within = mask_of(codes, inside)
    beyond = mask_of(codes, [code for code in codes if code not in allowed])
    return (
        f"CASE WHEN ({cells.mask} & {beyond}) = 0 THEN TRUE WHEN ({cells.mask} & {within}) = 0 THEN FALSE END"
    )


def allowed_codes(element: Element, op: str, limits: Sequence[Any]) -> frozenset[Any]:
    """The codes for which a test is met; comparisons follow the order of the element."""
    if op in ("is", "is_not", "one_of", "none_of"):
        return frozenset(limits)
    codes = element.codes
    places = [codes.index(limit) for limit in limits]
    low, high = {
        "at_least": (places[0], len(codes)),
        "more_than": (places[0] + 1, len(codes)),
        "at_most": (0, places[0] + 1),
        "less_than": (0, places[0]),
        "between": (places[0], places[-1] + 1),
    }[op]
    return frozenset(codes[low:high])


def list_test(cells: CodeList, element: Element, op: str, limits: Sequence[Any]) -> str:
    """Whether a list of codes holds any of some, or is empty."""
    if op == "empty":
        return f"CASE WHEN {cells.certain} <> 0 THEN FALSE WHEN {cells.possible} = 0 THEN TRUE END"
    some = mask_of(element.codes, limits)
    return f"CASE WHEN ({cells.certain} & {some}) <> 0 THEN TRUE WHEN ({cells.possible} & {some}) = 0 THEN FALSE END"


def tally_test(certain: str, possible: str, op: str, limits: Sequence[float]) -> str:
    """Compare a count that is a range while some conditions are unknown."""
    shown = [sql.number(limit) for limit in limits]
    least = {
        "at_least": (f"{certain} >= {shown[0]}", f"{possible} < {shown[0]}"),
        "at_most": (f"{possible} <= {shown[0]}", f"{certain} > {shown[0]}"),
        "less_than": (f"{possible} < {shown[0]}", f"{certain} >= {shown[0]}"),
        "more_than": (f"{certain} > {shown[0]}", f"{possible} <= {shown[0]}"),
        "between": (
            f"{certain} >= {shown[0]} AND {possible} <= {shown[-1]}",
            f"{possible} < {shown[0]} OR {certain} > {shown[-1]}",
        ),
        "is": (
            f"{certain} = {shown[0]} AND {possible} = {shown[0]}",
            f"{possible} < {shown[0]} OR {certain} > {shown[0]}",
        ),
    }
    met, not_met = least[op]
    return f"CASE WHEN {met} THEN TRUE WHEN {not_met} THEN FALSE END"


def span_test(span: Span, op: str, limits: Sequence[float]) -> str:
    """A count that is the same for every case, compared once."""
    truth = {
        "at_least": lambda: span.at_least(limits[0]),
        "at_most": lambda: span.at_most(limits[0]),
        "more_than": lambda: span.more_than(limits[0]),
        "less_than": lambda: span.less_than(limits[0]),
        "between": lambda: span.between(limits[0], limits[-1]),
        "is": lambda: span.equals(limits[0]),
    }[op]()
    return {"met": sql.TRUE, "not_met": sql.FALSE, "unknown": sql.UNKNOWN}[truth.value]
