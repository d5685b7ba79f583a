"""The JSON Schema of the cases beside a criterion."""

from typing import Any

from candidacy.case.json_schema import narrow
from candidacy.foundation.described import schema_of
from candidacy.rules.criterion_cases import CaseFile


def criterion_cases_schema() -> dict[str, Any]:
    """The schema of ``<id>.cases.yaml``: a list of cases, or that list under ``cases`` (JSON Schema 2020-12)."""
    schema = schema_of(CaseFile, "criterion_cases", "candidacy cases beside a criterion")
    narrow(schema, schema["$defs"]["CriterionCase"]["properties"], either=("given",))
    form = {key: schema.pop(key) for key in ("type", "properties", "required", "additionalProperties")}
    schema["anyOf"] = [form["properties"]["cases"], form]
    return schema
