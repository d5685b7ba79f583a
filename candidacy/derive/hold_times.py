"""Time between a last dose and a procedure, in dose-free days and in hours, and when an interval is over.

Days and hours are kept apart: three dose-free days are not 72 hours. A last dose known to the day leaves
its hour open, and so does a procedure date: an interval in hours is over only where it is over from every hour of
the one to every hour of the other.
"""

from math import ceil, floor

from msgspec import Struct

from candidacy.derive.arithmetic import common
from candidacy.derive.base import Inputs, Underivable, once_a_case
from candidacy.derive.hold_table import Wait
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span, Why

DAY = 24  # hours


class LastDose(Struct, frozen=True):
    """When the last dose was taken: hours since day zero of the calendar, and hours ago where so recorded.

    ``recorded_on`` is the day on which ``hours_ago`` was true.
    """

    moment: Span
    hours_ago: Span | None = None
    recorded_on: Span | None = None

    @property
    def day(self) -> Span:
        """The day of the last dose."""
        return Span(floor(self.moment.low / DAY), ceil(self.moment.high / DAY) - 1)


@once_a_case
def last_dose(entry: Inputs) -> LastDose | None:
    """The last dose as recorded, by its date, by the hours since, or by both.

    Raises
    ------
    Underivable
        If date and hours exclude each other.
    """
    date, ago = entry.span("medicine_last_dose_date"), entry.fact("medicine_last_dose_hours_ago")
    by_date = None if date is None else _hours_of(date)
    if not isinstance(ago.value, Span):
        return None if by_date is None else LastDose(by_date)
    day = ago.provenance.day or entry.as_of
    whole = _hours_of(day)
    by_hours = Span(whole.low - ago.value.high, whole.high - ago.value.low, False, True)
    moment = by_hours if by_date is None else common(by_date, by_hours)
    if moment is None:
        raise Underivable(Why.CONFLICTING, "the date of the last dose and the hours since then do not agree")
    return LastDose(moment, ago.value, day)


def _hours_of(days: Span) -> Span:
    return Span(days.low * DAY, (days.high + 1) * DAY, False, True)


def over(wait: Wait, dose: LastDose, planned: Span, days_mean: str, end: str) -> Truth:
    """Whether an interval from the last dose is over on the planned date.

    Where the hours since the last dose were recorded on the planned date itself, that moment is taken for
    that of the procedure.

    Parameters
    ----------
    days_mean
        ``dose_free_days`` or ``hours``: how an interval in days is read.
    end
        ``longest`` or ``shortest``: which end of a printed range is waited for.
    """
    need = wait.to_its(end).most
    if not counted_in_hours(wait, days_mean):
        free = Span(planned.low - dose.day.high - 1, planned.high - dose.day.low - 1)
        return free.more_than(need) if wait.beyond else free.at_least(need)
    hours = need * DAY if wait.unit == "d" else need
    passed = hours_passed(dose, planned)
    return passed.more_than(hours) if wait.beyond else passed.at_least(hours)


def hours_passed(dose: LastDose, planned: Span) -> Span:
    """Hours from the last dose to the procedure, whose hour is not known."""
    if dose.hours_ago is not None and planned.exact and dose.recorded_on == planned:
        return dose.hours_ago
    day = _hours_of(planned)
    low, high = day.low - dose.moment.high, day.high - dose.moment.low
    return Span(low, high, dose.moment.high_open, True)


def over_on(wait: Wait, dose: LastDose, days_mean: str, end: str) -> Span:
    """Day on which an interval is over: the first after the dose-free days, or that on which the hours end."""
    need = wait.to_its(end).most
    if not counted_in_hours(wait, days_mean):
        first = need + 1 + wait.beyond
        return Span(dose.day.low + first, dose.day.high + first)
    hours = need * DAY if wait.unit == "d" else need
    return Span(floor((dose.moment.low + hours) / DAY), ceil((dose.moment.high + hours) / DAY) - 1)


def counted_in_hours(wait: Wait, days_mean: str) -> bool:
    """Whether an interval is counted in hours from the last dose, not in dose-free days."""
    return wait.unit != "d" or days_mean != "dose_free_days"


def last_dose_by(wait: Wait, planned: Span, days_mean: str, end: str) -> Span:
    """Last day on which a dose at any hour leaves the interval before the planned date, at any hour of it.

    For an interval in hours a dose on the next day may still be early enough, by its hour.
    """
    need = wait.to_its(end).most
    if counted_in_hours(wait, days_mean):
        before = ceil((need * DAY if wait.unit == "d" else need) / DAY) + 1
    else:
        before = int(need) + 1 + wait.beyond
    return Span(planned.low - before, planned.high - before)
