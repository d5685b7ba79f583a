"""The shape of criteria, rule sets, decision rules, settings and sources as written in YAML."""

from typing import Annotated, Literal, get_args

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.catalogue import Replaces, Rows, Strict, Tag
from candidacy.rules.conditions import CalendarUnit, Condition, ParameterRef, Scalar

Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{2,79}$")]
Version = Annotated[str, Field(pattern=r"^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)$")]
Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
Force = Literal["stop", "absolute", "relative", "advisory"]
# What was done, no more: ``source_checked`` says that use and numbers were compared with seen sources, by no reviewer.
Status = Literal["draft", "source_checked", "retired"]
Group = Literal[
    "emergencies",
    "who",
    "which_disc",
    "disc_source",
    "other_sources",
    "safety",
    "timing",
    "report",
    "documentation",
]
# The order in which a clinician thinks, and the headings of every explanation.
GROUPS: dict[str, str] = {
    "emergencies": "Emergencies",
    "who": "Who: the patient",
    "which_disc": "Which disc",
    "disc_source": "Is the disc the source of the pain",
    "other_sources": "Other sources of pain",
    "safety": "Safety",
    "timing": "Timing",
    "report": "What the imaging report states",
    "documentation": "Documentation and cost",
}
FORCES: dict[str, str] = {
    "stop": "possible emergency",
    "absolute": "absolute contraindication",
    "relative": "relative contraindication",
    "advisory": "advisory, never decides",
}
STANDINGS: dict[str, str] = {
    "urgent": "Urgent",
    "not_candidate": "Not a candidate",
    "incomplete": "Incomplete",
    "borderline": "Borderline",
    "candidate": "Candidate",
}
Standing = Literal["urgent", "not_candidate", "incomplete", "borderline", "candidate"]
# How a standing is marked: as itself, or as "not yet" where everything behind it can be mended.
ShownStanding = Standing | Literal["not_yet"]
_STANDINGS: tuple[Standing, ...] = get_args(Standing)
Outcome = Literal["pass", "fail", "undetermined"]
# Who can mend what fails.
Who = Literal[
    "patient",
    "referrer",
    "physician",
    "prescriber",
    "treating_clinician",
    "radiologist",
    "coordinator",
    "supplier",
    "payer",
]


class Source(Strict):
    """A published document, standard or convention, written once and cited by key."""

    title: str
    authors: str = ""
    body: str = ""
    journal: str = ""
    year: Annotated[int, Field(ge=1900, le=2100)] | None = None
    identifier: str = ""
    seen_as: str = ""
    limits: str = ""
    replaces: Replaces | None = None


class Citation(Strict):
    """Use of a source.

    Attributes
    ----------
    source
        Key in ``sources.yaml``.
    at
        Place in it.
    supports
        ``value``: this number; ``direction``: that more or less matters; ``use``: its use as a criterion.
    tag
        How far it was verified: ``seen`` in the source, ``weak`` secondary page, ``memory`` recalled,
        ``common practice`` convention without a source, ``local`` decided by the practice, ``derived`` by
        arithmetic on a tagged number.
    """

    source: str
    at: str = ""
    supports: Literal["value", "direction", "use"]
    tag: Tag
    note: str = ""


class Alternative(Strict):
    """Another published value of the same parameter, shown beside the one in use."""

    value: Scalar | Rows[Scalar]
    note: str
    cites: Rows[Citation] = ()


class Parameter(Strict):
    """A number, code or list that a criterion compares with."""

    value: Scalar | Rows[Scalar]
    meaning: str
    unit: str | None = None
    allowed: "Bounds | None" = None
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    alternatives: Rows[Alternative] = ()


class Bounds(Strict):
    """Values a parameter may take when it is changed."""

    low: int | float | None = None
    high: int | float | None = None


class Recency(Strict):
    """How old facts may be; an older one counts as unknown, shown with its age.

    ``dated_by`` names a date element of the patient that dates facts without a date of their own.
    """

    max_age: ParameterRef
    elements: Annotated[Rows[str], Field(min_length=1)]
    dated_by: str | None = None


class Change(Strict):
    """One line of history, for readers of rules."""

    version: Version
    date: Day
    change: str


class Wait(Strict):
    """A length of time from the as-of date, after which a fact may be looked at again."""

    amount: Annotated[int, Field(ge=0)]
    unit: CalendarUnit
    cites: Annotated[Rows[Citation], Field(min_length=1)]


