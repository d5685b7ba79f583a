"""Case records: every kind of bad input is refused with its place, everything wrong is told at once."""

import json
from datetime import date
from pathlib import Path
from random import Random

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.assessment.relate import view_of
from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS
from candidacy.case.facts import Fact
from candidacy.case.load import Case, case_from_record, case_to_yaml, load_case, parse_case
from candidacy.case.record import FORMS, CaseRecord, FactEntry
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.foundation.values import RECORDABLE, Members, Options, Span, Value, Why, Words, point
from candidacy.rules.libraries import shipped
from tests.rows import each_row
from tests.strategies import case_records, random_case

HEAD = 'schema_version: "1"\nid: example\n'


def case_of(body: str) -> Case:
    return parse_case(HEAD + body, "case.yaml")


def problems_of(text: str) -> tuple[Problem, ...]:
    with pytest.raises(CaseError) as caught:
        parse_case(text, "case.yaml")
    return caught.value.problems


def only(text: str) -> Problem:
    (problem,) = problems_of(text)
    return problem


def value_of(element: str, written: str) -> Value | None:
    scope = catalogue()[element].scope
    if scope == "patient":
        return case_of(f"patient:\n  {element}: {written}\n").facts.patient[element].value
    return case_of(f"discs:\n  L4-L5:\n    {element}: {written}\n").facts.discs["L4-L5"][element].value


def ordinal(text: str) -> float:
    return date.fromisoformat(text).toordinal()


# --- values in every form


@pytest.mark.parametrize(
    ("element", "written", "value"),
    [
        ("body_weight", "{value: 80, unit: kg}", point(80)),
        # conversions are definitions: 1 lb = 0.45359237 kg, 1 in = 2.54 cm (international yard and pound, 1959)
        ("body_weight", "{value: 200, unit: lb}", point(90.718474)),
        ("body_weight", "{value: 200, unit: lbs}", point(90.718474)),
        ("body_height", "{value: 70, unit: in}", point(177.8)),
        ("body_height", "{value: 1.78, unit: m}", point(178)),
        ("displacement_size", "{between: [4, 6], unit: mm}", Span(4, 6)),
        ("displacement_size", "{between: [0.4, 0.6], unit: cm}", Span(4, 6)),
        ("pain_duration", "{more_than: 6, unit: month}", Span(6, 1200, low_open=True)),
        ("pain_duration", "{at_least: 1, unit: year}", Span(12, 1200)),
        ("back_pain_nrs_average", "{at_least: 7}", Span(7, 10)),
        ("back_pain_nrs_average", "{less_than: 7}", Span(0, 7, high_open=True)),
        ("back_pain_nrs_average", "{one_of: [6, 7]}", Span(6, 7)),
        ("back_pain_nrs_average", "{value: 7, unit: '{score}'}", point(7)),
        ("modified_pfirrmann_grade", "{more_than: 5}", Span(6, 8)),
        ("modified_pfirrmann_grade", "{less_than: 5}", Span(1, 4)),
        ("pfirrmann_grade", "IV", Options(frozenset(("IV",)))),
        ("pfirrmann_grade", "{one_of: [III, IV]}", Options(frozenset(("III", "IV")))),
        ("modic_type", '"1"', Options(frozenset(("1",)))),
        ("latex_allergy", "false", Options(frozenset((False,)))),
        ("birth_date", '"1980-02-29"', point(ordinal("1980-02-29"))),
        ("birth_date", '"1980"', Span(ordinal("1980-01-01"), ordinal("1980-12-31"))),
        ("birth_date", '"1980-02"', Span(ordinal("1980-02-01"), ordinal("1980-02-29"))),
        ("birth_date", '{between: ["1980-02", "1981"]}', Span(ordinal("1980-02-01"), ordinal("1981-12-31"))),
        ("lumbar_mri_date", '{not_before: "2026"}', Span(ordinal("2026-01-01"), date.max.toordinal())),
        ("lumbar_mri_date", '{not_after: "2026-03"}', Span(date.min.toordinal(), ordinal("2026-03-31"))),
        ("discs_under_consideration", "[L4/5, L5-S1]", Members(frozenset(("L4-L5", "L5-S1")), frozenset(("L4-L5", "L5-S1")))),
        ("discs_under_consideration", "{includes: [L4-5]}", Members(frozenset(("L4-L5",)), None)),
        ("discs_under_consideration", "[]", Members(frozenset(), frozenset())),
    ],
)  # fmt: skip
def test_a_value_is_read_in_every_form_it_may_be_written(element: str, written: str, value: Value) -> None:
    assert value_of(element, written) == value


