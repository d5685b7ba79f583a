"""The shape of relations: what the details of a record say about a summary fact of the same record.

A relation belongs to one summary element ("any antithrombotic"). Each of its implications has a condition over
the details (lists, numbers, signs) and the values that the summary may have wherever that condition is met.
Where only details are recorded the summary is worked out from them; where both are recorded and cannot both be true
the summary is unknown with reason "sources conflict". Shape only; `candidacy.assessment.relate` gives the meaning.
"""

from functools import cached_property
from typing import Annotated, Any

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Replaces, Rows, Strict, Text
from candidacy.foundation.json_shape import absent, both, filled, is_one_of, one_of, present
from candidacy.rules.cited import Parameter
from candidacy.rules.conditions import Condition, ParameterRef, Scalar
from candidacy.rules.tree import Node, elements_of, leaning, lower
from candidacy.rules.vocabulary import Identifier, Version


class Limits(Strict):
    """Numbers or lengths that a numeric summary may have where an implication holds; both ends belong to it."""

    low: int | float | None = None
    """Smallest, in the unit of the summary; without it there is no lower limit."""
    high: int | float | None = None
    """Largest, in the unit of the summary; without it there is no upper limit."""


class Implication(Strict):
    """What one state of the details says about the summary: values, or limits of a number."""

    model_config = ConfigDict(
        json_schema_extra=one_of(
            both(present("value"), absent("limits")), both(present("limits"), absent("value"))
        )
    )

    says: Text
    """The details in words, as a reader sees them beside the summary ("an anticoagulant is in the list of medicines")."""
    when: Condition
    """Condition over the details. It counts only where it is certainly met."""
    value: Scalar | Rows[Scalar] | None = None
    """Codes (or true, or false) that the summary may then have; of a list of codes, all that it may then hold."""
    limits: Limits | None = None
    """For a number instead of `value`."""
    infer: bool = True
    """Whether the summary may be worked out from it where nothing is stated. A number never is."""
    present_for: ParameterRef | None = None
    """Days for which a dated detail speaks about the present: an older one implies nothing, an undated one is
    taken as present."""
    perhaps: bool = False
    """Whether a summary that says otherwise is also contradicted where the condition stays open only because a date, a
    number or a grade is imprecise. Nothing is worked out from that."""

    @model_validator(mode="after")
    def _one_kind(self) -> "Implication":
        if (self.value is None) == (self.limits is None):
            raise ValueError("an implication has either value or limits")
        return self

    @property
    def codes(self) -> frozenset[Any]:
        """The codes that the summary may have."""
        return frozenset(self.value if isinstance(self.value, tuple) else (self.value,))


class Relation(Strict):
    """How the details of a record bear on one summary element."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [filled("implied"), is_one_of("acts", True)]})

    element: Identifier
    """The summary element."""
    because: Text
    """Why the details bear on it."""
    acts: bool = False
    """The sign of danger outranks a denial: where they conflict, the value that the details imply stands, and the conflict
    is shown beside it. Only for signs that must be acted on at once. It holds for the signs that the element covers
    as well, and may be all that a relation says of them."""
    implied: Rows[Implication] = ()
    """What the details say about it."""
    parameters: dict[str, Parameter] = Field(default_factory=dict)
    """Numbers that the conditions use, by name."""
    replaces: Replaces | None = None
    """What it takes the place of: only for a relation of one's own whose element has a shipped one."""

    @model_validator(mode="after")
    def _says_something(self) -> "Relation":
        if not self.implied and not self.acts:
            raise ValueError("a relation implies something, or lets the signs that its element covers act")
        return self

    @cached_property
    def conditions(self) -> tuple[Node, ...]:
        """The tree of the condition of each implication."""
        return tuple(
            lower(each.when, self.parameters, place=("implied", number, "when"))
            for number, each in enumerate(self.implied)
        )

    @cached_property
    def told(self) -> tuple[tuple[Implication, Node], ...]:
        """Each implication with its tree, and behind them what those say that an imprecise date or number leaves open."""
        certain = tuple(zip(self.implied, self.conditions, strict=True))
        return certain + tuple(
            (each.model_copy(update={"says": f"perhaps {each.says}", "infer": False}), leaning(when))
            for each, when in certain
            if each.perhaps
        )

    @cached_property
    def details(self) -> frozenset[str]:
        """Elements that its conditions read."""
        return frozenset(elements_of(*self.conditions))


class Unrelated(Strict):
    """Elements that nothing else in a record bears on, and why."""

    elements: Annotated[Rows[Identifier], Field(min_length=1)]
    """The elements; at least one."""
    because: Text
    """Why nothing bears on them."""


class RelationFile(Strict):
    """Relations of one topic."""

    id: Identifier
    """Id of the topic: the name of its file without ``.yaml``."""
    version: Version
    """Version, as three numbers."""
    title: Text
    """Name of the topic."""
    relations: Rows[Relation] = ()
    """Relations of the topic."""
    unrelated: Rows[Unrelated] = ()
    """Elements of the topic that nothing bears on."""
