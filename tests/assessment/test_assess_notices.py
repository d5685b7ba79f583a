"""Notices of an assessment about dates that do not fit the day for which it is made."""

from datetime import date

import pytest

from candidacy.assessment.assess import assess
from candidacy.rules.libraries import load_rule_set
from tests.views import case_of

DAY = date(2026, 11, 25)


def notices(planned: object) -> list[str]:
    found = assess(
        case_of({"planned_procedure_date": planned}), load_rule_set("procedural_safety"), DAY
    ).notices
    return [notice for notice in found if "planned procedure date" in notice]


@pytest.mark.parametrize("planned", ["2026-11-24", "2026-10", "2025", {"not_after": "2026-11-24"}])
def test_a_planned_date_before_the_day_of_the_assessment_is_pointed_out(planned: object) -> None:
    (notice,) = notices(planned)
    assert "before the as-of date" in notice


@pytest.mark.parametrize("planned", ["2026-11-25", "2026-11-26", "2026-11", {"unknown": "not_stated"}])
def test_a_planned_date_that_may_still_come_is_not(planned: object) -> None:
    assert notices(planned) == []
