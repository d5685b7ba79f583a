"""Chance that a disc is a source of pain after one finding: advisory, and only as good as its prior."""

from candidacy.derive.arithmetic import corners, hull
from candidacy.derive.base import Inputs, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import Span


@derives("post_test_probability_of_disc_source")
def post_test_probability_of_disc_source(inputs: Inputs) -> Span | None:
    """Post-test probability in percent: odds before x likelihood ratio, turned back into a probability.

    The prior is the range of the settings ``disc_pretest_probability_low`` and ``_high``; the one finding
    is the setting ``post_test_finding``. Findings are never chained, because those of one degenerate disc
    go together. No value where the finding is unknown.

    Source: Bayes' rule; ratios in the table ``disc_likelihood_ratios`` (Han 2023 and others), all measured
    against discography, which is itself imperfect.
    """
    row = inputs.table("disc_likelihood_ratios")[inputs.setting("post_test_finding")]
    value = inputs.options(row["element"])
    if value is None:
        return None
    present = value.one_of(frozenset(row["codes"]))
    if value.codes & frozenset(row["unclear"]):
        present = Truth.UNKNOWN
    ratios = []
    if present is not Truth.NOT_MET:
        ratios.append(row["positive"])
    if present is not Truth.MET:
        ratios.append(row["negative"])
    prior = Span(
        inputs.setting("disc_pretest_probability_low"), inputs.setting("disc_pretest_probability_high")
    )
    return hull(post_test(prior, ratio) for ratio in ratios)


def post_test(prior: Span, ratio: float) -> Span:
    """Probability in percent after a finding, from the probability before it and the likelihood ratio.

    Raises
    ------
    ValueError
        If the prior is not above 0 and below 100 %.

    Source: Bayes' rule.
    """
    if prior.low <= 0 or prior.high >= 100:
        raise ValueError("a prior of 0 or 100 % leaves nothing to learn")

    def after(percent: float) -> float:
        odds = percent / (100 - percent) * ratio
        return 100 * odds / (1 + odds)

    return corners(after, prior)
