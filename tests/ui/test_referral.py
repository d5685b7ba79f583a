"""The Referral page: what is entered reaches the record, what is shown comes from the assessment."""

import re

import pytest
from streamlit.testing.v1 import AppTest

from candidacy.case.edit import with_fact
from candidacy.case.load import parse_case
from candidacy.case.record import FactEntry
from candidacy.ui.exports import case_exports
from tests.ui.conftest import demo

WEIGHT = "form-patient-body_weight"


def test_an_empty_referral_is_incomplete_and_shows_its_cautions(screen):
    page = screen()
    assert page.desk.document().standing == "incomplete"
    assert "? Incomplete" in page.text
    assert "not a diagnosis, not an order, not a decision" in page.text


def test_a_typed_value_reaches_the_record_and_its_effect_is_told(screen):
    page = screen(record=demo("one-disc-candidate"))
    before = page.desk.document()
    page.type(WEIGHT, "190")
    assert page.desk.record.patient["body_weight"].value == 190
    limit = [c for c in page.desk.document().criteria if c.id == "body_mass_index_limit"]
    assert [c.outcome for c in limit] == ["fail"]
    assert "Last edit: body weight: 190" in page.text
    assert limit[0].title in page.text
    page.press("undo")
    assert page.desk.document() == before
    page.press("redo")
    assert page.desk.record.patient["body_weight"].value == 190


def test_an_answer_takes_no_field_from_under_the_hands(screen):
    page = screen()
    assert page.value("text_input", "form-patient-birth_date") == ""
    page.type("form-patient-age", "44")  # an age is not worked out of a birth date any more
    assert page.value("text_input", "form-patient-birth_date") == ""


def test_imprecise_and_unknown_statements_are_recorded_as_such(screen):
    page = screen()
    page.type(WEIGHT, "70 to 75")
    page.type("form-patient-body_height", "at least 5 in")
    page.type("form-patient-pain_duration", ">6")
    page.type("form-patient-birth_date", "1980-05")
    assert page.desk.record.patient["body_weight"] == FactEntry(between=(70, 75), unit="kg")
    assert "body_height" not in page.desk.record.patient  # 5 in is no standing height: refused below
    assert page.desk.record.patient["pain_duration"] == FactEntry(more_than=6, unit="month")
    assert page.desk.record.patient["birth_date"] == FactEntry(value="1980-05")
    page.type(WEIGHT, "? not asked")
    assert page.desk.record.patient["body_weight"] == FactEntry(unknown="not_asked")
    page.type(WEIGHT, "154 lb").press(f"take-{WEIGHT}")
    assert page.desk.record.patient["body_weight"] == FactEntry(value=154, unit="lb")
    page.type(WEIGHT, "")
    assert "body_weight" not in page.desk.record.patient


def test_what_cannot_be_taken_over_stays_in_its_field_with_the_reason(screen):
    page = screen()
    for wrong, reason in (
        ("31,5", "not understood as a number"),
        ("900", "outside the possible range"),
        ("70 mm", "not a unit"),
    ):
        page.type(WEIGHT, wrong)
        assert page.value("text_input", WEIGHT) == wrong
        assert reason in page.text
        assert page.desk.record.patient == {}
    page.type(WEIGHT, "71")
    assert "Not taken over" not in page.text
    assert page.desk.record.patient["body_weight"].value == 71


def test_yes_no_and_codes_can_be_chosen_left_unknown_and_taken_back(screen):
    page = screen()
    page.tap("form-patient-able_to_consent", "yes")
    assert page.desk.record.patient["able_to_consent"].value is True
    page.tap("form-patient-able_to_consent", "?not_stated")
    assert page.desk.record.patient["able_to_consent"].unknown == "not_stated"
    group = page._find("button_group", "form-patient-able_to_consent")
    assert group.proto.required, "a click on the chosen answer does not take it out"
    page.press("more-form-patient-able_to_consent")
    page.at.session_state["details"] = ("patient", "able_to_consent")
    next(b for b in page.at.button if b.label == "Take out").click()
    page.run()
    assert "able_to_consent" not in page.desk.record.patient
    assert "taken out; it was not known: not stated in the source" in page.text
    page.pick("form-patient-sex", "female")
    assert page.desk.record.patient["sex"].value == "female"
    page.pick("form-patient-sex", "?conflicting")
    assert page.desk.record.patient["sex"].unknown == "conflicting"


