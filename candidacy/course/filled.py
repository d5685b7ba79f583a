"""The blank form of a visit, and a filled one taken into a course record; and adverse events added to one.

Nothing is preselected: every measure that a visit asks is answered, or the reason why it is not stands beside it.
"""

from pathlib import Path
from typing import Any, Literal

from msgspec import Struct
from pydantic import Field

from candidacy.case.record import Number, Strict
from candidacy.course.checks import notices
from candidacy.course.content import Content, Form, Measure, content
from candidacy.course.due import BASELINE, still_open
from candidacy.course.load import Course, course_from_record
from candidacy.course.record import CourseRecord, Event, Seen, Visit
from candidacy.course.scores import INDEX, index_of_sections
from candidacy.foundation.errors import Code, CourseError, InputError, Problem, shorten
from candidacy.foundation.files import parse, read_text
from candidacy.foundation.shape import validate

UNPLANNED = "unplanned"


class FilledForm(Strict):
    """A form of a visit as filled."""

    schema_version: Literal["1"]
    """Version of this shape."""
    visit: str
    """Id of the planned visit, ``baseline`` or ``unplanned``."""
    case: str
    """Reference of the case record; never a name."""
    injection: int
    """The session that it follows, or precedes as baseline."""
    date: str
    """The day it was asked, YYYY-MM-DD."""
    seen: Seen
    """How the answers were got."""
    answers: dict[str, Number | str | bool | None] = Field(default_factory=dict)
    """Measures by their id; empty where it was not answered."""
    unanswered: dict[str, Literal["not_asked", "declined", "not_readable", "not_known"]] = Field(
        default_factory=dict
    )
    """Why a measure was not answered."""
    note: str = ""
    """What else was said; no name of a person."""


class Added(Struct, frozen=True):
    """A record with one more entry.

    Attributes
    ----------
    kind, at
        The list, and the place of the entry there, counted from 0.
    worked_out
        Measures that were worked out from others, with their value.
    """

    course: Course
    kind: Literal["visits", "events"]
    at: int
    worked_out: dict[str, float]


def forms_of(visit: str, found: Content | None = None) -> tuple[Form, ...]:
    """The forms that a visit asks, in order; for ``unplanned`` every form.

    Raises
    ------
    CourseError
        E601 if there is no such visit.
    """
    found = content() if found is None else found
    planned = found.visits.get(visit)
    if visit == BASELINE:
        names: tuple[str, ...] = found.visits.baseline_forms
    elif visit == UNPLANNED:
        return found.forms.forms
    elif planned is None:
        known = [BASELINE, *(each.id for each in found.visits.visits), UNPLANNED]
        raise CourseError(
            [
                Problem(
                    Code.USAGE,
                    "there is no such visit",
                    "VISIT",
                    found=shorten(visit),
                    expected=", ".join(known),
                )
            ]
        )
    else:
        names = planned.forms
    return tuple(form for name in names if (form := found.forms.get(name)) is not None)


def blank(visit: str, case: str = "", injection: int = 1) -> str:
    """The blank form of a visit as YAML text.

    Raises
    ------
    CourseError
        E601 if there is no such visit.
    """
    forms = forms_of(visit)
    planned = content().visits.get(visit)
    rows = [
        f"# {planned.title if planned else 'Before the injection' if visit == BASELINE else 'Unplanned visit'}",
        "# Write each answer behind its name, or name it under unanswered with the reason: not_asked, declined,",
        "# not_readable or not_known. Names of persons do not belong here.",
        'schema_version: "1"',
        f"visit: {visit}",
        f"case: {case}  # reference of the case",
        f"injection: {injection}  # number of the session",
        'date: ""  # YYYY-MM-DD',
        "seen:   # clinic, telephone, form or record",
        "answers:",
    ]
    for form in forms:
        rows += [f"  # {form.title}" + (f": {form.introduction}" if form.introduction else "")]
        rows += [f"  # {form.licence}"] if form.licence else []
        rows += [f"  {measure.id}:   # {_asked(measure)}" for measure in form.measures]
    return "\n".join([*rows, "unanswered: {}", 'note: ""', ""])


def _asked(measure: Measure) -> str:
    return f"{measure.ask} ({measure.allowed})" + ("" if measure.needed else "; where it applies")


def read_form(path: Path) -> tuple[FilledForm, str]:
    """A filled form, and the name of its file.

    Raises
    ------
    CourseError
        With everything that is wrong with it.
    """
    try:
        return parse_form(read_text(path), str(path)), str(path)
    except InputError as error:
        raise CourseError(error.problems) from None


def parse_form(text: str, name: str = "form") -> FilledForm:
    """Read a filled form from YAML or JSON text; see `read_form`."""
    try:
        return validate(FilledForm, parse(text, name), name, lambda _: list(FilledForm.model_fields))
    except InputError as error:
        raise CourseError(error.problems) from None


