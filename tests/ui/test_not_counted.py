"""What the standing does not count is listed with a repair, said at the standing, and asked about before an export."""

import pytest

from candidacy.case.edit import with_fact
from candidacy.case.record import FactEntry
from candidacy.ui.not_counted import not_counted
from candidacy.ui.report.desk import new_report
from tests.ui.conftest import demo

WEIGHT = "form-patient-body_weight"
SAID = "This standing does not count"
REPORT = """MRI LUMBAR SPINE
FINDINGS:
L4-5: Disc desiccation with 4 mm central protrusion.
IMPRESSION: Lesion in the L3 vertebral body, metastasis not excluded.
"""


def test_a_refused_correction_is_named_at_the_standing_with_what_is_counted_instead(screen):
    page = screen(record=demo("one-disc-candidate"))
    before = page.desk.document()
    assert SAID not in page.text
    page.type(WEIGHT, "1900")
    assert page.desk.document() == before
    assert f"{SAID} one thing entered or read" in page.text
    (panel,) = [body for body in page.bodies if 'class="c-standing' in body]
    assert panel.index("<h2>") < panel.index(SAID)
    assert "refused: “1900”; counted instead: 71 kg" in page.text
    page.press("undo")
    assert SAID not in page.text
    assert page.value("text_input", WEIGHT) == "71"
    assert page.desk.record == demo("one-disc-candidate"), (
        "the first undo drops the refused text, nothing else"
    )


def test_a_refused_text_is_dropped_or_corrected_at_its_line(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.type(WEIGHT, "1900").press("drop-text-patient-body_weight")
    assert SAID not in page.text
    page.type(WEIGHT, "heavy").press("mend-patient-body_weight")
    assert page.desk.kept["open-person"] is True
    page.type(WEIGHT, "84")
    assert SAID not in page.text
    assert page.desk.record.patient["body_weight"].value == 84


@pytest.mark.parametrize("reason", ["conflicting", "uncertain_in_source", "not_readable"])
def test_what_is_there_and_cannot_be_used_is_listed_and_opens_in_its_details(screen, reason):
    record = with_fact(demo("one-disc-candidate"), "patient", "able_to_consent", FactEntry(unknown=reason))
    page = screen(record=record)
    assert "Not counted yet (1)" in page.text
    page.press("mend-patient-able_to_consent")
    assert any(b.label == "Save" for b in page.at.button)


@pytest.mark.parametrize("reason", ["not_asked", "not_stated"])
def test_what_nobody_said_is_missing_and_not_uncounted(screen, reason):
    record = with_fact(demo("one-disc-candidate"), "patient", "able_to_consent", FactEntry(unknown=reason))
    assert SAID not in screen(record=record).text


@pytest.mark.parametrize("element", ["odi_percent", "phq9_total", "back_pain_nrs_average"])
def test_an_undated_fact_is_listed_and_its_line_opens_its_details(screen, element):
    record = demo("one-disc-candidate")
    entry = record.patient[element].model_copy(update={"source": None})
    page = screen(record=with_fact(record, "patient", element, entry))
    (line,) = not_counted(page.desk)
    assert (line.kind, line.place) == ("undated", ("patient", element))
    page.press(f"mend-patient-{element}")
    assert any(b.label == "Save" for b in page.at.button)


def test_an_imprecise_fact_that_cannot_decide_is_listed_and_mended_at_what_it_is_worked_out_from(screen):
    inexact = FactEntry(between=(71, 190), unit="kg")
    record = with_fact(demo("one-disc-candidate"), "patient", "body_weight", inexact)
    (line,) = not_counted(screen(record=record).desk)
    assert line.words.startswith("body mass index, 25.16 to 67.32")
    assert line.place == ("patient", "body_weight")


def test_signs_in_a_report_that_the_referral_does_not_hold_are_listed_until_looked_at(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.desk.kept["reports"] = [new_report("letter", REPORT, "2026-10-01")]
    page.run()
    assert "letter, look at first: " in page.text
    assert SAID in page.text
    page.press("seen-report-0")
    assert SAID not in page.text
    assert page.desk.record == demo("one-disc-candidate")


def test_an_export_asks_first_while_something_is_not_counted_and_again_when_that_changes(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.at.session_state["export-menu"] = True
    assert page.run().at.get("download_button")
    page.type(WEIGHT, "1900")
    assert not page.at.get("download_button")
    assert "The files would leave out what is not counted yet" in page.text
    page.press("export-agree")
    assert page.at.get("download_button")
    page.type("form-patient-body_height", "abc")
    assert not page.at.get("download_button")
    page.press("undo").press("undo")
    assert page.at.get("download_button")


def test_a_trial_and_a_report_do_not_reach_the_next_referral(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.desk.trials[page.desk.rules] = {("body_mass_index_limit", "bmi_upper_limit"): 60}
    page.desk.kept["reports"] = [new_report("letter", REPORT, "2026-10-01")]
    assert "Local trial" in page.run().text
    page.at.session_state["case-menu"] = True
    page.run().pick("demo", "two-discs-candidate")
    assert "parked with the former referral until it is open again: 1 report, 1 local trial" in page.text
    assert "Local trial:" not in page.text
    assert SAID not in page.text
    page.press("undo")
    assert "Local trial:" in page.text
    assert "letter, look at first" in page.text