def test_the_disc_grid_writes_each_level_in_cranial_order(screen):
    page = screen().open("disc")
    page.pick("grid-L5-S1-pfirrmann_grade", "IV")
    page.pick("grid-L4-L5-pfirrmann_grade", "III")
    assert list(page.desk.record.discs) == ["L4-L5", "L5-S1"]
    assert page.desk.record.discs["L5-S1"]["pfirrmann_grade"].value == "IV"
    page.pick("grid-L5-S1-pfirrmann_grade", "–")
    assert page.desk.record.discs["L5-S1"] == {}


def test_the_two_grading_scales_are_never_mixed(screen):
    page = screen().open("disc")
    page.type("grid-L4-L5-modified_pfirrmann_grade", "IV")
    assert page.desk.record.discs == {}
    assert "modified pfirrmann grade of l4-l5" in page.text.lower()


def test_entries_of_a_list_and_whether_it_is_complete(screen):
    page = screen().open("list-medicines")
    page.press("add-medicines")
    assert page.desk.record.medicines is not None
    assert page.desk.record.medicines.complete is None
    page.tap("complete-medicines", "yes")
    assert page.desk.record.medicines.complete is True
    page.press("add-medicines")
    assert page.desk.record.medicines.complete is None, "another entry makes the old statement unsafe"
    page.press("drop-medicines[2]")
    assert len(page.desk.record.medicines.entries) == 1


def test_taking_an_entry_out_moves_no_other_and_keeps_what_was_refused_there(screen):
    page = screen().open("list-medicines")
    page.press("add-medicines").press("add-medicines")
    field = "form-medicines[2]-medicine_doses_per_day"
    page.desk.kept["all-list-medicines"] = True
    page.run().type(field, "often").type("form-medicines[1]-medicine_doses_per_day", "now and then")
    page.press("drop-medicines[1]")
    assert page.value("text_input", field) == "often", "the other entry keeps its number and its refused text"
    assert "medicine 1 taken out, with what was typed and not taken over: “now and then”" in page.text
    page.type(field, "2")
    assert [dict(e)["medicine_doses_per_day"].value for e in page.desk.record.medicines.entries] == [2]
    page.press("undo").press("undo")
    assert page.has("button", "drop-medicines[1]")


def test_a_list_of_codes_may_go_on_unless_it_is_said_to_be_whole(screen):
    page = screen().open("logistics")
    key = "form-patient-discs_under_consideration"
    page._find("multiselect", key).set_value(["L4-L5"])
    page.run()
    assert page.desk.record.patient["discs_under_consideration"] == FactEntry(includes=("L4-L5",))
    page.pick(f"{key}-form", "these and no others")
    assert page.desk.record.patient["discs_under_consideration"] == FactEntry(value=("L4-L5",))


def test_new_facts_name_the_chosen_source_and_a_new_value_drops_the_old_words(screen):
    page = screen(record=demo("one-disc-candidate"))
    source = next(iter(page.desk.record.documents))
    page.desk.kept["source"] = source
    page.desk.kept["role"] = "coordinator"
    page.type(WEIGHT, "83")
    entry = page.desk.record.patient["body_weight"]
    assert (entry.source, entry.by, entry.words) == (source, "coordinator", None)