def test_weeks_and_days_become_months_as_an_examiner_counts_them() -> None:
    # the rule is tested in tests/foundation/test_months.py; between two whole months a month has 28 to 31 days
    assert value_of("pain_duration", "{value: 26, unit: week}") == point(6)
    assert value_of("pain_duration", "{value: 183, unit: day}") == point(6)
    found = value_of("pain_duration", "{value: 12, unit: week}")
    assert isinstance(found, Span)
    assert (round(found.low, 4), found.high) == (round(84 / 31, 4), 3)


@pytest.mark.parametrize("why", RECORDABLE)
def test_every_reason_for_not_knowing_is_kept_apart(why: Why) -> None:
    fact = case_of(f"patient:\n  latex_allergy: {{unknown: {why.value}}}\n").facts.patient["latex_allergy"]
    assert (fact.value, fact.why) == (None, why)


@pytest.mark.parametrize("why", sorted(set(Why) - set(RECORDABLE), key=lambda w: w.value))
def test_a_reason_that_only_evaluation_finds_cannot_be_written(why: Why) -> None:
    problem = only(HEAD + f"patient:\n  latex_allergy: {{unknown: {why.value}}}\n")
    assert (problem.code, problem.field) == (Code.WRONG_TYPE, "patient.latex_allergy.unknown")


def test_free_text_is_kept_as_it_is_written() -> None:
    words = '<b>[bold]{{x}}</b> \U0001f642 "q" \\'
    fact = case_of(
        f"patient:\n  latex_allergy: {{value: true, words: {json.dumps(words, ensure_ascii=False)}}}\n"
    ).facts.patient["latex_allergy"]
    assert fact.provenance.words == words


def test_a_fact_takes_the_date_of_its_document_unless_it_has_its_own() -> None:
    case = case_of(
        "documents:\n  letter: {kind: referral_letter, date: 2026-03, author: referring physician}\n"
        "patient:\n  latex_allergy: {value: true, source: letter, words: has latex_allergy}\n"
        "  smoking_status: {unknown: not_asked, source: letter, date: 2026-04-01, by: clinic nurse}\n"
        "  worse_sitting: true\n"
    )
    letter, own, bare = (
        case.facts.patient[n].provenance for n in ("latex_allergy", "smoking_status", "worse_sitting")
    )
    assert letter.day == Span(ordinal("2026-03-01"), ordinal("2026-03-31"))
    assert (letter.day_words, letter.recorded_by, letter.kind) == (
        "2026-03",
        "referring physician",
        "referral_letter",
    )
    assert (own.day, own.recorded_by) == (point(ordinal("2026-04-01")), "clinic nurse")
    assert (bare.day, bare.document, bare.as_written) == (None, "", "true")


def test_an_unlikely_value_is_used_and_the_reader_is_asked_to_check_it() -> None:
    case = case_of("patient:\n  body_height: {value: 1.08, unit: m}\n")
    (note,) = case.facts.questioned
    assert "body height of patient is 108 cm" in note
    assert "as written: 1.08 m" in note


# --- what is refused: (body, code, field, line, found, part of expected)

