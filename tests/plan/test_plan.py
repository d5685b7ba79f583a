"""What a plan says of invented cases: against the day, the gate, medicines by day and hour, the log, and what it refuses to plan."""

from datetime import date, timedelta
from pathlib import Path

import pytest

import candidacy
from candidacy.case.load import Case, parse_case
from candidacy.check.plan import check_plans
from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.plan.content import load_plan
from candidacy.plan.document import PlanDocument
from candidacy.plan.make import plan
from candidacy.plan.text import plan_text
from candidacy.plan.working_days import working_days
from candidacy.reading.as_kind import read_as
from candidacy.rules.libraries import library_in_use, load_rule_set, open_folder
from tests.plan.plans import TODAY, case, entered, made, rules, step, weekend

MONDAY = date(2026, 12, 14)
MORNING = date(2026, 12, 10)
LOG = {
    "limits": {"source": "invented instructions", "storage_at_least": -196, "storage_at_most": -70, "transport_at_most": -60,
               "storage_days": 30},
    "receipt": {"at": "2026-12-08T09:30", "by": "coordinator", "temperature": -78, "seal_intact": True, "label_matches": True,
                "expires": "2027-01-31"},
    "storage": [{"at": "2026-12-09T08:00", "temperature": -75, "by": "coordinator"}],
}  # fmt: skip


def _morning(**said: object) -> PlanDocument:
    said = {"order_lead_days": 0, "material": LOG} | said
    return made(
        "morning-of-the-procedure",
        MORNING,
        as_of=MORNING,
        entries=entered("morning-of-the-procedure", **said),
    )


def _anticoagulated(agreed: bool | None, last: str | None = "2026-11-24") -> Case:
    found = case("anticoagulated")
    if last is not None:
        found = found.with_fact("medicine_last_dose_date", last, entry="medicines[2]", on=TODAY.isoformat())
    else:
        found = found.without("medicine_last_dose_date", entry="medicines[2]")
    return (
        found
        if agreed is None
        else found.with_fact("medicine_prescriber_agrees_to_hold", agreed, entry="medicines[2]")
    )


def test_an_emergency_gives_no_plan_but_the_act() -> None:
    plan = made("cauda-equina-signs", MONDAY)
    assert (plan.kind, plan.steps, plan.facts, plan.gate.open) == ("urgent", [], [], False)
    assert "outranks this program" in plan.urgent[0]
    assert "‼" in plan_text(plan)
    assert "Steps" not in plan_text(plan)


def test_who_is_no_candidate_gets_no_injection_plan_but_what_remains() -> None:
    plan = made("extruded-disc", MONDAY)
    assert plan.kind == "no_plan"
    assert not {"injection", "order_material", "visit_1_month"} & {each.id for each in plan.steps}
    assert any("candidate" in each for each in plan.why_none)
    assert plan.gate.open is False
    assert plan.conflicts


def test_what_fails_today_is_not_forgotten_because_it_will_be_out_of_date_on_the_day() -> None:
    plan = made("pregnant", MONDAY)
    assert plan.kind == "no_plan"
    assert any(
        each.id == "pregnancy_present.patient" and each.as_of == TODAY.isoformat() for each in plan.conflicts
    )
    assert not any(each.id == "injection" for each in plan.steps)


def test_a_companion_that_refuses_for_good_gives_no_injection_plan_either() -> None:
    plan = made("extruded-disc", MONDAY, rule_set="procedural_safety")
    assert plan.kind == "no_plan"
    assert any("Practice baseline" in each for each in plan.why_none)


def test_what_fails_until_a_day_is_told_with_the_day_and_the_day_after_is_free_of_it() -> None:
    early = made("discography-nine-days-ago", MONDAY, as_of=date(2026, 12, 2))
    assert early.earliest_says[0].startswith(
        "No day exists before 2026-12-15 because: L4-L5: Too soon after discography"
    )
    assert early.earliest == "2026-12-15"
    later = made("discography-nine-days-ago", date(2026, 12, 15), as_of=date(2026, 12, 2))
    assert later.conflicts == []
    assert not any(each.startswith("No day exists") for each in later.earliest_says)


