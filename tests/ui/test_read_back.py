"""Usual forms in the fields: shown back in the unit of the element, and counted only once they are taken."""

import pytest

from candidacy.case.record import FactEntry
from candidacy.ui.kept.plain import from_plain, to_plain

HEIGHT, BORN = "form-patient-body_height", "form-patient-birth_date"


@pytest.mark.parametrize(
    ("name", "text", "shown", "entry"),
    [
        ("body_height", "5'6\"", "66 in, which is 167.6 cm", FactEntry(value=66, unit="in")),
        ("body_weight", "204 lb", "204 lb, which is 92.53 kg", FactEntry(value=204, unit="lb")),
        ("birth_date", "17 May 1984", "17 May 1984", FactEntry(value="1984-05-17")),
        ("birth_date", "03/04/1984", "4 March 1984, month first; for 3 April 1984 write 1984-04-03", FactEntry(value="1984-03-04")),
        ("back_pain_nrs_average", "7/10", "7 of 10", FactEntry(value=7)),
        ("pain_duration", "2 years", "2 year, which is 24 month", FactEntry(value=2, unit="year")),
    ],
)  # fmt: skip
def test_a_usual_form_is_shown_back_and_counts_only_once_it_is_taken(screen, name, text, shown, entry):
    page = screen(source="=today")
    key = f"form-patient-{name}"
    page.type(key, text)
    assert f"“{text}” is read as {shown}. It does not count yet." in page.text
    assert page.desk.record.patient == {}
    assert "This standing does not count one thing" in page.text
    assert page.value("text_input", key) == text
    page.press(f"take-{key}")
    taken = page.desk.record.patient[name]
    assert taken == entry.model_copy(update={"date": "2026-11-25", "by": "asked directly"})
    assert page.desk.drafts == {}
    page.press("undo")
    assert page.desk.record.patient == {}


def test_what_waits_is_taken_or_dropped_at_its_line_and_undo_drops_it_first(screen):
    page = screen()
    page.type("form-patient-body_weight", "81").type(HEIGHT, "5'6\"")
    assert "Body height, typed: “5'6\"”, read as 66 in, which is 167.6 cm; not taken yet" in page.text
    page.press("drop-text-patient-body_height")
    assert page.value("text_input", HEIGHT) == ""
    page.type(HEIGHT, "5'6\"").press("undo")
    assert (page.desk.drafts, list(page.desk.record.patient)) == ({}, ["body_weight"])
    page.type(HEIGHT, "5'6\"")
    assert from_plain(to_plain(page.desk.drafts)) == page.desk.drafts, "what waits outlives a restart"
    page.press("mend-patient-body_height")
    assert page.desk.record.patient["body_height"].value == 66
    page.type(HEIGHT, "66 in")
    assert page.desk.drafts == {}, "the same statement needs no second look"


@pytest.mark.parametrize(
    ("key", "text", "reason"),
    [
        (HEIGHT, "6'14\"", "more inches than a foot has"),
        (HEIGHT, "1'2\"", "outside the possible range"),
        ("form-patient-back_pain_nrs_average", "7/20", "a number out of another scale"),
        (BORN, "3/4/84", "the year needs four digits"),
        (BORN, "31 Feb 1984", "not a date"),
    ],
)
def test_what_reads_in_no_way_or_could_not_be_is_refused_at_once(screen, key, text, reason):
    page = screen().type(key, text)
    assert reason in page.text
    assert page.desk.record.patient == {}
    assert not page.has("button", f"take-{key}")


def test_a_day_typed_for_answers_or_a_document_is_shown_back_before_it_counts(screen):
    page = screen().type("kept-dated", "3/4/2026")
    assert "Read as 4 March 2026, month first; for 3 April 2026 write 2026-04-03" in page.text
    assert page.value("text_input", "kept-dated") == "2026-03-04"
    page.at.session_state["source-menu"] = True
    page.run()
    page._find("selectbox", "doc-new-0-kind").set_value("clinic_note")
    page._find("text_input", "doc-new-0-date").set_value("Sept 3, 2026")
    next(b for b in page.at.button if b.label == "Add").click()
    page.run()
    assert "read as 3 September 2026; if that is right, press again" in page.text
    assert page.desk.record.documents == {}
    assert page.value("text_input", "doc-new-0-date") == "2026-09-03"
    next(b for b in page.at.button if b.label == "Add").click()
    page.run()
    assert page.desk.record.documents["clinic-1"].date == "2026-09-03"
