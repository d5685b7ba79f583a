"""What the chosen table says about holding one medicine before the procedure, and when its interval is over.

Nobody is told to stop anything: a stent, valve, recent clot or stroke medicine gives no date without the prescriber's
written agreement, and an antidepressant is never stopped for the procedure.
"""

from collections.abc import Callable
from typing import TypeVar

from candidacy.derive.arithmetic import hull
from candidacy.derive.base import Inputs, Underivable, derives, once_a_case
from candidacy.derive.hold_agreement import no_dose_to_come, prescriber_agrees, protected_indication
from candidacy.derive.hold_bands import by_renal_function
from candidacy.derive.hold_risk import rules_of_row
from candidacy.derive.hold_table import Rule, Wait, group_of, possible_agents, rows_for
from candidacy.derive.hold_times import LastDose, last_dose, over, over_on
from candidacy.foundation.truth import Truth, all_of
from candidacy.foundation.values import TRUE, Options, Span, Why, Words, from_truth

_Answer = TypeVar("_Answer")
# What is said of a medicine that is not to be held, or not yet.
GOES_ON = "continue; no stop date"
# Actions that may end in a stop.
STOPPING = frozenset(("interval", "shared_decision", "consider"))
# Actions after which no interval has to pass.
_NO_WAIT = frozenset(("no_stop", "consider", "continue", "no_rule"))


@derives("medicine_hold_action")
def medicine_hold_action(entry: Inputs) -> Options | None:
    """What the table, risk class, renal function and indication say about holding this medicine.

    The table is the setting ``antithrombotic_guideline``, the class ``bleeding_risk_class``. An interval or shared
    decision for an antithrombotic becomes a written agreement where the indication is one of the setting
    ``indications_needing_written_agreement`` or stopping carries a high thrombotic risk. What the prescriber
    answered is not looked at.

    Source: the tables' rows, mainly Narouze 2018 (``narouze_2018``); antidepressants after
    ``uk_perioperative_medicines``.
    """
    if group_of(entry) is None:
        return None
    rules = rules_for(entry)
    actions: set[str | bool] = {rule.action for rule in rules}
    needed = agreement_needed(entry)
    if needed is not Truth.NOT_MET:
        kept = actions if needed is Truth.UNKNOWN else actions - STOPPING
        actions = kept | {"written_agreement"}
    return Options(frozenset(actions))


@derives("medicine_hold_over")
def medicine_hold_over(entry: Inputs) -> Options | None:
    """Whether the hold interval is over on the proposed date; true where no interval has to pass.

    Every interval that applies must be over: that of the guideline, lengthened or joined by that of the band of
    creatinine clearance. Before the proposed date it also takes that the medicine is held, for a recorded
    last dose says nothing about doses to come. An INR is not looked at. Does not apply where the
    prescriber decides without a printed interval.

    Source: the tables' rows; meaning of days by the setting ``hold_days_mean`` (common practice).
    """
    if group_of(entry) is None:
        return None
    rules = rules_for(entry)
    if all(rule.action in _NO_WAIT for rule in rules):
        return TRUE
    _refuse_without_interval(rules)
    planned, dose = entry.span("planned_procedure_date"), last_dose(entry)
    if planned is None or dose is None or any(_left_to_the_prescriber(rule) for rule in rules):
        return None
    answer = _agreed([_rule_over(entry, rule, dose, planned) for rule in rules])
    if answer is Truth.MET:
        answer = all_of((answer, no_dose_to_come(entry, planned)))
    return from_truth(answer)


@derives("medicine_hold_until")
def medicine_hold_until(entry: Inputs) -> Span | None:
    """First day on which the hold interval is over, counted from the last dose.

    Where no interval has to pass, the as-of date. Days are dose-free days unless the setting
    ``hold_days_mean`` says hours; an interval in hours gives the day on which they end. No date without
    knowing that the medicine is held (or that the proposed date has come), nor for a protected indication
    without the prescriber's agreement, nor for any medicine whose prescriber refused.

    Source: the tables' rows, mainly Narouze 2018 (``narouze_2018``) and, by renal function,
    ``jabfm_oral_anticoagulants``.
    """
    if group_of(entry) is None:
        return None
    rules = rules_for(entry)
    if all(rule.action in _NO_WAIT for rule in rules):
        entry.say("no interval has to pass")
        return entry.as_of
    if not _may_be_dated(entry):
        return None
    _refuse_without_interval(rules)
    dose, planned = last_dose(entry), entry.span("planned_procedure_date")
    held = entry.truth("medicine_held") if planned is None else no_dose_to_come(entry, planned)
    if dose is None or held is not Truth.MET or any(not rule.waits for rule in rules):
        return None
    return hull(_rule_over_on(entry, rule, dose) for rule in rules)


@derives("medicine_restart_after")
def medicine_restart_after(entry: Inputs) -> Words | None:
    """When the medicine may restart after the procedure, as the table prints it.

    Does not apply where nothing is stopped or no time was read; the prescriber may decide otherwise.

    Source: the tables' rows, mainly Narouze 2018 (``narouze_2018``).
    """
    if group_of(entry) is None:
        return None
    rules = rules_for(entry)
    if all(rule.action in _NO_WAIT for rule in rules):
        raise Underivable(Why.DOES_NOT_APPLY, "nothing is stopped")
    printed = {rule.restart for rule in rules}
    if printed == {""}:
        raise Underivable(Why.DOES_NOT_APPLY, "the table as read gives no time; the prescriber decides")
    return Words(f"{printed.pop()} after the procedure") if len(printed) == 1 else None


