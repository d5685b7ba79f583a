"""Which keys may stand where in a file of rules, for the nearest to a mistyped one."""

from typing import Any

from pydantic import BaseModel

from candidacy.case.element import Element, ElementFile, Replaces
from candidacy.rules.cited import Alternative, Citation, Parameter, Setting, Source
from candidacy.rules.conditions import Condition
from candidacy.rules.criterion import Criterion
from candidacy.rules.decision_order import DecisionOrder, DecisionRule, OtherDiscSteps
from candidacy.rules.rule_set_file import Companion, RuleSetFile, Selection


def known_keys(path: tuple[Any, ...]) -> list[str]:
    """Keys that may stand at a path, for "did you mean"; the nearest model decides."""
    steps = [step for step in path if isinstance(step, str)]
    last = steps[-1] if steps else ""
    by_key: dict[str, type[BaseModel]] = {
        "parameters": Parameter,
        "cites": Citation,
        "alternatives": Alternative,
        "settings": Setting,
        "sources": Source,
        "criteria": Selection,
        "rules": DecisionRule,
        "companions": Companion,
        "within": Parameter,
        "other_disc": OtherDiscSteps,
        "elements": Element,
        "replaces": Replaces,
    }
    if not steps:
        return sorted(
            {
                *Criterion.model_fields,
                *RuleSetFile.model_fields,
                *DecisionOrder.model_fields,
                *ElementFile.model_fields,
            }
        )
    if len(steps) > 1 and steps[-2] in ("parameters", "settings", "sources"):
        last = steps[-2]
    model = by_key.get(last, Condition if "when" in steps else Criterion)
    return list(model.model_fields)