def test_every_reason_is_told_and_the_latest_of_them_counts() -> None:
    said = entered("discography-nine-days-ago", order_lead_days=30)
    plan = made(
        "discography-nine-days-ago", MONDAY, as_of=date(2026, 12, 2), entries=said, calendar=weekend()
    )
    assert plan.earliest_says[0].startswith("No day exists before 2027-01-01 because:")
    assert "Too soon after discography" in plan.earliest_says[0]
    assert "Order of the material: its day, 2026-11-13, has passed" in plan.earliest_says[0]
    assert plan.earliest == "2027-01-01"


def test_a_day_off_is_told_and_the_earliest_day_is_a_working_day(tmp_path: Path) -> None:
    file = tmp_path / "practice.yaml"
    file.write_text(
        "holidays:\n  - {date: 2026-12-15, name: Practice closed}\n".replace("2026-12-15", '"2026-12-15"')
    )
    calendar = working_days(("saturday", "sunday"), file)
    plan = made("discography-nine-days-ago", date(2026, 12, 19), as_of=date(2026, 12, 2), calendar=calendar)
    assert any(each.words == "2026-12-19 is no working day (Saturday)." for each in plan.conflicts)
    assert plan.earliest == "2026-12-16"
    assert plan.calendar.holidays == {"2026-12-15": "Practice closed"}


def test_office_days_move_to_working_days_and_say_so_and_medicine_days_never_move() -> None:
    plan = made(_anticoagulated(True), date(2026, 12, 9), calendar=weekend())
    visit, dose = step(plan, "visit_3_months"), step(plan, "medicines_2_last_dose")
    assert (visit.due, visit.was) == ("2027-03-09", "")
    assert (dose.due, dose.was) == ("2026-12-05", "")
    assert "No working day (Saturday); the day is not moved." in dose.says
    moved = step(made(_anticoagulated(True), MONDAY, calendar=weekend()), "call_before")
    assert (moved.due, moved.was) == ("2026-12-11", "2026-12-13")
    assert "moved to the working day before" in moved.moved_because


@pytest.mark.parametrize("agreed", [None, False])
def test_without_agreement_no_medicine_gets_a_date_and_the_gate_stays_shut(agreed: bool | None) -> None:
    plan = made(_anticoagulated(agreed), MONDAY)
    dose = step(plan, "medicines_2_last_dose")
    assert dose.due == ""
    assert "continue; no stop date" in dose.no_date_because
    assert "medicines_2_restart" not in {each.id for each in plan.steps}
    assert any(each.id == "medicines[2].agreement" and each.earliest == "" for each in plan.conflicts)
    assert any(item.id == "medicines[2].plan" and not item.settled for item in plan.gate.items)
    assert any(each.startswith("No date can be given for: apixaban") for each in plan.earliest_says)


def test_with_agreement_the_last_dose_has_a_day_and_names_who_agreed() -> None:
    plan = made(_anticoagulated(True), MONDAY)
    dose, restart = step(plan, "medicines_2_last_dose"), step(plan, "medicines_2_restart")
    assert dose.due == "2026-12-10"
    assert "the prescriber, in writing; given" in dose.agreement
    assert restart.due == "2026-12-15"
    assert step(plan, "medicines_2_ask").state == "done"


def test_where_hours_count_the_hour_of_the_injection_gives_the_hour_of_the_last_dose() -> None:
    agent = {"medicine_name": "enoxaparin", "medicine_class": "low_molecular_weight_heparin", "medicine_agent": "enoxaparin",
             "medicine_intensity": "therapeutic", "medicine_indication": "other"}  # fmt: skip
    found = _anticoagulated(True, None).with_fact("high_thrombotic_risk", False)
    for name, value in agent.items():
        found = found.with_fact(name, value, entry="medicines[2]")
    found = found.with_fact("creatinine", 0.8, unit="mg/dL", on="2026-11-20")
    blind, seen = (
        made(found, MONDAY),
        made(found, MONDAY, entries=entered("anticoagulated", injection_time="08:30")),
    )
    assert step(blind, "medicines_2_last_dose").clock == ""
    assert any(
        "Enter the hour of the injection" in each for each in step(blind, "medicines_2_last_dose").says
    )
    dose, restart = step(seen, "medicines_2_last_dose"), step(seen, "medicines_2_restart")
    assert (dose.due, dose.clock) == ("2026-12-13", "08:30")
    assert "24 hours before the injection: by 2026-12-13 08:30." in dose.says
    assert (restart.due, restart.clock) == ("2026-12-14", "20:30")


