"""A thing like another but for some of its fields: `copy.replace` of Python 3.13."""

import dataclasses
from typing import Any, TypeVar

from msgspec import Struct, structs

_Kind = TypeVar("_Kind")


def replace(item: _Kind, /, **changes: Any) -> _Kind:
    """A copy of a ``Struct`` or of an instance of a dataclass, with other values in the fields that are named.

    Raises
    ------
    TypeError
        For a field that it does not have, or if it is neither.
    """
    if isinstance(item, Struct):
        return structs.replace(item, **changes)
    changed: _Kind = dataclasses.replace(item, **changes)  # type: ignore[type-var]
    return changed
