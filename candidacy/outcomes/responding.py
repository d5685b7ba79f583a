"""Whether a patient responded under a definition: yes, no, or not known, and then why not."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Literal

from msgspec import Struct

from candidacy.course.content import PlannedVisit, VisitsFile
from candidacy.foundation.dates import day
from candidacy.foundation.errors import Code, Problem, RuleError, shorten
from candidacy.outcomes.intervals import Proportion, proportion
from candidacy.outcomes.later import none_until
from candidacy.outcomes.practice import Patient
from candidacy.outcomes.visits import Seen, both_at, seen_at
from candidacy.rules.outcome_files import ResponseDefinition, ResponseTest

Answer = Literal[
    "responded", "not_responded", "died", "missing", "no_score", "kept_out", "open", "not_yet_due"
]
ANSWERS: dict[Answer, str] = {
    "responded": "responded",
    "not_responded": "did not respond",
    "died": "died before the visit",
    "missing": "not seen in the window",
    "no_score": "seen, but a score is missing",
    "kept_out": "kept out until what does not fit is resolved",
    "open": "window still open",
    "not_yet_due": "not yet due",
}
# A death is no response, and is shown by itself as well.
FAILED: tuple[Answer, ...] = ("not_responded", "died")
UNKNOWN: tuple[Answer, ...] = ("missing", "no_score", "kept_out")
PENDING: tuple[Answer, ...] = ("open", "not_yet_due")


def answer_of(
    patient: Patient, definition: ResponseDefinition, at: str, visits: VisitsFile, on: date
) -> Answer:
    """How a patient answered a definition at a visit, or at the visits that the definition itself names.

    What is known to have failed at one visit has failed, whatever is missing elsewhere; but nobody is counted before the
    last of the visits is due, else early failures would stand among answers without the successes of the same time.

    Raises
    ------
    RuleError
        E208 if the schedule has no such visit.
    """
    found = [(seen := seen_at(patient, planned, on), _holds(patient, definition, seen, on))
             for planned in planned_of(definition, at, visits)]  # fmt: skip
    states = [seen.state for seen, _ in found]
    for pending in PENDING[::-1]:
        if pending in states:
            return pending
    held = [truth for _, truth in found]
    if False in held:
        return "not_responded"
    if None not in held:
        return "responded"
    return next((state for state in _WHY if state in states), "no_score")


_WHY: tuple[Answer, ...] = ("died", "kept_out", "missing")


def planned_of(definition: ResponseDefinition, at: str, visits: VisitsFile) -> tuple[PlannedVisit, ...]:
    """The visits that a definition needs.

    Raises
    ------
    RuleError
        E208 if the schedule has no such visit.
    """
    found = []
    for name in definition.at or (at,):
        planned = visits.get(name)
        if planned is None:
            raise RuleError([Problem(
                Code.BAD_CHOICE, "the schedule has no such visit", "course/visits.yaml", field=definition.id, found=shorten(name),
                expected=", ".join(visit.id for visit in visits.visits),
            )])  # fmt: skip
        found.append(planned)
    return tuple(found)


def whole(patient: Patient, definition: ResponseDefinition, at: str, visits: VisitsFile, on: date) -> bool:
    """Whether every part of a definition is known of a patient, at every visit that it needs."""
    return all(
        _test(patient, test, seen_at(patient, planned, on), on) is not None
        for planned in planned_of(definition, at, visits)
        for test in definition.tests
    )


def _holds(patient: Patient, definition: ResponseDefinition, seen: Seen, on: date) -> bool | None:
    truths = [_test(patient, test, seen, on) for test in definition.tests]
    decides = definition.needs == "any"  # a single such answer decides
    if decides in truths:
        return decides
    return None if None in truths else not decides


def _test(patient: Patient, test: ResponseTest, seen: Seen, on: date) -> bool | None:
    parts: list[bool | None] = []
    if test.no_later_intervention:
        # the visit itself says how it was until then, also where it was before the day that was due
        until = day(seen.visit.date) if seen.visit else seen.due
        parts.append(none_until(patient, min(until, on)))
    if test.measures:
        known = both_at(patient, seen.visit, test.measures)
        parts.append(None if known is None else fall_meets(test, known[1], known[2]))
    return False if False in parts else None if None in parts else True


def fall_meets(test: ResponseTest, before: float, after: float) -> bool | None:
    """Whether two values of a measure meet a test; None where a fall in percent is asked for from a baseline of 0.

    Examples
    --------
    >>> test = ResponseTest(measures=("pain_average_week_vas",), fall_percent_at_least=30)
    >>> fall_meets(test, 40, 27), fall_meets(test, 0, 0)
    (True, None)
    """
    fall = before - after
    found: list[bool | None] = []
    if test.fall_at_least is not None:
        found.append(_at_least(fall, test.fall_at_least))
    for limit, strict in ((test.fall_percent_at_least, False), (test.fall_percent_above, True)):
        if limit is not None:
            # multiplied out: no rounding of a division may move a patient over the limit
            aim = limit * before
            found.append(
                None if not before else (100 * fall > aim + _SLIP if strict else _at_least(100 * fall, aim))
            )
    if test.final_at_most is not None:
        found.append(after <= test.final_at_most)
    if test.final_below is not None:
        found.append(after < test.final_below)
    return False if False in found else None if None in found else True


_SLIP = 1e-9


def _at_least(fall: float, limit: float) -> bool:
    return fall >= limit - _SLIP


class Response(Struct, frozen=True):
    """One definition at one visit over some patients.

    ``complete`` is of those whose answer is known; ``worst`` counts every unknown answer as no response and ``best``
    as a response. Patients not yet due, and those whose window is open, are in none of them. A death counts as no
    response in all three.
    """

    counts: dict[Answer, int]

    @property
    def responded(self) -> int:
        return self.counts["responded"]

    @property
    def known(self) -> int:
        return self.responded + sum(self.counts[each] for each in FAILED)

    @property
    def unknown(self) -> int:
        return sum(self.counts[each] for each in UNKNOWN)

    @property
    def pending(self) -> int:
        return sum(self.counts[each] for each in PENDING)

    @property
    def people(self) -> int:
        return sum(self.counts.values())

    @property
    def complete(self) -> Proportion:
        return proportion(self.responded, self.known)

    @property
    def worst(self) -> Proportion:
        return proportion(self.responded, self.known + self.unknown)

    @property
    def best(self) -> Proportion:
        return proportion(self.responded + self.unknown, self.known + self.unknown)


def response(answers: Iterable[Answer]) -> Response:
    """Count answers.

    Examples
    --------
    >>> thirty = ["responded"] * 18 + ["not_responded"] * 6 + ["missing"] * 6
    >>> found = response(thirty)
    >>> found.complete.share, found.worst.share, found.best.share
    (0.75, 0.6, 0.8)
    """
    counted = Counter(answers)
    return Response({answer: counted[answer] for answer in ANSWERS})


def answers_of(
    patients: Sequence[Patient], definition: ResponseDefinition, at: str, visits: VisitsFile, on: date
) -> tuple[Answer, ...]:
    """The answers of patients with a session that can be counted, in their order."""
    return tuple(answer_of(patient, definition, at, visits, on) for patient in patients)