def test_a_last_dose_whose_day_has_passed_gives_the_first_day_that_is_left() -> None:
    plan = made(_anticoagulated(True, None), TODAY + timedelta(2))
    found = next(each for each in plan.conflicts if each.id == "medicines[2].interval")
    assert found.earliest == (TODAY + timedelta(4)).isoformat()


def test_the_gate_opens_where_everything_is_settled_and_shuts_for_any_one_thing() -> None:
    assert _morning().gate.open is True
    assert [item.id for item in _morning(order_lead_days=None).gate.items if not item.settled] == [
        "order_lead"
    ]
    assert [item.id for item in _morning(material=None).gate.items if not item.settled] == ["limits"]
    record = case("morning-of-the-procedure")
    said = entered("morning-of-the-procedure", order_lead_days=0, material=LOG)
    for element in (
        "consent_names_risks",
        "coverage_answer",
        "c_reactive_protein",
        "able_to_consent",
        "product_regulatory_basis",
    ):
        for changed in (record.without(element), record.with_fact(element, unknown="conflicting")):
            assert made(changed, MORNING, as_of=MORNING, entries=said).gate.open is False, element


def test_the_gate_wants_the_case_and_the_day_judged_whatever_rule_set_is_asked(tmp_path: Path) -> None:
    from candidacy.plan.make import plan
    from candidacy.rules.libraries import load_rule_set

    said = entered("morning-of-the-procedure", order_lead_days=0, material=LOG)
    for rule_set in ("practice_baseline", "procedural_safety", "report_completeness"):
        found = made("morning-of-the-procedure", MORNING, as_of=MORNING, entries=said, rule_set=rule_set)
        assert found.gate.open is True, rule_set
    wanted = load_plan(
        open_folder(_own(tmp_path, "judged_by: [practice_baseline, our_second_look]\n")), "our_plan"
    )
    found = plan(
        case("morning-of-the-procedure"),
        load_rule_set("practice_baseline"),
        wanted,
        MORNING,
        MORNING,
        entries=said,
    )
    assert [item.id for item in found.gate.items if not item.settled] == ["judged.our_second_look"]


def test_a_decision_of_a_later_day_is_none_yet() -> None:
    later = {"on": "2026-12-01", "by": "case conference", "reason": "x"}
    plan = made(
        "heavy-patient-for-conference",
        MONDAY,
        entries=entered("heavy-patient-for-conference", decision=later),
    )
    assert next(item for item in plan.gate.items if item.id == "standing").settled is False
    assert "body_mass_index_limit.patient" in [item.id for item in plan.gate.items]


def test_a_borderline_standing_needs_a_decision_in_writing() -> None:
    decided = {"on": "2026-11-24", "by": "case conference", "reason": "Longer needle, told to the patient."}
    plan = made("heavy-patient-for-conference", MONDAY)
    assert next(item for item in plan.gate.items if item.id == "standing").settled is False
    plan = made(
        "heavy-patient-for-conference",
        MONDAY,
        entries=entered("heavy-patient-for-conference", decision=decided),
    )
    assert next(item for item in plan.gate.items if item.id == "standing").settled is True
    assert "body_mass_index_limit.patient" not in [item.id for item in plan.gate.items]
    plan = made("one-disc-candidate", MONDAY, entries=entered("one-disc-candidate", decision=decided))
    assert plan.gate.open is False


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({"storage": [{"at": "2026-12-09T08:00", "temperature": -69.9, "by": "coordinator"}]}, "broken"),
        ({"storage": [{"at": "2026-12-09T08:00", "temperature": -70, "by": "coordinator"}]}, "kept"),
        ({"limits": {"source": "invented instructions"}}, "ask"),
        ({"storage": []}, "not_read"),
    ],
)
def test_the_log_is_held_against_the_limits_as_entered_and_never_against_others(
    change: dict, verdict: str
) -> None:
    found = _morning(material=LOG | change).material
    assert found is not None
    assert next(row.verdict for row in found.rows if row.name == "warmest storage") == verdict
    assert found.in_order is (verdict == "kept")
    assert ("Set the material aside" in found.says[0]) is (verdict == "broken")


