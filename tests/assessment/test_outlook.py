"""Not yet told from no: what time or an act can mend, from which day, and what nothing mends.

Dates are worked out by hand from the calendar; limits are those of the rule sets under test.
"""

from datetime import date, timedelta

import pytest

from candidacy.assessment.assess import Assessment, assess
from candidacy.assessment.outlook import Outlook, outlook
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import CaseRecord, EntryList, FactEntry
from candidacy.explain.build import build_document
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.cited import Citation
from candidacy.rules.libraries import load_rule_set

CLEAR = load_case(demo_cases_folder() / "one-disc-candidate.yaml").record
MORNING = load_case(demo_cases_folder() / "morning-of-the-procedure.yaml").record
NINE_DAYS = load_case(demo_cases_folder() / "discography-nine-days-ago.yaml").record


def read(
    record: CaseRecord, rules: str = "practice_baseline", day: date | None = None
) -> tuple[Assessment, Outlook]:
    as_of = day or date.fromisoformat(record.as_of or "")
    found = assess(case_from_record(record), load_rule_set(rules), as_of, "direct")
    return found, outlook(found)


def edit(record: CaseRecord, element: str, subject: str = "patient", **entry: object) -> CaseRecord:
    return with_fact(record, subject, element, FactEntry(**entry))  # type: ignore[arg-type]


def _care(value: float, unit: str, **entry: object) -> CaseRecord:
    """The clear case with a shorter time of care, its single treatments no longer than the whole."""
    record = edit(CLEAR, "conservative_care_duration", value=value, unit=unit, **entry)
    for place in (1, 2):
        record = edit(
            record, "treatment_duration", f"treatments[{place}]", value=value, unit=unit, source="letter"
        )
    return record


def acts(found: Outlook) -> dict[str, str]:
    assert found.not_yet is not None
    return {mending.criterion: mending.act for mending in found.not_yet.after}


# --- what only has to wait


def test_four_weeks_of_care_are_not_yet_with_the_day_on_which_the_limit_is_reached() -> None:
    # told on 2026-10-05; four weeks are as long as the shortest month, so of the three months two are left:
    # 2026-12-05, when the care has gone on for 28 + 61 = 89 days, the fewest that count as three months
    found, ahead = read(_care(4, "week", source="letter"))
    assert found.standing == "not_candidate"
    assert ahead.name == "Not yet"
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest == date(2026, 12, 5)
    assert acts(ahead) == {"conservative_care_duration": "conservative care has gone on for the full time"}
    document = build_document(found)
    assert document.standing_name == "Not yet"
    assert document.reason[1].startswith(
        "Earliest 2026-12-05, after conservative care has gone on for the full time (referrer)."
    )
    assert "consider other care" not in " ".join(document.reason)


def test_a_length_told_long_ago_may_have_been_reached_by_today() -> None:
    record = _care(2, "month", date="2026-08-01")
    assert read(record)[1].not_yet.earliest == date(2026, 11, 25)  # type: ignore[union-attr]


def test_fever_today_is_acted_on_first_and_its_own_row_waits_for_another_day() -> None:
    # fever with back pain is treated as a spinal infection until that is excluded (sheet on emergencies)
    record = edit(MORNING, "body_temperature", value=38.4, unit="Cel", source="day")
    found, ahead = read(record, "procedural_safety")
    assert (found.standing, ahead.name) == ("urgent", "Stop and act")
    assert ahead.not_yet is None
    waits = ahead.mendings["temperature_below_fever", "patient"]
    assert (waits.how, waits.earliest) == ("time", date(2026, 12, 11))


@pytest.mark.parametrize("rules", ["practice_baseline"])
def test_nine_days_after_discography_wait_until_the_fourteenth(rules: str) -> None:
    # discography on 2026-12-01, wait of 14 days
    found, ahead = read(NINE_DAYS, rules)
    assert (found.standing, ahead.name) == ("borderline", "Not yet")
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest == date(2026, 12, 15)
    assert acts(ahead) == {"wait_after_discography": "the wait after discography has passed"}
    assert [m.subject for m in ahead.not_yet.after] == ["L4-L5"]
    assert ahead.discs["L4-L5"] == "Not yet"


def test_on_the_day_named_it_passes_and_on_the_day_before_it_does_not() -> None:
    planned_later = edit(NINE_DAYS, "planned_procedure_date", value="2026-12-15", source="clinic")
    planned_early = edit(NINE_DAYS, "planned_procedure_date", value="2026-12-14", source="clinic")
    assert read(planned_later)[0].standing == "candidate"
    assert read(planned_early)[0].standing == "borderline"


def test_an_expired_product_waits_for_another_unit_without_a_date() -> None:
    record = edit(MORNING, "product_expiry_date", value="2026-12-09", source="day")
    found, ahead = read(record, "procedural_safety")
    assert (found.standing, ahead.name) == ("not_candidate", "Wait")
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest is None
    assert acts(ahead) == {
        "product_not_expired": "another unit with enough time to its expiry has been received"
    }
    assert "No date can be given: wait until another unit" in build_document(found).reason[1]


