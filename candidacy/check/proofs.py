"""What can be proved quickly of a rule set wherever it is checked: criteria and decision rules that can never say anything.

A criterion whose parameters are its own defaults is shown by the cases beside it to pass and to fail. So only those with changed
parameters are asked about, pairs that no case can pass together, and the decision rules over whatever the criteria may come to. ``candidacy rules prove`` asks more.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from candidacy.foundation.errors import Code
from candidacy.prove.available import can_prove, one_at_a_time
from candidacy.rules.findings import Findings
from candidacy.rules.resolved import RuleSet

_WHAT = {"apply": "apply", "pass": "pass where it applies", "fail": "fail"}
_APART = "change one of them, or leave one out; a rule set with this cannot be in_use"
_WAY_OUT = "candidacy rules prove tells more; a rule set with this cannot be in_use"


def check_proofs(rule_set: RuleSet, findings: Findings) -> None:
    """Add what can never be; nothing where the solver is not installed, which `not_run` tells."""
    if not can_prove():
        return
    for place, message, found in _faults(_Key(rule_set)):
        way_out = _APART if "both pass" in message else _WAY_OUT
        findings.add(place, Code.PROVED_IMPOSSIBLE, message, found=found, next_step=way_out)


def not_run() -> str:
    """That proofs were not made, for the reader of a check; empty where they were."""
    if can_prove():
        return ""
    from candidacy.prove.available import EXTRA

    return f"Proofs about rule sets were not made: they need an extra ({EXTRA})."


class _Key:
    """A rule set by its digest."""

    def __init__(self, rule_set: RuleSet) -> None:
        self.rule_set = rule_set

    def __hash__(self) -> int:
        return hash(self.rule_set.digest)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.rule_set.digest == self.rule_set.digest


@lru_cache(maxsize=64)
def _faults(key: _Key) -> tuple[tuple[tuple[Any, ...], str, str], ...]:
    with one_at_a_time:
        return tuple(_found(key.rule_set))


def _found(rule_set: RuleSet) -> Iterator[tuple[tuple[Any, ...], str, str]]:
    from candidacy.prove.quick import dead_rules, never_criteria, never_together

    places = {selection.id: number for number, selection in enumerate(rule_set.file.criteria)}
    for identifier, question in never_criteria(rule_set):
        place = ("criteria", places[identifier]) if identifier in places else ("criteria",)
        yield (place, f"with the parameters in use this criterion can never {_WHAT[question]}", identifier)
    for one, other in never_together(rule_set):
        place = ("criteria", places[one]) if one in places else ("criteria",)
        whose = "disc" if rule_set.criterion(one).criterion.subject == "disc" else "case"
        yield place, f"this criterion and {other} can never both pass, so that no {whose} passes", one
    for rule in dead_rules(rule_set):
        yield ("decisions",), "this decision rule can never decide", rule