class Earliest(Strict):
    """How the earliest day on which a failure may be mended is worked out; exactly one way.

    Attributes
    ----------
    elapsed, grows, turns
        By the passing of time, from what the condition reads: its tests of elapsed time come to pass; the named
        numbers grow as the calendar does; a yes-or-no element turns on the day in a date element. These may stand
        together. There is no date where something else keeps the condition from passing.
    wait
        A length of time from the as-of date.
    day_of
        The day in this date element of the patient, if it has not passed.
    today
        It can be done on the as-of date.
    """

    elapsed: bool = False
    grows: Rows[Identifier] = ()
    turns: dict[Identifier, Identifier] = Field(default_factory=dict)
    wait: Wait | None = None
    day_of: Identifier | None = None
    today: bool = False

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
    """Whether time or an act can mend a failure, and what has to happen.

    Attributes
    ----------
    how
        ``time`` passes, an ``act`` is done, ``discs``: by what mends the discs it counts, or ``no``: nothing mends it.
    act
        What must have happened, as it reads after the word "after".
    who
        Who does it, or lets the time pass.
    earliest
        How the earliest day is worked out; without it no date can be given.
    """

    how: Literal["time", "act", "discs", "no"]
    act: str = ""
    who: Who | None = None
    earliest: Earliest | None = None

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
    fail: Annotated[str, Field(min_length=1)]


class Criterion(Strict):
    """One inclusion or exclusion condition about the patient or one disc.

    An inclusion passes when its condition is met, an exclusion passes when it is not met. Where
    ``applies_when`` is known not to hold, the criterion passes as not applying, and says so.

    ``weighs`` names elements that it deals with in full although another fact can settle it, such as an infection
    that may have cleared: a danger among them is then not one that nobody weighed (`candidacy.assessment.record_grounds`).

    ``supports`` marks a finding that only speaks for or against the disc as the source: while it is advisory it is
    shown as noted or not seen, neither passed nor failed.
    """

    id: Identifier
    kind: Literal["inclusion", "exclusion"]
    title: str
    subject: Literal["patient", "disc"]
    group: Group
    force: Force
    force_reason: str = ""
    status: Status
    version: Version
    checked_on: Day
    why: str
    applies_when: Condition | None = None
    when: Condition
    weighs: Rows[str] = ()
    parameters: dict[str, Parameter] = Field(default_factory=dict)
    recency: Recency | None = None
    found: Found | None = None
    supports: bool = False
    mendable: Mendable | None = None
    if_unknown: Literal["ask", "examine", "test", "refer"]
    ask_for: str
    act: str = ""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    spread: str = ""
    cautions: Rows[str] = ()
    changes: Annotated[Rows[Change], Field(min_length=1)]
    replaces: Replaces | None = None

    @model_validator(mode="after")
    def _emergency_says_what_to_do(self) -> "Criterion":
        if self.force == "stop" and not self.act:
            raise ValueError("a criterion of force stop must say in act what to do now")
        return self


class ParameterChange(Strict):
    """A rule set's departure from the default of a parameter."""

    value: Scalar | Rows[Scalar]
    unit: str | None = None
    reason: str
    cites: Annotated[Rows[Citation], Field(min_length=1)]


class ForceChange(Strict):
    """A rule set's departure from the default force."""

    value: Force
    reason: str
    cites: Annotated[Rows[Citation], Field(min_length=1)]


class Selection(Strict):
    """A criterion as a rule set uses it."""

    id: Identifier
    parameters: dict[str, ParameterChange] = Field(default_factory=dict)
    force: ForceChange | None = None


class LeftOut(Strict):
    """A criterion of the extended rule set that is not taken over, and why."""

    id: Identifier
    reason: str


class DecisionPattern(Strict):
    """Outcomes that make a decision rule fire; or any disc of a standing, for the case.

    The force ``record`` speaks of the record itself: ``conflict``, two of its facts cannot both be true;
    ``unread_danger``, a fact of danger is recorded that no deciding criterion of the rule set reads.
    """

    force: Force | Literal["record"] | None = None
    outcome: Outcome | Literal["conflict", "unread_danger"] | None = None
    any_disc: Standing | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> "DecisionPattern":
        outcomes = self.force is not None and self.outcome is not None
        if outcomes == (self.any_disc is not None) or (self.force is None) != (self.outcome is None):
            raise ValueError("a pattern is either force with outcome, or any_disc")
        if (self.force == "record") != (self.outcome in ("conflict", "unread_danger")):
            raise ValueError("conflict and unread_danger are outcomes of the force record, and of no other")
        return self