def test_the_form_of_a_discography_says_nothing_while_empty_and_fills_the_record_when_filled() -> None:
    plan = made(case("report-only").with_fact("discs_under_consideration", ["L4-L5"]), MONDAY)
    assert plan.discography is not None
    assert (plan.discography.discs, plan.discography.controls) == (["L4-L5"], ["L3-L4", "L5-S1"])
    assert plan.discography.latest == "2026-11-30"
    assert _facts(plan.discography.form) == {}
    form = plan.discography.form.replace("Date of procedure: ____", "Date of procedure: 2026-11-28")
    level, rest = form.split("L4-L5:")
    part, after = rest.split("L5-S1:")
    for gap, value in (("Role: ____", "Role: target"), ("Opening pressure: ____", "Opening pressure: 18"), ("Pressure at pain: ____", "Pressure at pain: 30"),
                       ("Volume: ____", "Volume: 1.8"), ("Pain: ____", "Pain: 8"), ("Concordance: ____", "Concordance: exact"),
                       ("Leak: ____", "Leak: no"), ("Dallas grade: ____", "Dallas grade: 4")):  # fmt: skip
        assert gap in part
        part = part.replace(gap, value, 1)
    facts = _facts(f"{level}L4-L5:{part}L5-S1:{after}")
    wanted = {("patient", "discography_date"), ("L4-L5", "discography_role"), ("L4-L5", "discography_opening_pressure"), ("L4-L5", "discography_pain_pressure"),
              ("L4-L5", "discography_volume"), ("L4-L5", "discography_pain_nrs"), ("L4-L5", "discography_concordance"),
              ("L4-L5", "discography_leak"), ("L4-L5", "discography_fissure_grade")}  # fmt: skip
    assert wanted <= facts.keys()
    assert not {key for key in facts if key[0] in ("L3-L4", "L5-S1")}


def test_a_practice_may_change_the_plan_and_the_plan_says_so(tmp_path: Path) -> None:
    own = _own(tmp_path, 'leave_out: [fasting]\nsettings:\n  near_day_days: {value: 21, reason: Our booking., cites: [{source: local_trial, '
               'supports: value, tag: local}]}\norder_lead: {days: 10, ask: x, cites: [{source: local_trial, supports: value, tag: local}]}\n')  # fmt: skip
    found = load_plan(open_folder(own), "our_plan")
    assert (found.setting("near_day_days"), found.file.order_lead.days) == (21, 10)
    assert "fasting" not in {each.id for each in found.file.steps}
    assert any("extends around_injection" in each for each in found.notices)
    assert found.digest != rules().digest


@pytest.mark.parametrize(
    ("text", "field", "value", "allowed"),
    [
        ("leave_out: [nope]\n", "leave_out", "nope", "consent_talk"),
        ("settings: {nope: {value: 1, reason: x, cites: [{source: local_trial, supports: value, tag: local}]}}\n", "settings.nope", "nope",
         "weekend_days"),
        ("settings: {near_day_days: {value: 900, reason: x, cites: [{source: local_trial, supports: value, tag: local}]}}\n",
         "settings.near_day_days", "900", "1 to 90"),
        ("settings: {weekend_days: {value: [monday, tuesday, wednesday, thursday, friday, saturday, sunday], reason: x, "
         "cites: [{source: local_trial, supports: value, tag: local}]}}\n", "settings.weekend_days", "all seven days", "at most six"),
        ("steps: [{id: extra_step, part: day, title: Extra, owner: patient, when: {amount: -1}, needs: [consent_tlak], "
         "cites: [{source: local_trial, supports: value, tag: local}]}]\n", "steps.0.needs", "consent_tlak", "closest is consent_talk"),
        ("words: {earliest: 'On {date}'}\n", "words.earliest", "date", "{day}"),
    ],
)  # fmt: skip
def test_what_cannot_work_in_a_file_of_ones_own_is_refused(
    tmp_path: Path, text: str, field: str, value: str, allowed: str
) -> None:
    own = _own(tmp_path, text)
    with pytest.raises(InputError) as refused:
        load_plan(open_folder(own), "our_plan")
    found = refused.value.problems[0]
    assert found.file.endswith("our_plan.yaml")
    assert found.line
    assert found.field.startswith(field)
    assert value in found.found
    assert allowed in found.expected


