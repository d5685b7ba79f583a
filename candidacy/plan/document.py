"""A plan as a document: the published JSON shape, from which text, pages, calendar and table are made."""

import uuid
from typing import Literal

from pydantic import BaseModel, ConfigDict

from candidacy.explain.cited_document import CitationInfo, SourceInfo
from candidacy.explain.document import CaseInfo
from candidacy.explain.holds_document import HoldsInfo
from candidacy.plan.plan_file import Part

Kind = Literal["plan", "no_plan", "urgent"]
_NAMES = uuid.UUID("6d0a2b1e-9a53-4f0e-8d4b-3c1d8f1f2a77")
State = Literal["planned", "done", "cancelled"]


def uid(case: str, step: str) -> str:
    """The name that calendars keep for a step of a case, whatever its day; it tells nothing of either."""
    return f"{uuid.uuid5(_NAMES, f'{case}/{step}')}@candidacy.invalid"


class _Part(BaseModel):
    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", defer_build=True)


class RulesInfo(_Part):
    """The rule set, or the plan file: which, and its digest; ``notices`` tell what of one's own stands in it."""

    id: str
    version: str
    title: str
    digest: str
    status: str = ""
    notices: list[str] = []


class CalendarInfo(_Part):
    """Which days are not worked; the digest is empty where no calendar file was given."""

    title: str
    weekend_days: list[str]
    holidays: dict[str, str]
    digest: str


class StandingInfo(_Part):
    """A standing under a rule set as of a day."""

    as_of: str
    rule_set: str
    standing: str
    name: str
    reason: str


class ConflictInfo(_Part):
    """Why the proposed day cannot be kept, or not yet be relied on.

    ``earliest`` is the first day on which this no longer stands against it; empty where no date is known. ``as_of`` is the day
    for which it was judged. ``near`` says that it can only be settled close to the day.
    """

    id: str
    words: str
    reason: str
    earliest: str
    as_of: str
    near: bool = False


class GateItem(_Part):
    """One thing that must be settled before scarce material is ordered; only ``settled`` lets it pass."""

    id: str
    words: str
    settled: bool
    why: str
    owner: str
    as_of: str


class GateInfo(_Part):
    """Whether the material may be ordered, as far as the record and the entries say. ``order_by`` is empty where no day is known."""

    open: bool
    order_by: str
    items: list[GateItem]
    says: str


class FactRow(_Part):
    """A missing fact, or an act that mends a failure: who, and between which days."""

    element: str
    subject: str
    ask: str
    owner: str
    earliest: str
    due: str
    near: bool
    as_of: str


class StepInfo(_Part):
    """One step of the plan.

    Attributes
    ----------
    id, uid, sequence
        The step, the name that calendars keep for it when the day moves, and how often it was revised.
    title, facts, lines
        What happens without, and with, facts of the patient, and what is missing in detail.
    due
        Its day; empty where none can be given, with ``no_date_because``.
    clock
        Hour of that day, where an hour counts and is known.
    earliest
        First day on which it can be done.
    was, moved_because
        Its day before the calendar of the practice, or the day of the plan, moved it, and why; empty where it stands.
    relative
        Whether its day follows the day of the injection.
    needs
        Ids of the steps that come first.
    """

    id: str
    uid: str
    sequence: int
    state: State
    part: Part
    title: str
    facts: str
    lines: list[str]
    says: list[str]
    owner: str
    owner_words: str
    due: str
    clock: str
    earliest: str
    was: str
    moved_because: str
    no_date_because: str
    relative: bool
    gate: bool
    needs: list[str]
    agreement: str
    as_of: str
    cites: list[CitationInfo]


class DiscographyInfo(_Part):
    """What a discography would have to hold: which discs, limits with their sources, questions, and a form to fill."""

    done: bool
    discs: list[str]
    controls: list[str]
    says: list[str]
    latest: str
    form: str


class MaterialRow(_Part):
    """One limit or one thing looked at: ``kept``, ``broken``, ``ask`` (not entered) or ``not_read``."""

    name: str
    verdict: Literal["kept", "broken", "ask", "not_read"]
    words: str


class MaterialInfo(_Part):
    """The log of the material against the limits that were entered."""

    in_order: bool
    says: list[str]
    rows: list[MaterialRow]


class MovedStep(_Part):
    """A step that has another day than before."""

    id: str
    title: str
    facts: str
    before: str
    now: str


class ChangesInfo(_Part):
    """What changed against an earlier plan of the same case."""

    moved_from: str
    moved_to: str
    added: list[str]
    gone: list[str]
    moved: list[MovedStep]
    conflicts_new: list[str]
    conflicts_gone: list[str]


class PlanDocument(_Part):
    """The plan of one case for one proposed day of injection. It supports people and orders nothing."""

    schema_version: Literal["1"]
    program: str
    kind: Kind
    case: CaseInfo
    rule_set: RulesInfo
    plan: RulesInfo
    calendar: CalendarInfo
    entries_digest: str
    as_of: str
    day: str
    weekday: str
    hour: str
    cautions: list[str]
    notices: list[str]
    urgent: list[str]
    why_none: list[str]
    standings: list[StandingInfo]
    conflicts: list[ConflictInfo]
    earliest: str
    earliest_says: list[str]
    gate: GateInfo
    facts: list[FactRow]
    steps: list[StepInfo]
    parts: dict[str, str]
    owners: dict[str, str]
    holds: HoldsInfo | None
    discography: DiscographyInfo | None
    cost: list[str]
    material: MaterialInfo | None
    changes: ChangesInfo | None
    sources: list[SourceInfo]

    def to_json(self) -> str:
        """The document as JSON; equal plans give equal bytes."""
        return self.model_dump_json(indent=2) + "\n"
