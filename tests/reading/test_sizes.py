"""Sizes and types as values of the case record: limits stay limits, and a number of something else is no size."""

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts
from tests.rows import each_row

NAMES = {"L4-5": "L4-L5", "L5/S1": "L5-S1", "L2-L3": "L2-L3"}
SIZE, LOSS = "displacement_size", "disc_height_loss"
SHOWN = [
    ("{d}: 5 mm protrusion.", SIZE, {"value": 5.0}),
    ("5 mm protrusion at {d}.", SIZE, {"value": 5.0}),
    ("{d}: protrusion measuring 0.5 cm.", SIZE, {"value": 5.0}),
    ("{d}: protrusion measuring 5 mm AP by 8 mm transverse.", SIZE, {"value": 5.0}),
    ("{d}: 5 × 8 mm protrusion.", SIZE, {"between": [5.0, 8.0]}),
    ("{d}: 5 x 8 x 12 mm protrusion.", SIZE, {"between": [5.0, 12.0]}),
    ("{d}: 2-3 mm protrusion.", SIZE, {"between": [2.0, 3.0]}),
    ("{d}: Modic 1 - 5 mm protrusion.", SIZE, {"value": 5.0}),
    ("{d}: Pfirrmann 4 - 5 mm protrusion.", SIZE, {"value": 5.0}),
    ("{d}: 2 to 3 mm protrusion.", SIZE, {"between": [2.0, 3.0]}),
    ("{d}: protrusion less than 5 mm.", SIZE, {"less_than": 5.0}),
    ("{d}: protrusion measuring less than 5 mm.", SIZE, {"less_than": 5.0}),
    ("{d}: protrusion measuring under 5 mm.", SIZE, {"less_than": 5.0}),
    ("{d}: protrusion < 5 mm.", SIZE, {"less_than": 5.0}),
    ("{d}: protrusion measuring up to 6 mm.", SIZE, {"at_most": 6.0}),
    ("{d}: protrusion of at most 6 mm.", SIZE, {"at_most": 6.0}),
    ("{d}: protrusion of no more than 6 mm.", SIZE, {"at_most": 6.0}),
    ("{d}: protrusion exceeding 6 mm.", SIZE, {"more_than": 6.0}),
    ("{d}: protrusion measuring more than 6 mm.", SIZE, {"more_than": 6.0}),
    ("{d}: protrusion > 6 mm.", SIZE, {"more_than": 6.0}),
    ("{d}: protrusion of at least 6 mm.", SIZE, {"at_least": 6.0}),
    ("{d}: less than 50% loss of disc height.", LOSS, {"less_than": 50.0}),
    ("{d}: disc height loss of less than 50 %.", LOSS, {"less_than": 50.0}),
    ("{d}: more than 50% loss of disc height.", LOSS, {"more_than": 50.0}),
    ("{d}: up to 50% loss of disc height.", LOSS, {"at_most": 50.0}),
    ("{d}: at least 50% loss of disc height.", LOSS, {"at_least": 50.0}),
    ("{d}: 30-40% loss of disc height.", LOSS, {"between": [30.0, 40.0]}),
    ("{d}: disc height is reduced by 30%.", LOSS, {"value": 30.0}),
    ("{d}: less than 3 mm of translation on flexion-extension.", "translation_on_flexion_extension", {"less_than": 3.0}),
    ("{d}: 4 mm translation on flexion-extension.", "translation_on_flexion_extension", {"value": 4.0}),
    ("{d}: anterolisthesis increases from 3 mm to 6 mm on flexion.", "translation_on_flexion_extension", None),
    ("{d}: anterolisthesis increases by 3 mm on flexion.", "slip", None),
    ("{d}: anterolisthesis, 3 mm in extension and 6 mm in flexion.", "slip", None),
    ("{d}: anterolisthesis measures 3 mm in neutral and 6 mm in flexion.", "slip", None),
    ("{d}: retrolisthesis of 2 mm in extension.", "slip", None),
    ("{d}: 3 mm anterolisthesis in neutral, 6 mm in flexion, 2 mm in extension.", "slip", None),
    ("{d}: translation of 3 mm in flexion and 1 mm in extension.", "translation_on_flexion_extension", None),
    ("{d}: translation of 3 mm.", "translation_on_flexion_extension", None),
    ("{d}: translation of 3 mm between flexion and extension.", "translation_on_flexion_extension", {"value": 3.0}),
    ("Translation of 3 mm between flexion and extension at {d}.", "translation_on_flexion_extension", {"value": 3.0}),
    ("{d}: 3 mm of translation from flexion to extension.", "translation_on_flexion_extension", {"value": 3.0}),
    ("{d}: translation measuring 3 mm on flexion and extension views.", "translation_on_flexion_extension", {"value": 3.0}),
    ("{d}: sagittal translation of 3 mm from extension to flexion.", "translation_on_flexion_extension", {"value": 3.0}),
    ("{d}: 4 mm anterolisthesis.", "slip", {"value": 4.0}),
]  # fmt: skip
NOT_ITS_SIZE = [
    "{d}: no protrusion greater than 3 mm.",
    "{d}: no protrusion larger than 3 mm.",
    "{d}: protrusion, 5 mm previously.",
    "{d}: protrusion (was 5 mm).",
    "{d}: protrusion (previously 5 mm).",
    "{d}: protrusion with a 5 mm annular fissure.",
    "{d}: protrusion and a 5 mm annular fissure.",
    "{d}: protrusion has increased by 2 mm.",
    "{d}: protrusion, increased by 2 mm.",
    "{d}: protrusion has decreased by 2 mm.",
    "{d}: bulge narrowing the canal to 8 mm.",
    "{d}: protrusion. Canal diameter 9 mm.",
    "{d}: protrusion, the canal measures 9 mm.",
]
MODIC = [
    ("Modic type 1 changes at {d}.", {"value": "1"}),
    ("Modic 1/2 changes at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("Modic type I-II changes at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("Mixed type 1 and 2 Modic changes at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("Mixed Modic 1 and 2 changes at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("Modic changes type 1 and type 2 at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("Modic type 1 and Modic type 2 changes at {d}.", {"one_of": ["1-2", "2-1"]}),
    ("{d}: Modic 1 superiorly, Modic 2 inferiorly.", {"one_of": ["1-2", "2-1"]}),
    ("{d}: Modic 1 and Modic 3 changes.", {}),
    ("{d}: Modic 2 > Modic 1.", None),
    ("{d}: Modic type 2 > type 1.", None),
    ("{d}: Modic 1 < 2.", None),
    ("Modic type II/I changes at {d}.", {"value": "2-1"}),
    ("Modic type 2/3 changes at {d}.", {"value": "2-3"}),
    ("Modic type 1 or 2 changes at {d}.", {"one_of": ["1", "1-2", "2-1", "2", "2-3", "3"]}),
    ("Modic I or II changes at {d}.", {"one_of": ["1", "1-2", "2-1", "2", "2-3", "3"]}),
    ("Mixed Modic changes at {d}.", {"one_of": ["1", "1-2", "2-1", "2", "2-3", "3"]}),
]
OF_LEVELS = [
    ("Disc bulges at {a}, {b} and {c}, 5 mm at {b}.", {"b": 5.0}),
    ("Disc bulges at {a}, {b} and {c}, the largest at {b} measuring 6 mm.", {"b": 6.0}),
    ("Disc bulges at {a} and {b}, the latter 5 mm.", {"b": 5.0}),
    ("Disc bulges at {a} and {b}, the former measuring 5 mm.", {"a": 5.0}),
    ("Disc bulges at {a} and {b} measuring 3 mm.", {"a": 3.0, "b": 3.0}),
    ("3 mm disc bulges at {a} and {b}.", {"a": 3.0, "b": 3.0}),
    ("Disc bulges at {a} and {b} measuring 3 mm and 4 mm.", {}),
    ("Disc bulges at {a} and {b}, the larger 5 mm.", {}),
    ("Disc bulges at {a} and {b}, the largest measuring 5 mm.", {}),
    ("Disc bulges at {a}, {b} and {c} of 3 mm and 4 mm.", {}),
]


def entry(text: str, element: str) -> dict | None:
    found = [f.entry for f in facts(read_text(text)) if f.element == element]
    assert len(found) <= 1, found
    keep = ("value", "between", "at_least", "at_most", "more_than", "less_than", "one_of")
    if not found:
        return None
    data = found[0].model_dump(exclude_none=True, mode="json")
    return {k: data[k] for k in keep if k in data}


@pytest.mark.parametrize("d", NAMES)
@each_row(("form", "element", "want"), SHOWN)
def test_a_size_a_range_and_a_limit(form, element, want, d):
    assert entry(form.format(d=d), element) == want


@pytest.mark.parametrize("d", NAMES)
@pytest.mark.parametrize("form", [f for f, _, want in SHOWN if want is None])
def test_a_number_that_gives_no_fact_is_shown_as_unread(form, d):
    reading = read_text(form.format(d=d))
    missed = " ".join(reading.words_missed(a) for a in reading.unread)
    assert "3" in missed or "2" in missed


@pytest.mark.parametrize("d", NAMES)
@pytest.mark.parametrize(
    "form",
    [
        "{d}: approximately 5 mm protrusion.",
        "{d}: protrusion measuring approximately 5 mm.",
        "{d}: about 5 mm protrusion.",
        "{d}: protrusion of about 5 mm.",
        "{d}: ~5 mm protrusion.",
        "{d}: protrusion, roughly 5 mm.",
        "{d}: approx. 5 mm protrusion.",
        "There is a protrusion of around 5 mm at {d}.",
        "Protrusion of approximately 5 mm at {d}.",
        "{d}: protrusion estimated at 5 mm.",
        "{d}: 5 mm protrusion.",
    ],
)
def test_an_approximate_size_says_so(form, d):
    (fact,) = [f for f in facts(read_text(form.format(d=d))) if f.element == SIZE]
    assert fact.entry.value == 5.0
    near = form != "{d}: 5 mm protrusion."
    assert (fact.entry.note == "approximate, by its own words") is near
    assert (fact.entry.words.strip("5 m") != "") is near


@pytest.mark.parametrize("d", NAMES)
@each_row("form", NOT_ITS_SIZE)
def test_a_number_of_something_else_is_no_size(form, d):
    text = form.format(d=d)
    assert entry(text, SIZE) is None
    if "larger than" in text or "greater than" in text:  # a smaller one is not denied
        assert entry(text, "displacement") is None
        assert read_text(text).not_understood


@pytest.mark.parametrize("d", NAMES)
@pytest.mark.parametrize(("form", "want"), MODIC)
def test_mixed_types_are_mixed_and_doubtful_ones_are_not(form, want, d):
    assert entry(form.format(d=d), "modic_type") == want


@pytest.mark.parametrize(
    "names", [("L2-3", "L3-4", "L5-S1"), ("L5-S1", "L4-5", "L3-4"), ("L3-L4", "L4/5", "L5/S1")]
)
@pytest.mark.parametrize(("form", "want"), OF_LEVELS)
def test_a_size_stays_with_the_level_it_names(form, want, names):
    full = {"L2-3": "L2-L3", "L3-4": "L3-L4", "L3-L4": "L3-L4", "L4-5": "L4-L5", "L4/5": "L4-L5"}
    text = form.format(a=names[0], b=names[1], c=names[2])
    got = {f.disc: f.value for f in read_text(text).findings if f.kind == SIZE}
    key = dict(zip("abc", names, strict=True))
    assert got == {full.get(key[k], "L5-S1"): v for k, v in want.items()}
    assert want or read_text(text).not_understood


def test_a_slip_named_by_its_scale_alone_has_a_grade_at_each_level():
    for text in (
        "Meyerding grade I at L4-5 and grade II at L5-S1.",
        "Meyerding: L4-5 grade I, L5-S1 grade II.",
    ):
        got = {f.disc: f.value for f in read_text(text).findings if f.kind == "meyerding_grade"}
        assert got == {"L4-L5": "I", "L5-S1": "II"}


def test_the_first_of_two_numbers_with_one_unit_leaves_the_size_open():
    for text in ("L3-4 and L4-5 show bulges of 3 and 5 mm.", "L4-5: bulge of 3, 5 mm."):
        assert not [f for f in read_text(text).findings if f.kind == "displacement_size"]
