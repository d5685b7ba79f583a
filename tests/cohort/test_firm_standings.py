"""How many cases of a cohort stand within measurement error of another standing."""

import shutil

import pytest

import candidacy
from candidacy.firm.firmness import firmness
from candidacy.foundation.shipped import demo_cases_folder


@pytest.fixture(scope="module")
def cohort(tmp_path_factory):  # type: ignore[no-untyped-def]
    names = (
        "one-disc-candidate",
        "two-discs-candidate",
        "pregnant",
        "stale-mri",
        "narrow-trial-criteria-met",
    )
    folder = tmp_path_factory.mktemp("cases")
    for name in names:
        shutil.copy(demo_cases_folder() / f"{name}.yaml", folder)
    with candidacy.screen(folder, as_of="2026-12-02") as found:
        yield found


def test_each_case_counts_as_it_would_by_itself(cohort) -> None:  # type: ignore[no-untyped-def]
    rows = cohort.firm(limit=0.06).set_index("standing")
    singles = [firmness(cohort.open_case(each)).case for each in cohort.outcomes()["case_id"]]
    for standing, row in rows.iterrows():
        of_it = [each for each in singles if each.now == standing]
        told = [each for each in of_it if each.crosses is not None]
        assert row["cases"] == row["asked"] == len(of_it)
        assert row["told"] == len(told)
        assert row["moving"] == sum(each.crosses > 0.06 for each in told)
    assert rows.loc["candidate", "moving"] == 2
    assert rows.loc["candidate", "share"] == pytest.approx(2 / 3)
    assert rows.loc["not_candidate", "told"] == 0


def test_a_sample_is_stated_and_comes_again_from_its_seed(cohort) -> None:  # type: ignore[no-untyped-def]
    found = cohort.firm(sample=2, seed=5)
    assert found["asked"].sum() == 2
    assert found["cases"].sum() == 5
    assert found.equals(cohort.firm(sample=2, seed=5))


@pytest.mark.parametrize("asked", [{"sample": 0}, {"limit": 1.5}, {"limit": -0.1}])
def test_a_sample_or_limit_that_cannot_be_is_refused(cohort, asked) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=r"a sample of|a limit of"):
        cohort.firm(**asked)