class OtherDiscSteps(Strict):
    """What comes next where a recorded disc that nobody considers passes every disc criterion.

    ``{discs}`` stands for those discs in words ("L5-S1, which passes every disc criterion,").

    Attributes
    ----------
    helps
        Where considering such a disc would give a better standing.
    does_not_help
        Where the standing would stay, because something else than the disc decides it.
    """

    helps: Annotated[str, Field(pattern=r"\{discs\}")]
    does_not_help: Annotated[str, Field(pattern=r"\{discs\}")]


class DecisionRule(Strict):
    """One rule from outcomes to a standing. The first rule in order that fires decides.

    ``when`` lists patterns of which one is enough; a rule without ``when`` decides if no other does.
    ``other_disc`` replaces ``next_step`` where a disc that is not considered passes every disc criterion.
    """

    id: Identifier
    standing: Standing
    when: Rows[DecisionPattern] = ()
    means: str
    next_step: str
    other_disc: OtherDiscSteps | None = None
    cites: Annotated[Rows[Citation], Field(min_length=1)]


class NotYet(Strict):
    """How a case is named, and what comes next, where everything that keeps it from passing can be mended."""

    name: str
    next_step: str


class DecisionOrder(Strict):
    """An ordered list of decision rules.

    ``names`` says what each standing is called by rule sets of this purpose; a standing without one bears its
    general name.
    """

    id: Identifier
    version: Version
    title: str
    why: str
    names: dict[Standing, str] = Field(default_factory=dict)
    not_yet: NotYet | None = None
    rules: Annotated[Rows[DecisionRule], Field(min_length=1)]
    replaces: Replaces | None = None

    def name_of(self, standing: Standing) -> str:
        """What a standing is called."""
        return self.names.get(standing) or STANDINGS[standing]

    @property
    def counted(self) -> dict[str, str]:
        """The standings its rules may come to, in their usual order, with their names for a count of cases.

        A count does not tell what can be mended from what cannot, so its name says both.
        """
        given = {rule.standing for rule in self.rules}
        names: dict[str, str] = {
            standing: self.name_of(standing) for standing in _STANDINGS if standing in given
        }
        if self.not_yet is not None:
            later = f", or {self.not_yet.name[:1].lower()}{self.not_yet.name[1:]}"
            names |= {code: names[code] + later for code in ("not_candidate", "borderline") if code in names}
        return names


class Setting(Strict):
    """A choice that derivations use, such as a factor edition; a rule set may set it."""

    value: Scalar | Rows[Scalar]
    meaning: str
    choices: dict[str, str] | None = None
    unit: str | None = None
    allowed: Bounds | None = None
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    alternatives: Rows[Alternative] = ()
    replaces: Replaces | None = None


class TableRow(Strict):
    """One row of a table of published values; every row cites."""

    key: str
    values: dict[str, Scalar | Rows[Scalar] | None]
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    note: str = ""


class Table(Strict):
    """Published values that derivations look up, such as conversion factors. Columns say unit and meaning."""

    id: Identifier
    version: Version
    title: str
    meaning: str
    columns: dict[str, str]
    rows: Annotated[Rows[TableRow], Field(min_length=1)]
    changes: Annotated[Rows[Change], Field(min_length=1)]
    replaces: Replaces | None = None

    @model_validator(mode="after")
    def _columns_known(self) -> "Table":
        for row in self.rows:
            if set(row.values) != set(self.columns):
                raise ValueError(f"row {row.key} must have exactly the columns {', '.join(self.columns)}")
        return self


class SourceAttributes(Strict):
    """What evidence-based decision support tells about itself (45 CFR 170.315(b)(11)(iv)(A))."""

    bibliographic_citation: str
    developer: str
    funding_source: str
    release_date: Day
    revision_date: Day
    use_of_race: str
    use_of_ethnicity: str
    use_of_language: str
    use_of_sexual_orientation: str
    use_of_gender_identity: str
    use_of_sex: str
    use_of_date_of_birth: str
    use_of_social_determinants: str
    use_of_health_status_assessments: str


