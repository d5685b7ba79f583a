"""Check a tree read from a file against a strict pydantic model, and tell what is wrong with places and plain words."""

from collections.abc import Callable, Iterator
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from candidacy.foundation.errors import Code, InputError, Problem, shorten, shown
from candidacy.foundation.files import MAX_PROBLEMS, Node, Placed, nearest

_Model = TypeVar("_Model", bound=BaseModel)
KnownKeys = Callable[[tuple[Any, ...]], list[str]]

# What pydantic calls the kinds of a YAML or JSON value.
_KINDS = {
    "bool_type": "true or false",
    "int_type": "a whole number",
    "float_type": "a number",
    "string_type": "text, in quotes",
    "tuple_type": "a list",
    "dict_type": "keys with values",
    "model_type": "keys with values",
    "model_attributes_type": "keys with values",
}


def validate(model: type[_Model], tree: Placed, name: str, known_keys: KnownKeys | None = None) -> _Model:
    """Check a tree against a strict pydantic model and translate its findings to places in the file.

    Parameters
    ----------
    known_keys
        Given the path of a mapping, the keys it may have, for "did you mean"; without it those of the model.

    Raises
    ------
    InputError
        With one problem per finding (E201 unknown key, E202 missing key, E203 wrong type or shape).
    """
    try:
        return model.model_validate(tree.plain())
    except ValidationError as error:
        keys = known_keys or (lambda path: keys_at(model, path))
        raise InputError(list(translate(error, tree, name, keys))[:MAX_PROBLEMS]) from None


def keys_at(model: type[BaseModel], path: tuple[Any, ...]) -> list[str]:
    """The keys that may stand at a path of a file of this model, as they are written there."""
    forms: list[Any] = [model]
    for step in path:
        forms = [inner for form in forms for inner in _inside(form, step)]
    keys = (
        field.alias or name for form in forms if _is_model(form) for name, field in form.model_fields.items()
    )
    return list(dict.fromkeys(keys))


def _inside(form: Any, step: object) -> Iterator[Any]:
    """Forms that what stands under a key, or at a place of a list, may have."""
    if _is_model(form):
        for name, field in form.model_fields.items():
            if step in (name, field.alias):
                yield from _forms(field.annotation)
    elif get_origin(form) is dict:
        yield from _forms(get_args(form)[1])
    elif get_origin(form) in (tuple, list) and isinstance(step, int):
        yield from _forms(get_args(form)[0])


def _forms(annotation: Any) -> Iterator[Any]:
    """The single forms of an annotation that leaves a choice between several."""
    if get_origin(annotation) is Annotated:
        yield from _forms(get_args(annotation)[0])
    elif get_origin(annotation) in (Union, UnionType):
        for each in get_args(annotation):
            yield from _forms(each)
    else:
        yield annotation


def _is_model(form: Any) -> bool:
    return isinstance(form, type) and issubclass(form, BaseModel)


def translate(error: ValidationError, tree: Placed, name: str, known_keys: KnownKeys) -> Iterator[Problem]:
    """Turn pydantic's findings into ours, in line order.

    Where a value may have several forms, pydantic reports each form it is not; they become one finding,
    or none where a finding inside the value says more.
    """
    keys: dict[tuple[Any, ...], Problem] = {}
    forms: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for item in error.errors(include_url=False, include_context=False):
        path = _written(tree, tuple(item["loc"]))
        if item["type"] == "extra_forbidden":
            keys[path] = _unknown_key(path, tree, name, known_keys)
        elif item["type"] == "missing":
            node, path = tree.at(path), (*path, str(item["loc"][-1]))
            keys[path] = Problem(
                Code.MISSING_KEY, "a required key is missing", name, node.line, node.column, _label(path)
            )
        else:
            forms.setdefault(path, []).append(dict(item))
    found = list(keys.values())
    for path, items in forms.items():
        inside = any(len(other) > len(path) and other[: len(path)] == path for other in (*keys, *forms))
        # a list counts only entries that are right, so one of which some are wrong may seem too short
        if inside and all(item["type"] in _KINDS or item["type"] == "too_short" for item in items):
            continue
        found.append(_wrong_form(path, items, tree.at(path), name))
    yield from sorted(dict.fromkeys(found), key=lambda p: (p.line, p.column))


def _written(tree: Placed, path: tuple[Any, ...]) -> tuple[Any, ...]:
    """The steps of pydantic's path that stand in the file; the others name forms a value may have."""
    steps: list[Any] = []
    for step in path:
        before = tree.at(tuple(steps))
        if tree.at((*steps, step)) is not before:
            steps.append(step)
    return tuple(steps)


def _label(path: tuple[Any, ...]) -> str:
    return ".".join(str(step) for step in path)


def _unknown_key(path: tuple[Any, ...], tree: Placed, name: str, known_keys: KnownKeys) -> Problem:
    key = str(path[-1])
    line, column = tree.at(path[:-1]).key_place(key)
    allowed = known_keys(path[:-1])
    close = nearest(key, allowed)
    return Problem(
        Code.UNKNOWN_KEY,
        "unknown key",
        name,
        line,
        column,
        field=_label(path),
        found=shorten(key),
        expected=("closest is " + close) if close else ", ".join(allowed),
    )


def _wrong_form(path: tuple[Any, ...], items: list[dict[str, Any]], node: Node, name: str) -> Problem:
    wanted = [_KINDS.get(item["type"]) or _plain(item["msg"]) for item in items]
    return Problem(
        Code.WRONG_TYPE,
        "not of the expected form",
        name,
        node.line,
        node.column,
        field=_label(path),
        found=shown(node.plain()),
        expected=" or ".join(dict.fromkeys(wanted)),
    )


def _plain(message: str) -> str:
    for technical, plain in (
        ("Input should be ", ""),
        ("Value error, ", ""),
        ("Tuple should", "the list should"),
        ("String should have at least 1 character", "text that is not empty"),
        (" after validation", ""),
    ):
        message = message.replace(technical, plain)
    return message
