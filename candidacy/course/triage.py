"""Advice from danger signs after an injection, by criteria that the ordinary engine reads.

The criteria are ordinary ones, with cases beside each; what they read of other forms of the visit, such as ratings of pain, is
read too. They stand in no rule set: a rule set says whether a disc may be injected, and its standings would name a patient who
has been injected a candidate. ``course/triage.yaml`` orders what the
criteria come to into advice of its own; the unknown never ends as "no sign".

Answers are read as of the day they were given, so an answer is neither made fresher than it is nor lost by getting old.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any
from weakref import WeakKeyDictionary

from msgspec import Struct

from candidacy import __version__
from candidacy.assessment.evaluate import CompiledCriterion, Evaluation
from candidacy.assessment.relate import Relations
from candidacy.assessment.view import View
from candidacy.case.load import case_from_mapping
from candidacy.course.checks import death_day, sessions_of
from candidacy.course.content import Advice, Content, Measure, content
from candidacy.course.load import Course
from candidacy.course.record import CourseRecord, Visit
from candidacy.foundation.dates import day
from candidacy.foundation.digest import short
from candidacy.rules.library import Library
from candidacy.rules.resolved import as_declared
from candidacy.rules.tree import elements_of

DANGER = "danger_signs"
_ready: WeakKeyDictionary[Library, tuple[Relations, dict[str, Any]]] = WeakKeyDictionary()


class Read(Struct, frozen=True):
    """What one criterion came to: its id, title, outcome, the phrase for it, and what to ask where it is open."""

    criterion: str
    title: str
    outcome: str
    words: str
    ask_for: str
    version: str


class Triaged(Struct, frozen=True):
    """Advice on the answers of one day.

    Attributes
    ----------
    asked
        The day of the answers, YYYY-MM-DD.
    days
        Days from the latest session before them.
    reads
        What each criterion came to; those that made the advice first.
    """

    case: str
    asked: str
    injection: int
    days: int
    advice: str
    title: str
    words: str
    reads: tuple[Read, ...]


class Triage(Struct, frozen=True):
    """Advice of all days on which danger signs were answered, the latest first and of one day the most urgent, and whether it is time to ask again.

    Attributes
    ----------
    ask
        Why danger signs should be asked now; empty where there is no reason.
    always
        What is said beside any advice.
    made_of
        Program, triage file and course record that the advice was made of; the criteria are named with what they came to.
    """

    case: str
    on: str
    answers: tuple[Triaged, ...]
    ask: str
    always: str
    made_of: str

    def as_dict(self) -> dict[str, Any]:
        """The advice for a program."""
        return {
            "case": self.case,
            "on": self.on,
            "made_of": self.made_of,
            "ask": self.ask,
            "always": self.always,
            "answers": [
                {
                    name: getattr(each, name)
                    for name in ("asked", "injection", "days", "advice", "title", "words")
                }
                | {
                    "criteria": [
                        {name: getattr(read, name) for name in read.__struct_fields__} for read in each.reads
                    ]
                }
                for each in self.answers
            ],
        }


def triage(course: Course, on: date, found: Content | None = None) -> Triage:
    """Advice from the danger signs of a course as of a day; answers that a notice keeps out of counts are read as well.

    An answer that may be misdated is still an answer about danger, so it is never left out here.
    """
    found = content() if found is None else found
    record, today = course.record, on.isoformat()
    signs, measures = _danger(found), _measures(found)
    visits = [
        visit for visit in record.visits
        if visit.kind != "baseline" and visit.date <= today and any(name in visit.answers for name in measures)
    ]  # fmt: skip
    visits.sort(key=lambda visit: visit.date, reverse=True)
    asked = [visit for visit in visits if any(name in visit.answers for name in signs)]
    # where nobody asked about danger signs, a rating still speaks if it is a sign by itself
    told = [(visit, _triaged(record, visit, measures, found)) for visit in visits]
    answers = [
        each for visit, each in told if visit in asked or any(read.outcome == "fail" for read in each.reads)
    ]
    weight = [advice.id for advice in found.triage.advice]
    answers.sort(key=lambda each: weight.index(each.advice))  # of one day, what is most urgent stands first
    answers.sort(key=lambda each: each.asked, reverse=True)
    made_of = f"candidacy {__version__}; triage {found.triage.version}; course {short(course.digest)}"
    if found.of_ones_own:
        made_of += f"; of one's own: {', '.join(found.of_ones_own)}"
    return Triage(
        record.case, today, tuple(answers), _ask(record, asked, on, found), found.triage.always, made_of
    )


def read_signs(
    answers: Mapping[str, object], injected: tuple[str, ...], asked: str, found: Content | None = None
) -> tuple[Advice, tuple[Read, ...]]:
    """Advice from answers of one day.

    Parameters
    ----------
    answers
        Measures of the form of danger signs, and ratings that the criteria read; those that were not answered are not in it.
    injected
        Days of the sessions, YYYY-MM-DD.
    asked
        The day of the answers.
    """
    found = content() if found is None else found
    measures = _measures(found)
    facts: dict[str, object] = {}
    for name, measure in measures.items():
        if name in answers:
            facts[measure.element] = {"value": answers[name], "date": asked}
            if measure.unit:
                facts[measure.element] = {"value": answers[name], "unit": measure.unit, "date": asked}
    case = case_from_mapping(
        {
            "schema_version": "1",
            "id": "answers",
            "as_of": asked,
            "patient": facts,
            "intradiscal_procedures": {
                "complete": True,
                "entries": [{"intradiscal_procedure_date": each} for each in injected],
            },
        }
    )
    relations, settings = _library(found.library)
    view = View(case.facts, day(asked), settings, found.library.tables(), relations)
    outcomes: dict[str, Evaluation] = {}
    for name in found.triage.criteria:
        criterion = found.library.criterion(name)
        outcomes[name] = CompiledCriterion(as_declared(criterion)).read(view, "patient")
    for advice in found.triage.advice:
        because = [f.criterion for f in advice.when if outcomes[f.criterion].outcome == f.outcome]
        if because or not advice.when:
            rest = [name for name in outcomes if name not in because]
            return advice, tuple(_read(name, outcomes[name], found) for name in (*because, *rest))
    raise AssertionError("the last line of advice fits whatever is left")


def _read(name: str, evaluation: Evaluation, found: Content) -> Read:
    criterion = found.library.criterion(name)
    said = criterion.found
    words = {"pass": said.pass_ if said else "", "fail": said.fail if said else ""}.get(
        evaluation.outcome, ""
    )
    return Read(
        name, criterion.title, evaluation.outcome, words or "Not known", criterion.ask_for, criterion.version
    )


def _triaged(record: CourseRecord, visit: Visit, measures: dict[str, Measure], found: Content) -> Triaged:
    sessions = [each for each in sessions_of(record) if each.date <= visit.date]
    answers = {name: visit.answers[name] for name in measures if name in visit.answers}
    own = next(each for each in record.injections if each.id == visit.injection)
    latest = sessions[-1] if sessions else own
    injected = tuple(each.date for each in sessions) or (visit.date,)
    advice, reads = read_signs(answers, injected, visit.date, found)
    days = day(visit.date) - day(latest.date)
    return Triaged(
        record.case, visit.date, latest.id, days.days, advice.id, advice.title, advice.words.strip(), reads
    )


def _ask(record: CourseRecord, asked: list[Visit], on: date, found: Content) -> str:
    """Why danger signs should be asked now."""
    past = [each for each in sessions_of(record) if day(each.date) <= on]
    if not past or death_day(record, on) is not None:
        return ""
    since = (on - day(past[-1].date)).days
    if since > found.triage.watch_days:
        return ""
    after = [visit for visit in asked if visit.date >= past[-1].date]
    where = f"day {since} after the injection of {past[-1].date}"
    if not after:
        return f"{where}, and nobody has asked about danger signs"
    old = (on - day(after[0].date)).days
    if old > found.triage.answers_hold_days:
        return f"{where}, and danger signs were last asked {old} days ago"
    return ""


def _danger(found: Content) -> dict[str, Measure]:
    """Measures of danger signs that criteria can read."""
    form = found.forms.get(DANGER)
    return {m.id: m for m in form.measures if m.element} if form is not None else {}


def _measures(found: Content) -> dict[str, Measure]:
    """Measures that the criteria read: those of danger signs, and of other forms such as ratings of pain."""
    items = [as_declared(found.library.criterion(name)) for name in found.triage.criteria]
    read = {element for item in items for element in elements_of(*item.conditions)}
    others = {m.id: m for form in found.forms.forms for m in form.measures if m.element in read}
    return _danger(found) | others


def _library(library: Library) -> tuple[Relations, dict[str, Any]]:
    if library not in _ready:
        settings = {name: setting.value for name, setting in library.settings().items()}
        _ready[library] = Relations(library.relations()), settings
    return _ready[library]
