"""Plain data handed over in Python (mappings, lists, scalars) as the tree that a file would give, with the same refusals."""

import math
from collections.abc import Mapping
from datetime import date, datetime

from candidacy.foundation.errors import Code, InputError, Problem, shorten, shown
from candidacy.foundation.files import MAX_DEPTH, MAX_PROBLEMS, Node, not_printable

_LONGEST = 10**15
Steps = tuple[str | int, ...]


def tree_of(data: Mapping[str, object], name: str) -> Node:
    """Turn plain data into a tree without places.

    A ``date``, which other readers of YAML make of a date, counts as its text; nothing else is turned into anything.

    Raises
    ------
    InputError
        E103, E107, E108 and E203 with every part that no file could hold: a key that is no text, a number that is not
        finite or has more than 15 digits, characters that may not stand in a file, an object of another kind.
    """
    problems: list[Problem] = []
    tree = _node(data, (), name, problems)
    if problems:
        raise InputError(problems[:MAX_PROBLEMS])
    return tree


def _node(data: object, path: Steps, name: str, problems: list[Problem]) -> Node:
    def refuse(code: Code, message: str, expected: str, found: str = "") -> Node:
        field = ".".join(str(step) for step in path)
        problems.append(
            Problem(code, message, name, field=field, found=found or shown(data), expected=expected)
        )
        return Node(None, 0, 0, refused=True)

    if len(path) > MAX_DEPTH:
        return refuse(
            Code.TOO_DEEP, "nested too deeply", f"at most {MAX_DEPTH} levels", found="a circle, perhaps"
        )
    if isinstance(data, Mapping):
        strange = [key for key in data if type(key) is not str]
        if strange:
            return refuse(Code.WRONG_TYPE, "a key must be text", "text", found=_kind(strange[0]))
        return Node({key: _node(part, (*path, key), name, problems) for key, part in data.items()}, 0, 0)
    if isinstance(data, list | tuple):
        return Node([_node(part, (*path, place), name, problems) for place, part in enumerate(data)], 0, 0)
    if isinstance(data, date) and not isinstance(data, datetime):
        return Node(data.isoformat(), 0, 0)
    if type(data) is str:
        stray = not_printable(data)
        if stray:
            return refuse(Code.NOT_TEXT, "a character that may not stand in a text file", "text", found=stray)
    elif type(data) is int or type(data) is float:
        if not math.isfinite(data) or (type(data) is int and abs(data) >= _LONGEST):
            return refuse(Code.BAD_SCALAR, "not a finite number of ordinary size", "a plain number",
                          found=shorten(data, 30))  # fmt: skip
    elif data is not None and type(data) is not bool:
        expected = "text, a number, true, false, None, a date, a list or a mapping"
        return refuse(Code.WRONG_TYPE, "not plain data", expected, found=_kind(data))
    return Node(data, 0, 0)


def _kind(thing: object) -> str:
    return f"{type(thing).__module__}.{type(thing).__name__}".removeprefix("builtins.")
