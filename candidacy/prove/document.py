"""What was proved, as a document: for the terminal, the screens and other programs."""

from typing import Any, Literal

from candidacy.explain.flat import Part

Verdict = Literal["equal", "first_stricter", "second_stricter", "incomparable", "not_decided"]


class RuleSetOf(Part):
    """The rule set that is spoken of."""

    id: str
    version: str
    title: str
    digest: str


class NeverInfo(Part):
    """A criterion that can never apply, or never pass or never fail where it does: a fault."""

    criterion: str
    title: str
    never: Literal["pass", "fail", "apply"]


class DeadRuleInfo(Part):
    """A decision rule that can never decide, neither a case nor a disc: a fault."""

    rule: str
    standing: str


class ImpliedInfo(Part):
    """A criterion that fails only where another fails, of which the force decides as much or more; ``both_ways``: and the reverse."""

    criterion: str
    title: str
    force: str
    by: str
    by_title: str
    by_force: str
    both_ways: bool


class InfluenceInfo(Part):
    """A parameter of which no allowed value gives any record another outcome."""

    criterion: str
    parameter: str
    meaning: str
    value: str
    tried: list[str]


class MoveInfo(Part):
    """Records that have one standing under the first rule set and another under the second.

    ``shown`` is false where neither a proof nor a record settles whether there are any. ``witness`` is the smallest record found,
    as a case file; ``file`` where it was written.
    """

    first: str
    second: str
    shown: bool
    facts: int | None
    witness: dict[str, Any] | None
    file: str | None


class CriterionMoveInfo(Part):
    """A criterion of both rule sets with two outcomes for one record, and the smallest record found; as `MoveInfo`."""

    criterion: str
    first: str
    second: str
    shown: bool
    facts: int | None
    witness: dict[str, Any] | None
    file: str | None


class ComparisonInfo(Part):
    """How another rule set stands to the one that was proved.

    ``criteria`` are those of both that can come to other outcomes, whether or not a standing moves by it; ``unasked`` those with
    other conditions of which that was not asked, because the two rule sets work facts out differently.
    """

    other: RuleSetOf
    verdict: Verdict
    moves: list[MoveInfo]
    criteria: list[CriterionMoveInfo]
    unasked: list[str]


class RangeInfo(Part):
    """From where to where a parameter may go with no outcome of one case changing; without an end, to the end of its range."""

    criterion: str
    parameter: str
    value: float
    unit: str | None
    low: float | None
    high: float | None
    low_included: bool
    high_included: bool
    changes_below: str | None
    changes_above: str | None


class ProofInfo(Part):
    """Everything that was asked about one rule set.

    Attributes
    ----------
    as_of
        The day for which ages and times were counted.
    over
        What the proofs range over, and what they leave out.
    questions, shown, undecided
        How many questions were asked, how many records showed their answer, and what neither settles, in words.
    idle_rules
        Decision rules that speak only of forces that no criterion has; their order serves other rule sets too.
    faults
        Whether anything was found that keeps the rule set from being in use.
    """

    rule_set: RuleSetOf
    as_of: str
    over: list[str]
    questions: int
    shown: int
    faults: bool
    never: list[NeverInfo]
    dead_rules: list[DeadRuleInfo]
    idle_rules: list[str]
    implied: list[ImpliedInfo]
    without_influence: list[InfluenceInfo]
    undecided: list[str]
    comparison: ComparisonInfo | None = None
    case: str | None = None
    case_as_of: str | None = None
    ranges: list[RangeInfo] | None = None


class Proofs(Part):
    """What ``candidacy rules prove --format json`` prints."""

    schema_version: Literal["1"]
    solver: str
    proofs: list[ProofInfo]

    def to_json(self) -> str:
        """The proofs as JSON text."""
        return self.model_dump_json(indent=2) + "\n"
