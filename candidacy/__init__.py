"""Explained decision support for lumbar intradiscal tissue and cell injection.

It evaluates a case record against declared rule sets and says of each criterion pass, fail or
undetermined, with the rule, the value, its source and what is missing. It supports a decision by a
licensed clinician and never makes one.

The public names below load when first used, so that a cold start stays quick::

    from candidacy import assess_case, build_document, load_case, load_rule_set
"""

import importlib
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "Assessment": "candidacy.assessment.assess",
    "AssessmentDocument": "candidacy.explain.document",
    "Case": "candidacy.case.load",
    "CaseError": "candidacy.foundation.errors",
    "CaseRecord": "candidacy.case.record",
    "InputError": "candidacy.foundation.errors",
    "Problem": "candidacy.foundation.errors",
    "RuleError": "candidacy.foundation.errors",
    "RuleSet": "candidacy.rules.resolved",
    "build_document": "candidacy.explain.build",
    "case_from_record": "candidacy.case.load",
    "case_to_yaml": "candidacy.case.load",
    "catalogue": "candidacy.case.catalogue",
    "compare": "candidacy.explain.compare",
    "describe_rule_set": "candidacy.explain.ruleset",
    "load_case": "candidacy.case.load",
    "load_rule_set": "candidacy.rules.library",
    "parse_case": "candidacy.case.load",
}
# "assess" and "shipped" are modules of this package, so these functions go by names of their own here.
_RENAMED = {
    "assess_case": ("candidacy.assessment.assess", "assess"),
    "shipped_library": ("candidacy.rules.library", "shipped"),
    "use_library": ("candidacy.check.opening", "opened"),
}
__all__ = ["__version__", *_PUBLIC, *_RENAMED]


def __getattr__(name: str) -> Any:
    if name in _PUBLIC:
        return getattr(importlib.import_module(_PUBLIC[name]), name)
    if name in _RENAMED:
        module, attribute = _RENAMED[name]
        return getattr(importlib.import_module(module), attribute)
    raise AttributeError(f"module 'candidacy' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
