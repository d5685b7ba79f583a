"""What is seen outside the discs is never lost: listed with its words, and given to the elements that criteria read."""

import pytest

from candidacy.reading import Reading, read_text
from candidacy.reading.elements import facts
from candidacy.reading.outside import examples
from tests.rows import each_row


def listed(reading: Reading) -> list[tuple[str, str, str]]:
    return [(o.organ, o.about, o.status) for o in reading.outside]


def stated(text: str, element: str) -> object:
    for fact in facts(read_text(text)):
        if fact.element == element:
            return fact.entry.unknown or fact.entry.value
    return None


@pytest.mark.parametrize(("rule", "example"), [(i, e) for i, e, _ in examples()], ids=lambda v: str(v)[:30])
def test_example_is_listed(rule: str, example: str) -> None:
    assert rule in {o.rule for o in read_text(example).outside}


@pytest.mark.parametrize(("rule", "counter"), [(i, c) for i, _, c in examples()], ids=lambda v: str(v)[:30])
def test_counter_example_is_not(rule: str, counter: str) -> None:
    assert rule not in {o.rule for o in read_text(counter).outside}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("There is an infrarenal aortic aneurysm measuring 4.5 cm.", [("aorta", "aneurysm", "present")]),
        ("A 4 cm mass arises from the upper pole of the left kidney.", [("kidney", "mass", "present")]),
        ("The aorta measures 4.5 cm.", [("aorta", "a size is given", "possible")]),
        ("Possible left adrenal nodule.", [("adrenal gland", "lesion", "possible")]),
        ("Retroperitoneal adenopathy cannot be excluded.", [("lymph nodes", "enlarged", "possible")]),
        ("Sacral insufficiency fracture.", [("sacrum", "fracture", "present")]),
        ("Mild bilateral hydronephrosis.", [("kidney", "dilated collecting system", "present")]),
        ("RECOMMENDATION: Ultrasound of the aorta for aneurysm.", [("aorta", "aneurysm", "possible")]),
        ("Simple ovarian cyst.", [("ovary", "cyst", "present")]),
        ("Enlarged para-aortic lymph nodes.", [("lymph nodes", "enlarged", "present")]),
        ("No evidence of mass, aneurysm, lymphadenopathy, or hydronephrosis.", []),
        ("Hips: mild osteoarthritis.", [("hip", "joint change", "present")]),
        ("Kidneys: normal. Liver: no mass.", []),
        (
            "Abnormal T2 signal within the distal cord.",
            [("spinal cord", "oedema or abnormal signal", "present")],
        ),
        (
            "Sacral insufficiency fracture with marrow edema in the ala.",
            [("sacrum", "fracture", "present"), ("sacrum", "oedema or abnormal signal", "present")],
        ),
        ("No aortic aneurysm.", []),
        ("No renal mass, hydronephrosis or stone.", []),
        ("The kidneys show no hydronephrosis.", []),
        ("HISTORY: known aortic aneurysm.", []),
        ("L4-5: disc bulge with mass effect on the thecal sac.", []),
        ("L5-S1: disc extrusion. The bowel is normal.", []),
    ],
)
def test_what_is_listed(text: str, wanted: list) -> None:
    assert listed(read_text(text)) == wanted


def test_a_denial_of_something_else_before_a_comma_loses_nothing() -> None:
    (seen,) = read_text("No stenosis, incidental 3 cm left renal mass.").outside
    assert (seen.organ, seen.status) == ("kidney", "possible")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("A 4 cm left renal mass is seen.", "4 cm left renal mass"),
        ("Right ovarian cyst measuring 5 cm.", "ovarian cyst measuring 5 cm"),
        (
            "There may be a mass in the lower pole of the left kidney.",
            "may be a mass in the lower pole of the left kidney",
        ),
    ],
)
def test_its_size_and_what_shaped_it_are_quoted(text: str, words: str) -> None:
    reading = read_text(text)
    assert reading.words(reading.outside[-1].quoted) == words