def test_a_plan_of_ones_own_with_a_shipped_id_says_what_it_replaces(tmp_path: Path) -> None:
    folder = tmp_path / "mine" / "plan"
    folder.mkdir(parents=True)
    text = 'id: around_injection\nversion: "0.2.0"\ntitle: Ours\nextends: around_injection\nreason: Ours.\n'
    text += 'changes: [{version: "0.2.0", date: "2026-11-28", change: First.}]\n'
    (folder / "around_injection.yaml").write_text(text)
    with pytest.raises(InputError, match="there is a shipped plan of this id"):
        load_plan(open_folder(tmp_path / "mine"))
    (folder / "around_injection.yaml").write_text(
        text + f'replaces: {{version: "{rules().file.version}", reason: Our days.}}\n'
    )
    assert any("replaces the shipped" in each for each in load_plan(open_folder(tmp_path / "mine")).notices)


@pytest.mark.parametrize(
    ("text", "field", "value", "allowed"),
    [
        ('holidays: [{date: "2026-02-30", name: x}]\n', "holidays.0.date", "2026-02-30", "YYYY-MM-DD"),
        (
            'holidays: [{date: "2026-12-25", name: x}, {date: "2026-12-25", name: y}]\n',
            "holidays.1.date",
            "2026-12-25",
            "once",
        ),
        (
            "weekend_days: [monday, tuesday, wednesday, thursday, friday, saturday, sunday]\n",
            "weekend_days",
            "all seven",
            "at most six",
        ),
        ("weekend_days: [sonntag]\n", "weekend_days", "sonntag", "sunday"),
    ],
)
def test_a_calendar_that_cannot_be_is_refused(
    tmp_path: Path, text: str, field: str, value: str, allowed: str
) -> None:
    file = tmp_path / "practice.yaml"
    file.write_text(text)
    with pytest.raises(InputError) as refused:
        working_days(("saturday", "sunday"), file)
    found = refused.value.problems[0]
    assert (found.file, found.field) == (str(file), field)
    assert value in found.found
    assert allowed in found.expected


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"injection_time": "25:00"}, "injection_time"),
        ({"decision": {"on": "2026-02-30", "by": "x", "reason": "y"}}, "decision.on"),
        (
            {"material": LOG | {"storage": [{"at": "2026-12-07T08:00", "temperature": -75, "by": "x"}]}},
            "material.storage.0.at",
        ),
        (
            {"material": {"limits": {"source": "x", "storage_at_least": -20, "storage_at_most": -70}}},
            "material.limits.storage_at_least",
        ),
    ],
)
def test_entries_that_cannot_be_are_refused(said: dict, field: str) -> None:
    with pytest.raises(InputError) as refused:
        entered("case-1", **said)
    assert [each.field for each in refused.value.problems] == [field]


def test_a_day_that_has_passed_is_refused() -> None:
    with pytest.raises(InputError, match="the proposed day has passed") as refused:
        made("one-disc-candidate", TODAY - timedelta(1))
    assert refused.value.problems[0].field == "on"
    assert "2026-11-25" in refused.value.problems[0].expected


def test_standings_say_for_which_day_they_hold() -> None:
    plan = made("one-disc-candidate", MONDAY)
    assert [(each.as_of, each.standing) for each in plan.standings][:2] == [
        ("2026-11-25", "candidate"),
        ("2026-12-14", "incomplete"),  # by then the answers on infection are 32 days old
    ]
    assert {each.as_of for each in plan.facts} == {"2026-12-14"}


def _own(tmp_path: Path, text: str) -> Path:
    folder = tmp_path / "mine" / "plan"
    folder.mkdir(parents=True)
    head = 'id: our_plan\nversion: "0.1.0"\ntitle: Ours\nextends: around_injection\nreason: Ours.\n'
    head += 'changes: [{version: "0.1.0", date: "2026-11-28", change: First.}]\n'
    (folder / "our_plan.yaml").write_text(head + text)
    return tmp_path / "mine"


def _facts(text: str) -> dict[tuple[str, str], object]:
    from candidacy.reading.notes.elements import note_facts
    from candidacy.reading.notes.kinds import settled
    from candidacy.reading.sent import ReportText

    kind = settled(text, "discography", "form", "imaging")
    reading = read_as(ReportText(text, "form"), kind, None)
    return {(each.subject, each.element): each for each in note_facts(reading)}


