"""Course records made up for a test."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from candidacy.course.load import course_from_mapping
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.practice import Practice, practice_of
from candidacy.rules.libraries import shipped

TODAY = date(2026, 11, 30)
INJECTED = "2025-03-10"
MONTH_12, MONTH_6 = "2026-03-12", "2025-09-10"


def visit(when: str, of: str = "months_12", **answers: object) -> dict[str, Any]:
    kind = "planned" if of else "baseline"
    return {"date": when, "kind": kind, "answers": answers} | ({"of": of} if of else {})


def course(
    *visits: dict[str, Any], injected: str = INJECTED, case: str = "M-1", **more: Any
) -> dict[str, Any]:
    """One disc injected, pain 7 and disability 50 before, and what comes after."""
    disc = {"level": "L4-L5", "material": "donated disc tissue"}
    before = {"date": injected, "kind": "baseline",
              "answers": {"pain_average_week": 7, "pain_average_week_vas": 70, "oswestry_disability_index": 50}}  # fmt: skip
    return {
        "schema_version": "1",
        "case": case,
        "injections": [{"id": 1, "date": injected, "discs": [disc]}],
        "visits": [before, *visits],
    } | more


def practice(*courses: Mapping[str, Any], on: date = TODAY) -> Practice:
    return practice_of(((course_from_mapping(each), None) for each in courses), on)


def outcomes(*courses: Mapping[str, Any], on: date = TODAY, **more: Any) -> Outcomes:
    return Outcomes(practice(*courses, on=on), shipped(), **more)


def answer(found: Outcomes, definition: str, at: str = "") -> str:
    return found.answers(definition, at)[0]
