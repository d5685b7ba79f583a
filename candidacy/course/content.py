"""What the library in use says about the time after an injection: planned visits, forms, terms of events.

Files ``course/visits.yaml``, ``course/forms.yaml`` and ``course/events.yaml``; one's own of the same name stands in the
place of the shipped one.
"""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar
from weakref import WeakKeyDictionary

from pydantic import BaseModel, Field, model_validator

from candidacy.case.element import Rows, Strict, Text
from candidacy.case.record import Number
from candidacy.course.record import Answer, Grade, Relation, Seen, Seriousness
from candidacy.foundation.errors import Code, InputError, Problem, RuleError
from candidacy.foundation.shape import validate
from candidacy.rules.cited import Change, Citation
from candidacy.rules.libraries import library_in_use, shipped
from candidacy.rules.library import Library
from candidacy.rules.vocabulary import Identifier, Outcome, Version

_Model = TypeVar("_Model", bound=BaseModel)
Cites = Annotated[Rows[Citation], Field(min_length=1)]
Days = Annotated[int, Field(ge=0, le=3660)]


class Length(Strict):
    """A length of time by the calendar; months end on the last day where the month is too short."""

    amount: Annotated[int, Field(ge=0, le=1200)]
    """How many, from 0."""
    unit: Literal["day", "week", "month", "year"]
    """Of what."""


class PlannedVisit(Strict):
    """One visit of the schedule."""

    id: Identifier
    """Its name in course records."""
    title: Text
    """Its heading."""
    after: Length
    """When it is due, counted from the day of the injection."""
    days_before: Days
    """How many days before that day its window opens, from 0."""
    days_behind: Days
    """How many days behind that day its window closes, from 0; from the next day on it is overdue."""
    seen: Seen
    """How it is usually done."""
    forms: Annotated[Rows[str], Field(min_length=1)]
    """Ids of the forms that are asked."""
    note: str = ""
    """What should be known about it."""
    cites: Cites
    """Where its time comes from."""


class VisitsFile(Strict):
    """The schedule of visits after an injection."""

    id: Literal["visits"]
    """Name of the file."""
    version: Version
    """Version of the file."""
    title: Text
    """Its heading."""
    meaning: Text
    """What it is, and how firm."""
    baseline_forms: Annotated[Rows[str], Field(min_length=1)]
    """Ids of the forms that are asked before an injection."""
    visits: Annotated[Rows[PlannedVisit], Field(min_length=1)]
    """The visits, by time."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, newest last."""

    def get(self, identifier: str) -> PlannedVisit | None:
        """A visit by its id."""
        return next((visit for visit in self.visits if visit.id == identifier), None)


class Measure(Strict):
    """One thing that is asked."""

    id: Identifier
    """Its name in course records."""
    ask: Text
    """How it is asked, in plain words; never the protected text of a questionnaire."""
    kind: Literal["whole", "number", "choice", "yes_no", "words"]
    """What an answer looks like."""
    lowest: Number | None = None
    """Smallest answer of a number, in its unit."""
    highest: Number | None = None
    """Largest answer of a number, in its unit."""
    unit: str = ""
    """Unit of a number."""
    choices: dict[str, str] | None = None
    """Allowed codes of a choice, each with what it means."""
    worse: Literal["higher", "lower", ""] = ""
    """Which way is worse."""
    element: str = ""
    """Data element of case records with the same meaning and unit, where there is one."""
    needed: bool = True
    """Whether a visit that asks it needs an answer or a reason; false for what only some practices or patients have."""
    with_: Annotated[str, Field(alias="with")] = ""
    """Another measure without which an answer says nothing, such as the value set of an index."""
    cites: Rows[Citation] = ()
    """Where it comes from."""

    @model_validator(mode="after")
    def _coherent(self) -> "Measure":
        if (self.kind == "choice") != bool(self.choices):
            raise ValueError("a choice, and nothing else, has choices")
        if (self.kind in ("whole", "number")) != (self.lowest is not None and self.highest is not None):
            raise ValueError("a number, and nothing else, has a lowest and a highest value")
        return self

    @property
    def allowed(self) -> str:
        """What may be answered, in words."""
        if self.kind == "choice":
            return ", ".join(self.choices or ())
        if self.kind in ("yes_no", "words"):
            return "true or false" if self.kind == "yes_no" else "words, in quotes"
        number = "a whole number" if self.kind == "whole" else "a number"
        return f"{number} from {self.lowest} to {self.highest}" + (f" {self.unit}" if self.unit else "")

    def accepts(self, answer: object) -> bool:
        """Whether an answer is one of those allowed."""
        if self.kind == "yes_no":
            return isinstance(answer, bool)
        if self.kind == "words":
            return isinstance(answer, str) and bool(answer.strip())
        if self.kind == "choice":
            return isinstance(answer, str) and answer in (self.choices or ())
        if isinstance(answer, bool) or not isinstance(answer, int if self.kind == "whole" else int | float):
            return False
        assert self.lowest is not None
        assert self.highest is not None
        return bool(self.lowest <= answer <= self.highest)


