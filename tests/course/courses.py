"""A small course record for tests; invented."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

from candidacy.course.load import Course, course_from_mapping

PLAIN: dict[str, Any] = {
    "schema_version": "1",
    "case": "case-1",
    "invented": True,
    "injections": [
        {"id": 1, "date": "2026-03-02", "discs": [{"level": "L4-L5", "material": "donated disc tissue"}]},
        {"id": 2, "date": "2026-06-01", "discs": [{"level": "L5-S1", "material": "donated disc tissue"}]},
    ],
    "visits": [
        {"date": "2026-03-01", "kind": "baseline", "answers": {"pain_average_week": 7}},
        {"date": "2026-03-16", "kind": "planned", "of": "weeks_2", "answers": {"pain_average_week": 5}},
        {"date": "2026-04-01", "kind": "planned", "of": "months_1", "answers": {"pain_average_week": 4}},
    ],
    "events": [{"id": 1, "what": "pain_flare", "began": "2026-03-03", "learned": "2026-03-04", "grade": 2, "serious": []}],
    "procedures": [{"date": "2026-09-01", "kind": "surgery"}],
    "last_contact": {"date": "2026-09-20", "state": "in_follow_up"},
}  # fmt: skip


def changed(change: Callable[[dict[str, Any]], object] = lambda data: None) -> dict[str, Any]:
    """The plain record after a change."""
    data = deepcopy(PLAIN)
    change(data)
    return data


def course(change: Callable[[dict[str, Any]], object] = lambda data: None) -> Course:
    """The loaded record after a change."""
    return course_from_mapping(changed(change), "course.yaml")
