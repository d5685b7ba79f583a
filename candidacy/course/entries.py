"""What is wrong within one entry of a course record: no day, no disc, no answer of its form, or a contradiction in itself."""

import re
from collections.abc import Iterator, Sequence
from datetime import date, datetime

from candidacy.case.element import LEVELS
from candidacy.case.facts import normal_level
from candidacy.course.content import Measure, content
from candidacy.course.record import DEATH, CourseRecord, Event, Injection, Quantity, Unit, Visit
from candidacy.course.scores import sections_misfit
from candidacy.foundation import units
from candidacy.foundation.dates import DateError, date_span, day
from candidacy.foundation.errors import Code, Problem, shorten, shown
from candidacy.foundation.files import nearest
from candidacy.foundation.values import Span

Path = tuple[str | int, ...]
Found = tuple[Path, Problem]
# discs whose upper vertebra is lumbar
LUMBAR = tuple(level for level in LEVELS if level.startswith("L"))
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}\Z")


def wrong_entries(record: CourseRecord) -> list[Found]:
    """Everything for which a record is refused, each with the path of its field; empty where it can be used."""
    found = [*_numbered("injections", record.injections), *_numbered("events", record.events)]
    sessions = {each.id: each for each in record.injections}
    for at, injection in enumerate(record.injections):
        found += _injection(injection, ("injections", at))
    measures = content().measures if record.visits else {}
    for at, visit in enumerate(record.visits):
        found += _session(visit.injection, sessions, ("visits", at))
        found += _whole(visit.date, ("visits", at, "date"))
        found += _answers(visit, measures, ("visits", at))
    for at, event in enumerate(record.events):
        found += _session(event.injection, sessions, ("events", at))
        found += _event(event, ("events", at))
    for at, procedure in enumerate(record.procedures):
        found += _whole(procedure.date, ("procedures", at, "date"))
        for number, level in enumerate(procedure.levels):
            found += _level(level, ("procedures", at, "levels", number))
    if record.last_contact is not None:
        found += _whole(record.last_contact.date, ("last_contact", "date"))
    return found


def _numbered(kind: str, entries: Sequence[Injection | Event]) -> Iterator[Found]:
    seen: dict[int, int] = {}
    for at, entry in enumerate(entries):
        if entry.id in seen:
            yield (kind, at, "id"), Problem(
                Code.DUPLICATE_KEY, "this number stands twice", found=str(entry.id),
                expected=f"another number; {kind}.{seen[entry.id]} has it already",
                next_step=f"give it the next free one, {max(e.id for e in entries) + 1}, and mend what refers to it",
            )  # fmt: skip
        seen.setdefault(entry.id, at)


def _session(number: int, sessions: dict[int, Injection], at: Path) -> Iterator[Found]:
    if number not in sessions:
        known = ", ".join(str(each) for each in sessions) or "none is written"
        yield (*at, "injection"), Problem(
            Code.CONTRADICTION, "there is no session of this number", found=str(number), expected=known,
            next_step="write the session under injections, or name the one that is meant",
        )  # fmt: skip


