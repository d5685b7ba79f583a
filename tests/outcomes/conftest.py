"""The invented year of a clinic, counted once for all tests that look at it."""

import pytest

from candidacy.foundation.shipped import demo_cases_folder
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.practice import read_practice
from candidacy.rules.libraries import shipped
from tests.outcomes.made import TODAY


@pytest.fixture(scope="session")
def year() -> Outcomes:
    practice = read_practice(demo_cases_folder() / "clinic_year", TODAY)
    return Outcomes(practice, shipped(), declared="pain_half")
