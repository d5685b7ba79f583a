"""The assessments of one desk: those on the page as they are, earlier ones as bytes, so that a desk holds few objects.

An assessment of a long case is ten thousand objects; many desks of many of them make every sweep for garbage long.
"""

import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from candidacy.explain.document import AssessmentDocument

KEPT = 32
"""How many assessments a desk keeps; what is beyond is worked out again."""
_FAST = 1  # of zlib: the ninth level takes five times as long for a fifth less


class Key(NamedTuple):
    """What an assessment follows from: digests of case and rule set, and the day."""

    case: str
    rule_set: str
    day: str


@dataclass
class Documents:
    """Assessments by what they follow from. Each belongs to one desk and its copies alone."""

    _whole: dict[Key, AssessmentDocument] = field(default_factory=dict)
    _packed: dict[Key, bytes] = field(default_factory=dict)
    _asked: set[Key] = field(default_factory=set)

    def get(self, key: Key, make: Callable[[], AssessmentDocument]) -> AssessmentDocument:
        """The assessment of a key; made if it is not kept. It stays the same object while every drawing
        asks for it, as long as no more than `KEPT` are asked for."""
        self._asked.add(key)
        found = self._whole.pop(key, None)
        if found is None:
            packed = self._packed.pop(key, None)
            found = make() if packed is None else _unpacked(packed)
        self._whole[key] = found  # the last asked for comes last
        if len(self._whole) > KEPT:
            del self._whole[next(iter(self._whole))]
        return found

    def settle(self) -> None:
        """Keep as they are those that were asked for since the last time; of the others the last `KEPT`, as bytes."""
        for key in [key for key in self._whole if key not in self._asked]:
            self._packed[key] = _packed(self._whole.pop(key))
        while self._packed and len(self._packed) + len(self._whole) > KEPT:
            del self._packed[next(iter(self._packed))]
        self._asked.clear()

    def holds(self, document: AssessmentDocument) -> bool:
        """Whether this very object is kept."""
        return any(document is kept for kept in self._whole.values())

    def clear(self) -> None:
        """Let go of all of them."""
        self._whole, self._packed, self._asked = {}, {}, set()

    def copy(self) -> "Documents":
        """Another keep with the same assessments, which never change."""
        return Documents(dict(self._whole), dict(self._packed))


def _packed(document: AssessmentDocument) -> bytes:
    return zlib.compress(document.model_dump_json().encode(), _FAST)


def _unpacked(packed: bytes) -> AssessmentDocument:
    return AssessmentDocument.model_validate_json(zlib.decompress(packed))
