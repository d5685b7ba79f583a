"""A folder of course records beside their case records: what can be counted, and what is told instead.

Each patient counts once, from the first session of injections on. A file that cannot be read is named with everything wrong
in it; entries that do not fit are told and kept out (`candidacy.course.checks`); nothing is changed or dropped silently.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, partial
from pathlib import Path
from typing import TypeVar

from msgspec import Struct

from candidacy.case.load import Case, parse_case
from candidacy.course.checks import sessions_of
from candidacy.course.load import Course, parse_course
from candidacy.course.record import CourseRecord, Injection
from candidacy.foundation.dates import date_span, day
from candidacy.foundation.digest import digest
from candidacy.foundation.errors import Code, CourseError, InputError, Problem
from candidacy.foundation.files import read_text

COURSE = ".course"
_SUFFIXES = (".yaml", ".yml", ".json")
Tell = Callable[[str, int, int], None]
_Record = TypeVar("_Record", Course, Case)


class SetAside(Struct, frozen=True):
    """A file that could not be used, with everything that is wrong with it; its reference where that is what is wrong."""

    file: str
    problems: tuple[Problem, ...]
    reference: str = ""

    @property
    def words(self) -> str:
        """The first finding, and how many there are."""
        first = self.problems[0]
        place = f"{first.field}: " if first.field else ""
        more = f" (and {len(self.problems) - 1} more)" if len(self.problems) > 1 else ""
        return f"{place}{first.message}{f': {first.found}' if first.found else ''}{more}"


@dataclass(frozen=True)
class Patient:
    """One treated patient as of a day.

    Attributes
    ----------
    record
        The course record without the entries that notices hold, and without what is dated after the day.
    case
        The case record, or None where there is none that can be read.
    notices
        What does not fit in the course record, in words.
    """

    course: Course
    record: CourseRecord
    case: Case | None
    notices: tuple[str, ...] = ()

    @property
    def reference(self) -> str:
        return self.record.case

    @cached_property
    def first(self) -> Injection | None:
        """The first session, or None where it is held or there is none.

        A later session never takes the place of a first one that is held: everything is counted from the first.
        """
        sessions, written = sessions_of(self.record), sessions_of(self.course.record)
        return sessions[0] if sessions and sessions[0].id == written[0].id else None

    @cached_property
    def injected(self) -> date | None:
        """Its day."""
        return day(self.first.date) if self.first else None

    @cached_property
    def discs(self) -> tuple[str, ...]:
        """Discs injected in it."""
        return tuple(dict.fromkeys(disc.level for disc in self.first.discs)) if self.first else ()

    @cached_property
    def died(self) -> date | None:
        """Day of death, where the patient is said to have died; the latest day it can be."""
        contact = self.record.last_contact
        if contact is not None and contact.state == "died":
            return day(contact.date)
        fatal = [
            date.fromordinal(int(date_span(event.ended or event.learned).high))
            for event in self.record.events
            if event.outcome == "fatal"
        ]
        return min(fatal) if fatal else None

    @cached_property
    def known_until(self) -> date | None:
        """The last day of which anything is known."""
        if self.injected is None:
            return None
        record = self.record
        days = [*(i.date for i in record.injections), *(v.date for v in record.visits)]
        days += [procedure.date for procedure in record.procedures]
        days += [event.learned for event in record.events]
        days += [record.last_contact.date] if record.last_contact else []
        return self.died or max(self.injected, *(day(each) for each in days))

    @property
    def ended(self) -> str:
        """The state of the last contact, or empty."""
        return self.record.last_contact.state if self.record.last_contact else ""


@dataclass(frozen=True)
class Practice:
    """Everything that was read of a folder, as of a day, in the order of the first injections."""

    patients: tuple[Patient, ...]
    on: date
    set_aside: tuple[SetAside, ...] = ()
    told: tuple[str, ...] = ()
    name: str = ""
    files: tuple[Path, ...] = field(default=(), repr=False)

    @property
    def digest(self) -> str:
        """Digest of what was counted; the order of files and their names change nothing."""
        return digest(
            [
                self.on.isoformat(),
                sorted(f"{p.course.digest} {p.case.digest if p.case else ''}" for p in self.patients),
            ]
        )

    @property
    def treated(self) -> tuple[Patient, ...]:
        """Patients whose first session can be counted."""
        return tuple(patient for patient in self.patients if patient.first is not None)

    @property
    def kept_out(self) -> tuple[Patient, ...]:
        """Patients whose first session is kept out until somebody has resolved what does not fit."""
        return tuple(
            patient for patient in self.patients if patient.first is None and patient.course.record.injections
        )

    @property
    def not_injected(self) -> tuple[Patient, ...]:
        """Patients whose course record holds no session."""
        return tuple(patient for patient in self.patients if not patient.course.record.injections)

    @property
    def invented(self) -> bool:
        """Whether any record is said to be invented."""
        return any(p.record.invented or (p.case and p.case.record.invented) for p in self.patients)


def read_practice(folder: Path, on: date, tell: Tell = lambda what, done, of: None) -> Practice:
    """Read the course records of a folder, ``NAME.course.yaml``, and the case records beside them.

    A case record belongs to the course record that names its id, whatever its file is called.

    Parameters
    ----------
    on
        The day as of which everything is seen; later entries are told and not counted.
    tell
        Told what is read, how many are done, and of how many.

    Raises
    ------
    CourseError
        E101 where there is no such folder, E109 where it holds no course record, and with everything that is wrong
        where none can be used.
    """
    if not folder.is_dir():
        raise CourseError(
            [
                Problem(
                    Code.UNREADABLE,
                    "there is no such folder",
                    str(folder),
                    expected="a folder with course records",
                )
            ]
        )
    paths = sorted(path for path in folder.iterdir() if path.suffix in _SUFFIXES and path.is_file())
    if not any(_is_course(path) for path in paths):
        raise CourseError([Problem(
            Code.EMPTY, "no course records in this folder", str(folder),
            expected=f"files NAME{COURSE}.yaml, and beside each the case record NAME.yaml",
            next_step="candidacy follow writes them",
        )])  # fmt: skip
    return _practice(
        [(path.name, str(path), partial(read_text, path)) for path in paths],
        on,
        folder.name,
        tuple(paths),
        tell,
    )


def practice_of_texts(
    files: Mapping[str, str], on: date, name: str = "", tell: Tell = lambda what, done, of: None
) -> Practice:
    """The practice of files that were handed over as texts, by their names; see `read_practice`.

    Raises
    ------
    CourseError
        E109 where none is a course record, and with everything that is wrong where none can be used.
    """
    if not any(_is_course(Path(each)) for each in files):
        raise CourseError([Problem(
            Code.EMPTY, "no course records among these files", expected=f"files NAME{COURSE}.yaml, and the case records beside them",
        )])  # fmt: skip
    entries = [(each, each, partial(str, text)) for each, text in sorted(files.items())]
    return _practice(entries, on, name, (), tell)


# The name of a file, what problems call it, and what gives its text.
_File = tuple[str, str, Callable[[], str]]


def _practice(files: Sequence[_File], on: date, name: str, paths: tuple[Path, ...], tell: Tell) -> Practice:
    aside: list[SetAside] = []
    courses = _read(
        [each for each in files if _is_course(Path(each[0]))],
        parse_course,
        lambda c: c.record.case,
        "case",
        aside,
        tell,
    )
    refused = {each.file.partition(COURSE)[0] for each in aside} | {each.reference for each in aside}
    cases = _read(
        [each for each in files if not _is_course(Path(each[0]))],
        parse_case,
        lambda c: c.record.id,
        "id",
        aside,
        tell,
    )
    if not courses:
        raise CourseError([problem for each in aside for problem in each.problems])
    alone = sorted(set(cases) - set(courses) - refused)
    return practice_of(
        ((course, cases.get(reference)) for reference, course in courses.items()),
        on,
        set_aside=tuple(aside),
        told=(f"Case records without a course record, not counted as treated: {', '.join(alone)}.",)
        if alone
        else (),
        name=name,
        files=paths,
    )


def _read(
    files: list[_File],
    parse: Callable[[str, str], _Record],
    reference_of: Callable[[_Record], str],
    key: str,
    aside: list[SetAside],
    tell: Tell,
) -> dict[str, _Record]:
    """Records by their reference; of those with one reference none is taken: which is right must be asked."""
    found: defaultdict[str, list[tuple[str, _Record]]] = defaultdict(list)
    for number, (name, called, text) in enumerate(files):
        tell("course records" if key == "case" else "case records", number, len(files))
        try:
            record = parse(text(), called)
        except InputError as error:
            aside.append(SetAside(name, error.problems))
            continue
        found[reference_of(record)].append((name, record))
    for reference, several in found.items():
        names = [name for name, _ in several]
        for name in names if len(names) > 1 else ():
            others = ", ".join(other for other in names if other != name)
            problem = Problem(
                Code.DUPLICATE_KEY, "the reference occurs more than once", name, field=key, found=reference,
                expected="one file for each patient", next_step=f"compare it with {others} and keep one",
            )  # fmt: skip
            aside.append(SetAside(name, (problem,), reference))
    return {reference: several[0][1] for reference, several in found.items() if len(several) == 1}


def practice_of(
    pairs: Iterable[tuple[Course, Case | None]],
    on: date,
    *,
    set_aside: tuple[SetAside, ...] = (),
    told: tuple[str, ...] = (),
    name: str = "",
    files: tuple[Path, ...] = (),
) -> Practice:
    """The practice of course records with their case records, wherever these come from."""
    patients = []
    for course, case in pairs:
        notices = course.notices(on)
        words = [str(notice) for notice in notices]
        if case is None:
            words.append("There is no case record of this reference: nothing is counted by criterion.")
        patients.append(Patient(course, course.counted(on), case, tuple(words)))
    patients.sort(key=lambda p: (p.injected or date.max, p.reference))
    return Practice(tuple(patients), on, set_aside, told, name, files)


def _is_course(path: Path) -> bool:
    return path.suffix in _SUFFIXES and path.stem.endswith(COURSE)
