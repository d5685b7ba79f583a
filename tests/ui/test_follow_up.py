"""Follow-up: nothing is preselected, an entry goes into the record as written, advice and notices stand above everything."""

import pytest

from candidacy.course.content import content
from candidacy.course.filled import forms_of
from candidacy.course.load import parse_course
from candidacy.foundation.shipped import demo_cases_folder

VIEW = "follow_up.page.follow_up"
SIGNS = [m.id for m in content().forms.get("danger_signs").measures if m.kind == "yes_no"]


def text(name: str) -> str:
    return (demo_cases_folder() / "courses" / f"{name}.yaml").read_text(encoding="utf-8")


def opened(screen, name="one-disc", **kept):
    kept = {
        "follow-text": text(name),
        "follow-name": f"{name}.yaml",
        "follow-version": 0,
        "follow-day": "2026-10-05",
    } | kept
    return screen(VIEW, **kept)


def test_what_is_due_stands_there_and_what_does_not_fit_is_told_first(screen):
    page = screen(VIEW)
    assert "no course record is open" in page.text
    page.press("follow-demo-one-disc")
    page.type("follow-day", "2026-10-05")
    assert "overdue" in page.text
    assert "A normal temperature does not rule out discitis" in page.text
    page = opened(screen, "told-not-lost")
    assert page.text.index("What does not fit") < page.text.index("Triage")
    assert page.text.count("Not counted until then") == 3
    page.type("follow-day", "2026-02-31")
    assert "this day does not exist" in page.text


def test_a_visit_is_entered_without_a_preselected_answer_and_keeps_every_comment(screen):
    page = opened(screen, **{"follow-view": "Enter a visit"})
    page.pick("follow-visit", "1 months_6")
    start = "follow-answer-1-months_6"
    fields = [m for form in forms_of("months_6") for m in form.measures]
    for measure in fields:
        kinds = [
            k for k in ("button_group", "selectbox", "text_input") if page.has(k, f"{start}-{measure.id}")
        ]
        assert [page.value(k, f"{start}-{measure.id}") or None for k in kinds] == [None]
        assert page.value("selectbox", f"{start}-{measure.id}-why") is None
    page.type("follow-visit-date", "2026-09-04").press("follow-add-visit")
    assert "it is not said how the answers were got" in page.text
    page.tap("follow-visit-seen", "clinic").press("follow-add-visit")
    assert page.text.count("neither answered nor explained") > 5
    assert page.desk.kept["follow-text"] == text("one-disc")
    for name, answer in (("pain_average_week", 3), ("opioid_use", "no"), ("any_later_procedure", "no")):
        page.tap(f"{start}-{name}", answer)
    page.type(f"{start}-oswestry_disability_index", "22,5").press("follow-add-visit")
    assert "not a number" in page.text
    page.type(f"{start}-oswestry_disability_index", "22.5")
    page.pick(f"{start}-work_status", "working").pick(f"{start}-satisfaction", "satisfied")
    page.pick(f"{start}-pain_medicines_change-why", "declined").press("follow-add-visit")
    assert "Six months of 2026-09-04 was added" in page.text
    made = page.desk.kept["follow-text"]
    visit = parse_course(made).record.visits[-1]
    assert (visit.of, visit.answers["oswestry_disability_index"], visit.answers["opioid_use"]) == (
        "months_6",
        22.5,
        False,
    )
    assert visit.unanswered == {"pain_medicines_change": "declined"}
    assert [line for line in text("one-disc").splitlines() if line.lstrip().startswith("#")] == [
        line for line in made.splitlines() if line.lstrip().startswith("#")
    ]


def test_rising_pain_without_fever_on_an_entered_visit_brings_same_day_review(screen):
    data = text("one-disc").replace("back_pain_new_or_worse: false", "back_pain_new_or_worse: true")
    page = opened(screen, **{"follow-text": data, "follow-day": "2026-03-16"})
    assert "Same-day review" in page.text
    assert any("alarm" in body and "Same-day review" in body for body in page.bodies)


def test_grade_and_seriousness_are_asked_apart_and_both_are_needed(screen):
    page = opened(screen, **{"follow-view": "Enter an event"})
    page.press("follow-add-event")
    for name in ("grade", "serious", "relation", "communicable", "learned"):
        assert name in page.text
    page.pick("follow-event-what", "discitis").pick("follow-event-injection", 1)
    page.type("follow-event-began", "2026-03-20").type("follow-event-learned", "2026-12-24")
    page.pick("follow-event-grade", "3").tap("follow-event-serious", "serious").press("follow-add-event")
    assert "why it is serious" in page.text  # a high grade alone makes nothing serious
    page.at.multiselect(key="follow-event-reasons").set_value(["hospital_stay"])
    page.run()
    for name, answer in (("expected", "no"), ("relation", "possibly_related"), ("communicable", "not_known"),
                         ("outcome", "ongoing")):  # fmt: skip
        page.pick(f"follow-event-{name}", answer)
    page.press("follow-add-event")
    event = parse_course(page.desk.kept["follow-text"]).record.events[-1]
    assert (event.grade, event.serious, event.communicable) == (3, ("hospital_stay",), "not_known")
    page.tap("kept-follow-view", "Visits and events")
    assert "By 2027-01-08" in page.text
    assert "May run; judge communicable" in page.text


def test_a_course_goes_into_the_store_and_comes_back_with_its_version(screen, monkeypatch, tmp_path):
    pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")
    from candidacy.records.store import open_store
    from tests.records.kept import record

    place = tmp_path / "private" / "records.sqlite"
    with open_store(place, "ana-1", role="physician") as store:
        store.save_case("demo-one-disc", record("demo-one-disc"), expected_version=0)
    monkeypatch.setenv("CANDIDACY_STORE", str(place))
    monkeypatch.setenv("CANDIDACY_PERSON", "ana-1")
    page = opened(screen)
    page.press("follow-save")
    assert "Kept as course version 1 of demo-one-disc" in page.text
    page.type("follow-reference", "unknown-1").press("follow-load")
    assert "no such referral is kept" in page.text
    page.type("follow-reference", "demo-one-disc").press("follow-load")
    assert "Course version 1 of demo-one-disc is open" in page.text
    assert page.desk.kept["follow-version"] == 1
