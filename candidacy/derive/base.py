"""How a derived element is declared, and what a derivation may look at. No formula lives here."""

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from functools import wraps
from typing import Any, NamedTuple, Protocol, TypeVar

from msgspec import Struct

from candidacy.case.catalogue import catalogue
from candidacy.case.facts import Fact
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Members, Options, Span, Value, Why, Words, truth_of


class Underivable(Exception):
    """Raised by a derivation that has its inputs but must not give a value.

    The reason is shown; for example contrast left the disc, so relief cannot be interpreted.
    """

    def __init__(self, why: Why, note: str = "") -> None:
        self.why, self.note = why, note
        super().__init__(note or why.words)


class Lookup(Protocol):
    """What an evaluation view offers to derivations.

    ``kept`` is where `once_a_case` keeps what was worked out, by function and subject.
    """

    as_of: date
    settings: Mapping[str, Any]
    tables: Callable[[str], Mapping[str, Mapping[str, Any]]]
    kept: dict[tuple[str, str], "Kept"]

    def fact(self, element: str, subject: str) -> Fact: ...

    def recent(
        self, fact: Fact, amount: float, unit: str, dated_by: str | None
    ) -> tuple[Truth, Span | None]: ...

    def entries(self, name: str) -> tuple[bool, list[str]]: ...

    def levels(self) -> tuple[str, ...]: ...


_Found = TypeVar("_Found")


class Kept(Struct, frozen=True):
    """What a function found for a subject of a case or why it gave nothing, with the facts and settings it read."""

    found: Any
    refused: Underivable | None
    read: tuple[Fact, ...]
    notes: tuple[str, ...]
    settings: frozenset[str]


class Inputs(Struct):
    """The facts and settings one derivation reads for one subject; it remembers what was read."""

    _view: Lookup
    subject: str
    read: list[Fact] = []
    notes: list[str] = []
    chosen: set[str] = set()

    @property
    def as_of(self) -> Span:
        """The as-of date as a span of one day."""
        day = self._view.as_of.toordinal()
        return Span(day, day)

    def fact(self, element: str) -> Fact:
        found = self._view.fact(element, self.subject)
        self.read.append(found)
        return found

    def too_old(self, fact: Fact, days: float) -> Why | None:
        """Why a fact may not speak for the as-of date: out of date, undated or of a later day; ``None`` where it may."""
        recent, age = self._view.recent(fact, days, "day", None)
        if recent is Truth.MET:
            return None
        return Why.UNDATED if age is None else Why.AFTER_AS_OF if age.high < 0 else Why.OUT_OF_DATE

    def say(self, note: str) -> None:
        """Add a remark that is shown beside the value, such as a boundary on which wordings differ."""
        if note not in self.notes:
            self.notes.append(note)

    def at(self, subject: str) -> "Inputs":
        """Inputs of another subject that count as read here."""
        return Inputs(self._view, subject, self.read, self.notes, self.chosen)

    def apart(self, subject: str) -> "Inputs":
        """Inputs of another subject that keep their own list of what was read."""
        return Inputs(self._view, subject, chosen=self.chosen)

    def once(self, name: str, look: "Callable[[Inputs], _Found]") -> _Found:
        """What a function finds for this subject, kept for the case under a name; what it reads counts as read here."""
        kept = self._view.kept.get((name, self.subject))
        if kept is None:
            own, found, refused = Inputs(self._view, self.subject), None, None
            try:
                found = look(own)
            except Underivable as reason:
                refused = reason
            kept = Kept(found, refused, _once(own.read), tuple(own.notes), frozenset(own.chosen))
            self._view.kept[name, self.subject] = kept
        self.read += kept.read
        self.chosen |= kept.settings
        if kept.refused is not None:
            raise Underivable(kept.refused.why, kept.refused.note)
        for note in kept.notes:
            self.say(note)
        return kept.found  # type: ignore[no-any-return]

    def value(self, element: str) -> Value | None:
        """The value of an element of this subject (a disc or entry also sees the patient's), or ``None``."""
        return self.fact(element).value

    def span(self, element: str) -> Span | None:
        value = self.value(element)
        return value if isinstance(value, Span) else None

    def options(self, element: str) -> Options | None:
        value = self.value(element)
        return value if isinstance(value, Options) else None

    def code(self, element: str) -> str | None:
        """The code of an exactly known choice, else ``None``."""
        value = self.value(element)
        return str(next(iter(value.codes))) if isinstance(value, Options) and value.exact else None

    def members(self, element: str) -> Members | None:
        value = self.value(element)
        return value if isinstance(value, Members) else None

    def refuse_conflicts(self, *elements: str) -> None:
        """Give no value where the record contradicts itself about one of these elements.

        Raises
        ------
        Underivable
            With reason "sources conflict", and what contradicts what.
        """
        for element in elements:
            fact = self.fact(element)
            if fact.value is None and fact.why is Why.CONFLICTING:
                raise Underivable(Why.CONFLICTING, fact.note)

    def words(self, element: str) -> str:
        value = self.value(element)
        return value.text if isinstance(value, Words) else ""

    def truth(self, element: str) -> Truth:
        return truth_of(self.value(element))

    def setting(self, name: str) -> Any:
        """A setting of the rule set under which the case is evaluated, else its shipped default."""
        self.chosen.add(name)
        return self._view.settings[name]

    def table(self, name: str) -> Mapping[str, Mapping[str, Any]]:
        """A table of published values (``rulesets/tables``): rows by key, each column to value."""
        return self._view.tables(name)

    def complete(self, name: str) -> bool:
        """Say whether a list of the record (``medicines``) is stated to be complete."""
        return self._view.entries(name)[0]

    def entries(self, name: str) -> Iterator["Inputs"]:
        """The entries of a list of the record, each as inputs of its own."""
        for subject in self._view.entries(name)[1]:
            yield self.at(subject)

    def discs(self) -> Iterator["Inputs"]:
        """Every disc of the record, cranial first, each as inputs of its own."""
        for level in self._view.levels():
            yield self.at(level)


