"""Three-valued logic, cell by cell.

Source of the tables: Kleene SC. Introduction to Metamathematics. 1952, section 64 (strong three-valued connectives).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation.truth import Truth, all_of, any_of, at_least, negate, of

M, N, U = Truth.MET, Truth.NOT_MET, Truth.UNKNOWN
truths = st.sampled_from([M, N, U])

# left, right -> and, or
CELLS = [
    (M, M, M, M),
    (M, N, N, M),
    (M, U, U, M),
    (N, M, N, M),
    (N, N, N, N),
    (N, U, N, U),
    (U, M, U, M),
    (U, N, N, U),
    (U, U, U, U),
]


@pytest.mark.parametrize(("left", "right", "both", "either"), CELLS)
def test_every_cell_of_and_and_or(left: Truth, right: Truth, both: Truth, either: Truth) -> None:
    assert all_of([left, right]) is both
    assert any_of([left, right]) is either


@pytest.mark.parametrize(("part", "opposite"), [(M, N), (N, M), (U, U)])
def test_every_cell_of_not(part: Truth, opposite: Truth) -> None:
    assert negate(part) is opposite


def test_no_conditions_at_all_hold_together_and_none_of_them_holds() -> None:
    assert all_of([]) is M
    assert any_of([]) is N
    assert at_least(0, []) is M


def test_a_truth_is_never_taken_for_true_or_false() -> None:
    for truth in Truth:
        with pytest.raises(TypeError):
            bool(truth)
    assert of(True) is M
    assert of(False) is N


@given(st.lists(truths))
def test_de_morgan(parts: list[Truth]) -> None:
    assert negate(all_of(parts)) is any_of(map(negate, parts))
    assert negate(any_of(parts)) is all_of(map(negate, parts))


@given(st.lists(truths), st.randoms())
def test_order_never_matters(parts: list[Truth], rng: object) -> None:
    shuffled = sorted(parts, key=lambda _: rng.random())  # type: ignore[attr-defined]
    for join in (all_of, any_of, lambda some: at_least(2, some)):
        assert join(parts) is join(shuffled)


def worlds(parts: list[Truth]) -> list[list[bool]]:
    """Every way in which the unknown ones may turn out."""
    found: list[list[bool]] = [[]]
    for part in parts:
        ways = (True, False) if part is U else (part is M,)
        found = [[*world, way] for world in found for way in ways]
    return found


def agreed(answers: list[bool]) -> Truth:
    return of(answers[0]) if len(set(answers)) == 1 else U


@given(st.lists(truths, max_size=7), st.integers(0, 8))
def test_a_join_is_settled_exactly_where_every_way_the_unknown_may_turn_out_agrees(
    parts: list[Truth], needed: int
) -> None:
    # holds because no condition stands twice in a list; this is what strong Kleene logic promises for such lists
    ways = worlds(parts)
    assert all_of(parts) is agreed([all(world) for world in ways])
    assert any_of(parts) is agreed([any(world) for world in ways])
    assert at_least(needed, parts) is agreed([sum(world) >= needed for world in ways])


@given(st.lists(truths))
def test_at_least_one_is_or_and_at_least_all_is_and(parts: list[Truth]) -> None:
    assert at_least(1, parts) is any_of(parts)
    assert at_least(len(parts), parts) is all_of(parts)
