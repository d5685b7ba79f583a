"""The running checks of a library over a practice: which patients they count, the line, the funnel, and what a signal means."""

from collections import Counter
from datetime import date, timedelta
from functools import lru_cache

from msgspec import Struct

from candidacy.course.content import VisitsFile
from candidacy.foundation.dates import date_span
from candidacy.outcomes.intervals import Interval, poisson_exact
from candidacy.outcomes.practice import Patient
from candidacy.outcomes.responding import FAILED, answer_of
from candidacy.outcomes.running import Funnel, Run, cusum, funnel, limit_for, tail
from candidacy.rules.outcome_files import (
    CountedEvents,
    ResponseDefinition,
    RunningCheck,
    RunningFile,
    number_of,
)

LOOK = "Look at the patients, the records and the expected rate. This does not say that anything must stop, or that anything is unsafe."
NO_SIGNAL = "No signal, which does not show that all is well: a small change takes many patients to be seen."


class Point(Struct, frozen=True):
    """One quarter of the funnel."""

    name: str
    count: int
    of: int
    limits: Funnel


class Watched(Struct, frozen=True):
    """One running check over the patients it could count, in the order of their injections.

    Attributes
    ----------
    happened
        Whether what is watched happened to each.
    not_counted
        Patients about whom it is not known, and why.
    ratio
        Observed over expected, with its exact interval; None of nobody.
    chance
        Probability of a count as far from the expected one, in the direction that is watched, by chance alone.
    """

    check: RunningCheck
    expected: float
    happened: tuple[bool, ...]
    not_counted: dict[str, int]
    run: Run
    points: tuple[Point, ...]
    ratio: tuple[float, Interval] | None
    chance: float

    @property
    def count(self) -> int:
        return sum(self.happened)

    @property
    def upward(self) -> bool:
        """Whether more than expected is what is looked for."""
        return number_of(self.check.ratio) > 1

    @property
    def outside(self) -> tuple[str, ...]:
        """Quarters beyond the limits of the funnel, in the direction that is watched."""
        if self.upward:
            return tuple(p.name for p in self.points if p.count > p.limits.alert)
        return tuple(p.name for p in self.points if p.count < p.limits.low)

    @property
    def signal(self) -> bool:
        return bool(self.run.signals or self.outside)

    @property
    def words(self) -> str:
        return LOOK if self.signal else NO_SIGNAL


def watch(
    check: RunningCheck,
    file: RunningFile,
    definitions: dict[str, ResponseDefinition],
    patients: tuple[Patient, ...],
    visits: VisitsFile,
    on: date,
) -> Watched:
    """Run a check over patients in the order of their injections.

    Raises
    ------
    RuleError
        E208 if the schedule has no visit that the check counts at.
    """
    counted: list[tuple[Patient, bool]] = []
    left: Counter[str] = Counter()
    for patient in patients:
        if check.events is not None:
            happened, why = _harmed(patient, check.events, on)
        else:
            happened, why = _failed_to_answer(
                patient, definitions[check.response or ""], check.visit or "", visits, on
            )
        if happened is None:
            left[why] += 1
        else:
            counted.append((patient, happened))
    rate, ratio = number_of(check.expected), number_of(check.ratio)
    limit = _limit(rate, ratio, int(number_of(file.patients)), number_of(file.false_alarms))
    happened_all = tuple(happened for _, happened in counted)
    found, of = sum(happened_all), len(happened_all)
    low, high = poisson_exact(found)
    expected = rate * of
    return Watched(
        check, rate, happened_all, dict(left), cusum(happened_all, rate, ratio, limit), _points(counted, rate),
        (found / expected, Interval(low / expected, high / expected)) if of else None,
        tail(found, of, rate, ratio > 1) if of else 1.0,
    )  # fmt: skip


_limit = lru_cache(64)(limit_for)


def _harmed(patient: Patient, events: CountedEvents, on: date) -> tuple[bool | None, str]:
    start, known = patient.injected, patient.known_until
    if start is None or known is None or patient.first is None:
        return None, "no session is counted"
    last = start + timedelta(days=events.within_days)
    if last > on:
        return None, "the days in which it is counted are not over"
    unclear = ""
    for event in patient.record.events:
        began = date_span(event.began)
        inside = start.toordinal() <= began.high and began.low <= last.toordinal()
        ours = event.injection == patient.first.id and (
            events.unrelated_too or event.relation != "not_related"
        )
        if not (inside and ours) or (event.grade is not None and event.grade < events.grade_at_least):
            continue
        within = start.toordinal() <= began.low and began.high <= last.toordinal()
        if within and event.grade is not None:
            return True, ""
        unclear = (
            "an event in these days has no grade" if within else "an event may or may not lie in these days"
        )
    if unclear:
        return None, unclear
    if patient.died is not None and patient.died <= last:
        return None, "died in these days, and no graded event says of what"
    if known < last:
        return None, "not known until the end of the days in which it is counted"
    return False, ""


def _failed_to_answer(
    patient: Patient, definition: ResponseDefinition, at: str, visits: VisitsFile, on: date
) -> tuple[bool | None, str]:
    answer = answer_of(patient, definition, at, visits, on)
    if answer == "responded":
        return True, ""
    if answer in FAILED:
        return False, ""
    return None, "not yet due" if answer in ("open", "not_yet_due") else "the answer is missing"


def _points(counted: list[tuple[Patient, bool]], rate: float) -> tuple[Point, ...]:
    quarters: dict[str, list[bool]] = {}
    for patient, happened in counted:
        assert patient.injected is not None
        name = f"{patient.injected.year} Q{(patient.injected.month - 1) // 3 + 1}"
        quarters.setdefault(name, []).append(happened)
    return tuple(
        Point(name, sum(each), len(each), funnel(len(each), rate)) for name, each in sorted(quarters.items())
    )
