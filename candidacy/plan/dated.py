"""Steps with their days: from the file, from the medicines and from what is missing; moved by the calendar, in order of need."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Literal

from candidacy.assessment.evaluate import compiled
from candidacy.assessment.view import View
from candidacy.foundation import dates
from candidacy.foundation.truth import Truth
from candidacy.plan.content import Rules
from candidacy.plan.plan_file import Part, Step, When
from candidacy.plan.working_days import WorkingDays
from candidacy.rules.cited import Citation
from candidacy.rules.conditions import Condition
from candidacy.rules.tree import lower

INJECTION, ORDER, DISCOGRAPHY = "injection", "order_material", "discography"
Moves = Literal["before", "after", "never"]


@dataclass(slots=True)
class Dated:
    """A step in the making; see `document.StepInfo` for what its parts mean."""

    id: str
    part: Part
    title: str
    owner: str
    due: date | None
    facts: str = ""
    says: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    clock: str = ""
    earliest: date | None = None
    was: date | None = None
    moved_because: str = ""
    no_date_because: str = ""
    relative: bool = True
    gate: bool = False
    moves: Moves = "never"
    hard: bool = False
    done: bool = False
    needs: list[str] = field(default_factory=list)
    agreement: str = ""
    as_of: date | None = None
    cites: Sequence[Citation] = ()
    applies: Truth = Truth.MET
    covers: Sequence[str] = ()


def truth_of(condition: Condition, view: View) -> Truth:
    """The truth of a condition of a plan on a view of a case."""
    return compiled(lower(condition, {}, {})).read(view, "patient").truth


def day_of(when: When, on: date) -> date:
    """The day of a step; ends of months are clipped.

    Examples
    --------
    >>> day_of(When(amount=6, unit="month"), date(2026, 8, 31)).isoformat()
    '2027-02-28'
    """
    return dates.add(on, when.amount, when.unit)


def of_file(step: Step, on: date, view: View) -> Dated | None:
    """A step of the file for a day; nothing where it is known not to apply."""
    applies = Truth.MET if step.applies_when is None else truth_of(step.applies_when, view)
    if applies is Truth.NOT_MET:
        return None
    done = step.done_when is not None and truth_of(step.done_when, view) is Truth.MET
    needs = list(step.needs)
    if day_of(step.when, on) > on:
        needs.append(INJECTION)
    return Dated(step.id, step.part, step.title, step.owner, day_of(step.when, on), says=list(step.says), gate=step.by_order,
                 moves=step.moves, hard=step.hard, done=done, needs=needs, as_of=on, cites=step.cites, applies=applies,
                 covers=step.covers)  # fmt: skip


def settle(
    steps: list[Dated], on: date, as_of: date, order: date | None, calendar: WorkingDays, rules: Rules
) -> None:
    """Give each step its final day: not after what needs it, on a working day where it may move, and not in the past.

    A day that a medicine hangs on is never moved, and says so where it is no working day.
    """
    known = {step.id: step for step in steps}
    for step in steps:
        if step.gate and order is not None and step.due is not None and step.due > order:
            step.due = order
    for step in steps:
        if step.due is None:
            continue
        off = calendar.off(step.due)
        if not off:
            continue
        if step.moves == "never":
            step.says.append(rules.word("stays", why=off))
            continue
        moved = calendar.before(step.due) if step.moves == "before" else calendar.after(step.due)
        step.was, step.due = step.due, moved
        step.moved_because = rules.word(f"moved_{step.moves}", was=step.was.isoformat(), why=off)
    for step in _last_first(known):
        for need in (known[name] for name in step.needs if name in known):
            if need.due is not None and step.due is not None and need.due > step.due and not need.hard:
                need.was, need.due = need.was or need.due, step.due
    now = min(as_of, on)
    for step in steps:
        if step.due is not None and step.due < now and not step.hard and not step.done:
            step.was, step.due = step.was or step.due, now
            step.moved_because = rules.word("passed", was=step.was.isoformat())
        elif step.due is not None and step.due < now and not step.done:
            step.moved_because = rules.word("day_passed")


def _last_first(known: Mapping[str, Dated]) -> list[Dated]:
    """Steps so that each stands before all that it needs."""
    order: list[Dated] = []
    seen: set[str] = set()

    def visit(step: Dated) -> None:
        if step.id in seen:
            return
        seen.add(step.id)
        for name in step.needs:
            if name in known:
                visit(known[name])
        order.append(step)

    for step in known.values():
        visit(step)
    return order[::-1]


def hours_earlier(on: date, hour: time, hours: float) -> datetime:
    """The moment so many hours before an hour of a day; after it where they are negative."""
    return datetime.combine(on, hour) - timedelta(hours=hours)


def in_order(steps: list[Dated]) -> list[Dated]:
    """By day, those without one last; what is needed stands before what needs it."""
    rank = {step.id: place for place, step in enumerate(_last_first({s.id: s for s in steps})[::-1])}
    return sorted(steps, key=lambda s: (s.due is None, s.due or date.max, rank[s.id]))
