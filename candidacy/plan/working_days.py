"""The calendar of a practice: weekend days and holidays, and the working day before or after a day off."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Annotated

from msgspec import Struct, field
from pydantic import Field

from candidacy.case.element import Rows, Strict
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.files import Placed, read_tree
from candidacy.foundation.shape import validate

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_FURTHEST = 60


class Holiday(Strict):
    """One day on which the practice is shut."""

    date: str
    """The day, YYYY-MM-DD."""
    name: Annotated[str, Field(min_length=1, max_length=120)]
    """What it is called."""


class CalendarFile(Strict):
    """A calendar of a practice."""

    title: str = ""
    """Name of the calendar."""
    weekend_days: Rows[str] | None = None
    """Days of the week on which the practice is shut, in place of the setting of the plan."""
    holidays: Rows[Holiday] = ()
    """Days on which it is shut."""


class WorkingDays(Struct, frozen=True):
    """Which days are worked; ``digest`` is empty where no calendar was given."""

    weekend: frozenset[int] = frozenset()
    holidays: Mapping[date, str] = field(default_factory=dict)
    title: str = ""
    digest: str = ""

    def off(self, when: date) -> str:
        """Why a day is no working day; empty for a working day."""
        if when in self.holidays:
            return self.holidays[when]
        return WEEKDAYS[when.weekday()].capitalize() if when.weekday() in self.weekend else ""

    def before(self, when: date) -> date:
        """The day itself, or the last working day before it."""
        return self._search(when, -1)

    def after(self, when: date) -> date:
        """The day itself, or the first working day after it."""
        return self._search(when, 1)

    def _search(self, when: date, step: int) -> date:
        for number in range(_FURTHEST + 1):
            try:
                found = when + timedelta(step * number)
            except OverflowError:
                break
            if not self.off(found):
                return found
        raise InputError([Problem(Code.IMPOSSIBLE_VALUE, "the calendar has no working day near this day", "calendar", field="holidays",
                                  found=when.isoformat(), expected=f"a working day within {_FURTHEST} days")])  # fmt: skip


def weekend_problem(days: object) -> tuple[str, str] | None:
    """What is wrong with a list of weekend days and what was found, or nothing."""
    if not isinstance(days, tuple | list):
        return "weekend days are a list of days of the week", shorten(days)
    unknown = [each for each in days if each not in WEEKDAYS]
    if unknown:
        return "not a day of the week", shorten(", ".join(map(str, unknown)))
    if len(set(days)) == len(WEEKDAYS):
        return "no day of the week would be worked", "all seven days"
    return None


def working_days(weekend: Sequence[str], file: Path | None = None) -> WorkingDays:
    """The weekend of a plan, and the calendar file of a practice where one is given.

    Raises
    ------
    InputError
        With everything that is wrong with the file: E207 for a day that does not exist, E105 for one that stands twice,
        E205 where no day of the week would be worked.
    """
    if file is None:
        return WorkingDays(frozenset(WEEKDAYS.index(each) for each in weekend))
    return calendar_of(read_tree(file), str(file), weekend)


def calendar_of(tree: Placed, name: str, weekend: Sequence[str]) -> WorkingDays:
    """The same from a parsed file; see `working_days`."""
    read = validate(
        CalendarFile,
        tree,
        name,
        lambda path: list((Holiday if "holidays" in path else CalendarFile).model_fields),
    )
    wrong: list[Problem] = []

    def refuse(code: Code, message: str, path: tuple[str | int, ...], found: str, expected: str) -> None:
        node = tree.at(path)
        wrong.append(
            Problem(
                code,
                message,
                name,
                node.line,
                node.column,
                ".".join(map(str, path)),
                shorten(found),
                expected,
            )
        )

    days = tuple(weekend) if read.weekend_days is None else read.weekend_days
    problem = weekend_problem(days)
    if problem is not None:
        refuse(
            Code.IMPOSSIBLE_VALUE,
            problem[0],
            ("weekend_days",),
            problem[1],
            f"at most six of {', '.join(WEEKDAYS)}",
        )
    holidays: dict[date, str] = {}
    for place, holiday in enumerate(read.holidays):
        at = ("holidays", place, "date")
        try:
            when = day(holiday.date)
        except DateError as error:
            refuse(Code.BAD_DATE, str(error), at, holiday.date, "a date, YYYY-MM-DD")
            continue
        if when in holidays:
            refuse(Code.DUPLICATE_KEY, "this day stands twice", at, holiday.date, "each day once")
        holidays[when] = holiday.name
    if wrong:
        raise InputError(wrong)
    return WorkingDays(frozenset(WEEKDAYS.index(each) for each in days), holidays, read.title,
                       digest(read.model_dump(mode="json")))  # fmt: skip
