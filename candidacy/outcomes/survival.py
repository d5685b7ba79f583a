"""Time to the first later intervention at a treated disc: Kaplan-Meier, numbers at risk, and what competes with it.

statsmodels works out the curve and its standard error, and the cumulative incidence.
"""

from bisect import bisect_right
from collections.abc import Sequence
from math import exp, log
from typing import Literal, NamedTuple

from msgspec import Struct

from candidacy.outcomes.intervals import Interval

Ending = Literal["event", "death", "elsewhere", "seen_until"]


class FollowedUp(NamedTuple):
    """How long one patient was followed, in days, and how that ended.

    ``event`` is a later intervention at a treated disc, ``elsewhere`` surgery of another lumbar level, and ``seen_until``
    the last that is known.
    """

    days: int
    ending: Ending


class Step(NamedTuple):
    """The curve from one time on: share without the event, at risk just before, events on that day."""

    time: float
    free: float
    interval: Interval | None
    at_risk: int
    events: int


class Curve(Struct, frozen=True):
    """A Kaplan-Meier curve; ``steps`` only where somebody had the event."""

    people: int
    steps: tuple[Step, ...]
    times: tuple[float, ...]

    def free_at(self, time: float) -> float:
        """Share without the event at a time, the event of that time counted."""
        place = bisect_right([step.time for step in self.steps], time)
        return self.steps[place - 1].free if place else 1.0

    def known_at(self, time: float) -> float | None:
        """The share at a time; None after the last day on which anybody was followed, unless all had the event before."""
        reached = bool(self.times) and time <= self.times[-1]
        share = self.free_at(time)
        return share if reached or (self.times and share == 0) else None

    def interval_at(self, time: float) -> Interval | None:
        """Its log-log interval at 95 %; None before the first event and where nobody is left."""
        place = bisect_right([step.time for step in self.steps], time)
        return self.steps[place - 1].interval if place else None

    def at_risk(self, time: float) -> int:
        """How many were still followed, without the event, just before a time."""
        return sum(1 for each in self.times if each >= time)

    @property
    def events(self) -> int:
        return sum(step.events for step in self.steps)

    @property
    def median(self) -> float | None:
        """The first time at which no more than half are without the event; None where the curve stays above."""
        return next((step.time for step in self.steps if step.free <= 0.5 + 1e-12), None)


def kaplan_meier(times: Sequence[float], events: Sequence[bool]) -> Curve:
    """The curve of times to an event; a time without an event is censored there.

    Raises
    ------
    ValueError
        If the two are not of one length, or a time is negative.
    """
    if len(times) != len(events) or any(time < 0 for time in times):
        raise ValueError("each time needs an event or none, and cannot be negative")
    if not times:
        return Curve(0, (), ())
    from statsmodels.duration.survfunc import SurvfuncRight

    found = SurvfuncRight(list(times), [int(event) for event in events])
    steps = [
        Step(float(time), float(free), _log_log(float(free), float(error)), int(risk), int(count))
        for time, free, error, risk, count in zip(
            found.surv_times, found.surv_prob, found.surv_prob_se, found.n_risk, found.n_events, strict=True
        )
        if count
    ]
    return Curve(len(times), tuple(steps), tuple(sorted(times)))


def _log_log(free: float, error: float) -> Interval | None:
    """The interval on the scale log(-log S), which stays between 0 and 1."""
    if not 0 < free < 1:
        return None
    width = 1.959963984540054 * error / (free * abs(log(free)))
    return Interval(exp(log(free) * exp(width)), exp(log(free) * exp(-width)))


def cumulative_incidence(people: Sequence[FollowedUp], time: float) -> dict[Ending, float]:
    """Share who had each ending first, by a time; the others are censored when last seen.

    One minus Kaplan-Meier counts a patient who died as one who may still come to surgery, and so tells too much where
    endings compete.
    """
    kinds: tuple[Ending, ...] = ("event", "death", "elsewhere")
    if not any(each.ending in kinds for each in people):
        return dict.fromkeys(kinds, 0.0)
    import numpy as np
    from statsmodels.duration.survfunc import CumIncidenceRight

    present = [kind for kind in kinds if any(each.ending == kind for each in people)]
    status = [present.index(each.ending) + 1 if each.ending in present else 0 for each in people]
    with np.errstate(divide="ignore", invalid="ignore"):  # of its variances, which are not used
        found = CumIncidenceRight([each.days for each in people], status)
    shares = dict.fromkeys(kinds, 0.0)
    place = bisect_right([float(each) for each in found.times], time)
    for kind, curve in zip(present, found.cinc, strict=True):
        shares[kind] = float(curve[place - 1]) if place else 0.0
    return shares
