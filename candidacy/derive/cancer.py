"""How long a patient has been free of cancer, by whichever fact is known."""

from candidacy.derive.arithmetic import common
from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.dates import months_between
from candidacy.foundation.values import Span, Why


@derives("time_free_of_cancer")
def time_free_of_cancer(inputs: Inputs) -> Span | None:
    """Months without evidence of cancer as stated, or completed months since the last treatment; one is enough.

    Where both are known they must agree: a difference gives no value, as neither is preferred.

    Source: wordings of protocols (sheet on eligibility, table C: malignancy within 5 years; sheet on procedural
    safety, section 3); calendar.
    """
    stated = inputs.span("cancer_free_duration")
    treated = inputs.span("cancer_last_treatment_date")
    if treated is None:
        return stated
    if treated.low > inputs.as_of.low:
        raise Underivable(Why.CONFLICTING, "the last treatment lies after the as-of date")
    since = months_between(Span(treated.low, min(treated.high, inputs.as_of.low)), inputs.as_of)
    if stated is None:
        return since
    both = common(stated, since)
    if both is None:
        raise Underivable(Why.CONFLICTING, "the stated interval is not that since the last treatment")
    return both
