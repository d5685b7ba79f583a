"""Derived elements that have a form in columns; every other one is worked out by `lookups`.

A form serves where its inputs are exact; ``unless`` names the rows on which it cannot be sure of the last
digit, and these few are worked out by the single-case code as well.

Each gives what the formula of the same name in `candidacy.derive` gives; the tests hold them together.
"""

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from msgspec import Struct

from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS, Element
from candidacy.case.facts import CaseFacts, Fact
from candidacy.cohort.columns.elapsed import whole_years
from candidacy.cohort.columns.element_tests import least_tidied
from candidacy.cohort.columns.fact_columns import Cells, CodeList, FactColumn, Falling, Flag, Numbers, mask_of
from candidacy.cohort.engines import sqltext as sql
from candidacy.derive import work_out
from candidacy.foundation.dates import FIRST_YEAR, MEAN_DAYS
from candidacy.foundation.values import Span, point

if TYPE_CHECKING:
    from candidacy.cohort.columns.element_columns import ElementColumns

_EARLIEST = date(FIRST_YEAR, 1, 1).toordinal()  # the case loader takes no earlier date


class Form(Struct, frozen=True):
    """Cells of a derived element, the elements it reads with their columns, and rows it must leave to the formula."""

    cells: Cells
    inputs: tuple[str, ...]
    columns: tuple[FactColumn, ...]
    unless: str = ""


_Maker = Callable[[str, str, "ElementColumns"], Form | None]


def form_of(element: str, subject: str, shelf: "ElementColumns") -> Form | None:
    """The form of an element for a subject, or ``None`` where it has none for these columns."""
    maker = _FORMS.get(element)
    return maker(element, subject, shelf) if maker else None


def needed_of(element: Element) -> list[list[tuple[str, ...]]]:
    """What each set of the inputs of a formula needs: one of each of these, which nothing but the record tells.

    Where every set lacks something, the formula gives nothing. Of the items of a questionnaire one is enough for a range.
    """
    shelf, items = catalogue(), element.parts.of if element.parts else ()
    told = [
        [n for n in some if not shelf[n].derived and shelf[n].kind not in ("choice", "boolean")]
        for some in element.inputs
    ]
    return [[tuple(some)] if set(some) & set(items) else [(name,) for name in some] for some in told]


def _by_date(source: str, number: Callable[[str, date], str]) -> _Maker:
    """A whole number that falls as one date rises: compared through the formula itself, day by day; ``number`` is its SQL."""

    def make(element: str, subject: str, shelf: "ElementColumns") -> Form | None:
        column, rule_set, as_of = shelf.stated(source, subject), shelf.rule_set, shelf.as_of
        if column is None or not isinstance(column.cells, Numbers) or not column.cells.exact:
            return None
        kept: dict[int, float | None] = {}

        def value_on(day: int) -> float | None:
            if day not in kept:
                fact = Fact(source, "patient", point(day))
                view = View(
                    CaseFacts("day", {source: fact}), as_of, rule_set.setting_values(), rule_set.tables
                )
                value = work_out(element, view, "patient").value
                kept[day] = value.low if isinstance(value, Span) else None
            return kept[day]

        today = as_of.toordinal()
        low, high = _EARLIEST, today
        if value_on(today) is None:
            return None
        while low < high:  # the first day with a value: before it the result is impossible
            middle = (low + high) // 2
            if value_on(middle) is None:
                low = middle + 1
            else:
                high = middle
        day = column.cells.low
        return Form(Falling(day, low, today, value_on, number(day, as_of)), (source,), (column,))

    return make