def test_the_details_of_a_fact_hold_its_exact_form_and_its_words(screen):
    page = screen()
    page.press(f"more-{WEIGHT}")
    assert "Body weight" in page.text
    page.at.session_state["details"] = (
        "patient",
        "body_weight",
    )  # in a browser the dialog stays open by itself
    next(w for w in page.at.selectbox if w.label == "How exactly").set_value("between")
    page.run()
    page.at.session_state["details"] = ("patient", "body_weight")
    next(w for w in page.at.text_input if w.label == "From").set_value("70")
    next(w for w in page.at.text_input if w.label == "To").set_value("75")
    next(w for w in page.at.text_area if w.label == "Exact words of the source").set_value(
        "about 70 to 75 kg"
    )
    next(b for b in page.at.button if b.label == "Save").click()
    page.run()
    assert page.desk.record.patient["body_weight"] == FactEntry(
        between=(70, 75), unit="kg", words="about 70 to 75 kg"
    )


def _dialog(page, subject, element):
    """Open the dialog of a fact; in a browser it stays open by itself."""
    page.at.session_state["details"] = (subject, element)
    return page.run()


def _save(page, subject, element):
    next(b for b in page.at.button if b.label == "Save").click()
    return _dialog(page, subject, element)


@pytest.mark.parametrize(
    ("element", "answer"),
    [("able_to_consent", "Value"), ("sex", "Code"), ("sex", "Reason"), ("body_weight", "Value")],
)
def test_the_details_start_without_an_answer_and_refuse_to_be_saved_without_one(screen, element, answer):
    page = _dialog(screen(), "patient", element)
    if answer == "Reason":
        next(w for w in page.at.selectbox if w.label == "How exactly").set_value("unknown")
        _dialog(page, "patient", element)
    widgets = [*page.at.radio, *page.at.selectbox, *page.at.text_input]
    assert next(w for w in widgets if w.label == answer).value in (None, "")
    _save(page, "patient", element)
    assert "no answer is chosen yet" in page.text
    assert page.desk.record.patient == {}


def test_an_unknown_does_not_become_an_answer_by_choosing_another_form(screen):
    page = screen()
    page.tap("form-patient-able_to_consent", "?not_stated")
    _dialog(page, "patient", "able_to_consent")
    next(w for w in page.at.selectbox if w.label == "How exactly").set_value("value")
    _dialog(page, "patient", "able_to_consent")
    _save(page, "patient", "able_to_consent")
    assert page.desk.record.patient["able_to_consent"].unknown == "not_stated"
    page.at.radio[0].set_value("no")
    _save(page, "patient", "able_to_consent")
    assert page.desk.record.patient["able_to_consent"].value is False
    assert "Last edit: able to consent: no (no source named)" in page.text


def test_an_empty_list_of_codes_says_none_only_when_that_is_ticked(screen):
    place = ("patient", "discs_under_consideration")
    page = _dialog(screen(), *place)
    _save(page, *place)
    assert "no answer is chosen yet" in page.text
    assert page.desk.record.patient == {}
    next(c for c in page.at.checkbox if c.label == "None of them").check()
    _save(page, *place)
    assert page.desk.record.patient[place[1]].value == ()


def test_the_history_says_what_was_recorded_and_from_where(screen):
    page = screen(record=demo("one-disc-candidate"))
    source = next(iter(page.desk.record.documents))
    page.desk.kept.update(source=source, role="coordinator")
    page.type(WEIGHT, "83")
    assert f"Last edit: body weight: 83 kg ({source}, coordinator)" in page.text
    page.type(WEIGHT, "")
    assert "Last edit: body weight taken out; it was 83 kg" in page.text


def _send(page, word):
    next(b for b in page.at.button if b.label == word).click()
    return page.run()