def test_numbering_that_is_not_reconciled_waits_for_the_radiologist_who_may_do_it_today() -> None:
    record = edit(MORNING, "level_numbering_confirmed_for_procedure", value=False, source="day")
    found, ahead = read(record, "procedural_safety")
    assert (found.standing, ahead.name) == ("not_candidate", "Wait")
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest == date(2026, 12, 10)
    assert [m.who for m in ahead.not_yet.after] == ["radiologist"]


def _anticoagulated(**entry: object) -> CaseRecord:
    facts = {
        "medicine_class": "direct_oral_anticoagulant", "medicine_agent": "apixaban", "medicine_intensity": "therapeutic",
        "medicine_indication": "atrial_fibrillation", "medicine_last_dose_date": "2026-12-09",
        "medicine_held": True, "medicine_prescriber_agrees_to_hold": True, **entry,
    }  # fmt: skip
    made = {name: FactEntry(value=value, source="day") for name, value in facts.items()}  # type: ignore[arg-type]
    listed = EntryList(complete=True, entries=(made,))
    record = edit(MORNING, "antithrombotic_use", value="anticoagulant", source="day")
    record = edit(record, "antithrombotic_plan_agreed", value=True, source="day")
    return record.model_copy(update={"medicines": listed})


def test_a_hold_that_is_running_waits_until_its_interval_is_over() -> None:
    # Narouze 2018, apixaban at intermediate risk: 3 dose-free days; last dose on the 9th, so free days
    # are the 10th, 11th and 12th
    found, ahead = read(_anticoagulated(), "procedural_safety")
    assert found.standing == "not_candidate"
    assert ahead.name == "Wait"
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest == date(2026, 12, 13)
    assert acts(ahead) == {
        "antithrombotic_hold_interval_over": "the hold interval that the prescriber agreed to has passed"
    }


def test_the_latest_day_counts_and_one_without_a_day_leaves_none() -> None:
    # the hold is over on 2026-12-13, the numbering may be reconciled today, the product has no date
    both = edit(_anticoagulated(), "level_numbering_confirmed_for_procedure", value=False, source="day")
    assert read(both, "procedural_safety")[1].not_yet.earliest == date(2026, 12, 13)  # type: ignore[union-attr]
    three = edit(both, "product_expiry_date", value="2026-12-09", source="day")
    ahead = read(three, "procedural_safety")[1]
    assert ahead.not_yet is not None
    assert ahead.not_yet.earliest is None
    assert len(ahead.not_yet.after) == 3


# --- what nothing mends


def test_earlier_surgery_of_the_considered_disc_is_no_and_not_merely_not_yet() -> None:
    strict = load_rule_set("trial_style_strict")
    assert strict.criterion("surgery_at_level").force == "absolute"
    operation = {"surgery_kind": "discectomy", "surgery_levels": ["L4-L5"], "surgery_date": "2019-05-04"}
    entries = [{name: FactEntry(value=value, source="clinic") for name, value in operation.items()}]
    record = _care(4, "week", source="letter").model_copy(
        update={"surgeries": EntryList(complete=True, entries=entries)}
    )
    record = edit(record, "prior_surgery_at_level", "L4-L5", value=True, source="clinic")
    record = edit(record, "prior_lumbar_surgery", value=True, source="clinic")
    ahead = read(record, "trial_style_strict")[1]
    assert ahead.name == "Not a candidate"
    assert ahead.not_yet is None
    assert ahead.discs["L4-L5"] == "Not a candidate"
    assert ahead.mendings["surgery_at_level", "L4-L5"].how == "no"


@pytest.mark.parametrize(
    ("subject", "element", "value"),
    [("L4-L5", "modified_pfirrmann_grade", 8), ("L4-L5", "displacement", "extrusion"), ("patient", "active_cancer", True)],
)  # fmt: skip
def test_one_ground_that_cannot_be_mended_makes_it_no(subject: str, element: str, value: object) -> None:
    record = edit(CLEAR, "conservative_care_duration", value=4, unit="week", source="letter")
    found, ahead = read(edit(record, element, subject, value=value, source="clinic"))
    assert found.standing == "not_candidate"
    assert ahead.name == "Not a candidate"
    assert ahead.not_yet is None


def test_three_suitable_discs_are_not_mended_by_considering_fewer() -> None:
    record = load_case(demo_cases_folder() / "three-discs-considered.yaml").record
    found, ahead = read(record)
    assert found.standing == "not_candidate"
    assert ahead.not_yet is None
    assert ahead.mendings["number_of_discs_to_treat", "patient"].how == "no"


def test_a_borderline_case_without_a_day_stays_borderline() -> None:
    record = load_case(demo_cases_folder() / "heavy-patient-for-conference.yaml").record
    found, ahead = read(record)
    assert (found.standing, ahead.name, ahead.not_yet) == ("borderline", "Borderline", None)
    mending = ahead.mendings["body_mass_index_limit", "patient"]
    assert (mending.how, mending.earliest) == ("time", None)


