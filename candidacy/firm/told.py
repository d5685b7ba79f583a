"""What is told of how firm an assessment is."""

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, field

from candidacy.case.facts import Fact
from candidacy.firm.points import Estimate
from candidacy.firm.published import Unusable
from candidacy.firm.sources import Source

# Why nothing is worked out: a safety criterion, or one decides; facts are wanting; the record contradicts itself or shows an
# unread sign of danger; nothing with a published figure bears on it.
Why = Literal["safety", "facts", "record", "no_figure"]


class Firm(Struct, frozen=True):
    """How firm one outcome or standing is.

    Attributes
    ----------
    subject, criterion
        Whose it is; ``criterion`` is empty for a standing.
    now
        The outcome or standing as it is.
    stands
        Probability that it is the same after a repeat, with its standard error (0 where exact); nothing where ``why`` says
        why not.
    least, most
        The same with the largest and with the smallest published figure of every value that bears on it.
    becomes
        What else it would be, each with its probability.
    sources
        The recorded values that bear on it.
    """

    subject: str
    criterion: str
    now: str
    stands: Estimate | None
    least: Estimate | None = None
    most: Estimate | None = None
    becomes: Mapping[str, float] = field(default_factory=dict)
    sources: tuple[Source, ...] = ()
    why: Why | None = None

    @property
    def crosses(self) -> float | None:
        """Probability that a repeat changes it."""
        return None if self.stands is None else 1.0 - self.stands.value

    @property
    def exact(self) -> bool:
        return self.stands is not None and self.stands.error == 0


class Firmness(Struct, frozen=True):
    """How firm everything in one assessment is.

    Attributes
    ----------
    case
        The standing of the case.
    discs, criteria
        The standing of each disc, and each outcome that is told, in the order of the assessment.
    unpublished
        Known numbers and grades that a criterion reads and for which no published figure was found, by element.
    unusable
        Elements of which it is published how readers agree, but not how common each grade is; with the row.
    imprecise
        Values with a published figure that are recorded as a range.
    """

    case: Firm
    discs: tuple[Firm, ...]
    criteria: tuple[Firm, ...]
    unpublished: tuple[Fact, ...] = ()
    unusable: tuple[tuple[Fact, Unusable], ...] = ()
    imprecise: tuple[Fact, ...] = ()

    def of(self, criterion: str, subject: str) -> Firm | None:
        """What is told of one criterion for one subject."""
        return next((f for f in self.criteria if (f.criterion, f.subject) == (criterion, subject)), None)