def with_form(course: Course, form: FilledForm, name: str = "form") -> Added:
    """A course with the visit of a filled form.

    Raises
    ------
    CourseError
        E601 if the form is of another case or visit; E211 if the visit is in the record already, or would not fit what
        stands there; E405 if something is neither answered nor explained; otherwise what is wrong with its answers.
    """
    record = course.record
    if form.case != record.case:
        raise _refused(Code.USAGE, "the form is of another case", name, "case", form.case, record.case)
    asked = forms_of(form.visit)
    answers = {measure: answer for measure, answer in form.answers.items() if answer is not None}
    unanswered = dict(form.unanswered)
    given = {*answers, *unanswered}
    left = [] if form.visit == UNPLANNED else [m for each in asked for m in still_open(each, given)]
    if left:
        raise CourseError(
            [
                Problem(Code.UNFILLED, "neither answered nor explained", name, field=f"answers.{measure}",
                        expected=content().measures[measure].allowed,
                        next_step="answer it, or write under unanswered why it is not known")
                for measure in left
            ]
        )  # fmt: skip
    worked_out: dict[str, float] = {}
    index = index_of_sections(answers, unanswered) if INDEX not in answers else None
    if index is not None and INDEX in content().measures:
        worked_out[INDEX] = answers[INDEX] = round(index, 2)
        unanswered.pop(INDEX, None)
    kind: Any = form.visit if form.visit in (BASELINE, UNPLANNED) else "planned"
    visit = Visit(
        date=form.date, kind=kind, of=form.visit if kind == "planned" else "", injection=form.injection, seen=form.seen,
        answers=answers, unanswered=unanswered, note=form.note,
    )  # fmt: skip
    _once(visit, record, name)
    at = sum(each.date <= visit.date for each in record.visits) if _sorted(record) else len(record.visits)
    visits = (*record.visits[:at], visit, *record.visits[at:])
    added = _checked(course, record.model_copy(update={"visits": visits}), "visits", at, name)
    return Added(added, "visits", at, worked_out)


def with_event(course: Course, event: dict[str, object], name: str = "event") -> Added:
    """A course with one more adverse event; it gets the next free number.

    Raises
    ------
    CourseError
        E211 if the same event is in the record already or does not fit; otherwise what is wrong with it.
    """
    record = course.record
    number = max((each.id for each in record.events), default=0) + 1
    try:
        made = Event.model_validate({"id": number, **event})
    except ValueError as error:
        raise _refused(Code.WRONG_TYPE, "not an event", name, "", shorten(str(error), 200), "") from None
    same = [
        e for e in record.events if (e.what, e.began, e.injection) == (made.what, made.began, made.injection)
    ]
    if same:
        raise _refused(
            Code.CONTRADICTION, "this event is in the record already", name, "what", f"{made.what}, {made.began}",
            f"event {same[0].id} as it stands", "change that entry in the file, or say in words how this one differs",
        )  # fmt: skip
    events = (*record.events, made)
    at = len(record.events)
    return Added(
        _checked(course, record.model_copy(update={"events": events}), "events", at, name), "events", at, {}
    )


def _once(visit: Visit, record: CourseRecord, name: str) -> None:
    for there in record.visits:
        planned = visit.kind == "planned" and (there.of, there.injection) == (visit.of, visit.injection)
        if there == visit or (planned and there.kind == "planned"):
            raise _refused(
                Code.CONTRADICTION, "this visit is in the record already", name, "visit", visit.of or visit.kind,
                f"the visit of {there.date} as it stands",
                "change that entry in the file, or take this form as an unplanned visit",
            )  # fmt: skip


def _sorted(record: CourseRecord) -> bool:
    dates = [visit.date for visit in record.visits]
    return dates == sorted(dates)


def _checked(course: Course, record: CourseRecord, kind: str, at: int, name: str) -> Course:
    """The new course; what would not fit is refused now, while who wrote it can still mend it."""
    made = course_from_record(record, name)
    before = {notice.words for notice in course.notices()}
    unfit = [
        notice
        for notice in notices(record)
        if notice.words not in before and (kind, at) in notice.about and notice.holds
    ]
    if unfit:
        raise CourseError(
            [
                Problem(Code.CONTRADICTION, each.words, name, field=kind, next_step=each.way_out)
                for each in unfit
            ]
        )
    return Course(made.record, made.digest, course.name)


def _refused(
    code: Code, message: str, name: str, field: str, found: str, expected: str, next_step: str = ""
) -> CourseError:
    return CourseError(
        [
            Problem(
                code,
                message,
                name,
                field=field,
                found=shorten(found, 200),
                expected=expected,
                next_step=next_step,
            )
        ]
    )
