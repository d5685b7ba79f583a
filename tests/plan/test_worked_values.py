"""The worked values V37 to V47 of the reference sheet, each beside its source."""

from datetime import date

import pytest

from candidacy.plan.changes import Earlier, with_changes
from candidacy.plan.cost import estimate_band, modifier
from candidacy.plan.dated import day_of
from candidacy.plan.ics import plan_calendar
from candidacy.plan.plan_file import When
from tests.plan.plans import made, rules, step


def _lines(calendar: bytes) -> list[bytes]:
    return calendar.split(b"\r\n")


def _unfolded(calendar: bytes) -> str:
    return calendar.replace(b"\r\n ", b"").decode()


def _with(title: str, says: list[str] | None = None, due: str = "2026-12-02"):
    plan = made("first-letter-only", date(2026, 12, 14))
    only = plan.steps[0].model_copy(update={"title": title, "due": due, "says": says or []})
    return plan.model_copy(update={"steps": [only]})


def test_v38_an_all_day_event_ends_on_the_next_day_which_is_not_part_of_it() -> None:
    # V37 and V38: RFC 5545, DTEND is not inclusive
    text = _unfolded(plan_calendar(_with("Call")))
    assert "DTSTART;VALUE=DATE:20261202\r\nDTEND;VALUE=DATE:20261203\r\n" in text


def test_v37_eleven_days_by_their_icalendar_ends() -> None:
    # V37: 28 June to 8 July 2007, both included, is DTSTART 20070628 and DTEND 20070709
    from icalendar import Event

    first, last = _with("First", due="2007-06-28"), _with("Last", due="2007-07-08")
    ends = [Event.from_ical(_event(plan_calendar(plan))) for plan in (first, last)]
    assert ends[0]["dtstart"].to_ical() == b"20070628"
    assert ends[1]["dtend"].to_ical() == b"20070709"


def _event(calendar: bytes) -> str:
    text = calendar.decode()
    return text[text.index("BEGIN:VEVENT") : text.index("END:VEVENT") + len("END:VEVENT")] + "\r\n"


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        # V39: RFC 5545, 3.3.11
        (["Project XYZ Final Review", "Conference Room - 3B", "Come Prepared."],
         r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."),
        # V40: tested with icalendar 7.3.2
        ([r"Hold A; B, C\D", "next: line"], r"Hold A\; B\, C\\D\nnext: line"),
    ],
)  # fmt: skip
def test_v39_v40_text_is_escaped(lines: list[str], expected: str) -> None:
    assert expected in _unfolded(plan_calendar(_with("Call", lines)))


def test_v41_lines_of_two_byte_letters_are_folded_between_letters() -> None:
    # V41: at most 75 octets a line, no half letter
    calendar = plan_calendar(_with("é" * 60))
    assert all(len(line) <= 75 for line in _lines(calendar))
    assert all(line.decode("utf-8") is not None for line in _lines(calendar))
    assert f"SUMMARY:{'é' * 60}" in _unfolded(calendar)


def test_v42_a_step_that_was_revised_twice_has_sequence_two() -> None:
    # V42: RFC 5545, 3.8.7.4
    first = made("first-letter-only", date(2026, 12, 14))
    second = with_changes(made("first-letter-only", date(2026, 12, 21)), Earlier.of(first))
    third = with_changes(made("first-letter-only", date(2026, 12, 28)), Earlier.of(second))
    assert [step(plan, "visit_1_month").sequence for plan in (first, second, third)] == [0, 1, 2]
    assert len({step(plan, "visit_1_month").uid for plan in (first, second, third)}) == 1


def test_v43_two_weeks_after_discography_of_the_same_disc() -> None:
    # V43: discography 2026-11-18, wait 14 days: 12-01 too early (13 days), 12-02 allowed; derived
    from tests.plan.plans import case

    record = case("discography-nine-days-ago").with_fact("discography_date", "2026-11-18")
    record = record.with_fact("anaesthetic_test_date", "2026-11-18", disc="L4-L5")
    early, late = made(record, date(2026, 12, 1)), made(record, date(2026, 12, 2))
    wait = "wait_after_discography.L4-L5"
    assert [(c.id, c.earliest) for c in early.conflicts] == [(wait, "2026-12-02")]
    assert (
        "No day exists before 2026-12-02 because: L4-L5: Too soon after discography" in early.earliest_says[0]
    )
    assert wait not in [c.id for c in late.conflicts]


@pytest.mark.parametrize(
    ("on", "amount", "unit", "expected"),
    [
        # V44: injection 2026-12-02; derived
        ("2026-12-02", 2, "week", "2026-12-16"), ("2026-12-02", 6, "week", "2027-01-13"), ("2026-12-02", 1, "month", "2027-01-02"),
        ("2026-12-02", 3, "month", "2027-03-02"), ("2026-12-02", 6, "month", "2027-06-02"), ("2026-12-02", 12, "month", "2027-12-02"),
        # V45: ends of months are clipped; tested
        ("2026-08-31", 1, "month", "2026-09-30"), ("2026-08-31", 3, "month", "2026-11-30"), ("2026-08-31", 6, "month", "2027-02-28"),
        ("2026-08-31", 12, "month", "2027-08-31"), ("2028-02-29", 12, "month", "2029-02-28"),
    ],
)  # fmt: skip
def test_v44_v45_visits(on: str, amount: int, unit: str, expected: str) -> None:
    assert day_of(When(amount=amount, unit=unit), date.fromisoformat(on)).isoformat() == expected


def test_v44_v45_in_a_whole_plan() -> None:
    plan = made("first-letter-only", date(2027, 8, 31), as_of=date(2027, 8, 1))
    visits = {each.id: each.due for each in plan.steps if each.id.startswith("visit")}
    assert visits == {"visit_2_weeks": "2027-09-14", "visit_1_month": "2027-09-30", "visit_3_months": "2027-11-30",
                      "visit_6_months": "2028-02-29", "visit_12_months": "2028-08-31"}  # fmt: skip


def test_v46_estimates_in_good_faith() -> None:
    # V46: instructions of CMS-R-131, within $100 or 25 %, whichever is greater
    margins = [rules().setting(name) for name in ("estimate_dollars", "estimate_percent")]
    assert margins == [100, 25]
    assert estimate_band(250, *margins) == (150, 350)
    assert estimate_band(4000, *margins) == (3000, 5000)
    assert estimate_band(400, *margins) == (300, 500)  # where both margins meet
    assert estimate_band(40, *margins) == (0, 140)
    with pytest.raises(ValueError, match="0 or more"):
        estimate_band(-1, *margins)


def test_v47_modifiers() -> None:
    # V47: articles on the modifiers
    assert modifier(True, True) == "GA"
    assert modifier(True, False) == "GZ"
    assert modifier(None, True) is None
    assert modifier(True, None) is None
    assert (modifier(None, True, True), modifier(None, False, True)) == ("GX", "GY")
