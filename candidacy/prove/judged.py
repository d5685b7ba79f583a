"""A rule set over all records: outcomes of its criteria, standings of discs and of the case.

From outcomes to a standing as `candidacy.engine.decision` goes: the first decision rule that fires decides; what an undetermined
disc may still come to as `PossibleStandings` says.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import z3
from msgspec import Struct

from candidacy.prove.dangers import UnreadDangers
from candidacy.prove.symbols import NO, YES, Bounds, Expr, Truths, World
from candidacy.prove.tabulated import Tabulated
from candidacy.prove.translate import Reader, all_true, any_of, any_true, negate, opposite
from candidacy.rules.decision_order import DecisionOrder, DecisionRule
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import DISCS, AllOf, AnyOf, CountOf, Each, Node, walk


class Outcome(Struct, frozen=True):
    """What a criterion comes to for a subject: pass, fail, or undetermined where neither; and whether it applies."""

    passes: Expr
    fails: Expr
    applies: Truths

    @property
    def open(self) -> Expr:
        return all_true((opposite(self.passes), opposite(self.fails)))


def outcome_of(reader: Reader, item: ResolvedCriterion, subject: str) -> Outcome:
    """The outcome of one criterion for a subject."""
    truth = reader.truth(item.when, subject)
    passes = truth if item.criterion.kind == "inclusion" else negate(truth)
    applies = Truths(YES, NO)
    if item.applies_when is not None:
        applies = reader.truth(item.applies_when, subject)
        passes = any_of((passes, negate(applies)))
    return Outcome(passes.met, passes.unmet, applies)


def entries_needed(conditions: Iterable[Node]) -> int:
    """So many entries that more of them bring conditions to no other truth.

    One shows that any or not every entry is such; so many as its limit, and one more, bring a count past it. Entries that show
    none of this can be left out.
    """
    needed: dict[str, int] = {}
    for root in conditions:
        for node in walk(root):
            if (
                isinstance(node, AllOf | AnyOf | CountOf)
                and isinstance(node.of, Each)
                and node.of.over != DISCS
            ):
                most = max(node.limits) + 1 if isinstance(node, CountOf) else 1
                needed[node.of.over] = needed.get(node.of.over, 0) + int(most)
    return max((2, *needed.values()))


def bounds_of(*rule_sets: RuleSet) -> Bounds:
    """The bounds within which whole rule sets are asked about: enough entries for every single criterion."""
    return Bounds(max(entries_needed(item.conditions) for each in rule_sets for item in each.criteria))


class Judged:
    """One rule set in one world.

    Attributes
    ----------
    outcomes
        By criterion and subject.
    deciding
        By decision rule and subject, whether it is the one that decides.
    standings
        By subject (``case`` and each disc), whether it has a standing.
    """

    def __init__(
        self, world: World, rule_set: RuleSet, eyes: Callable[[str], int] = lambda name: 0, label: str = ""
    ) -> None:
        self.world, self.rule_set = world, rule_set
        self.reader = Reader(world, Tabulated(rule_set, world.as_of), eyes)
        self.conflict = z3.Bool("sources conflict")
        self._dangers = UnreadDangers(world, rule_set, label)
        self.unread: dict[str, Expr] = {}
        self.outcomes: dict[tuple[str, str], Outcome] = {}
        self.deciding: dict[tuple[str, str], Expr] = {}
        self.standings: dict[str, dict[str, Expr]] = {}
        order = rule_set.decisions
        may: dict[str, Mapping[str, Expr]] = {}
        for level in world.levels:
            self._read(level)
            grounds = self._grounds(level)
            self._decide(order, level, grounds, {})
            may[level] = self._possible(order, level, grounds)
        self.reader.standings = may
        self._read("patient")
        of_discs: dict[str, Expr] = {
            standing: any_true(
                all_true((world.named(level), self.standings[level][standing])) for level in world.levels
            )
            for standing in {rule.standing for rule in order.rules}
        }
        self._decide(order, "case", self._grounds("patient"), of_discs)

    def _read(self, subject: str) -> None:
        kind = "patient" if subject == "patient" else "disc"
        for item in self.rule_set.criteria:
            if item.criterion.subject == kind:
                self.outcomes[item.id, subject] = outcome_of(self.reader, item, subject)

    def _grounds(self, subject: str) -> dict[tuple[Any, Any], Expr]:
        """For each force and outcome, whether any criterion of that force has it."""
        found: dict[tuple[Any, Any], list[Expr]] = {}
        for item in self.rule_set.criteria:
            outcome = self.outcomes.get((item.id, subject))
            if outcome is not None:
                for name, said in (
                    ("pass", outcome.passes),
                    ("fail", outcome.fails),
                    ("undetermined", outcome.open),
                ):
                    found.setdefault((item.force, name), []).append(said)
        joined = {key: any_true(parts) for key, parts in found.items()}
        unread = self.unread[subject] = self._dangers.unread(subject)
        return joined | {("record", "conflict"): self.conflict, ("record", "unread_danger"): unread}

    def _decide(
        self,
        order: DecisionOrder,
        subject: str,
        grounds: Mapping[tuple[Any, Any], Expr],
        of_discs: Mapping[str, Expr],
    ) -> None:
        before: Expr = NO
        found: dict[str, list[Expr]] = {}
        for rule in order.rules:
            fires = YES if not rule.when else any_true(
                [grounds.get((p.force, p.outcome), NO) if p.any_disc is None else of_discs.get(p.any_disc, NO) for p in rule.when]
            )  # fmt: skip
            decides = all_true((fires, opposite(before)))
            self.deciding[rule.id, subject] = decides
            found.setdefault(rule.standing, []).append(decides)
            before = any_true((before, fires))
        self.standings[subject] = {standing: any_true(parts) for standing, parts in found.items()}

    def _possible(
        self, order: DecisionOrder, level: str, grounds: Mapping[tuple[Any, Any], Expr]
    ) -> dict[str, Expr]:
        """Every standing a disc may still come to, as each force with undetermined outcomes may end in any mixture of them."""
        forces = {p.force for rule in order.rules for p in rule.when if p.force and p.force != "record"}
        open_ = {force: grounds.get((force, "undetermined"), NO) for force in forces}
        settled = {key: said for key, said in grounds.items() if key[1] != "undetermined"}
        found: dict[str, list[Expr]] = {}
        earlier: set[tuple[Any, Any]] = set()
        for rule in order.rules:
            wanted = {(p.force, p.outcome) for p in rule.when if p.force is not None}
            fires = _may_fire(rule, wanted - earlier, settled, open_)
            kept_out = [opposite(settled.get(key, NO)) for key in earlier]
            # what is undetermined must be able to end in something that no earlier rule waits for
            kept_out += [
                opposite(said) for force, said in open_.items()
                if all((force, outcome) in earlier for outcome in ("pass", "fail", "undetermined"))
            ]  # fmt: skip
            found.setdefault(rule.standing, []).append(all_true((fires, *kept_out)))
            earlier |= wanted
        return {standing: any_true(parts) for standing, parts in found.items()}


def _may_fire(
    rule: DecisionRule,
    wanted: set[tuple[Any, Any]],
    settled: Mapping[tuple[Any, Any], Expr],
    open_: Mapping[Any, Expr],
) -> Expr:
    if not rule.when:
        return YES
    now = [settled.get(key, NO) for key in wanted]
    return any_true((*now, *(open_[force] for force, _ in wanted if force in open_)))
