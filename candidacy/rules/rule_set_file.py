"""The shape of a rule set as written in YAML: its criteria, departures, settings, companions and what it tells of itself."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.json_shape import absent, is_one_of, present, where
from candidacy.rules.cited import Change, Citation, Parameter
from candidacy.rules.conditions import Scalar
from candidacy.rules.vocabulary import Day, Force, Identifier, Standing, Version


class ParameterChange(Strict):
    """A rule set's departure from the default of a parameter or setting."""

    value: Scalar | Rows[Scalar]
    """The value in use, of the same kind as the default and within what the parameter allows."""
    unit: str | None = None
    """The unit of the parameter, written again so that nobody mistakes the number."""
    reason: Text
    """Why this rule set departs from the default; shown beside the value."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """Where the value comes from; a decision of the practice is cited with the tag ``local``."""


class ForceChange(Strict):
    """A rule set's departure from the default force."""

    value: Force
    """The force in use."""
    reason: Text
    """Why this rule set departs from the default."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """What supports it; at least one."""


class Selection(Strict):
    """A criterion as a rule set uses it."""

    id: Identifier
    """Id of the criterion."""
    parameters: dict[str, ParameterChange] = Field(default_factory=dict)
    """Departures from the defaults of its parameters, by name."""
    force: ForceChange | None = None
    """Departure from its default force."""


class LeftOut(Strict):
    """A criterion of the extended rule set that is not taken over, and why."""

    id: Identifier
    """Id of the criterion."""
    reason: Text
    """Why it is left out."""


class SourceAttributes(Strict):
    """What evidence-based decision support tells about itself (45 CFR 170.315(b)(11)(iv)(A))."""

    bibliographic_citation: str
    """Where the evidence behind the rule set is cited."""
    developer: str
    """Who developed it."""
    funding_source: str
    """Who paid for its development."""
    release_date: Day
    """Day of first release, YYYY-MM-DD."""
    revision_date: Day
    """Day of the last revision, YYYY-MM-DD."""
    use_of_race: str
    """Whether and how it uses race."""
    use_of_ethnicity: str
    """Whether and how it uses ethnicity."""
    use_of_language: str
    """Whether and how it uses language."""
    use_of_sexual_orientation: str
    """Whether and how it uses sexual orientation."""
    use_of_gender_identity: str
    """Whether and how it uses gender identity."""
    use_of_sex: str
    """Whether and how it uses sex."""
    use_of_date_of_birth: str
    """Whether and how it uses the date of birth."""
    use_of_social_determinants: str
    """Whether and how it uses social determinants of health."""
    use_of_health_status_assessments: str
    """Whether and how it uses assessments of health status."""


class Companion(Strict):
    """Another rule set whose standing stands beside the answer of this one on the days it applies."""

    model_config = ConfigDict(
        json_schema_extra={
            **where(is_one_of("when", "near_procedure"), present("within"), absent("within")),
            "allOf": [
                {"properties": {"stops_on": {"contains": {"const": "urgent"}}}},
                {
                    "properties": {
                        "within": {
                            "required": ["unit"],
                            "properties": {
                                "value": {"type": "integer", "minimum": 0},
                                "unit": {"const": "day"},
                            },
                        }
                    }
                },
            ],
        }
    )

    id: Identifier
    """The rule set, of the same library."""
    when: Literal["always", "near_procedure", "discography_recorded", "imaging_report"]
    """``always``; ``near_procedure``, where a procedure is planned for today or within the days of ``within``;
    ``discography_recorded`` and ``imaging_report``, where the record holds one."""
    within: Parameter | None = None
    """Most days ahead at which a planned procedure is near, a whole number in the unit day; for ``near_procedure``."""
    stops_on: Rows[Standing] = ("urgent",)
    """Standings of the companion at which the whole answer says stop; ``urgent`` is always among them."""
    says: Text
    """What the companion answers, in words."""

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

    One that ``extends`` another is written as an `ExtendedRuleSetFile` and filled from the other.
    """

    id: Identifier
    """Id of the rule set: the name of its folder."""
    version: Version
    """Version, as three numbers; the last of ``changes``."""
    title: Text
    """Name as lists and answers show it."""
    status: Literal["draft", "in_use", "retired"]
    """``in_use`` needs every criterion compared with its sources."""
    scope: Text
    """The question it answers."""
    intended_users: Text
    """Who may use it."""
    population: Text
    """Patients it is meant for."""
    out_of_scope: Rows[str]
    """Patients and questions it is not meant for."""
    authoring_basis: Text
    """On what it rests and how it was written."""
    known_limits: Rows[str]
    """What it is known not to do well."""
    not_tested_on: Text
    """Patients it was not tested on."""
    review_by: Day
    """Day by which it must be reviewed, YYYY-MM-DD."""
    source_attributes: SourceAttributes
    """What it tells about itself as evidence-based decision support."""
    extends: Identifier | None = None
    """The rule set it starts from; what is not written is taken from that one."""
    reason: str = ""
    """Why it departs from the rule set it extends; needed where it extends one."""
    leaves_out: Rows[LeftOut] = ()
    """Criteria of the extended rule set that are not taken over."""
    criteria: Rows[Selection] = ()
    """Criteria it selects, and departures from those it takes over."""
    settings: dict[str, ParameterChange] = Field(default_factory=dict)
    """Departures from the defaults of settings, by name."""
    decisions: Identifier
    """The order of decision rules."""
    companions: Rows[Companion] | None = None
    """Rule sets that stand beside it; if not written, those of the extended rule set; an empty list means none."""
    cautions: Rows[str] = ()
    """What every answer under it must say."""
    changes: Annotated[Rows[Change], Field(min_length=1)]
    """History, the latest last."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a rule set of one's own that bears a shipped id."""


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
