"""Cohort screening: a rule set over a table of cases, with exactly the outcomes of the single-case reading.

``screen`` is the front door; importing this package loads no engine.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from candidacy.cohort.counts import Flow
    from candidacy.cohort.figures import attrition_diagram, sweep_plot
    from candidacy.cohort.inputs.mapping import Mapping, load_mapping
    from candidacy.cohort.inputs.suggest import suggest_mapping
    from candidacy.cohort.masking import masked_frame
    from candidacy.cohort.result import Cohort, Comparison
    from candidacy.cohort.screening import screen

_HOMES = {
    "Cohort": "result",
    "Comparison": "result",
    "Flow": "counts",
    "Mapping": "inputs.mapping",
    "attrition_diagram": "figures",
    "load_mapping": "inputs.mapping",
    "masked_frame": "masking",
    "screen": "screening",
    "suggest_mapping": "inputs.suggest",
    "sweep_plot": "figures",
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
