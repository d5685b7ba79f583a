"""Slip of one vertebra on the next: its share of the endplate and its Meyerding grade."""

from collections.abc import Mapping
from math import inf
from typing import Any

from candidacy.derive.arithmetic import common, percent_of
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Options, Span, Why


@derives("slip_percent")
def slip_percent(inputs: Inputs) -> Span | None:
    """100 x slip / anteroposterior length of the superior endplate of the vertebra below, in percent.

    Both in mm. The direction is an element of its own.

    Source: definition under Meyerding's grades (``radiology_reference_meyerding``).
    """
    slip, endplate = inputs.span("slip"), inputs.span("endplate_length")
    return None if slip is None or endplate is None else percent_of(slip, endplate)


@derives("meyerding_grade")
def meyerding_grade(inputs: Inputs) -> Options | None:
    """Meyerding grade of an anterior slip from its percentage; all grades that an imprecise slip may have.

    The setting ``meyerding_edge`` says to which grade a slip on a printed edge belongs; a remark is shown
    there. Not applicable to a posterior or lateral slip, for which the grades were not made.

    Source: ``radiology_reference_meyerding``; another page prints the lower edge in the higher grade
    (``slip_grading_page``). Grade V is a later addition.
    """
    slip = inputs.span("slip_percent")
    if slip is None:
        return None
    if slip.high <= 0:
        return Options(frozenset(("none",)))
    direction = inputs.options("slip_direction")
    if direction is None:
        return None
    if "anterior" not in direction.codes:
        raise Underivable(Why.DOES_NOT_APPLY, "the grades are for an anterior slip")
    if not direction.exact:
        return None
    upper = inputs.setting("meyerding_edge") == "in_lower_grade"
    found = {"none"} if slip.low <= 0 else set()
    for row in inputs.table("meyerding_grades").values():
        if common(slip, _band(row, upper)) is not None:
            found.add(str(row["grade"]))
        if row["to"] is not None and slip.equals(row["to"]) is Truth.MET:
            inputs.say(f"exactly {row['to']} %: printed tables differ on the grade of this edge")
    return Options(frozenset(found))


def _band(row: Mapping[str, Any], upper: bool) -> Span:
    """Slip percentages of a grade: (above, to], or [above, to) where an edge opens the higher grade."""
    if row["to"] is None:
        return Span(row["above"], inf, upper)
    return Span(row["above"], row["to"], upper or row["above"] == 0, not upper)
