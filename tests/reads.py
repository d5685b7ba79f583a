"""Small helpers of tests: a criterion from a few lines of YAML, read on a case from a few lines of YAML."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import yaml

from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.assessment.view import View
from candidacy.case.load import Case, parse_case
from candidacy.foundation.values import Options
from candidacy.rules.criterion import Criterion
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import ResolvedCriterion, as_declared

AS_OF = date(2026, 11, 25)
_CITE = {"source": "test_rules", "tag": "local"}


def criterion(when: str, **more: Any) -> ResolvedCriterion:
    """A criterion with this condition; ``parameters`` may be plain values or (value, unit)."""
    parameters = {}
    for name, given in more.pop("parameters", {}).items():
        value, unit = given if isinstance(given, tuple) else (given, None)
        parameters[name] = {
            "value": value,
            "unit": unit,
            "meaning": "Invented for a test",
            "cites": [{**_CITE, "supports": "value"}],
        }
    for key in ("applies_when", "recency"):
        if isinstance(more.get(key), str):
            more[key] = yaml.safe_load(more[key])
    return as_declared(
        Criterion.model_validate(
            {
                "id": "test_criterion",
                "kind": "inclusion",
                "title": "Test",
                "subject": "patient",
                "group": "who",
                "force": "absolute",
                "status": "draft",
                "version": "0.1.0",
                "checked_on": "2026-11-25",
                "why": "Test.",
                "when": yaml.safe_load(when),
                "parameters": parameters,
                "if_unknown": "ask",
                "ask_for": "Test",
                "cites": [{**_CITE, "supports": "use"}],
                "changes": [{"version": "0.1.0", "date": "2026-11-25", "change": "First draft."}],
                **more,
            }
        )
    )


def case_of(body: str = "") -> Case:
    """A case with these facts."""
    return parse_case(f'schema_version: "1"\nid: example\n{body}', "case.yaml")


def view_of(body: str = "", as_of: date = AS_OF, standings: Mapping[str, set[str]] | None = None) -> View:
    """A case as seen with the shipped settings and tables."""
    library = shipped()
    settings = {name: setting.value for name, setting in library.settings().items()}
    view = View(case_of(body).facts, as_of, settings, library.tables())
    view.settle_discs({level: Options(frozenset(some)) for level, some in (standings or {}).items()})
    return view


def read(item: ResolvedCriterion, body: str = "", subject: str = "patient", **more: Any) -> Evaluation:
    """Read a criterion on a case."""
    return CompiledCriterion(item).read(view_of(body, **more), subject)
