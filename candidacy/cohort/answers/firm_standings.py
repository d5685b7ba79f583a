"""How many cases of a cohort stand within measurement error of another standing, case by case."""

import random
from collections.abc import Callable, Mapping
from typing import Any

from candidacy.assessment.assess import Assessment
from candidacy.firm.firmness import firmness
from candidacy.rules.vocabulary import STANDINGS


def within_error(
    standings: Mapping[str, str], open_case: Callable[[str], Assessment], sample: int, seed: int, limit: float
) -> list[dict[str, Any]]:
    """A row for each standing: its cases, how many were asked, for how many a figure can be told, and how many would move.

    Each case that is asked is assessed by itself, so its figure is that of the single case.

    Raises
    ------
    ValueError
        For a sample below 1, or a limit outside 0 to 1.
    """
    if sample < 1:
        raise ValueError(f"a sample of {sample} cases: at least 1 is needed")
    if not 0 <= limit <= 1:
        raise ValueError(f"a limit of {limit}: a share from 0 to 1 is needed")
    asked = list(standings)
    if len(asked) > sample:
        asked = sorted(random.Random(seed).sample(asked, sample))
    rows: dict[str, dict[str, Any]] = {
        name: {"standing": name, "cases": 0, "asked": 0, "told": 0, "moving": 0} for name in STANDINGS
    }
    for standing in standings.values():
        rows[standing]["cases"] += 1
    for case in asked:
        row, found = rows[standings[case]], firmness(open_case(case)).case
        row["asked"] += 1
        if found.crosses is not None:
            row["told"] += 1
            row["moving"] += found.crosses > limit
    for row in rows.values():
        row["share"] = row["moving"] / row["told"] if row["told"] else None
    return list(rows.values())
