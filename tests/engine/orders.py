"""Generated outcome sets and orders of decision rules, for holding the two chainers against each other."""

from random import Random
from typing import get_args

from candidacy.engine.decision import Ground
from candidacy.rules.cited import Citation
from candidacy.rules.decision_order import DecisionOrder, DecisionPattern, DecisionRule
from candidacy.rules.vocabulary import Force, Outcome, Standing

FORCES, OUTCOMES, STANDINGS = get_args(Force), get_args(Outcome), get_args(Standing)
LEVELS = ("L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1")
CITE = (Citation(source="test_rules", supports="use", tag="local"),)


def random_grounds(rng: Random, most: int = 40) -> list[Ground]:
    """Outcomes of up to ``most`` criteria; some sets mostly pass, so that late rules decide too."""
    passing = rng.choice((0, 0.5, 0.9, 1))
    return [
        Ground(
            f"criterion_{n}", rng.choice(FORCES), "pass" if rng.random() < passing else rng.choice(OUTCOMES)
        )
        for n in range(rng.randint(0, most))
    ]


def random_discs(rng: Random) -> dict[str, str]:
    return {level: rng.choice(STANDINGS) for level in LEVELS if rng.random() < 0.4}


def random_order(rng: Random, number: int) -> DecisionOrder:
    """An order of up to eight rules of any patterns, the last one for the rest; now and then one hides others."""
    rules = []
    for place in range(rng.randint(0, 7)):
        patterns = [
            DecisionPattern(any_disc=rng.choice(STANDINGS))
            if rng.random() < 0.25
            else DecisionPattern(force=rng.choice(FORCES), outcome=rng.choice(OUTCOMES))
            for _ in range(rng.choice((1, 1, 2, 3)) if rng.random() > 0.05 else 0)
        ]
        rules.append(_rule(f"rule_{place}", rng.choice(STANDINGS), tuple(patterns)))
    rules.append(_rule("rest_of_all", rng.choice(STANDINGS), ()))
    return DecisionOrder(id=f"order_{number}", version="0.1.0", title="Test", why="Test.", rules=tuple(rules))


def _rule(identifier: str, standing: Standing, when: tuple[DecisionPattern, ...]) -> DecisionRule:
    return DecisionRule(
        id=identifier, standing=standing, when=when, means="Test.", next_step="Test.", cites=CITE
    )
