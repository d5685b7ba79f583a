"""Which recorded dangers a rule set may leave unread, over all records; see `candidacy.assessment.record_grounds`."""

from functools import cached_property
from typing import Any

import z3

from candidacy.assessment.record_grounds import Dangers
from candidacy.case.catalogue import catalogue
from candidacy.prove.symbols import NO, Expr, World
from candidacy.prove.translate import all_true, any_true, opposite, value_test
from candidacy.rules.resolved import RuleSet


class UnreadDangers:
    """Dangers that no deciding criterion of a rule set weighs for certain.

    A danger whose criteria may not apply may be unread, or not: both are held possible. ``label`` tells rule sets apart that do not
    agree on when that is so.
    """

    def __init__(self, world: World, rule_set: RuleSet, label: str) -> None:
        self._world, self._rule_set, self._label = world, rule_set, label

    @cached_property
    def _open(self) -> dict[str, bool]:
        """Elements with dangers that may be unread; whether nothing weighs them at all."""
        found = Dangers(self._rule_set)
        return {
            element.name: not found.weighers.get(element.name) and element.name not in found.summaries
            for element in catalogue().all
            if element.danger and element.statable
            and all(weigher.gated for weigher in found.weighers.get(element.name, ()))
        }  # fmt: skip

    def unread(self, subject: str) -> Expr:
        """Whether a danger of the case (``patient``) or of a disc is left unread."""
        shelf = catalogue()
        if subject != "patient":
            return any_true(
                self._one(name, never, subject)
                for name, never in self._open.items()
                if shelf[name].scope == "disc"
            )
        return any_true(
            all_true((self._one(name, never, of), self._may_be_treated(of)))
            for name, never in self._open.items()
            for of in (self._world.levels if shelf[name].scope == "disc" else ("patient",))
        )

    def _one(self, name: str, never: bool, subject: str) -> Expr:
        weighed = NO if never else z3.Bool(f"{subject} {name} is weighed {self._label}")
        return all_true((self._recorded(name, subject), opposite(weighed)))

    def _recorded(self, name: str, subject: str) -> Expr:
        """Whether the record states a danger; of what can be told otherwise, or of entries of lists, that is left open."""
        element = catalogue()[name]
        if (
            name in catalogue().only_stated
            and name not in self._rule_set.relations
            and element.scope in ("patient", "disc")
        ):
            seen = self._world.fact(name, subject)
            return z3.And(seen.known, any_true(_danger(seen, danger) for danger in element.danger))
        return z3.Bool(f"{subject} {name} is stated as a danger")

    def _may_be_treated(self, subject: str) -> Expr:
        told = self._world.fact("discs_under_consideration", "patient")
        return (
            opposite(z3.And(told.known, z3.Not(told.members[subject])))
            if subject != "patient"
            else z3.BoolVal(True)
        )


def _danger(seen: Any, danger: Any) -> Expr:
    return value_test(seen, danger.op, danger.limits).met
