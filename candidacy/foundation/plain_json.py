"""JSON that is plainly well formed, read at once and without places.

Most records that a program wrote are right, and to note where each value stands takes three times as long as all
else. Whatever is not plain here, `candidacy.foundation.files` reads and tells what is wrong and where.
"""

import json
import re
from typing import Any

from candidacy.foundation import files


def plain_json(text: str) -> Any:
    """The content of JSON text, as `files.parse` gives it; ``None`` where it is no JSON, or not plainly well formed."""
    text = text.removeprefix("\ufeff")
    if len(text) > files.MAX_BYTES or not text.startswith("{") or files.not_printable(text):
        return None
    try:
        found = _reader.decode(text)
    except (ValueError, RecursionError):
        return None
    if _HALF.search(text) and files.not_printable(json.dumps(found, ensure_ascii=False)):
        return None
    return None if _deeper(found, files.MAX_DEPTH) else found


# YAML has keys of at most 1 024 signs as written (1.2.2, 7.4.2), and each of these may be written as six.
_LONGEST_KEY = 150
# Two escapes may make one character; one of them alone is half a character, which is written in no file.
_HALF = re.compile(r"\\u[dD]")


class _NotPlainError(ValueError):
    """Something that the reader with places has to look at."""


def _mapping(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs) or any(len(key) > _LONGEST_KEY for key in found):
        raise _NotPlainError
    return found


def _deeper(value: Any, levels: int) -> bool:
    if isinstance(value, dict):
        return levels == 0 or any(_deeper(part, levels - 1) for part in value.values())
    return isinstance(value, list) and (levels == 0 or any(_deeper(part, levels - 1) for part in value))


def _integer(text: str) -> int:
    value = files.number(text)
    if not isinstance(value, int):
        raise _NotPlainError
    return value


def _float(text: str) -> float:
    value = files.number(text)
    if not isinstance(value, float):
        raise _NotPlainError
    return value


def _constant(text: str) -> Any:
    raise _NotPlainError(text)


_reader = json.JSONDecoder(
    object_pairs_hook=_mapping, parse_int=_integer, parse_float=_float, parse_constant=_constant
)
