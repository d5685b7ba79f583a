"""The JSON Schema of a case record, with every data element, its units, codes and ranges."""

from typing import Any

from candidacy.case.catalogue import LEVELS, LISTS, Element, catalogue
from candidacy.case.record import CaseRecord


def case_schema() -> dict[str, Any]:
    """The schema of `CaseRecord`, narrowed per element from the catalogue (JSON Schema 2020-12)."""
    schema = CaseRecord.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "candidacy case record"
    properties = schema["properties"]
    properties["patient"] = _table("patient")
    properties["discs"] = {
        "type": "object",
        "description": "One entry per lumbar disc, by level.",
        "properties": {level: {"$ref": "#/$defs/disc"} for level in LEVELS},
        "patternProperties": {"^[TLSls][0-9]{1,2}\\s*[-/–]\\s*[TLSls]?[0-9]{1,2}$": {"$ref": "#/$defs/disc"}},
        "additionalProperties": False,
    }
    schema["$defs"]["disc"] = _table("disc")
    for kind in _SHARED:
        example = next(element for element in catalogue().all if element.kind == kind)
        schema["$defs"][kind] = _fact(example)
    for name, scope in LISTS.items():
        properties[name] = {
            "anyOf": [
                {
                    "type": "object",
                    "properties": {
                        "complete": {
                            "type": "boolean",
                            "description": "True where there are no other entries.",
                        },
                        "entries": {"type": "array", "items": _table(scope)},
                    },
                    "additionalProperties": False,
                },
                {"type": "null"},
            ]
        }
    return schema


def _table(scope: str) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {name: _entry(element) for name, element in catalogue().statable(scope).items()},
        "additionalProperties": False,
    }


def _entry(element: Element) -> dict[str, Any]:
    if element.kind in _SHARED:
        return {"description": element.meaning, "$ref": f"#/$defs/{element.kind}"}
    return {"description": element.meaning, **_fact(element)}


def _fact(element: Element) -> dict[str, Any]:
    value = _value(element)
    keys: dict[str, Any] = {"value": value}
    imprecise: list[str] = []
    if element.kind in ("number", "integer"):
        imprecise = ["at_least", "at_most", "more_than", "less_than"]
        keys["between"] = {"type": "array", "items": value, "minItems": 2, "maxItems": 2}
        keys["one_of"] = {"type": "array", "items": value, "minItems": 1}
    elif element.kind == "date":
        imprecise = ["not_before", "not_after"]
        keys["between"] = {"type": "array", "items": value, "minItems": 2, "maxItems": 2}
    elif element.kind == "choice":
        keys["one_of"] = {"type": "array", "items": value, "minItems": 1}
    elif element.kind == "members":
        keys["includes"] = value
    keys.update(dict.fromkeys(imprecise, value))
    if element.unit is not None:
        allowed = element.accepted_units
        keys["unit"] = {
            "type": "string",
            "description": f"one of {', '.join(allowed)}, or another spelling of them",
        }
    for name in ("unknown", "source", "date", "words", "by", "note"):
        keys[name] = {"$ref": f"#/$defs/FactEntry/properties/{name}"}
    long_form: dict[str, Any] = {"type": "object", "properties": keys, "additionalProperties": False}
    if element.unit is not None:
        long_form["anyOf"] = [{"required": ["unit"]}, {"required": ["unknown"]}]
        return long_form
    return {"anyOf": [value, long_form]}


# Kinds whose facts look the same for every element, described once.
_SHARED = ("boolean", "date", "words")


def _value(element: Element) -> dict[str, Any]:
    if element.kind in ("number", "integer"):
        return {"type": element.kind}
    if element.kind == "boolean":
        return {"type": "boolean"}
    if element.kind == "choice":
        return {"enum": list(element.codes)}
    if element.kind == "members":
        items = {"type": "string"} if element.levels else {"enum": list(element.codes)}
        return {"type": "array", "items": items}
    if element.kind == "date":
        return {"type": "string", "pattern": "^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$"}
    return {"type": "string"}
