"""Edits of a record: each changes one thing and leaves the old record as it was."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.case.edit import (
    empty_record,
    facts_of,
    scope_of,
    with_document,
    with_entry,
    with_fact,
    with_header,
    with_list_complete,
    without_disc,
    without_entry,
)
from candidacy.case.load import case_to_yaml, parse_case
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.foundation.errors import CaseError

WEIGHT = FactEntry(value=70, unit="kg")


def test_a_fact_is_written_replaced_and_taken_out():
    start = empty_record()
    one = with_fact(start, "patient", "body_weight", WEIGHT)
    assert facts_of(one, "patient") == {"body_weight": WEIGHT}
    assert with_fact(one, "patient", "body_weight", None) == start
    assert start == empty_record()


def test_a_disc_is_found_by_any_spelling_and_discs_stay_in_cranial_order():
    record = CaseRecord(
        schema_version="1", id="x", discs={"L4/5": {"disc_desiccation": FactEntry(value=True)}}
    )
    grade = FactEntry(value="III")
    record = with_fact(record, "L4-L5", "pfirrmann_grade", grade)
    record = with_fact(record, "L2-L3", "pfirrmann_grade", grade)
    assert list(record.discs) == ["L2-L3", "L4/5"]
    assert set(facts_of(record, "L4-L5")) == {"disc_desiccation", "pfirrmann_grade"}
    assert list(without_disc(record, "L4-L5").discs) == ["L2-L3"]


def test_entries_of_a_list_are_added_filled_and_taken_out():
    record = with_entry(with_entry(empty_record(), "medicines"), "medicines")
    record = with_fact(record, "medicines[2]", "medicine_name", FactEntry(value="aspirin"))
    assert facts_of(record, "medicines[1]") == {}
    assert facts_of(without_entry(record, "medicines", 2), "medicines[2]") == {}
    assert scope_of("medicines[2]") == "medicine"


def test_an_entry_keeps_its_number_when_another_is_taken_out_and_no_answer_lands_in_another_entry():
    record = with_entry(with_entry(empty_record(), "medicines"), "medicines")
    record = with_fact(record, "medicines[2]", "medicine_name", FactEntry(value="aspirin"))
    record = without_entry(record, "medicines", 1)
    assert facts_of(record, "medicines[2]")["medicine_name"].value == "aspirin"
    with pytest.raises(CaseError, match=r"not there, or was taken out"):
        with_fact(record, "medicines[1]", "medicine_name", FactEntry(value="warfarin"))
    record = with_entry(record, "medicines")
    assert record.medicines.numbers == (2, 3)
    record = without_entry(record, "medicines", 3)
    assert with_entry(record, "medicines").medicines.numbers == (2, 4), "a number is never given twice"
    case = parse_case(case_to_yaml(record))
    assert case.record == record
    assert [f.subject for f in case.facts.stated()] == ["medicines[2]"]
    assert without_entry(record, "medicines", 1) == record


def test_another_entry_withdraws_the_statement_that_the_list_is_complete():
    record = with_list_complete(empty_record(), "surgeries", True)
    dated = record.model_copy(
        update={"surgeries": record.surgeries.model_copy(update={"date": "2026-11-01"})}
    )
    assert with_list_complete(dated, "surgeries", True) == dated
    for other in (with_entry(dated, "surgeries"), with_list_complete(dated, "surgeries", False)):
        assert other.surgeries.date is None, "the day is that of another answer"
    assert record.surgeries.complete is True
    assert with_entry(record, "surgeries").surgeries.complete is None
    assert with_list_complete(record, "surgeries", None) == empty_record()


def test_a_header_is_checked():
    assert with_header(empty_record(), title="t", as_of="2026-01-02").as_of == "2026-01-02"
    with pytest.raises(ValueError, match="id"):
        with_header(empty_record(), id="not allowed!")


@given(st.lists(st.tuples(st.sampled_from(["patient", "L3-L4", "L5-S1"]), st.integers(1, 8)), max_size=8))
def test_every_edited_record_can_be_saved_and_loaded_again(edits):
    record = with_document(empty_record(), "letter", Document(kind="referral_letter", date="2026-01"))
    for subject, number in edits:
        element, value = (
            ("back_pain_nrs_average", number)
            if subject == "patient"
            else ("modified_pfirrmann_grade", number)
        )
        record = with_fact(record, subject, element, FactEntry(value=value, source="letter"))
    assert parse_case(case_to_yaml(record)).record == record