REFUSED = [
    ('patient: {age: {value: "30", unit: year}}', Code.WRONG_TYPE, "patient.age", '"30"', "without quotes"),
    ("patient: {age: {value: true, unit: year}}", Code.WRONG_TYPE, "patient.age", "true", "number"),
    ("patient: {age: {value: [30, 40], unit: year}}", Code.WRONG_TYPE, "patient.age", "[30, 40]", "number"),
    ("patient: {age: {value: [], unit: year}}", Code.WRONG_TYPE, "patient.age", "[]", "number"),
    ("patient: {age: {value: {a: 1}, unit: year}}", Code.WRONG_TYPE, "patient.age.value", "{a: 1}", "number"),
    ("patient: {age: {at_least: '30', unit: year}}", Code.WRONG_TYPE, "patient.age.at_least", '"30"', "number"),
    ("patient: {age: {includes: [a], unit: year}}", Code.WRONG_TYPE, "patient.age", '["a"]', "number"),
    ("patient: {age: {not_before: '1990', unit: year}}", Code.WRONG_TYPE, "patient.age", '"1990"', "number"),
    ("patient: {latex_allergy: 1}", Code.WRONG_TYPE, "patient.latex_allergy", "1", "true or false"),
    ("patient: {latex_allergy: 'true'}", Code.WRONG_TYPE, "patient.latex_allergy", '"true"', "true or false"),
    ("patient: {latex_allergy: yes}", Code.WRONG_TYPE, "patient.latex_allergy", '"yes"', "true or false"),
    ("patient: {back_pain_nrs_average: {between: [7, 3]}}", Code.IMPOSSIBLE_VALUE, "patient.back_pain_nrs_average", "7 to 3", ""),
    ("patient: {back_pain_nrs_average: 11}", Code.IMPOSSIBLE_VALUE, "patient.back_pain_nrs_average", "11", "0 to 10"),
    ("patient: {back_pain_nrs_average: {between: [9, 12]}}", Code.IMPOSSIBLE_VALUE, "patient.back_pain_nrs_average", "9 to 12", "0 to 10"),
    ("patient: {back_pain_nrs_average: {more_than: 10}}", Code.IMPOSSIBLE_VALUE, "patient.back_pain_nrs_average", "", "0 to 10"),
    ("patient: {body_weight: {value: 23800, unit: lb}}", Code.IMPOSSIBLE_VALUE, "patient.body_weight", "10795.5 kg (written as 23800 lb)", "20 to 400 kg"),
    ("patient: {body_weight: {value: 881.8491, unit: lb}}", Code.IMPOSSIBLE_VALUE, "patient.body_weight", "400.000023 kg (written as 881.8491 lb)", "20 to 400 kg"),
    ("patient: {body_weight: {at_least: 23800, unit: lb}}", Code.IMPOSSIBLE_VALUE, "patient.body_weight", "10795.5 kg (written in lb)", "20 to 400 kg"),
    ("patient: {body_weight: {value: 8000, unit: kg}}", Code.IMPOSSIBLE_VALUE, "patient.body_weight", "8000 kg", "20 to 400 kg"),
    ("patient: {body_weight: 80}", Code.BAD_UNIT, "patient.body_weight", "", "kg"),
    ("patient: {body_weight: {value: 80, unit: stone}}", Code.BAD_UNIT, "patient.body_weight", "stone", "kg"),
    ("patient: {body_weight: {value: 80, unit: cm}}", Code.BAD_UNIT, "patient.body_weight", "cm", "kg"),
    ("patient: {back_pain_nrs_average: {value: 7, unit: mm}}", Code.BAD_UNIT, "patient.back_pain_nrs_average", "mm", "no unit"),
    ("patient: {sex: m}", Code.BAD_CHOICE, "patient.sex", '"m"', "female, male"),
    ("discs: {L4-L5: {modic_type: 1}}", Code.BAD_CHOICE, "discs.L4-L5.modic_type", "1", "in quotes"),
    ("discs: {L4-L5: {pfirrmann_grade: {one_of: [IV, VI]}}}", Code.BAD_CHOICE, "discs.L4-L5.pfirrmann_grade", '"VI"', "I, II, III, IV, V"),
    ("discs: {L4-L5: {pfirrmann_grade: {includes: [IV]}}}", Code.WRONG_TYPE, "discs.L4-L5.pfirrmann_grade", "includes", "one_of"),
    # mixed grading scales
    ("discs: {L4-L5: {pfirrmann_grade: 4}}", Code.WRONG_SCALE, "discs.L4-L5.pfirrmann_grade", "4", "I to V"),
    ("discs: {L4-L5: {modified_pfirrmann_grade: IV}}", Code.WRONG_SCALE, "discs.L4-L5.modified_pfirrmann_grade", "IV", "1 to 8"),
    ("discs: {L4-L5: {degeneration_grade: IV}}", Code.WRONG_SCALE, "discs.L4-L5.degeneration_grade", "degeneration_grade", "pfirrmann_grade"),
    ("discs: {L4-L5: {modified_pfirrmann_grade: 4.5}}", Code.WRONG_TYPE, "discs.L4-L5.modified_pfirrmann_grade", "4.5", "whole"),
    ("patient: {birth_date: 2026-02-30}", Code.BAD_DATE, "patient.birth_date", '"2026-02-30"', "YYYY-MM-DD"),
    ("patient: {birth_date: 30.02.1980}", Code.BAD_DATE, "patient.birth_date", '"30.02.1980"', "YYYY-MM-DD"),
    ("patient: {birth_date: '0226-02-03'}", Code.BAD_DATE, "patient.birth_date", '"0226-02-03"', "YYYY"),
    ("patient: {birth_date: 1980}", Code.BAD_DATE, "patient.birth_date", "1980", "in quotes"),
    ("patient: {birth_date: {between: ['1981', '1980']}}", Code.BAD_DATE, "patient.birth_date", '["1981", "1980"]', ""),
    ("patient: {birth_date: {value: ['1980', '1981']}}", Code.BAD_DATE, "patient.birth_date", '["1980", "1981"]', ""),
    ("patient: {birth_date: {value: []}}", Code.BAD_DATE, "patient.birth_date", "[]", ""),
    ("patient: {birth_date: {at_least: 1980}}", Code.BAD_DATE, "patient.birth_date", "1980", ""),
    ("patient: {discs_under_consideration: L4-L5}", Code.WRONG_TYPE, "patient.discs_under_consideration", "value", "a list"),
    ("patient: {discs_under_consideration: [L4-L5, L6]}", Code.BAD_LEVEL, "patient.discs_under_consideration", "", "L4-L5"),
    ("patient: {latex_allergy: }", Code.MISSING_KEY, "patient.latex_allergy", "none", "unknown"),
    ("patient: {latex_allergy: {words: maybe}}", Code.MISSING_KEY, "patient.latex_allergy", "none", "unknown"),
    ("patient: {latex_allergy: {value: true, unknown: not_asked}}", Code.CONTRADICTION, "patient.latex_allergy", "value, unknown", "one of"),
    ("patient: {age: {at_least: 30, at_most: 40, unit: year}}", Code.CONTRADICTION, "patient.age", "at_least, at_most", "between"),
    ("patient: {latex_alergy: true}", Code.UNKNOWN_ELEMENT, "patient.latex_alergy", "latex_alergy", "closest is latex_allergy"),
    ("patient: {bmi: {value: 30, unit: kg/m2}}", Code.UNKNOWN_ELEMENT, "patient.bmi", "bmi", "closest is body_mass_index"),
    ("patient: {pfirrmann_grade: IV}", Code.UNKNOWN_ELEMENT, "patient.pfirrmann_grade", "pfirrmann_grade", "belongs to disc"),
    ("patient: {odi_band: severe}", Code.UNKNOWN_ELEMENT, "patient.odi_band", "odi_band", "worked out"),
    ("patient: {latex_allergy: {valeu: true}}", Code.UNKNOWN_KEY, "patient.latex_allergy.valeu", "valeu", "closest is value"),
    ("pateint: {latex_allergy: true}", Code.UNKNOWN_KEY, "pateint", "pateint", "closest is patient"),
    ("patient: {latex_allergy: {value: true, source: mri}}", Code.UNKNOWN_DOCUMENT, "patient.latex_allergy", "mri", "key under documents"),
    ("patient: {latex_allergy: {value: true, date: 2026-13-01}}", Code.BAD_DATE, "patient.latex_allergy", "2026-13-01", "YYYY"),
    ("documents: {a: {kind: letter}}", Code.WRONG_TYPE, "documents.a.kind", '"letter"', "referral_letter"),
    ("documents: {a: {kind: other, date: '2026-00'}}", Code.BAD_DATE, "documents.a.date", "2026-00", "YYYY"),
    ("documents: {a: {}}", Code.MISSING_KEY, "documents.a.kind", "", ""),
    ("as_of: 2026-02-30", Code.BAD_DATE, "as_of", "2026-02-30", "YYYY-MM-DD"),
    ("as_of: 2026-02", Code.BAD_DATE, "as_of", "2026-02", "YYYY-MM-DD"),
    ("discs: {L6: {}}", Code.BAD_LEVEL, "discs.L6", "L6", "L4-L5"),
    ("discs: {C5-C6: {}}", Code.BAD_LEVEL, "discs.C5-C6", "C5-C6", "L4-L5"),
    ("discs: {L3-L5: {}}", Code.BAD_LEVEL, "discs.L3-L5", "L3-L5", "L4-L5"),
    ("discs: {L4-L5: {}, L4/5: {}}", Code.DUPLICATE_KEY, "discs.L4/5", "L4/5", ""),
    ("discs: {L4-L5: }", Code.WRONG_TYPE, "discs.L4-L5", "nothing", "keys with values"),
    ("discs: [L4-L5]", Code.WRONG_TYPE, "discs", '["L4-L5"]', "keys with values"),
    ("medicines: {complete: 'yes'}", Code.WRONG_TYPE, "medicines.complete", '"yes"', "true or false"),
    ("medicines: {entries: [{medicine_nam: x}]}", Code.UNKNOWN_ELEMENT, "medicines.entries.0.medicine_nam", "medicine_nam", "medicine_name"),
    ("medicines: {entries: [{latex_allergy: true}]}", Code.UNKNOWN_ELEMENT, "medicines.entries.0.latex_allergy", "latex_allergy", "belongs to patient"),
]  # fmt: skip


