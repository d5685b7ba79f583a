"""A running check against an expected rate: CUSUM with its limit, observed less expected, and funnel limits.

A signal says that somebody should look. It never says that something must stop, nor that anything was shown to be unsafe.
"""

from collections.abc import Sequence
from math import log
from typing import NamedTuple

from msgspec import Struct

RUNS = 20_000
SEED = 20261128


def weight(happened: bool, expected: float, ratio: float) -> float:
    """What one patient adds: ``y log R - log(1 - p + R p)`` [source: Steiner 2000, Biostatistics 1:441].

    Parameters
    ----------
    expected
        Expected probability p, between 0 and 1.
    ratio
        Odds ratio R to detect: 2 where odds have doubled, 0.5 where they have halved.
    """
    return happened * log(ratio) - log(1 - expected + ratio * expected)


class Run(Struct, frozen=True):
    """A CUSUM over patients in the order of their injections.

    Attributes
    ----------
    line
        The sum after each patient; it never falls below 0.
    excess
        Observed less expected events after each patient; it has no limits of its own.
    limit
        Height at which the sum asks for a look.
    signals
        Numbers, from 1, of patients at which the sum reached the limit; it starts again from 0 after each.
    """

    line: tuple[float, ...]
    excess: tuple[float, ...]
    limit: float
    signals: tuple[int, ...]


def cusum(happened: Sequence[bool], expected: float, ratio: float, limit: float) -> Run:
    """Run over patients in order; `weight` says what each adds.

    Raises
    ------
    ValueError
        If the expected probability is not between 0 and 1, or the ratio is 1 or not positive.
    """
    if not 0 < expected < 1 or ratio <= 0 or ratio == 1:
        raise ValueError("an expected probability between 0 and 1, and a ratio other than 1, are needed")
    line: list[float] = []
    excess: list[float] = []
    signals: list[int] = []
    height, difference = 0.0, 0.0
    for number, each in enumerate(happened, 1):
        height = max(0.0, height + weight(each, expected, ratio))
        difference += each - expected
        line.append(height)
        excess.append(difference)
        if height >= limit:
            signals.append(number)
            height = 0.0
    return Run(tuple(line), tuple(excess), limit, tuple(signals))


def limit_for(expected: float, ratio: float, patients: int, false_alarms: float) -> float:
    """The lowest limit, to two decimals, that at most a share of runs reaches by chance within so many patients.

    ``RUNS`` runs of that many patients are made up at the expected rate from a fixed seed.

    Parameters
    ----------
    patients
        Length of a run.
    false_alarms
        Share of runs, between 0 and 1, that may reach the limit though nothing has changed.
    """
    import numpy as np

    dice = np.random.default_rng(SEED)
    yes, no = weight(True, expected, ratio), weight(False, expected, ratio)
    height, highest = np.zeros(RUNS), np.zeros(RUNS)
    for _ in range(patients):
        height = np.maximum(0.0, height + np.where(dice.random(RUNS) < expected, yes, no))
        highest = np.maximum(highest, height)
    allowed = int(false_alarms * RUNS)
    beyond = np.sort(highest)[RUNS - allowed - 1]  # the highest that must stay below the limit
    return float(np.floor(beyond * 100 + 1) / 100)


class Funnel(NamedTuple):
    """Numbers of events, of so many patients, between which chance alone leaves a group at the expected rate."""

    low: int
    alert: int
    alarm: int


def funnel(of: int, expected: float) -> Funnel:
    """Exact binomial quantiles 2.5 %, 97.5 % and 99.9 % [source: Spiegelhalter 2002; alarm level memory]."""
    from scipy.stats import binom

    low, alert, alarm = (int(binom.ppf(q, of, expected)) for q in (0.025, 0.975, 0.999))
    return Funnel(low, alert, alarm)


def tail(count: int, of: int, expected: float, upper: bool) -> float:
    """Probability of so many events or more (``upper``), or so many or fewer, by chance at the expected rate."""
    from scipy.stats import binom

    return float(binom.sf(count - 1, of, expected) if upper else binom.cdf(count, of, expected))
