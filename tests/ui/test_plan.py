"""The Plan page: what stands against the day first, a day that moves, files that are refused, and no plan in an emergency."""

from datetime import date

import pytest

pytest.importorskip("icalendar", reason="a plan needs an extra")

from tests.ui.conftest import demo

PAGE = "plan.page.plan_page"


def test_conflicts_come_before_the_timeline_and_the_steps(screen) -> None:
    page = screen(PAGE, demo("discography-nine-days-ago"))
    text = page.text
    places = [
        text.index(words)
        for words in (
            "No day exists before 2026-12-15 because",
            "Do not order yet",
            "Consent talk",
            "Visit at 12 months",
            "Cost notice",
        )
    ]
    assert places == sorted(places)
    assert any(
        "data:image/svg+xml;base64," in body and "Timeline around 2026-12-10." in body for body in page.bodies
    )


def test_moving_the_day_moves_the_plan_and_says_what_changed(screen) -> None:
    page = screen(PAGE, demo("discography-nine-days-ago"))
    page._find("date_input", "plan-day-field").set_value(date(2026, 12, 15))
    page.run()
    assert page.desk.kept["plan-day"] == "2026-12-15"
    assert "Moved from 2026-12-10" in page.text
    assert "moved: Visit at 2 weeks: 2026-12-24 -> 2026-12-29" in page.text
    assert "no longer against the day: L4-L5: Too soon after discography" in page.text
    page.tap("kept-plan-by", "Day")
    assert "By day" in page.text


def test_a_day_belongs_to_its_referral(screen) -> None:
    page = screen(PAGE, demo("discography-nine-days-ago"))
    page._find("date_input", "plan-day-field").set_value(date(2027, 1, 11))
    page.run()
    page.desk.open(demo("one-disc-candidate"), "another")
    page.run()
    assert "Against Monday 2027-01-11" not in page.text
    assert "Against Thursday 2026-12-10" in page.text


def test_an_emergency_shows_the_act_and_no_step(screen) -> None:
    page = screen(PAGE, demo("cauda-equina-signs"))
    assert "outranks this program" in page.text
    assert "Visit at" not in page.text


def test_an_empty_desk_asks_for_a_referral(screen) -> None:
    assert "Open a referral first" in screen(PAGE).text


def test_entries_of_another_case_are_told_with_their_place_and_nothing_is_planned_on_them(screen) -> None:
    kept = {"plan-entries": ("entries.yaml", 'schema_version: "1"\ncase: somebody-else\n')}
    page = screen(PAGE, demo("one-disc-candidate"), **kept)
    assert "these entries are of another case" in page.text
    assert "Visit at" not in page.text


def test_entries_and_calendar_count(screen) -> None:
    kept = {
        "plan-entries": (
            "entries.yaml",
            'schema_version: "1"\ncase: one-disc-candidate\norder_lead_days: 3\n',
        ),
        "plan-calendar": ("ours.yaml", 'holidays: [{date: "2026-12-14", name: Practice closed}]\n'),
        "plan-day": "2026-12-17",
    }
    page = screen(PAGE, demo("one-disc-candidate"), **kept)
    assert "Before the material is ordered, 2026-12-11" in page.text
