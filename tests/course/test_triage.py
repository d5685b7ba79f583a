"""Triage after an injection: worst sign first, fever or not; the unknown never ends as no sign; nothing old is lost."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.check.cases import load_cases, run_case
from candidacy.course.content import content
from candidacy.course.due import due
from candidacy.course.triage import DANGER, read_signs, triage
from candidacy.rules.libraries import shipped
from tests.course.courses import course

SIGNS = [m.id for m in content().forms.get(DANGER).measures if m.kind == "yes_no"]
ALL_NO = dict.fromkeys(SIGNS, False)
NERVES = {"urinary_retention_or_incontinence", "faecal_incontinence", "saddle_numbness",
          "progressive_neurological_deficit", "bilateral_leg_symptoms"}  # fmt: skip
ORDER = [advice.id for advice in content().triage.advice]


def advice(answers, asked="2026-03-16"):
    return read_signs(answers, ("2026-03-02",), asked)[0].id


@pytest.mark.parametrize(
    ("change", "asked", "expected"),
    [
        ({}, "2026-03-16", "no_sign"),
        ({"back_pain_new_or_worse": True}, "2026-03-08", "see_soon"),
        ({"back_pain_new_or_worse": True}, "2026-03-09", "same_day"),
        ({"back_pain_new_or_worse": True}, "2026-03-30", "same_day"),
        ({"back_pain_new_or_worse": True}, "2026-03-31", "see_soon"),
        ({"fever": True}, "2026-03-03", "same_day"),
        ({"chills_or_rigors": True}, "2026-06-03", "same_day"),
        ({"c_reactive_protein": 10}, "2026-03-16", "no_sign"),
        ({"c_reactive_protein": 10.5}, "2026-03-16", "same_day"),
        ({"esr": 31}, "2026-03-16", "same_day"),
        ({"saddle_numbness": True, "fever": True}, "2026-03-16", "urgent"),
        # very severe pain is seen although it is called neither new nor worse, in any week
        ({"pain_now": 8}, "2026-03-16", "no_sign"),
        ({"pain_now": 9}, "2026-03-16", "see_soon"),
        ({"pain_average_week": 10}, "2026-03-04", "see_soon"),
        ({"pain_worst_week": 9}, "2026-06-16", "see_soon"),
        ({"pain_average_week_vas": 90}, "2026-03-16", "see_soon"),
        ({"pain_now": 10, "back_pain_new_or_worse": True}, "2026-03-16", "same_day"),
        ({"pain_now": 10, "saddle_numbness": True}, "2026-03-16", "urgent"),
    ],
)
def test_advice_follows_the_sign_and_the_week(change, asked, expected):
    assert advice(ALL_NO | change, asked) == expected


def test_pain_without_fever_is_reviewed_the_same_day_and_the_caution_is_always_said():
    found = course(lambda d: d["visits"][1].update(answers=ALL_NO | {"back_pain_new_or_worse": True}))
    seen = triage(found, date(2026, 3, 16))
    assert seen.answers[0].advice == "same_day"
    assert "normal temperature does not rule out discitis" in seen.always
    assert "weakened immune system" in seen.always  # no answer tells of it


@given(st.fixed_dictionaries({}, optional={sign: st.booleans() for sign in SIGNS}), st.integers(0, 60))
def test_the_unknown_never_ends_as_no_sign_and_a_further_sign_never_lessens_advice(answers, after):
    asked = date.fromordinal(date(2026, 3, 2).toordinal() + after).isoformat()
    first = advice(answers, asked)
    if set(answers) != set(SIGNS):
        assert first != "no_sign"
    if any(answers.get(sign) for sign in NERVES):
        assert first == "urgent"
    for sign in SIGNS:
        if answers.get(sign) is False:
            assert ORDER.index(advice(answers | {sign: True}, asked)) <= ORDER.index(first)


def test_earlier_answers_stay_and_it_is_told_when_to_ask_again():
    def signs(data):
        data["visits"][1]["answers"] = ALL_NO | {"fever": True}
        data["visits"][2]["answers"] = dict(ALL_NO)

    found = course(signs)
    seen = triage(found, date(2026, 4, 1))
    assert [each.advice for each in seen.answers] == ["no_sign", "same_day"]
    assert seen.ask == ""
    assert "day 5 after" in triage(course(), date(2026, 3, 7)).ask  # nobody has asked
    assert "last asked 8 days ago" in triage(found, date(2026, 3, 24)).ask
    assert triage(found, date(2026, 5, 1)).ask == ""  # the weeks are over


def test_an_answer_about_danger_is_read_although_its_day_is_in_doubt():
    def misdated(data):
        data["visits"][1] |= {"date": "2026-02-28", "answers": {"saddle_numbness": True}}
        data["visits"].sort(key=lambda visit: visit["date"])

    found = course(misdated)
    assert any(each.id == "visit_before" for each in found.notices())
    assert "urgent" in {each.advice for each in triage(found, date(2026, 3, 16)).answers}


@pytest.mark.parametrize("name", content().triage.criteria)
def test_cases_beside_each_criterion_come_to_every_outcome(name):
    library = shipped()
    cases, _ = load_cases(library.criterion_files()[name].with_name(f"{name}.cases.yaml"))
    assert {run_case(library, library.criterion(name), case).outcome for case in cases} == {
        "pass",
        "fail",
        "undetermined",
    }


def test_of_one_day_the_most_urgent_answer_stands_first():
    def twice(data):
        urgent = {"date": "2026-03-16", "kind": "unplanned", "answers": ALL_NO | {"saddle_numbness": True}}
        data["visits"][1]["answers"] = dict(ALL_NO)
        data["visits"].insert(2, urgent)

    assert [each.advice for each in triage(course(twice), date(2026, 3, 16)).answers] == ["urgent", "no_sign"]


def test_a_death_ends_asking_only_where_nothing_speaks_against_it():
    def died(data):
        data["visits"] = data["visits"][:1]
        data |= {"injections": data["injections"][:1], "procedures": [], "events": []}
        data["last_contact"] = {"date": "2026-03-05", "state": "died"}
        return data

    def seen_later(data):
        later = [
            {"date": "2026-03-16", "kind": "planned", "of": "weeks_2", "answers": {"pain_average_week": 5}}
        ]
        died(data)["visits"] += later

    def fatal(data):
        died(data).pop("last_contact")
        data["events"] = [{"id": 1, "what": "death", "began": "2026-03-05", "learned": "2026-03-05", "grade": 5,
                           "serious": ["death"], "outcome": "fatal"}]  # fmt: skip

    on = date(2026, 3, 20)
    assert triage(course(died), on).ask == triage(course(fatal), on).ask == ""
    assert "nobody has asked" in triage(course(seen_later), on).ask
    assert {row.visit for row in due(course(seen_later), on)} == {"call", "weeks_2"}
    assert due(course(died), on) == due(course(fatal), on) == ()


def test_a_very_severe_rating_speaks_although_nobody_asked_about_danger_signs():
    def rated(data, rating):
        data["visits"][1]["answers"] = {"pain_now": rating}

    severe = triage(course(lambda d: rated(d, 10)), date(2026, 3, 16))
    assert [each.advice for each in severe.answers] == ["ask_now"]
    assert severe.answers[0].reads  # says what was found and what to ask
    assert "nobody has asked" in severe.ask  # a rating is no answer about danger signs
    assert triage(course(lambda d: rated(d, 4)), date(2026, 3, 16)).answers == ()
