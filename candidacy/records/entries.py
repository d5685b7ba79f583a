"""What may be entered in the trail, and what the body of each kind of entry says.

Bodies hold all that was written; the trail itself holds only who, when, what, which referral and digests, so that it can
stay whole when a body is removed under a retention rule.
"""

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from candidacy.case.element import LEVELS
from candidacy.foundation.dates import DateError, day

REFERENCE = r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"
Access = Literal["read", "enter", "decide", "administer"]
ACCESS: tuple[Access, ...] = ("read", "enter", "decide", "administer")
Meaning = Literal["review", "approval", "responsibility", "authorship"]
Recommendation = Literal["treat", "not", "not_yet", "more_tests"]
Vote = Literal["for", "against", "defer"]
State = Literal["open", "closed"]


def _whole_day(text: str) -> str:
    if text:
        try:
            day(text)
        except DateError as error:
            raise ValueError(str(error)) from None
    return text


def _level(text: str) -> str:
    if text not in LEVELS:
        raise ValueError(f"one of {', '.join(LEVELS)}")
    return text


Level = Annotated[str, AfterValidator(_level)]
Person = Annotated[str, Field(pattern=REFERENCE)]
MaybePerson = Annotated[str, Field(pattern=r"^([A-Za-z0-9][A-Za-z0-9._-]{0,63})?$")]
MaybeDay = Annotated[str, AfterValidator(_whole_day)]
Day = Annotated[str, Field(min_length=1), AfterValidator(_whole_day)]
LONGEST_LINE = 500  # characters
Line = Annotated[str, Field(min_length=1, max_length=LONGEST_LINE, pattern=r"\S")]
Text = Annotated[str, Field(min_length=1, max_length=200_000, pattern=r"\S")]
Large = Annotated[str, Field(min_length=1, max_length=20_000_000)]
Count = Annotated[int, Field(ge=0)]


