"""The language of conditions: what a criterion may ask of a case. Shape only; `evaluate` gives the meaning."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.catalogue import Rows, Strict
from candidacy.foundation.json_shape import absent, both, is_one_of, one_of, present, where

Scalar = bool | int | float | str

# Operator -> how a sentence says it. Each names its boundary.
OPERATORS = {
    "at_least": "is at least",
    "at_most": "is at most",
    "more_than": "is more than",
    "less_than": "is less than",
    "between": "is between",
    "is": "is",
    "is_not": "is not",
    "one_of": "is one of",
    "none_of": "is none of",
    "contains": "includes",
    "contains_any": "includes any of",
    "empty": "is an empty list",
    "known": "is known",
}
NUMERIC = frozenset(("at_least", "at_most", "more_than", "less_than", "between"))
CODED = frozenset(("is", "is_not", "one_of", "none_of"))
LISTED = frozenset(("contains", "contains_any", "empty"))

Operator = Literal[
    "at_least",
    "at_most",
    "more_than",
    "less_than",
    "between",
    "is",
    "is_not",
    "one_of",
    "none_of",
    "contains",
    "contains_any",
    "empty",
    "known",
]
Counting = Literal["at_least", "at_most", "more_than", "less_than", "between", "is"]
ListName = Literal["medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"]
CalendarUnit = Literal["day", "week", "month", "year"]


class ParameterRef(Strict):
    """Use of a parameter of the criterion."""

    parameter: str
    """Name of a parameter of the same criterion."""


Operand = Scalar | Rows[Scalar] | ParameterRef

# What `_operands_fit` asks for, as a schema says it.
_OPERANDS = where(
    is_one_of("op", "between"),
    both(present("low", "high"), absent("value")),
    where(
        is_one_of("op", "known", "empty"),
        absent("value", "low", "high"),
        both(present("value"), absent("low", "high")),
    ),
)
_WITH_OPERANDS = ConfigDict(json_schema_extra=_OPERANDS)


class Some(Strict):
    """At least ``count`` of several conditions."""

    count: int | ParameterRef
    """How many must be met: a whole number, or a parameter."""
    conditions: Annotated[Rows["Condition"], Field(min_length=1)]
    """The conditions; at least one."""


class OverDiscs(Strict):
    """A condition on discs, among those where another holds."""

    that: "Condition"
    """What must hold of a disc."""
    where: "Condition | None" = None
    """Only discs of which this holds are looked at; without it, all."""


class CountDiscs(Strict):
    """How many discs meet a condition; while a disc is unknown the count is a range."""

    model_config = _WITH_OPERANDS

    that: "Condition"
    """What must hold of a disc for it to count."""
    op: Counting
    """How the number is compared; each names its boundary."""
    value: Operand | None = None
    """The limit; not with `between`."""
    low: Operand | None = None
    """Lower limit of `between`; belongs to it."""
    high: Operand | None = None
    """Upper limit of `between`; belongs to it."""


class OverEntries(Strict):
    """A condition on the entries of a list; a list not stated to be complete may have more."""

    of: ListName
    """The list of the record."""
    that: "Condition"
    """What must hold of an entry."""


class CountEntries(Strict):
    """How many entries of a list meet a condition."""

    model_config = _WITH_OPERANDS

    of: ListName
    """The list of the record."""
    that: "Condition"
    """What must hold of an entry for it to count."""
    op: Counting
    """How the number is compared; each names its boundary."""
    value: Operand | None = None
    """The limit; not with `between`."""
    low: Operand | None = None
    """Lower limit of `between`; belongs to it."""
    high: Operand | None = None
    """Upper limit of `between`; belongs to it."""


class Elapsed(Strict):
    """Calendar time from one date to another, or to the as-of date."""

    model_config = _WITH_OPERANDS

    since: str
    """The date element from which time is counted."""
    until: str = "as_of"
    """The date element up to which it is counted, or `as_of`, the day of the assessment."""
    unit: CalendarUnit
    """Unit of the limit; months and years are counted on the calendar, completed ones only."""
    op: Literal["at_least", "at_most", "more_than", "less_than", "between"]
    """How the time is compared; with month or year only `at_least` and `less_than`."""
    value: Operand | None = None
    """The limit, in the unit above; not with `between`."""
    low: Operand | None = None
    """Lower limit of `between`; belongs to it."""
    high: Operand | None = None
    """Upper limit of `between`; belongs to it."""


HEADS = (
    "element", "all", "any", "none", "not_", "at_least_of", "any_disc", "every_disc", "count_discs",
    "any_entry", "every_entry", "count_entries", "complete_list", "elapsed",
)  # fmt: skip


class Condition(Strict):
    """One condition in strong Kleene logic; exactly one of its heads is present.

    A test of one data element (`element` with `op` and what it is compared with), a join of conditions, a quantifier or
    count over discs or entries of a list, whether a list is complete, or the time between dates.
    """

    model_config = ConfigDict(
        populate_by_name=True,
        json_schema_extra={
            **one_of(*(present(head.rstrip("_")) for head in HEADS)),
            **where(present("element"), both(present("op"), _OPERANDS), absent("op", "value", "low", "high")),
        },
    )

    element: str | None = None
    """Name of a data element to test; needs `op`."""
    op: Operator | None = None
    """How the element is tested: `at_least`, `at_most`, `more_than`, `less_than`, `between` for numbers and ordered codes;
    `is`, `is_not`, `one_of`, `none_of` for codes; `contains`, `contains_any`, `empty` for lists; `known` for presence."""
    value: Operand | None = None
    """What it is compared with, in the unit of the element: a value, a list for `one_of`, `none_of` and `contains_any`, or
    `{parameter: name}`. Every number is a parameter with a source."""
    low: Operand | None = None
    """Lower limit of `between`; belongs to it."""
    high: Operand | None = None
    """Upper limit of `between`; belongs to it."""
    all: Annotated[Rows["Condition"] | None, Field(min_length=1)] = None
    """Each of these conditions holds; one that is not met settles it, else one unknown leaves it unknown."""
    any: Annotated[Rows["Condition"] | None, Field(min_length=1)] = None
    """At least one of these conditions holds; one that is met settles it."""
    none: Annotated[Rows["Condition"] | None, Field(min_length=1)] = None
    """None of these conditions holds; one that is met settles it."""
    not_: Annotated["Condition | None", Field(alias="not")] = None
    """This condition does not hold; unknown stays unknown."""
    at_least_of: Some | None = None
    """At least so many of several conditions hold."""
    any_disc: OverDiscs | None = None
    """A disc of which something holds."""
    every_disc: OverDiscs | None = None
    """Every disc is such that something holds."""
    count_discs: CountDiscs | None = None
    """How many discs there are of which something holds; while a disc is unknown the count is a range."""
    any_entry: OverEntries | None = None
    """An entry of a list of which something holds."""
    every_entry: OverEntries | None = None
    """Every entry of a list is such that something holds."""
    count_entries: CountEntries | None = None
    """How many entries of a list there are of which something holds."""
    complete_list: ListName | None = None
    """The record says that this list is complete."""
    elapsed: Elapsed | None = None
    """Calendar time between dates."""

    @model_validator(mode="after")
    def _one_head(self) -> "Condition":
        heads = [head for head in HEADS if getattr(self, head) is not None]
        if len(heads) != 1:
            raise ValueError(f"a condition needs exactly one of {', '.join(HEADS)}; found {heads or 'none'}")
        if self.element is not None:
            if self.op is None:
                raise ValueError("a test of an element needs op")
            _operands_fit(self.op, self.value, self.low, self.high)
        elif any(part is not None for part in (self.op, self.value, self.low, self.high)):
            raise ValueError("op, value, low and high belong to a test of an element")
        for counted in (self.count_discs, self.count_entries, self.elapsed):
            if counted is not None:
                _operands_fit(counted.op, counted.value, counted.low, counted.high)
        return self

    @property
    def head(self) -> str:
        """Which head is present."""
        return next(head for head in HEADS if getattr(self, head) is not None)


def _operands_fit(op: str, value: object, low: object, high: object) -> None:
    if op == "between":
        if low is None or high is None or value is not None:
            raise ValueError("between needs low and high, and no value")
    elif op in ("known", "empty"):
        if value is not None or low is not None or high is not None:
            raise ValueError(f"{op} takes no value")
    elif value is None or low is not None or high is not None:
        raise ValueError(f"{op} needs value, and neither low nor high")


def inner(condition: Condition) -> tuple[Condition, ...]:
    """The conditions directly inside a condition."""
    parts = [*(condition.all or ()), *(condition.any or ()), *(condition.none or ())]
    if condition.not_ is not None:
        parts.append(condition.not_)
    if condition.at_least_of is not None:
        parts += condition.at_least_of.conditions
    for over in (condition.any_disc, condition.every_disc):
        if over is not None:
            parts += [p for p in (over.where, over.that) if p is not None]
    for counted in (
        condition.count_discs,
        condition.any_entry,
        condition.every_entry,
        condition.count_entries,
    ):
        if counted is not None:
            parts.append(counted.that)
    return tuple(parts)


def walk(condition: Condition) -> Iterator[Condition]:
    """A condition and all conditions inside it, outermost first."""
    yield condition
    for part in inner(condition):
        yield from walk(part)


def elements_of(condition: Condition) -> tuple[str, ...]:
    """Names of all elements a condition reads, in order, once each."""
    found: dict[str, None] = {}
    for part in walk(condition):
        if part.element is not None:
            found[part.element] = None
        if part.elapsed is not None:
            found[part.elapsed.since] = None
            if part.elapsed.until != "as_of":
                found[part.elapsed.until] = None
    return tuple(found)


def lists_of(condition: Condition) -> tuple[str, ...]:
    """Names of all lists of the record that a condition reads, once each."""
    found: dict[str, None] = {}
    for part in walk(condition):
        for over in (part.any_entry, part.every_entry, part.count_entries):
            if over is not None:
                found[over.of] = None
        if part.complete_list is not None:
            found[part.complete_list] = None
    return tuple(found)


def operands_of(condition: Condition) -> tuple[Operand, ...]:
    """All operands written in this condition itself, not in those inside it."""
    holder = condition.count_discs or condition.count_entries or condition.elapsed or condition
    found = [operand for operand in (holder.value, holder.low, holder.high) if operand is not None]
    if condition.at_least_of is not None:
        found.append(condition.at_least_of.count)
    return tuple(found)


def parameters_of(condition: Condition) -> tuple[str, ...]:
    """Names of all parameters a condition uses, once each."""
    found: dict[str, None] = {}
    for part in walk(condition):
        for operand in operands_of(part):
            if isinstance(operand, ParameterRef):
                found[operand.parameter] = None
    return tuple(found)
