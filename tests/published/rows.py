"""Rows of published check values: each carries its source and how far that was verified."""

from dataclasses import dataclass, field
from typing import Any, get_args

import pytest

from candidacy.case.element import Tag
from candidacy.rules.libraries import shipped


@dataclass(frozen=True)
class Row:
    """One published check value.

    ``number`` is its number or section in the reference sheet, ``source`` a key of ``rulesets/sources.yaml`` or, where
    no rule needs it, a citation in words.
    """

    number: str
    given: Any
    expected: Any
    source: str
    tag: str
    settings: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        assert self.tag in get_args(Tag), self
        assert self.source in shipped().sources() or " " in self.source or self.source == "constructed", self

    def __str__(self) -> str:
        return f"{self.number}: {self.expected}"


def rows(*found: Row) -> Any:
    """Parametrise a test with rows."""
    return pytest.mark.parametrize("row", found, ids=str)
