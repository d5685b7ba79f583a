"""Merkle trees over the entries of the trail (RFC 9162, section 2.1, SHA-256): heads, and proofs against a head.

A head of 32 bytes stands for every entry before it and their order. Who holds a printed head can tell later whether any
of those entries was altered, removed, reordered or inserted, even by somebody who could rewrite the whole store.
"""

import hashlib
from collections.abc import Iterable, Sequence

EMPTY = hashlib.sha256(b"").digest()


def leaf_hash(entry: bytes) -> bytes:
    """Hash of one entry."""
    return hashlib.sha256(b"\x00" + entry).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of two subtrees."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def head(leaves: Sequence[bytes]) -> bytes:
    """The head of a tree of leaf hashes; of none, the hash of nothing.

    Examples
    --------
    >>> head([]).hex()[:16]
    'e3b0c44298fc1c14'
    """
    frontier = Frontier()
    for leaf in leaves:
        frontier.append(leaf)
    return frontier.head


class Frontier:
    """A tree that only grows: the heads of its whole subtrees, largest first, from which its head follows.

    Parameters
    ----------
    size
        How many entries it holds.
    peaks
        One hash for each bit that is set in ``size``, from the highest.
    """

    def __init__(self, size: int = 0, peaks: Iterable[bytes] = ()) -> None:
        self.size = size
        self.peaks = list(peaks)
        if len(self.peaks) != size.bit_count():
            raise ValueError(f"{len(self.peaks)} subtrees for {size} entries")

    def append(self, leaf: bytes) -> None:
        """Add a leaf hash."""
        carry, size = leaf, self.size
        while size & 1:
            carry, size = node_hash(self.peaks.pop(), carry), size >> 1
        self.peaks.append(carry)
        self.size += 1

    @property
    def head(self) -> bytes:
        """The head as it stands; an odd subtree is carried up, never doubled."""
        if not self.peaks:
            return EMPTY
        found = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            found = node_hash(peak, found)
        return found


def inclusion_proof(place: int, leaves: Sequence[bytes]) -> list[bytes]:
    """The hashes that lead from the entry at ``place`` (from 0) to the head, lowest first (section 2.1.3).

    Raises
    ------
    IndexError
        If there is no entry at that place.
    """
    if not 0 <= place < len(leaves):
        raise IndexError(place)
    if len(leaves) == 1:
        return []
    cut = _split(len(leaves))
    if place < cut:
        return [*inclusion_proof(place, leaves[:cut]), head(leaves[cut:])]
    return [*inclusion_proof(place - cut, leaves[cut:]), head(leaves[:cut])]


def head_by_proof(leaf: bytes, place: int, size: int, proof: Sequence[bytes]) -> bytes | None:
    """The head that an inclusion proof leads to, or ``None`` where it fits no tree of that size (section 2.1.3)."""
    if not 0 <= place < size:
        return None
    found, at, last = leaf, place, size - 1
    for sibling in proof:
        if last == 0:
            return None
        if at & 1 or at == last:
            found = node_hash(sibling, found)
            while at and not at & 1:
                at, last = at >> 1, last >> 1
        else:
            found = node_hash(found, sibling)
        at, last = at >> 1, last >> 1
    return found if last == 0 else None


def _split(size: int) -> int:
    """The largest power of two below ``size``."""
    return int(1 << ((size - 1).bit_length() - 1))
