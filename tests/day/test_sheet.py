"""The checklist of the day: what stands on it, what may not, and that it is one page."""

import io
import json
import re
from datetime import date
from pathlib import Path
from typing import Any

import pypdf
import pytest
import yaml

import candidacy
from candidacy.case.element import LEVELS
from candidacy.case.load import case_from_record
from candidacy.day.checklist import checklist
from candidacy.day.planned import planned_discs
from candidacy.day.sheet import DaySheet, conference_told, day_sheet
from candidacy.day.sheet_page import sheet_page
from candidacy.day.sheet_pdf import sheet_pdf
from candidacy.day.sheet_text import sheet_text
from candidacy.foundation.errors import Code, InputError
from candidacy.rules.libraries import load_rule_set, shipped
from tests.day.cases import DAY, demo, demo_pdf, demo_sheets, line, planned, sheet

MORNING = "morning-of-the-procedure"
# For each line that a record bears on: facts that change the good morning, and what the line then says.
BEARS: dict[str, tuple[dict[str, Any], str]] = {
    "consent": ({"consent_date": "2026-12-11"}, "stop"),
    "danger_signs": ({"red_flag_screen_date": "2026-11-01"}, "stop"),
    "pregnancy": (
        {"pregnancy_status": None, "pregnancy_possible": True, "pregnancy_test_date": None},
        "open",
    ),
    "fit_and_fasting": ({"haemodynamic_instability": True}, "wait"),
    "driver": ({"driver_arranged": False}, "wait"),
    "planned_disc": ({"discography_date": "2026-12-05"}, "wait"),
    "numbering": ({"level_numbering_confirmed_for_procedure": False}, "stop"),
    "images_in_room": ({"prior_imaging_available_in_room": False}, "stop"),
    "antithrombotics": ({"antithrombotic_list_complete": False}, "wait"),
    "last_doses": ({"recent_nsaid": True, "nsaid_last_dose_date": "2026-12-09"}, "wait"),
    "clotting_tests": ({"platelet_count": (80, "10*9/L")}, "wait"),
    "infection_asked": ({"c_reactive_protein": (14, "mg/L")}, "wait"),
    "temperature": ({"body_temperature": None}, "open"),
    "skin": ({"skin_at_entry_site": "broken"}, "stop"),
    "antibiotic_course": ({"antibiotic_treatment": True}, "wait"),
    "antibiotic_today": ({"antibiotic_allergy": True, "antibiotic_allergies": ["cefazolin"]}, "wait"),
    "allergies": ({"planned_contrast": "gadolinium"}, "wait"),
    "anaesthetic_dose": ({"planned_lidocaine_volume": (60, "mL")}, "stop"),
    "latex": ({"latex_allergy": True, "latex_free_setup_confirmed": False}, "stop"),
    "residues": ({"residue_allergies": ["gentamicin"]}, "stop"),
    "product_label": ({"product_receipt_check_passed": False}, "stop"),
    "product_expiry": ({"product_expiry_date": "2026-12-09"}, "stop"),
    "product_storage": ({"product_storage_as_instructed": False}, "stop"),
    "product_thaw": ({"product_thaw_as_instructed": False}, "stop"),
    "injectate": ({"planned_injection_volume": (4, "mL")}, "wait"),
    "needle_in_two_planes": ({"two_plane_confirmation_planned": False}, "wait"),
    "going_home": ({"emergency_instructions_given": False}, "wait"),
}
# Asked of people alone; no record answers them.
ASKED = {"identity", "level_counted", "time_out", "renal_function"}


def changed(facts: dict[str, Any]) -> DaySheet:
    case = demo(MORNING)
    for element, value in facts.items():
        if value is None:
            case = case.with_fact(element, unknown="not_asked")
        else:
            given, unit = value if isinstance(value, tuple) else (value, None)
            case = case.with_fact(element, given, unit=unit, source="day")
    return sheet(case)


def test_every_line_is_borne_on_or_asked_of_people_alone() -> None:
    lines = {each.id for each in checklist().lines if not each.only}
    assert set(BEARS) | ASKED == lines
    assert not set(BEARS) & ASKED


@pytest.mark.parametrize("identifier", sorted(BEARS))
def test_a_line_says_what_the_record_says(identifier: str) -> None:
    facts, state = BEARS[identifier]
    assert line(demo_sheets()[MORNING], identifier).state in ("recorded", "asked")
    found = changed(facts)
    assert not found.no_checklist
    assert line(found, identifier).state == state


