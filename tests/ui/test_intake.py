"""The guided intake: pages declared as data, source and date first, and what may be denied together."""

import pytest

from candidacy.assessment.assess import elements_used
from candidacy.case.catalogue import catalogue
from candidacy.case.edit import with_fact
from candidacy.case.element import LISTS
from candidacy.case.record import Document, FactEntry
from candidacy.rules.libraries import library_in_use, load_rule_set
from candidacy.ui.intake.absent import denied, without_contradictions
from candidacy.ui.intake.plan import page_of, pages
from candidacy.ui.intake.rows import further, page_rows
from tests.ui.conftest import demo

TODAY = {"date": "2026-11-25", "by": "asked directly"}


def _guided(screen, page="patient", source="=today", record=None):
    made = screen(record=record, **{"intake-page": page}).tap("kept-view", "Guided")
    return made.tap("intake-from", source) if source else made


def _rows(page):
    kinds = ("text_input", "selectbox", "button_group", "multiselect")
    keys = [w.key for kind in kinds for w in page.at.get(kind)]
    return [k for k in keys if k.startswith("intake-") and k.count("-") > 1]


def test_pages_hold_each_group_once_and_only_facts_that_can_be_denied_are_denied_together():
    assert len(pages()) == 6
    groups = [group for page in pages() for group in page.groups]
    assert sorted(groups) == sorted(catalogue().groups), "every group on one page"
    assert sorted(name for page in pages() for name in page.lists) == sorted(LISTS)
    for page in pages():
        for name in (name for names in page.absent.values() for name in names):
            element = catalogue()[name]
            assert (element.kind, element.statable, page_of(name)) == ("boolean", True, page), name
            assert not name.startswith(("documented_", "consent_", "product_received")), name
        for name, inputs in page.asked_as.items():
            assert tuple(inputs) in catalogue()[name].inputs
    refusable = {name for page in pages() for names in page.absent.values() for name in names}
    good = {"able_to_consent", "axial_dominance", "failed_conservative_care", "supervised_therapy_completed",
            "allergy_list_complete", "antithrombotic_list_complete", "antithrombotic_plan_agreed",
            "level_numbering_confirmed_for_procedure", "consent_signed", "suicidal_thoughts", "high_intensity_zone", "annular_fissure"}  # fmt: skip
    assert refusable.isdisjoint(good), "where a no is bad news, or no usual answer, each is asked by itself"


@pytest.mark.parametrize("rules", list(library_in_use().rule_set_names()))
def test_every_fact_that_a_rule_set_reads_is_reached_on_its_page(screen, rules):
    page = screen(record=demo("one-disc-candidate"))
    page.desk.rules = rules
    used, document = set(elements_used(load_rule_set(rules))), page.desk.document()
    reached = set()
    for each in pages():
        rows = page_rows(page.desk, each, document)
        reached |= {name for _, name in [*rows, *further(page.desk, each, used, rows)]} | set(each.asked_as)
    lists = {scope: name for name, scope in LISTS.items()}
    for name in used:
        element = catalogue()[name]
        if element.statable:
            assert (name if element.scope in ("patient", "disc") else lists[element.scope]) in reached, name


def test_nothing_is_preselected_and_nothing_can_be_answered_before_source_and_day(screen):
    page = _guided(screen, source="")
    assert "an answer without a source and a day cannot be traced" in page.text
    assert page.value("button_group", "intake-from") is None
    for key in _rows(page):
        widget = next(w for kind in ("text_input", "selectbox", "button_group", "multiselect")
                      for w in page.at.get(kind) if w.key == key)  # fmt: skip
        assert widget.disabled, key
        assert widget.value in (None, "", []), key
    assert page._find("button", "absent-list-0").disabled
    page.tap("intake-from", "=today").tap("intake-patient-sex", "male")
    assert page.desk.record.patient["sex"] == FactEntry(value="male", **TODAY)


