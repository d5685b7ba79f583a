"""Change of pain, and leg pain beside back pain. Scores of different scales are never mixed."""

from math import ceil, floor, isinf

from candidacy.derive.arithmetic import percent_fall, percent_of
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.dates import MEAN_DAYS
from candidacy.foundation.values import Span, Why

_MONTH = MEAN_DAYS["month"]
# Scale setting -> back and leg pain on that scale.
_SCALES = {
    "average_nrs": ("back_pain_nrs_average", "leg_pain_nrs_average"),
    "worst_nrs": ("back_pain_nrs_worst", "leg_pain_nrs_worst"),
    "vas": ("back_pain_vas", "leg_pain_vas"),
}


@derives("leg_to_back_pain_ratio")
def leg_to_back_pain_ratio(inputs: Inputs) -> Span | None:
    """100 x leg pain / back pain in percent, both on the scale of the setting ``leg_to_back_scale``.

    Not applicable where back pain is zero.

    Source: exclusion "leg pain above 50 % of back pain" (doi:10.14444/8609); the ratio itself is common practice.
    """
    back_name, leg_name = _SCALES[inputs.setting("leg_to_back_scale")]
    back, leg = inputs.span(back_name), inputs.span(leg_name)
    if back is not None and back.high <= 0:
        raise Underivable(Why.DOES_NOT_APPLY, "without back pain there is no ratio")
    return None if back is None or leg is None else percent_of(leg, back)


@derives("pain_change_percent")
def pain_change_percent(inputs: Inputs) -> Span | None:
    """100 x (baseline - follow-up) / baseline in percent; negative when worse.

    Not applicable at baseline zero.

    Source: common practice; read against a fall of 30 % (Ostelo, Spine 2008).
    """
    before, after = inputs.span("back_pain_nrs_baseline"), inputs.span("back_pain_nrs_follow_up")
    if before is not None and before.high <= 0:
        raise Underivable(Why.DOES_NOT_APPLY, "the baseline is zero")
    return None if before is None or after is None else percent_fall(before, after)


@derives("pain_began")
def pain_began(inputs: Inputs) -> Span | None:
    """The days on which the pain may have begun: its date, else the day its duration was told less that duration.

    People round: a whole multiple of ``rounded_length_step`` may be out by the part ``rounded_length_error``, any other
    length by ``plain_length_error``. A duration without a day is taken as told on the as-of date. An open end reaches
    to what the element can hold; where it can hold anything, nothing is given.

    Source: calendar; the rounding is common practice.
    """
    began, told = inputs.span("pain_onset_date"), _by_duration(inputs)
    if began is None or told is None:
        return began or told
    if began.high < told.low or told.high < began.low:
        raise Underivable(Why.CONFLICTING, "the date the pain began and how long it has lasted do not fit")
    return Span(max(began.low, told.low), min(began.high, told.high))


def _by_duration(inputs: Inputs) -> Span | None:
    told = inputs.fact("pain_duration")
    if not isinstance(told.value, Span) or isinf(told.value.high):
        return None
    day = told.provenance.day or inputs.as_of
    longest = told.value.high + _rounding(inputs, told.value.high, told.value.exact)
    shortest = told.value.low - _rounding(inputs, told.value.low, told.value.exact)
    return Span(day.low - ceil(longest * _MONTH), day.high - floor(max(shortest, 0) * _MONTH))


def _rounding(inputs: Inputs, months: float, exact: bool) -> float:
    """How far a length of time may be out, in months; of an end of a range, what is within it may have been rounded."""
    plain, rounded = inputs.setting("plain_length_error"), months * inputs.setting("rounded_length_error")
    if exact:
        return float(plain if months % inputs.setting("rounded_length_step") else rounded)
    return float(max(plain, rounded))
