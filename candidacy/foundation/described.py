"""The JSON Schema of a file, in which every field carries the text that stands under it in the source of its model.

The texts are read only where a schema is asked for: collected when classes are made, they would cost every start of
the program as much as loading the classes does.
"""

import ast
import inspect
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(model: type[BaseModel], name: str, title: str) -> dict[str, Any]:
    """The JSON Schema (2020-12) of a file of one kind.

    Parameters
    ----------
    name
        Name of the kind; it makes the identifier ``urn:candidacy:schema:NAME:1``, whose last part is raised when files
        that were accepted no longer are.
    title
        What such a file is, in a few words.
    """
    return headed(model.model_json_schema(by_alias=True, schema_generator=_Described), name, title)


def headed(schema: dict[str, Any], name: str, title: str) -> dict[str, Any]:
    """A schema with its dialect, its identifier and its title in front."""
    rest = {key: part for key, part in schema.items() if key not in ("$schema", "$id", "title")}
    return {"$schema": DIALECT, "$id": f"urn:candidacy:schema:{name}:1", "title": title, **rest}


class _Described(GenerateJsonSchema):
    def field_title_should_be_set(self, schema: Any) -> bool:
        return False  # a title made from the key says nothing more than the key

    def model_schema(self, schema: Any) -> JsonSchemaValue:
        found = super().model_schema(schema)
        model: type[BaseModel] = schema["cls"]
        found["description"] = _plain(inspect.getdoc(model) or "")
        texts = field_texts(model)
        for name, field in model.model_fields.items():
            part = found["properties"][field.alias or name]
            part["description"] = texts[name]
            if part.get("default", "") is None:
                del part["default"]  # an editor would write null where nothing is meant
        return found


def field_texts(model: type[BaseModel]) -> dict[str, str]:
    """Field to the text under it in the source, inherited ones included."""
    found: dict[str, str] = {}
    for each in reversed(model.__mro__):
        if issubclass(each, BaseModel) and each is not BaseModel:
            found |= _texts_of_module(each.__module__).get(each.__name__, {})
    return found


@cache
def _texts_of_module(name: str) -> dict[str, dict[str, str]]:
    tree = ast.parse(inspect.getsource(sys.modules[name]))
    return {part.name: dict(_fields(part)) for part in tree.body if isinstance(part, ast.ClassDef)}


def _fields(part: ast.ClassDef) -> Iterator[tuple[str, str]]:
    for field, text in zip(part.body, part.body[1:], strict=False):
        if not isinstance(field, ast.AnnAssign) or not isinstance(field.target, ast.Name):
            continue
        value = text.value if isinstance(text, ast.Expr) else None
        if isinstance(value, ast.Constant) and isinstance(value.value, str):
            yield field.target.id, _plain(value.value)


def _plain(text: str) -> str:
    """A docstring as one line an editor shows."""
    return " ".join(text.replace("``", "`").split())
