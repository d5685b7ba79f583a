"""A further type beside a Modic type that no finding holds: ``Modic type 2 with a type 1 component``. Which of them leads is not asserted."""

from collections.abc import Sequence

from candidacy.reading.mention import Mention, Parts
from candidacy.reading.model import HISTORICAL, PRESENT, RESOLVED

_TYPES = frozenset(("1", "2", "3", "i", "ii", "iii"))


def another_type(m: Mention, mentions: Sequence[Mention], parts: Parts) -> bool:
    """Say whether a type stands beside that of a finding, in its statement and of no thing of its own.

    ``Modic type 2, type 1 no longer seen``: which of them has gone the words say, but no finding holds the other.
    """
    if m.kind != "endplate_change" or m.status not in (PRESENT, RESOLVED, HISTORICAL):
        return False
    words = parts.words
    held = {i for k in mentions for i in range(k.start, k.end)}
    things = [x for rows in (parts.heads, parts.objs) for x in rows]
    return any(
        words[i] == "type"
        and words[i + 1] in _TYPES
        and i not in held
        and not any(
            (x.start == i + 2 and x.entry.id != "o_endplate") or x.end == i
            for x in things
            if x.start not in range(m.start, m.end)
        )
        for i in range(len(words) - 1)
    )
