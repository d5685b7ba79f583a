"""One finding with a value for each level: every order of the levels and every usual mark between them."""

import itertools

import pytest

from candidacy.reading import read_text
from tests.rows import each_row

LEVELS = {"L1-2": "L1-L2", "L2-3": "L2-L3", "L3/4": "L3-L4", "L4-L5": "L4-L5", "L5-S1": "L5-S1"}
TRIPLES = [
    ("L2-3", "L3/4", "L4-L5"),
    ("L3/4", "L4-L5", "L5-S1"),
    ("L5-S1", "L4-L5", "L3/4"),
    ("L4-L5", "L1-2", "L5-S1"),
]
GRADES = list(itertools.permutations(("mild", "moderate", "severe")))
STENOSIS = [
    "Canal stenosis is {x} at {a}, {y} at {b} and {z} at {c}.",
    "Canal stenosis: {x} at {a}, {y} at {b}, {z} at {c}.",
    "There is canal stenosis, {x} at {a}, {y} at {b} and {z} at {c}.",
    "{x} at {a}, {y} at {b} and {z} at {c} canal stenosis.",
    "{x} canal stenosis at {a}, {y} at {b} and {z} at {c}.",
    "Canal stenosis which is {x} at {a}, {y} at {b}, and {z} at {c}.",
    "Canal stenosis: {a} {x}, {b} {y}, {c} {z}.",
    "Canal stenosis: {a} - {x}, {b} - {y}, {c} - {z}.",
    "Canal stenosis at {a} ({x}), {b} ({y}) and {c} ({z}).",
    "Canal stenosis is {x} at {a}, while {y} at {b} and {z} at {c}.",
    "{x}, {y} and {z} canal stenosis at {a}, {b} and {c}, respectively.",
    "Canal stenosis at {a}, {b} and {c} is {x}, {y} and {z} respectively.",
    "At {a}, {b} and {c} there is respectively {x}, {y} and {z} canal stenosis.",
]
DENIED = [
    "{x} canal stenosis at {a}, none at {b}.",
    "Canal stenosis: {x} at {a}, none at {b}.",
    "Canal stenosis is {x} at {a} and absent at {b}.",
    "Canal stenosis: {a} {x}, {b} none.",
    "Canal stenosis: {a} ({x}), {b} (absent).",
    "There is {x} canal stenosis at {a} but none at {b}.",
    "Canal stenosis, {x} at {a}, nil at {b}.",
    "No canal stenosis at {b}, {x} at {a}.",
    "Canal stenosis is absent at {b}, {x} at {a}.",
    "Canal stenosis is {x} at {a}, whereas absent at {b}.",
    "Canal stenosis: none at {b}, {x} at {a}.",
]
SIZES = [
    "Disc bulges measure 2 mm at {a}, 3 mm at {b} and 5 mm at {c}.",
    "Disc bulges: 2 mm at {a}, 3 mm at {b}, 5 mm at {c}.",
    "Bulges: {a} 2 mm, {b} 3 mm, {c} 5 mm.",
    "Disc bulges at {a} (2 mm), {b} (3 mm) and {c} (5 mm).",
    "Disc bulges of 2 mm, 3 mm and 5 mm at {a}, {b} and {c} respectively.",
    "Disc bulges at {a}, {b} and {c} measuring 2, 3 and 5 mm, respectively.",
    "Disc bulges at {a}, {b} and {c} measuring 2 mm, 3 mm, and 5 mm respectively.",
    "2 mm disc bulge at {a}, 3 mm at {b} and 5 mm at {c}.",
    "Disc bulges are seen, 2 mm at {a}, 3 mm at {b} and 5 mm at {c}.",
    "Disc bulges: {a} = 2 mm, {b} = 3 mm, {c} = 5 mm.",
    "Disc bulge, 0.2 cm at {a}, 0.3 cm at {b}, 0.5 cm at {c}.",
]
PFIRRMANN = [
    "Pfirrmann grade: {a} III, {b} IV, {c} V.",
    "Pfirrmann grade 3 at {a}, grade 4 at {b} and grade 5 at {c}.",
    "Pfirrmann III at {a}, IV at {b}, and V at {c}.",
    "Pfirrmann: {a} 3, {b} 4, {c} 5.",
    "Pfirrmann grade {a} (III), {b} (IV), {c} (V).",
    "{a}, {b} and {c} are Pfirrmann 3, 4 and 5 respectively.",
    "Pfirrmann grade III, IV and V at {a}, {b} and {c} respectively.",
    "Pfirrmann grades: {a} - III, {b} - IV, {c} - V.",
    "Pfirrmann grade is III at {a}, IV at {b} and V at {c}.",
    "Pfirrmann grade 3 at {a}, 4 at {b}, 5 at {c}.",
]
MODIC = [
    "Modic type 1 changes at {a} and type 2 at {b}.",
    "Modic 1 at {a} and Modic 2 at {b}.",
    "Modic changes, type 1 at {a}, type 2 at {b}.",
    "Modic changes: {a} type I, {b} type II.",
    "Modic changes: {a} type 1, {b} type 2.",
    "Modic type I and type II changes at {a} and {b}, respectively.",
    "Modic changes: type 1 at {a}, type 2 at {b}.",
    "Modic changes are type I at {a} and type II at {b}.",
    "Modic changes at {a} (type 1) and {b} (type 2).",
    "Modic type 1 change at {a}; Modic type 2 change at {b}.",
]


