"""What is known of a planned visit of a patient: seen in its window, missing, not yet due, or kept out.

A visit outside its window is not counted for it, and no value is ever carried forward from an earlier one.
"""

from datetime import date, timedelta
from typing import Literal

from msgspec import Struct

from candidacy.course.content import PlannedVisit
from candidacy.course.record import Visit
from candidacy.course.scores import INDEX, index_of_sections
from candidacy.foundation.dates import add, day
from candidacy.outcomes.practice import Patient

State = Literal["seen", "missing", "open", "not_yet_due", "died", "kept_out"]
STATES: dict[State, str] = {
    "seen": "seen in the window",
    "missing": "not seen, the window is over",
    "open": "window still open",
    "not_yet_due": "not yet due",
    "died": "died before",
    "kept_out": "kept out until what does not fit is resolved",
}


class Seen(Struct, frozen=True):
    """What is known of one visit.

    ``told`` says what was not counted for it, and why.
    """

    state: State
    due: date
    visit: Visit | None = None
    told: tuple[str, ...] = ()

    @property
    def pending(self) -> bool:
        """Whether it may still come in time."""
        return self.state in ("open", "not_yet_due")


def seen_at(patient: Patient, planned: PlannedVisit, on: date) -> Seen:
    """What is known of a planned visit after the first session, as of a day.

    Raises
    ------
    ValueError
        If the patient has no session that can be counted.
    """
    if patient.injected is None or patient.first is None:
        raise ValueError("no session is counted")
    due = add(patient.injected, planned.after.amount, planned.after.unit)
    opens, closes = due - timedelta(days=planned.days_before), due + timedelta(days=planned.days_behind)
    ours = [visit for visit in patient.record.visits if _is(visit, planned, patient.first.id)]
    inside = sorted(
        (v for v in ours if opens <= day(v.date) <= closes), key=lambda v: (abs(day(v.date) - due), v.date)
    )
    told = [
        f"the visit {planned.id} of {v.date} lies outside its window, {opens} to {closes}, and is not counted for it"
        for v in ours
        if v not in inside
    ]
    told += [
        f"the visit {planned.id} was made again on {v.date}; the one nearest to {due} counts"
        for v in inside[1:]
    ]
    if inside:
        return Seen("seen", due, inside[0], tuple(told))
    held = [v for v in patient.course.record.visits if _is(v, planned, patient.first.id) and v not in ours]
    return Seen(_unseen(patient, opens, closes, bool(held), on), due, None, tuple(told))


def _unseen(patient: Patient, opens: date, closes: date, held: bool, on: date) -> State:
    if (
        on < opens
    ):  # also of those who died: counted before the others are due, they would only count as failures
        return "not_yet_due"
    if patient.died is not None and patient.died <= closes:
        return "died"
    if held:
        return "kept_out"
    return "open" if on <= closes else "missing"


def _is(visit: Visit, planned: PlannedVisit, session: int) -> bool:
    return visit.kind == "planned" and visit.of == planned.id and visit.injection == session


def baseline_of(patient: Patient) -> Visit | None:
    """The last baseline on or before the day of the first session."""
    if patient.first is None:
        return None
    before = [
        visit
        for visit in patient.record.visits
        if visit.kind == "baseline"
        and visit.injection == patient.first.id
        and visit.date <= patient.first.date
    ]
    return max(before, key=lambda visit: visit.date, default=None)


def number_at(visit: Visit | None, measure: str) -> float | None:
    """The answer to a measure as a number, the disability index also from its sections; None where it is not known."""
    if visit is None:
        return None
    answer = visit.answers.get(measure)
    if answer is None and measure == INDEX:
        return index_of_sections(visit.answers, visit.unanswered)
    return float(answer) if isinstance(answer, int | float) and not isinstance(answer, bool) else None


def both_at(
    patient: Patient, visit: Visit | None, measures: tuple[str, ...]
) -> tuple[str, float, float] | None:
    """The first of some measures that is known at baseline and at a visit, with both values; two are never mixed."""
    before = baseline_of(patient)
    for measure in measures:
        old, new = number_at(before, measure), number_at(visit, measure)
        if old is not None and new is not None:
            return measure, old, new
    return None
