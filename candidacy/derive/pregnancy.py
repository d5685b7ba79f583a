"""What is known of pregnancy: that it is present, and whether it has to be asked about."""

from candidacy.derive.base import Inputs, derives
from candidacy.truth import Truth
from candidacy.values import EITHER, Options, from_truth


@derives("pregnant")
def pregnant(inputs: Inputs) -> Options | None:
    """Yes by the answer or by a positive test, no by the answer. A negative test alone is no answer.

    A sign of pregnancy counts before a denial. The fact is as old as the statement that tells it.

    Source: every readable protocol excludes pregnancy (sheet on procedural safety, section 3); definition.
    """
    aside = inputs.apart(inputs.subject)
    status, test = aside.fact("pregnancy_status"), aside.fact("pregnancy_test_result")
    by_answer, by_test = aside.code("pregnancy_status"), aside.code("pregnancy_test_result")
    if by_test == "positive" and by_answer != "pregnant":
        inputs.read.append(test)
        return from_truth(Truth.MET)
    inputs.read.append(status)
    if by_answer is not None:
        return from_truth(Truth.MET if by_answer == "pregnant" else Truth.NOT_MET)
    return EITHER if status.value is not None else None


@derives("pregnancy_to_be_asked")
def pregnancy_to_be_asked(inputs: Inputs) -> Options | None:
    """Yes where pregnancy is possible, or recorded; no for a male and where it is not possible.

    A recorded pregnancy needs no further question: it settles that pregnancy is possible.

    Source: definition.
    """
    recorded = inputs.code("pregnancy_status") == "pregnant" or (
        inputs.code("pregnancy_test_result") == "positive"
    )
    possible = inputs.truth("pregnancy_possible")
    if recorded or possible is Truth.MET:
        return from_truth(Truth.MET)
    if possible is Truth.NOT_MET or inputs.code("sex") == "male":
        return from_truth(Truth.NOT_MET)
    return None
