"""Course records, visits that are due and triage advice as plain text, JSON and tables."""

from collections.abc import Iterable, Sequence
from datetime import date

from candidacy.course.clocks import deadlines
from candidacy.course.content import content
from candidacy.course.due import DueVisit, visits_of
from candidacy.course.load import Course
from candidacy.course.record import Event
from candidacy.course.triage import Triage, triage
from candidacy.foundation.dates import day
from candidacy.foundation.visible import clean

STATES = {
    "done": "done",
    "not_yet": "not yet due",
    "due": "DUE",
    "overdue": "OVERDUE",
    "missed": "missed",
    "not_expected": "not expected",
}
COLUMNS = (
    "case", "injection", "visit", "title", "state", "on", "opens", "closes", "seen", "done_on", "outside", "forms", "open",
)  # fmt: skip
NOT_A_DECISION = "Support for a person who decides; nothing here orders anything."


def due_text(rows: Sequence[DueVisit], on: date, own: Iterable[str] = ()) -> str:
    """A list of visits as text, overdue first."""
    lines = [f"Visits on {on.isoformat()}: {len(rows)} due or overdue", *_own(own), ""]
    for row in rows:
        when = f"{row.on}, window {row.opens} to {row.closes}"
        forms = ", ".join(_form_title(form) for form in row.forms)
        lines.append(
            f"{STATES[row.state]:<9} {clean(row.case)}, session {row.injection}: {row.title} ({when}; {row.seen})"
        )
        lines.append(f"          asks: {forms}")
    return "\n".join(lines) + "\n"


def due_cells(row: DueVisit) -> list[str]:
    """A visit as cells of `COLUMNS`."""
    data = row.as_dict()
    cells = [data[name] for name in COLUMNS]
    return [
        " ".join(map(str, c)) if isinstance(c, list) else str(c).lower() if isinstance(c, bool) else str(c)
        for c in cells
    ]


def triage_text(found: Triage) -> str:
    """Triage advice as text, the latest answers first."""
    lines = [f"Triage of {clean(found.case)} on {found.on}"]
    if found.ask:
        lines += [f"ASK NOW: {found.ask}."]
    if not found.answers:
        lines += ["No answers about danger signs are in the record."]
    elif (old := (day(found.on) - day(found.answers[0].asked)).days) > content().triage.answers_hold_days:
        lines += [f"The latest answers are {old} days old; what has happened since is not known."]
    for each in found.answers:
        lines += ["", f"{each.title.upper()}  (answers of {each.asked}, day {each.days} after session {each.injection})",
                  f"  {each.words}"]  # fmt: skip
        for read in each.reads:
            lines.append(f"  {read.outcome:<13} {read.title}: {read.words} [{read.criterion} {read.version}]")
            if read.outcome == "undetermined":
                lines.append(f"                ask: {read.ask_for}")
    return "\n".join([*lines, "", found.always.strip(), NOT_A_DECISION, f"{found.made_of}.", ""])


def course_text(course: Course, on: date) -> str:
    """A course record as it stands on a day: what does not fit first, then sessions, visits, events and triage."""
    record = course.record
    lines = [f"Course of {clean(record.case)} on {on.isoformat()}"]
    lines += ["Invented for demonstration."] if record.invented else []
    lines += _own(content().of_ones_own)
    found = course.notices(on)
    if found:
        lines += ["", "What does not fit:"] + [f"  ! {clean(str(notice))}" for notice in found]
    lines += ["", "Sessions:"]
    for injection in record.injections:
        discs = ", ".join(f"{disc.level} ({clean(disc.material)})" for disc in injection.discs)
        lines.append(f"  {injection.id}  {injection.date}  {discs}")
    lines += ["", "Visits:"]
    for row in visits_of(course, on):
        done = (
            f", done {row.done_on}" + (", outside its window" if row.outside else "") if row.done_on else ""
        )
        lines.append(f"  {row.on}  session {row.injection}  {STATES[row.state]:<13} {row.title}{done}")
        if row.open:
            lines.append(f"              neither answered nor explained: {', '.join(row.open)}")
    others = [visit for visit in record.visits if visit.kind == "unplanned"]
    lines += [f"  {visit.date}  session {visit.injection}  unplanned" for visit in others]
    for event in record.events:
        lines += ["", *event_lines(event, on)]
    for procedure in record.procedures:
        lines.append(
            f"Later procedure {procedure.date}: {procedure.kind.replace('_', ' ')} {' '.join(procedure.levels)}"
        )
    if record.last_contact is not None:
        lines += [
            "",
            f"Last contact {record.last_contact.date}: {record.last_contact.state.replace('_', ' ')}",
        ]
    return "\n".join([*lines, "", triage_text(triage(course, on))])


def event_lines(event: Event, on: date) -> list[str]:
    """An adverse event with grade and seriousness apart, and its time limits."""
    events = content().events
    term = events.term(event.what)
    grade = next((each for each in events.grades if each.grade == event.grade), None)
    if event.serious is None:
        serious = "not judged"
    else:
        serious = "; ".join(events.serious[each] for each in event.serious) or "judged not serious"
    lines = [
        f"Event {event.id}: {term.title if term else clean(event.what)}, began {event.began}, learned {event.learned}",
        f"  severity     {f'grade {grade.grade}: {grade.words}' if grade else 'not graded'}",
        f"  seriousness  {serious}",
        f"  expected     {event.expected.replace('_', ' ')}; relation {event.relation.replace('_', ' ')}; "
        f"communicable disease {event.communicable.replace('_', ' ')}; outcome {event.outcome.replace('_', ' ')}",
    ]
    for each in deadlines(event, on):
        runs = "" if each.runs == "yes" else f" MAY run: judge {' and '.join(each.unjudged)}."
        by = f"by {each.by}" if each.by else "no date"
        state = f" Reported {each.reported}." if each.reported else " LATE." if each.late else ""
        lines += [f"  {by}: {each.title}.{runs}{state}", f"              {each.check.strip()}"]
    return lines


def _form_title(name: str) -> str:
    form = content().forms.get(name)
    return form.title if form is not None else name


def _own(own: Iterable[str]) -> list[str]:
    names = list(own)
    return [f"Files of one's own in the place of the shipped ones: {', '.join(names)}"] if names else []
