"""A filled form of the day, checked whole and set into a course record: all of it, or nothing and every reason why."""

from collections.abc import Iterator
from typing import Any

from msgspec import Struct

from candidacy.course import record as shapes
from candidacy.course.append import with_entry
from candidacy.course.entries import wrong_entries
from candidacy.course.load import Course, course_from_record, course_to_yaml
from candidacy.course.record import (
    Check,
    CourseRecord,
    Event,
    InjectedDisc,
    Injection,
    Quantity,
    Unit,
    WentOn,
)
from candidacy.day.checklist import Checklist, checklist
from candidacy.day.filled_answers import Path, answers, blanks
from candidacy.day.filled_facts import against, codes, differences, expired, level_of, other_days, plan, times
from candidacy.day.form import (
    FilledCheck,
    FilledDay,
    FilledDisc,
    FilledQuantity,
    FilledUnit,
    FilledWentOn,
)
from candidacy.foundation.errors import CourseError, InputError, Problem
from candidacy.foundation.files import MAX_PROBLEMS, Node, parse_collecting
from candidacy.foundation.shape import validate

_KEYS: dict[str, type[Any]] = {
    "checks": FilledCheck, "discs": FilledDisc, "units": FilledUnit, "unused_units": FilledUnit, "volume": FilledQuantity,
    "peak_pressure": FilledQuantity, "went_on": FilledWentOn, "assessed": shapes.Assessed,
}  # fmt: skip


class Taken(Struct, frozen=True):
    """A course record with one more session.

    Attributes
    ----------
    course
        The record as it is now.
    at
        Place of the session among the injections, counted from 0.
    events
        How many events were added at the end, because what was done has to be reported or looked into.
    loud
        What must be told at once: another disc than planned, an expired container, contrast in the injectate, a line
        that was answered with no.
    """

    course: Course
    at: int
    events: int
    loud: tuple[str, ...]


def read_filled(text: str, name: str) -> tuple[FilledDay, Node]:
    """Read a filled form.

    Raises
    ------
    CourseError
        With everything that is wrong with its shape.
    """
    try:
        tree, problems = parse_collecting(text, name)
        if problems:
            raise InputError(problems)
        return validate(FilledDay, tree, name, _known_keys), tree
    except InputError as error:
        raise CourseError(error.problems) from None


def take_day(
    filled: FilledDay, tree: Node, name: str, course: Course | None, *, asked: Checklist | None = None
) -> Taken:
    """Set a filled form into a course record, or begin one with it.

    Raises
    ------
    CourseError
        With everything that is not answered, does not fit, or has been taken already; nothing is changed then.
    """
    lines = checklist() if asked is None else asked
    former = (
        course.record
        if course
        else CourseRecord(schema_version="1", case=filled.case, invented=filled.invented)
    )
    found = [
        *blanks(filled),
        *answers(filled, lines),
        *times(filled, lines),
        *plan(filled),
        *codes(filled),
    ]
    found += against(filled, former)
    if found:
        raise CourseError(_placed(found, tree, name))
    number = max((each.id for each in former.injections), default=0) + 1
    injection = _injection(filled, number)
    at = sum(each.date <= injection.date for each in former.injections)
    events = list(_events(filled, number, max((each.id for each in former.events), default=0) + 1))
    injections = (*former.injections[:at], injection, *former.injections[at:])
    record = former.model_copy(update={"injections": injections, "events": (*former.events, *events)})
    # what the record refuses of the session stands in the form, and is told there
    wrong = [(path[2:], problem) for path, problem in wrong_entries(record) if path[:2] == ("injections", at)]
    if wrong:
        raise CourseError(_placed(wrong, tree, name))
    return Taken(course_from_record(record, name), at, len(events), tuple(_loud(filled, lines)))


def with_session(text: str, taken: Taken, name: str) -> str:
    """The text of the course record with the session and its events; every other sign of the text stays.

    Parameters
    ----------
    text
        The file as it was; empty where the record begins.

    Raises
    ------
    CourseError
        E104 if the text cannot be changed in place.
    """
    record = taken.course.record
    if not text:
        return course_to_yaml(record)
    kept = len(record.events) - taken.events
    made = text
    step = record.model_copy(update={"events": record.events[:kept]})
    made = with_entry(made, step, "injections", taken.at, name)
    for more in range(taken.events):
        step = record.model_copy(update={"events": record.events[: kept + more + 1]})
        made = with_entry(made, step, "events", kept + more, name)
    return made


