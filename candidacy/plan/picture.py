"""The timeline of a plan as geometry: lanes by part, days on a scale that is wide near the injection and narrow far from it."""

from datetime import date
from math import log1p

from msgspec import Struct

from candidacy.plan.document import PlanDocument

WIDTH, LEFT, TOP, LANE = 1000.0, 284.0, 34.0, 24.0
_TICKS = (-56, -28, -14, -7, -3, -1, 0, 1, 3, 7, 14, 30, 91, 182, 365)


class Mark(Struct, frozen=True):
    """One step on the picture: where, its state, and what it is in words."""

    x: float
    y: float
    state: str
    gate: bool
    words: str


class Picture(Struct, frozen=True):
    """All of it: size, names of lanes with their height, ticks with their place, marks, and the same told in words."""

    width: float
    height: float
    lanes: tuple[tuple[str, float], ...]
    ticks: tuple[tuple[str, float], ...]
    now: float
    zero: float
    marks: tuple[Mark, ...]
    words: str


def picture(plan: PlanDocument) -> Picture | None:
    """The picture of a plan; nothing where no step has a day."""
    steps = [step for step in plan.steps if step.due and step.state != "cancelled"]
    if not steps:
        return None
    zero = date.fromisoformat(plan.day)
    offsets = [(date.fromisoformat(step.due) - zero).days for step in steps] + [
        (date.fromisoformat(plan.as_of) - zero).days
    ]
    low, high = min(*offsets, -1), max(*offsets, 1)
    first, last = _scale(low), _scale(high)

    def across(days: int) -> float:
        return round(LEFT + (WIDTH - LEFT - 24) * (_scale(days) - first) / (last - first), 1)

    parts = [part for part in plan.parts if any(step.part == part for step in steps)]
    lanes = {part: TOP + LANE * (place + 0.5) for place, part in enumerate(parts)}
    marks = []
    taken: dict[tuple[str, str], int] = {}
    for step in steps:
        place = taken[step.part, step.due] = taken.get((step.part, step.due), -1) + 1
        x = across((date.fromisoformat(step.due) - zero).days) + 7 * place
        marks.append(Mark(x, lanes[step.part], step.state, step.gate, f"{step.due} {step.title}"))
    ticks = tuple((_tick(days), across(days)) for days in _TICKS if low <= days <= high)
    words = "; ".join(
        f"{mark.words}{' (done)' if mark.state == 'done' else ''}"
        for mark in sorted(marks, key=lambda m: m.words)
    )
    return Picture(WIDTH, TOP + LANE * len(parts) + 8, tuple((plan.parts[part], lanes[part]) for part in parts), ticks,
                   across(offsets[-1]), across(0), tuple(marks), f"Timeline around {plan.day}. {words}.")  # fmt: skip


def _scale(days: int) -> float:
    return log1p(abs(days)) * (1 if days >= 0 else -1)


def _tick(days: int) -> str:
    if days == 0:
        return "day"
    sign = "+" if days > 0 else "−"
    number = abs(days)
    months = {30: "1 mo", 91: "3 mo", 182: "6 mo", 365: "12 mo"}
    return sign + months.get(number, f"{number} d")
