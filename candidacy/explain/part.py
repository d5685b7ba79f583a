"""What every part of a published document is: strict, closed, and never changed."""

from typing import Any, Literal, Self

from pydantic import BaseModel, ConfigDict

from candidacy.foundation.kept_shapes import Shaped

TruthWord = Literal["met", "not_met", "unknown"]
# Where pydantic keeps what an instance is made of; half the time of asking for each by its name.
_put_values, _put_fields, _put_extra, _put_private = (
    vars(BaseModel)[name].__set__
    for name in ("__dict__", "__pydantic_fields_set__", "__pydantic_extra__", "__pydantic_private__")
)
_fields: dict[type, set[str]] = {}


class Part(Shaped):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)

    @classmethod
    def of(cls, **values: Any) -> Self:
        """A part made of values of our own: every field in its order, and none checked again.

        For the parts of which a document has hundreds; the tests hold what is made so against the shape.
        """
        made = object.__new__(cls)
        _put_values(made, values)
        # one set for all of a kind: nothing changes it, and a copy of a part makes a set of its own
        fields = _fields.get(cls)
        if fields is None:
            fields = _fields[cls] = set(cls.model_fields)
        _put_fields(made, fields)
        _put_extra(made, None)
        _put_private(made, None)
        return made