def _injection(injection: Injection, at: Path) -> Iterator[Found]:
    yield from _whole(injection.date, (*at, "date"))
    for number, disc in enumerate(injection.discs):
        place = (*at, "discs", number)
        yield from _level(disc.level, (*place, "level"))
        if not disc.material.strip():
            yield (
                (*place, "material"),
                Problem(Code.EMPTY, "the material is not named", expected="a few words"),
            )
        yield from _quantity(disc.volume, "mL", False, (*place, "volume"))
        yield from _quantity(disc.peak_pressure, "psi", True, (*place, "peak_pressure"))
        yield from _units(disc.units, (*place, "units"))
        if disc.injected_at:
            yield from _moment(disc.injected_at, (*place, "injected_at"))
            if (
                _day(injection.date)
                and _is_moment(disc.injected_at)
                and disc.injected_at.partition("T")[0] != injection.date
            ):
                yield (*place, "injected_at"), Problem(
                    Code.CONTRADICTION, "not on the day of the session", found=shown(disc.injected_at),
                    expected=injection.date, next_step="correct whichever is wrong",
                )  # fmt: skip
    yield from _units(injection.unused_units, (*at, "unused_units"))
    for number, check in enumerate(injection.checks):
        yield from _moment(check.at, (*at, "checks", number, "at"))
    if injection.assessed is not None:
        yield from _whole(injection.assessed.on, (*at, "assessed", "on"))
    if injection.discharged:
        yield from _moment(injection.discharged, (*at, "discharged"))
        if (
            _day(injection.discharged.partition("T")[0])
            and _day(injection.date)
            and injection.discharged.partition("T")[0] < injection.date
        ):
            yield (
                (*at, "discharged"),
                _against("left before the injection", injection.discharged, injection.date),
            )


def _units(boxes: Sequence[Unit], at: Path) -> Iterator[Found]:
    for number, unit in enumerate(boxes):
        if unit.expires:
            yield from _whole(unit.expires, (*at, number, "expires"))
        for field, text in (("thaw_began", unit.thaw_began), ("thaw_ended", unit.thaw_ended)):
            if text:
                yield from _moment(text, (*at, number, field))
        if _is_moment(unit.thaw_began) and _is_moment(unit.thaw_ended) and unit.thaw_ended < unit.thaw_began:
            yield (
                (*at, number, "thaw_ended"),
                _against("thawed before thawing began", unit.thaw_ended, unit.thaw_began),
            )


def _quantity(quantity: Quantity | None, unit: str, zero: bool, at: Path) -> Iterator[Found]:
    if quantity is None:
        return
    if units.normal_spelling(quantity.unit) not in units.accepted(unit):
        yield (*at, "unit"), Problem(Code.BAD_UNIT, "not a unit of it", found=shown(quantity.unit),
                                     expected=", ".join(units.accepted(unit)))  # fmt: skip
    if quantity.value < 0 or (quantity.value == 0 and not zero):
        yield (*at, "value"), Problem(Code.IMPOSSIBLE_VALUE, "cannot be", found=shown(quantity.value),
                                      expected="0 or more" if zero else "more than 0")  # fmt: skip


def _answers(visit: Visit, measures: dict[str, Measure], at: Path) -> Iterator[Found]:
    for kind, names in (("answers", visit.answers), ("unanswered", visit.unanswered)):
        for name in names:
            if name not in measures:
                close = nearest(name, list(measures))
                yield (*at, kind, name), Problem(
                    Code.UNKNOWN_ELEMENT, "not a measure of the forms", found=shorten(name),
                    expected=f"closest is {close}" if close else "a measure of course/forms.yaml",
                    next_step="candidacy follow form shows them",
                )  # fmt: skip
    for name, answer in visit.answers.items():
        measure = measures.get(name)
        if measure is None:
            continue
        if not measure.accepts(answer):
            code = Code.BAD_CHOICE if measure.kind in ("choice", "words") else Code.IMPOSSIBLE_VALUE
            yield (*at, "answers", name), Problem(
                code, "not an answer of its form", found=shown(answer), expected=measure.allowed,
                next_step="correct it, or write under unanswered why it is not known",
            )  # fmt: skip
        if name in visit.unanswered:
            yield (
                (*at, "unanswered", name),
                Problem(
                    Code.CONTRADICTION,
                    "is said to be answered and unanswered",
                    found=shown(answer),
                    expected="one of them",
                ),
            )
        if measure.with_ and measure.with_ not in visit.answers:
            yield (
                (*at, "answers", name),
                Problem(
                    Code.MISSING_KEY,
                    "says nothing by itself",
                    found=shown(answer),
                    expected=f"{measure.with_} beside it",
                ),
            )
    misfit = sections_misfit(visit.answers)
    if misfit is not None:
        name, found, expected = misfit
        yield (*at, "answers", name), Problem(Code.CONTRADICTION, "does not agree with its sections", found=found,
                                              expected=expected)  # fmt: skip