def test_a_step_that_is_done_does_not_vouch_for_the_criteria_that_it_names(tmp_path: Path) -> None:
    """What the record leaves open stays in the gate, whatever step of one's own says that it settles it."""
    own = _own(
        tmp_path,
        "steps: [{id: looked_at, part: consent, title: Looked at, owner: physician, when: {amount: -14}, by_order: true, "
        "done_when: {element: able_to_consent, op: is, value: true}, covers: [degeneration_grade_window], "
        "cites: [{source: local_trial, supports: value, tag: local}]}]\n",
    )
    found = case("stale-mri")
    ours = load_plan(open_folder(own), "our_plan")
    document = plan(found, load_rule_set("practice_baseline"), ours, MONDAY, TODAY, engine="direct")
    assert step(document, "looked_at").state == "done"
    shut = {item.id.split(".")[0] for item in document.gate.items if not item.settled}
    assert "degeneration_grade_window" in shut
    assert not document.gate.open


def test_a_schedule_of_ones_own_that_the_plan_does_not_follow_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "mine" / "course"
    folder.mkdir(parents=True)
    text = (library_in_use().care_files("course")["visits"]).read_text(encoding="utf-8")
    text = text.replace("after: {amount: 3, unit: month}", "after: {amount: 4, unit: month}")
    (folder / "visits.yaml").write_text(text)
    told = [
        each for each in check_plans(open_folder(tmp_path / "mine")) if "schedule of visits" in each.message
    ]
    assert [(each.found, each.expected[:7]) for each in told] == [
        ("months_3: 3 month after the injection in the plan", "4 month")
    ]
    assert check_plans(library_in_use()) == []


WEIGHT = "body_weight: {value: 71, unit: kg, source: clinic"


def _weight(more: str) -> Case:
    text = (demo_cases_folder() / "one-disc-candidate.yaml").read_text(encoding="utf-8")
    assert text.count(WEIGHT) == 1
    return parse_case(text.replace(WEIGHT, WEIGHT + more), "case.yaml")


def test_a_danger_that_no_criterion_reads_stands_against_every_day_until_people_have_decided() -> None:
    found = _weight(", note: cannot pass urine since Monday")
    plan = made(found, MONDAY)
    (against,) = plan.conflicts
    assert (against.id, against.earliest) == ("record.danger_in_text.patient", "")
    assert "cannot pass urine since Monday" in against.words
    assert "decision in writing" in against.words
    assert against.words in {item.words for item in plan.gate.items if not item.settled}
    assert any(words.startswith("No date can be given for: Danger in text") for words in plan.earliest_says)
    decided = {
        "on": TODAY.isoformat(),
        "by": "case conference",
        "reason": "asked: a blocked catheter, changed",
    }
    then = made(found, MONDAY, entries=entered("one-disc-candidate", decision=decided))
    assert [each.id for each in then.conflicts] == [against.id]
    assert against.id not in {item.id for item in then.gate.items}


def test_what_of_the_record_is_settled_first_stands_against_the_day_though_every_criterion_passes() -> None:
    plan = made(_weight(", words: weight 171 lb"), MONDAY)
    assert [(each.id, "171 lb" in each.words) for each in plan.conflicts] == [
        ("record.body_weight.patient", True)
    ]
    assert not plan.gate.open


@pytest.mark.parametrize("more", ["", ", note: moves house in January", ", words: weight 71 kg"])
def test_a_record_that_says_nothing_against_a_day_leaves_nothing_against_it(more: str) -> None:
    assert made(_weight(more), MONDAY).conflicts == []


@pytest.mark.parametrize(
    "name", sorted(path.stem for path in demo_cases_folder().glob("*.yaml") if path.stem != "mixed-scales")
)
def test_where_the_standing_of_the_day_waits_for_more_than_missing_facts_something_stands_against_the_day(
    name: str,
) -> None:
    plan = made(name, MONDAY)
    moved = case(name).with_fact("planned_procedure_date", MONDAY.isoformat())
    then = candidacy.assess(moved, "practice_baseline", as_of=MONDAY)
    assert (
        then.standing in {s.standing for s in plan.standings if s.as_of == MONDAY.isoformat()}
        or plan.kind == "urgent"
    )
    if plan.kind == "plan" and then.standing in ("borderline", "not_candidate"):
        assert plan.conflicts
