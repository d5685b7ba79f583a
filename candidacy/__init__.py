"""Explained decision support for lumbar intradiscal tissue and cell injection.

It evaluates a case record against declared rule sets and says of each criterion pass, fail or
undetermined, with the rule, the value, its source and what is missing. It supports a decision by a
licensed clinician and never makes one.

The public names below load when first used, so that a cold start stays quick. `API.md` beside this file shows them
at work::

    import candidacy

    answer = candidacy.assess("case.yaml", "practice_baseline", as_of="2026-12-02")
"""

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from candidacy.assessment.assess import Assessment
    from candidacy.assessment.results import CriterionResult
    from candidacy.case.catalogue import catalogue
    from candidacy.case.load import Case, parse_case
    from candidacy.case.record import CaseRecord
    from candidacy.cohort.result import Cohort
    from candidacy.explain.document import AssessmentDocument
    from candidacy.foundation.errors import (
        CandidacyError,
        CaseError,
        Code,
        EngineError,
        InputError,
        Problem,
        ReportError,
        RuleError,
        TableError,
    )
    from candidacy.interface.answer import Answer, SideBySide
    from candidacy.interface.calls import (
        assess,
        check_rules,
        compare,
        demo_cases,
        describe_rule_set,
        read_report,
        rule_sets,
        screen,
        use_library,
    )
    from candidacy.interface.inputs import load_case, load_rule_set
    from candidacy.reading.model import Reading
    from candidacy.rules.resolved import RuleSet

__version__ = "0.1.0"

__all__ = [
    "Answer",
    "Assessment",
    "AssessmentDocument",
    "CandidacyError",
    "Case",
    "CaseError",
    "CaseRecord",
    "Code",
    "Cohort",
    "CriterionResult",
    "EngineError",
    "InputError",
    "Problem",
    "Reading",
    "ReportError",
    "RuleError",
    "RuleSet",
    "SideBySide",
    "TableError",
    "__version__",
    "assess",
    "catalogue",
    "check_rules",
    "compare",
    "demo_cases",
    "describe_rule_set",
    "load_case",
    "load_rule_set",
    "parse_case",
    "read_report",
    "rule_sets",
    "screen",
    "use_library",
]

_HOMES = {
    "Answer": "interface.answer",
    "Assessment": "assessment.assess",
    "AssessmentDocument": "explain.document",
    "CandidacyError": "foundation.errors",
    "Case": "case.load",
    "CaseError": "foundation.errors",
    "CaseRecord": "case.record",
    "Code": "foundation.errors",
    "Cohort": "cohort.result",
    "CriterionResult": "assessment.results",
    "EngineError": "foundation.errors",
    "InputError": "foundation.errors",
    "Problem": "foundation.errors",
    "Reading": "reading.model",
    "ReportError": "foundation.errors",
    "RuleError": "foundation.errors",
    "RuleSet": "rules.resolved",
    "SideBySide": "interface.answer",
    "TableError": "foundation.errors",
    "assess": "interface.calls",
    "catalogue": "case.catalogue",
    "check_rules": "interface.calls",
    "compare": "interface.calls",
    "demo_cases": "interface.calls",
    "describe_rule_set": "interface.calls",
    "load_case": "interface.inputs",
    "load_rule_set": "interface.inputs",
    "parse_case": "case.load",
    "read_report": "interface.calls",
    "rule_sets": "interface.calls",
    "screen": "interface.calls",
    "use_library": "interface.calls",
}

# Not shown to type checkers, so that a name that there is not is an error for them.
if not TYPE_CHECKING:

    def __getattr__(name: str) -> object:
        if name not in _HOMES:
            raise AttributeError(f"module 'candidacy' has no attribute {name!r}")
        found = getattr(importlib.import_module(f"candidacy.{_HOMES[name]}"), name)
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted(__all__)
