"""Load a course record from a YAML or JSON file, telling everything that is wrong with it at once.

What cannot be read, points at nothing or contradicts itself within one entry is refused with its line; the file stays as
it is. What does not fit between entries is told by `checks`: either of them may be right, so nothing is thrown away.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

import yaml
from msgspec import Struct
from pydantic import BaseModel

from candidacy.case.load import yaml_dumper
from candidacy.course import record as shapes
from candidacy.course.checks import Notice, counted, notices
from candidacy.course.entries import Path as Field
from candidacy.course.entries import wrong_entries
from candidacy.course.record import CourseRecord
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import CourseError, InputError, Problem
from candidacy.foundation.files import MAX_PROBLEMS, Node, parse_collecting, read_text
from candidacy.foundation.plain_data import tree_of
from candidacy.foundation.shape import validate

_KEYS: dict[str, type[BaseModel]] = {
    "injections": shapes.Injection, "discs": shapes.InjectedDisc, "units": shapes.Unit, "checks": shapes.Check,
    "assessed": shapes.Assessed, "went_on": shapes.WentOn, "volume": shapes.Quantity, "peak_pressure": shapes.Quantity,
    "visits": shapes.Visit, "events": shapes.Event, "procedures": shapes.Procedure, "last_contact": shapes.LastContact,
}  # fmt: skip


class Course(Struct, frozen=True):
    """A loaded course record and the digest of its content. It never changes."""

    record: CourseRecord
    digest: str
    name: str = ""

    def notices(self, on: date | None = None) -> tuple[Notice, ...]:
        """What does not fit in it, as seen on a day: shown wherever the record is used; see `checks.notices`."""
        return notices(self.record, on)

    def counted(self, on: date | None = None) -> CourseRecord:
        """The record without what notices keep out of counts; see `checks.counted`."""
        return counted(self.record, self.notices(on))

    def to_yaml(self) -> str:
        """The record as YAML text that loads back to an equal record."""
        return course_to_yaml(self.record)


def load_course(path: Path | str) -> Course:
    """Load a course record file.

    Raises
    ------
    CourseError
        With every problem found, each with file, line, column, field, value and what is allowed.
    """
    try:
        text = read_text(Path(path))
    except InputError as error:
        raise CourseError(error.problems) from None
    return parse_course(text, str(path))


def parse_course(text: str, name: str = "course") -> Course:
    """Load a course record from YAML or JSON text; see `load_course`."""
    try:
        tree, problems = parse_collecting(text, name)
    except InputError as error:
        raise CourseError(error.problems) from None
    try:
        record = validate(CourseRecord, tree, name, _known_keys)
    except InputError as error:
        problems += error.problems
    if problems:
        raise CourseError(_in_order(problems))
    return _finish(record, tree, name)


def course_from_mapping(data: Mapping[str, object], name: str = "course") -> Course:
    """Load a course record from plain data, as a reader of YAML or JSON gives it; see `load_course`."""
    try:
        tree = tree_of(data, name)
        record = validate(CourseRecord, tree, name, _known_keys)
    except InputError as error:
        raise CourseError(error.problems) from None
    return _finish(record, tree, name)


def course_from_record(record: CourseRecord, name: str = "course") -> Course:
    """Check a record built in memory, as forms do; see `load_course`."""
    return _finish(record, None, name)


def course_to_yaml(record: CourseRecord) -> str:
    """Write a record as YAML that loads back to an equal record."""
    return yaml.dump(record.plain(), Dumper=yaml_dumper(), sort_keys=False, allow_unicode=True, width=100)


def _finish(record: CourseRecord, tree: Node | None, name: str) -> Course:
    found = [_placed(problem, path, tree, name) for path, problem in wrong_entries(record)]
    if found:
        raise CourseError(_in_order(found))
    return Course(record, digest(record.plain()), name)


def _placed(problem: Problem, path: Field, tree: Node | None, name: str) -> Problem:
    field = ".".join(str(step) for step in path)
    if tree is None:
        return replace(problem, file=name, field=field)
    parent = tree.at(path[:-1])
    line, column = (
        parent.key_place(str(path[-1]))
        if isinstance(parent.value, dict)
        else (tree.at(path).line, tree.at(path).column)
    )
    return replace(problem, file=name, line=line, column=column, field=field)


def _in_order(problems: Iterable[Problem]) -> list[Problem]:
    return sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column))[:MAX_PROBLEMS]


def _known_keys(path: tuple[object, ...]) -> list[str]:
    last = next((step for step in reversed(path) if isinstance(step, str)), "")
    return list(_KEYS.get(last, CourseRecord).model_fields)