@each_row(("body", "code", "field", "found", "expected"), REFUSED, ids=[row[0] for row in REFUSED])
def test_what_cannot_be_used_is_refused_with_field_value_and_what_is_allowed(
    body: str, code: Code, field: str, found: str, expected: str
) -> None:
    problem = only(HEAD + body + "\n")
    assert (problem.code, problem.file, problem.line) == (code, "case.yaml", 3)
    assert problem.field == field
    assert found in problem.found
    assert expected in problem.expected
    key = field.split(".")[-1]
    if not key.isdigit() and key in body:  # the place is that of the key or of its value
        assert problem.column in (body.index(key) + 1, body.index(key) + len(key) + 3)


@pytest.mark.parametrize(
    ("text", "code", "field"),
    [
        ("- a\n- b\n", Code.WRONG_TYPE, ""),
        ("hello\n", Code.WRONG_TYPE, ""),
        ('id: a\nschema_version: "2"\n', Code.WRONG_TYPE, "schema_version"),
        ("id: a\nschema_version: 1\n", Code.WRONG_TYPE, "schema_version"),
        ('schema_version: "1"\n', Code.MISSING_KEY, "id"),
        ('schema_version: "1"\nid: 7\n', Code.WRONG_TYPE, "id"),
        ('schema_version: "1"\nid: "a b/c"\n', Code.WRONG_TYPE, "id"),
        ('schema_version: "1"\nid: ../etc/passwd\n', Code.WRONG_TYPE, "id"),
    ],
)
def test_a_record_without_its_frame_is_refused(text: str, code: Code, field: str) -> None:
    problem = only(text)
    assert (problem.code, problem.field) == (code, field)


