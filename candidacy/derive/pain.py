"""Change of pain, and leg pain beside back pain. Scores of different scales are never mixed."""

from candidacy.derive.arithmetic import percent_fall, percent_of
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.values import Span, Why

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
