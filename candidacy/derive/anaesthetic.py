"""How much of the highest dose of local anaesthetics a plan uses. Maxima hold for healthy adults."""

from collections.abc import Mapping
from math import inf
from typing import Any

from candidacy.derive.arithmetic import corners, hull, total
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why

# 1 % is 1 g in 100 mL, which is 10 mg in 1 mL: by definition, and so printed on labels.
_MG_PER_ML_AND_PERCENT = 10


@derives("local_anaesthetic_load")
def local_anaesthetic_load(inputs: Inputs) -> Span | None:
    """Sum over the planned agents of dose divided by limit; no unit, 1 is the limit.

    Dose in mg is 10 x strength in percent x volume in mL; the limit is the smaller of mg/kg x weight and the cap (table
    ``local_anaesthetic_limits``; settings ``local_anaesthetic_limit`` and ``local_anaesthetic_weight``).
    Unknown epinephrine or an unknown strength, volume or agent leaves only what is certain. Not given for
    an agent without a limit in the table.

    Source: label (``lidocaine_label``) and the other sources of the table; adding shares is common practice.
    """
    planned = inputs.members("planned_local_anaesthetics")
    weight = dosing_weight(inputs)
    if planned is None:
        return None
    if "other" in planned.certain:
        raise Underivable(Why.DOES_NOT_APPLY, "no limit is on record for one of the planned agents")
    if weight is None:
        return None
    rows = inputs.table("local_anaesthetic_limits").values()
    column = inputs.setting("local_anaesthetic_limit")
    shares = []
    for agent in sorted({str(row["agent"]) for row in rows}):
        used = planned.contains(agent)
        if used is Truth.NOT_MET:
            continue
        share = _share(inputs, agent, [row for row in rows if row["agent"] == agent], column, weight)
        shares.append(Span(0, inf) if share is None else share if used is Truth.MET else _perhaps(share))
    if planned.contains("other") is not Truth.NOT_MET:
        shares.append(Span(0, inf))
    load = total(shares)
    return None if load.low == 0 and load.high == inf else load


def dose_mg(strength: Span, volume: Span) -> Span:
    """Milligrams in a volume (mL) of a solution of a strength (percent).

    Source: definition of percent strength; label (``lidocaine_label``).
    """
    return corners(lambda percent, ml: _MG_PER_ML_AND_PERCENT * percent * ml, strength, volume)


def volume_ml(dose: float, strength: float) -> float:
    """Millilitres of a solution of a strength (percent) that hold so many milligrams.

    Source: definition of percent strength; label (``lidocaine_label``).

    Examples
    --------
    >>> volume_ml(300, 1), volume_ml(300, 2)
    (30.0, 15.0)
    """
    return dose / (_MG_PER_ML_AND_PERCENT * strength)


def limit_mg(row: Mapping[str, Any], column: str, weight: Span) -> Span:
    """Highest dose in mg for a weight in kg: the smaller of mg/kg x weight and the cap.

    Parameters
    ----------
    row
        A row of the table ``local_anaesthetic_limits``.
    column
        ``usual`` or ``cautious``.
    """
    cap = inf if row["cap"] is None else row["cap"]
    limit = corners(lambda kg: min(row[column] * kg, cap), weight)
    return Span(limit.low, limit.high)  # closed: beyond the cap several weights share a limit


def dosing_weight(inputs: Inputs) -> Span | None:
    """Weight in kg on which a limit is worked out: actual, or the lower of actual and ideal.

    Ideal weight is height in cm minus a constant by sex (table ``ideal_weight``).

    Source: ``local_anaesthetic_digest``, a secondary page.
    """
    actual = inputs.span("body_weight")
    if actual is None or inputs.setting("local_anaesthetic_weight") == "actual":
        return actual
    height, sex = inputs.span("body_height"), inputs.options("sex")
    if height is None:
        return None
    rows = inputs.table("ideal_weight")
    codes = set(rows) if sex is None else {str(code) for code in sex.codes}
    constants = [rows[code]["subtract"] for code in sorted(codes)]
    ideal = hull(Span(height.low - constant, height.high - constant) for constant in constants)
    if ideal is None or ideal.low <= 0:
        return None
    return Span(min(actual.low, ideal.low), min(actual.high, ideal.high))


def _share(
    inputs: Inputs, agent: str, rows: list[Mapping[str, Any]], column: str, weight: Span
) -> Span | None:
    strength = inputs.span(f"planned_{agent}_strength")
    volume = inputs.span(f"planned_{agent}_volume")
    if volume is not None and volume.high == 0:
        return Span(0, 0)
    if strength is None or volume is None:
        return None
    added = inputs.options(f"planned_{agent}_with_epinephrine")
    possible = {True, False} if added is None else added.codes
    limit = hull(limit_mg(row, column, weight) for row in rows if row["epinephrine"] in possible)
    if limit is None:
        return None
    return corners(lambda dose, most: dose / most, dose_mg(strength, volume), limit)


def _perhaps(share: Span) -> Span:
    return Span(0, share.high)
