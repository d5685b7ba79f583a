"""The shape of a course record as written in a file: injections, visits, events and later procedures of one patient.

It stands beside the case record and names it by its reference; what was known before the injection stays there. A course
record tells what was done and seen, never what should be done.
"""

from typing import Annotated, Literal

from pydantic import Field

from candidacy.case.element import Rows
from candidacy.case.record import Number, Strict

VisitKind = Literal["baseline", "planned", "unplanned"]
Seen = Literal["clinic", "telephone", "form", "record"]
Grade = Literal[1, 2, 3, 4, 5]
DEATH: Grade = 5
Answer = Literal["yes", "no", "not_known"]
Seriousness = Literal[
    "death",
    "life_threatening",
    "hospital_stay",
    "disability",
    "birth_defect",
    "intervention_to_prevent_harm",
    "other_important",
]
Relation = Literal["related", "possibly_related", "not_related", "not_known"]
EventOutcome = Literal["resolved", "recovering", "ongoing", "resolved_with_sequelae", "fatal", "not_known"]


class Quantity(Strict):
    """A number with its unit."""

    value: Number
    """The number."""
    unit: str
    """Its unit."""


class Assessed(Strict):
    """The assessment on which the injection rested."""

    on: str
    """The as-of day of the assessment, YYYY-MM-DD."""
    rule_set: str
    """Id of the rule set."""
    version: str
    """Version of the rule set."""
    standing: str
    """The standing it gave, such as ``candidate``."""
    digest: str = ""
    """Digest of the answer, where one was kept."""


class WentOn(Strict):
    """Why a patient was treated whose standing was not ``candidate``."""

    because: Literal["conference", "physician", "trial", "other"]
    """Who decided so."""
    reason: str
    """The reason in words; no name of a person."""


class Unit(Strict):
    """One container of donated material."""

    code: str = ""
    """Distinct identification code on the label."""
    lot: str = ""
    """Lot on the label."""
    expires: str = ""
    """Day of expiry on the label, YYYY-MM-DD."""
    thaw_began: str = ""
    """Day and time at which thawing began, YYYY-MM-DDTHH:MM; empty for material that is not thawed."""
    thaw_ended: str = ""
    """Day and time at which it was thawed, YYYY-MM-DDTHH:MM."""
    disposition: Literal["", "used_whole", "rest_discarded", "discarded", "returned"] = ""
    """What became of it; empty where nobody said."""


class InjectedDisc(Strict):
    """What went into one disc."""

    level: str
    """The lumbar disc, such as ``L4-L5``."""
    material: str
    """Kind of the material in plain words, such as "donated disc tissue"; no trade name."""
    units: Rows[Unit] = ()
    """Containers used for this disc."""
    volume: Quantity | None = None
    """Volume injected, mL."""
    peak_pressure: Quantity | None = None
    """Highest pressure, psi."""
    contrast_in_injectate: bool | None = None
    """Whether contrast was part of what was injected."""
    injected_at: str = ""
    """Day and time of the injection, YYYY-MM-DDTHH:MM."""
    ended_because: Literal["volume_given", "pressure", "pain", "leak", "other", ""] = ""
    """Why the injection ended."""
    again_because: str = ""
    """Why this disc was injected once more, where it had been before; no name of a person."""
    note: str = ""
    """What else should be known."""


class Check(Strict):
    """One line of the checklist of the day as it was answered."""

    id: str
    """Id of the line."""
    disc: str = ""
    """The disc that it was asked of, where each disc has the line for itself."""
    answer: Literal["yes", "no", "not_applicable"]
    """What was answered."""
    by: str
    """Role or local id of who checked; never a name."""
    at: str
    """Day and time, YYYY-MM-DDTHH:MM."""
    note: str = ""
    """What else was said."""


class Injection(Strict):
    """One session of injections."""

    id: Annotated[int, Field(ge=1)]
    """Number of the session, counted from 1."""
    date: str
    """Its day, YYYY-MM-DD."""
    discs: Annotated[Rows[InjectedDisc], Field(min_length=1)]
    """Discs injected in this session."""
    unused_units: Rows[Unit] = ()
    """Containers that were thawed or opened in this session and went into no disc."""
    checks: Rows[Check] = ()
    """The checklist of the day as answered."""
    assessed: Assessed | None = None
    """The assessment it rested on."""
    went_on: WentOn | None = None
    """Why it went on where the standing was not ``candidate``."""
    discharged: str = ""
    """Day and time of leaving, YYYY-MM-DDTHH:MM."""
    recovery: str = ""
    """How recovery went, in words."""