def _placed(found: list[tuple[Path, Problem]], tree: Node, name: str) -> list[Problem]:
    problems = []
    for path, problem in found:
        node = tree.at(path[:-1]) if path else tree
        line, column = (
            node.key_place(str(path[-1]))
            if path and isinstance(node.value, dict)
            else (node.line, node.column)
        )
        field = ".".join(str(step) for step in path)
        problems.append(Problem(problem.code, problem.message, name, line, column, field, problem.found,
                                problem.expected, problem.next_step))  # fmt: skip
    return sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))[:MAX_PROBLEMS]


def _known_keys(path: tuple[Any, ...]) -> list[str]:
    last = next((step for step in reversed(path) if isinstance(step, str)), "")
    return list(_KEYS.get(last, FilledDay).model_fields)


def _injection(filled: FilledDay, number: int) -> Injection:
    went = filled.went_on
    reason = (filled.differs_because or "").strip()
    recovery = (filled.recovery or "").strip()
    return Injection(
        id=number,
        date=filled.date,
        discs=tuple(
            _disc(disc, reason if level_of(disc) not in filled.planned else "") for disc in filled.discs
        ),
        unused_units=tuple(_unit(unit) for unit in filled.unused_units),
        checks=tuple(_check(check) for check in filled.checks),
        assessed=filled.assessed,
        went_on=WentOn(because=went.because, reason=(went.reason or "").strip())
        if went is not None and went.because is not None
        else None,
        discharged=filled.discharged or "",
        recovery=recovery,
    )


def _disc(disc: FilledDisc, differs: str) -> InjectedDisc:
    note = "; ".join(
        filter(None, ((disc.note or "").strip(), f"not as planned: {differs}" if differs else ""))
    )
    return InjectedDisc(
        level=level_of(disc),
        material=(disc.material or "").strip(),
        units=tuple(_unit(unit) for unit in disc.units),
        volume=_quantity(disc.volume),
        peak_pressure=_quantity(disc.peak_pressure),
        contrast_in_injectate=disc.contrast_in_injectate,
        injected_at=disc.injected_at or "",
        ended_because=disc.ended_because or "",
        again_because=(disc.again_because or "").strip(),
        note=note,
    )


def _quantity(given: FilledQuantity | None) -> Quantity | None:
    if given is None or given.value is None or not given.unit:
        return None
    return Quantity(value=given.value, unit=given.unit)


def _unit(unit: FilledUnit) -> Unit:
    return Unit(
        code=str(unit.code).strip(),
        lot=str(unit.lot).strip(),
        expires=unit.expires or "",
        thaw_began=unit.thaw_began or "",
        thaw_ended=unit.thaw_ended or "",
        disposition=unit.disposition or "",
    )


def _check(check: FilledCheck) -> Check:
    assert check.answer is not None
    return Check(id=check.id, disc=check.disc, answer=check.answer, by=check.by or "", at=check.at or "",
                 note=(check.note or "").strip())  # fmt: skip


def _events(filled: FilledDay, session: int, number: int) -> Iterator[Event]:
    """What has to be looked into whatever its consequence: a disc that was not planned, a container past its expiry."""
    done = [
        f"injected into a disc that was not planned: {words}"
        for words in differences(filled)
        if "NOT planned" in words
    ]
    done += [f"container used past its expiry: {words}" for words in expired(filled)]
    for more, words in enumerate(done):
        yield Event(id=number + more, what=words, began=filled.date, learned=filled.date, injection=session,
                    note=f"Reason given: {(filled.differs_because or '').strip()}")  # fmt: skip


def _loud(filled: FilledDay, lines: Checklist) -> Iterator[str]:
    for words in differences(filled):
        yield f"NOT AS PLANNED. {words[:1].upper()}{words[1:]}."
    for words in expired(filled):
        yield f"EXPIRED. {words[:1].upper()}{words[1:]}: an event to be reported to the supplier and looked into."
    for disc in filled.discs:
        if disc.contrast_in_injectate:
            yield f"CONTRAST was part of what went into {level_of(disc)}; none is asked for in the injectate."
    for check in filled.checks:
        line = lines.line(check.id)
        if check.answer == "no" and line is not None:
            yield (
                f"{getattr(lines.words, line.no.word)} was answered with no and it went on: {check.id} {check.disc}".strip()
                + "."
            )
    for words in other_days(filled):
        yield f"ANOTHER DAY. {words}: correct the form if it is a slip."
    if filled.checklist != lines.version:
        given = {check.id for check in filled.checks}
        missing = [line.id for line in lines.lines if line.id not in given and not line.only]
        if missing:
            yield f"NOT ASKED by the form, and asked by the checklist in use: {', '.join(missing)}."
        yield f"The checklist of the form has version {filled.checklist}; the one in use has {lines.version}."