def test_a_stop_is_told_with_its_value_and_where_it_stands() -> None:
    words = checklist()
    found = demo_sheets()["morning-with-reasons-to-wait"]
    text = " ".join(sheet_text(found, words).split())
    assert (
        "STOP by the record: Product expired on the day (Product expiry date: 2026-11-30, clinic note 2026-12-10)"
        in text
    )
    assert (
        "STOP by the record: Skin at the entry site not sound (Skin at entry site: inflamed, clinic note 2026-12-10)"
        in text
    )


def test_nothing_is_ticked_and_a_recorded_value_answers_nothing() -> None:
    words = checklist()
    for name, found in demo_sheets().items():
        for text in (sheet_text(found, words), sheet_page(found, words), *demo_pdf(name)):
            assert not re.search("[☑☒✔✘]", text)
        if not found.no_checklist:
            assert sheet_text(found, words).count("☐ yes  ☐ no") == len(found.lines)


def test_what_the_record_leaves_open_says_so() -> None:
    found = demo_sheets()["one-disc-candidate"]
    for identifier in ("temperature", "product_expiry", "driver", "time_out"):
        assert line(found, identifier).state == ("asked" if identifier == "time_out" else "open")
    assert line(found, "temperature").record == ("open: WAIT: body temperature on the day",)


# --- no other disc

SPELLINGS = ("{0}-{1}", "{0}/{1}", "{0}/{2}", "{0}-{2}", "{0} - {1}")


def others_of(found: DaySheet) -> re.Pattern[str]:
    names = []
    for level in LEVELS:
        if level not in found.discs:
            upper, lower = level.split("-")
            names += [
                re.escape(form.format(upper, lower, lower[1:]))
                for form in SPELLINGS
                if lower[0] == upper[0] or "2" not in form
            ]
    return re.compile(rf"(?<![A-Z0-9])({'|'.join(names)})(?![0-9])", re.IGNORECASE)


