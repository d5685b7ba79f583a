"""Facts as typed by a person: what is read is what is written back, and nothing is guessed."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candidacy.case.catalogue import catalogue
from candidacy.case.edit import empty_record, with_fact
from candidacy.case.load import case_from_record
from candidacy.case.record import FactEntry
from candidacy.case.typed_text import REASONS, entry_from_text, entry_text
from candidacy.foundation.errors import CaseError

_SHELF = catalogue()
_NUMBERS = st.one_of(
    st.integers(-500, 5000), st.decimals(-500, 5000, places=2).map(float).filter(lambda n: not n.is_integer())
)


@pytest.mark.parametrize(
    ("element", "text", "entry"),
    [
        ("body_weight", "70", {"value": 70, "unit": "kg"}),
        ("body_weight", " 70.5 kg ", {"value": 70.5, "unit": "kg"}),
        ("body_weight", "154 lbs", {"value": 154, "unit": "lb"}),
        ("body_weight", "70-75", {"between": (70, 75), "unit": "kg"}),
        ("body_weight", "between 70 and 75 kg", {"between": (70, 75), "unit": "kg"}),
        ("pain_duration", "> 6 months", {"more_than": 6, "unit": "month"}),
        ("pain_duration", "At least 3 years", {"at_least": 3, "unit": "year"}),
        ("pain_duration", "≤ 12", {"at_most": 12, "unit": "month"}),
        ("lee_central_grade", "1 or 2", {"one_of": (1, 2)}),
        ("hba1c", "48 mmol/mol", {"value": 48, "unit": "mmol/mol"}),
        ("birth_date", "1980-05", {"value": "1980-05"}),
        ("birth_date", "1980 to 1981-02", {"between": ("1980", "1981-02")}),
        ("birth_date", "not after 1990", {"not_after": "1990"}),
        ("body_weight", "?", {"unknown": "not_stated"}),
        ("birth_date", "? sources conflict", {"unknown": "conflicting"}),
    ],
)
def test_the_forms_a_person_types(element, text, entry):
    assert entry_from_text(_SHELF[element], text) == FactEntry(**entry)


@pytest.mark.parametrize(
    ("element", "text"),
    [
        ("body_weight", "31,5"),
        ("body_weight", "3 4"),
        ("body_weight", "about 70"),
        ("body_weight", "nan"),
        ("body_weight", "> "),
        ("body_weight", "? because"),
        ("birth_date", "05/12/1980"),
        ("birth_date", "1980-02-30"),
        ("birth_date", "yesterday"),
    ],
)
def test_what_is_not_understood_is_refused_never_guessed(element, text):
    with pytest.raises(CaseError) as refused:
        entry_from_text(_SHELF[element], text)
    problem = refused.value.problems[0]
    assert problem.field == element
    assert problem.found
    assert problem.code.value in ("E203", "E207", "E208")


@pytest.mark.parametrize("text", ["1e3", "70 stone", "70 mm", "70 kg or so"])
def test_rubbish_behind_a_number_is_taken_for_a_unit_and_refused_by_the_record(text):
    entry = entry_from_text(_SHELF["body_weight"], text)
    with pytest.raises(CaseError, match="E206"):
        case_from_record(with_fact(empty_record(), "patient", "body_weight", entry))


def test_an_empty_field_states_nothing():
    assert entry_from_text(_SHELF["body_weight"], "  ") is None
    assert entry_text(_SHELF["body_weight"], None) == ""


@st.composite
def _entries(draw):
    form = draw(
        st.sampled_from(["value", "between", "at_least", "at_most", "more_than", "less_than", "unknown"])
    )
    if form == "unknown":
        return FactEntry(unknown=draw(st.sampled_from(list(REASONS))))
    unit = draw(st.sampled_from(["kg", "lb", "g"]))
    value = tuple(sorted((draw(_NUMBERS), draw(_NUMBERS)))) if form == "between" else draw(_NUMBERS)
    return FactEntry(**{form: value, "unit": unit})


@given(_entries())
def test_what_a_field_shows_reads_back_to_the_same_statement(entry):
    element = _SHELF["body_weight"]
    assert entry_from_text(element, entry_text(element, entry)) == entry


@given(st.sampled_from(["value", "not_before", "not_after"]), st.dates(), st.sampled_from([4, 7, 10]))
def test_dates_whole_or_partial_read_back(form, day, length):
    if not 1900 <= day.year < 2200:
        day = day.replace(year=1900, day=1)
    entry = FactEntry(**{form: day.isoformat()[:length]})
    element = _SHELF["birth_date"]
    assert entry_from_text(element, entry_text(element, entry)) == entry


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused_with_the_shared_error(text):
    for name in ("body_weight", "birth_date", "lee_central_grade", "medicine_name"):
        with contextlib.suppress(CaseError):
            entry = entry_from_text(_SHELF[name], text)
            assert entry is None or len(entry.forms) == 1
