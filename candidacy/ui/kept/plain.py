"""Values of the desk as JSON-ready data, and back: records, dates, tuples, sets, and the program's own classes.

Data names a class of this program by its place. Only what is built from fields alone is ever made from data:
named tuples, structs, dataclasses, enumerations and pydantic models of `candidacy`.
"""

import importlib
import json
from datetime import date
from enum import Enum
from functools import cache
from typing import Any

from pydantic import BaseModel, ValidationError

_KIND, _HELD = "=", "of"
_ROWS = {"tuple": tuple, "set": set, "frozenset": frozenset}
_HOME = "candidacy."


def to_plain(value: Any) -> Any:
    """Give a value as JSON-ready data.

    Raises
    ------
    TypeError
        If it holds something that is not built from fields, such as a running job.
    """
    if value is None or (isinstance(value, (str, bool, int, float)) and not isinstance(value, Enum)):
        return value
    if type(value) is list:
        return [to_plain(v) for v in value]
    if type(value) is dict:
        if _KIND not in value and all(type(k) is str for k in value):
            return {k: to_plain(v) for k, v in value.items()}
        return _tagged("dict", [[to_plain(k), to_plain(v)] for k, v in value.items()])
    name = type(value).__name__
    if _ROWS.get(name) is type(value):
        rows = value if name == "tuple" else sorted(value, key=repr)  # the same set gives the same data
        return _tagged(name, [to_plain(v) for v in rows])
    if type(value) is date:
        return _tagged("date", value.isoformat())
    place = f"{type(value).__module__}:{type(value).__qualname__}"
    try:
        _built(place)
    except ValueError as error:
        raise TypeError(str(error)) from None
    if isinstance(value, BaseModel):
        return _tagged(place, value.model_dump(mode="json", exclude_unset=True))
    if isinstance(value, Enum):
        return _tagged(place, value.name)
    return _tagged(place, {n: to_plain(getattr(value, n)) for n in _names(type(value))})


def from_plain(data: Any) -> Any:
    """Make the value again that `to_plain` gave.

    Raises
    ------
    ValueError
        If the data does not fit, as after a change of the program.
    """
    if isinstance(data, list):
        return [from_plain(v) for v in data]
    if not isinstance(data, dict):
        return data
    if _KIND not in data:
        return {k: from_plain(v) for k, v in data.items()}
    kind, held = data[_KIND], data[_HELD]
    if kind == "dict":
        return {from_plain(k): from_plain(v) for k, v in held}
    if kind in _ROWS:
        return _ROWS[kind](from_plain(v) for v in held)
    if kind == "date":
        return date.fromisoformat(held)
    found = _built(kind)
    try:
        if issubclass(found, BaseModel):
            return found.model_validate_json(json.dumps(held))
        if issubclass(found, Enum):
            return found[held]
        return found(**{n: from_plain(v) for n, v in held.items()})
    except (TypeError, KeyError, ValidationError) as error:
        raise ValueError(f"does not fit {kind}: {type(error).__name__}") from None


@cache
def _built(place: str) -> Any:
    """The class of a place in this program that is built from fields alone.

    Raises
    ------
    ValueError
        If there is none.
    """
    module, _, name = place.partition(":")
    if not module.startswith(_HOME) or "__" in module:  # `__main__` would run the program
        raise ValueError(f"no class of this program: {place[:80]}")
    try:
        found = getattr(importlib.import_module(module), name)
    except (ImportError, AttributeError):
        raise ValueError(f"no class of this program: {place[:80]}") from None
    if not isinstance(found, type) or not (issubclass(found, (BaseModel, Enum)) or _names(found)):
        raise ValueError(f"not built from fields: {place[:80]}")
    return found


def _names(kind: type) -> tuple[str, ...]:
    """The fields of a class that is built from fields alone; of any other, none."""
    for named in ("_fields", "__struct_fields__", "__dataclass_fields__"):
        if hasattr(kind, named):
            return tuple(getattr(kind, named))
    return ()


def _tagged(kind: str, held: Any) -> dict[str, Any]:
    return {_KIND: kind, _HELD: held}