def test_everything_wrong_in_a_file_is_told_at_once_in_the_order_of_its_lines() -> None:
    text = (
        'schema_version: "1"\n'
        "id: bad\n"
        "as_of: 2026-02-30\n"
        "documents:\n"
        "  mri: {kind: imaging_report, date: 2026-02-31}\n"
        "  note: {kind: scribble}\n"
        "patient:\n"
        '  age: {value: "30", unit: year}\n'
        "  body_weight: {value: 80, unit: stone}\n"
        "  body_weight: {value: 81, unit: kg}\n"
        "  latex_allergy: {value: .nan}\n"
        "  body_height: {value: 180, unti: cm}\n"
        "  worse_sitting: {value: true, source: note}\n"
        "discs:\n"
        "  L6: {}\n"
        "  L4-L5: {pfirrmann_grade: 4, modic_type: 1e999}\n"
        "medicines:\n"
        "  entries:\n"
        "    - {medicine_name: warfarin, medicine_clas: x}\n"
        "    - {medicine_name: [1]}\n"
    )
    found = [(p.line, p.code) for p in problems_of(text)]
    assert found == [
        (3, Code.BAD_DATE),
        (5, Code.BAD_DATE),
        (6, Code.WRONG_TYPE),
        (8, Code.WRONG_TYPE),
        (9, Code.BAD_UNIT),
        (10, Code.DUPLICATE_KEY),
        (11, Code.BAD_SCALAR),
        (12, Code.UNKNOWN_KEY),
        (15, Code.BAD_LEVEL),
        (16, Code.WRONG_SCALE),
        (16, Code.BAD_SCALAR),
        (19, Code.UNKNOWN_ELEMENT),
        (20, Code.WRONG_TYPE),
    ]


