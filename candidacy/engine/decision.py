"""What goes into a chainer and what comes out, and the direct chainer itself.

The direct chainer is the oracle for the other one in tests, and serves where durable-rules cannot be
imported. Both get only closed words: ids, forces, outcomes, standings.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from itertools import combinations, product
from typing import NamedTuple, Protocol

from msgspec import Struct

from candidacy.foundation.errors import EngineError
from candidacy.rules.decision_order import DecisionOrder, DecisionRule
from candidacy.rules.vocabulary import OUTCOMES, Standing


class Ground(Struct, frozen=True, gc=False):
    """Outcome of one criterion, as a chainer sees it."""

    criterion: str
    force: str
    outcome: str


class Fired(NamedTuple):
    """A decision rule that fired, and the criteria (or discs) that made it fire."""

    rule: str
    because: tuple[str, ...]


class Decision(NamedTuple):
    """A standing, the rule that decided it, and every rule that fired, in the declared order."""

    standing: Standing
    rule: str
    fired: tuple[Fired, ...]


class Chainer(Protocol):
    """Carries outcomes to a standing by the declared decision rules."""

    name: str

    def decide(self, grounds: Sequence[Ground], discs: Mapping[str, str]) -> Decision: ...


class Asked(NamedTuple):
    """A decision rule and what it asks for: outcomes of a force, and standings of any disc."""

    rule: DecisionRule
    outcomes: frozenset[tuple[str | None, str | None]]
    of_discs: frozenset[str]

    def because(self, grounds: Iterable[Ground], discs: Mapping[str, str]) -> tuple[str, ...]:
        """What makes the rule fire, in the order given and each once; empty if nothing does."""
        wanted = self.outcomes
        # a fact of the record may be a ground twice: as a contradiction and as a danger
        named = [each.criterion for each in grounds if (each.force, each.outcome) in wanted]
        if self.of_discs:
            named += [level for level in discs if discs[level] in self.of_discs]
        return tuple(dict.fromkeys(named))


def asked_by(order: DecisionOrder) -> tuple[Asked, ...]:
    """The rules of an order as declared, with what each asks for."""
    return tuple(
        Asked(
            rule,
            frozenset((p.force, p.outcome) for p in rule.when if p.force is not None),
            frozenset(p.any_disc for p in rule.when if p.any_disc is not None),
        )
        for rule in order.rules
    )


class DirectChainer:
    """Runs the decision rules in their declared order; the first that fires decides."""

    name = "direct chainer"

    def __init__(self, order: DecisionOrder) -> None:
        self._id, self._asked = order.id, asked_by(order)

    def decide(self, grounds: Sequence[Ground], discs: Mapping[str, str]) -> Decision:
        """Decide one subject.

        Raises
        ------
        EngineError
            If no rule decides.
        """
        deciding: DecisionRule | None = None
        fired: list[Fired] = []
        for asked in self._asked:
            rule, reasons = asked.rule, asked.because(grounds, discs)
            if reasons or (not rule.when and deciding is None):
                fired.append(Fired(rule.id, reasons))
                deciding = deciding or rule
        if deciding is None:
            raise EngineError(f"no decision rule of {self._id} applies")
        return Decision(deciding.standing, deciding.id, tuple(fired))


class Standings:
    """Which standing follows from which outcomes occur in which force; quick, and tells no reasons."""

    def __init__(self, order: DecisionOrder) -> None:
        self._id = order.id
        self._rules = [
            (rule.standing, not rule.when, wanted, of_discs) for rule, wanted, of_discs in asked_by(order)
        ]
        self.wanted = frozenset[tuple[str | None, str | None]]().union(
            *(wanted for _, _, wanted, _ in self._rules)
        )
        self.forces = frozenset(force for force, _ in self.wanted)

    def of(
        self, occurring: Set[tuple[str | None, str | None]], discs: Set[str | None] = frozenset()
    ) -> Standing:
        """The standing, given (force, outcome) pairs that occur and standings that discs have.

        Raises
        ------
        EngineError
            If no rule decides.
        """
        for standing, always, wanted, of_discs in self._rules:
            if always or not wanted.isdisjoint(occurring) or not of_discs.isdisjoint(discs):
                return standing
        raise EngineError(f"no decision rule of {self._id} applies")


class PossibleStandings:
    """Every standing a disc may still come to as its undetermined outcomes become known.

    Only which outcomes occur in which force can matter to a decision rule. So each force with undetermined
    outcomes is supposed to end in any mixture of pass, fail and undetermined, and every standing that follows
    is kept; the present one is among them. Nothing undetermined leaves exactly the present one.
    """

    def __init__(self, order: DecisionOrder) -> None:
        self._standings = Standings(order)
        self._kept: dict[
            tuple[frozenset[tuple[str, str]], frozenset[tuple[str, int]]], frozenset[Standing]
        ] = {}

    def of(self, grounds: Sequence[Ground]) -> frozenset[Standing]:
        """The standings possible with these outcomes; a conflict of the record may be settled either way."""
        conflict = [g for g in grounds if g.outcome == "conflict"]
        if conflict:
            return self._of(grounds) | self._of([g for g in grounds if g.outcome != "conflict"])
        return self._of(grounds)

    def _of(self, grounds: Sequence[Ground]) -> frozenset[Standing]:
        occurring = Counter([(each.force, each.outcome) for each in grounds])
        matters = self._standings.forces
        key = (
            frozenset(pair for pair in occurring if pair[1] != "undetermined"),
            frozenset(
                (force, min(number, len(OUTCOMES)))
                for (force, outcome), number in occurring.items()
                if outcome == "undetermined" and force in matters
            ),
        )
        found = self._kept.get(key)
        if found is None:
            found = self._kept[key] = frozenset(self._ends(*key))
        return found

    def _ends(
        self, known: frozenset[tuple[str, str]], unknown: frozenset[tuple[str, int]]
    ) -> Iterator[Standing]:
        # outcomes that no rule asks for tell mixtures apart, but not standings
        mixtures = [
            {
                frozenset((force, o) for o in some) & self._standings.wanted
                for size in range(1, number + 1)
                for some in combinations(OUTCOMES, size)
            }
            for force, number in sorted(unknown)
        ]
        for chosen in product(*mixtures):
            yield self._standings.of(known.union(*chosen))