class Body(BaseModel):
    """The body of an entry."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)
    what: ClassVar[str] = ""

    why: Annotated[str, Field(max_length=2_000)] = ""
    """The reason, in the words of who entered it."""


class Opened(Body):
    what = "store_opened"
    program: str
    """Name and version of the program."""
    schema_revision: str
    """Revision of the tables."""


class PersonSet(Body):
    what = "person_set"
    person: Person
    """Local id of the person."""
    role: Line
    """What the person is here ("physician"); no name."""
    access: list[Access]
    """What the person may do; nothing once all is taken back."""


class CaseSaved(Body):
    what = "case_saved"
    version: Annotated[int, Field(ge=1)]
    """Counted from 1 for each referral."""
    record: Large
    """The case record as YAML."""
    digest: str
    """Digest of the record, as assessments state it."""
    invented: bool = False
    """Demonstration data."""


class Assessed(Body):
    what = "assessed"
    version: Annotated[int, Field(ge=1)]
    """Version of the record that was assessed."""
    record_digest: str
    """Digest of that record."""
    rules: str
    """Id of the rule set."""
    rules_version: str
    """Its version."""
    rules_digest: str
    """Digest of everything in it that can change an answer."""
    library: str
    """Digest of the list of kept rule files it was read from; see `candidacy.records.rules_kept`."""
    program: str
    """Name and version of the program."""
    program_digest: str
    """Digest of the code that evaluates."""
    engine: str
    """Which chainer decided."""
    as_of: Day
    """Day for which it was assessed."""
    standing: str
    """The standing."""
    standing_name: str
    """What the rule set calls it; of a candidate also how many remarks no rule read, if any, for lists show no more than this."""
    shown: str
    """How it is marked where it is shown: the standing, or ``not_yet``."""
    stops: Count
    """How many companion rule sets say stop, whatever the standing."""
    missing: Count
    """How many facts are missing."""
    document: Large
    """The whole answer, as JSON text."""
    document_digest: str
    """SHA-256 of that text."""


class CourseSaved(Body):
    what = "course_saved"
    version: Annotated[int, Field(ge=1)]
    """Counted from 1 for each referral."""
    record: Large
    """The course record as YAML."""
    digest: str
    """Digest of the record."""
    case_version: Annotated[int, Field(ge=1)]
    """Version of the case record that the referral had then."""


class ReportKept(Body):
    what = "report_kept"
    kind: Line
    """Kind of document, as in a case record."""
    text: Large
    """The report as it was read."""
    reading: str = ""
    """What was read from it, as JSON text; empty where it was only kept."""
    accepted: list[Line] = Field(default_factory=list)
    """Findings that the person took over into the record, in words."""
    refused: list[Line] = Field(default_factory=list)
    """Findings that the person did not take over, in words."""
    document: Annotated[str, Field(max_length=LONGEST_LINE)] = ""
    """Key under which the record names it among its documents; empty where nothing was taken over."""
    day: Annotated[str, Field(pattern=r"^(\d{4}(-\d{2}){0,2})?$")] = ""
    """Day of the study, note or letter, YYYY-MM-DD, or its month or year; empty where it is not known."""


class LetterKept(Body):
    what = "letter_kept"
    kind: Line
    """Of which kind it is."""
    text: Large
    """The letter as it was drafted, as text."""
    version: Annotated[int, Field(ge=1)]
    """Version of the record that it was drafted from."""
    record_digest: str
    """Digest of that record."""


class NoteAdded(Body):
    what = "note_added"
    text: Text
    """The note."""


class ActAdded(Body):
    what = "act_added"
    act: Line
    """What somebody has to do."""
    owner: MaybePerson = ""
    """Who; empty where nobody has taken it."""
    due: MaybeDay = ""
    """By which day."""


class ActEnded(Body):
    what = "act_ended"
    act: Annotated[int, Field(ge=1)]
    """The entry that added it."""
    state: Literal["done", "dropped"]
    """How it ended."""


class WorkSet(Body):
    what = "work_set"
    owner: MaybePerson
    """Who has the referral in hand."""
    waiting_for: Annotated[str, Field(max_length=500)]
    """What it waits for; empty where it waits for nothing."""
    state: State
    """Whether anything is still to be done."""


class Dissent(BaseModel):
    """A member who would have decided otherwise, and why."""

    model_config = Body.model_config
    person: Person
    """Who."""
    reason: Text
    """Why."""


class Signed(Body):
    what = "decision_signed"
    decision: Recommendation
    """What was decided by people; the program decides nothing."""
    meaning: Meaning
    """What the signature means."""
    reason: Text
    """Why; required."""
    discs: list[Level] = Field(default_factory=list)
    """Which discs, where the decision is to treat."""
    until: MaybeDay = ""
    """Day before which it is not yet time."""
    after: Annotated[str, Field(max_length=500)] = ""
    """What has to happen first."""
    tests: list[Line] = Field(default_factory=list)
    """Which further tests."""
    conditions: list[Line] = Field(default_factory=list)
    """Under which conditions."""
    dissent: list[Dissent] = Field(default_factory=list)
    """Who would have decided otherwise, and why."""
    responsible: Person
    """Who sees to it."""
    review_on: MaybeDay = ""
    """When it is looked at again."""
    version: Annotated[int, Field(ge=1)]
    """Version of the record it rests on."""
    record_digest: str
    """Digest of that record."""
    assessment: Count = 0
    """Entry of the assessment of that version that it rests on; 0 where none was kept."""
    rules: str = ""
    """Id of the rule set of that assessment."""
    rules_digest: str = ""
    """Digest of the rule set of that assessment."""
    item: Count = 0
    """Entry of the item of a conference; 0 outside one."""
    took_part: list[Person] | None = None
    """Who was present and not recused when it was decided; none is told of a decision outside a conference."""
    quorum: Count | None = None
    """What the meeting asked for then."""
    corrects: Count = 0
    """Entry of an earlier decision that this one corrects."""


class MeetingSet(Body):
    what = "meeting_set"
    meeting: Count = 0
    """Entry that made it; 0 for a new one."""
    held_on: Day
    """Its day."""
    title: Line
    """What it is called."""
    quorum: Count
    """Fewest members present who are not recused; a local choice, no number is published."""
    scale: Literal["appropriateness", "vote"] = "appropriateness"
    """The 1 to 9 scale of the RAND/UCLA method, or for, against, defer."""
    state: State = "open"
    """Whether it is over."""


class MemberSet(Body):
    what = "member_set"
    meeting: Annotated[int, Field(ge=1)]
    """Entry of the meeting."""
    person: Person
    """Who."""
    role: Line
    """As what ("radiologist")."""
    interest: Annotated[str, Field(max_length=2_000)] = ""
    """Declared interest; empty where none was declared."""
    present: bool = True
    """Whether the member takes part."""


class ItemSet(Body):
    what = "item_set"
    item: Count = 0
    """Entry that made it; 0 for a new one."""
    meeting: Count = 0
    """Entry of the meeting; 0 while it waits in the queue."""
    question: Line
    """What is asked."""
    asked_by: MaybePerson = ""
    """Who asked; empty where the standing did."""
    presenter: MaybePerson = ""
    """Who presents."""
    place: Count = 0
    """Its place in the order of the queue or meeting."""
    state: Literal["queued", "rating", "decided", "withdrawn"] = "queued"
    """Where it stands."""
    round: Annotated[int, Field(ge=1, le=2)] = 1
    """Which round of rating."""


class Recused(Body):
    what = "recused"
    item: Annotated[int, Field(ge=1)]
    """Entry of the item."""
    person: Person
    """Who takes no part in it."""


class Rated(Body):
    what = "rated"
    item: Annotated[int, Field(ge=1)]
    """Entry of the item."""
    round: Annotated[int, Field(ge=1, le=2)]
    """Which round."""
    person: Person
    """Who rates."""
    disc: Level | Literal[""] = ""
    """Which disc; empty for the case."""
    value: Annotated[int, Field(ge=1, le=9)] | Vote
    """1 to 9, or for, against, defer."""


class Told(Body):
    """What was done with a referral or the store, in words only."""

    words: Annotated[str, Field(max_length=2_000)] = ""
    """How, in which form, or how far."""


class Exported(Told):
    what = "exported"


class Removed(Told):
    what = "removed"


class BackedUp(Told):
    what = "backed_up"


class Restored(Told):
    what = "restored"


class Upgraded(Told):
    what = "upgraded"


class Rebuilt(Told):
    what = "rebuilt"


READ = "read"  # an entry without a body
KINDS: dict[str, type[Body]] = {
    kind.what: kind
    for kind in (
        Opened, PersonSet, CaseSaved, CourseSaved, Assessed, ReportKept, LetterKept, NoteAdded, ActAdded, ActEnded, WorkSet, Signed, MeetingSet,
        MemberSet, ItemSet, Recused, Rated, Exported, Removed, BackedUp, Restored, Upgraded, Rebuilt,
    )
}  # fmt: skip
