"""Adverse events: grade and seriousness are two questions, and time limits are dates to be checked."""

from datetime import date

from candidacy.course.clocks import deadlines
from candidacy.course.content import content
from candidacy.course.record import Event

NOW = date(2026, 12, 28)


def event(**given):
    return Event.model_validate(
        {"id": 1, "what": "discitis", "began": "2026-12-20", "learned": "2026-12-24"} | given
    )


def limits(**given):
    return {each.clock: each for each in deadlines(event(**given), NOW)}


def test_pain_that_limits_self_care_is_grade_3_and_seriousness_depends_on_admission_alone():
    # check value 76: the same pain at home, and admitted
    (grade,) = [each.grade for each in content().events.grades if "limits_self_care" in each.signs]
    assert grade == 3
    at_home = limits(grade=3, serious=[], communicable="no")
    assert at_home == {}  # a high grade alone starts no clock
    admitted = limits(grade=3, serious=["hospital_stay"], communicable="no")
    assert "supplier" in admitted
    assert "establishment" not in admitted


def test_discitis_with_admission_asks_whether_a_communicable_disease_came_with_the_material():
    # check value 77
    found = limits(serious=["hospital_stay"], relation="possibly_related")
    assert found["supplier"].runs == "yes"
    assert (found["establishment"].runs, found["establishment"].unjudged) == ("perhaps", ("communicable",))
    judged = limits(serious=["hospital_stay"], relation="possibly_related", communicable="yes")
    assert judged["establishment"].runs == "yes"


def test_fifteen_calendar_days_over_the_turn_of_the_year():
    # check value 78; and from the safety sheet, 1 March to 16 March
    found = limits(serious=["hospital_stay"], communicable="yes", relation="related")["establishment"]
    assert (found.by, found.late) == ("2027-01-08", False)
    assert "Check your duty" in found.check
    march = event(
        serious=["death"], grade=5, outcome="fatal", communicable="yes", began="2026-02", learned="2026-03-01"
    )
    (late,) = [each for each in deadlines(march, NOW) if each.clock == "establishment"]
    assert (late.by, late.late) == ("2026-03-16", True)
    reported = event(
        serious=["death"], grade=5, outcome="fatal", communicable="yes", began="2026-02", learned="2026-03-01",
        reported={"establishment_to_fda": "2026-03-10"},
    )  # fmt: skip
    assert not [each for each in deadlines(reported, NOW) if each.clock == "establishment" and each.late]


def test_what_nobody_judged_may_run_and_what_was_judged_otherwise_does_not():
    unjudged = limits()
    assert {each.runs for each in unjudged.values()} == {"perhaps"}
    assert "serious" in unjudged["establishment"].unjudged
    assert limits(serious=["hospital_stay"], communicable="yes", relation="not_related") == {}


def test_a_report_of_a_later_day_is_not_yet_made_and_what_was_not_judged_denies_no_limit():
    sent = event(serious=["death"], grade=5, outcome="fatal", reported={"supplier": "2026-12-30"})
    before, after = (
        {each.clock: each for each in deadlines(sent, on)}["supplier"] for on in (NOW, date(2026, 12, 30))
    )
    assert (before.reported, before.late) == ("", True)
    assert (after.reported, after.late) == ("2026-12-30", False)
    shipped = content().events
    strict = [clock.model_copy(update={"relation": ("related",)}) for clock in shipped.clocks]
    (first, *_) = deadlines(sent, NOW, shipped.model_copy(update={"clocks": tuple(strict)}))
    assert (first.runs, "relation" in first.unjudged) == ("perhaps", True)