def _body_mass_index(element: str, subject: str, shelf: "ElementColumns") -> Form | None:
    weight, height = shelf.stated("body_weight", subject), shelf.stated("body_height", subject)
    if weight is None or height is None:
        return None
    if not (isinstance(weight.cells, Numbers) and isinstance(height.cells, Numbers)):
        return None
    if not (weight.cells.exact and height.cells.exact):
        return None
    metres = f"({height.cells.low} * {sql.number(0.01)})"
    square = f"({tidied(metres)} * {tidied(metres)})"
    index = f"({weight.cells.low} / {tidied(square)})"
    possible = catalogue()[element].possible
    assert possible is not None
    assert possible.low is not None
    assert possible.high is not None
    inside = (
        f"CASE WHEN {index} >= {sql.number(least_tidied(possible.low))} "
        f"AND {index} < {sql.number(least_tidied(_next(possible.high)))} THEN {index} END"
    )
    sure = f"({rounds_surely(metres)} AND {rounds_surely(square)})"
    names = ("body_weight", "body_height")
    return Form(Numbers(inside, tidied=False), names, (weight, height), f"(NOT {sure})")


def _next(limit: float) -> float:
    """The next number that has twelve significant digits."""
    return limit * (1 + 1e-11)


def tidied(number: str) -> str:
    """Round a number from 0.1 to 10 to twelve significant digits, as `arithmetic.tidy` does.

    The scaled number is whole and below 2**53, and a power of ten up to 10**22 is exact, so the quotient is
    the double nearest to the decimal: the same that reading the decimal gives. `rounds_surely` must hold.
    """
    return (
        f"CASE WHEN {number} < 1e0 THEN FLOOR({number} * 1e12 + 0.5e0) / 1e12 "
        f"ELSE FLOOR({number} * 1e11 + 0.5e0) / 1e11 END"
    )


def rounds_surely(number: str) -> str:
    """Whether a number is far enough from the middle between two roundings for `tidied` to be right.

    Scaling to twelve digits errs by less than 0.0002 of the last one.
    """
    scaled = f"({number} * CASE WHEN {number} < 1e0 THEN 1e12 ELSE 1e11 END)"
    return f"({number} >= 0.1e0 AND {number} < 9.9e0 AND ABS({scaled} - FLOOR({scaled}) - 0.5e0) > 0.001e0)"


def _considered(element: str, subject: str, shelf: "ElementColumns") -> Form | None:
    column = shelf.stated("discs_under_consideration", subject)
    if column is None or not isinstance(column.cells, CodeList) or subject not in LEVELS:
        return None
    bit = mask_of(LEVELS, [subject])
    certain, possible = column.cells.certain, column.cells.possible
    truth = f"CASE WHEN ({certain} & {bit}) <> 0 THEN TRUE WHEN ({possible} & {bit}) = 0 THEN FALSE END"
    return Form(Flag(truth, f"({certain} IS NOT NULL)"), ("discs_under_consideration",), (column,))


def _pain_began(element: str, subject: str, shelf: "ElementColumns") -> Form | None:
    """By how long the pain has lasted, where no column tells the day it began."""
    told = shelf.fact("pain_duration", subject)  # as its relations leave it
    if shelf.fact("pain_onset_date", subject) or len(told) != 1:
        return None
    (lasted,), today = told, shelf.as_of.toordinal()
    if not isinstance(lasted.cells, Numbers) or not lasted.cells.exact or not lasted.cells.tidied:
        return None
    settings, months = shelf.rule_set.setting_values(), shelf.define(lasted.cells.low)
    step, part, plain = (sql.number(float(str(settings[name]))) for name in _ROUNDING)
    error = f"CASE WHEN {months} % {step} <> 0e0 THEN {plain} ELSE {months} * {part} END"
    month = sql.number(MEAN_DAYS["month"])
    day, last_day = (
        f"COALESCE({each}, {today})" if each else str(today)
        for each in (lasted.day, lasted.last_day or lasted.day)
    )
    first = f"({day} - CEIL(({months} + {error}) * {month}))"
    last = f"({last_day} - FLOOR(GREATEST({months} - {error}, 0e0) * {month}))"
    cells = Numbers(shelf.define(first), shelf.define(last), sql.FALSE, sql.FALSE)
    return Form(cells, ("pain_onset_date", "pain_duration"), (lasted,))


_ROUNDING = ("rounded_length_step", "rounded_length_error", "plain_length_error")

_FORMS: dict[str, _Maker] = {
    "age": _by_date("birth_date", whole_years),
    "body_mass_index": _body_mass_index,
    "considered_for_treatment": _considered,
    "pain_began": _pain_began,
}
