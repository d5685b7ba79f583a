"""Which discs a referral is about, and counts of lists of codes."""

from candidacy.case.catalogue import catalogue
from candidacy.derive.base import Inputs, derives
from candidacy.foundation.values import Members, Options, Span, from_truth


@derives("considered_for_treatment")
def considered_for_treatment(inputs: Inputs) -> Options | None:
    """Whether this disc is among the levels that the physician or referrer considers treating.

    Source: definition of the case record.
    """
    levels = inputs.members("discs_under_consideration")
    return None if levels is None else from_truth(levels.contains(inputs.subject))


@derives("discs_considered_count")
def discs_considered_count(inputs: Inputs) -> Span | None:
    """How many discs are under consideration; a range where the list may go on.

    Source: definition of the case record.
    """
    return _count(inputs, "discs_under_consideration")


@derives("failed_care_kinds_count")
def failed_care_kinds_count(inputs: Inputs) -> Span | None:
    """How many different kinds of conservative care failed; a range where the list may go on.

    Source: definition of the case record; protocols ask for at least two of drugs, structured therapy and
    injections (NCT05201287).
    """
    return _count(inputs, "failed_care_kinds")


def _count(inputs: Inputs, element: str) -> Span | None:
    found: Members | None = inputs.members(element)
    if found is None:
        return None
    most = len(catalogue()[element].codes) if found.possible is None else len(found.possible)
    return Span(len(found.certain), most)
