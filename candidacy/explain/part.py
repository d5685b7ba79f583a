"""What every part of a published document is: strict, closed, and never changed."""

from typing import Any, Self

from pydantic import ConfigDict

from candidacy.foundation.kept_shapes import Shaped

_put = object.__setattr__
_fields: dict[type, set[str]] = {}


class Part(Shaped):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)

    @classmethod
    def of(cls, **values: Any) -> Self:
        """A part made of values of our own: every field in its order, and none checked again.

        For the parts of which a document has hundreds; the tests hold what is made so against the shape.
        """
        made = cls.__new__(cls)
        _put(made, "__dict__", values)
        # one set for all of a kind: nothing changes it, and a copy of a part makes a set of its own
        fields = _fields.get(cls)
        if fields is None:
            fields = _fields[cls] = set(cls.model_fields)
        _put(made, "__pydantic_fields_set__", fields)
        _put(made, "__pydantic_extra__", None)
        _put(made, "__pydantic_private__", None)
        return made
