"""Validators of our models made from kept shapes, so that a start need not work each shape out from its class again.

For each model pydantic works out a core schema, from which a validator and a serializer are then made in no time. The
schema depends on nothing but our code and the versions of Python and pydantic, so it is kept as JSON under their digests, in the
way of `parsed`. Everything is still checked by the same validator, strictly; what is not worked out anew is only what to check.

A kept shape names classes of this program, their own methods and functions, which are looked up and never made or run in reading it.
Whatever is not whole is passed over, and pydantic builds the model as it would without this.
"""

import json
import sys
from pathlib import Path
from types import FunctionType
from typing import Any

import pydantic_core
from pydantic import BaseModel, ConfigDict

from candidacy.foundation.parsed import ROOMS, keep_of

HERE = Path(__file__).parent
_RUNTIME = f"{pydantic_core.__version__} {sys.version_info[0]}.{sys.version_info[1]}"
_BUILT = ("__pydantic_validator__", "__pydantic_serializer__")
# The only key of what is no JSON: ["class", name], ["method", class, name], ["function", name], ["tuple", ...] or ["dict"].
_SIGN = "$"


class _NotKept(Exception):
    """A shape that cannot be written down, or that what is kept does not give back."""


class Shaped(BaseModel):
    """A model whose validator is made from its kept shape when first needed; for models that declare ``defer_build``."""

    model_config = ConfigDict(defer_build=True)

    @classmethod
    def __pydantic_init_subclass__(cls, **given: Any) -> None:
        super().__pydantic_init_subclass__(**given)
        # the code of these rooms is in the digest under which shapes are kept
        if cls.__module__.split(".")[:2] in _OURS and cls.model_config.get("defer_build"):
            for name in _BUILT:
                setattr(cls, name, _Later(cls, name, vars(cls)[name]))


_OURS = [["candidacy", room] for room in ROOMS]


class _Later:
    """Stands for the validator or serializer of a model until one is asked for.

    ``building`` is what stands there otherwise: it has pydantic build the model.
    """

    def __init__(self, model: type[BaseModel], what: str, building: Any) -> None:
        self._model, self._what, self.building = model, what, building

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        _make(self._model)
        return getattr(getattr(self._model, self._what), name)


def keep_all() -> None:
    """Keep the shape of every model of this kind that is loaded; for the build of the package."""
    waiting: list[type[BaseModel]] = [Shaped]
    while waiting:
        model = waiting.pop()
        waiting += model.__subclasses__()
        if isinstance(vars(model).get(_BUILT[0]), _Later):
            _make(model)


def _make(model: type[BaseModel]) -> None:
    """Give a model its validator and serializer: from what is kept, else built, and then kept."""
    keep, name = keep_of(HERE), f"shape {_name(model)}"
    try:
        made = json.loads(keep.remembered(name, (_RUNTIME,)), object_hook=_found)
        built = [kind(*made) for kind in (pydantic_core.SchemaValidator, pydantic_core.SchemaSerializer)]
    except (_NotKept, ValueError, TypeError, KeyError, AttributeError, pydantic_core.SchemaError):
        for each in _BUILT:
            stands = vars(model)[each]
            if isinstance(stands, _Later):
                setattr(model, each, stands.building)
        model.model_rebuild()
        text = _written(model)
        if text:
            keep.remember(name, (_RUNTIME,), text)
        return
    for each, value in zip(_BUILT, built, strict=True):
        setattr(model, each, value)


def _written(model: type[BaseModel]) -> str:
    """The shape of a built model as JSON, or nothing where it does not come back the same."""
    try:
        from pydantic._internal._config import ConfigWrapper

        config = ConfigWrapper(model.model_config).core_config(title=model.__name__)
        shape = _without_notes(model.__pydantic_core_schema__)
        text = json.dumps(
            [_plain(shape), _plain(config)], ensure_ascii=False, separators=(",", ":"), allow_nan=False
        )
        same = json.loads(text, object_hook=_found) == [shape, config]
    except (_NotKept, ImportError, ValueError, TypeError, KeyError, AttributeError):
        return ""
    return text if same else ""


def _without_notes(shape: Any) -> Any:
    """A core schema without the notes that only the making of JSON Schema reads."""
    if isinstance(shape, list):
        return [_without_notes(each) for each in shape]
    if not isinstance(shape, dict):
        return shape
    noted = isinstance(shape.get("type"), str)
    return {key: _without_notes(each) for key, each in shape.items() if not (noted and key == "metadata")}


def _plain(value: Any) -> Any:
    kind = type(value)
    if value is None or kind in (str, bool, int, float):
        return value
    if kind is list:
        return [_plain(each) for each in value]
    if kind is dict and _SIGN not in value and all(type(key) is str for key in value):
        return {key: _plain(each) for key, each in value.items()}
    if kind is tuple:
        return {_SIGN: ["tuple", *(_plain(each) for each in value)]}
    if value is dict:
        return {_SIGN: ["dict"]}
    if isinstance(value, type) and issubclass(value, BaseModel):
        return {_SIGN: ["class", _name(value)]}
    if hasattr(value, "__qualname__"):
        owner, _, name = value.__qualname__.rpartition(".")
        if not owner:
            return {_SIGN: ["function", f"{value.__module__}:{name}"]}
        return {_SIGN: ["method", f"{value.__module__}:{owner}", name]}
    raise _NotKept


def _found(given: dict[str, Any]) -> Any:
    """What a mapping of a kept shape stands for."""
    if _SIGN not in given:
        return given
    kind, *rest = given[_SIGN]
    if kind == "tuple":
        return tuple(rest)
    if kind == "dict":
        return dict
    if kind == "function":
        return _function(rest[0])
    found = _class(rest[0])
    return found if kind == "class" else vars(found)[rest[1]].__get__(None, found)


def _loaded(name: str) -> Any:
    """What bears a name in a module of these rooms that this program has loaded."""
    module, _, path = name.partition(":")
    if module.split(".")[:2] not in _OURS:
        raise _NotKept
    return vars(sys.modules[module])[path]


def _function(name: str) -> FunctionType:
    found = _loaded(name)
    if not isinstance(found, FunctionType) or name != f"{found.__module__}:{found.__qualname__}":
        raise _NotKept
    return found


def _class(name: str) -> type[BaseModel]:
    found = _loaded(name)
    if not (isinstance(found, type) and issubclass(found, BaseModel) and _name(found) == name):
        raise _NotKept
    return found


def _name(model: type) -> str:
    return f"{model.__module__}:{model.__qualname__}"