@pytest.mark.parametrize(
    ("text", "element", "wanted"),
    [
        ("Infrarenal aortic aneurysm.", "aortic_aneurysm_on_imaging", True),
        ("No aortic aneurysm.", "aortic_aneurysm_on_imaging", False),
        ("Possible aortic aneurysm.", "aortic_aneurysm_on_imaging", "uncertain_in_source"),
        ("The aorta is ectatic.", "aortic_aneurysm_on_imaging", "uncertain_in_source"),
        ("The aorta is normal.", "aortic_aneurysm_on_imaging", None),
        ("HISTORY: aortic aneurysm.", "aortic_aneurysm_on_imaging", None),
        ("Left renal mass.", "tumour_or_mass_on_imaging", True),
        ("Left adrenal lesion.", "tumour_or_mass_on_imaging", "uncertain_in_source"),
        ("No renal mass.", "tumour_or_mass_on_imaging", None),
        (
            "A cyst is related to the left L4-5 facet joint.",
            "tumour_or_mass_on_imaging",
            "uncertain_in_source",
        ),
        ("Intramedullary enhancing nodule at T12.", "tumour_or_mass_on_imaging", "uncertain_in_source"),
        ("Metastases in the liver.", "tumour_or_mass_on_imaging", True),
        ("Insufficiency fracture of the sacrum.", "fracture_on_imaging", True),
        ("Left psoas abscess.", "infection_sign_on_imaging", True),
        ("Bilateral sacroiliitis.", "sacroiliac_change_on_imaging", True),
        (
            "Degenerative change of the sacroiliac joints.",
            "sacroiliac_change_on_imaging",
            "uncertain_in_source",
        ),
    ],
)
def test_what_criteria_read(text: str, element: str, wanted: object) -> None:
    assert stated(text, element) == wanted


def test_thin_bone_is_told_and_is_no_danger_by_itself() -> None:
    for text in ("The bones are demineralised.", "Diffuse osteopenia."):
        reading = read_text(text)
        assert [o.about for o in reading.outside] == ["low bone density"]
        assert not any(a.danger for a in reading.unread)


@pytest.mark.parametrize("text", ["Infrarenal aortic aneurysm.", "Left renal mass."])
def test_danger_outside_the_discs_is_looked_at_first(text: str) -> None:
    assert read_text(text).red_flags


def test_what_a_column_is_called_is_heard_whatever_was_read_before() -> None:
    read_text("Mild bulge at L4-5. The cord is normal. Scoliosis is present.")
    table = "FINDINGS:\nLevel | Disc | Kidney mass\nL4-5 | bulge | mild\nL5-S1 | normal | present\n"
    assert [o.organ for o in read_text(table).outside] == ["kidney", "kidney"]


def test_no_enlarged_is_a_denial_and_no_enlargement_of_leaves_what_it_is_said_of() -> None:
    reading = read_text("L4-5: bulge. No enlarged lymph nodes or aneurysm. No enlarged kidney.")
    assert (reading.outside, reading.red_flags) == ((), ())
    for words in ("No enlargement of the L4-5 extrusion.", "No enlargement L4-5 extrusion."):
        assert [(f.value, f.status) for f in read_text(words).findings] == [("extrusion", "present")]


@each_row(
    ("sentence", "flags"),
    [
        ("The infrarenal aorta measures 47 mm.", ["aneurysm of the aorta"]),
        ("Aorta 5.1 cm.", ["aneurysm of the aorta"]),
        ("Aorta 1.8 cm.", []),
        ("Aorta measures less than 30 mm.", []),
        ("Aorta 5 cm, no aneurysm.", ["aneurysm of the aorta"]),
        ("Abdominal aorta dilated to 4 cm.", ["aneurysm of the aorta"]),
        ("Cord compression at T11.", ["compression of the spinal cord"]),
        ("Possible cord compression at T11.", ["compression of the spinal cord"]),
        ("No cord compression.", []),
    ],
)
def test_a_wide_aorta_and_a_pressed_cord_stand_on_top(sentence: str, flags: list[str]) -> None:
    reading = read_text(f"{sentence} L4-5: bulge.")
    assert [f.about for f in reading.red_flags] == flags
    assert all(f.status != "present" for f in reading.findings if f.kind == "aortic_aneurysm")
