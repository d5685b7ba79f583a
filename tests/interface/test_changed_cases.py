"""A case is changed one fact at a time: never itself, and with every check of a file."""

from datetime import date

import pytest

import candidacy
from candidacy import Case, CaseError, Code

EMPTY = candidacy.parse_case("{schema_version: '1', id: case-17}")


def as_file(patient: str = "", more: str = "") -> Case:
    return candidacy.parse_case(f"{{schema_version: '1', id: case-17, patient: {{{patient}}}{more}}}")


def test_a_fact_written_is_the_fact_of_a_file_and_the_case_stays():
    before = EMPTY.digest
    case = EMPTY.with_fact(
        "body_weight", 71, unit="kg", on=date(2026, 11, 30), by="nurse", words="71 kilos", note="shoes on"
    )
    written = (
        "body_weight: {value: 71, unit: kg, date: 2026-11-30, by: nurse, words: 71 kilos, note: shoes on}"
    )
    assert case.digest == as_file(written).digest
    assert (EMPTY.digest, EMPTY.facts.patient) == (before, {})
    assert (
        case.with_fact("body_weight", 80, unit="kg").facts.patient["body_weight"].value
        == as_file("body_weight: {value: 80, unit: kg}").facts.patient["body_weight"].value
    )


@pytest.mark.parametrize(
    ("element", "given", "written"),
    [("displacement_size", {"between": (4, 6), "unit": "mm"}, "{between: [4, 6], unit: mm}"),
     ("displacement_size", {"at_least": 4, "unit": "mm"}, "{at_least: 4, unit: mm}"),
     ("displacement_size", {"at_most": 4, "unit": "mm"}, "{at_most: 4, unit: mm}"),
     ("displacement_size", {"more_than": 4, "unit": "mm"}, "{more_than: 4, unit: mm}"),
     ("displacement_size", {"less_than": 4, "unit": "mm"}, "{less_than: 4, unit: mm}"),
     ("modified_pfirrmann_grade", {"one_of": [4, 5]}, "{one_of: [4, 5]}"),
     ("modified_pfirrmann_grade", {"unknown": "not_asked"}, "{unknown: not_asked}")],
)  # fmt: skip
def test_an_imprecise_or_unknown_fact_of_a_disc(element: str, given: dict[str, object], written: str):
    case = EMPTY.with_fact(element, disc="L4/5", **given)  # type: ignore[arg-type]
    assert case.digest == as_file(more=f", discs: {{L4-L5: {{{element}: {written}}}}}").digest
    assert case.without(element, disc="L4-L5").facts.discs == {"L4-L5": {}}


def test_dates_and_lists_may_be_imprecise_too():
    case = EMPTY.with_fact("lumbar_mri_date", not_before=date(2026, 1, 1)).with_fact(
        "discs_under_consideration", includes=["L4-L5"]
    )
    assert (
        case.digest
        == as_file(
            "lumbar_mri_date: {not_before: 2026-01-01}, discs_under_consideration: {includes: [L4-L5]}"
        ).digest
    )


def test_a_disc_keeps_the_spelling_of_the_record():
    case = as_file(more=", discs: {L4/5: {pfirrmann_grade: III}}").with_fact(
        "pfirrmann_grade", "IV", disc="L4-L5"
    )
    assert list(case.record.discs) == ["L4/5"]


def test_an_entry_of_a_list_is_written_and_one_is_added():
    case = as_file(more=", medicines: {complete: true, entries: [{medicine_agent: apixaban}]}")
    again = case.with_fact("medicine_agent", "warfarin", entry="medicines[1]")
    assert again.record.medicines is not None
    assert again.record.medicines.complete is True
    assert [e["medicine_agent"].value for e in again.record.medicines.entries] == ["warfarin"]
    longer = case.with_fact("medicine_agent", "warfarin", entry="medicines[2]")
    assert longer.record.medicines is not None
    assert longer.record.medicines.complete is None
    assert len(longer.record.medicines.entries) == 2
    assert candidacy.assess(case, as_of="2026-12-02").case is case


def test_a_document_is_named_by_facts():
    case = EMPTY.with_document("lab", "laboratory_report", date=date(2026, 11, 1), title="Blood").with_fact(
        "inr", 1.0, source="lab"
    )
    assert case.facts.patient["inr"].provenance.day_words == "2026-11-01"
    assert (
        case.with_document("lab", "laboratory_report", date="2026-11-01", title="Blood").digest == case.digest
    )
    with pytest.raises(CaseError) as error:
        case.with_document("lab", "laboratory_report", date="2026-11-02")
    assert error.value.problems[0].code is Code.DUPLICATE_KEY