def test_the_message_names_place_found_expected_and_next_step() -> None:
    text = str(only(HEAD + "patient: {body_weight: {value: 80, unit: stone}}\n"))
    assert text == (
        "case.yaml:3:11: E206 not a unit of this element\n"
        "  field     patient.body_weight\n"
        "  found     stone\n"
        "  expected  kg, g, lb"
    )


def test_numbers_that_are_none_cannot_enter_through_a_record_built_in_memory() -> None:
    for number in (float("nan"), float("inf"), float("-inf")):
        with pytest.raises(ValueError, match="finite"):
            FactEntry(value=number, unit="kg")


def test_a_record_built_in_memory_is_checked_like_a_file() -> None:
    record = CaseRecord.model_validate(
        {"schema_version": "1", "id": "x", "patient": {"latex_allergy": "yes"}}
    )
    with pytest.raises(CaseError) as caught:
        case_from_record(record, "form")
    (problem,) = caught.value.problems
    assert (problem.code, problem.file, problem.line) == (Code.WRONG_TYPE, "form", 0)


# --- a derived element stated beside what it is worked out from


# Body mass index of 80 kg at 180 cm is 24.69; as of 2026-11-25 somebody born on 1986-01-01 is 40; 20 of 50 points are 40 %
# (arithmetic). How far the two may lie apart: `agrees_within` of the element.
@pytest.mark.parametrize(
    ("body", "low", "high"),
    [
        ("body_mass_index: {value: 24.7, unit: kg/m2}, body_height: {value: 180, unit: cm}, body_weight: {value: 80, unit: kg}", 24.69, 24.7),
        ("body_mass_index: {value: 25.1, unit: kg/m2}, body_height: {value: 180, unit: cm}, body_weight: {value: 80, unit: kg}", 24.69, 25.1),
        ("body_mass_index: {value: 25.3, unit: kg/m2}, body_height: {value: 180, unit: cm}, body_weight: {value: 80, unit: kg}", None, None),
        ("body_mass_index: {value: 31, unit: kg/m2}, body_height: {value: 180, unit: cm}", 31, 31),
        ("body_mass_index: {value: 31, unit: kg/m2}, body_height: {value: 180, unit: cm}, body_weight: {unknown: not_asked}", 31, 31),
        ("body_mass_index: {unknown: not_asked}, body_height: {value: 180, unit: cm}, body_weight: {value: 80, unit: kg}", 24.69, 24.69),
        ("age: {value: 40, unit: year}, birth_date: '1986-01-01'", 40, 40),
        ("age: {value: 41, unit: year}, birth_date: '1986-01-01'", 40, 41),
        ("age: {value: 42, unit: year}, birth_date: '1986-01-01'", None, None),
        ("odi_percent: {value: 40, unit: '%'}, odi_items_total: 20, odi_items_answered: 10", 40, 40),
        ("odi_percent: {value: 42, unit: '%'}, odi_items_total: 20, odi_items_answered: 10", 40, 42),
        ("odi_percent: {value: 43, unit: '%'}, odi_items_total: 20, odi_items_answered: 10", None, None),
    ],
)  # fmt: skip
def test_a_derived_element_stated_beside_what_it_is_worked_out_from_agrees_or_conflicts(
    body: str, low: float | None, high: float | None
) -> None:
    facts = parse_case(HEAD + f"patient: {{{body}}}\n").facts
    name = body.split(":")[0]
    found = view_of(facts, date(2026, 11, 25), shipped().rule_set("practice_baseline")).fact(name, "patient")
    if low is None:
        assert (found.value, found.why) == (None, Why.CONFLICTING)
        # both are shown: the stated value, and what it is worked out from
        assert name in {part.element for part in found.derived_from}
        assert len({part.element for part in found.derived_from}) > 1
    else:
        assert isinstance(found.value, Span)
        assert (found.value.low, found.value.high) == (
            pytest.approx(low, abs=0.005),
            pytest.approx(high, abs=0.005),
        )