def test_what_is_denied_together_is_what_was_listed_and_one_step_of_the_history(screen):
    page = _guided(screen, "danger")
    page.tap("intake-patient-fever", "yes").tap("intake-patient-saddle_numbness", "?not_stated")
    before, rows = page.desk.record, _rows(page)
    page.press("absent-list-0")
    assert page.desk.record == before, "the list records nothing"
    listed = page.desk.document()
    shown = next(b for b in page.bodies if "c-absent" in b)
    assert "Spinal deformity: no" in shown
    for name in ("Fever", "Saddle numbness", "Able to consent", "Infection signs"):
        assert f"<li>{name}: no" not in shown, (
            "answered, asked elsewhere, or contradicted by what is recorded"
        )
    lines = shown.count("<li>")
    page.press("absent-record")
    new = {n: e for n, e in page.desk.record.patient.items() if n not in before.patient}
    assert len(new) == lines > 20
    assert all(entry == FactEntry(value=False, **TODAY) for entry in new.values())
    assert page.desk.record.patient["fever"].value is True
    assert page.desk.record.patient["saddle_numbness"].unknown == "not_stated"
    assert {(c.subject, c.element) for c in page.desk.document().conflicts} == {
        (c.subject, c.element) for c in listed.conflicts
    }
    label = page.desk.steps[page.desk.at].label
    assert label.startswith(f"asked, and absent ({lines}, on 2026-11-25, asked directly): ")
    assert all(catalogue()[name].label in label for name in new)
    assert _rows(page) == rows, "no row moves"
    page.press("undo")
    assert page.desk.record == before


def test_pages_told_by_others_have_a_source_of_their_own_and_facts_name_it(screen):
    page = _guided(screen, "danger")
    page.tap("intake-nav", "imaging")
    assert page.value("button_group", "intake-from") is None, "what was asked today is no imaging report"
    page.press("intake-add-document")
    page._find("text_input", "doc-intake-0-date").set_value("2026-11-02")
    next(b for b in page.at.button if b.label == "Add").click()
    page.run()
    assert page.desk.record.documents == {"imaging-1": Document(kind="imaging_report", date="2026-11-02")}
    page.press("absent-list-0").press("absent-record")
    assert page.desk.record.patient["fracture_on_imaging"] == FactEntry(value=False, source="imaging-1")
    page.tap("intake-nav", "health").tap("intake-patient-diabetes", "none")
    assert page.desk.record.patient["diabetes"] == FactEntry(value="none", **TODAY)
    page.tap("kept-view", "Facts")
    page.desk.kept["source"] = "imaging-1"
    page.tap("kept-view", "Guided").tap("intake-patient-smoking_status", "never")
    assert page.desk.record.patient["smoking_status"] == FactEntry(value="never", **TODAY)


def test_a_denial_that_would_contradict_the_record_is_left_out(screen):
    page = _guided(screen, "danger")
    page.tap("intake-patient-severe_motor_deficit", "yes")
    places = [("patient", "motor_deficit"), ("patient", "fever")]
    assert page.desk.document(denied(page.desk, places)).conflicts != []
    assert without_contradictions(page.desk, places) == [("patient", "fever")]
    assert page.desk.document(denied(page.desk, [("patient", "fever")])).conflicts == []


def test_a_list_that_was_shown_before_an_answer_came_records_nothing_over_it(screen):
    page = _guided(screen, "danger").press("absent-list-0")
    answered = FactEntry(value=True, **TODAY)
    page.desk.take(
        with_fact(page.desk.record, "patient", "unremitting_night_pain", answered), "night pain: yes"
    )
    page.press("absent-record")
    assert page.desk.record.patient["unremitting_night_pain"] == answered
    assert page.desk.record.patient["spinal_deformity"].value is False


def test_rows_are_sorted_by_what_they_decide_and_stay_while_the_page_is_open(screen):
    page = _guided(screen, "health")
    rows = page.desk.kept["intake-rows"][1]
    ranked = [(m.subject, m.element) for m in page.desk.document().missing]
    own = [place for place in rows if place in ranked]
    assert own == sorted(own, key=ranked.index)
    page.tap("intake-patient-diabetes", "none")
    assert page.desk.kept["intake-rows"][1][: len(rows)] == rows
    page.tap("intake-nav", "care").tap("intake-nav", "health")
    assert ("patient", "diabetes") not in page.desk.kept["intake-rows"][1]
    page._find("toggle", "kept-intake-more-health").set_value(True)
    page.run()
    assert page.value("button_group", "intake-patient-diabetes") == "none"


def test_the_start_says_what_the_program_is_and_each_seat_has_a_way_in(screen):
    page = screen()
    for words in ("It supports a decision and makes none", "Coordinator", "Physician", "Conference"):
        assert words in page.text
    page.press("start-guided")
    assert "1 of 6: Patient, pain and discs" in page.text
    assert "What this is" not in page.text
