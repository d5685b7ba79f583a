"""Which statement settles pregnancy and the time free of cancer; a contradiction settles neither. Rules are definitions."""

from typing import Any

import pytest

from candidacy.foundation.values import Options, Span, Why, point
from tests.views import case_of, fact_of

YES, NO = Options(frozenset((True,))), Options(frozenset((False,)))


def worked_out(element: str, **facts: Any) -> Any:
    return fact_of(element, case_of(facts), "patient")


@pytest.mark.parametrize(
    ("facts", "pregnant", "asked"),
    [
        ({"pregnancy_status": "pregnant"}, YES, YES),
        ({"pregnancy_test_result": "positive"}, YES, YES),
        ({"pregnancy_test_result": "negative", "pregnancy_possible": True}, None, YES),
        ({"pregnancy_status": "not_pregnant"}, NO, None),
        ({"sex": "male"}, None, NO),
        ({"pregnancy_possible": False}, None, NO),
        ({"sex": "female"}, None, None),
    ],
)
def test_pregnancy_by_what_is_recorded(facts: dict[str, Any], pregnant: object, asked: object) -> None:
    assert worked_out("pregnant", **facts).value == pregnant
    assert worked_out("pregnancy_to_be_asked", **facts).value == asked


def test_pregnancy_that_is_contradicted_is_not_known() -> None:
    both = {"pregnancy_status": "not_pregnant", "pregnancy_test_result": "positive"}
    assert worked_out("pregnant", **both).why is Why.CONFLICTING
    for no in ({"sex": "male"}, {"pregnancy_possible": False}):
        assert worked_out("pregnancy_to_be_asked", pregnancy_status="pregnant", **no).why is Why.CONFLICTING


def test_time_free_of_cancer_by_whichever_is_known() -> None:
    # as of 2026-11-25: five years to the day are 60 completed months
    assert worked_out("time_free_of_cancer", cancer_last_treatment_date="2021-11-25").value == point(60)
    assert worked_out("time_free_of_cancer", cancer_last_treatment_date="2021-11-26").value == point(59)
    stated = {"cancer_free_duration": {"value": 50, "unit": "month"}}
    assert worked_out("time_free_of_cancer", **stated).value == point(50)
    differ = worked_out("time_free_of_cancer", cancer_last_treatment_date="2021-11-25", **stated)
    assert (differ.value, differ.why) == (None, Why.CONFLICTING)
    at_least = {"cancer_free_duration": {"at_least": 48, "unit": "month"}}
    both = worked_out("time_free_of_cancer", cancer_last_treatment_date="2021", **at_least)
    assert both.value == Span(58, 70)
    after = worked_out("time_free_of_cancer", cancer_last_treatment_date="2026-12-01")
    assert (after.value, after.why) == (None, Why.CONFLICTING)