def test_a_total_beside_one_item_of_it_is_accepted() -> None:
    assert parse_case(HEAD + "patient: {phq9_total: 4, phq9_item9: 0}\n").facts.patient


def test_inputs_of_derived_elements_are_elements_of_the_same_subject_or_the_patient() -> None:
    shelf = catalogue()
    for element in shelf.all:
        for name in (name for some in element.inputs for name in some):
            assert shelf[name].scope == element.scope, (element.name, name)
            assert shelf[name].statable


# --- round trip


@settings(max_examples=60)
@given(case_records())
def test_a_record_written_as_yaml_loads_back_equal(record: CaseRecord) -> None:
    loaded = parse_case(case_to_yaml(record))
    assert loaded.record == record
    assert loaded.digest == case_from_record(record).digest


@settings(max_examples=40)
@given(case_records())
def test_yaml_and_json_of_one_record_are_one_case(record: CaseRecord) -> None:
    as_json = parse_case(json.dumps(record.plain()))
    as_yaml = parse_case(case_to_yaml(record))
    assert as_json.digest == as_yaml.digest
    assert as_json.facts == as_yaml.facts


@given(st.text(st.characters(codec="utf-8"), max_size=120))
def test_any_text_survives_being_written_and_read(text: str) -> None:
    record = CaseRecord(schema_version="1", id="x", title=text, note=text)
    written = case_to_yaml(record)
    try:
        loaded = parse_case(written)
    except CaseError as error:  # only what no YAML file may hold
        assert {p.code for p in error.problems} <= {Code.NOT_TEXT}  # noqa: PT017
        return
    assert loaded.record == record


