"""What a segment comes to: values of the patient, an entry of a list, or the reason why nothing of it is used."""

from typing import Any, NamedTuple

from candidacy.reading.letters.parts import Part

Said = tuple[str, str, dict[str, Any], str]
"""List ("" for the patient), element, form, note."""


class Told(NamedTuple):
    """What a segment says: values, entries of lists, or the reason why nothing of it is used."""

    said: tuple[Said, ...] = ()
    entry: tuple[str, dict[str, dict[str, Any]]] | None = None
    why: str = ""
    ask: str = ""
    missed: tuple[Part, ...] = ()
    begin: int = -1
    """Where the words begin that it rests on, if before the segment: those that deny or state it."""


class Where(NamedTuple):
    """The heading a segment stands under, and the letter's day (empty if not known)."""

    section: str
    day: str
    verb: str = ""
    """The verb of a list that goes on: ``taking``, ``done``, ``failed``, ``allergic``."""
    place: str = ""
    """The pain that the score before is of: ``back_pain`` or ``leg_pain``."""
    pain: str = ""
    """The pain that the letter means where it says no more than "the pain", if it tells of one only."""
    measured: str = ""
    """The day that a label gives for what is measured: ``Labs 04/12/2026: INR 1.1``."""
    in_back: bool = False
    """Whether words of no weight place what is told in the back: ``5/10 in the back``."""


def row_says(says: dict[str, Any], note: str = "") -> tuple[Said, ...]:
    """The values of a row of the data file."""
    return tuple(("", e, v if isinstance(v, dict) else {"value": v}, note) for e, v in says.items())
