"""A case with some further facts supposed, and what is said of it."""

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from candidacy.foundation.values import Value
from candidacy.rules.vocabulary import Outcome, Standing


class Reply(NamedTuple):
    """One fact supposed to be known. Of a list (``element`` is its name) it says that the list is complete; then no value."""

    element: str
    subject: str
    value: Value | None


Replies = tuple[Reply, ...]
# Grounds of the record, as (subject, force, outcome).
Grounds = frozenset[tuple[str, str, str]]
NOTHING: Replies = ()


class Situation:
    """A case with some further facts supposed.

    Attributes
    ----------
    replies
        What is supposed.
    standing
        The standing with everything else left unknown.
    possible
        Every standing it may still come to as further facts become known, the present one among them.
    contradicts
        Whether what is supposed cannot be true together with the rest of the record.
    changed
        Outcomes that are no longer those of the record, for deciding criteria by id and subject.
    """

    __slots__ = (
        "aside", "changed", "contradicts", "counts", "discs", "levels", "possible", "record", "replies", "standing",
        "told",
    )  # fmt: skip

    def __init__(self, levels: tuple[str, ...], aside: frozenset[str]) -> None:
        self.replies: Replies = ()
        self.told: frozenset[tuple[str, str]] = frozenset()
        self.levels, self.aside = levels, aside
        self.counts: dict[str, Counter[tuple[str, str]]] = {}
        self.changed: dict[tuple[str, str], Outcome] = {}
        self.record: Grounds = frozenset()
        self.discs: dict[str, tuple[Standing, frozenset[Standing]]] = {}
        self.contradicts = False
        self.standing: Standing = "incomplete"
        self.possible: frozenset[Standing] = frozenset()

    def copied(self) -> "Situation":
        """The same, to be changed."""
        made = Situation(self.levels, self.aside)
        made.told = self.told
        made.replies, made.record, made.contradicts = self.replies, self.record, self.contradicts
        made.counts, made.changed, made.discs = dict(self.counts), dict(self.changed), dict(self.discs)
        return made

    @property
    def settled(self) -> bool:
        """Whether no further fact can change the standing."""
        return len(self.possible) == 1

    @property
    def decided(self) -> bool:
        """Whether no further fact can change the standing but a sign of an emergency."""
        return self.standing != "incomplete" and self.possible <= {self.standing, "urgent"}


def place(reply: Reply) -> tuple[str, str]:
    """The element and the subject of what is supposed."""
    return reply.element, reply.subject


def in_order(replies: Iterable[Reply]) -> Replies:
    """What is supposed, the same for every order in which it was."""
    return tuple(sorted(replies, key=place))


def of_disc(reply: Reply) -> bool:
    """Whether a fact of a disc is supposed."""
    return reply.subject != "patient" and "[" not in reply.subject