def test_an_open_criterion_says_what_to_ask_and_whom() -> None:
    record = with_fact(CLEAR, "patient", "active_infection", None)
    found, ahead = read(record)
    assert found.standing == "incomplete"
    mending = ahead.mendings["active_infection_present", "patient"]
    assert (mending.how, mending.who) == ("ask", "patient")
    assert mending.act == "Any infection now, systemic or local"
    assert ahead.not_yet is None


def test_what_passes_has_nothing_to_mend() -> None:
    found, ahead = read(CLEAR)
    failing = {(r.id, r.subject) for r in found.results if r.outcome != "pass"}
    assert set(ahead.mendings) == failing


def test_an_earliest_day_never_lies_before_the_day_of_asking() -> None:
    for file in sorted(demo_cases_folder().glob("*.yaml")):
        if file.stem == "mixed-scales":  # refused, as it should be
            continue
        record = load_case(file).record
        for rules in ("practice_baseline", "procedural_safety", "trial_style_strict"):
            found, ahead = read(record, rules)
            assert all(m.earliest is None or m.earliest >= found.as_of for m in ahead.mendings.values())


def test_waiting_is_never_an_order_to_stop_a_medicine() -> None:
    library = load_rule_set("practice_baseline"), load_rule_set("procedural_safety")
    for item in (item for rules in library for item in rules.criteria):
        mendable = item.criterion.mendable
        assert mendable is not None, item.id
        for word in ("stop ", "stopped", "discontinue", "withdraw"):
            assert word not in mendable.act, item.id


@pytest.mark.parametrize("days", range(0, 15))
def test_the_day_of_a_wait_is_where_the_criterion_turns(days: int) -> None:
    """The day is the first on which the same record passes, counted day by day."""
    rules = load_rule_set("practice_baseline")
    record = edit(NINE_DAYS, "planned_procedure_date", value=None, unknown="not_stated", source="clinic")
    day = date(2026, 12, 1) + timedelta(days)
    found = assess(case_from_record(record), rules, day, "direct")
    outcome = next(r.outcome for r in found.of_subject("L4-L5") if r.id == "wait_after_discography")
    mending = outlook(found).mendings.get(("wait_after_discography", "L4-L5"))
    assert (outcome == "pass") is (days >= 14)
    assert mending is None if days >= 14 else mending is not None
    if mending is not None:
        assert mending.earliest == date(2026, 12, 15)


def test_a_wait_cites_its_source() -> None:
    mendable = load_rule_set("procedural_safety").criterion("temperature_below_fever").criterion.mendable
    assert mendable is not None
    assert mendable.earliest is not None
    assert mendable.earliest.wait is not None
    assert mendable.earliest.wait.cites == (
        Citation(source="common_practice", supports="value", tag="common practice"),
    )


def test_without_the_agreement_of_the_prescriber_a_hold_has_no_day() -> None:
    record = _anticoagulated(medicine_prescriber_agrees_to_hold=False, medicine_held=False)
    record = edit(record, "antithrombotic_plan_agreed", value=False, source="day")
    ahead = read(record, "procedural_safety")[1]
    assert all(
        m.earliest is None
        for (name, _), m in ahead.mendings.items()
        if name == "antithrombotic_hold_interval_over"
    )
    assert ahead.not_yet is None or ahead.not_yet.earliest is None


@pytest.mark.parametrize(
    ("kind", "standing"),
    [
        ("fusion", "not_candidate"),
        ("disc_replacement", "not_candidate"),
        ("discectomy", "borderline"),
        ("decompression", "borderline"),
        ("other", "incomplete"),  # it may have been either, and is asked about
    ],
)
def test_a_fused_or_replaced_disc_is_no_and_other_surgery_of_it_is_discussed(
    kind: str, standing: str
) -> None:
    # published eligibility, table C, prior surgery: no protocol read admits a disc after a structural procedure
    operation = {"surgery_kind": kind, "surgery_levels": ["L4-L5"], "surgery_date": "2019-05-04"}
    entries = [{name: FactEntry(value=value, source="clinic") for name, value in operation.items()}]
    record = CLEAR.model_copy(update={"surgeries": EntryList(complete=True, entries=entries)})
    for element, subject in (("prior_lumbar_surgery", "patient"), ("prior_surgery_at_level", "L4-L5")):
        record = edit(record, element, subject, value=True, source="clinic")
    if kind != "disc_replacement":  # an implant by itself
        record = edit(record, "implant_at_level", "L4-L5", value=False, source="clinic")
    found, ahead = read(record)
    assert found.standing == standing
    assert ahead.not_yet is None


def test_a_disc_held_by_a_danger_that_nothing_weighs_is_not_mended_by_nothing_today() -> None:
    # no criterion of the disc fails, so what was mended "with the discs" had been nothing at all, on the as-of date
    record = edit(CLEAR, "prior_surgery_kind_at_level", "L4-L5", value="intradiscal_heating", source="mri")
    found, ahead = read(record)
    assert found.standing == "borderline"
    failing = [r for r in found.results if r.subject == "L4-L5" and r.outcome == "fail"]
    assert {r.resolved.force for r in failing} <= {"advisory"}
    mending = ahead.mendings["considered_disc_borderline_or_open", "patient"]
    assert (mending.how, mending.earliest) == ("no", None)
