"""What changed between two plans of one case, and how often each step was revised since the first."""

from pathlib import Path
from typing import Self

from msgspec import Struct

from candidacy.foundation.errors import Code, InputError, Problem, shorten
from candidacy.foundation.files import read_text
from candidacy.plan.document import ChangesInfo, MovedStep, PlanDocument, StepInfo


class EarlierStep(Struct, frozen=True):
    """A step as it stood before. What a calendar alone told has no id."""

    uid: str
    id: str
    title: str
    due: str
    sequence: int
    cancelled: bool
    step: StepInfo | None = None


class Earlier(Struct, frozen=True):
    """An earlier plan of the same case: from its JSON, from its calendar, or made again for another day."""

    day: str
    steps: tuple[EarlierStep, ...]
    conflicts: tuple[str, ...] = ()

    @classmethod
    def of(cls, plan: PlanDocument) -> Self:
        """From a plan."""
        steps = tuple(
            EarlierStep(s.uid, s.id, s.title, _when(s), s.sequence, s.state == "cancelled", s) for s in plan.steps
        )  # fmt: skip
        return cls(plan.day, steps, tuple(each.words for each in plan.conflicts))


def load_earlier(file: Path, case: str) -> Earlier:
    """An earlier plan from its JSON or its calendar.

    Raises
    ------
    InputError
        E104 if it is neither, E211 if it is a plan of another case.
    """
    text = read_text(file)
    if text.lstrip().startswith("BEGIN:VCALENDAR"):
        from candidacy.plan.ics import read_calendar

        return read_calendar(text, str(file), case)
    from pydantic import ValidationError

    try:
        found = PlanDocument.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        raise InputError([Problem(Code.SYNTAX, "not a plan in JSON, nor a calendar of one", str(file),
                                  field=".".join(map(str, first["loc"])), found=shorten(first["msg"]),
                                  expected="what candidacy plan writes with --format json or ics")]) from None  # fmt: skip
    if found.case.id != case:
        raise InputError([Problem(Code.CONTRADICTION, "this is a plan of another case", str(file), field="case.id",
                                  found=shorten(found.case.id), expected=case)])  # fmt: skip
    return Earlier.of(found)


def with_changes(plan: PlanDocument, earlier: Earlier) -> PlanDocument:
    """The plan with what changed since an earlier one: sequences raised, steps that fell away kept as cancelled."""
    before = {step.uid: step for step in earlier.steps}
    steps: list[StepInfo] = []
    added: list[str] = []
    moved: list[MovedStep] = []
    for step in plan.steps:
        old = before.pop(step.uid, None)
        if old is None:
            added.append(step.title)
            steps.append(step)
            continue
        if old.due != _when(step):
            moved.append(
                MovedStep(id=step.id, title=step.title, facts=step.facts, before=old.due, now=_when(step))
            )
        same = (
            old.due == _when(step)
            and not old.cancelled
            and (old.step is None or _content(old.step) == _content(step))
        )
        if old.cancelled:
            added.append(step.title)
        steps.append(step.model_copy(update={"sequence": old.sequence + (not same)}))
    gone = [old for old in before.values() if not old.cancelled]
    for old in before.values():
        if old.step is not None:
            raised = old.sequence + (not old.cancelled)
            steps.append(old.step.model_copy(update={"state": "cancelled", "sequence": raised}))
        else:
            steps.append(_cancelled(old))
    now = [each.words for each in plan.conflicts]
    changes = ChangesInfo(
        moved_from=earlier.day, moved_to=plan.day, added=added, gone=[old.title for old in gone], moved=moved,
        conflicts_new=[words for words in now if words not in earlier.conflicts],
        conflicts_gone=[words for words in earlier.conflicts if words not in now],
    )  # fmt: skip
    return plan.model_copy(update={"steps": steps, "changes": changes})


def _cancelled(old: EarlierStep) -> StepInfo:
    """A step of which only a calendar told, and which is no longer planned."""
    due, _, clock = old.due.partition(" ")
    return StepInfo(id=old.id, uid=old.uid, sequence=old.sequence + (not old.cancelled), state="cancelled", part="facts", title=old.title,
                    facts=old.title, lines=[], says=[], owner="coordinator", owner_words="", due=due, clock=clock, earliest="", was="",
                    moved_because="", no_date_because="", relative=False, gate=False, needs=[], agreement="", as_of="", cites=[])  # fmt: skip


def _when(step: StepInfo) -> str:
    return f"{step.due} {step.clock}".strip()


def _content(step: StepInfo) -> tuple[object, ...]:
    return step.title, step.facts, tuple(step.lines), tuple(step.says), step.owner, step.state, step.agreement
