"""Severe central stenosis over three scales that are never converted: agreement, contradiction, dates."""

from typing import Any

import pytest

from candidacy.foundation.values import Why
from tests.views import case_of, fact_of, told


def severe(patient: dict[str, Any] | None = None, **disc: Any) -> Any:
    return fact_of("severe_central_stenosis", case_of(patient, disc), "L4-L5")


@pytest.mark.parametrize(
    ("disc", "expected"),
    [
        ({"canal_stenosis": "mild", "schizas_grade": "A2"}, False),
        ({"canal_stenosis": "severe", "lee_central_grade": 3}, True),
        ({"canal_stenosis": {"one_of": ["moderate", "severe"]}, "schizas_grade": "C"}, True),
        ({"canal_stenosis": {"one_of": ["moderate", "severe"]}, "schizas_grade": "B"}, False),
        ({"canal_stenosis": {"one_of": ["moderate", "severe"]}}, {True, False}),
        ({"lee_central_grade": {"at_least": 2}}, {True, False}),
        ({"lee_central_grade": {"at_most": 2}}, False),
    ],
)
def test_one_scale_is_enough_and_a_vague_one_is_settled_by_another(disc: Any, expected: Any) -> None:
    assert told(severe(**disc)) == expected


@pytest.mark.parametrize(
    "disc",
    [
        {"canal_stenosis": "moderate", "schizas_grade": "D"},
        {"canal_stenosis": "severe", "lee_central_grade": 1},
        {"schizas_grade": "C", "lee_central_grade": 2, "canal_stenosis": "severe"},
    ],
)
def test_scales_that_contradict_each_other_conclude_nothing(disc: Any) -> None:
    found = severe(**disc)
    assert (found.value, found.why) == (None, Why.CONFLICTING)
    assert {part.element for part in found.derived_from} == set(disc)


def test_nothing_stated_asks_for_words_alone() -> None:
    found = severe(disc_desiccation=True)
    assert (found.value, found.why) == (None, Why.INPUT_MISSING)
    assert [part.element for part in found.derived_from] == ["canal_stenosis"]


@pytest.mark.parametrize(
    ("words_date", "grade_date", "study_date", "dated_by"),
    [
        ("2026-09-14", "2023-01-10", None, "canal_stenosis"),
        ("2023-01-10", "2026-09-14", None, "schizas_grade"),
        (None, "2023-01-10", None, "schizas_grade"),
        (None, "2023-01-10", "2026-09-14", "canal_stenosis"),
    ],
)
def test_scales_that_agree_are_as_old_as_the_freshest(
    words_date: str | None, grade_date: str | None, study_date: str | None, dated_by: str
) -> None:
    def dated(value: str, day: str | None) -> dict[str, Any]:
        return {"value": value} | ({"date": day} if day else {})

    study = {"lumbar_mri_date": study_date} if study_date else {}
    found = severe(study, canal_stenosis=dated("mild", words_date), schizas_grade=dated("A1", grade_date))
    assert [part.element for part in found.derived_from] == [dated_by]
