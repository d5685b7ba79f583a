"""Whether the order of decision rules of a rule set lets nothing pass that must not pass."""

from collections.abc import Callable

from candidacy.foundation.errors import Code
from candidacy.rules.decision_order import DecisionOrder, DecisionPattern
from candidacy.rules.findings import Findings
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Standing

_OUTCOMES = ("fail", "undetermined")
_DECIDING = ("stop", "absolute", "relative")
_OF_RECORD = ("conflict", "unread_danger")
_BEFORE = "a rule of it, before every rule that lets pass"
_FIRST = "a rule of it with the standing urgent, before every other one"

_Fits = Callable[[DecisionPattern], bool]


def check_holds(
    rule_set: RuleSet, extended: DecisionOrder | None, place: tuple[str | int, ...], findings: Findings
) -> None:
    """Add what passes under a rule set although its criteria fail or are open, and what the extended one held back.

    Unknown never passes, whatever the order. That a conflict or a danger in the record holds a case back, an order says
    by itself, as one that is about a report and not about a patient does not; so here the extended order is the measure.

    Parameters
    ----------
    extended
        The order of the rule set that it extends, or of the shipped one that it replaces.
    """
    order = rule_set.decisions
    forces = {item.force for item in rule_set.criteria}
    for force in (each for each in _DECIDING if each in forces):
        for outcome in _OUTCOMES:
            if not _holds(order, _of(force, outcome)):
                findings.add(place, Code.CONTRADICTORY_RULES, f"{order.id} may let pass what a deciding criterion does not",
                             found=f"force {force}, outcome {outcome}", expected=_BEFORE)  # fmt: skip
    if "stop" in forces and not _urgent(order, _of("stop", "fail")):
        findings.add(place, Code.CONTRADICTORY_RULES, f"{order.id} may not call a possible emergency urgent",
                     found="force stop, outcome fail", expected=_FIRST)  # fmt: skip
    if extended is not None and extended != order:
        check_no_looser(order, extended, place, findings)


def check_no_looser(
    order: DecisionOrder, former: DecisionOrder, place: tuple[str | int, ...], findings: Findings
) -> None:
    """Add what of the record an order may let pass that another one, in whose place it stands, holds back."""
    for outcome in _OF_RECORD:
        fits = _of("record", outcome)
        if _holds(former, fits) and not _holds(order, fits):
            findings.add(place, Code.CONTRADICTORY_RULES, f"{order.id} may let pass what {former.id} holds back",
                         found=f"force record, outcome {outcome}", expected=_BEFORE)  # fmt: skip
    if _urgent(former, _disc_urgent) and not _urgent(order, _disc_urgent):
        findings.add(place, Code.CONTRADICTORY_RULES, f"{order.id} may not call urgent what {former.id} does",
                     found="any_disc urgent", expected=_FIRST)  # fmt: skip


def _of(force: str, outcome: str) -> _Fits:
    return lambda pattern: (pattern.force, pattern.outcome) == (force, outcome)


def _disc_urgent(pattern: DecisionPattern) -> bool:
    return pattern.any_disc == "urgent"


def _holds(order: DecisionOrder, fits: _Fits) -> bool:
    """Whether no rule that lets pass comes before one that this fires, whatever else fires."""
    return _first(order, fits, lambda standing: standing != "candidate")


def _urgent(order: DecisionOrder, fits: _Fits) -> bool:
    """Whether only rules with the standing urgent come before one that this fires."""
    return _first(order, fits, lambda standing: standing == "urgent")


def _first(order: DecisionOrder, fits: _Fits, right: Callable[[Standing], bool]) -> bool:
    for rule in order.rules:
        if not right(rule.standing):
            return False
        if not rule.when or any(map(fits, rule.when)):
            return True
    return False
