"""How a fact stands in columns: one column where it is always exact, more where it may be imprecise.

A number or date is its low end, with its high end and open ends where they occur (dates are day ordinals).
A coded value is its code, or a bit mask of the codes it may be. A list of codes is two masks: certain and
possible members, all bits set where the list may go on. NULL is always "no value".
"""

from dataclasses import dataclass, field
from typing import Any

from msgspec import Struct

from candidacy.assessment.reconcile import REPORTS
from candidacy.case.element import Element
from candidacy.case.facts import Fact, Provenance
from candidacy.foundation.values import FALSE, TRUE, Members, Options, Span, Value, Why, Words, point
from candidacy.rules.tree import Age

OPEN_LIST = -1
_BOOLEANS = (True, False)


class Numbers(Struct, frozen=True):
    """A number or date. Without ``high`` it is always exact.

    ``tidied`` is false where the expression still lacks the rounding to twelve significant digits.
    """

    low: str
    high: str = ""
    low_open: str = ""
    high_open: str = ""
    tidied: bool = True

    @property
    def exact(self) -> bool:
        return not self.high


class Code(Struct, frozen=True):
    """A code in full, always exact."""

    code: str


class Mask(Struct, frozen=True):
    """The codes that are possible, as bits in the order of the element; true and false are bits 0 and 1."""

    mask: str


class Flag(Struct, frozen=True):
    """A yes-or-no value as its truth; ``known`` says where there is a value at all."""

    truth: str
    known: str


class CodeList(Struct, frozen=True):
    """A list of codes."""

    certain: str
    possible: str


class Text(Struct, frozen=True):
    """Free text; shown, never compared."""

    text: str


class Falling(Struct, frozen=True):
    """A whole number that only falls as an exact date rises, such as an age: compared through the date.

    ``value_on`` gives the value for a day, or ``None``; ``first`` and ``last`` bound the days on which there
    is a value; ``number`` is SQL of it on those.
    """

    day: str
    first: int
    last: int
    value_on: Any
    number: str


Cells = Numbers | Code | Mask | Flag | CodeList | Text | Falling


class Wanted(Struct, frozen=True):
    """A stated fact that is missing where a condition (two-valued SQL) holds."""

    element: str
    subject: str
    where: str


@dataclass(frozen=True)
class FactColumn:
    """An element of a subject in columns.

    Attributes
    ----------
    day
        Ordinal of the earliest day on which the fact may have been true, or empty where never stated.
    last_day
        Ordinal of the latest such day; empty where it is always the same one.
    why
        Reason for there being no value, or empty where it is always "not recorded".
    apart
        Two-valued SQL that the date of a study and that of its report are too far apart, or empty where they never are.
    grave
        Two-valued SQL that the words of its source tell another value, in a way that counts whatever is read; empty where
        there are no words.
    checked
        Two-valued SQL that somebody compared the value with its source; empty where nobody can have said so.
    later
        Two-valued SQL that the day of something past lies after the document that tells it, where that is known already; empty
        where it follows from both days.
    fresh
        For a derived fact: two-valued SQL that it is recent enough, by (amount, unit, dated_by).
    doubtful
        Two-valued SQL that the value is to be checked at its source, where that is known already; empty where it follows
        from the value.
    inputs
        For a derived fact: the stated facts it waits for while it has no value, and while it is imprecise.
    """

    element: Element
    subject: str
    cells: Cells
    day: str = ""
    why: str = ""
    apart: str = ""
    doubtful: str = ""
    grave: str = ""
    checked: str = ""
    later: str = ""
    last_day: str = ""
    fresh: dict[Age, str] = field(default_factory=dict, compare=False)
    inputs: tuple[Wanted, ...] | None = None

    @property
    def known(self) -> str:
        """Two-valued SQL: there is a value."""
        cells = self.cells
        if isinstance(cells, Flag):
            return cells.known
        if isinstance(cells, Falling):
            return f"(({cells.day} BETWEEN {cells.first} AND {cells.last}) IS TRUE)"
        first = _expressions(cells)[0]
        return f"({first} IS NOT NULL)"

    def expressions(self) -> list[str]:
        """The SQL that determines the fact, in the order in which `decode` takes the values."""
        parts = (self.day, self.last_day, self.why, self.apart)
        return [*_expressions(self.cells), *(part for part in parts if part)]

    def decode(self, values: tuple[Any, ...]) -> Fact | None:
        """The fact as the single-case evaluation holds it; ``None`` where nothing is recorded."""
        count = len(_expressions(self.cells))
        value = decode(self.element, self.cells, values[:count])
        rest = list(values[count:])
        first = rest.pop(0) if self.day else None
        last = rest.pop(0) if self.last_day else first
        why = rest.pop(0) if self.why else None
        if value is None and why is None:
            return None
        # the kind of document matters only where it makes a report and its study conflict, also while its day is not read
        kind = REPORTS[0] if self.apart and rest.pop(0) else ""
        provenance = Provenance(kind=kind, day=day_between(first, last))
        return Fact(self.element.name, self.subject, value, Why(why) if value is None else None, provenance)


