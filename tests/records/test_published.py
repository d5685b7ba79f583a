"""Canonical JSON, hashes and trees beside published vectors. Their sources: the test data of cyberphone/json-canonicalization
(RFC 8785) and of transparency-dev/merkle (RFC 9162), and values derived from them."""

import hashlib
import struct
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from candidacy.foundation.errors import Code, StoreError
from candidacy.records.canonical import ZERO, canonical, chained
from candidacy.records.merkle import (
    EMPTY,
    Frontier,
    head,
    head_by_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
)

LEAVES = ["", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"]
HEADS = {2: "fac54203e7cc696c", 3: "aeb6bcfe274b70a1", 4: "d37ee418976dd957", 5: "4e3bbb1f7b478dcf",
         6: "76e67dadbcdf1e10", 7: "ddb89be403809e32", 8: "5dc9da79a70659a9"}  # fmt: skip


@pytest.mark.parametrize(("content", "text"), [
    ([56, {"d": True, "10": None, "1": []}], '[56,{"1":[],"10":null,"d":true}]'),
    ([333333333.33333329, 1e30, 4.50, 2e-3, 1e-27], "[333333333.3333333,1e+30,4.5,0.002,1e-27]"),
    ({"1": 0, "10": 0, "": 56.0, "a": 0, "111": 0, "A": 0}, '{"":56,"1":0,"10":0,"111":0,"A":0,"a":0}'),
    ({"\ufb33": 1, "\U0001f602": 2}, '{"\U0001f602":2,"\ufb33":1}'),
    ("A\u030a", '"A\u030a"'),
    ([6.0, 1e-7, 2**53 - 1], "[6,1e-7,9007199254740991]"),
])  # fmt: skip
def test_canonical_json_is_that_of_rfc_8785(content: Any, text: str) -> None:
    assert canonical(content) == text.encode()


_SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(1 - 2**53, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
)
_TEXTS = st.text(st.characters(exclude_categories=["Cs"]))


@given(
    st.recursive(
        _SCALARS | _TEXTS, lambda inner: st.lists(inner) | st.dictionaries(_TEXTS, inner), max_leaves=8
    )
)
def test_whichever_way_it_is_written_it_is_what_the_library_of_rfc_8785_writes(content: Any) -> None:
    assert canonical(content) == rfc8785.dumps(content)


@pytest.mark.parametrize(("bits", "text"), [
    ("444b1ae4d6e2ef50", "1e+21"), ("3eb0c6f7a0b5ed8d", "0.000001"), ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("8000000000000000", "0"),
])  # fmt: skip
def test_numbers_are_written_as_by_ecmascript(bits: str, text: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(number) == text.encode()


@pytest.mark.parametrize(("content", "code"), [
    (float("nan"), Code.BAD_SCALAR), (float("inf"), Code.BAD_SCALAR), (2**53, Code.BAD_SCALAR), ("\ud800", Code.NOT_TEXT),
])  # fmt: skip
def test_what_has_no_canonical_form_is_refused(content: Any, code: Code) -> None:
    with pytest.raises(StoreError) as caught:
        canonical({"x": content})
    assert [problem.code for problem in caught.value.problems] == [code]


def test_a_chain_of_hashes_is_that_of_the_derived_values() -> None:
    prev, found = ZERO, []
    for seq, action in enumerate(("create", "evaluate", "override"), 1):
        _, prev = chained({"action": action, "object": "case-1", "seq": seq, "prev": prev})
        found.append(prev[:16])
    assert found == ["af58f3da544275a7", "fbd40aa067f390a3", "dc3ec8233f92d04c"]


def test_leaves_nodes_and_heads_are_those_of_rfc_9162() -> None:
    assert EMPTY.hex()[:16] == "e3b0c44298fc1c14"
    assert leaf_hash(b"").hex()[:16] == "6e340b9cffb37a98"
    assert leaf_hash(b"L123456").hex()[:16] == "395aa064aa4c29f7"
    assert node_hash(b"N123", b"N456").hex()[:16] == "aa217fe888e47007"
    leaves = [leaf_hash(bytes.fromhex(text)) for text in LEAVES]
    assert {size: head(leaves[:size]).hex()[:16] for size in HEADS} == HEADS


def test_the_published_proof_leads_to_the_head_and_no_other_does() -> None:
    leaves = [leaf_hash(bytes.fromhex(text)) for text in LEAVES]
    proof = inclusion_proof(0, leaves)
    assert [part.hex()[:8] for part in proof] == ["96a296d2", "5f083f0a", "6b47aaf2"]
    assert head_by_proof(leaves[0], 0, 8, proof) == head(leaves)
    for place, part in enumerate(proof):
        for bit in range(256):
            flipped = bytearray(part)
            flipped[bit // 8] ^= 1 << bit % 8
            other = [*proof[:place], bytes(flipped), *proof[place + 1 :]]
            assert head_by_proof(leaves[0], 0, 8, other) != head(leaves)


def by_definition(leaves: list[bytes]) -> bytes:
    """The head as section 2.1.1 defines it."""
    if len(leaves) < 2:
        return leaves[0] if leaves else hashlib.sha256().digest()
    cut = 1
    while cut * 2 < len(leaves):
        cut *= 2
    return hashlib.sha256(b"\x01" + by_definition(leaves[:cut]) + by_definition(leaves[cut:])).digest()


@given(st.integers(1, 70), st.data())
def test_a_growing_tree_and_its_proofs_agree_with_the_definition(size: int, data: st.DataObject) -> None:
    leaves = [leaf_hash(bytes([number])) for number in range(size)]
    frontier = Frontier()
    for leaf in leaves:
        frontier.append(leaf)
    again = Frontier(frontier.size, frontier.peaks)
    assert frontier.head == again.head == by_definition(leaves)
    place = data.draw(st.integers(0, size - 1))
    proof = inclusion_proof(place, leaves)
    assert head_by_proof(leaves[place], place, size, proof) == frontier.head
    other = data.draw(st.integers(0, size + 1))
    if other != place:
        assert head_by_proof(leaves[place], other, size, proof) != frontier.head
    assert head_by_proof(leaves[place], place, size, [*proof, leaves[0]]) != frontier.head


def test_a_frontier_of_another_size_and_a_place_beyond_are_refused() -> None:
    with pytest.raises(ValueError, match="subtrees"):
        Frontier(3, [b"x"])
    with pytest.raises(IndexError):
        inclusion_proof(2, [b"a", b"b"])
