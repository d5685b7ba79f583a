"""Bleeding-risk class under which a medicine is looked up: the class in use, raised by one where the patient asks for it.

A class is raised only by the reasons that the rule set names; while one of them is not known, both classes are possible.
"""

from collections.abc import Mapping
from typing import Any

from candidacy.derive.base import Inputs, once_a_case
from candidacy.derive.hold_table import Rule, rule_of
from candidacy.foundation.truth import Truth, any_of

_CLASSES = ("low", "intermediate", "high")
OLD_AGE = "old_age"  # the reason that is no element of its own


def raised(risk: str) -> str:
    """The next class up; the highest stays."""
    return _CLASSES[min(_CLASSES.index(risk) + 1, len(_CLASSES) - 1)]


@once_a_case
def class_raised(patient: Inputs) -> Truth:
    """Whether a reason of the setting ``risk_class_raised_by`` holds.

    Source: table of bleeding-risk classes adapted from Narouze 2018 (``bleeding_risk_class_table``).
    """
    return any_of(reason_holds(patient, reason) for reason in patient.setting("risk_class_raised_by"))


def reason_holds(patient: Inputs, reason: str) -> Truth:
    """Whether a reason to raise the class holds: old age (setting ``old_age_from``, years) or a yes-or-no element."""
    if reason != OLD_AGE:
        return patient.truth(reason)
    age = patient.span("age")
    return Truth.UNKNOWN if age is None else age.at_least(patient.setting("old_age_from"))


def rules_of_row(entry: Inputs, key: str, row: Mapping[str, Any]) -> list[Rule]:
    """What a row states at the class in use, at the class above, or at either while a reason to raise is not known.

    The reasons are looked at only where the two classes differ.
    """
    table, risk = entry.setting("antithrombotic_guideline"), entry.setting("bleeding_risk_class")
    usual, above = rule_of(table, key, row, risk), rule_of(table, key, row, raised(risk))
    if usual == above:
        return [usual]
    higher = class_raised(entry)
    return [rule for rule, left_out in ((usual, Truth.MET), (above, Truth.NOT_MET)) if higher is not left_out]
