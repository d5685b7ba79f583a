"""Facts of a case: typed values in one unit, each with its provenance or the reason why it is not known."""

from dataclasses import dataclass, field
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from candidacy.case.element import LEVELS
from candidacy.case.record import entry_numbers
from candidacy.foundation.values import Span, Value, Why

SOURCES_CONFLICT = "sources conflict"
"""A note that begins so marks a value that is only the range between statements that differ; the note quotes them."""


class Provenance(Struct, frozen=True, gc=False):
    """Where a value came from. ``day`` is the day it was true, as a span of day ordinals."""

    document: str = ""
    kind: str = ""
    day: Span | None = None
    day_words: str = ""
    words: str = ""
    recorded_by: str = ""
    as_written: str = ""
    note: str = ""

    @property
    def disputed(self) -> bool:
        """Whether its source states other values too, so that only a range is known."""
        return self.note.startswith(SOURCES_CONFLICT)


class Fact(Struct, frozen=True, gc=False):
    """One element of one subject: a value, or the reason why there is none, and its provenance.

    A derived fact lists the facts it was worked out from and the settings that were read for it. A stated fact that a
    summary or a sign also tells names that other fact; the fresher of the two decides how old it is. Where a fact's
    tellings conflict it has no value, and lists them all; a sign of danger that stands in spite of a denial names the denial as
    ``disputed``.
    """

    element: str
    subject: str
    value: Value | None
    why: Why | None = None
    provenance: Provenance = Provenance()
    derived_from: tuple["Fact", ...] = ()
    note: str = ""
    told_again: "Fact | None" = None
    settings: tuple[str, ...] = ()
    disputed: tuple["Fact", ...] = ()

    def again(self, told: "Fact | None") -> "Fact":
        """The same fact, told again by another, or by no other."""
        return replace(self, told_again=told)


@dataclass(slots=True)
class FactList:
    """Entries of one list of the record, each with its number; ``complete`` is true only where the record says so.

    ``day`` is when it was complete: of one without entries nothing else tells it.
    """

    complete: bool
    entries: list[dict[str, Fact]] = field(default_factory=list)
    taken_out: tuple[int, ...] = ()
    day: Span | None = None

    @property
    def numbers(self) -> tuple[int, ...]:
        """The number of each entry, in their order."""
        return entry_numbers(len(self.entries), self.taken_out)


class Remark(NamedTuple):
    """Free text of a record that no rule reads, and where it stands."""

    where: str
    text: str


@dataclass(slots=True)
class CaseFacts:
    """All stated facts of a case, by subject: the patient, each disc, each list entry."""

    id: str
    patient: dict[str, Fact] = field(default_factory=dict)
    discs: dict[str, dict[str, Fact]] = field(default_factory=dict)
    lists: dict[str, FactList] = field(default_factory=dict)
    questioned: list[str] = field(default_factory=list)
    remarks: tuple[Remark, ...] = ()
    by_itself: dict[int, tuple[Fact, str, bool]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    """What `doubtful.by_itself` found, by the identity of the fact; the fact lies beside it, so no other can take its place."""

    def stated(self) -> list[Fact]:
        """Every stated fact, in a fixed order."""
        found = list(self.patient.values())
        for table in self.discs.values():
            found += table.values()
        for group in self.lists.values():
            for table in group.entries:
                found += table.values()
        return found


def normal_level(text: str) -> str | None:
    """Our spelling of a disc level ("L4/5", "L4-5" and "L4/L5" are "L4-L5"); ``None`` if it is none."""
    parts = text.strip().upper().replace("/", "-").replace("–", "-").split("-")
    if len(parts) != 2 or not parts[0] or not parts[1]:
        return None
    upper, lower = (part.strip() for part in parts)
    if lower.isdigit():
        lower = upper[0] + lower
    name = f"{upper}-{lower}"
    return name if name in LEVELS else None
