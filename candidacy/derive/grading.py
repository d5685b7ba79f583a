"""Which grading scale a reader used. Grades are never converted from one scale to the other."""

from candidacy.derive.base import Inputs, derives
from candidacy.foundation.values import Options


@derives("degeneration_scale")
def degeneration_scale(inputs: Inputs) -> Options | None:
    """The scale of the grade that is stated for this disc; a record states one scale for a disc.

    Source: two separate code systems, Roman I to V and Arabic 1 to 8, never compared (common practice; Pfirrmann,
    Spine 2001;26:1873-8; Griffith, Spine 2007;32:E708-12).
    """
    if inputs.value("modified_pfirrmann_grade") is not None:
        return Options(frozenset(("modified",)))
    if inputs.value("pfirrmann_grade") is not None:
        return Options(frozenset(("original",)))
    return None
