"""The decision rules on durable-rules: the only module that knows the library.

Kept to what was measured to be safe: closed-vocabulary text only, one context per decision and always
deleted, an id for every fact, the closing fact last, no tests of absence, no timers.
"""

import itertools
import threading
from collections.abc import Callable, Mapping, Sequence, Set
from typing import Any

from durable import engine

from candidacy.engine.decision import Decision, Fired, Ground, asked_by
from candidacy.foundation.errors import EngineError
from candidacy.rules.decision_order import DecisionOrder, DecisionRule


class _Host(engine.Host):  # type: ignore[misc]
    """A host without the two timer threads, which would otherwise run for ever."""

    def _run(self) -> None:
        return


class DurableChainer:
    """Chains outcomes to a standing with durable-rules.

    It is told once that an outcome occurs in a force, however many criteria have it: the decision rules ask for no more,
    and the reasons are named beside, from the same outcomes. For every pattern of a decision rule there is one library
    rule that records that it fired, and one that decides: it waits for the closing fact and consumes it, so that the
    first in the declared order wins.

    Parameters
    ----------
    keeps
        What fired is kept for each set of outcomes and standings, and the library is not asked the same again: rules read
        nothing else. Reasons are named for each subject anew.
    """

    name = "durable-rules"

    def __init__(self, order: DecisionOrder, keeps: bool = False) -> None:
        self._order = order
        self._keeps = keeps
        self._kept: dict[_Told, tuple[str, frozenset[str]]] = {}
        self._numbers = itertools.count()
        self._asked = {each.rule.id: each for each in asked_by(order)}
        # an outcome that no rule names cannot matter, and most pass
        self._heard = frozenset().union(*(each.outcomes for each in self._asked.values()))
        self._heard_discs = frozenset().union(*(each.of_discs for each in self._asked.values()))
        self._lock = threading.Lock()
        # what the actions record about the decision being made; one is made at a time
        self._noted: list[str] = []
        self._decided: list[str] = []
        self._host = _Host({_RULES: self._definition()})

    def _definition(self) -> dict[str, Any]:
        rules: dict[str, Any] = {}
        for place, rule in enumerate(self._order.rules):
            patterns = [_pattern(p.force, p.outcome, p.any_disc) for p in rule.when]
            for number, pattern in enumerate(patterns):
                rules[f"note {place} {number}"] = {
                    "all": [{"m": pattern}], "pri": 1, "run": self._note(rule),
                }  # fmt: skip
                rules[f"decide {place} {number}"] = {
                    "all": [{"closing": _CLOSING}, {"m": pattern}], "pri": 10 + place, "run": self._decide(rule),
                }  # fmt: skip
            if not patterns:
                rules[f"decide {place}"] = {
                    "all": [{"closing": _CLOSING}], "pri": 10 + place, "run": self._decide(rule),
                }  # fmt: skip
        # Facts that no rule mentions are an error in the library; this pair of patterns mentions them all
        # and never completes.
        for kind in ("outcome", "disc"):
            rules[f"heard {kind}"] = {
                "all": [{"m": {"$and": [{"kind": kind}]}}, {"never": {"$and": [{"kind": "never"}]}}],
                "run": lambda c: None,
            }
        return rules

    def _note(self, rule: DecisionRule) -> Callable[[Any], None]:
        identifier = rule.id

        def run(c: Any) -> None:
            self._noted.append(identifier)

        return run

    def _decide(self, rule: DecisionRule) -> Callable[[Any], None]:
        def run(c: Any) -> None:
            self._decided.append(rule.id)
            c.retract_fact(c.closing)

        return run

    def decide(self, grounds: Sequence[Ground], discs: Mapping[str, str]) -> Decision:
        """Decide one subject; see `DirectChainer.decide`.

        Raises
        ------
        EngineError
            If an action failed, or not exactly one rule decided.
        """
        heard = [ground for ground in grounds if (ground.force, ground.outcome) in self._heard]
        outcomes = list(dict.fromkeys((ground.force, ground.outcome) for ground in heard))
        standings = [each for each in dict.fromkeys(discs.values()) if each in self._heard_discs]
        told = frozenset(outcomes), frozenset(standings)
        found = self._kept.get(told)
        if found is None:
            found = self._ask(outcomes, standings)
            if self._keeps:
                if len(self._kept) >= _MOST_KEPT:
                    self._kept.clear()
                self._kept[told] = found
        rule, fired = found
        return Decision(self._asked[rule].rule.standing, rule, self._fired(fired, heard, discs))

    def _ask(
        self, outcomes: Sequence[tuple[str, str]], standings: Sequence[str]
    ) -> tuple[str, frozenset[str]]:
        """The rule that decides, and every rule that fires."""
        told = self._facts(outcomes, standings)
        decided: list[str] = []
        for _ in range(_TRIES):
            noted, decided = self._run(told)
            if decided:
                break
        if len(decided) != 1:
            raise EngineError(f"{len(decided)} decision rules decided, not one: {decided}")
        return decided[0], frozenset((*noted, *decided))

    def _facts(self, outcomes: Sequence[tuple[str, str]], standings: Sequence[str]) -> list[dict[str, Any]]:
        """What the library is told: each outcome of a force and each standing of a disc once, the closing fact last."""
        return [
            *(
                {"id": f"o{n}", "kind": "outcome", "force": force, "outcome": outcome}
                for n, (force, outcome) in enumerate(outcomes)
            ),
            *({"id": f"d{n}", "kind": "disc", "standing": each} for n, each in enumerate(standings)),
            {"id": "closing", "kind": "closing"},
        ]

    def _run(self, told: Sequence[Mapping[str, Any]]) -> tuple[list[str], list[str]]:
        """Run the rules in a context of its own; the ids of those noted and of those that decided."""
        sid = str(next(self._numbers))
        with self._lock:
            self._noted, self._decided = [], []
            noted, decided = self._noted, self._decided
            try:
                state = self._host.assert_facts(_RULES, [{**fact, "sid": sid} for fact in told])
            except engine.MessageNotHandledException as error:
                raise EngineError("a fact was not taken up by any decision rule") from error
            finally:
                self._host.delete_state(_RULES, sid)
        if state and state.get("exception"):
            raise EngineError(f"a decision rule failed: {state['exception']}")
        return noted, decided

    def _fired(
        self, fired: Set[str], grounds: Sequence[Ground], discs: Mapping[str, str]
    ) -> tuple[Fired, ...]:
        """What fired, in the declared order, each with its reasons; the library fires equals in any order."""
        found = []
        for identifier, asked in self._asked.items():
            if identifier in fired:
                reasons = asked.because(grounds, discs)
                if not reasons and asked.rule.when:
                    raise EngineError(f"decision rule {identifier} fired, and nothing given makes it fire")
                found.append(Fired(identifier, reasons))
        return tuple(found)


_RULES = "decisions"
_MOST_KEPT = 4096
# Outcomes of forces that occur, and standings that discs have.
_Told = tuple[frozenset[tuple[str, str]], frozenset[str]]
# The library drops an action, and all that follow, when the clock of the wall shows over ten seconds more than at its start: after
# a sleep of the machine, or at the turn to summer time. Deciding again costs a millisecond.
_TRIES = 3
_CLOSING = {"$and": [{"kind": "closing"}]}


def _pattern(force: str | None, outcome: str | None, disc: str | None) -> dict[str, Any]:
    if disc is not None:
        return {"$and": [{"kind": "disc"}, {"standing": disc}]}
    return {"$and": [{"kind": "outcome"}, {"force": force}, {"outcome": outcome}]}
