"""Every standing a case may still come to, from the outcomes that are known and the number that are open in each force.

The case's own outcomes and the standings of its discs are taken together; an open outcome may end in pass or fail, or stay
open, and a conflict of the record may be settled either way. Which of them occur is all that a decision rule can tell apart.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import combinations, product

from candidacy.engine.decision import Ground, PossibleStandings, Standings
from candidacy.rules.decision_order import DecisionOrder
from candidacy.rules.vocabulary import OUTCOMES, Standing

# What occurs in a subject: known (force, outcome) pairs, and how many are open by force.
Occurring = tuple[frozenset[tuple[str, str]], frozenset[tuple[str, int]]]


def occurring(counts: "Counter[tuple[str, str]]", forces: frozenset[str]) -> Occurring:
    """What of some outcomes can matter to decision rules that name these forces; more than three open ones are as three."""
    known = frozenset(key for key, number in counts.items() if number > 0 and key[1] != "undetermined")
    unknown = frozenset(
        (force, min(number, len(OUTCOMES)))
        for (force, outcome), number in counts.items()
        if outcome == "undetermined" and number > 0 and force in forces
    )
    return known, unknown


class Possible:
    """The possible standings of discs and of a case under one order of decision rules, each worked out once."""

    def __init__(self, order: DecisionOrder) -> None:
        self._standings = Standings(order)
        self._of_discs = PossibleStandings(order)
        self.forces: frozenset[str] = frozenset(str(force) for force in self._standings.forces)
        self._wanted = tuple(
            dict.fromkeys(str(p.any_disc) for rule in order.rules for p in rule.when if p.any_disc)
        )
        self._discs: dict[Occurring, frozenset[Standing]] = {}
        self._cases: dict[tuple[Occurring, tuple[tuple[bool, bool], ...]], frozenset[Standing]] = {}

    def now(self, what: Occurring, discs: Iterable[str] = ()) -> Standing:
        """The standing as it is now, with what is open left open."""
        known, unknown = what
        return self._standings.of(known | {(force, "undetermined") for force, _ in unknown}, frozenset(discs))

    def of_disc(self, what: Occurring) -> frozenset[Standing]:
        """The standings a disc may come to."""
        found = self._discs.get(what)
        if found is None:
            known, unknown = what
            grounds = [Ground("", force, outcome) for force, outcome in known]
            grounds += [Ground("", force, "undetermined") for force, number in unknown for _ in range(number)]
            found = self._discs[what] = self._of_discs.of(grounds)
        return found

    def of_case(self, what: Occurring, discs: Iterable[frozenset[Standing]]) -> frozenset[Standing]:
        """The standings a case may come to, where its discs may come to these."""
        options = list(discs)
        sure = tuple(
            (any(some == {wanted} for some in options), any(wanted in some for some in options))
            for wanted in self._wanted
        )
        key = what, sure
        found = self._cases.get(key)
        if found is None:
            found = self._cases[key] = frozenset(self._ends(*what, sure))
        return found

    def _ends(
        self,
        known: frozenset[tuple[str, str]],
        unknown: frozenset[tuple[str, int]],
        sure: tuple[tuple[bool, bool], ...],
    ) -> Iterator[Standing]:
        conflict = {pair for pair in known if pair[1] == "conflict"}
        mixtures = [
            [
                {(force, o) for o in some}
                for size in range(1, number + 1)
                for some in combinations(OUTCOMES, size)
            ]
            for force, number in sorted(unknown)
        ]
        discs = [
            [s for s in ({wanted}, set[str]()) if (may if s else not certain)]
            for wanted, (certain, may) in zip(self._wanted, sure, strict=True)
        ]
        for record in [known, known - conflict] if conflict else [known]:
            for chosen in product(*mixtures):
                for some in product(*discs):
                    yield self._standings.of(record.union(*chosen), frozenset().union(*some))
