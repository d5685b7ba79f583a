"""Time limits for reporting adverse events, as dates to be checked; grade and seriousness are judged apart.

Each limit of ``course/events.yaml`` runs where the event is judged so, may run where that was not judged, and does not run
where it was judged otherwise. Nothing is reported by the program, and no duty is claimed.
"""

from collections.abc import Collection
from datetime import date, timedelta
from typing import Literal

from msgspec import Struct
from msgspec.structs import asdict

from candidacy.course.content import Clock, EventsFile, content
from candidacy.course.record import Event
from candidacy.foundation.dates import day
from candidacy.foundation.truth import Truth, all_of

Runs = Literal["yes", "perhaps"]


class Deadline(Struct, frozen=True):
    """One time limit of one event.

    Attributes
    ----------
    runs
        ``yes`` where what it depends on was judged so, ``perhaps`` where something of it was not judged.
    by
        The day, YYYY-MM-DD; empty where the limit has none.
    unjudged
        What must be judged before it is known whether it runs.
    reported
        The day it was reported; empty where no report is written, or one of a later day than the one looked at.
    late
        Whether the day looked at is after ``by``, and no report is written.
    """

    event: int
    clock: str
    title: str
    to: str
    runs: Runs
    by: str
    unjudged: tuple[str, ...]
    reported: str
    late: bool
    check: str

    def as_dict(self) -> dict[str, object]:
        """The limit for a program: always the same keys."""
        return asdict(self) | {"unjudged": list(self.unjudged)}


def deadlines(event: Event, on: date, events: EventsFile | None = None) -> tuple[Deadline, ...]:
    """The time limits that run, or may run, for an event, the earliest first."""
    events = content().events if events is None else events
    found = [each for clock in events.clocks if (each := _deadline(event, clock, on)) is not None]
    return tuple(sorted(found, key=lambda each: (each.by or "9999", each.clock)))


def _deadline(event: Event, clock: Clock, on: date) -> Deadline | None:
    judged = {
        "serious": _serious(event, clock),
        "communicable": _answer(event.communicable, clock.communicable),
        "relation": _answer(event.relation, clock.relation),
    }
    truth = all_of(tuple(judged.values()))
    if truth is Truth.NOT_MET:
        return None
    by = ""
    if clock.calendar_days is not None:
        by = (day(event.learned) + timedelta(days=clock.calendar_days)).isoformat()
    reported = event.reported.get(clock.to, "")
    if reported > on.isoformat():  # not done as of that day
        reported = ""
    return Deadline(
        event.id, clock.id, clock.title, clock.to, "yes" if truth is Truth.MET else "perhaps", by,
        tuple(name for name, each in judged.items() if each is Truth.UNKNOWN), reported,
        bool(by) and not reported and on.isoformat() > by, clock.check,
    )  # fmt: skip


def _serious(event: Event, clock: Clock) -> Truth:
    if not clock.serious:
        return Truth.MET
    if event.serious is None:
        return Truth.UNKNOWN
    return Truth.MET if set(event.serious) & set(clock.serious) else Truth.NOT_MET


def _answer(answer: str, wanted: Collection[str]) -> Truth:
    if not wanted:
        return Truth.MET
    if (
        answer == "not_known"
    ):  # also where a file of one's own does not name it: what was not judged denies nothing
        return Truth.UNKNOWN
    return Truth.MET if answer in wanted else Truth.NOT_MET
