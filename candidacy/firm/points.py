"""Points that fill the unit cube evenly, shifted at random: quasi-Monte-Carlo of a few lines.

Halton's points with random shifts, written out here: Sobol's need tables or scipy, which would be loaded for a score of
lines, and no more than a score of values is ever repeated at once. The shifts come from a seed, so equal questions get
equal bytes; the spread between shifts is the error of the figure.
"""

import random
from collections.abc import Callable, Iterator
from functools import lru_cache
from math import sqrt
from typing import NamedTuple

POINTS, SHIFTS = 256, 8


class Estimate(NamedTuple):
    """A probability, and its standard error; the error of an exact one is 0."""

    value: float
    error: float = 0.0


def estimate(dimensions: int, holds: Callable[[tuple[float, ...]], float], seed: int) -> Estimate:
    """The mean of a function over the unit cube, with its standard error from the random shifts.

    Parameters
    ----------
    holds
        A function of a point; each of its coordinates lies between 0 and 1, both left out.
    """
    means = []
    for shift in shifts(dimensions, seed):
        total = sum(holds(_shifted(point, shift)) for point in halton(dimensions))
        means.append(total / POINTS)
    mean = sum(means) / SHIFTS
    variance = sum((each - mean) ** 2 for each in means) / (SHIFTS - 1)
    return Estimate(mean, sqrt(variance / SHIFTS))


def shifts(dimensions: int, seed: int) -> Iterator[tuple[float, ...]]:
    """The random shifts of a seed."""
    dice = random.Random(seed)
    for _ in range(SHIFTS):
        yield tuple(dice.random() for _ in range(dimensions))


@lru_cache(maxsize=64)
def halton(dimensions: int) -> tuple[tuple[float, ...], ...]:
    """Halton's points, the first of them left out, which is the corner."""
    bases = _primes(dimensions)
    return tuple(tuple(_radical(number, base) for base in bases) for number in range(1, POINTS + 1))


def _shifted(point: tuple[float, ...], shift: tuple[float, ...]) -> tuple[float, ...]:
    # never 0 or 1, where a normal distribution has no value
    return tuple(min(max((a + b) % 1.0, 1e-12), 1 - 1e-12) for a, b in zip(point, shift, strict=True))


def _radical(number: int, base: int) -> float:
    found, part = 0.0, 1.0
    while number:
        part /= base
        number, digit = divmod(number, base)
        found += digit * part
    return found


def _primes(count: int) -> tuple[int, ...]:
    found: list[int] = []
    candidate = 2
    while len(found) < count:
        if all(candidate % prime for prime in found):
            found.append(candidate)
        candidate += 1
    return tuple(found)