@pytest.mark.parametrize(
    ("arguments", "code", "field"),
    [({"element": "body_weigth", "value": 71}, Code.UNKNOWN_ELEMENT, "patient.body_weigth"),
     ({"element": "body_weight", "value": 71}, Code.BAD_UNIT, "patient.body_weight"),
     ({"element": "body_weight", "value": 71, "unit": "mm"}, Code.BAD_UNIT, "patient.body_weight"),
     ({"element": "body_weight", "value": 7100, "unit": "kg"}, Code.IMPOSSIBLE_VALUE, "patient.body_weight"),
     ({"element": "body_weight", "value": "71", "unit": "kg"}, Code.WRONG_TYPE, "patient.body_weight"),
     ({"element": "body_weight", "value": True, "unit": "kg"}, Code.WRONG_TYPE, "patient.body_weight"),
     ({"element": "body_weight", "value": float("inf"), "unit": "kg"}, Code.BAD_SCALAR, "patient.body_weight.value"),
     ({"element": "body_weight", "value": 71, "unit": 5}, Code.WRONG_TYPE, "patient.body_weight.unit"),
     ({"element": "body_weight", "value": 71, "at_least": 70, "unit": "kg"}, Code.CONTRADICTION, "patient.body_weight"),
     ({"element": "body_weight"}, Code.MISSING_KEY, "patient.body_weight"),
     ({"element": "body_weight", "value": 71, "unit": "kg", "source": "lettr"}, Code.UNKNOWN_DOCUMENT, "patient.body_weight"),
     ({"element": "body_weight", "value": 71, "unit": "kg", "on": "2026-02-30"}, Code.BAD_DATE, "patient.body_weight"),
     ({"element": "body_mass_index", "unknown": "because"}, Code.WRONG_TYPE, "patient.body_mass_index.unknown"),
     ({"element": "sex", "value": "other sort"}, Code.BAD_CHOICE, "patient.sex"),
     ({"element": "pfirrmann_grade", "value": "III"}, Code.UNKNOWN_ELEMENT, "patient.pfirrmann_grade"),
     ({"element": "pfirrmann_grade", "value": "III", "disc": "L9"}, Code.BAD_LEVEL, "disc"),
     ({"element": "pfirrmann_grade", "value": 3, "disc": "L4-L5"}, Code.WRONG_SCALE, "discs.L4-L5.pfirrmann_grade"),
     ({"element": "medicine_agent", "value": "apixaban", "entry": "medicines[2]"}, Code.BAD_CHOICE, "entry"),
     ({"element": "medicine_agent", "value": "apixaban", "entry": "medicines[0]"}, Code.BAD_CHOICE, "entry"),
     ({"element": "medicine_agent", "value": "apixaban", "entry": "pills[1]"}, Code.BAD_CHOICE, "entry"),
     ({"element": "medicine_agent", "value": "apixaban", "entry": "medicines[1]", "disc": "L4-L5"}, Code.CONTRADICTION, "disc")],
)  # fmt: skip
def test_what_a_file_would_be_refused_for_is_refused_with_its_field(
    arguments: dict[str, object], code: Code, field: str
):
    with pytest.raises(CaseError) as error:
        EMPTY.with_fact(**arguments)  # type: ignore[arg-type]
    assert (code, field) in {(p.code, p.field) for p in error.value.problems}
    assert all(p.file == "case" for p in error.value.problems)


def test_two_grading_scales_of_one_disc_are_refused():
    with pytest.raises(CaseError) as error:
        EMPTY.with_fact("pfirrmann_grade", "III", disc="L4-L5").with_fact(
            "modified_pfirrmann_grade", 4, disc="L4-L5"
        )
    assert error.value.problems[0].code is Code.WRONG_SCALE


@pytest.mark.parametrize(
    ("arguments", "code"),
    [({"element": "body_weigth"}, Code.MISSING_KEY), ({"element": "body_weight", "disc": "L4-L5"}, Code.MISSING_KEY),
     ({"element": "body_weight", "disc": "L9"}, Code.BAD_LEVEL), ({"element": "medicine_agent", "entry": "medicines[1]"}, Code.BAD_CHOICE)],
)  # fmt: skip
def test_only_what_is_written_can_be_taken_out(arguments: dict[str, str], code: Code):
    case = EMPTY.with_fact("body_weight", 71, unit="kg")
    assert case.without("body_weight").digest == EMPTY.digest
    with pytest.raises(CaseError) as error:
        case.without(**arguments)
    assert error.value.problems[0].code is code
    if arguments == {"element": "body_weigth"}:
        assert error.value.problems[0].expected == "closest is body_weight"


def test_a_case_written_as_yaml_is_that_case():
    for path in candidacy.demo_cases().values():
        if path.stem != "mixed-scales":
            case = candidacy.load_case(path)
            assert candidacy.parse_case(case.to_yaml()).digest == case.digest
