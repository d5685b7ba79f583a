"""Rules between keys of one mapping, in the words of JSON Schema. A key written as null counts as not written."""

from typing import Any

Shape = dict[str, Any]


def present(*keys: str) -> Shape:
    """Each of the keys is written."""
    return {"required": list(keys), "properties": {key: {"not": {"type": "null"}} for key in keys}}


def filled(*keys: str) -> Shape:
    """Each of the keys is written, and not as an empty text or list."""
    some: Shape = {"not": {"enum": [None, "", []]}}
    return {"required": list(keys), "properties": dict.fromkeys(keys, some)}


def absent(*keys: str) -> Shape:
    """None of the keys is written."""
    return {"properties": {key: {"type": "null"} for key in keys}}


def is_one_of(key: str, *values: object) -> Shape:
    """The key is written and has one of the values."""
    return {"required": [key], "properties": {key: {"enum": list(values)}}}


def both(*shapes: Shape) -> Shape:
    """All of the shapes."""
    return {"allOf": list(shapes)}


def one_of(*shapes: Shape) -> Shape:
    """Exactly one of the shapes."""
    return {"oneOf": list(shapes)}


def where(condition: Shape, then: Shape, otherwise: Shape | None = None) -> Shape:
    """One shape where a condition holds, and another, if any, where it does not."""
    found = {"if": condition, "then": then}
    return found if otherwise is None else {**found, "else": otherwise}
