"""A changed copy of what data is made of."""

from dataclasses import dataclass

import pytest
from msgspec import Struct

from candidacy.foundation.changed_copy import replace


class Frozen(Struct, frozen=True):
    one: int
    other: str = "as it was"


@dataclass(frozen=True)
class Plain:
    one: int
    other: str = "as it was"


@pytest.mark.parametrize("kind", [Frozen, Plain])
def test_a_copy_has_the_new_value_and_all_others(kind: type) -> None:
    before = kind(1, "another")
    assert replace(before, one=2) == kind(2, "another")
    assert before == kind(1, "another")


@pytest.mark.parametrize("kind", [Frozen, Plain])
def test_a_field_that_is_not_there_is_refused(kind: type) -> None:
    with pytest.raises(TypeError, match="three"):
        replace(kind(1), three=3)


def test_what_is_neither_is_refused() -> None:
    with pytest.raises(TypeError):
        replace((1, 2), one=2)
