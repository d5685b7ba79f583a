"""Course records as they were saved: what followed an injection, bound to the referral whose record it names."""

from datetime import date

from msgspec import Struct

from candidacy.course.checks import Notice
from candidacy.course.due import DueVisit, due, due_order
from candidacy.course.load import Course, course_from_record, course_to_yaml, parse_course
from candidacy.course.record import CourseRecord
from candidacy.foundation.errors import Code, InputError, Problem, StoreError
from candidacy.records import schema
from candidacy.records.entries import CourseSaved
from candidacy.records.session import Session, body, checked_reference, damaged, kept_body, meanwhile


class CourseVersion(Struct, frozen=True):
    """One version of a course record.

    Attributes
    ----------
    version
        Counted from 1.
    case_version
        The version of the case record that the referral had when this was saved.
    seq
        The entry of the trail that saved it.
    """

    reference: str
    version: int
    case_version: int
    seq: int
    digest: str
    at: str
    person: str
    reason: str


class DueList(Struct, frozen=True):
    """Visits of kept courses that are due or overdue on a day, overdue first.

    Attributes
    ----------
    notices
        What does not fit in which referral.
    unread
        Referrals whose course the library in use cannot read, with what is wrong; nothing is said of their visits.
    """

    on: date
    visits: tuple[DueVisit, ...]
    notices: tuple[tuple[str, Notice], ...]
    unread: tuple[tuple[str, tuple[Problem, ...]], ...]


class Courses(Session):
    """Saving and loading course records, and what is due of them."""

    def save_course(
        self, reference: str, course: Course | CourseRecord, *, expected_version: int, reason: str = ""
    ) -> CourseVersion:
        """Save a course record as a new version.

        Parameters
        ----------
        reference
            The local reference, which is the ``case`` of the record; the referral must be kept already.
        expected_version
            The version of the course that was worked on; 0 where none is kept yet.
        reason
            Why it was changed; required from the second version on.

        Returns
        -------
        CourseVersion
            The new version, or the present one where the record is the same as before: then nothing is entered.

        Raises
        ------
        StoreError
            E702 if somebody saved another version meanwhile, with who, when and why. E202 for a change without a reason,
            E203 for a record of another referral, E704 if the referral is not kept.
        """
        checked_reference(reference)
        loaded = course if isinstance(course, Course) else course_from_record(course, reference)
        if loaded.record.case != reference:
            raise StoreError([Problem(Code.WRONG_TYPE, "the record is of another referral", "reference", field="case",
                                      found=loaded.record.case, expected=reference)])  # fmt: skip
        text = course_to_yaml(loaded.record)
        if parse_course(text, reference).digest != loaded.digest:
            raise StoreError([Problem(Code.BAD_SCALAR, "this record cannot be written so that it reads back the same",
                                      reference)])  # fmt: skip
        with self._writing("enter") as turn:
            work = turn.work(reference)
            kept = list(turn.rows.where(schema.course, reference=reference))
            former = kept[-1] if kept else None
            if former and former["digest"] == loaded.digest:
                return CourseVersion(**former)
            present = former["version"] if former else 0
            if present != expected_version:
                raise meanwhile("course", reference, expected_version, former)
            if former and not reason.strip():
                raise StoreError([Problem(Code.MISSING_KEY, "a change needs its reason", reference, field="reason",
                                          expected="why the record was changed")])  # fmt: skip
            saved = body(CourseSaved, version=present + 1, record=text, digest=loaded.digest,
                         case_version=work["version"], why=reason)  # fmt: skip
            turn.enter(saved, reference, replaces=former["seq"] if former else 0)
            found = turn.rows.get(schema.course, reference, present + 1)
        assert found is not None
        return CourseVersion(**found)

    def course_versions(self, reference: str) -> tuple[CourseVersion, ...]:
        """All versions of the course of a referral, first to last. This is entered as read.

        Raises
        ------
        StoreError
            E704 if nothing is kept under that reference.
        """
        with self._writing("read") as turn:
            turn.work(reference)
            found = tuple(CourseVersion(**row) for row in turn.rows.where(schema.course, reference=reference))
            turn.enter(reference=reference)
        return found

    def course_text(self, reference: str, version: int | None = None) -> str:
        """A course record as it was saved, as YAML text; the last version unless another is asked for. Entered as read.

        Raises
        ------
        StoreError
            E704 if it is not kept.
        """
        return self._kept_course(reference, version)[1].record

    def load_course(self, reference: str, version: int | None = None) -> Course:
        """A course record as it was saved; see `course_text`.

        Raises
        ------
        StoreError
            E704 if it is not kept, E705 if it is not what was saved.
        CourseError
            If the library in use has other forms, so that it cannot be read; `course_text` still gives the text.
        """
        seq, saved = self._kept_course(reference, version)
        course = parse_course(saved.record, reference)
        if course.digest != saved.digest:
            raise damaged(seq, f"the course has the digest {course.digest}")
        return course

    def _kept_course(self, reference: str, version: int | None) -> tuple[int, CourseSaved]:
        with self._writing("read") as turn:
            turn.work(reference)
            kept = {row["version"]: row["seq"] for row in turn.rows.where(schema.course, reference=reference)}
            wanted = max(kept, default=0) if version is None else version
            if wanted not in kept:
                raise StoreError([Problem(Code.UNKNOWN_REFERRAL, "no such course is kept", reference, field="version",
                                          found=str(wanted), expected=f"1 to {max(kept)}" if kept else "none is kept")])  # fmt: skip
            saved = kept_body(turn.connection, kept[wanted], CourseSaved)
            turn.enter(reference=reference)
        return kept[wanted], saved

    def due_visits(self, on: date) -> DueList:
        """Visits that are due or overdue on a day in open referrals. Each course that is read for it is entered as read."""
        texts: list[tuple[str, str]] = []
        with self._writing("read") as turn:
            for work in turn.rows.where(schema.work, state="open"):
                kept = list(turn.rows.where(schema.course, reference=work["reference"]))
                if kept:
                    saved = kept_body(turn.connection, kept[-1]["seq"], CourseSaved)
                    texts.append((work["reference"], saved.record))
                    turn.enter(reference=work["reference"])
        visits: list[DueVisit] = []
        notices: list[tuple[str, Notice]] = []
        unread: list[tuple[str, tuple[Problem, ...]]] = []
        for reference, text in texts:
            try:
                course = parse_course(text, reference)
            except InputError as error:
                unread.append((reference, error.problems))
                continue
            visits += due(course, on)
            notices += [(reference, notice) for notice in course.notices(on)]
        return DueList(on, tuple(sorted(visits, key=due_order)), tuple(notices), tuple(unread))
