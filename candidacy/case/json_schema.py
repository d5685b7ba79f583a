"""The JSON Schema of a case record, with every data element, its units, codes and ranges."""

from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, LISTS, Element, Range
from candidacy.case.record import CaseRecord, FactEntry
from candidacy.foundation.described import field_texts, schema_of


def case_schema() -> dict[str, Any]:
    """The schema of `CaseRecord`, narrowed per element from the catalogue (JSON Schema 2020-12)."""
    schema = schema_of(CaseRecord, "case", "candidacy case record")
    narrow(schema, schema["properties"])
    return schema


def narrow(schema: dict[str, Any], properties: dict[str, Any], *, either: tuple[str, ...] = ()) -> None:
    """Let the facts of a schema be those of the catalogue, each with its units, codes and range.

    Parameters
    ----------
    properties
        The properties of the schema that hold facts, named as in a case record.
    either
        Names of properties that hold facts of the patient or of a disc.
    """
    definitions = schema["$defs"]
    definitions |= {"patient": _table("patient"), "disc": _table("disc")}
    definitions["levels"] = {
        "type": "object",
        "properties": {
            level: {"$ref": "#/$defs/disc", "description": f"Facts of the disc {level}."} for level in LEVELS
        },
        "patternProperties": {"^[TLSls][0-9]{1,2}\\s*[-/–]\\s*[TLSls]?[0-9]{1,2}$": {"$ref": "#/$defs/disc"}},
        "additionalProperties": False,
    }
    for kind in _SHARED:
        example = next(element for element in catalogue().all if element.kind == kind)
        definitions[kind] = _fact(example)
    _refer(properties, "patient", "patient")
    _refer(properties, "discs", "levels")
    for name, scope in LISTS.items():
        definitions[name] = {"anyOf": [_list(scope), {"type": "null"}]}
        _refer(properties, name, name)
    if either:
        facts = {
            name: {"$ref": f"#/$defs/{scope}/properties/{name}"}
            for scope in ("patient", "disc")
            for name in definitions[scope]["properties"]
        }
        definitions["facts"] = {"type": "object", "properties": facts, "additionalProperties": False}
        for name in either:
            _refer(properties, name, "facts")
    definitions.pop("EntryList", None)


def _refer(properties: dict[str, Any], name: str, definition: str) -> None:
    properties[name] = {
        "$ref": f"#/$defs/{definition}",
        "description": properties[name]["description"],
    }


def _list(scope: str) -> dict[str, Any]:
    complete = {"type": ["boolean", "null"], "description": "True where there are no other entries."}
    described = {"source": "Key of a document of this record.", "date": "Day on which the list was complete."}
    told = {name: {"type": ["string", "null"], "description": words} for name, words in described.items()}
    entries = {"type": "array", "items": _table(scope), "description": "The entries, each with its facts."}
    taken_out = {"type": "array", "items": {"type": "integer", "minimum": 1},
                 "description": "Numbers, from 1, of entries that were taken out; no other entry bears them."}  # fmt: skip
    return {
        "type": "object",
        "properties": {"complete": complete, **told, "entries": entries, "taken_out": taken_out},
        "additionalProperties": False,
    }


def _table(scope: str) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {name: _entry(element) for name, element in catalogue().statable(scope).items()},
        "additionalProperties": False,
    }


def _entry(element: Element) -> dict[str, Any]:
    if element.kind in _SHARED:
        return {"description": _about(element), "$ref": f"#/$defs/{element.kind}"}
    return {"description": _about(element), **_fact(element)}


def _about(element: Element) -> str:
    """Meaning, unit and range of an element, in sentences."""
    parts = [element.meaning.rstrip(".") + "."]
    unit = f" {element.unit}" if element.unit else ""
    if element.unit:
        others = element.accepted_units[1:]
        parts.append(f"In {element.unit}" + (f"; also accepted: {', '.join(others)}." if others else "."))
    if element.possible is not None:
        parts.append(f"Possible: {_between(element.possible)}{unit}.")
    if element.likely is not None:
        parts.append(f"To be checked at the source outside {_between(element.likely)}{unit}.")
    if element.kind == "date":
        parts.append("A day, a month or a year.")
    if element.found_in:
        parts.append(f"Found in: {element.found_in.rstrip('.')}.")
    return " ".join(parts)


def _between(limits: Range) -> str:
    if limits.low is None:
        return "any number" if limits.high is None else f"up to {limits.high}"
    return f"from {limits.low}" if limits.high is None else f"{limits.low} to {limits.high}"


def _fact(element: Element) -> dict[str, Any]:
    value = _value(element)
    pair = {"type": "array", "items": value, "minItems": 2, "maxItems": 2}
    several = {"type": "array", "items": value, "minItems": 1}
    keys: dict[str, Any] = {"value": value}
    if element.kind in ("number", "integer"):
        keys |= {"between": pair, "one_of": several}
        keys |= dict.fromkeys(("at_least", "at_most", "more_than", "less_than"), value)
    elif element.kind == "date":
        keys |= {"between": pair} | dict.fromkeys(("not_before", "not_after"), value)
    elif element.kind == "choice":
        keys["one_of"] = several
    elif element.kind == "members":
        keys["includes"] = value
    long_form: dict[str, Any] = {
        "type": "object",
        "properties": {name: {**shape, "description": _SAYS[name]} for name, shape in keys.items()},
        "additionalProperties": False,
    }
    rest = long_form["properties"]
    if element.unit is not None:
        allowed = ", ".join(element.accepted_units)
        rest["unit"] = {"type": "string", "description": f"One of {allowed}, or another spelling of them."}
    for name in ("unknown", "source", "date", "words", "by", "note"):
        rest[name] = {"$ref": f"#/$defs/FactEntry/properties/{name}"}
    if element.unit is not None:
        long_form["anyOf"] = [{"required": ["unit"]}, {"required": ["unknown"]}]
        return long_form
    return {"anyOf": [value, long_form]}


_SAYS = field_texts(FactEntry)
# Kinds whose facts look the same for every element, described once.
_SHARED = ("boolean", "date", "words")


def _value(element: Element) -> dict[str, Any]:
    if element.kind in ("number", "integer"):
        return {"type": element.kind}
    if element.kind == "boolean":
        return {"type": "boolean"}
    if element.kind == "choice":
        return _codes(element)
    if element.kind == "members":
        items = {"type": "string"} if element.levels else _codes(element)
        return {"type": "array", "items": items}
    if element.kind == "date":
        return {"type": "string", "pattern": "^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?$"}
    return {"type": "string"}


def _codes(element: Element) -> dict[str, Any]:
    """The codes, with their meaning where an editor offers them."""
    return {"enum": list(element.codes), "enumDescriptions": list((element.choices or {}).values())}
