"""Codes shown side by side, each one click away: which fit, and how wide a field they make."""

from typing import Any

from candidacy.case.element import STANDARD_LEVELS, Element
from candidacy.case.facts import normal_level
from candidacy.case.record import FactEntry
from candidacy.explain.wording import code_words

WIDTH = 250
_WIDEST = 800  # codes of a choice that take more are chosen from a list
_MOST = 12  # of a list of codes, which may take several rows
_LETTER, _AROUND, _BESIDES = (
    7,
    38,
    160,
)  # pixels of a letter, around a code, and of "not known" with the details


def codes_beside(element: Element, entry: FactEntry | None) -> list[str]:
    """The codes of an element that can be shown beside each other, of levels the usual ones and those stated; else none."""
    if element.kind not in ("choice", "members"):
        return []
    stated = levels_in(entry.value or entry.includes) if entry is not None and element.levels else []
    codes = [c for c in element.codes if not element.levels or c in STANDARD_LEVELS or c in stated]
    fits = len(codes) <= _MOST if element.kind == "members" else _row_of(codes) <= _WIDEST
    return codes if fits else []


def levels_in(written: Any) -> list[str]:
    """The levels of a list as written, in our spelling."""
    return [normal_level(str(code)) or str(code) for code in written] if isinstance(written, tuple) else []


def width_of(codes: list[str]) -> int:
    """Pixels of a field that shows these codes side by side, or of any other where there are none."""
    return min(_row_of(codes), _WIDEST) if codes else WIDTH


def _row_of(codes: list[str]) -> int:
    return max(WIDTH, _BESIDES + sum(_AROUND + _LETTER * len(code_words(code)) for code in codes))
