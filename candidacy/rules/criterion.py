"""The shape of a criterion as written in YAML: its condition, numbers, sources, and what can mend a failure."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.json_shape import absent, both, filled, is_one_of, one_of, present, where
from candidacy.rules.cited import Change, Citation, Parameter
from candidacy.rules.conditions import CalendarUnit, Condition, ParameterRef
from candidacy.rules.vocabulary import Day, Force, Group, Identifier, Status, Version, Who


class Recency(Strict):
    """How old facts may be; an older one counts as unknown, shown with its age."""

    max_age: ParameterRef
    """The parameter with the greatest age, a whole number of days, weeks, months or years."""
    elements: Annotated[Rows[str], Field(min_length=1)]
    """Data elements it holds for; the criterion must read each of them."""
    dated_by: str | None = None
    """A date element of the patient that dates facts without a date of their own."""


class Wait(Strict):
    """A length of time from the as-of date, after which a fact may be looked at again."""

    amount: Annotated[int, Field(ge=0, le=3660)]
    """How many, a whole number from 0 to 3660."""
    unit: CalendarUnit
    """day, week, month or year."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the length comes from; at least one."""


class Earliest(Strict):
    """How the earliest day on which a failure may be mended is worked out; exactly one way.

    ``elapsed``, ``grows`` and ``turns`` may stand together: the passing of time brings the day, worked out from what
    the condition reads. There is no date where something else keeps the condition from passing.
    """

    model_config = ConfigDict(
        json_schema_extra=one_of(
            {"anyOf": [is_one_of("elapsed", True), filled("grows"), filled("turns")]},
            present("wait"),
            present("day_of"),
            is_one_of("today", True),
        )
    )

    elapsed: bool = False
    """Tests of elapsed time in the condition come to pass."""
    grows: Rows[Identifier] = ()
    """Number elements that grow as the calendar does, such as the duration of pain."""
    turns: dict[Identifier, Identifier] = Field(default_factory=dict)
    """A yes-or-no element to the date element on whose day it turns."""
    wait: Wait | None = None
    """A length of time from the as-of date."""
    day_of: Identifier | None = None
    """The day in this date element of the patient, if it has not passed."""
    today: bool = False
    """It can be done on the as-of date."""

    @property
    def by_time(self) -> bool:
        """Whether the passing of time brings the day."""
        return self.elapsed or bool(self.grows) or bool(self.turns)

    @model_validator(mode="after")
    def _one_way(self) -> "Earliest":
        if sum((self.by_time, self.wait is not None, self.day_of is not None, self.today)) != 1:
            raise ValueError(
                "earliest needs exactly one of elapsed (with grows, turns), wait, day_of or today"
            )
        return self


class Mendable(Strict):
    """Whether time or an act can mend a failure, and what has to happen."""

    model_config = ConfigDict(
        json_schema_extra=both(
            where(
                is_one_of("how", "time", "act"),
                filled("act", "who"),
                both(absent("who", "earliest"), {"properties": {"act": {"const": ""}}}),
            ),
            where(
                is_one_of("how", "time"),
                {"properties": {"earliest": {"not": is_one_of("today", True)}}},
            ),
        )
    )

    how: Literal["time", "act", "discs", "no"]
    """``time`` passes, an ``act`` is done, ``discs``: by what mends the discs it counts, or ``no``: nothing mends it."""
    act: str = ""
    """What must have happened, as it reads after the word "after"; needed for ``time`` and ``act``."""
    who: Who | None = None
    """Who does it, or lets the time pass; needed for ``time`` and ``act``."""
    earliest: Earliest | None = None
    """How the earliest day is worked out; without it no date can be given."""

    @model_validator(mode="after")
    def _whole(self) -> "Mendable":
        if self.how in ("time", "act") and (not self.act or self.who is None):
            raise ValueError("what time or an act can mend says act and who")
        if self.how in ("discs", "no") and (self.act or self.who or self.earliest):
            raise ValueError(f"with how: {self.how} there is no act, who or earliest")
        if self.how == "time" and self.earliest is not None and self.earliest.today:
            raise ValueError("what time mends is not mended today")
        return self


class Found(Strict):
    """What was found, in short phrases: where the criterion passes, and where it fails."""

    model_config = ConfigDict(populate_by_name=True)

    pass_: Annotated[str, Field(alias="pass", min_length=1)]
    """What was found where it passes ("no sign of infection")."""
    fail: Annotated[str, Field(min_length=1)]
    """What was found where it fails ("a sign of infection")."""


class Criterion(Strict):
    """One inclusion or exclusion condition about the patient or one disc.

    An inclusion passes when its condition is met, an exclusion passes when it is not met. Where
    ``applies_when`` is known not to hold, the criterion passes as not applying, and says so.
    """

    model_config = ConfigDict(json_schema_extra=where(is_one_of("force", "stop"), filled("act")))

    id: Identifier
    """Id for life, never used again: the name of its file without ``.yaml``; small letters, digits and ``_``."""
    kind: Literal["inclusion", "exclusion"]
    """``inclusion`` passes when the condition is met, ``exclusion`` when it is not met."""
    title: Text
    """Name as headings and lists show it."""
    subject: Literal["patient", "disc"]
    """What it is about; a criterion of the disc is answered for each disc by itself."""
    group: Group
    """The heading it stands under."""
    force: Force
    """What a failure does: ``stop`` possible emergency, ``absolute`` or ``relative`` contraindication,
    ``advisory`` shown and never decides."""
    force_reason: str = ""
    """Why it has this force."""
    status: Status
    """``draft``, ``source_checked`` (use and numbers were compared with seen sources, by no reviewer) or ``retired``."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    checked_on: Day
    """Last day this file was compared with its sources, YYYY-MM-DD."""
    why: Text
    """Why it matters to this decision, for the reader of an answer."""
    applies_when: Condition | None = None
    """Where it applies; where this is known not to hold, it passes as not applying."""
    when: Condition
    """The condition."""
    weighs: Rows[str] = ()
    """Elements that it deals with in full although another fact can settle it, such as an infection that may have
    cleared: a danger among them is then not one that nobody weighed."""
    parameters: dict[str, Parameter] = Field(default_factory=dict)
    """Its numbers, codes and lists by name; a rule set may change them with a reason."""
    recency: Recency | None = None
    """How old facts may be."""
    found: Found | None = None
    """Short phrases for where it passes and where it fails."""
    supports: bool = False
    """It only speaks for or against the disc as the source: while advisory, it is shown as noted or not seen,
    neither passed nor failed."""
    mendable: Mendable | None = None
    """Whether time or an act can mend a failure."""
    if_unknown: Literal["ask", "examine", "test", "refer"]
    """What to do where it cannot be settled; there is no value that means "pass"."""
    ask_for: Text
    """What to ask for where a fact is missing."""
    act: str = ""
    """What to do now where it fails; needed for the force ``stop``."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """What supports the use of this criterion; at least one."""
    spread: str = ""
    """How far published criteria differ."""
    cautions: Rows[str] = ()
    """What a reader of the answer must know."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a criterion of one's own that bears a shipped id."""

    @model_validator(mode="after")
    def _emergency_says_what_to_do(self) -> "Criterion":
        if self.force == "stop" and not self.act:
            raise ValueError("a criterion of force stop must say in act what to do now")
        return self
