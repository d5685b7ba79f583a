"""Course records: what cannot be is refused with its place, what does not fit is told and not counted, nothing is lost."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.course.load import course_to_yaml, load_course, parse_course
from candidacy.course.scores import index_of_sections
from candidacy.foundation.errors import Code, CourseError
from tests.course.courses import changed, course


def problems(change):
    with pytest.raises(CourseError) as caught:
        course(change)
    return caught.value.problems


def test_a_whole_record_loads_without_a_notice_and_comes_back_as_it_was():
    found = course()
    assert found.notices(date(2026, 12, 1)) == ()
    assert found.counted(date(2026, 12, 1)) == found.record
    again = parse_course(course_to_yaml(found.record))
    assert (again.record, again.digest) == (found.record, found.digest)


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        (lambda d: d["injections"][0].update(date="2026-02-30"), Code.BAD_DATE, "injections.0.date"),
        (lambda d: d["visits"][1].update(date="2026-03"), Code.BAD_DATE, "visits.1.date"),
        (lambda d: d["injections"][0]["discs"][0].update(level="T12-L1"), Code.BAD_LEVEL, "injections.0.discs.0.level"),
        (lambda d: d["injections"][0]["discs"][0].update(level="L4/5"), Code.BAD_LEVEL, "injections.0.discs.0.level"),
        (lambda d: d["procedures"][0].update(levels=["C5-C6"]), Code.BAD_LEVEL, "procedures.0.levels.0"),
        (lambda d: d["injections"][1].update(id=1), Code.DUPLICATE_KEY, "injections.1.id"),
        (lambda d: d["events"].append(dict(d["events"][0])), Code.DUPLICATE_KEY, "events.1.id"),
        (lambda d: d["visits"][1].update(injection=3), Code.CONTRADICTION, "visits.1.injection"),
        (lambda d: d["visits"][1]["answers"].update(pain_average_week=11), Code.IMPOSSIBLE_VALUE, "visits.1.answers.pain_average_week"),
        (lambda d: d["visits"][1]["answers"].update(pain_average_week=4.5), Code.IMPOSSIBLE_VALUE, "visits.1.answers.pain_average_week"),
        (lambda d: d["visits"][1]["answers"].update(pain_average_week=True), Code.IMPOSSIBLE_VALUE, "visits.1.answers.pain_average_week"),
        (lambda d: d["visits"][1]["answers"].update(work_status="idle"), Code.BAD_CHOICE, "visits.1.answers.work_status"),
        (lambda d: d["visits"][1]["answers"].update(pain_avg=4), Code.UNKNOWN_ELEMENT, "visits.1.answers.pain_avg"),
        (lambda d: d["visits"][1]["answers"].update(eq5d_index=0.7), Code.MISSING_KEY, "visits.1.answers.eq5d_index"),
        (lambda d: d["visits"][1].update(unanswered={"pain_average_week": "declined"}), Code.CONTRADICTION, "visits.1.unanswered.pain_average_week"),
        (lambda d: d["events"][0].update(learned="2026-03-02"), Code.CONTRADICTION, "events.0.learned"),
        (lambda d: d["events"][0].update(ended="2026-03-02"), Code.CONTRADICTION, "events.0.ended"),
        (lambda d: d["events"][0].update(reported={"supplier": "2026-03-03"}), Code.CONTRADICTION, "events.0.reported.supplier"),
        (lambda d: d["events"][0].update(grade=5), Code.CONTRADICTION, "events.0.grade"),
        (lambda d: d["events"][0].update(outcome="fatal", grade=3), Code.CONTRADICTION, "events.0.outcome"),
        (lambda d: d["events"][0].update(serious=["death"]), Code.CONTRADICTION, "events.0.serious"),
        (lambda d: d["injections"][0].update(discharged="2026-03-01T18:00"), Code.CONTRADICTION, "injections.0.discharged"),
        (lambda d: d["injections"][0].update(discharged="2026-03-02"), Code.BAD_DATE, "injections.0.discharged"),
        (lambda d: d["injections"][0]["discs"][0].update(volume={"value": 1, "unit": "psi"}), Code.BAD_UNIT, "injections.0.discs.0.volume.unit"),
        (lambda d: d["injections"][0]["discs"][0].update(volume={"value": 0, "unit": "mL"}), Code.IMPOSSIBLE_VALUE, "injections.0.discs.0.volume.value"),
        (lambda d: d["injections"][0]["discs"][0].update(units=[{"thaw_began": "2026-03-02T10:00", "thaw_ended": "2026-03-02T09:00"}]), Code.CONTRADICTION, "injections.0.discs.0.units.0.thaw_ended"),
        (lambda d: d["visits"][1].update(sen="clinic"), Code.UNKNOWN_KEY, "visits.1.sen"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_field_value_and_what_is_allowed(change, code, field):
    (problem,) = problems(change)
    assert (problem.code, problem.field) == (code, field)
    assert problem.expected


def test_everything_wrong_is_told_at_once_with_lines_and_the_file_stays(tmp_path):
    text = course_to_yaml(course().record)
    broken = (
        text.replace("L4-L5", "L4/5")
        .replace("'2026-03-16'", "'2026-13-16'")
        .replace("pain_average_week: 4", "pain_average_week: 40")
    )
    path = tmp_path / "course.yaml"
    path.write_text(broken, encoding="utf-8")
    with pytest.raises(CourseError) as caught:
        load_course(path)
    assert [p.code for p in caught.value.problems] == [Code.BAD_LEVEL, Code.BAD_DATE, Code.IMPOSSIBLE_VALUE]
    lines = broken.splitlines()
    assert ["L4/5" in lines[p.line - 1] for p in caught.value.problems] == [True, False, False]
    assert "2026-13-16" in lines[caught.value.problems[1].line - 1]
    assert path.read_text(encoding="utf-8") == broken


@pytest.mark.parametrize(
    ("change", "kind", "held"),
    [
        (lambda d: d["visits"][1].update(date="2026-02-16"), "visit_before", {("visits", 1)}),
        (lambda d: d["visits"][0].update(date="2026-03-05"), "baseline_after", {("visits", 0)}),
        (lambda d: d["injections"][0]["discs"].append(d["injections"][0]["discs"][0]), "disc_twice", {("injections", 0)}),
        (lambda d: d["injections"][1]["discs"][0].update(level="L4-L5"), "disc_twice", {("injections", 0), ("injections", 1)}),
        (lambda d: d["injections"][1].update(date="2026-03-01"), "sessions_backwards", {("injections", 0), ("injections", 1)}),
        (lambda d: d["visits"][2].update(date="2026-03-10"), "planned_backwards", {("visits", 1), ("visits", 2)}),
        (lambda d: d["visits"][2].update(of="weeks_2"), "answered_twice", {("visits", 1), ("visits", 2)}),
        (lambda d: d["events"][0].update(began="2026-02"), "event_before", {("events", 0)}),
        (lambda d: (d["events"][0].update(grade=5), d["events"][0].pop("serious")), "grade_5_alone", {("events", 0)}),
        (lambda d: d["procedures"][0].update(date="2025-09-01"), "procedure_before", {("procedures", 0)}),
        (lambda d: d["last_contact"].update(state="died", date="2026-03-20"), "after_death", {("visits", 2), ("procedures", 0), ("injections", 1)}),
        (lambda d: d["last_contact"].update(state="lost", date="2026-03-20"), "contact_outdated", {("last_contact", 0)}),
        (lambda d: d["visits"].append({"date": "2027-01-05", "kind": "unplanned"}), "in_the_future", {("visits", 3)}),
        (lambda d: d["injections"][0].update(assessed={"on": "2026-02-20", "rule_set": "practice_baseline", "version": "0.1.0", "standing": "borderline"}), "went_on_unsaid", set()),
        (lambda d: d["injections"][0]["discs"][0].update(units=[{"lot": "A", "expires": "2026-02-01"}]), "unit_expired", set()),
        (lambda d: d["visits"][2].update(of="months_2"), "visit_not_planned", set()),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_told_not_counted_and_not_lost(change, kind, held):
    on = date(2026, 12, 1)
    found = course(change)
    (notice,) = [each for each in found.notices(on) if each.id == kind]
    assert notice.holds == held
    assert notice.way_out in str(notice)
    assert found.record.plain() == changed(change)  # nothing is lost
    kept = found.counted(on)
    for name, at in held:
        entry = getattr(found.record, name)
        entry = entry if name == "last_contact" else entry[at]
        left = getattr(kept, name)
        assert left is None if name == "last_contact" else entry not in left


def test_a_written_reason_resolves_a_second_injection_of_a_disc():
    def again(data):
        data["injections"][1]["discs"][0] |= {
            "level": "L4-L5",
            "again_because": "a second fissure, decided in conference",
        }

    assert course(again).notices(date(2026, 12, 1)) == ()


def test_nothing_that_follows_a_session_in_doubt_is_counted():
    kept = course(lambda d: d["injections"][1].update(date="2026-03-01")).counted()
    assert (kept.injections, kept.visits, kept.events) == ((), (), ())
    assert len(kept.procedures) == 1


def test_an_index_that_its_sections_cannot_give_is_refused():
    sections = {f"odi_section_{n}": 2 for n in range(1, 11)}
    assert index_of_sections(sections, {}) == 40
    (problem,) = problems(
        lambda d: d["visits"][1].update(answers=sections | {"oswestry_disability_index": 30})
    )
    assert problem.field == "visits.1.answers.oswestry_disability_index"
    # 16 of 45, as the scoring handout works it out
    nine = dict(zip(list(sections)[:9], (2, 2, 2, 2, 2, 2, 2, 1, 1), strict=True))
    assert index_of_sections(nine, {"odi_section_10": "declined"}) == pytest.approx(35.5, abs=0.1)
    assert index_of_sections(nine, {}) is None  # the tenth may have been answered
    assert (
        index_of_sections(dict(list(nine.items())[:7]), dict.fromkeys(list(sections)[7:], "declined")) is None
    )


@given(st.lists(st.integers(-400, 800), min_size=1, max_size=6), st.integers(-10, 900))
def test_moving_the_day_forward_only_ever_resolves_what_lay_in_the_future(offsets, later):
    """A notice about the future goes with time; no other notice depends on the day."""
    first = date(2026, 3, 2)

    def change(data):
        data["visits"] = [
            {"date": (first + timedelta(days=each)).isoformat(), "kind": "unplanned"}
            for each in sorted(offsets)
        ]

    found = course(change)
    now, then = (found.notices(first + timedelta(days=max(0, day))) for day in (0, later))
    rest = [n for n in now if n.id != "in_the_future"]
    assert rest == [n for n in then if n.id != "in_the_future"]
    ahead, still = ({n.about for n in each if n.id == "in_the_future"} for each in (now, then))
    assert still <= ahead


@pytest.mark.parametrize(
    ("name", "value", "unit", "told"),
    [("volume", 120, "mL", True), ("volume", 5.5, "ml", True), ("volume", 5, "mL", False), ("volume", 0.05, "mL", False),
     ("peak_pressure", 400, "psi", True), ("peak_pressure", 400, "kPa", False), ("peak_pressure", 1200, "kPa", True),
     ("peak_pressure", 0, "psi", False)],
)  # fmt: skip
def test_more_than_is_usual_in_a_disc_is_told_and_still_counted(name, value, unit, told):
    found = course(
        lambda data: data["injections"][0]["discs"][0].update({name: {"value": value, "unit": unit}})
    )
    assert [notice.id for notice in found.notices()] == ["unusual_quantity"] * told
    assert all(f"{value:g} {unit}" in str(notice) for notice in found.notices())
    assert found.counted() == found.record
