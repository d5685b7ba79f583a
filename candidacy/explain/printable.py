"""Foreign text made safe to show: it can neither steer a terminal, nor start a line, nor turn the reading direction."""

import re
from typing import Any, TypeVar

from pydantic import BaseModel

_Document = TypeVar("_Document", bound=BaseModel)
_LINE_ENDS = re.compile("\r\n|[\n\r\v\f\x85\u2028\u2029]")
# Control characters, and the marks that override the direction of the text after them (Unicode UAX 9).
_STEERING = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
# The same in JSON text, where control characters are escaped.
_IN_JSON = re.compile(r"\\[bfnrtu]|[\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def printable(document: _Document) -> _Document:
    """A copy of a document in which every text is one line of visible characters.

    A line end becomes ⏎ and any other steering character becomes �, so that nothing is dropped unseen.
    The JSON form keeps texts as they are.
    """
    if _IN_JSON.search(document.model_dump_json()) is None:
        return document
    return type(document).model_validate(_cleaned(document.model_dump()))


def clean(text: str) -> str:
    """One text made safe to show."""
    return _STEERING.sub("�", _LINE_ENDS.sub("⏎", text.replace("\t", " ")))


def _cleaned(part: Any) -> Any:
    if isinstance(part, str):
        return clean(part)
    if isinstance(part, dict):
        return {key: _cleaned(value) for key, value in part.items()}
    if isinstance(part, list | tuple):
        return type(part)(_cleaned(value) for value in part)
    return part
