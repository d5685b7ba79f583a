"""Ratings on the 1 to 9 scale of the RAND/UCLA appropriateness method: median, thirds, and disagreement by published rules.

Every figure below names where it is from. Nothing is made of a rating but these figures: no class, no advice.
"""

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from msgspec import Struct

SCALE = "1 to 3 inappropriate, 4 to 6 uncertain, 7 to 9 appropriate; cost left out"
SCALE_SOURCE = "BMJ Open 2012;2:e001431 [seen]; definition: a page that reprints the manual's [seen]"
# Panel size -> fewest ratings in 1-3 and also in 7-9 that are disagreement: BMC Med Inform Decis Mak 2012;12:93, table 7 [seen].
BY_SIZE = {(8, 10): 3, (11, 13): 4, (14, 16): 5}
BY_SIZE_SOURCE = "BMC Med Inform Decis Mak 2012;12:93, table 7 [seen]"
SHORT_SOURCE = "a consensus project's page on the method [seen]"
# Fewest ratings for any figure beside median and counts: the method is described for 7 to 15 members [memory].
LEAST = 7
# IPRAS = 2.35 + 1.5 x asymmetry: BMJ Open 2012;2:e001431 [seen]. It prints 2.5 where only 2.35 gives its own example [memory].
IPRAS_BASE, IPRAS_SLOPE, CENTRE = Fraction(235, 100), Fraction(3, 2), Fraction(5)
IPRAS_SOURCE = "BMJ Open 2012;2:e001431, table 1 [seen]; 2.35 [memory], which its example confirms"
_P30, _P70 = Fraction(3, 10), Fraction(7, 10)
Percentiles = Literal["linear", "n_plus_1"]
PERCENTILES: dict[Percentiles, str] = {"linear": "linear between ranks", "n_plus_1": "(n + 1) ranks"}


class Verdict(Struct, frozen=True):
    """What one published rule says of disagreement.

    Attributes
    ----------
    disagreement
        ``None`` where the rule gives no answer.
    words
        The rule with the figures that were put into it.
    source
        Where the rule is from, with its tag.
    """

    disagreement: bool | None
    words: str
    source: str

    @property
    def answer(self) -> str:
        """``yes``, ``no``, or ``no answer``."""
        return "no answer" if self.disagreement is None else "yes" if self.disagreement else "no"


class Spread(Struct, frozen=True):
    """The range between the 30th and 70th percentile and what it is compared with, by one way of taking percentiles."""

    ipr: Fraction
    ipras: Fraction

    @property
    def disagreement(self) -> bool:
        """Whether the range is wider than the one adjusted for symmetry."""
        return self.ipr > self.ipras


class Tally(Struct, frozen=True):
    """Ratings of one question in one round, without who gave them.

    Attributes
    ----------
    values
        In rising order.
    median
        Between two ratings where their number is even.
    thirds
        How many are in 1-3, in 4-6 and in 7-9.
    verdicts
        By panel size, and by IPR against IPRAS; one that says why, where they are too few for either.
    """

    values: tuple[int, ...]
    median: Fraction
    thirds: tuple[int, int, int]
    verdicts: tuple[Verdict, ...]

    @property
    def counts(self) -> tuple[int, ...]:
        """How many gave 1, 2 and so on to 9."""
        return tuple(self.values.count(value) for value in range(1, 10))


def tally(values: Sequence[int]) -> Tally:
    """Count ratings.

    Parameters
    ----------
    values
        One whole number from 1 to 9 for each member who rated.

    Raises
    ------
    ValueError
        If there is none, or one is not on the scale.

    Examples
    --------
    >>> found = tally([4, 5, 6, 7, 7, 7, 7, 7, 8, 8, 8, 8, 8, 9, 9])
    >>> float(found.median), found.thirds, [verdict.answer for verdict in found.verdicts]
    (7.0, (0, 3, 12), ['no', 'no'])
    """
    if not values or any(isinstance(v, bool) or not isinstance(v, int) or not 1 <= v <= 9 for v in values):
        raise ValueError(f"ratings are one or more whole numbers from 1 to 9, not {list(values)}")
    ordered = tuple(sorted(values))
    middle = len(ordered) // 2
    odd = len(ordered) % 2
    median = Fraction(ordered[middle]) if odd else Fraction(ordered[middle - 1] + ordered[middle], 2)
    thirds = (sum(v <= 3 for v in ordered), sum(4 <= v <= 6 for v in ordered), sum(v >= 7 for v in ordered))
    if len(ordered) < LEAST:
        return Tally(ordered, median, thirds, (_too_few(len(ordered)),))
    return Tally(ordered, median, thirds, (_by_size(len(ordered), thirds), _by_spread(ordered)))


def spread(values: Sequence[int], rule: Percentiles) -> Spread:
    """IPR and IPRAS of ratings, by one of two usual ways of taking percentiles; the method fixes none of them."""
    ordered = sorted(values)
    low, high = _percentile(ordered, _P30, rule), _percentile(ordered, _P70, rule)
    asymmetry = abs(CENTRE - (low + high) / 2)
    return Spread(high - low, IPRAS_BASE + IPRAS_SLOPE * asymmetry)


def figure(number: Fraction) -> str:
    """A figure with as many decimals as it needs, three at most."""
    return f"{round(float(number), 3):g}"


def _percentile(ordered: Sequence[int], share: Fraction, rule: Percentiles) -> Fraction:
    count = len(ordered)
    place = share * (count - 1) if rule == "linear" else share * (count + 1) - 1
    place = min(max(place, Fraction(0)), Fraction(count - 1))
    below = int(place)
    above = min(below + 1, count - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def _by_size(count: int, thirds: tuple[int, int, int]) -> Verdict:
    low, _, high = thirds
    found = f"{low} in 1-3 and {high} in 7-9"
    for (least, most), needed in BY_SIZE.items():
        if least <= count <= most:
            words = f"By panel size ({count} ratings: at least {needed} in 1-3 and at least {needed} in 7-9): {found}"
            return Verdict(min(low, high) >= needed, words, BY_SIZE_SOURCE)
    words = (
        f"By thirds (no row for {count} ratings: at least a third of them in 1-3 and a third in 7-9): {found}"
    )
    return Verdict(3 * min(low, high) >= count, words, SHORT_SOURCE)


def _by_spread(ordered: Sequence[int]) -> Verdict:
    spreads: dict[Percentiles, Spread] = {rule: spread(ordered, rule) for rule in PERCENTILES}
    told = "; ".join(f"{figure(each.ipr)} against {figure(each.ipras)}, percentiles {PERCENTILES[rule]}"
                     for rule, each in spreads.items())  # fmt: skip
    answers = {each.disagreement for each in spreads.values()}
    words = f"By IPR wider than IPRAS: {told}"
    if len(answers) > 1:
        return Verdict(
            None,
            f"{words}. The two ways of taking percentiles differ, and the method fixes none",
            IPRAS_SOURCE,
        )
    return Verdict(answers.pop(), words, IPRAS_SOURCE)


def _too_few(count: int) -> Verdict:
    words = f"No rule is applied to {count} rating{'s' * (count != 1)}: the method is described for panels of {LEAST} to 15"
    return Verdict(None, words, "as recalled [memory]")
