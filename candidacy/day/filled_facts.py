"""Times, discs and containers of a filled form: in the order in which things happen, as planned, and each its own."""

import re
from collections.abc import Iterator
from datetime import datetime

from candidacy.case.facts import normal_level
from candidacy.course.record import CourseRecord
from candidacy.day.checklist import Checklist
from candidacy.day.filled_answers import Path
from candidacy.day.form import FilledDay, FilledDisc, FilledUnit
from candidacy.explain.wording import listed
from candidacy.foundation.errors import Code, Problem, shorten

_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}\Z")
_SSN = re.compile(r"(?<![0-9])[0-9]{3}-[0-9]{2}-[0-9]{4}(?![0-9])")


def times(filled: FilledDay, lines: Checklist) -> Iterator[tuple[Path, Problem]]:
    """Times that are none, and those that are out of the order in which things happen."""
    for path, text in _moments(filled):
        if text and not _is_moment(text):
            yield (
                path,
                Problem(
                    Code.BAD_DATE, "not a day and time", found=shorten(text), expected="YYYY-MM-DDTHH:MM"
                ),
            )
    injected = sorted(disc.injected_at or "" for disc in filled.discs if _is_moment(disc.injected_at))
    first, last = (injected[0], injected[-1]) if injected else ("", "")
    left = filled.discharged if _is_moment(filled.discharged) else ""
    known = {line.id: line for line in lines.lines}
    for number, check in enumerate(filled.checks):
        line, at = known.get(check.id), ("checks", number, "at")
        if line is None or not check.at or not _is_moment(check.at):
            continue
        if check.at[:10] > filled.date or (line.asked != "before" and check.at[:10] != filled.date):
            yield at, _order("not checked on the day", check.at, f"{filled.date}T…")
        elif line.asked == "leaving" and last and check.at < last:
            yield at, _order("checked before the injection", check.at, f"not before {last}")
        elif line.asked != "leaving" and first and check.at > first:
            yield at, _order("checked after the first injection", check.at, f"not after {first}")
        if left and check.at > left:
            yield at, _order("checked after leaving", check.at, f"not after {left}")
    for number, disc in enumerate(filled.discs):
        for place, unit in enumerate(disc.units):
            end = unit.thaw_ended or unit.thaw_began
            if (
                end
                and disc.injected_at
                and _is_moment(end)
                and _is_moment(disc.injected_at)
                and end > disc.injected_at
            ):
                yield (("discs", number, "units", place, "thaw_ended"),
                       _order("thawed after it was injected", end, f"not after {disc.injected_at}"))  # fmt: skip
    if left and last and left < last:
        yield ("discharged",), _order("left before the injection", left, f"not before {last}")
    if filled.assessed.on > filled.date:
        yield (
            ("assessed",),
            _order("assessed after the injection", filled.assessed.on, f"not after {filled.date}"),
        )


def _moments(filled: FilledDay) -> Iterator[tuple[Path, str | None]]:
    for number, check in enumerate(filled.checks):
        yield ("checks", number, "at"), check.at
    for number, disc in enumerate(filled.discs):
        yield ("discs", number, "injected_at"), disc.injected_at
    for path, unit in units_of(filled):
        yield (*path, "thaw_began"), unit.thaw_began
        yield (*path, "thaw_ended"), unit.thaw_ended
    yield ("discharged",), filled.discharged


def _is_moment(text: str | None) -> bool:
    try:
        return bool(text) and bool(_MOMENT.match(text or "")) and bool(datetime.fromisoformat(text or ""))
    except ValueError:
        return False


def _order(message: str, found: str, expected: str) -> Problem:
    return Problem(
        Code.CONTRADICTION,
        message,
        found=shorten(found),
        expected=expected,
        next_step="correct whichever is wrong",
    )


def level_of(disc: FilledDisc) -> str:
    """The disc as this program spells it, or as it was written where it is none."""
    return normal_level(disc.level or "") or (disc.level or "")


def differences(filled: FilledDay) -> list[str]:
    """In which discs what was done differs from the plan, in words; loud."""
    done = [level_of(disc) for disc in filled.discs if disc.level]
    wrong = [f"{level} was injected and was NOT planned (planned: {listed(list(filled.planned))})" for level in done
             if level not in filled.planned]  # fmt: skip
    left = (
        [f"{level} was planned and was not injected" for level in filled.planned if level not in done]
        if done
        else []
    )
    return wrong + left


