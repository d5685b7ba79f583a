"""The page Letters: the draft of the open referral, its blanks, and what stands in the way."""

from candidacy.case.edit import with_fact
from candidacy.case.record import FactEntry
from tests.ui.conftest import demo

PAGE = "letters.page.letters"


def test_kinds_are_drafted_from_the_open_referral(screen):
    page = screen(PAGE, demo("anticoagulated"))
    assert "We cannot answer yet, because facts are missing" in page.text
    for kind in ("payer", "patient_before", "addendum"):
        page.pick("kept-letter-kind", kind)
        assert "DRAFT, not sent" in page.text
        assert page.desk.case().digest in page.text
        assert len(page.at.get("download_button")) == 4


def test_a_blank_is_filled_kept_for_the_practice_and_refused_where_it_promises(screen):
    page = screen(PAGE, demo("one-disc-candidate"), **{"letter-kind": "patient_after"})
    assert "INCOMPLETE: this is not filled in yet: Telephone of the practice" in page.text
    page.type("letter-blank-practice_phone", "555 0100")
    assert "Phone in the day: 555 0100" in page.text
    page.type("letter-blank-follow_up_visits", "We guarantee a visit")
    assert "a word of promise or order" in page.text
    assert "We want to see you on these days: ____" in page.text
    page.desk.open(demo("pregnant"), "opened for a test")
    page.run()
    assert "Phone in the day: 555 0100" in page.text
    assert page.value("text_input", "letter-blank-follow_up_visits") == ""


def test_a_proposed_day_is_for_this_letter_alone(screen):
    page = screen(PAGE, demo("anticoagulated"), **{"letter-kind": "prescriber"})
    page.type("letter-day", "2026-12-14")
    assert "no later than: 2026-12-10" in page.text
    assert page.desk.record == demo("anticoagulated")
    page.type("letter-day", "14 December")
    assert "E207" in page.text
    assert "DRAFT, not sent" not in page.text


def test_one_of_several_blood_thinners_can_be_chosen(screen):
    record = demo("anticoagulated")
    for element, value in (("medicine_name", "aspirin"), ("medicine_class", "antiplatelet"), ("medicine_agent", "aspirin"),
                           ("medicine_indication", "coronary_stent")):  # fmt: skip
        record = with_fact(record, "medicines[1]", element, FactEntry(value=value))
    page = screen(PAGE, record, **{"letter-kind": "prescriber"})
    assert "Your patient takes apixaban" in page.text
    assert "Your patient takes aspirin" in page.text
    page.pick("kept-letter-medicine", "medicines[1]")
    assert "Your patient takes apixaban" not in page.text
    assert "Your patient takes aspirin" in page.text


def test_a_local_trial_is_not_in_a_letter(screen):
    page = screen(PAGE, demo("heavy-patient-for-conference"))
    page.desk.trials["practice_baseline"] = {("body_mass_index_limit", "bmi_upper_limit"): 45}
    page.run()
    assert "without the local trial" in page.text
    assert "goes to our case conference" in page.text


def test_without_an_antithrombotic_there_is_no_letter_to_a_prescriber(screen):
    page = screen(PAGE, demo("one-disc-candidate"), **{"letter-kind": "prescriber"})
    assert "the record names no antithrombotic" in page.text
    assert "DRAFT, not sent" not in page.text


def test_what_stops_stands_before_the_standing_beside_a_letter_too(screen):
    page = screen(PAGE, demo("morning-with-reasons-to-wait"))
    (stop, *_) = page.desk.document().stops
    assert 0 <= page.text.find(stop) < page.text.find("Borderline")
