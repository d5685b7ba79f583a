"""Later interventions at a treated disc, what competes with them, and how long each patient was followed."""

from collections.abc import Iterator
from datetime import date

from candidacy.course.record import Procedure
from candidacy.foundation.dates import day
from candidacy.outcomes.practice import Patient
from candidacy.outcomes.survival import FollowedUp


def at_treated_disc(procedure: Procedure, discs: tuple[str, ...]) -> bool | None:
    """Whether a procedure was done at, or for, a treated disc; None where neither its reason nor its level tells."""
    if procedure.because_of_treated_disc != "not_known":
        return procedure.because_of_treated_disc == "yes"
    if procedure.levels:
        return not set(discs).isdisjoint(procedure.levels)
    return None


def interventions(patient: Patient) -> Iterator[tuple[date, bool | None]]:
    """Every later procedure and session with its day, and whether it was at a treated disc, in order of days."""
    if patient.first is None:
        return
    found: list[tuple[date, bool | None]] = [
        (day(each.date), at_treated_disc(each, patient.discs)) for each in patient.record.procedures
    ]
    for session in patient.record.injections:
        if session.id != patient.first.id:
            again = not set(patient.discs).isdisjoint(disc.level for disc in session.discs)
            found.append((day(session.date), again))
    yield from sorted(found, key=lambda each: each[0])


def none_until(patient: Patient, until: date) -> bool | None:
    """Whether there was no later intervention at a treated disc until a day; None where that is not known.

    It is known to be so only where the patient is known until that day.
    """
    past = [treated for when, treated in interventions(patient) if when <= until]
    if True in past:
        return False
    known = patient.known_until
    return True if None not in past and known is not None and known >= until else None


def followed_up(patient: Patient) -> tuple[FollowedUp, bool]:
    """Days from the first session to the first intervention at a treated disc, or to what came before it.

    The second value says that an intervention without a known level or reason was counted as one at a treated disc.

    Raises
    ------
    ValueError
        If the patient has no session that can be counted.
    """
    start, last = patient.injected, patient.known_until
    if start is None or last is None:
        raise ValueError("no session is counted")
    treated_again = next(
        ((when, treated) for when, treated in interventions(patient) if treated is not False), None
    )
    elsewhere = min(
        (
            day(each.date)
            for each in patient.record.procedures
            if each.kind == "surgery" and at_treated_disc(each, patient.discs) is False
        ),
        default=None,
    )
    if treated_again is not None and (elsewhere is None or treated_again[0] <= elsewhere):
        return FollowedUp((treated_again[0] - start).days, "event"), treated_again[1] is None
    if elsewhere is not None:  # what came first ends it; what came later is another story
        return FollowedUp((elsewhere - start).days, "elsewhere"), False
    return FollowedUp((last - start).days, "death" if patient.died else "seen_until"), False