def expired(filled: FilledDay) -> list[str]:
    """Containers that were used past their expiry, in words; loud."""
    return [
        f"unit {unit.code}, lot {unit.lot}, used for {level_of(disc)} on {filled.date}, bears the expiry {unit.expires}"
        for disc in filled.discs
        for unit in disc.units
        if unit.expires and unit.expires < filled.date
    ]


def other_days(filled: FilledDay) -> list[str]:
    """Times that fit the order of things and lie on another day than the injection, in words; loud."""
    found = [
        f"unit {unit.code} was thawed from {text}, and the injection was on {filled.date}"
        for _, unit in units_of(filled)
        for text in (unit.thaw_began or unit.thaw_ended or "",)
        if text and text[:10] != filled.date
    ]
    left = filled.discharged or ""
    return [
        *found,
        *([f"Left at {left}, and the injection was on {filled.date}"] if left[:10] > filled.date else []),
    ]


def plan(filled: FilledDay) -> Iterator[tuple[Path, Problem]]:
    """Discs that stand twice, and what differs from the plan without a reason."""
    done = [level_of(disc) for disc in filled.discs if disc.level]
    for number, level in enumerate(done):
        if level in done[:number]:
            yield (
                ("discs", number, "level"),
                Problem(Code.DUPLICATE_KEY, "this disc stands twice", found=level),
            )
    if (filled.differs_because or "").strip():
        return
    for words in (*differences(filled), *expired(filled)):
        yield ("differs_because",), Problem(
            Code.CONTRADICTION, words, found="no reason",
            next_step="correct the form if it is a slip; if it was so, write why under differs_because: it is recorded "
            "with an event to be looked into")  # fmt: skip


def codes(filled: FilledDay) -> Iterator[tuple[Path, Problem]]:
    """A distinct code holds no number of a person, and stands once."""
    seen: set[str] = set()
    for path, unit in units_of(filled):
        code = "" if unit.code is None else str(unit.code).strip()
        if _SSN.search(code) or (len(filled.case) > 2 and filled.case.lower() in code.lower()):
            yield (*path, "code"), Problem(
                Code.IMPOSSIBLE_VALUE, "a distinct code holds no social security or record number and no reference of a patient",
                found=shorten(code), expected="the code on the label of the container (21 CFR 1271.290)")  # fmt: skip
        if code and code in seen:
            yield (*path, "code"), Problem(Code.DUPLICATE_KEY, "this code stands twice", found=shorten(code),
                                           expected="one code for each container")  # fmt: skip
        seen.add(code)


def units_of(filled: FilledDay) -> Iterator[tuple[Path, FilledUnit]]:
    """Every container with its place, those that went into no disc last."""
    for number, disc in enumerate(filled.discs):
        for place, unit in enumerate(disc.units):
            yield ("discs", number, "units", place), unit
    for place, unit in enumerate(filled.unused_units):
        yield ("unused_units", place), unit


def against(filled: FilledDay, former: CourseRecord) -> Iterator[tuple[Path, Problem]]:
    """What the course record says already: another case, this very session, or a container that was used before."""
    if former.case != filled.case:
        yield ("case",), Problem(Code.CONTRADICTION, "the course record is of another case", found=filled.case,
                                 expected=former.case, next_step="name the course record of this case")  # fmt: skip
        return
    if former.invented != filled.invented:
        words = {True: "invented for demonstration", False: "of a real patient"}
        yield ("invented",), Problem(Code.CONTRADICTION, "invented and real are not kept in one record",
                                     found=words[filled.invented], expected=f"as the course record: {words[former.invented]}")  # fmt: skip
        return
    levels = {level_of(disc) for disc in filled.discs}
    codes = {str(unit.code).strip(): path for path, unit in units_of(filled) if unit.code is not None}
    for each in former.injections:
        same = levels & {disc.level for disc in each.discs}
        if each.date == filled.date and same:
            yield ("date",), Problem(
                Code.CONTRADICTION, "this session is in the course record already", found=f"{filled.date}, {listed(sorted(same))}",
                expected=f"a session that is not session {each.id}", next_step="correct the course record itself if it is wrong")  # fmt: skip
            return
        for unit in (*(u for disc in each.discs for u in disc.units), *each.unused_units):
            if unit.code in codes:
                yield (*codes[unit.code], "code"), Problem(
                    Code.CONTRADICTION, "this container was used before", found=shorten(unit.code),
                    expected=f"another code; session {each.id} on {each.date} has it", next_step="read the label again")  # fmt: skip