def printed(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_no_other_disc_is_on_any_form_of_any_sheet() -> None:
    words = checklist()
    for name, found in demo_sheets().items():
        other = others_of(found)
        for text in (sheet_text(found, words), sheet_page(found, words), found.to_json(), *demo_pdf(name)):
            seen = other.search(text.replace(name, ""))
            assert seen is None, (name, seen)


def test_words_that_name_another_disc_are_left_out_and_it_says_so() -> None:
    case = demo(MORNING)
    names = {"medicine_name": "apixaban (asked at L3/4)"}
    for element, value in names.items():
        case = case.with_fact(element, value, entry="medicines[2]")
    found = sheet(case)
    assert not others_of(found).search(found.to_json())
    assert any("left out" in words for words in line(found, "last_doses").medicines)


def test_what_is_recorded_of_another_disc_changes_no_line() -> None:
    case = demo(MORNING)
    before = sheet(case)
    for element, value in (("modic_type", "3"), ("displacement", "bulge"), ("canal_stenosis", "moderate")):
        case = case.with_fact(element, value, disc="L5-S1")
    after = sheet(case)
    assert after.lines == before.lines
    assert after.discs == ("L4-L5",)


# --- one page


def test_one_page_for_every_demo_case_with_one_disc() -> None:
    for name, found in demo_sheets().items():
        pages = demo_pdf(name)
        if len(found.discs) == 1:
            assert len(pages) == 1, name
        elif len(pages) > 1:  # then each page says what belongs together
            own = all(
                f"this one is for {disc}" in page for page, disc in zip(pages, found.discs, strict=False)
            )
            assert own or f"it has {len(pages)} pages" in pages[0], name
    two = {name: len(demo_pdf(name)) for name, found in demo_sheets().items() if len(found.discs) == 2}
    assert two["two-discs-candidate"] == 1


@pytest.mark.parametrize("name", ["morning-with-reasons-to-wait", "two-discs-candidate"])
def test_the_fullest_sheets_are_one_page_on_the_other_paper_too(name: str) -> None:
    assert len(demo_pdf(name, "A4")) == 1


def test_more_than_a_page_holds_is_told_and_nothing_is_lost() -> None:
    words = checklist()
    found = demo_sheets()["morning-with-reasons-to-wait"]
    longer = found.model_copy(
        update={"lines": tuple(each.model_copy(update={"record": each.record * 5}) for each in found.lines)}
    )
    made = sheet_pdf(longer, words)
    reader = pypdf.PdfReader(io.BytesIO(made))
    assert len(reader.pages) > 1
    text = " ".join(printed(made).split())
    assert f"it has {len(reader.pages)} pages" in text
    assert all(each.ask[:30] in text for each in longer.lines)


# --- gates


@pytest.mark.parametrize(
    "name", ["cauda-equina-signs", "suspected-spinal-infection", "thoughts-of-self-harm"]
)
def test_an_emergency_has_no_checklist_but_the_reason(name: str) -> None:
    found = demo_sheets()[name]
    assert not found.lines
    assert "emergency" in found.no_checklist[0]
    assert len(found.no_checklist) > 2


@pytest.mark.parametrize(("name", "why"), [("extruded-disc", "extrusion"), ("pregnant", "Pregnan")])
def test_who_is_not_a_candidate_has_no_checklist_but_the_reason(name: str, why: str) -> None:
    found = demo_sheets()[name]
    assert not found.lines
    assert why.lower() in " ".join(found.no_checklist).lower()
    assert "ask" not in json.loads(found.to_json())


def test_a_planned_disc_that_fails_bars_the_checklist_though_the_other_passes() -> None:
    case = demo(MORNING).with_fact("discs_under_consideration", ["L4-L5", "L5-S1"], source="clinic")
    case = case.with_fact("displacement", "extrusion", disc="L5-S1", source="mri")
    found = sheet(case)
    assert (found.discs, found.standing) == (("L4-L5", "L5-S1"), "not_candidate")
    assert not found.lines
    assert any("L5-S1" in words for words in found.no_checklist)


def test_borderline_waits_for_a_conference_and_names_a_decision_that_is_known() -> None:
    case = demo("heavy-patient-for-conference")
    waiting = line(sheet(case), "conference_decision")
    assert (waiting.state, "no decision" in waiting.record[0]) == ("wait", True)
    decided = line(
        sheet(case, conference=conference_told(checklist(), "2026-12-01, conference 4")),
        "conference_decision",
    )
    assert (decided.state, "2026-12-01, conference 4" in decided.record[0]) == ("recorded", True)
    assert not any(each.id == "conference_decision" for each in demo_sheets()[MORNING].lines)


def test_another_day_than_the_record_plans_and_remarks_that_no_rule_read_are_told() -> None:
    noted = demo(MORNING).record.model_copy(update={"note": "Prefers Thursdays."})
    found = sheet(case_from_record(noted), on=date(2026, 12, 9))
    assert any(words.startswith("STOP. The record plans 2026-12-10") for words in found.notices)
    assert any(words.startswith("Read the remark in the record") for words in found.notices)


# --- which disc


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ((), Code.USAGE),
        (("the lower one",), Code.BAD_LEVEL),
        (("L4-L5", "L4/5"), Code.USAGE),
        (("L5-S1",), Code.CONTRADICTION),
        (("C5-C6",), Code.BAD_LEVEL),
    ],
)
def test_a_disc_that_may_not_be_planned_is_refused_with_the_way_out(
    asked: tuple[str, ...], code: Code
) -> None:
    with pytest.raises(InputError) as refused:
        planned_discs(demo(MORNING), asked)
    (problem,) = refused.value.problems
    assert problem.code is code
    assert "L4-L5" in problem.expected + problem.found


def test_three_discs_are_not_planned_in_one_session() -> None:
    with pytest.raises(InputError, match="more discs than are treated"):
        planned_discs(demo("three-discs-considered"), ("L3-L4", "L4-L5", "L5-S1"))
    assert planned(demo(MORNING)) == ("L4-L5",)
    assert DAY.isoformat() == demo_sheets()[MORNING].on


def test_what_stands_in_the_place_of_shipped_rules_is_told_on_the_sheet(tmp_path: Path) -> None:
    # the intervals of medicines rest on it, and a sheet is read where no answer is
    setting = yaml.safe_load((shipped().folder / "settings.yaml").read_text(encoding="utf-8"))["settings"]
    ours = {"old_age_from": setting["old_age_from"] | {"value": 80, "replaces": {"reason": "Ours."}}}
    (tmp_path / "settings.yaml").write_text(yaml.safe_dump({"settings": ours}), encoding="utf-8")
    case = demo(MORNING)
    with candidacy.use_library(tmp_path):
        made = day_sheet(case, load_rule_set("practice_baseline"), planned(case), DAY)
    assert "Of one's own, in the place of shipped content: setting old_age_from." in made.notices
    assert not any("of one's own" in each.lower() for each in demo_sheets()[MORNING].notices)