def test_a_document_needs_a_kind_and_can_be_corrected(screen):
    page = screen()
    page.at.session_state["source-menu"] = True
    page.run()
    assert page.value("selectbox", "doc-new-0-kind") is None
    page.type("doc-new-0-date", "2026-10-03")
    for shown in (False, True):  # a menu that is closed takes its fields away, not what stands in them
        page.at.session_state["source-menu"] = shown
        page.run()
    assert page.value("text_input", "doc-new-0-date") == "2026-10-03"
    _send(page, "Add")
    assert "no kind of document is chosen yet" in page.text
    assert page.desk.record.documents == {}
    assert page.value("text_input", "doc-new-0-date") == "2026-10-03"
    page._find("selectbox", "doc-new-0-kind").set_value("clinic_note")
    _send(page, "Add")
    assert page.desk.record.documents["clinic-1"].date == "2026-10-03"
    assert "document added: clinic-1, clinic note, 2026-10-03" in page.text
    assert page.desk.kept["source"] == "clinic-1"
    for wrong in ("2026-13-40", "soon"):
        page._find("text_input", "doc-clinic-1-date").set_value(wrong)
        _send(page, "Save")
        assert "Refused; nothing was changed" in page.text
        assert page.desk.record.documents["clinic-1"].date == "2026-10-03"
    page._find("text_input", "doc-clinic-1-date").set_value("2026-11-02")
    _send(page, "Save")
    assert page.desk.record.documents["clinic-1"].date == "2026-11-02"
    assert "document corrected: clinic-1, clinic note, 2026-11-02" in page.text
    page.press("undo")
    assert page.desk.record.documents["clinic-1"].date == "2026-10-03"


def test_missing_facts_are_answered_in_place_or_lead_to_their_field(screen):
    page = screen(record=demo("first-letter-only"))
    page.tap("kept-view", "Missing")
    first = page.desk.document().missing[0]
    assert first.ask in page.text
    place = next(m for m in page.desk.document().missing if m.subject == "patient" and "[" not in m.subject)
    page.press(f"go-patient-{place.element}")
    assert page.desk.kept["view"] == "Facts"
    keys = [
        w.key
        for kind in ("text_input", "selectbox", "button_group", "multiselect")
        for w in page.at.get(kind)
    ]
    assert f"form-patient-{place.element}" in keys


def _asked(page):
    """The facts asked in the rows of the list of missing facts, in their order."""
    kinds = ("text_input", "selectbox", "button_group", "multiselect")
    keys = [w.key for kind in kinds for w in page.at.get(kind)]
    return [k for k in keys if k.startswith("ask-") and not k.endswith("-form")]


def test_an_answered_row_stays_in_place_with_change_and_no_other_row_takes_its_place(screen):
    page = screen(record=demo("first-letter-only"))
    page.tap("kept-view", "Missing")
    rows, first = _asked(page), page.desk.document().missing
    groups = [w for w in page.at.get("button_group") if w.key.startswith("ask-patient-")]
    key = groups[0].key
    name = key.removeprefix("ask-patient-")
    page.tap(key, "no")
    assert page.desk.record.patient[name].value is False
    assert name not in {m.element for m in page.desk.document().missing}
    assert len(page.desk.document().missing) < len(first) or page.desk.document().missing != first
    assert _asked(page) == rows, "every row is where it was"
    assert page._find("button_group", key).disabled
    assert "✓ answered: no (no source named)" in re.sub(r" +", " ", page.text)
    page.press(f"change-patient-{name}")
    assert not page._find("button_group", key).disabled
    page.tap(key, "yes")
    assert page.desk.record.patient[name].value is True
    page.press("missing-anew")
    assert key not in _asked(page)


def test_rows_of_missing_facts_are_tied_to_the_fact_and_what_comes_up_later_is_last(screen):
    page = screen(record=demo("first-letter-only"))
    page.tap("kept-view", "Missing")
    for place in {(m.subject, m.element) for m in page.desk.document().missing[:12]}:
        keys = (f"ask-{place[0]}-{place[1]}", f"add-{place[1]}", f"go-{place[0]}-{place[1]}")
        assert any(page.has(kind, k) for kind in ("text_input", "selectbox", "button_group", "multiselect", "button")
                   for k in keys)  # fmt: skip
    before = list(page.desk.kept["missing-rows"][1])
    page.desk.take(
        with_fact(page.desk.record, "L4-L5", "displacement", FactEntry(unknown="not_stated")), "a disc"
    )
    page.run()
    after = list(page.desk.kept["missing-rows"][1])
    assert len(after) > len(before)
    assert after[: len(before)] == before


