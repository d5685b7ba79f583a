"""A round of rating as it may be shown: nothing of others until all have rated, then figures without names."""

from collections import Counter
from typing import get_args

from msgspec import Struct

from candidacy.conference.appropriateness import Tally, tally
from candidacy.records.conference import Item, Ratings
from candidacy.records.entries import Vote
from candidacy.records.store import Store

VOTES: tuple[Vote, ...] = get_args(Vote)


class Seen(Struct, frozen=True):
    """What one question came to, of one disc or (empty) of the case: a tally, or how many voted for, against, defer."""

    disc: str
    tally: Tally | None
    votes: dict[Vote, int]


class Round(Struct, frozen=True):
    """One round.

    Attributes
    ----------
    number
        1 or 2.
    open
        Whether somebody has still to rate; then nothing is shown but one's own.
    awaited
        Who has still to rate.
    quorate
        Whether as many take part as the meeting asks for.
    own
        One's own ratings by disc.
    seen
        What all gave, once all have rated.
    changed
        Whether the record or its answer became another after the first rating.
    """

    number: int
    open: bool
    awaited: tuple[str, ...]
    quorate: bool
    own: dict[str, int | Vote]
    seen: tuple[Seen, ...]
    changed: bool = False


def rounds_of(store: Store, item: Item) -> tuple[Round, ...]:
    """The rounds of an item so far; none while it waits in the queue. Each is entered as read."""
    if not item.meeting:
        return ()
    return tuple(
        round_of(store.ratings(item.seq, number), store.person) for number in range(1, item.round + 1)
    )


def round_of(found: Ratings, person: str) -> Round:
    """One round as one person may see it."""
    own = {disc: value for (who, disc), value in found.values.items() if who == person}
    seen: tuple[Seen, ...] = ()
    if found.complete:
        discs = sorted({disc for _, disc in found.values})
        seen = tuple(_seen(disc, [v for (_, of), v in found.values.items() if of == disc]) for disc in discs)
    return Round(found.round, not found.complete, found.awaited, found.quorate, own, seen, found.changed)


def _seen(disc: str, values: list[int | Vote]) -> Seen:
    numbers = [value for value in values if isinstance(value, int)]
    counted = Counter(value for value in values if not isinstance(value, int))
    return Seen(
        disc, tally(numbers) if numbers else None, {vote: counted[vote] for vote in VOTES} if counted else {}
    )
