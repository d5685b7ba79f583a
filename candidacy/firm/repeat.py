"""What a second measurement of one value may show, under a published standard error of measurement."""

from collections.abc import Iterable
from itertools import pairwise
from math import erf, isinf, sqrt
from statistics import NormalDist
from typing import NamedTuple

from candidacy.derive.arithmetic import tidy

_ROOT = sqrt(2.0)
# Steps of a scale are whole numbers or tenths; a value this near to one is on it.
_NEAR = 1e-9


class Scale(NamedTuple):
    """What can be recorded: from ``low`` to ``high``, in steps of ``step``; without a step every value between."""

    low: float | None = None
    high: float | None = None
    step: float | None = None


class Cell(NamedTuple):
    """Values of a repeat that no test tells apart: one of them, and the probability of them all."""

    value: float
    probability: float


def below(value: float, limit: float, deviation: float) -> float:
    """Probability that a normal error of this standard deviation leads from a value to below a limit.

    A deviation of 0 gives 0 or 1; the limit itself is not below it.
    """
    if isinf(limit):
        return 1.0 if limit > 0 else 0.0
    if deviation == 0:
        return 1.0 if value < limit else 0.0
    return 0.5 * (1.0 + erf((limit - value) / (deviation * _ROOT)))


def reaches(true: float, cut: float, sem: float) -> float:
    """Probability that one measurement of a true value is at or above a cut: normal error, no rounding.

    Another question than that of a repeat: here the true value is supposed, not a recorded one, so the error is that of
    one measurement. It is the model of the worked flips that are published with the errors.
    """
    return 1.0 - below(true, cut, sem)


def of_difference(sem: float) -> float:
    """Standard deviation of the difference between a recorded value and a repeat of it."""
    return sem * _ROOT


def on_steps(value: float, scale: Scale) -> bool:
    """Whether a value is one that the steps of a scale can record."""
    if scale.step is None or scale.low is None or scale.high is None:
        return False
    steps = (value - scale.low) / scale.step
    return abs(steps - round(steps)) < _NEAR


def repeats(value: float, sem: float, scale: Scale, cuts: Iterable[float] = ()) -> list[Cell]:
    """The values a repeat may show, each with its probability; together they make 1.

    Parameters
    ----------
    value
        The recorded value, in the unit of the element.
    sem
        Standard error of one measurement, 0 or more, in the same unit.
    scale
        A recorded value off the steps (a questionnaire with blanks) is taken as one of a scale without steps.
    cuts
        Limits that tests compare with, for a scale without steps: one cell lies between two of them.
    """
    deviation = of_difference(sem)
    if deviation == 0:
        return [Cell(value, 1.0)]
    if on_steps(value, scale):
        return _stepped(value, deviation, scale)
    return _between(value, deviation, scale, cuts)


def _stepped(value: float, deviation: float, scale: Scale) -> list[Cell]:
    assert scale.step is not None
    assert scale.low is not None
    assert scale.high is not None
    count = round((scale.high - scale.low) / scale.step)
    points = [tidy(scale.low + place * scale.step) for place in range(count + 1)]
    edges = [-float("inf"), *(point + scale.step / 2 for point in points[:-1]), float("inf")]
    shares = [below(value, edge, deviation) for edge in edges]
    return [Cell(point, shares[n + 1] - shares[n]) for n, point in enumerate(points)]


def _between(value: float, deviation: float, scale: Scale, cuts: Iterable[float]) -> list[Cell]:
    low = -float("inf") if scale.low is None else scale.low
    high = float("inf") if scale.high is None else scale.high
    inner = sorted({cut for cut in cuts if low < cut < high})
    edges = [low, *inner, high]
    cells = [Cell(low, below(value, low, deviation))] if not isinf(low) else []
    for start, end in pairwise(edges):
        share = below(value, end, deviation) - below(value, start, deviation)
        cells.append(Cell(_inside(start, end), share))
    if not isinf(high):
        cells.append(Cell(high, 1.0 - below(value, high, deviation)))
    return cells


def _inside(start: float, end: float) -> float:
    if isinf(start) and isinf(end):
        return 0.0
    if isinf(start):
        return end - 1.0
    return start + 1.0 if isinf(end) else (start + end) / 2


def drawn(value: float, sem: float, scale: Scale, point: float) -> float:
    """The repeat at a point between 0 and 1 of its distribution, for a scale without steps."""
    if sem == 0:
        return value
    found = NormalDist(value, of_difference(sem)).inv_cdf(point)
    if scale.low is not None:
        found = max(found, scale.low)
    return found if scale.high is None else min(found, scale.high)
