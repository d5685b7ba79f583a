"""Which visits after an injection are done, due and overdue on a day, and what they ask.

A visit is done when the record holds a planned visit of its name for the session; due while its window is open; overdue
from the day after the window closes. Where follow-up ended (death, withdrawal, end), later visits are not expected, and
earlier ones that were never done are missed. A death that a later entry speaks against ends nothing. What a notice keeps out of counts makes no visit done.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Literal

from msgspec import Struct
from msgspec.structs import asdict

from candidacy.course.checks import death_day, sessions_of
from candidacy.course.content import Content, Form, PlannedVisit, content
from candidacy.course.load import Course
from candidacy.course.record import Injection, Visit
from candidacy.course.scores import SECTIONS
from candidacy.foundation.dates import add, day

State = Literal["done", "not_yet", "due", "overdue", "missed", "not_expected"]
BASELINE = "baseline"
ENDED = ("withdrew", "ended")


class DueVisit(Struct, frozen=True):
    """One visit of one session as it stands on a day.

    Attributes
    ----------
    on
        The day it falls on, counted from the injection.
    opens, closes
        First and last day of its window.
    done_on
        The day it was done; empty where it was not.
    outside
        Whether it was done outside its window.
    open
        Measures that were asked for and are neither answered nor explained.
    """

    case: str
    injection: int
    visit: str
    title: str
    state: State
    on: str
    opens: str
    closes: str
    seen: str
    forms: tuple[str, ...]
    done_on: str = ""
    outside: bool = False
    open: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """The visit for a program: always the same keys."""
        return {
            key: list(value) if isinstance(value, tuple) else value for key, value in asdict(self).items()
        }


def window(visit: PlannedVisit, injected: date) -> tuple[date, date, date]:
    """The day a visit falls on, and the first and last day of its window; none lies before the injection."""
    on = add(injected, visit.after.amount, visit.after.unit)
    opens = max(injected, on - timedelta(days=visit.days_before))
    return on, opens, on + timedelta(days=visit.days_behind)


def visits_of(course: Course, on: date, found: Content | None = None) -> tuple[DueVisit, ...]:
    """Every visit of every session of a course as it stands on a day, sessions and visits by time."""
    found = content() if found is None else found
    record = course.counted(on)
    ended = death_day(course.record, on)
    if record.last_contact is not None and record.last_contact.state in ENDED:
        ended = day(record.last_contact.date) if ended is None else min(ended, day(record.last_contact.date))
    rows: list[DueVisit] = []
    for injection in sessions_of(record):
        mine = [visit for visit in record.visits if visit.injection == injection.id]
        rows.append(_baseline(record.case, injection, mine, found))
        for planned in found.visits.visits:
            done = [visit for visit in mine if visit.kind == "planned" and visit.of == planned.id]
            rows.append(_row(record.case, injection, planned, done, on, ended, found))
    return tuple(rows)


def due(course: Course, on: date, found: Content | None = None) -> tuple[DueVisit, ...]:
    """The visits that are due or overdue on a day."""
    return tuple(row for row in visits_of(course, on, found) if row.state in ("due", "overdue"))


def due_order(row: DueVisit) -> tuple[bool, str, str, int]:
    """Overdue before due, the longest first."""
    return row.state != "overdue", row.closes, row.case, row.injection


def _baseline(case: str, injection: Injection, visits: list[Visit], found: Content) -> DueVisit:
    done = [visit for visit in visits if visit.kind == BASELINE]
    last = max((visit.date for visit in done), default="")
    forms = found.visits.baseline_forms
    return DueVisit(
        case, injection.id, BASELINE, "Before the injection", "done" if done else "missed", injection.date, "",
        injection.date, "clinic", forms, last, False, _open(forms, done, found) if done else (),
    )  # fmt: skip


def _row(
    case: str, injection: Injection, planned: PlannedVisit, done: list[Visit], on: date, ended: date | None, found: Content
) -> DueVisit:  # fmt: skip
    falls, opens, closes = window(planned, day(injection.date))
    state: State
    if done:
        state = "done"
    elif ended is not None and closes >= ended:
        state = "not_expected"
    elif on < opens:
        state = "not_yet"
    elif on <= closes:
        state = "due"
    else:
        state = "overdue" if ended is None else "missed"
    first = min((visit.date for visit in done), default="")
    return DueVisit(
        case, injection.id, planned.id, planned.title, state, falls.isoformat(), opens.isoformat(), closes.isoformat(),
        planned.seen, planned.forms, first, bool(done) and not opens.isoformat() <= first <= closes.isoformat(),
        _open(planned.forms, done, found) if done else (),
    )  # fmt: skip


def _open(forms: Iterable[str], done: Iterable[Visit], found: Content) -> tuple[str, ...]:
    answered: set[str] = set()
    for visit in done:
        answered |= {*visit.answers, *visit.unanswered}
    return tuple(name for form in forms for name in still_open(found.forms.get(form), answered))


def still_open(form: Form | None, answered: set[str]) -> list[str]:
    """Measures of a form that need an answer or a reason and have neither; a total stands for its sections."""
    if form is None:
        return []
    if form.score_of and (form.score_of in answered or answered.issuperset(SECTIONS)):
        return []
    if form.score_of and not answered.intersection(SECTIONS):
        return [form.score_of]
    return [m.id for m in form.measures if m.needed and m.id not in answered and m.id != form.score_of]