class Form(Strict):
    """Measures that are asked together."""

    id: Identifier
    """Its name in the schedule."""
    title: Text
    """Its heading."""
    introduction: str = ""
    """What stands above it for who answers."""
    licence: str = ""
    """What the practice must hold to use it, where the form is protected."""
    score_of: str = ""
    """Measure that is worked out from the others of the form."""
    measures: Annotated[Rows[Measure], Field(min_length=1)]
    """What is asked, in order."""
    cites: Cites
    """Where the form comes from."""


class FormsFile(Strict):
    """What is asked at visits."""

    id: Literal["forms"]
    """Name of the file."""
    version: Version
    """Version of the file."""
    title: Text
    """Its heading."""
    meaning: Text
    """What it is."""
    forms: Annotated[Rows[Form], Field(min_length=1)]
    """The forms."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, newest last."""

    def get(self, identifier: str) -> Form | None:
        """A form by its id."""
        return next((form for form in self.forms if form.id == identifier), None)

    @property
    def measures(self) -> dict[str, Measure]:
        """Every measure by its id, in order."""
        return {measure.id: measure for form in self.forms for measure in form.measures}


class GradeWords(Strict):
    """One grade of severity."""

    grade: Grade
    """The grade, 1 to 5."""
    words: Text
    """What it means."""
    signs: dict[str, str]
    """What makes it this grade at least: id and words, as asked."""


class EventTerm(Strict):
    """A kind of event."""

    id: Identifier
    """Its name in course records."""
    title: Text
    """Its name for people."""
    expected: Answer
    """Whether it is expected after such an injection."""
    note: str = ""
    """What is expected, or why it matters."""
    communicable: bool = False
    """Whether it raises the question of a communicable disease from the material."""
    cites: Cites
    """Where this comes from."""


class Clock(Strict):
    """A time limit for a report, as a date to be checked, never as a duty that the program knows."""

    id: Identifier
    """Its name."""
    title: Text
    """What is to be reported, and by whom."""
    to: str
    """Name in ``reported`` of an event: to whom."""
    calendar_days: Days | None = None
    """Calendar days from the day the practice learned of the event; 0 is the same day, without it there is no date."""
    serious: Rows[Seriousness] = ()
    """Reasons of seriousness, one of which is needed; without any the clock does not look at seriousness."""
    communicable: Rows[Answer] = ()
    """Answers about a communicable disease with which it runs; without any it does not look at them."""
    relation: Rows[Relation] = ()
    """Judgements of the relation with which it runs; without any it does not look at them."""
    check: Text
    """What must be checked before anybody relies on it."""
    cites: Cites
    """Where it comes from."""


class EventsFile(Strict):
    """How adverse events are named, graded, called serious and reported."""

    id: Literal["events"]
    """Name of the file."""
    version: Version
    """Version of the file."""
    title: Text
    """Its heading."""
    meaning: Text
    """What it is."""
    grades: Annotated[Rows[GradeWords], Field(min_length=5, max_length=5)]
    """Grades 1 to 5."""
    grades_cites: Cites
    """Where the words of the grades come from."""
    serious: dict[Seriousness, str]
    """Reasons for calling an event serious, in words."""
    serious_note: Text
    """How seriousness differs from severity."""
    serious_cites: Cites
    """Where the reasons come from."""
    terms: Annotated[Rows[EventTerm], Field(min_length=1)]
    """Kinds of events."""
    clocks: Annotated[Rows[Clock], Field(min_length=1)]
    """Time limits."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, newest last."""

    def term(self, identifier: str) -> EventTerm | None:
        """A kind of event by its id."""
        return next((term for term in self.terms if term.id == identifier), None)


