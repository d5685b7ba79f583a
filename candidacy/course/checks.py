"""What does not fit between the entries of a course record, told and kept out of counts until somebody has resolved it.

Two entries written at different times contradict each other, and either may be right. Nothing is refused or thrown away: a
notice says what does not fit and how it is resolved, and names the entries that no count may use until then.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import combinations, pairwise
from typing import Literal

from msgspec import Struct, field

from candidacy.case.catalogue import catalogue
from candidacy.course.content import content
from candidacy.course.record import DEATH, CourseRecord, Injection, Quantity, Visit
from candidacy.foundation import units
from candidacy.foundation.dates import date_span, day
from candidacy.foundation.values import Span

Kind = Literal["injections", "visits", "events", "procedures", "last_contact"]
Entry = tuple[Kind, int]


class Notice(Struct, frozen=True):
    """Something that does not fit: its kind, words, what it is about, and the way out.

    Attributes
    ----------
    id
        Kind of the notice, for programs.
    about
        The entries it is about, by list and place counted from 0.
    holds
        Those of them that no count may use until it is resolved.
    """

    id: str
    words: str
    way_out: str
    about: tuple[Entry, ...]
    holds: frozenset[Entry] = field(default_factory=frozenset)

    def __str__(self) -> str:
        kept = " Not counted until then." if self.holds else ""
        return f"{self.words}. {self.way_out}.{kept}"


def notices(record: CourseRecord, on: date | None = None) -> tuple[Notice, ...]:
    """Everything that does not fit, in the order of the record.

    Parameters
    ----------
    on
        The day as of which the record is used; what is dated after it is told and not counted. Without it no day is in the
        future.
    """
    found = [
        *_sessions(record), *_discs(record), *_visits(record), *_same_visit(record), *_events(record), *_procedures(record),
        *_death(record), *_contact(record), *(_future(record, on) if on is not None else ()),
    ]  # fmt: skip
    return tuple(found)


def counted(record: CourseRecord, found: Iterable[Notice]) -> CourseRecord:
    """The record without the entries that notices hold, and without what follows a session that is held."""
    held = {entry for notice in found for entry in notice.holds}
    if not held:
        return record
    injections = tuple(e for at, e in enumerate(record.injections) if ("injections", at) not in held)
    sessions = {injection.id for injection in injections}
    return record.model_copy(
        update={
            "injections": injections,
            "visits": tuple(
                v
                for at, v in enumerate(record.visits)
                if ("visits", at) not in held and v.injection in sessions
            ),
            "events": tuple(
                e
                for at, e in enumerate(record.events)
                if ("events", at) not in held and e.injection in sessions
            ),
            "procedures": tuple(
                p for at, p in enumerate(record.procedures) if ("procedures", at) not in held
            ),
            "last_contact": None if ("last_contact", 0) in held else record.last_contact,
        }
    )


def _notice(name: str, words: str, way_out: str, about: Iterable[Entry], hold: bool = True) -> Notice:
    entries = tuple(about)
    return Notice(name, words, way_out, entries, frozenset(entries) if hold else frozenset())


def _unusual(given: Quantity, element: str) -> bool:
    """Whether a number is above what is usual for the same of a discography: a disc holds no more whatever is injected."""
    usual = catalogue()[element]
    if usual.likely is None or usual.likely.high is None or usual.unit is None:
        return False
    found = units.convert(Span(given.value, given.value), units.normal_spelling(given.unit), usual.unit)
    return found.low > usual.likely.high


def _sessions(record: CourseRecord) -> Iterator[Notice]:
    by_number = sorted(enumerate(record.injections), key=lambda pair: pair[1].id)
    for (at, earlier), (then, later) in pairwise(by_number):
        if later.date < earlier.date:
            yield _notice(
                "sessions_backwards",
                f"Session {later.id} on {later.date} lies before session {earlier.id} on {earlier.date}",
                "Correct the wrong day, or number the sessions by day",
                [("injections", at), ("injections", then)],
            )
    for at, injection in enumerate(record.injections):
        place: list[Entry] = [("injections", at)]
        assessed = injection.assessed
        if assessed is not None and assessed.on > injection.date:
            yield _notice(
                "assessed_after",
                f"Session {injection.id} on {injection.date} rests on an assessment of {assessed.on}, which is later",
                "Name the assessment that was there before, or correct the day",
                place,
                hold=False,
            )
        if assessed is not None and assessed.standing != "candidate" and injection.went_on is None:
            yield _notice(
                "went_on_unsaid",
                f"Session {injection.id} went on with the standing {assessed.standing}, and no reason is written",
                "Write who decided so and why under went_on",
                place,
                hold=False,
            )
        for disc in injection.discs:
            for name in ("volume", "peak_pressure"):
                given = getattr(disc, name)
                if given is not None and _unusual(given, f"discography_{name}"):
                    yield _notice(
                        "unusual_quantity",
                        f"The {name.replace('_', ' ')} of {disc.level} on {injection.date} is {given.value:g} {given.unit}, "
                        "more than is usual in a disc",
                        "Check the number and its unit",
                        place,
                        hold=False,
                    )
            for unit in disc.units:
                if unit.expires and unit.expires < injection.date:
                    yield _notice(
                        "unit_expired",
                        f"A container used for {disc.level} on {injection.date} bears the expiry {unit.expires}",
                        "Compare with the label; if it is so, tell the supplier and the responsible physician",
                        place,
                        hold=False,
                    )


def _discs(record: CourseRecord) -> Iterator[Notice]:
    used = [
        (at, injection, disc) for at, injection in enumerate(record.injections) for disc in injection.discs
    ]
    for (at, one, disc), (then, other, again) in combinations(used, 2):
        if disc.level != again.level or disc.again_because.strip() or again.again_because.strip():
            continue
        where = f"twice on {one.date}" if one.date == other.date else f"on {one.date} and on {other.date}"
        yield _notice(
            "disc_twice",
            f"{disc.level} is said to have been injected {where}, and no reason is written",
            "Take out the one that did not happen, or write the reason under again_because of the later one",
            dict.fromkeys([("injections", at), ("injections", then)]),
        )


def _visits(record: CourseRecord) -> Iterator[Notice]:
    sessions = {injection.id: injection for injection in record.injections}
    order = {visit.id: place for place, visit in enumerate(content().visits.visits)} if record.visits else {}
    last = ""
    for at, visit in enumerate(record.visits):
        place: list[Entry] = [("visits", at)]
        injection = sessions[visit.injection]
        if visit.kind == "baseline" and visit.date > injection.date:
            yield _notice(
                "baseline_after",
                f"What is called baseline was asked on {visit.date}, after the injection on {injection.date}",
                "Correct the day, or call it a planned or unplanned visit",
                place,
            )
        elif visit.kind != "baseline" and visit.date < injection.date:
            yield _notice(
                "visit_before",
                f"The visit of {visit.date} follows session {injection.id}, which was later, on {injection.date}",
                "Correct the day or the session; what was asked before an injection is a baseline",
                place,
            )
        if visit.kind == "planned" and visit.of not in order:
            yield _notice(
                "visit_not_planned",
                f"The visit of {visit.date} stands for {visit.of or 'no planned visit'}, which the schedule does not have",
                f"Name one of {', '.join(order)}, or call the visit unplanned",
                place,
                hold=False,
            )
        if visit.date < last:
            yield _notice(
                "visits_out_of_order",
                f"The visit of {visit.date} stands after that of {last}",
                "Correct the day, or set the visits in order of days",
                place,
                hold=False,
            )
        last = max(last, visit.date)
    yield from _backwards(record, order)


def _backwards(record: CourseRecord, order: dict[str, int]) -> Iterator[Notice]:
    """A visit of the schedule dated before one that comes earlier in it."""
    planned = [(at, v) for at, v in enumerate(record.visits) if v.kind == "planned" and v.of in order]
    for (at, one), (then, other) in combinations(planned, 2):
        if one.injection != other.injection or one.of == other.of:
            continue
        (early_at, early), (late_at, late) = sorted(
            [(at, one), (then, other)], key=lambda pair: order[pair[1].of]
        )
        if late.date < early.date:
            yield _notice(
                "planned_backwards",
                f"The visit {late.of} on {late.date} lies before the visit {early.of} on {early.date}",
                "Correct the wrong day, or the planned visit it stands for",
                [("visits", early_at), ("visits", late_at)],
            )


def _same_visit(record: CourseRecord) -> Iterator[Notice]:
    groups: defaultdict[tuple[int, str], list[tuple[int, Visit]]] = defaultdict(list)
    for at, visit in enumerate(record.visits):
        if visit.kind == "planned" and visit.of:
            groups[visit.injection, visit.of].append((at, visit))
    for (_, name), group in groups.items():
        for (at, one), (then, other) in combinations(group, 2):
            differ = [m for m in one.answers if m in other.answers and one.answers[m] != other.answers[m]]
            if differ:
                yield _notice(
                    "answered_twice",
                    f"The visit {name} is answered on {one.date} and on {other.date}, and {', '.join(differ)} differ",
                    "Keep one of them as planned and call the other unplanned",
                    [("visits", at), ("visits", then)],
                )


def _events(record: CourseRecord) -> Iterator[Notice]:
    sessions = {injection.id: injection for injection in record.injections}
    for at, event in enumerate(record.events):
        injection = sessions[event.injection]
        if date_span(event.began).high < day(injection.date).toordinal():
            yield _notice(
                "event_before",
                f"Event {event.id} ({event.what}) began {event.began}, before the injection on {injection.date}",
                "Correct the day or the session; what was there before is no event of the injection",
                [("events", at)],
            )
        if event.grade == DEATH and event.outcome == "not_known" and event.serious is None:
            yield _notice(
                "grade_5_alone",
                f"Event {event.id} has grade 5, which is death, and neither its outcome nor its seriousness says so",
                "Write outcome fatal and serious because of death, or correct the grade",
                [("events", at)],
            )


def _procedures(record: CourseRecord) -> Iterator[Notice]:
    first = min((injection.date for injection in record.injections), default="")
    for at, procedure in enumerate(record.procedures):
        if first and procedure.date < first:
            yield _notice(
                "procedure_before",
                f"The later procedure of {procedure.date} lies before the first injection on {first}",
                "Correct the day; what was done before belongs into the case record",
                [("procedures", at)],
            )


def _death(record: CourseRecord) -> Iterator[Notice]:
    known = _death_known(record)
    if known is None:
        return
    last, words = known
    after: list[Entry] = [("visits", at) for at, v in enumerate(record.visits) if v.date > last]
    after += [("procedures", at) for at, p in enumerate(record.procedures) if p.date > last]
    after += [("injections", at) for at, i in enumerate(record.injections) if i.date > last]
    if after:
        yield _notice(
            "after_death",
            f"{words}, and {len(after)} later {'entry follows' if len(after) == 1 else 'entries follow'}",
            "Correct the wrong day, or move what belongs to another record there",
            after,
        )
    fatal = [at for at, event in enumerate(record.events) if event.outcome == "fatal"]
    contact = record.last_contact
    if fatal and contact is not None and contact.state != "died":
        yield _notice(
            "death_unsaid",
            f"An event ended in death, and the last contact says {contact.state}",
            "Write died with its day as the last contact, or correct the event",
            [("last_contact", 0)],
        )


def _death_known(record: CourseRecord) -> tuple[str, str] | None:
    """The latest day on which the patient may have died, as ISO text, and how it is known."""
    contact = record.last_contact
    if contact is not None and contact.state == "died":
        return contact.date, f"The patient is said to have died on {contact.date}"
    ends = [
        (date.fromordinal(int(date_span(e.ended or e.learned).high)).isoformat(), e.id)
        for e in record.events
        if e.outcome == "fatal"
    ]
    if not ends:
        return None
    last, number = min(ends)
    return last, f"Event {number} was fatal by {last}"


def death_day(record: CourseRecord, on: date) -> date | None:
    """The day of a death that nothing in the record speaks against; none where a later entry says that the patient lived."""
    known = _death_known(record)
    if known is None or known[0] > on.isoformat() or any(_death_contradicted(record)):
        return None
    return day(known[0])


def _death_contradicted(record: CourseRecord) -> Iterator[Notice]:
    return (notice for notice in _death(record) if notice.id == "after_death")


def _contact(record: CourseRecord) -> Iterator[Notice]:
    contact = record.last_contact
    if contact is None or contact.state == "died":
        return
    dates = [
        *(injection.date for injection in record.injections),
        *(visit.date for visit in record.visits),
        *(procedure.date for procedure in record.procedures),
    ]
    later = [each for each in dates if each > contact.date]
    if later:
        yield _notice(
            "contact_outdated",
            f"The last contact is {contact.date} ({contact.state}), and an entry of {max(later)} is later",
            "Write the last contact anew",
            [("last_contact", 0)],
        )


def _future(record: CourseRecord, on: date) -> Iterator[Notice]:
    today = on.isoformat()
    dated: list[tuple[Entry, str, str]] = [
        *((("injections", at), each.date, f"Session {each.id}") for at, each in enumerate(record.injections)),
        *((("visits", at), each.date, "A visit") for at, each in enumerate(record.visits)),
        *((("events", at), each.learned, f"Event {each.id}") for at, each in enumerate(record.events)),
        *((("procedures", at), each.date, "A later procedure") for at, each in enumerate(record.procedures)),
    ]
    if record.last_contact is not None:
        dated.append((("last_contact", 0), record.last_contact.date, "The last contact"))
    for entry, when, what in dated:
        if when > today:
            yield _notice(
                "in_the_future",
                f"{what} is dated {when}, after the day looked at, {today}",
                "Correct the day, or look at a later one",
                [entry],
            )


def sessions_of(record: CourseRecord) -> tuple[Injection, ...]:
    """The sessions by day."""
    return tuple(sorted(record.injections, key=lambda injection: (injection.date, injection.id)))
