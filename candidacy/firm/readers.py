"""What a second reader may say of the same image, worked out from published agreement under stated assumptions.

No study prints how often one reader's grade meets each grade of another. What stands for such a table is a model: both
readers use the grades as often as the study printed, they agree as often as it printed (or as its kappa means with those
shares), and of ordered grades nine in ten disagreements are by one grade and one in ten by two, as two scales of
degeneration were found to disagree (446 discs). Kappa of every such table is that of the shares and the agreement.
"""

from collections.abc import Sequence
from functools import lru_cache

# Of disagreements, how many are one grade and how many two grades apart.
ONE_APART, TWO_APART = 0.9, 0.1
_ROUNDS = 300
_RESTS = 1e-4
# Rows of the first reader, columns of the second.
Joint = list[list[float]]


def normal_shares(shares: Sequence[float], other: Sequence[float] | None = None) -> list[float]:
    """Shares of the grades that sum to 1; of two readers, their mean. Printed ones may sum to 100.9 or to a count."""
    if other is not None:
        first, second = normal_shares(shares), normal_shares(other)
        return [(one + two) / 2 for one, two in zip(first, second, strict=True)]
    total = sum(shares)
    return [share / total for share in shares]


def by_chance(shares: Sequence[float]) -> float:
    """Share of identical readings that two readers with these shares reach by chance."""
    return sum(share * share for share in shares)


def kappa_of(exact: float, shares: Sequence[float]) -> float:
    """Kappa of a share of identical readings, both 0 to 1."""
    chance = by_chance(shares)
    return (exact - chance) / (1 - chance)


def exact_of(kappa: float, shares: Sequence[float]) -> float:
    """Share of identical readings that a kappa means with these shares."""
    return kappa + (1 - kappa) * by_chance(shares)


@lru_cache(maxsize=256)
def model(shares: tuple[float, ...], exact: float, *, ordered: bool) -> Joint:
    """How often each pair of grades of two readers occurs; rows and columns have the shares, the diagonal sums to ``exact``.

    Of grades without order, or where no table has disagreements so near, a disagreement lands on any other grade as often
    as that grade is used.
    """
    near = _near(shares, exact) if ordered and len(shares) > 2 else None
    if near is not None:
        return near
    kappa, count = kappa_of(exact, shares), len(shares)
    return [
        [(1 - kappa) * shares[i] * shares[j] + (kappa * shares[i] if i == j else 0.0) for j in range(count)]
        for i in range(count)
    ]


def _near(shares: Sequence[float], exact: float) -> Joint | None:
    """The table of ordered grades by balancing in turn; nothing where it does not come to rest."""
    count = len(shares)
    table = [[shares[i] * shares[j] if abs(i - j) <= 2 else 0.0 for j in range(count)] for i in range(count)]
    wanted = (exact, (1 - exact) * ONE_APART, (1 - exact) * TWO_APART)
    bands = [[(i, j) for i in range(count) for j in range(count) if abs(i - j) == n] for n in range(3)]
    for _ in range(_ROUNDS):
        for amount, places in zip(wanted, bands, strict=True):
            _scale(table, places, amount)
        for n, share in enumerate(shares):
            _scale(table, [(n, j) for j in range(count)], share)
        for n, share in enumerate(shares):
            _scale(table, [(i, n) for i in range(count)], share)
    agree = sum(table[n][n] for n in range(count))
    rows = all(abs(sum(row) - share) < _RESTS for row, share in zip(table, shares, strict=True))
    return table if rows and abs(agree - exact) < _RESTS else None


def _scale(table: Joint, places: Sequence[tuple[int, int]], amount: float) -> None:
    found = sum(table[i][j] for i, j in places)
    for i, j in places if found else ():
        table[i][j] *= amount / found


def second(joint: Joint, first: int) -> list[float]:
    """Probability of each grade of the second reader where the first read a grade."""
    total = sum(joint[first])
    return [cell / total for cell in joint[first]]