class Finding(Strict):
    """What a criterion came to."""

    criterion: Identifier
    """Its id."""
    outcome: Outcome
    """``pass``, ``fail`` or ``undetermined``."""


class Advice(Strict):
    """One line of advice."""

    id: Identifier
    """Its name."""
    title: Text
    """Its heading."""
    words: Text
    """What is advised."""
    when: Rows[Finding]
    """Findings, one of which is enough; the last line has none and fits whatever is left."""


class TriageFile(Strict):
    """How answers about danger signs become advice: the first line that fits is given."""

    id: Literal["triage"]
    """Name of the file."""
    version: Version
    """Version of the file."""
    title: Text
    """Its heading."""
    meaning: Text
    """What it is."""
    always: Text
    """What is said beside any advice."""
    criteria: Annotated[Rows[str], Field(min_length=1)]
    """Ids of the criteria that are read, in the order in which they are shown."""
    watch_days: Days
    """Until so many days after an injection, danger signs that were not asked lately are asked for."""
    answers_hold_days: Days
    """How many days answers count as lately asked."""
    cites: Cites
    """Where these days come from."""
    advice: Annotated[Rows[Advice], Field(min_length=2)]
    """The lines, the gravest first."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """What changed, newest last."""


MODELS: dict[str, type[VisitsFile | FormsFile | EventsFile | TriageFile]] = {
    "visits": VisitsFile,
    "forms": FormsFile,
    "events": EventsFile,
    "triage": TriageFile,
}
_kept: WeakKeyDictionary[Library, "Content"] = WeakKeyDictionary()


def content(library: Library | None = None) -> "Content":
    """The content of a library, by default the one in use."""
    library = library_in_use() if library is None else library
    if library not in _kept:
        _kept[library] = Content(library)
    return _kept[library]


@dataclass(eq=False)
class Content:
    """The files about the time after an injection, read when asked for.

    Raises
    ------
    RuleError
        On reading, with everything that is wrong with the file.
    """

    library: Library

    @cached_property
    def visits(self) -> VisitsFile:
        """The schedule."""
        return read_content(self.library, "visits", VisitsFile)

    @cached_property
    def forms(self) -> FormsFile:
        """What is asked."""
        return read_content(self.library, "forms", FormsFile)

    @cached_property
    def measures(self) -> dict[str, Measure]:
        """Every measure by its id."""
        return self.forms.measures

    @cached_property
    def events(self) -> EventsFile:
        """Terms of events and time limits."""
        return read_content(self.library, "events", EventsFile)

    @cached_property
    def triage(self) -> TriageFile:
        """Advice from danger signs."""
        return read_content(self.library, "triage", TriageFile)

    @property
    def of_ones_own(self) -> tuple[str, ...]:
        """Names of the files that are not the shipped ones."""
        ours = shipped().care_files("course")
        return tuple(
            name for name, path in self.library.care_files("course").items() if ours.get(name) != path
        )


def read_content(library: Library, name: str, model: type[_Model]) -> _Model:
    """Read one file of the folder ``course``.

    Raises
    ------
    RuleError
        With everything that is wrong with it.
    """
    path: Path | None = library.care_files("course").get(name)
    if path is None:
        raise RuleError(
            [Problem(Code.UNREADABLE, "there is no such file in the library", f"course/{name}.yaml")]
        )
    try:
        return validate(model, library.tree(path), str(path), lambda at: _keys(model, at))
    except InputError as error:
        raise RuleError(error.problems) from None


def _keys(model: type[BaseModel], at: tuple[Any, ...]) -> list[str]:
    last = next((step for step in reversed(at) if isinstance(step, str)), "")
    models: dict[str, type[BaseModel]] = {
        "visits": PlannedVisit, "forms": Form, "measures": Measure, "after": Length, "cites": Citation, "terms": EventTerm,
        "clocks": Clock, "grades": GradeWords, "changes": Change, "grades_cites": Citation, "advice": Advice, "when": Finding, "serious_cites": Citation,
    }  # fmt: skip
    found = models.get(last, model)
    return [field.alias or name for name, field in found.model_fields.items()]
