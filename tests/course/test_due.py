"""Visits due and overdue: the published days, month ends, and laws that hold on every course and day."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.course.content import content
from candidacy.course.due import due, visits_of, window
from candidacy.course.load import course_from_mapping
from candidacy.foundation.dates import day

PLANNED = tuple(visit.id for visit in content().visits.visits)


def of(injected, visits=(), contact=None):
    data = {
        "schema_version": "1",
        "case": "case-1",
        "injections": [
            {"id": 1, "date": injected, "discs": [{"level": "L4-L5", "material": "donated disc tissue"}]}
        ],
        "visits": [{"date": on, "kind": "planned", "of": name} for name, on in visits],
    }
    return course_from_mapping(data | ({"last_contact": contact} if contact else {}))


def days(injected):
    return {row.visit: row.on for row in visits_of(of(injected), day(injected))}


@pytest.mark.parametrize(
    ("injected", "expected"),
    [  # worked values of the reference sheet on follow-up
        ("2026-12-02", {"weeks_2": "2026-12-16", "months_1": "2027-01-02", "months_3": "2027-03-02",
                        "months_6": "2027-06-02", "months_12": "2027-12-02"}),
        ("2026-08-31", {"months_1": "2026-09-30", "months_3": "2026-11-30", "months_6": "2027-02-28",
                        "months_12": "2027-08-31"}),
        ("2028-02-29", {"months_12": "2029-02-28"}),
    ],
)  # fmt: skip
def test_visits_fall_on_the_published_days_and_month_ends_are_clipped(injected, expected):
    found = days(injected)
    assert {name: found[name] for name in expected} == expected


def test_a_window_opens_and_closes_and_only_then_a_visit_is_overdue():
    def state(on):
        return {row.visit: row.state for row in visits_of(of("2026-03-02"), day(on))}["months_3"]

    assert [state(on) for on in ("2026-05-18", "2026-05-19", "2026-06-16", "2026-06-17")] == [
        "not_yet", "due", "due", "overdue",
    ]  # fmt: skip


def test_after_death_or_withdrawal_nothing_more_is_due_and_what_was_never_done_is_missed():
    rows = visits_of(of("2026-03-02", contact={"date": "2026-05-01", "state": "died"}), date(2027, 12, 1))
    states = {row.visit: row.state for row in rows}
    assert states["weeks_2"] == states["months_1"] == "missed"
    assert states["months_3"] == states["months_12"] == "not_expected"
    lost = visits_of(of("2026-03-02", contact={"date": "2026-05-01", "state": "lost"}), date(2027, 12, 1))
    assert {row.state for row in lost if row.visit != "baseline"} == {
        "overdue"
    }  # somebody should look for them


def test_a_visit_kept_out_of_counts_does_not_make_it_done():
    course = of("2026-03-02", [("weeks_2", "2026-02-16")])
    assert course.notices()
    assert "weeks_2" in {row.visit for row in due(course, date(2026, 3, 16))}


def test_a_visit_outside_its_window_is_done_and_says_so():
    rows = {
        row.visit: row for row in visits_of(of("2026-03-02", [("weeks_2", "2026-04-01")]), date(2026, 4, 2))
    }
    assert (rows["weeks_2"].state, rows["weeks_2"].done_on, rows["weeks_2"].outside) == (
        "done",
        "2026-04-01",
        True,
    )


courses = st.builds(
    lambda start, done, lost: of(
        (date(2026, 1, 1) + timedelta(days=start)).isoformat(),
        [
            (v.id, window(v, date(2026, 1, 1) + timedelta(days=start))[0].isoformat())
            for v in content().visits.visits if v.id in done
        ],
        {"date": (date(2026, 1, 1) + timedelta(days=start + lost)).isoformat(), "state": "withdrew"} if lost else None,
    ),
    st.integers(0, 400),
    st.sets(st.sampled_from(PLANNED)),
    st.sampled_from((0, 0, 200)),
)  # fmt: skip


@given(courses, st.integers(0, 1000), st.integers(0, 1000))
def test_due_never_names_a_done_visit_and_time_never_makes_overdue_not_due(course, one, other):
    start = day(course.record.injections[0].date)
    earlier, later = sorted((start + timedelta(days=one), start + timedelta(days=other)))
    for on in (earlier, later):
        done = {v.of for v in course.counted(on).visits}
        assert not done & {row.visit for row in due(course, on)}
        assert all((row.state == "overdue") == (row.closes < on.isoformat()) for row in due(course, on))
    settled = {v.of for v in course.counted(later).visits}
    contact = course.counted(later).last_contact
    before = {row.visit for row in due(course, earlier) if row.state == "overdue"} - settled
    after = {
        row.visit
        for row in visits_of(course, later)
        if row.state == "overdue" or (contact and row.state == "missed")
    }
    assert before <= after
