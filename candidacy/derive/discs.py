"""Which discs a referral is about."""

from candidacy.derive.base import Inputs, derives
from candidacy.values import Options, from_truth


@derives("considered_for_treatment")
def considered_for_treatment(inputs: Inputs) -> Options | None:
    """Whether this disc is among the levels that the physician or referrer considers treating.

    Source: definition of the case record.
    """
    levels = inputs.members("discs_under_consideration")
    return None if levels is None else from_truth(levels.contains(inputs.subject))
