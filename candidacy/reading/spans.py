"""Which of many stretches of text touch a given one, found without looking at each."""

from bisect import bisect_left
from collections.abc import Sequence

from candidacy.reading.model import Span


class Stretches:
    """Stretches in the order of the text that do not overlap one another."""

    def __init__(self, spans: Sequence[Span]) -> None:
        self._starts = [s.start for s in spans]
        self._ends = [s.end for s in spans]

    def touch(self, start: int, end: int) -> bool:
        """Say whether any of them shares a character with ``text[start:end]``."""
        at = bisect_left(self._starts, end) - 1  # the last that begins before the end
        return at >= 0 and self._ends[at] > start
