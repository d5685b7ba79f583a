"""Who must agree before a medicine is held, who refused, and whether it was stopped all the same.

Nobody is told to stop anything. What the prescriber said of the medicine itself comes before a plan for all
antithrombotics; a refusal is never overruled by such a plan.
"""

from math import ceil

from candidacy.derive.base import Inputs, derives
from candidacy.derive.hold_table import group_of
from candidacy.derive.hold_times import DAY, last_dose
from candidacy.truth import Truth, any_of
from candidacy.values import Options, Span, from_truth


def protected_indication(entry: Inputs) -> Truth:
    """Whether the medicine is never stopped without the prescriber's written agreement."""
    codes = frozenset(entry.setting("indications_needing_written_agreement"))
    reason = entry.options("medicine_indication")
    by_reason = Truth.UNKNOWN if reason is None else reason.one_of(codes)
    return by_reason if by_reason is Truth.MET else any_of((by_reason, entry.truth("high_thrombotic_risk")))


def prescriber_agrees(entry: Inputs) -> Truth:
    """Whether the prescriber agreed to holding this medicine; not met only where a refusal is recorded.

    A plan agreed for all antithrombotics counts where nothing is recorded of the medicine itself. A plan that is
    not agreed refuses nothing.
    """
    own = entry.truth("medicine_prescriber_agrees_to_hold")
    if own is not Truth.UNKNOWN:
        return own
    return Truth.MET if entry.truth("antithrombotic_plan_agreed") is Truth.MET else Truth.UNKNOWN


def no_dose_to_come(entry: Inputs, planned: Span) -> Truth:
    """Whether the recorded last dose is the last before the procedure: it is held, or the date has come."""
    return Truth.MET if entry.as_of.low >= planned.high else entry.truth("medicine_held")


@derives("medicine_stopped")
def medicine_stopped(entry: Inputs) -> Options | None:
    """Whether the medicine is stopped now: stated as held, or a dose is known to be left out.

    A dose is left out where more time has passed since the last one than lies between two: whole days for a date,
    hours for hours. A dose that is left out counts even beside a statement that the medicine is not held.
    """
    held = entry.truth("medicine_held")
    left_out = held if held is Truth.MET else _dose_left_out(entry)
    if left_out is Truth.MET or held is Truth.UNKNOWN:
        return from_truth(any_of((held, left_out)))
    return from_truth(held)


def _dose_left_out(entry: Inputs) -> Truth:
    """Whether a dose was left out by the day on which the last one was told.

    The time between doses is that of ``medicine_doses_per_day``; for an antithrombotic without it, the setting
    ``usual_days_between_doses``. Between one interval and two, counted in hours, a dose may only be late.
    """
    dose = last_dose(entry)
    if dose is None:
        return Truth.UNKNOWN
    if entry.truth("medicine_as_needed") is Truth.MET:
        return Truth.NOT_MET
    days = _days_between_doses(entry)
    if days is None:
        return Truth.UNKNOWN
    if dose.hours_ago is not None:
        told = dose.recorded_on or entry.as_of
        late, out = dose.hours_ago.more_than(days * DAY), dose.hours_ago.at_least(2 * days * DAY)
        answer = Truth.UNKNOWN if late is not Truth.NOT_MET and out is not Truth.MET else out
    else:
        told = entry.fact("medicine_last_dose_date").provenance.day or entry.as_of
        if told.low < dose.day.high:  # a document of an earlier day says nothing of the time after the dose
            told = entry.as_of
        since = Span(told.low - dose.day.high, told.high - dose.day.low)
        answer = since.more_than(ceil(days))
    return Truth.UNKNOWN if answer is Truth.NOT_MET and told != entry.as_of else answer


def _days_between_doses(entry: Inputs) -> float | None:
    """Longest time between two doses, in days; ``None`` where it is not known."""
    per_day = entry.span("medicine_doses_per_day")
    if per_day is not None:
        return 1 / per_day.low if per_day.low > 0 else None
    return float(entry.setting("usual_days_between_doses")) if group_of(entry) == "antithrombotic" else None