def test_answers_name_their_source_and_day_where_they_are_asked(screen):
    page = screen(record=demo("one-disc-candidate"))
    source = next(iter(page.desk.record.documents))
    page.pick("from-strip", source).type("kept-dated", "2026-10-02").type(WEIGHT, "83")
    assert (page.desk.record.patient["body_weight"].source, page.desk.record.patient["body_weight"].date) == (
        source,
        "2026-10-02",
    )
    page.type("kept-dated", "last week")
    assert "Refused; nothing was changed" in page.text
    page.pick("from-strip", "=today").type(WEIGHT, "84")
    entry = page.desk.record.patient["body_weight"]
    assert (entry.source, entry.date, entry.by) == (None, "2026-11-25", "asked directly")
    assert "body weight: 84 kg (on 2026-11-25, asked directly)" in page.text


def test_an_answer_in_its_row_is_dated_with_one_click(screen):
    page = screen(record=demo("first-letter-only"))
    page.tap("kept-view", "Missing")
    key = next(w.key for w in page.at.get("button_group") if w.key.startswith("ask-patient-"))
    name = key.removeprefix("ask-patient-")
    assert page._find("button", f"today-patient-{name}").disabled
    page.tap(key, "no").press(f"today-patient-{name}")
    entry = page.desk.record.patient[name]
    assert (entry.value, entry.date, entry.by) == (False, "2026-11-25", "asked directly")
    page.press(f"date-patient-{name}")
    assert any(b.label == "Save" for b in page.at.button)