def _event(event: Event, at: Path) -> Iterator[Found]:
    for field, text in (("began", event.began), ("ended", event.ended)):
        if (text or field == "began") and _span(text) is None:
            yield (*at, field), Problem(Code.BAD_DATE, "not a day that exists", found=shown(text),
                                        expected="YYYY-MM-DD, YYYY-MM or YYYY")  # fmt: skip
    yield from _whole(event.learned, (*at, "learned"))
    for who, on in event.reported.items():
        yield from _whole(on, (*at, "reported", who))
        if _day(on) and _day(event.learned) and on < event.learned:
            yield (*at, "reported", who), _against("reported before it was learned", on, event.learned)
    began, ended, learned = _span(event.began), _span(event.ended), _day(event.learned)
    if not event.what.strip():
        yield (
            (*at, "what"),
            Problem(Code.EMPTY, "it is not said what happened", expected="words, or a term of the forms"),
        )
    if began is not None and learned is not None and learned.toordinal() < began.low:
        yield (*at, "learned"), _against("learned before it began", event.learned, event.began)
    if began is not None and ended is not None and ended.high < began.low:
        yield (*at, "ended"), _against("ended before it began", event.ended, event.began)
    yield from _grades(event, at)


def _grades(event: Event, at: Path) -> Iterator[Found]:
    says = {
        "grade 5": event.grade == DEATH,
        "outcome fatal": event.outcome == "fatal",
        "serious because of death": event.serious is not None and "death" in event.serious,
    }
    denies = {
        f"grade {event.grade}": event.grade not in (None, DEATH),
        f"outcome {event.outcome}": event.outcome not in ("fatal", "not_known"),
        "judged, and not because of death": event.serious is not None and "death" not in event.serious,
    }
    dead = [words for words, true in says.items() if true]
    alive = [words for words, true in denies.items() if true]
    if dead and alive:
        field = "grade" if event.grade == DEATH else "outcome" if event.outcome == "fatal" else "serious"
        yield (*at, field), Problem(
            Code.CONTRADICTION, "says a death and denies it", found=f"{'; '.join(dead)} against {'; '.join(alive)}",
            expected="grade 5, outcome fatal and serious because of death go together",
            next_step="grade the event as it was; a death from something else is an event of its own",
        )  # fmt: skip


def _level(level: str, at: Path) -> Iterator[Found]:
    if level not in LUMBAR:
        close = normal_level(level)
        yield at, Problem(
            Code.BAD_LEVEL, "not a lumbar disc", found=shown(level), expected=", ".join(LUMBAR),
            next_step=f"write {close}" if close in LUMBAR else "",
        )  # fmt: skip


def _whole(text: str, at: Path) -> Iterator[Found]:
    try:
        day(text)
    except DateError as error:
        yield at, Problem(Code.BAD_DATE, str(error), found=shown(text), expected="a date, YYYY-MM-DD")


def _is_moment(text: str) -> bool:
    try:
        return bool(_MOMENT.match(text)) and datetime.fromisoformat(text) is not None
    except ValueError:
        return False


def _moment(text: str, at: Path) -> Iterator[Found]:
    if not _is_moment(text):
        yield at, Problem(Code.BAD_DATE, "not a day and time", found=shown(text), expected="YYYY-MM-DDTHH:MM")


def _against(message: str, found: str, other: str) -> Problem:
    return Problem(Code.CONTRADICTION, message, found=shorten(found), expected=f"not before {shorten(other)}",
                   next_step="correct whichever date is wrong")  # fmt: skip


def _day(text: str) -> date | None:
    try:
        return day(text)
    except DateError:
        return None


def _span(text: str) -> Span | None:
    try:
        return date_span(text)
    except DateError:
        return None
