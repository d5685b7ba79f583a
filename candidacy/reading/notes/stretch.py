"""One stretch of a clause: the parts that speak of the same discs, and the values found in them so far."""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from candidacy.reading.model import Span
from candidacy.reading.notes.model import PATIENT, Said
from candidacy.reading.notes.quantities import Part
from candidacy.reading.notes.vocabulary import vocabulary

PRESSURES = {
    "opening": "discography_opening_pressure",
    "pain_pressure": "discography_pain_pressure",
    "peak": "discography_peak_pressure",
}
_OF_PATIENT = frozenset(
    (
        "discography_sedation",
        "discography_manometry",
        "discography_antibiotic_given",
        "discography_needle_gauge",
    )
)
EVERY = "*"
"""The subject of what is said of all discs that were injected."""


class Bound(NamedTuple):
    """What a clause gave: values, and the stretches that were not used, each with its reason."""

    said: list[Said]
    missed: list[tuple[Span, str]]


class Stretch:
    """The part of a clause that speaks of one set of subjects, while it is read."""

    def __init__(
        self, parts: list[Part], subjects: Sequence[str], kind: str, anaesthetic: bool, unit: str = ""
    ) -> None:
        self.parts, self.subjects, self.kind, self.unit = parts, subjects, kind, unit
        self.said: list[tuple[Said, int]] = []
        self.painless = self.pain = False
        self.agents = [
            i for i, p in enumerate(parts) for r in p.item.roles_of("say") if "agent" in r.value["is"]
        ]
        self.anaesthetic = bool(self.agents) or (anaesthetic and kind == "discography")
        self.unplaced: list[tuple[Span, str]] = []

    def put(
        self, element: str, form: dict[str, Any], at: int, last: int | None = None, note: str = ""
    ) -> None:
        """Note a value that rests on the parts ``at`` to ``last``."""
        low, high = sorted((at, at if last is None else last))
        span = Span(self.parts[low].start, max(p.end for p in self.parts[low : high + 1]))
        subjects = (PATIENT,) if element in _OF_PATIENT or self.kind == "procedure" else self.subjects
        if not subjects:
            self.unplaced.append((span, "which disc is meant is not stated"))
        for subject in subjects:
            self.said.append((Said(subject, element, dict(form), span, note), at))

    def before(
        self, at: int, want: Callable[[Part], bool], over: Callable[[Part], bool] | None = None
    ) -> int:
        """Give the nearest fitting part before another with nothing but fillers between, or -1."""
        return self._look(range(at - 1, -1, -1), want, over)

    def after(self, at: int, want: Callable[[Part], bool], over: Callable[[Part], bool] | None = None) -> int:
        """The same behind it."""
        return self._look(range(at + 1, len(self.parts)), want, over)

    def _look(self, places: range, want: Callable[[Part], bool], over: Callable[[Part], bool] | None) -> int:
        for i in places:
            part = self.parts[i]
            if not part.used and want(part):
                return i
            if part.item.text in (",", ";") or (part.item.text == "(" and places.step > 0):
                return -1
            if not (part.is_filler() or (over is not None and over(part))):
                return -1
        return -1


def label_of(*names: str) -> Callable[[Part], bool]:
    return lambda p: p.low is None and any(r.value in names for r in p.item.roles_of("label"))


def taken_back(row: Stretch, i: int) -> bool:
    """An adverb that is not known stands before the words: "vaguely concordant" is not concordant for certain."""
    ends = tuple(vocabulary().data["doubtful_endings"])
    for before in reversed(row.parts[:i]):
        if before.low is None and not before.item.roles:
            return before.item.text.lower().endswith(ends)
        if not before.is_filler() or before.item.text in (",", ";"):
            return False
    return False


def says_annulus(part: Part) -> bool:
    return part.low is None and any("annulus" in r.value["is"] for r in part.item.roles_of("say"))


def value_of(part: Part, unit: str | None) -> dict[str, Any]:
    low, high = part.low, part.high
    made: dict[str, Any]
    if part.bound:
        made = {part.bound: low if part.bound in ("at_least", "more_than") else high}
    elif low == high:
        made = {"value": low}
    else:
        made = {"between": [low, high]}
    return made | ({"unit": unit} if unit else {})
