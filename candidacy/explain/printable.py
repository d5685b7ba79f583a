"""Documents of which every text is safe to show; see `candidacy.foundation.visible`."""

import re
from typing import Any, TypeVar

from pydantic import BaseModel

from candidacy.foundation.visible import clean

_Document = TypeVar("_Document", bound=BaseModel)
_ESCAPED = re.compile(r"\\[bfnrtu]")
# A steering character (see `candidacy.foundation.visible`) in JSON text, where control characters are escaped.
_IN_JSON = re.compile(r"\\[bfnrtu]|[\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def printable(document: _Document) -> _Document:
    """A copy of a document in which every text is one line of visible characters.

    A line end becomes ⏎ and any other steering character becomes �, so that nothing is dropped unseen.
    The JSON form keeps texts as they are.
    """
    text = document.model_dump_json()
    # the second question is the exact one; the first, asked of nearly every document, is quick and says no too often
    if text.isprintable() and _ESCAPED.search(text) is None:
        return document
    if _IN_JSON.search(text) is None:
        return document
    return type(document).model_validate(_cleaned(document.model_dump()))


def _cleaned(part: Any) -> Any:
    if isinstance(part, str):
        return clean(part)
    if isinstance(part, dict):
        return {key: _cleaned(value) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return type(part)(_cleaned(value) for value in part)
    return part
