"""Cohort screening: a rule set over a table of cases, with exactly the outcomes of the single-case evaluation.

``screen`` is the front door; importing this package loads no engine.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from candidacy.cohort.answers.counts import Flow
    from candidacy.cohort.answers.masking import masked_frame
    from candidacy.cohort.inputs.mapping import Mapping, load_mapping
    from candidacy.cohort.inputs.suggest import suggest_mapping
    from candidacy.cohort.output.figures import sweep_plot
    from candidacy.cohort.output.flow_diagram import attrition_diagram
    from candidacy.cohort.result import Cohort, Comparison
    from candidacy.cohort.screening import screen

_HOMES = {
    "Cohort": "result",
    "Comparison": "result",
    "Flow": "answers.counts",
    "Mapping": "inputs.mapping",
    "attrition_diagram": "output.flow_diagram",
    "load_mapping": "inputs.mapping",
    "masked_frame": "answers.masking",
    "screen": "screening",
    "suggest_mapping": "inputs.suggest",
    "sweep_plot": "output.figures",
}

__all__ = [
    "Cohort",
    "Comparison",
    "Flow",
    "Mapping",
    "attrition_diagram",
    "load_mapping",
    "masked_frame",
    "screen",
    "suggest_mapping",
    "sweep_plot",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(name)
    from importlib import import_module

    return getattr(import_module(f"candidacy.cohort.{_HOMES[name]}"), name)