def test_a_criterion_opens_to_rule_version_value_source_and_tag(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.tap("kept-view", "Criteria")
    shown = next(b for b in page.bodies if "body_mass_index_limit" in b)
    for words in (
        "body_mass_index_limit 0.2.0",
        "Rule.",
        "Limits",
        "Sources",
        "seen",
        "margin",
        "worked out from",
    ):
        assert words in shown
    page.tap("kept-outcomes", ["fail"])
    rows = [b for b in page.bodies if b.startswith('<div class="c-criterion')]
    assert len(rows) == sum(c.outcome == "fail" for c in page.desk.document().criteria)


def test_a_measured_criterion_says_how_firm_it_is_and_others_do_not(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.tap("kept-view", "Criteria")
    firm = page.desk.whole_document().firm
    told = {f.criterion: f.words for f in firm.criteria}
    for criterion in ("odi_minimum", "body_mass_index_limit"):
        shown = next(b for b in page.bodies if criterion in b)
        assert ("How firm it is" in shown) is (criterion in told)
    assert told["odi_minimum"] in next(b for b in page.bodies if "odi_minimum" in b)
    assert page.desk.document().firm is None


def test_the_disc_table_has_a_column_for_each_disc(screen):
    page = screen(record=demo("two-discs-candidate"))
    page.tap("kept-view", "Discs")
    table = next(b for b in page.bodies if "Criteria by disc" in b)
    for disc in page.desk.document().discs:
        assert disc.level in table


def test_an_emergency_says_so_in_words_and_tells_the_act(screen):
    page = screen(record=demo("cauda-equina-signs"))
    assert page.desk.document().standing == "urgent"
    assert "‼ Urgent" in page.text
    assert "follow the local emergency pathway now" in page.text


def test_demonstration_cases_and_files_open_and_undo_brings_the_former_one_back(screen):
    page = screen()
    page.type(WEIGHT, "71")
    page.at.session_state["case-menu"] = True
    page.run().pick("demo", "one-disc-candidate")
    assert page.desk.record == demo("one-disc-candidate")
    page.press("undo")
    assert page.desk.record.patient["body_weight"].value == 71


def test_what_is_refused_as_the_name_of_one_referral_does_not_stand_at_the_next(screen):
    page = screen()
    page.at.session_state["case-menu"] = True
    page.run().type("head-id", "John Smith").type("head-as_of", "2026-13-40")
    assert (page.value("text_input", "head-id"), page.value("text_input", "head-as_of")) == (
        "John Smith",
        "2026-13-40",
    )
    page.pick("demo", "stale-mri")
    page.at.session_state["case-menu"] = True
    page.run()
    assert page.value("text_input", "head-id") == page.desk.record.id
    assert page.value("text_input", "head-as_of") == page.desk.record.as_of


def test_what_was_told_stays_where_only_a_menu_moved_and_goes_with_the_next_act():
    script = """
import streamlit as st
from candidacy.ui.head_line import messages
from candidacy.ui.session import drawn, menu_moved
messages()
st.button("menu", key="menu", on_click=menu_moved)
st.button("act", key="act")
drawn()
"""
    page = AppTest.from_string(script, default_timeout=60)
    page.session_state["notice"] = "Kept as version 2."

    def told() -> bool:
        return any("Kept as version 2." in each.proto.body for each in page.get("html"))

    page.run()
    assert told()
    for key, still in (("menu", True), ("menu", True), ("act", False), ("menu", False)):
        page.button(key=key).click().run()
        assert told() is still


def test_an_unusable_file_changes_nothing_and_every_problem_is_told(screen):
    page = screen(record=demo("one-disc-candidate"))
    page.at.session_state["case-menu"] = True
    page.run()
    upload = next(u for u in page.at.get("file_uploader"))
    upload.set_value(
        ("bad.yaml", b'schema_version: "1"\nid: x\npatient: {body_weight: 71, agee: 4}\n', "application/yaml")
    )
    page.run()
    assert "the unit is missing" in page.text
    assert "agee" in page.text
    assert page.desk.record == demo("one-disc-candidate")


def test_the_rule_set_can_be_changed_without_losing_anything(screen):
    page = screen(record=demo("one-disc-candidate"))
    names = page._find("selectbox", "kept-rules").options
    assert len(names) > 1
    page.pick("kept-rules", "report_completeness")
    assert page.desk.document().rule_set.id == "report_completeness"
    assert page.desk.record == demo("one-disc-candidate")


def test_every_export_carries_the_case_and_the_file_loads_back_exactly(screen, monkeypatch):
    page = screen(record=demo("imprecise-report"))
    monkeypatch.setattr("candidacy.ui.exports.desk", lambda: page.desk)
    made = {export.label: export.make() for export in case_exports()}
    assert parse_case(made["Case file (YAML)"]).record == page.desk.record
    assert made["Assessment (JSON)"] == page.desk.whole_document().to_json()
    assert made["Assessment (PDF, A4)"].startswith(b"%PDF-")
    assert page.desk.record.id in made["Assessment to print (HTML)"]


def test_what_would_settle_the_standing_is_shown_where_a_person_asks_and_of_an_emergency_only_the_act(screen):
    def settling(name):
        page = screen(record=demo(name)).tap("kept-view", "Missing")
        assert not any('class="c-settle' in body for body in page.bodies)
        page._find("toggle", "kept-settle").set_value(True)
        page.run()
        told = [body for body in page.bodies if 'class="c-settle' in body]
        assert [re.search("<h3>(.*?)</h3>", body).group(1) for body in told] == [
            "What would settle it",
            "What would change it",
        ]
        return [re.findall("<p[^>]*>(.*?)</p>", body) for body in told]

    settle, change = settling("extruded-disc")
    assert settle[0].startswith("Ask first: cauda equina signs (a question): if yes: Urgent, act on it now")
    assert any("extruded" in line for line in change)
    act = "Act on the emergency first; what else is missing is not the question now."
    assert settling("cauda-equina-signs") == [[act], [act]]
