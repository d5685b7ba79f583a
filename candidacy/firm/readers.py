"""What a second reader may say of the same image, worked out from published agreement under stated assumptions.

No study prints how often one reader's grade meets each grade of another. What stands for such a table is a model: both
readers use the grades as often as the study printed, they agree as often as it printed (or as its kappa means with those
shares), and of ordered grades nine in ten disagreements are by one grade and one in ten by two, as two scales of
degeneration were found to disagree (446 discs). Kappa of every such table is that of the shares and the agreement.
"""

from collections.abc import Sequence

# Of disagreements, how many are one grade and how many two grades apart.
ONE_APART, TWO_APART = 0.9, 0.1
_ROUNDS = 500
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


def model(shares: Sequence[float], exact: float, *, ordered: bool) -> Joint:
    """How often each pair of grades of two readers occurs; rows and columns have the shares, the diagonal sums to ``exact``.

    Of grades without order, a disagreement lands on another grade as often as that grade is used.
    """
    count = len(shares)
    table = [[_weight(i, j, ordered) * shares[i] * shares[j] for j in range(count)] for i in range(count)]
    bands: list[tuple[float, list[tuple[int, int]]]] = [(exact, [(i, i) for i in range(count)])]
    cells = [(i, j) for i in range(count) for j in range(count) if table[i][j] > 0 and i != j]
    if ordered and count > 2:
        bands.append(((1 - exact) * ONE_APART, [(i, j) for i, j in cells if abs(i - j) == 1]))
        bands.append(((1 - exact) * TWO_APART, [(i, j) for i, j in cells if abs(i - j) == 2]))
    else:
        bands.append((1 - exact, cells))
    for _ in range(_ROUNDS):
        for wanted, places in bands:
            found = sum(table[i][j] for i, j in places)
            for i, j in places if found else ():
                table[i][j] *= wanted / found
        for i, share in enumerate(shares):
            found = sum(table[i])
            table[i] = [cell * share / found if found else 0.0 for cell in table[i]]
        for j, share in enumerate(shares):
            found = sum(row[j] for row in table)
            for row in table if found else ():
                row[j] *= share / found
    return table


def _weight(i: int, j: int, ordered: bool) -> float:
    return 1.0 if not ordered or abs(i - j) <= 2 else 0.0


def second(joint: Joint, first: int) -> list[float]:
    """Probability of each grade of the second reader where the first read a grade."""
    total = sum(joint[first])
    return [cell / total for cell in joint[first]]
