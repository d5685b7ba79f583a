"""Who must agree before a medicine is held, who refused, and whether it was stopped all the same.

Nobody is told to stop anything. What the prescriber said of the medicine itself comes before a plan for all
antithrombotics; a refusal is never overruled by such a plan.
"""

from candidacy.derive.base import Inputs, derives, once_a_case
from candidacy.derive.hold_table import group_of
from candidacy.derive.hold_times import DAY, LastDose, hours_passed, last_dose
from candidacy.foundation.truth import Truth, any_of
from candidacy.foundation.values import Options, Span, from_truth


def protected_indication(entry: Inputs) -> Truth:
    """Whether the medicine is never stopped without the prescriber's written agreement."""
    codes = frozenset(entry.setting("indications_needing_written_agreement"))
    reason = entry.options("medicine_indication")
    by_reason = Truth.UNKNOWN if reason is None else reason.one_of(codes)
    return by_reason if by_reason is Truth.MET else any_of((by_reason, entry.truth("high_thrombotic_risk")))


@once_a_case
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
    """Whether the medicine is stopped now: stated as held, or a dose is known to be overdue.

    An overdue dose counts even beside a statement that the medicine is not held; while it is not known whether one is
    overdue, that statement does not settle it.

    Source: a dose that is more than one interval old is overdue (common practice).
    """
    held = entry.truth("medicine_held")
    answer = held if held is Truth.MET else any_of((held, _dose_overdue(entry)))
    return None if answer is Truth.UNKNOWN else from_truth(answer)


def _dose_overdue(entry: Inputs) -> Truth:
    """Whether more time has passed since the last dose than lies between two, on the day on which it was told.

    Hours are counted; a date alone leaves its hour open. A last dose told on an earlier day shows a gap before that
    day, but says nothing of the days since.
    """
    dose = last_dose(entry)
    if dose is None:
        return Truth.UNKNOWN
    days = _days_between_doses(entry)
    told = _told_on(entry, dose)
    if days is None:
        return Truth.UNKNOWN
    passed = hours_passed(dose, told)
    if passed.more_than(days.high * DAY) is Truth.MET:
        return Truth.MET
    in_time = passed.at_most(days.low * DAY) is Truth.MET and told == entry.as_of
    return Truth.NOT_MET if in_time else Truth.UNKNOWN


def _told_on(entry: Inputs, dose: LastDose) -> Span:
    """The latest day on which the last dose was told; the as-of date where none is recorded or it lies before the dose."""
    by_date = entry.fact("medicine_last_dose_date")
    days = [] if by_date.value is None else [by_date.provenance.day or entry.as_of]
    days += [] if dose.recorded_on is None else [dose.recorded_on]
    told = max(days, key=lambda day: day.low)
    return entry.as_of if told.low < dose.day.high or not told.exact else told


def _days_between_doses(entry: Inputs) -> Span | None:
    """Time between two doses in days, or ``None`` where it is not known.

    An antithrombotic is due at least as often as the setting ``usual_days_between_doses`` says: a rarer dose that is
    recorded protects no stent or valve, and is not taken as the usual one.
    """
    per_day = entry.span("medicine_doses_per_day")
    stated = None if per_day is None or per_day.low <= 0 else Span(1 / per_day.high, 1 / per_day.low)
    if group_of(entry) != "antithrombotic":
        return stated if entry.truth("medicine_as_needed") is Truth.NOT_MET else None
    usual = float(entry.setting("usual_days_between_doses"))
    if stated is None:
        return Span(0, usual)
    return Span(min(stated.low, usual), min(stated.high, usual))
