"""durable-rules told every criterion and disc by itself, so that the library names the reasons: an oracle and a baseline."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from candidacy.engine.decision import Decision, Fired, Ground
from candidacy.engine.durable_chainer import DurableChainer
from candidacy.rules.decision_order import DecisionOrder, DecisionRule


def facts_of(grounds: Sequence[Ground], discs: Mapping[str, str]) -> list[dict[str, Any]]:
    """One fact for each outcome and each disc, the closing fact last."""
    return [
        *(
            {"id": f"o{n}", "kind": "outcome", "name": g.criterion, "force": g.force, "outcome": g.outcome}
            for n, g in enumerate(grounds)
        ),
        *(
            {"id": f"d{level}", "kind": "disc", "name": level, "standing": standing}
            for level, standing in discs.items()
        ),
        {"id": "closing", "kind": "closing"},
    ]


class OneFactEach(DurableChainer):
    """The same library rules, each note bearing the name of what made it fire."""

    def __init__(self, order: DecisionOrder) -> None:
        self._named: list[tuple[str, str]] = []
        super().__init__(order)

    def _note(self, rule: DecisionRule) -> Callable[[Any], None]:
        def run(c: Any) -> None:
            self._named.append((rule.id, c.m.name))

        return run

    def decide(self, grounds: Sequence[Ground], discs: Mapping[str, str]) -> Decision:
        sid = str(next(self._numbers))
        self._named, self._decided = [], []
        try:
            state = self._host.assert_facts(
                "decisions", [{**f, "sid": sid} for f in facts_of(grounds, discs)]
            )
        finally:
            self._host.delete_state("decisions", sid)
        assert not (state and state.get("exception")), state
        (decided,) = self._decided
        by_rule: dict[str, set[str]] = {decided: set()}
        for rule, name in self._named:
            by_rule.setdefault(rule, set()).add(name)
        given = [*(g.criterion for g in grounds), *discs]
        fired = [
            Fired(rule.id, tuple(name for name in given if name in by_rule[rule.id]))
            for rule in self._order.rules
            if rule.id in by_rule
        ]
        return Decision(self._asked[decided].rule.standing, decided, tuple(fired))
