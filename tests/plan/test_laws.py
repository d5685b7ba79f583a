"""Laws of every plan: nothing due before what it needs, days that move together, a calendar that says what the plan says."""

import itertools
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from candidacy.plan.changes import Earlier, with_changes
from candidacy.plan.dated import Dated, settle
from candidacy.plan.ics import plan_calendar, read_calendar
from candidacy.plan.working_days import WorkingDays
from tests.plan.plans import TODAY, entered, made, rules, step

FAR = date(2027, 3, 1)
CASES = st.sampled_from(
    ["first-letter-only", "anticoagulated", "two-discs-candidate", "heavy-patient-for-conference"]
)


@given(name=CASES, by=st.integers(1, 200), lead=st.none() | st.integers(0, 40))
@settings(max_examples=8, deadline=None)
def test_moving_the_day_moves_every_step_that_follows_it(name: str, by: int, lead: int | None) -> None:
    said = entered(name, **({} if lead is None else {"order_lead_days": lead}))
    plans = [made(name, on, calendar=WorkingDays(), entries=said) for on in (FAR, FAR + timedelta(by))]
    first, second = (
        {s.id: s for s in plan.steps if s.relative and s.due and not s.id.startswith("acts")}
        for plan in plans
    )
    days = [s for s in first if "month" not in s and not s.startswith("facts")]
    assert len(days) > 10
    for each in days:
        assert date.fromisoformat(second[each].due) - date.fromisoformat(first[each].due) == timedelta(by), (
            each
        )


@given(
    name=CASES, ahead=st.integers(0, 60), lead=st.none() | st.integers(0, 40), weekend=st.sets(st.integers(0, 6), max_size=6),
    holidays=st.sets(st.integers(-30, 80), max_size=8),
)  # fmt: skip
@settings(max_examples=12, deadline=None)
def test_nothing_is_due_before_what_it_needs_and_the_calendar_is_kept(
    name: str, ahead: int, lead: int | None, weekend: set[int], holidays: set[int]
) -> None:
    on = TODAY + timedelta(ahead)
    calendar = WorkingDays(frozenset(weekend), {on + timedelta(n): "shut" for n in holidays})
    plan = made(
        name,
        on,
        calendar=calendar,
        entries=entered(name, **({} if lead is None else {"order_lead_days": lead})),
    )
    if plan.kind != "plan":
        return
    by_id = {s.id: s for s in plan.steps}
    late = {c.id for c in plan.conflicts}
    for each in plan.steps:
        for need in each.needs:
            if need in by_id and by_id[need].due and each.due and not {each.id, need} & late:
                assert by_id[need].due <= each.due, (need, each.id)
    fixed = [
        s for s in plan.steps if s.due and s.part == "medicines" and s.id.endswith(("last_dose", "restart"))
    ]
    assert all(not s.was for s in fixed)
    events = {str(e["uid"]): e for e in Calendar.from_ical(plan_calendar(plan)).walk("VEVENT")}
    assert {
        (uid, e["dtstart"].dt.isoformat(), (e["dtend"].dt - timedelta(1)).isoformat())
        for uid, e in events.items()
    } == {(s.uid, s.due, s.due) for s in plan.steps if s.due}
    for each in (s for s in plan.steps if s.due):
        alarms = events[each.uid].walk("VALARM")
        assert len(alarms) == (each.state not in ("cancelled", "done")), each.id
        for alarm in alarms:
            assert (str(alarm["action"]), alarm["trigger"].dt) == ("DISPLAY", timedelta(hours=-15))
            assert ("Only as the prescriber agreed" in alarm["description"]) == bool(each.agreement)


@given(st.lists(st.tuples(st.integers(-40, 40), st.sampled_from(["before", "after", "never"])), min_size=1, max_size=8),
       st.sets(st.integers(0, 6), max_size=6), st.integers(-20, 40))  # fmt: skip
def test_a_chain_of_steps_stays_in_order(chain: list[tuple[int, str]], weekend: set[int], ahead: int) -> None:
    on = FAR
    days = sorted(amount for amount, _ in chain)
    steps = [
        Dated(
            f"step_{n}",
            "day",
            "x",
            "physician",
            on + timedelta(days[n]),
            moves=moves,
            needs=[f"step_{n - 1}"] if n else [],
        )  # type: ignore[arg-type]
        for n, (_, moves) in enumerate(chain)
    ]
    settle(steps, on, on - timedelta(max(ahead, 0)), None, WorkingDays(frozenset(weekend)), rules())
    assert all(
        a.due is not None and b.due is not None and a.due <= b.due for a, b in itertools.pairwise(steps)
    )


def test_a_calendar_read_back_is_the_earlier_plan_and_what_fell_away_is_cancelled() -> None:
    said = entered("first-letter-only", discography={"wanted": True})
    first = made("first-letter-only", FAR, entries=said)
    earlier = read_calendar(plan_calendar(first).decode(), "plan.ics", "first-letter-only")
    second = with_changes(
        made(
            "first-letter-only",
            FAR + timedelta(7),
            entries=entered("first-letter-only", discography={"wanted": False}),
        ),
        earlier,
    )
    gone = step(second, "discography")
    assert (gone.state, gone.sequence) == ("cancelled", 1)
    assert second.changes is not None
    assert second.changes.gone == ["Discography"]
    assert ("visit_2_weeks", "2027-03-15", "2027-03-22") in [
        (m.id, m.before, m.now) for m in second.changes.moved
    ]
    events = {str(e["x-candidacy-step"]): e for e in Calendar.from_ical(plan_calendar(second)).walk("VEVENT")}
    assert str(events["discography"]["status"]) == "CANCELLED"
    again = with_changes(made("first-letter-only", FAR + timedelta(7), entries=said), Earlier.of(second))
    assert (step(again, "discography").state, step(again, "discography").sequence) == ("planned", 2)
    assert step(again, "visit_2_weeks").sequence == step(second, "visit_2_weeks").sequence == 1