class Visit(Strict):
    """What was asked and answered on one day."""

    date: str
    """Its day, YYYY-MM-DD."""
    kind: VisitKind
    """``baseline`` before an injection, ``planned`` for a visit of the schedule, ``unplanned`` otherwise."""
    of: str = ""
    """Id of the planned visit in the schedule, such as ``months_3``."""
    injection: Annotated[int, Field(ge=1)] = 1
    """The session that it follows, or precedes as baseline."""
    seen: Seen = "clinic"
    """How the answers were got."""
    answers: dict[str, Number | str | bool] = Field(default_factory=dict)
    """Measures by their id in the forms (``pain_average_week``, ``oswestry_disability_index``), in the unit of the form."""
    unanswered: dict[str, Literal["not_asked", "declined", "not_readable", "not_known"]] = Field(
        default_factory=dict
    )
    """Measures that were due and are not known, with the reason."""
    note: str = ""
    """What else was said; no name of a person."""


class Event(Strict):
    """An adverse event."""

    id: Annotated[int, Field(ge=1)]
    """Number of the event, counted from 1."""
    what: str
    """What happened, in words or by a term of the forms."""
    began: str
    """Day it began: YYYY-MM-DD, YYYY-MM or YYYY."""
    learned: str
    """Day the practice learned of it, YYYY-MM-DD; clocks of reporting start here."""
    grade: Grade | None = None
    """Severity, 1 mild to 5 death, by the common terminology criteria; None where not graded."""
    serious: Rows[Seriousness] | None = None
    """Reasons for calling it serious; an empty list says that it was judged not serious, None that nobody judged."""
    expected: Answer = "not_known"
    """Whether it is among what is expected after such an injection."""
    relation: Relation = "not_known"
    """Relation to the injection, as judged."""
    communicable: Answer = "not_known"
    """Whether a communicable disease may have come with the material."""
    injection: Annotated[int, Field(ge=1)] = 1
    """The session that it follows."""
    ended: str = ""
    """Day it ended, where it did."""
    outcome: EventOutcome = "not_known"
    """How it ended."""
    reported: dict[str, str] = Field(default_factory=dict)
    """To whom it was reported, and on which day (``supplier: 2026-03-04``)."""
    note: str = ""
    """What else was said."""


class Procedure(Strict):
    """A later procedure on the lumbar spine: surgery, another injection elsewhere, ablation."""

    date: str
    """Its day, YYYY-MM-DD."""
    kind: Literal["surgery", "intradiscal_injection", "epidural_injection", "ablation", "other"]
    """What kind."""
    levels: Rows[str] = ()
    """Lumbar discs or segments, where known."""
    because_of_treated_disc: Answer = "not_known"
    """Whether it was done for pain of a treated disc."""
    note: str = ""
    """What else was said."""


class LastContact(Strict):
    """The last that is known of the patient."""

    date: str
    """Its day, YYYY-MM-DD."""
    state: Literal["in_follow_up", "lost", "withdrew", "died", "ended"]
    """What is known since."""
    note: str = ""
    """What else was said."""


class CourseRecord(Strict):
    """One patient from the injection on."""

    schema_version: Literal["1"]
    """Version of this shape."""
    case: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
    """Reference of the case record; never a name."""
    invented: bool = False
    """True for demonstration data."""
    injections: Rows[Injection] = ()
    """Sessions of injections, by date."""
    visits: Rows[Visit] = ()
    """What was asked and answered, by date."""
    events: Rows[Event] = ()
    """Adverse events."""
    procedures: Rows[Procedure] = ()
    """Later procedures."""
    last_contact: LastContact | None = None
    """The last that is known."""
    note: str = ""
    """What a reader should know about this record; no name of a person."""

    def plain(self) -> dict[str, object]:
        """The record as plain data, without defaults, ready for YAML or JSON."""
        return self.model_dump(mode="json", exclude_defaults=True) | {"schema_version": self.schema_version}