class Companion(Strict):
    """Another rule set whose standing stands beside the answer of this one on the days it applies.

    Attributes
    ----------
    id
        The rule set, of the same library.
    when
        ``always``; ``near_procedure``, where a procedure is planned for today or within the days of ``within``;
        ``discography_recorded`` and ``imaging_report``, where the record holds one.
    within
        Most days ahead at which a planned procedure is near.
    stops_on
        Standings of the companion at which the whole answer says stop; an emergency always does.
    says
        What the companion answers, in words.
    """

    id: Identifier
    when: Literal["always", "near_procedure", "discography_recorded", "imaging_report"]
    within: Parameter | None = None
    stops_on: Rows[Standing] = ("urgent",)
    says: str

    @model_validator(mode="after")
    def _coherent(self) -> "Companion":
        if (self.when == "near_procedure") != (self.within is not None):
            raise ValueError("within belongs to near_procedure, and to no other")
        days = self.within.value if self.within is not None else 0
        if isinstance(days, bool) or not isinstance(days, int) or days < 0:
            raise ValueError("within is a whole number of days")
        if self.within is not None and self.within.unit != "day":
            raise ValueError("within is written in the unit day")
        if "urgent" not in self.stops_on:
            raise ValueError("an emergency under a companion always stops")
        return self


class RuleSetFile(Strict):
    """A rule set, whole: which criteria, with which parameters, decided how, for whom.

    One that ``extends`` another is written as an `ExtendedRuleSetFile` and filled from the other. ``reason`` says why
    it departs from that one. ``companions`` that are not written are those of the extended rule set; an empty list
    means none.
    """

    id: Identifier
    version: Version
    title: str
    status: Literal["draft", "in_use", "retired"]
    scope: str
    intended_users: str
    population: str
    out_of_scope: Rows[str]
    authoring_basis: str
    known_limits: Rows[str]
    not_tested_on: str
    review_by: Day
    source_attributes: SourceAttributes
    extends: Identifier | None = None
    reason: str = ""
    leaves_out: Rows[LeftOut] = ()
    criteria: Rows[Selection] = ()
    settings: dict[str, ParameterChange] = Field(default_factory=dict)
    decisions: Identifier
    companions: Rows[Companion] | None = None
    cautions: Rows[str] = ()
    changes: Annotated[Rows[Change], Field(min_length=1)]
    replaces: Replaces | None = None


class ExtendedRuleSetFile(Strict):
    """A rule set as written that extends another: what it does not say is taken from that one.

    Only ``id``, ``version``, ``extends``, ``reason`` (why it departs) and ``changes`` must be there. A title that is not
    written says that it extends, a status that is not written is ``draft``, and who wrote what is told of both.
    """

    id: Identifier
    version: Version
    extends: Identifier
    reason: Annotated[str, Field(min_length=1)]
    changes: Annotated[Rows[Change], Field(min_length=1)]
    title: str | None = None
    status: Literal["draft", "in_use", "retired"] = "draft"
    scope: str | None = None
    intended_users: str | None = None
    population: str | None = None
    out_of_scope: Rows[str] | None = None
    authoring_basis: str | None = None
    known_limits: Rows[str] | None = None
    not_tested_on: str | None = None
    review_by: Day | None = None
    source_attributes: SourceAttributes | None = None
    leaves_out: Rows[LeftOut] = ()
    criteria: Rows[Selection] = ()
    settings: dict[str, ParameterChange] = Field(default_factory=dict)
    decisions: Identifier | None = None
    companions: Rows[Companion] | None = None
    cautions: Rows[str] | None = None
    replaces: Replaces | None = None

    def filled(self, parent: RuleSetFile) -> RuleSetFile:
        """The whole rule set, with what is not written taken from the one it extends."""
        of_parent = f"{parent.id} {parent.version}"
        own = {name: getattr(self, name) for name in self.model_fields_set}
        attributes = parent.source_attributes.model_copy(
            update={
                "developer": f"{parent.source_attributes.developer} ({of_parent}); not told who extended it",
                "release_date": self.changes[0].date,
                "revision_date": self.changes[-1].date,
            }
        )
        inherited = {
            "title": f"{parent.title}, extended as {self.id}",
            "authoring_basis": f"Extends {of_parent}: {self.reason} That one: {parent.authoring_basis}",
            "source_attributes": attributes,
            "status": self.status,
            **{name: getattr(parent, name) for name in _TAKEN_OVER},
        }
        return RuleSetFile.model_construct(**{**inherited, **{n: v for n, v in own.items() if v is not None}})


# What an extended rule set says of itself that holds for the one that extends it, unless that one says otherwise.
_TAKEN_OVER = (
    "scope",
    "intended_users",
    "population",
    "out_of_scope",
    "known_limits",
    "not_tested_on",
    "review_by",
    "decisions",
    "cautions",
)

Parameter.model_rebuild()