@once_a_case
def agreement_needed(entry: Inputs) -> Truth:
    """Whether the prescriber's written agreement is needed before the medicine is held: a protected antithrombotic."""
    group = group_of(entry)
    if group is None:
        return Truth.UNKNOWN
    if group != "antithrombotic" or not any(rule.action in STOPPING for rule in rules_for(entry)):
        return Truth.NOT_MET
    return protected_indication(entry)


@once_a_case
def rules_for(entry: Inputs) -> tuple[Rule, ...]:
    """Every rule that may be this medicine's at the risk class in use; several while a fact is missing."""
    group = group_of(entry)
    if group is None:
        return ()
    if group == "none":
        return (Rule("", "", "no_rule", (), False, ""),)
    found = [rule for agent in possible_agents(entry) for rule in _rules_of(entry, agent)]
    return tuple(dict.fromkeys(renal for rule in found for renal in by_renal_function(entry, rule)))


def _rules_of(entry: Inputs, agent: str | None) -> list[Rule]:
    """Rules of the medicine if its agent is this one, before renal function is looked at."""
    table = entry.setting("antithrombotic_guideline")
    rows = rows_for(entry, agent)
    found = [rule for key, row in rows.items() for rule in rules_of_row(entry, key, row)]
    if all(row["agent"] is not None for row in rows.values()) and (agent is None or not rows):
        remark = "the table in use, as far as it was read, does not name this medicine"
        found.append(Rule(table, "", "shared_decision", (), False, "", remark))
    return _beside_aspirin(entry, found) if agent == "dipyridamole" else found


def _beside_aspirin(entry: Inputs, alone: list[Rule]) -> list[Rule]:
    """Rules of dipyridamole: those of aspirin where aspirin is taken too, those of both where it may be."""
    agents = [(other, other.options("medicine_agent")) for other in entry.entries("medicines")]
    certain = [other for other, agent in agents if agent is not None and agent.codes == {"aspirin"}]
    if certain:
        return [rule for other in certain for rule in _rules_of(other, "aspirin")]
    possible = [other for other, agent in agents if agent is None or "aspirin" in agent.codes]
    found = [*alone, *(rule for other in possible for rule in _rules_of(other, "aspirin"))]
    if not entry.complete("medicines"):
        rows = entry.table(entry.setting("antithrombotic_guideline")).items()
        aspirin = [(key, row) for key, row in rows if row["agent"] == "aspirin"]
        found += [rule for key, row in aspirin for rule in rules_of_row(entry, key, row)]
    return found


def _may_be_dated(entry: Inputs) -> bool:
    """Whether a date may be given; raises where the medicine goes on."""
    agreed = prescriber_agrees(entry)
    if agreed is Truth.NOT_MET:
        raise Underivable(Why.DOES_NOT_APPLY, f"{GOES_ON}: its prescriber refused")
    needed = agreement_needed(entry)
    if needed is Truth.MET and agreed is not Truth.MET:
        note = f"{GOES_ON}: never stopped for this procedure without the prescriber's written agreement"
        raise Underivable(Why.DOES_NOT_APPLY, note)
    return needed is Truth.NOT_MET or agreed is Truth.MET


def _refuse_without_interval(rules: tuple[Rule, ...]) -> None:
    """Say why there is no date where every possible rule leaves it to the prescriber."""
    if all(rule.action == "shared_decision" for rule in rules):
        remark = next((rule.remark for rule in rules if rule.remark), "")
        note = "the prescriber decides" + (f": {remark}" if remark else "")
        raise Underivable(Why.DOES_NOT_APPLY, note)
    if all(rule.action == "interval" and not rule.waits for rule in rules):
        raise Underivable(Why.DOES_NOT_APPLY, rules[0].remark)


def _left_to_the_prescriber(rule: Rule) -> bool:
    return rule.action not in _NO_WAIT and not rule.waits


def _agreed(answers: list[Truth]) -> Truth:
    """The answer that all possible rules give, else unknown."""
    return answers[0] if answers and all(answer is answers[0] for answer in answers) else Truth.UNKNOWN


def _rule_over(entry: Inputs, rule: Rule, dose: LastDose, planned: Span) -> Truth:
    if rule.action in _NO_WAIT:
        return Truth.MET
    return all_of(_each(entry, rule, lambda wait, mean, end: over(wait, dose, planned, mean, end)))


def _rule_over_on(entry: Inputs, rule: Rule, dose: LastDose) -> Span:
    days = _each(entry, rule, lambda wait, mean, end: over_on(wait, dose, mean, end))
    return Span(max(day.low for day in days), max(day.high for day in days))


def _each(entry: Inputs, rule: Rule, ask: Callable[[Wait, str, str], _Answer]) -> list[_Answer]:
    mean, end = entry.setting("hold_days_mean"), entry.setting("hold_range_end")
    return [ask(wait, mean, end) for wait in rule.waits]