def found(text: str, kind: str) -> dict[str, tuple]:
    rows = [(f.disc, f.value, f.status) for f in read_text(text).findings if f.kind == kind]
    assert len({r[0] for r in rows}) == len(rows), (text, rows)
    return {disc: (value, status) for disc, value, status in rows}


def filled(form: str, levels: tuple[str, ...], words: tuple[str, ...] = ()) -> str:
    text = form.format(**dict(zip("abc", levels, strict=False)), **dict(zip("xyz", words, strict=False)))
    return text[0].upper() + text[1:]


@pytest.mark.parametrize("levels", TRIPLES)
@each_row("form", STENOSIS)
def test_each_level_has_its_severity(form, levels):
    for grades in GRADES:
        want = {LEVELS[n]: ((g,), "present") for n, g in zip(levels, grades, strict=True)}
        assert found(filled(form, levels, grades), "canal_stenosis") == want


@pytest.mark.parametrize(("a", "b"), [("L3/4", "L4-L5"), ("L5-S1", "L3/4"), ("L1-2", "L5-S1")])
@pytest.mark.parametrize("form", DENIED)
def test_a_level_denied_in_a_list_does_not_deny_the_others(form, a, b):
    for grade in ("mild", "severe"):
        got = found(filled(form, (a, b), (grade,)), "canal_stenosis")
        assert got == {LEVELS[a]: ((grade,), "present"), LEVELS[b]: ("present", "absent")}


@pytest.mark.parametrize("levels", TRIPLES)
@each_row("form", SIZES)
def test_each_level_has_its_size(form, levels):
    text = filled(form, levels)
    want = {LEVELS[n]: (v, "present") for n, v in zip(levels, (2.0, 3.0, 5.0), strict=True)}
    assert found(text, "displacement_size") == want
    assert found(text, "displacement") == {LEVELS[n]: ("bulge", "present") for n in levels}


@pytest.mark.parametrize("levels", TRIPLES)
@each_row("form", PFIRRMANN)
def test_each_level_has_its_grade(form, levels):
    text = filled(form, levels)
    want = {LEVELS[n]: (v, "present") for n, v in zip(levels, ("III", "IV", "V"), strict=True)}
    assert found(text, "pfirrmann_grade") == want
    assert not read_text(text).not_understood


@pytest.mark.parametrize(("a", "b"), [("L3/4", "L4-L5"), ("L5-S1", "L3/4"), ("L4-L5", "L5-S1")])
@pytest.mark.parametrize("form", MODIC)
def test_each_level_has_its_modic_type(form, a, b):
    want = {LEVELS[a]: ("1", "present"), LEVELS[b]: ("2", "present")}
    assert found(filled(form, (a, b)), "endplate_change") == want


def test_a_scale_whose_name_holds_that_of_another_is_one_scale() -> None:
    found = read_text("Modified Pfirrmann: L3-4 4, L4-5 6, L5-S1 7.").findings
    assert [(f.disc, f.kind, f.value) for f in found] == [
        (disc, "modified_pfirrmann_grade", grade)
        for disc, grade in (("L3-L4", "4"), ("L4-L5", "6"), ("L5-S1", "7"))
    ]
    both = read_text("Pfirrmann 4 at L4-5, modified Pfirrmann 6 at L5-S1.").findings
    assert {(f.disc, f.kind, f.value) for f in both} == {
        ("L4-L5", "pfirrmann_grade", "IV"),
        ("L5-S1", "modified_pfirrmann_grade", "6"),
    }
