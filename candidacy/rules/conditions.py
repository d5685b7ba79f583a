"""The language of conditions as written: what a criterion may ask of a case. Shape only; `tree` takes the short forms away."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from candidacy.case.element import Rows, Strict
from candidacy.foundation.json_shape import absent, both, is_one_of, one_of, present, where
from candidacy.rules.operators import operands_wanted

Scalar = bool | int | float | str

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
        written = vars(self)
        heads = [head for head in HEADS if written[head] is not None]
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
    wrong = operands_wanted(op, value, low, high)
    if wrong:
        raise ValueError(wrong)
