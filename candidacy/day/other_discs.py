"""Keeping every other disc off a page that is for the planned ones."""

import re

from candidacy.case.element import LEVELS


class OtherDiscs:
    """Knows the names of all discs but the planned ones, in the spellings in use ("L3-L4", "L3/4", "L3 - 4").

    Parameters
    ----------
    planned
        The planned discs.
    left_out
        What stands in the place of a text that names another disc.
    """

    def __init__(self, planned: tuple[str, ...], left_out: str) -> None:
        self._left_out = left_out
        names = []
        for level in LEVELS:
            if level not in planned:
                upper, lower = level.split("-")
                letter, number = lower[0], lower[1:]
                bare = "?" if letter == upper[0] else ""  # "L3/4", yet never "L5/1"
                names.append(rf"{upper}\s*[-/–]\s*{letter}{bare}{number}")
        self._pattern = re.compile(rf"(?<![A-Za-z0-9])(?:{'|'.join(names)})(?![0-9])", re.IGNORECASE)

    def named(self, text: str) -> bool:
        """Whether a text names one of them."""
        return self._pattern.search(text) is not None

    def kept(self, text: str) -> str:
        """The text, or what stands in its place."""
        return self._left_out if self.named(text) else text
