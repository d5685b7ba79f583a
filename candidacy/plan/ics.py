"""A plan as an iCalendar file (RFC 5545): all-day events whose names stay when the day moves. No patient fact unless asked for."""

import importlib.util
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.plan.dated import INJECTION, ORDER
from candidacy.plan.document import PlanDocument, StepInfo, uid

if TYPE_CHECKING:
    from candidacy.plan.changes import Earlier

_STEP = "X-CANDIDACY-STEP"
_DAY = "X-CANDIDACY-DAY"
_CLOCK = "X-CANDIDACY-CLOCK"
_TITLE = "X-CANDIDACY-TITLE"
_NONE = "no_plan"
_NO_PLAN = "No injection is planned: read the plan"
_AGREED = "Only as the prescriber agreed in writing."
_BEFORE = timedelta(hours=-15)  # nine in the morning of the day before an all-day event [common practice]
_OPEN = "Not settled: read the plan for what stands against it."


def plan_calendar(plan: PlanDocument, *, with_facts: bool = False, made: datetime | None = None) -> bytes:
    """The calendar: an event for each step with a day, with an alarm on the day before; steps that fell away are cancelled.

    Parameters
    ----------
    with_facts
        Put facts of the patient, such as the name of a medicine, into titles and descriptions.
    made
        The moment of making (DTSTAMP); midnight UTC of the day of the plan where nothing is given, so that equal plans give
        equal bytes.

    Raises
    ------
    InputError
        E601 where icalendar is not installed.
    """
    _need()
    from icalendar import Calendar, Event

    stamp = made or datetime.combine(date.fromisoformat(plan.as_of), datetime.min.time(), UTC)
    calendar = Calendar()
    calendar.add("prodid", "-//candidacy//plan//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add(_DAY, plan.day)
    if plan.kind != "plan":
        # an empty or partial calendar would say nothing of it
        calendar.add_component(_no_plan(plan, stamp))
    for step in plan.steps:
        if not step.due:
            continue
        start = date.fromisoformat(step.due)
        event = Event()
        event.add("uid", step.uid)
        event.add("dtstamp", stamp)
        event.add("last-modified", stamp)
        event.add("sequence", step.sequence)
        event.add("summary", _title(step, with_facts))
        event.add("dtstart", start)
        event.add("dtend", start + timedelta(days=1))  # the end of an all-day event is not part of it
        event.add("transp", "TRANSPARENT")
        if step.state == "cancelled":
            event.add("status", "CANCELLED")
        elif _is_open(plan, step):
            event.add("status", "TENTATIVE")
        event.add("description", _description(plan, step, with_facts))
        event.add(_STEP, step.id)
        event.add(_TITLE, step.title)
        if step.clock:
            event.add(_CLOCK, step.clock)
        if step.state not in ("cancelled", "done"):
            event.add_component(_alarm(plan, step, with_facts))
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def read_calendar(text: str, name: str, case: str) -> "Earlier":
    """An earlier plan as far as its calendar tells it.

    Raises
    ------
    InputError
        E104 if it is no calendar of a plan, E211 if it is of another case, E601 where icalendar is not installed.
    """
    _need()
    from icalendar import Calendar

    from candidacy.plan.changes import Earlier, EarlierStep

    try:
        calendar: Any = Calendar.from_ical(text)
        steps = [
            EarlierStep(
                uid=str(event["uid"]), id=str(event[_STEP]), title=str(event[_TITLE]),
                due=f"{event['dtstart'].dt.isoformat()} {event.get(_CLOCK, '')}".strip(), sequence=int(event.get("sequence", 0)),
                cancelled=str(event.get("status", "")) == "CANCELLED",
            )
            for event in calendar.walk("VEVENT")
        ]  # fmt: skip
        day = str(calendar[_DAY])
    except (KeyError, ValueError, AttributeError, IndexError, TypeError) as error:
        raise InputError([Problem(Code.SYNTAX, "not a calendar of a plan", name, found=shorten(error),
                                  expected="what candidacy plan writes with --format ics")]) from None  # fmt: skip
    other = next((step for step in steps if step.uid != uid(case, step.id)), None)
    if other is not None:
        raise InputError([Problem(Code.CONTRADICTION, "this is a calendar of another case", name, field="UID",
                                  found=shorten(other.uid), expected=uid(case, other.id))])  # fmt: skip
    return Earlier(day, tuple(steps))


def _no_plan(plan: PlanDocument, stamp: datetime) -> Any:
    from icalendar import Event

    start = date.fromisoformat(plan.as_of)
    event = Event()
    event.add("uid", uid(plan.case.id, _NONE))
    event.add("dtstamp", stamp)
    event.add("last-modified", stamp)
    event.add("sequence", 0)
    event.add("summary", _NO_PLAN)
    event.add("dtstart", start)
    event.add("dtend", start + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    event.add("description", f"Reference: {plan.case.id}")
    event.add(_STEP, _NONE)
    event.add(_TITLE, _NO_PLAN)
    return event


def _alarm(plan: PlanDocument, step: StepInfo, with_facts: bool) -> Any:
    """What a calendar shows the day before; a short text, so it bears itself what must not be missed beside the step."""
    from icalendar import Alarm

    said = [_title(step, with_facts), f"Reference: {plan.case.id}"]
    if step.agreement:
        said.append(_AGREED)
    if _is_open(plan, step):
        said.append(_OPEN)
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", _BEFORE)
    alarm.add("description", ". ".join(each.rstrip(".") for each in said) + ".")
    return alarm


def _is_open(plan: PlanDocument, step: StepInfo) -> bool:
    """Whether a reader of the calendar alone would take for settled what is not."""
    return (step.id == ORDER and not plan.gate.open) or (
        step.id == INJECTION and (bool(plan.conflicts) or not plan.gate.open)
    )


def _title(step: StepInfo, with_facts: bool) -> str:
    title = step.facts if with_facts else step.title
    return f"{title} by {step.clock}" if step.clock and step.part == "medicines" and with_facts else title


def _description(plan: PlanDocument, step: StepInfo, with_facts: bool) -> str:
    lines = [f"Reference: {plan.case.id}", f"Owner: {step.owner_words}", *step.says]
    if with_facts:
        lines += [*step.lines, *([step.agreement] if step.agreement else [])]
    elif step.agreement:
        lines.append(_AGREED)
    lines += [_OPEN] if _is_open(plan, step) else []
    lines += [step.moved_because] if step.moved_because else []
    return "\n".join([*lines, plan.cautions[-1]])


def _need() -> None:
    if importlib.util.find_spec("icalendar") is None:
        raise InputError([Problem(Code.USAGE, "a calendar needs an extra", "--format", found="ics",
                                  next_step="pip install 'candidacy[plan]'")])  # fmt: skip
