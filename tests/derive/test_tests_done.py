"""Whether a test was done: "not done" is an answer, a result shows that it was, and the two together are a contradiction."""

from typing import Any

import pytest

from candidacy.case.catalogue import catalogue
from candidacy.foundation.values import Why
from tests.views import case_of, fact_of, told

NOT_APPLICABLE = {"unknown": "not_applicable"}
# element -> the facts whose not applying means that it was not done
RESULTS = {
    "anaesthetic_test_done": (
        "anaesthetic_relief_reported",
        "anaesthetic_pain_before",
        "anaesthetic_pain_after",
    ),
    "facet_block_done": ("facet_block_result",),
    "sacroiliac_block_done": ("sacroiliac_block_result",),
    "bone_densitometry_done": ("bone_density_t_score_lowest",),
}
TRACES = [
    ("anaesthetic_test_done", {"anaesthetic_pain_before": 8}),
    ("anaesthetic_test_done", {"anaesthetic_relief_reported": {"value": 80, "unit": "%"}}),
    ("anaesthetic_test_done", {"anaesthetic_agent": "lidocaine"}),
    ("anaesthetic_test_done", {"anaesthetic_test_date": "2026-10-20"}),
    ("facet_block_done", {"facet_block_result": "positive"}),
    ("facet_block_done", {"facet_block_date": "2026-10-20"}),
    ("sacroiliac_block_done", {"sacroiliac_block_relief": {"value": 20, "unit": "%"}}),
    ("bone_densitometry_done", {"bone_density_t_score_lowest": -2.6}),
]  # fmt: skip


def done(element: str, facts: dict[str, Any]) -> Any:
    on_disc = catalogue()[element].scope == "disc"
    case = case_of(disc=facts) if on_disc else case_of(facts)
    return fact_of(element, case, "L4-L5" if on_disc else "patient")


@pytest.mark.parametrize(("element", "facts"), TRACES)
def test_any_fact_of_a_test_shows_that_it_was_done(element: str, facts: dict[str, Any]) -> None:
    found = done(element, facts)
    assert told(found) is True
    assert [part.element for part in found.derived_from] == list(facts)


@pytest.mark.parametrize("element", RESULTS)
def test_nothing_recorded_is_not_the_answer_no(element: str) -> None:
    found = done(element, {})
    assert (found.value, found.why) == (None, Why.NOT_RECORDED)
    assert told(done(element, {element: False})) is False


@pytest.mark.parametrize("element", RESULTS)
def test_results_recorded_as_not_applicable_say_that_it_was_not_done(element: str) -> None:
    absent = dict.fromkeys(RESULTS[element], NOT_APPLICABLE)
    assert told(done(element, absent)) is False
    for why in ("not_asked", "not_stated", "conflicting", "not_readable"):
        assert done(element, {name: {"unknown": why} for name in RESULTS[element]}).value is None


def test_one_score_that_does_not_apply_says_nothing_of_the_test() -> None:
    assert done("anaesthetic_test_done", {"anaesthetic_pain_before": NOT_APPLICABLE}).value is None


@pytest.mark.parametrize(
    ("element", "trace"),
    [
        ("anaesthetic_test_done", {"anaesthetic_test_date": "2026-10-20"}),
        ("facet_block_done", {"facet_block_relief": {"value": 80, "unit": "%"}}),
        ("sacroiliac_block_done", {"sacroiliac_block_date": "2026-10-20"}),
    ],
)
def test_not_applicable_beside_another_fact_of_the_test_is_a_contradiction(
    element: str, trace: dict[str, Any]
) -> None:
    found = done(element, {**dict.fromkeys(RESULTS[element], NOT_APPLICABLE), **trace})
    assert (found.value, found.why) == (None, Why.CONFLICTING)


# --- discography


@pytest.mark.parametrize(
    ("patient", "disc", "expected"),
    [
        ({"discography_levels": []}, {}, False),
        ({"discography_levels": NOT_APPLICABLE}, {}, False),
        ({"discography_done": False}, {}, False),
        ({"discography_levels": ["L4-L5"]}, {}, True),
        ({"discography_date": "2026-10-20"}, {}, True),
        ({"discography_manometry": True}, {}, True),
        ({}, {"discography_concordance": "exact"}, True),
        ({"discography_manometry": False}, {}, None),
        ({"discography_levels": {"unknown": "not_asked"}}, {}, None),
        ({}, {}, None),
    ],
)
def test_whether_discography_was_done(
    patient: dict[str, Any], disc: dict[str, Any], expected: bool | None
) -> None:
    assert told(fact_of("discography_done", case_of(patient, disc=disc))) is expected


@pytest.mark.parametrize(
    ("patient", "disc"),
    [
        ({"discography_levels": [], "discography_date": "2026-10-20"}, {}),
        ({"discography_levels": NOT_APPLICABLE, "discography_date": "2026-10-20"}, {}),
        ({"discography_levels": [], "discography_ct_done": True}, {}),
        ({"discography_levels": []}, {"discography_concordance": "exact"}),
        ({"discography_levels": []}, {"discography_leak": False}),
    ],
)
def test_no_disc_injected_beside_findings_of_it_is_a_contradiction(
    patient: dict[str, Any], disc: dict[str, Any]
) -> None:
    found = fact_of("discography_done", case_of(patient, disc=disc))
    assert (found.value, found.why) == (None, Why.CONFLICTING)


def test_a_disc_has_no_class_where_no_discography_was_done_and_a_conflict_where_it_has_findings() -> None:
    case = case_of({"discography_done": False})
    assert fact_of("discography_class", case, "L4-L5").why is Why.DOES_NOT_APPLY
    case = case_of({"discography_levels": []}, disc={"discography_concordance": "exact"})
    assert fact_of("discography_class", case, "L4-L5").why is Why.CONFLICTING
