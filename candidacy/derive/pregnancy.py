"""What is known of pregnancy: that it is present, and whether it has to be asked about."""

from candidacy.derive.base import Inputs, Underivable, derives
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import EITHER, Options, Why, from_truth


@derives("pregnant")
def pregnant(inputs: Inputs) -> Options | None:
    """Yes by the answer or by a positive test, no by the answer. A negative test alone is no answer.

    An answer of no beside a positive test gives no value. The fact is as old as the statement that tells it.

    Source: every readable protocol excludes pregnancy (sheet on procedural safety, section 3); definition.
    """
    aside = inputs.apart(inputs.subject)
    status, test = aside.fact("pregnancy_status"), aside.fact("pregnancy_test_result")
    if Why.CONFLICTING in (status.why, test.why):
        inputs.refuse_conflicts("pregnancy_status", "pregnancy_test_result")
    answer, positive = aside.code("pregnancy_status"), aside.code("pregnancy_test_result") == "positive"
    if positive and answer == "not_pregnant":
        inputs.read += [status, test]
        raise Underivable(Why.CONFLICTING, "not pregnant by the answer, but the test is positive")
    if positive and answer is None:
        inputs.read.append(test)
        return from_truth(Truth.MET)
    inputs.read.append(status)
    if answer is not None:
        return from_truth(Truth.MET if answer == "pregnant" else Truth.NOT_MET)
    return EITHER if status.value is not None else None


@derives("pregnancy_to_be_asked")
def pregnancy_to_be_asked(inputs: Inputs) -> Options | None:
    """Yes where pregnancy is possible, or recorded; no for a male and where it is not possible.

    A recorded pregnancy, or a positive test, settles that pregnancy is possible. Both beside each other give no value.

    Source: definition.
    """
    inputs.refuse_conflicts("pregnancy_possible", "sex")
    recorded = inputs.code("pregnancy_status") == "pregnant"
    recorded |= inputs.code("pregnancy_test_result") == "positive"
    possible = inputs.truth("pregnancy_possible")
    yes = recorded or possible is Truth.MET
    no = possible is Truth.NOT_MET or inputs.code("sex") == "male"
    if yes and no:
        raise Underivable(
            Why.CONFLICTING, "recorded both as pregnant or able to be, and as male or not able to be"
        )
    return from_truth(Truth.MET if yes else Truth.NOT_MET) if yes or no else None