def once_a_case(look: Callable[[Inputs], _Found]) -> Callable[[Inputs], _Found]:
    """A function that several formulas and plans ask of one subject: worked out once for each case."""
    name = f"{look.__module__}.{look.__qualname__}"

    @wraps(look)
    def found(inputs: Inputs) -> _Found:
        return inputs.once(name, look)

    return found


Formula = Callable[[Inputs], Value | None]
FORMULAS: dict[str, Formula] = {}


class Derived(NamedTuple):
    """Result of a derivation: a value, or why there is none, and the facts and settings that were read."""

    value: Value | None
    why: Why | None
    note: str
    read: tuple[Fact, ...]
    settings: tuple[str, ...]


def derives(element: str) -> Callable[[Formula], Formula]:
    """Declare a formula for an element. It returns ``None`` where an input is missing."""

    def register(formula: Formula) -> Formula:
        if element in FORMULAS:
            raise ValueError(f"{element} has two formulas")
        FORMULAS[element] = formula
        return formula

    return register


def work_out(element: str, view: Lookup, subject: str) -> Derived:
    """Run the formula of an element for a subject.

    A result that lies wholly outside the possible range of its element is not given: the inputs cannot
    all be right.
    """
    inputs = Inputs(view, subject)
    value: Value | None
    why: Why | None
    try:
        value = FORMULAS[element](inputs)
        if isinstance(value, Span) and _impossible(value, element):
            raise Underivable(Why.CONFLICTING, "the inputs give an impossible result: check them")
    except Underivable as reason:
        value, why, note = None, reason.why, reason.note
    else:
        why, note = None if value is not None else Why.INPUT_MISSING, "; ".join(inputs.notes)
    return Derived(value, why, note, _once(inputs.read), tuple(sorted(inputs.chosen)))


def _impossible(value: Span, element: str) -> bool:
    possible = catalogue()[element].possible
    if possible is None:
        return False
    below = possible.low is not None and value.high < possible.low
    return below or (possible.high is not None and value.low > possible.high)


def _once(read: list[Fact]) -> tuple[Fact, ...]:
    return tuple({(fact.subject, fact.element): fact for fact in read}.values())