def test_the_digest_is_over_the_content_and_not_over_how_it_is_written() -> None:
    first = case_of("patient: {latex_allergy: true, sex: female}\n")
    second = parse_case(
        '{"id": "example", "patient": {"sex": "female", "latex_allergy": {"value": true}}, "schema_version": "1"}'
    )
    other = case_of("patient: {latex_allergy: false, sex: female}\n")
    assert first.digest == second.digest
    assert first.digest != other.digest


def test_a_file_is_named_in_its_problems(tmp_path: Path) -> None:
    path = tmp_path / "referral.yaml"
    path.write_text(HEAD + "patient: {sex: m}\n", encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(path)
    assert caught.value.problems[0].file == str(path)
    with pytest.raises(CaseError) as caught:
        load_case(tmp_path / "none.yaml")
    assert caught.value.problems[0].code is Code.UNREADABLE


# --- nothing but what is meant, on any input


def _mutations(rng: Random, data: object) -> object:
    """Put something odd in one place of a record."""
    odd: list[object] = [
        None,
        "",
        "x",
        0,
        -1,
        1e308,
        True,
        [],
        {},
        [[]],
        {"value": {}},
        {"unknown": "x"},
        10**14,
        "2026-02-30",
    ]
    if isinstance(data, dict) and data and rng.random() < 0.8:
        key = rng.choice(list(data))
        return {**data, key: _mutations(rng, data[key])}
    if isinstance(data, list) and data and rng.random() < 0.8:
        place = rng.randrange(len(data))
        return [*data[:place], _mutations(rng, data[place]), *data[place + 1 :]]
    return rng.choice(odd)


@settings(max_examples=150)
@given(st.integers(0, 2**32))
def test_a_damaged_record_is_refused_with_problems_or_read_but_never_ends_in_an_internal_error(
    seed: int,
) -> None:
    rng = Random(seed)
    data = random_case(rng).plain()
    for _ in range(rng.randint(1, 4)):
        data = _mutations(rng, data)  # type: ignore[assignment]
    try:
        case = parse_case(yaml.safe_dump(data, allow_unicode=True), "case.yaml")
    except CaseError as error:
        problems = error.problems
        assert problems
        assert [(p.line, p.column) for p in problems] == sorted((p.line, p.column) for p in problems)
        assert all(p.message and p.file == "case.yaml" for p in problems)
    else:
        assert all(isinstance(fact, Fact) for fact in case.facts.stated())


def test_every_kind_of_element_and_every_form_is_exercised_by_the_random_records() -> None:
    """Guard of the generator itself: what it never makes would never be tested."""
    kinds: set[tuple[str, str]] = set()
    shelf, seen, lists, undated = catalogue(), set(), set(), 0
    for seed in range(60):
        case = case_from_record(random_case(Random(seed)))
        for name in ("medicines", "treatments", "injections", "surgeries", "intradiscal_procedures"):
            listed = getattr(case.record, name)
            lists.add((name, listed.complete if listed else "absent"))
        seen |= set(case.facts.discs)
        for fact in case.facts.stated():
            undated += fact.provenance.day is None
            value = fact.value
            if value is None:
                kinds.add(("unknown", fact.why.value if fact.why else ""))
            elif isinstance(value, Words | Options | Members | Span):
                kinds.add((shelf[fact.element].kind, "exact" if value.exact else "imprecise"))
    wanted = {
        (kind, how)
        for kind in ("number", "integer", "choice", "members", "date")
        for how in ("exact", "imprecise")
    }
    assert (
        wanted | {("boolean", "exact"), ("words", "exact")} | {("unknown", w.value) for w in RECORDABLE}
        == kinds
    )
    assert seen >= {"L1-L2", "L5-S1", "L6-S1"}
    assert seen <= set(LEVELS)
    assert undated > 100
    assert len(lists) == 5 * 4
    forms = {
        form
        for seed in range(60)
        for entry in random_case(Random(seed)).patient.values()
        for form in entry.forms
    }
    assert forms == set(FORMS)
