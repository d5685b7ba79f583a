"""Age and body mass index."""

from candidacy.derive.arithmetic import product, ratio, times
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.dates import years_between
from candidacy.foundation.values import Span, Why


@derives("age")
def age(inputs: Inputs) -> Span | None:
    """Age in completed years on the as-of date, from the date of birth.

    A date of birth known to the month or year gives the range of ages it allows.

    Source: calendar; tests compare with python-dateutil.
    """
    born = inputs.span("birth_date")
    if born is None:
        return None
    if born.low > inputs.as_of.low:
        raise Underivable(Why.CONFLICTING, "the date of birth lies after the as-of date")
    return years_between(Span(born.low, min(born.high, inputs.as_of.low)), inputs.as_of)


@derives("body_mass_index")
def body_mass_index(inputs: Inputs) -> Span | None:
    """Weight in kg divided by the square of height in m; kg/m2.

    Source: definition of the index (LOINC 39156-5, Body mass index).
    """
    weight, height = inputs.span("body_weight"), inputs.span("body_height")
    if weight is None or height is None:
        return None
    metres = times(height, 0.01)
    return ratio(weight, product(metres, metres))