def day_between(first: float | None, last: float | None) -> Span | None:
    """The day of a fact by its two columns."""
    return None if first is None or last is None else Span(first, last)


def _expressions(cells: Cells) -> list[str]:
    if isinstance(cells, Numbers):
        return [part for part in (cells.low, cells.high, cells.low_open, cells.high_open) if part]
    if isinstance(cells, Code):
        return [cells.code]
    if isinstance(cells, Mask):
        return [cells.mask]
    if isinstance(cells, Flag):
        return [cells.truth]
    if isinstance(cells, CodeList):
        return [cells.certain, cells.possible]
    if isinstance(cells, Text):
        return [cells.text]
    return [cells.day]


def decode(element: Element, cells: Cells, values: tuple[Any, ...]) -> Value | None:
    """A value from its columns.

    Examples
    --------
    >>> from candidacy.case.catalogue import catalogue
    >>> decode(catalogue()["age"], Numbers("a"), (44.0,))
    Span(low=44.0, high=44.0, low_open=False, high_open=False)
    """
    if values[0] is None:
        return None
    if isinstance(cells, Numbers):
        if cells.exact:
            return point(values[0])
        low, high, low_open, high_open = values
        return Span(low, high, bool(low_open), bool(high_open))
    if isinstance(cells, Code):
        return Options(frozenset((values[0],)))
    if isinstance(cells, Mask):
        return Options(_from_mask(_codes(element), values[0]))
    if isinstance(cells, Flag):
        return TRUE if values[0] else FALSE
    if isinstance(cells, CodeList):
        certain = frozenset(str(c) for c in _from_mask(element.codes, values[0]))
        if values[1] == OPEN_LIST:
            return Members(certain, None)
        return Members(certain, frozenset(str(c) for c in _from_mask(element.codes, values[1])))
    if isinstance(cells, Text):
        return Words(values[0])
    raise TypeError(f"{element.name} is read through its date")


def encode(element: Element, value: Value | None) -> tuple[Any, ...]:
    """A value as its widest row of cells, in the order of `layout`."""
    if isinstance(value, Span):
        return float(value.low), float(value.high), value.low_open, value.high_open
    if isinstance(value, Options):
        return (mask_of(_codes(element), value.codes),)
    if isinstance(value, Members):
        certain = mask_of(element.codes, value.certain)
        return certain, OPEN_LIST if value.possible is None else mask_of(element.codes, value.possible)
    if isinstance(value, Words):
        return (value.text,)
    return (None,) * len(layout(element))


def layout(element: Element) -> tuple[tuple[str, str], ...]:
    """Suffix and type of each column of an element in its widest form."""
    if element.kind in ("number", "integer", "date"):
        return (("", "double"), ("|high", "double"), ("|low_open", "bool"), ("|high_open", "bool"))
    if element.kind in ("choice", "boolean"):
        return (("", "long"),)
    if element.kind == "members":
        return (("", "long"), ("|possible", "long"))
    return (("", "text"),)


def cells_from(element: Element, names: list[str], exact: bool) -> Cells:
    """The cells of an element kept in the columns of `layout`; ``exact`` leaves out what never occurs."""
    if element.kind in ("number", "integer", "date"):
        return Numbers(names[0]) if exact else Numbers(names[0], names[1], names[2], names[3])
    if element.kind in ("choice", "boolean"):
        return Mask(names[0])
    if element.kind == "members":
        return CodeList(names[0], names[1])
    return Text(names[0])


def mask_of(codes: tuple[Any, ...], some: Any) -> int:
    """Bits of some of the codes."""
    return sum(1 << codes.index(code) for code in set(some))


def _codes(element: Element) -> tuple[Any, ...]:
    return _BOOLEANS if element.kind == "boolean" else element.codes


def _from_mask(codes: tuple[Any, ...], mask: int) -> frozenset[Any]:
    return frozenset(code for place, code in enumerate(codes) if mask >> place & 1)
