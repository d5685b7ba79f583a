"""The shape of decision rules as written in YAML: from outcomes to a standing, and what standings are called."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.json_shape import absent, both, is_one_of, one_of, present, where
from candidacy.rules.cited import Citation
from candidacy.rules.vocabulary import (
    STANDING_ORDER,
    STANDINGS,
    Force,
    Identifier,
    Outcome,
    Standing,
    Version,
)


class DecisionPattern(Strict):
    """Outcomes that make a decision rule fire; or any disc of a standing, for the case."""

    model_config = ConfigDict(
        json_schema_extra={
            **one_of(
                both(present("force", "outcome"), absent("any_disc")),
                both(present("any_disc"), absent("force", "outcome")),
            ),
            **where(
                is_one_of("force", "record"),
                is_one_of("outcome", "conflict", "unread_danger"),
                {"not": is_one_of("outcome", "conflict", "unread_danger")},
            ),
        }
    )

    force: Force | Literal["record"] | None = None
    """Force of the criteria it speaks of; ``record`` speaks of the record itself."""
    outcome: Outcome | Literal["conflict", "unread_danger"] | None = None
    """Outcome of a criterion. Of the record: ``conflict``, two of its facts cannot both be true, or one is
    doubtful; ``unread_danger``, a fact of danger is recorded that no deciding criterion of the rule set reads."""
    any_disc: Standing | None = None
    """Instead of force and outcome: a considered disc has this standing."""

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
    """

    helps: Annotated[str, Field(pattern=r"\{discs\}")]
    """Where considering such a disc would give a better standing; names ``{discs}``."""
    does_not_help: Annotated[str, Field(pattern=r"\{discs\}")]
    """Where the standing would stay, because something else than the disc decides it; names ``{discs}``."""


class DecisionRule(Strict):
    """One rule from outcomes to a standing. The first rule in order that fires decides."""

    id: Identifier
    """Id within its order."""
    standing: Standing
    """The standing it gives."""
    when: Rows[DecisionPattern] = ()
    """Patterns of which one is enough; a rule without it decides if no other does, and comes last."""
    means: Text
    """What the standing means here, for the reader of an answer."""
    next_step: Text
    """What comes next."""
    other_disc: OtherDiscSteps | None = None
    """Replaces ``next_step`` where a disc that is not considered passes every disc criterion."""
    cites: Annotated[Rows[Citation], Field(min_length=1)]
    """What supports this rule; at least one."""


class NotYet(Strict):
    """How a case is named, and what comes next, where everything that keeps it from passing can be mended."""

    name: Text
    """What the case is called."""
    next_step: Text
    """What comes next."""


class DecisionOrder(Strict):
    """An ordered list of decision rules."""

    id: Identifier
    """Id of the order: the name of its file without ``.yaml``."""
    version: Version
    """Version, as three numbers."""
    title: Text
    """Name of the order."""
    why: Text
    """Why outcomes are weighed in this order."""
    names: dict[Standing, str] = Field(default_factory=dict)
    """What each standing is called by rule sets of this purpose; one that is not named bears its general name."""
    not_yet: NotYet | None = None
    """Name and next step where everything that fails can be mended."""
    rules: Annotated[Rows[DecisionRule], Field(min_length=1)]
    """The rules in order; the first that fires decides, and the last has no ``when``."""
    replaces: Replaces | None = None
    """What it takes the place of: only for an order of one's own that bears a shipped id."""

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
            standing: self.name_of(standing) for standing in STANDING_ORDER if standing in given
        }
        if self.not_yet is not None:
            later = f", or {self.not_yet.name[:1].lower()}{self.not_yet.name[1:]}"
            names |= {code: names[code] + later for code in ("not_candidate", "borderline") if code in names}
        return names
