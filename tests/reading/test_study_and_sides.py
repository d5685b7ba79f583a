"""What is said of the study, whose side it is, and what a report tells of its own limits."""

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts
from tests.rows import each_row


def of_study(text: str) -> set[str]:
    return {f.kind for f in read_text(text).findings if f.placed == "report"}


CONTRAST, SEQUENCE = "mri_contrast_given", "fat_suppressed_sequence"


@each_row(
    ("text", "kind", "there"),
    [
        # contrast of another study is none of MRI
        ("CT LUMBAR SPINE WITHOUT CONTRAST.", CONTRAST, False),
        ("TECHNIQUE: unenhanced CT.", CONTRAST, False),
        ("CT myelogram with contrast.", CONTRAST, False),
        ("CT lumbar spine. No contrast was given.", CONTRAST, False),
        ("MRI LUMBAR SPINE WITHOUT CONTRAST.", CONTRAST, True),
        ("TECHNIQUE: Sagittal T1 and T2. No contrast.", CONTRAST, True),
        ("MRI without contrast; CT without contrast.", CONTRAST, True),
        # a sequence that is missing or of no use was not made
        ("No STIR sequence was obtained.", SEQUENCE, False),
        ("STIR is non-diagnostic.", SEQUENCE, False),
        ("STIR was not acquired.", SEQUENCE, False),
        ("Sagittal T1 and T2 without fat suppression.", SEQUENCE, False),
        ("The STIR series was aborted.", SEQUENCE, False),
        ("Sagittal STIR, non contrast study.", SEQUENCE, True),
        ("T1, T2 and STIR without contrast.", SEQUENCE, True),
    ],
)
def test_what_is_said_of_the_study(text: str, kind: str, there: bool) -> None:
    assert (kind in of_study(f"{text} L4-5: bulge.")) is there


@each_row(
    ("text", "sides"),
    [
        ("L4-5: moderate canal stenosis, bilateral pars intact.", ()),
        ("L4-5: moderate canal stenosis, left facet cyst.", ()),
        ("L4-5: moderate canal stenosis, bilateral facet arthropathy.", ()),
        ("L4-5: moderate canal stenosis, right pedicle short.", ()),
        ("L4-5: moderate canal stenosis, left.", ("left",)),
        ("L4-5: moderate canal stenosis (right).", ("right",)),
        ("L4-5: moderate canal stenosis, left more than right.", ("left", "right")),
        ("L4-5: moderate canal stenosis, Rt > Lt.", ("left", "right")),
        ("L4-5: moderate canal stenosis, R=L.", ("left", "right")),
        ("L4-5: moderate canal stenosis, right than left.", ("right",)),
        ("L4-5: bil. moderate canal stenosis.", ("left", "right")),
        ("L4-5: moderate canal stenosis, left side worse.", ("left",)),
        ("L4-5: moderate canal stenosis bilaterally.", ("left", "right")),
    ],
)
def test_a_side_that_names_another_thing_is_not_taken(text: str, sides: tuple[str, ...]) -> None:
    (finding,) = (f for f in read_text(text).findings if f.kind == "canal_stenosis")
    assert finding.sides == sides


def test_a_denial_that_holds_the_word_of_a_change_denies_it_outside_the_discs() -> None:
    assert not read_text("No abnormal bone marrow signal. L4-5: bulge.").outside
    assert read_text("Abnormal bone marrow signal. L4-5: bulge.").outside


@each_row(
    ("sentence", "shown"),
    [
        ("Motion artefact degrades the axial images", True),
        ("The patient could not complete the examination", True),
        ("Limited by claustrophobia", True),
        ("Sagittal T1 and T2", False),
        ("No motion artefact", False),
        ("Without significant artefact", False),
    ],
)
def test_a_limit_of_the_study_is_shown_under_technique_too(sentence: str, shown: bool) -> None:
    reading = read_text(f"TECHNIQUE: {sentence}.\nFINDINGS: L4-5: bulge.")
    assert any(sentence in reading.words_missed(a) for a in reading.unread) is shown


@pytest.mark.parametrize("words", ["same", "Same.", "likewise", "similar"])
def test_a_level_said_to_be_as_another_is_shown_as_unread(words: str) -> None:
    reading = read_text(f"L3-4: bulge.\nL4-5: {words}")
    assert [f.disc for f in reading.findings] == ["L3-L4"]
    assert any("L4-5" in reading.words_missed(a) for a in reading.unread)


UPPER = {"L1-L2", "L2-L3", "L3-L4", "L4-L5"}


@each_row(
    ("text", "said"),
    [
        ("Apart from L5-S1, the remaining discs are normal.", set()),
        ("Apart from L5-S1, which shows an extrusion, all discs are normal.", {"extrusion"}),
        ("Apart from the L5-S1 level, where an extrusion is present, the remaining discs are normal.", {"extrusion"}),
        ("Other than at L5-S1, where a protrusion is seen, the remaining levels are normal.", {"protrusion"}),
        ("Except L5-S1, all discs are normal.", set()),
    ],
)  # fmt: skip
def test_a_disc_left_out_in_front_is_not_called_normal_with_the_rest(text: str, said: set[str]) -> None:
    found = [f for f in read_text(text).findings if f.kind == "displacement"]
    assert {f.disc for f in found if f.status == "absent"} == UPPER
    assert {f.value for f in found if f.disc == "L5-S1"} == said


def test_what_is_said_of_all_is_said_behind_them_of_none_left_out() -> None:
    text = "Except for L5-S1, which is desiccated, all discs are of normal signal."
    found = read_text(text).findings
    assert {f.disc for f in found if f.status == "absent"} == UPPER
    assert [f.status for f in found if f.disc == "L5-S1"] == ["present"]


@each_row(
    ("text", "read"),
    [
        ("L4-5: [ ] normal [x] bulge [ ] protrusion; Modic 0[ ] 1[x]", set()),
        ("L4-5 Bulge: [x]  Protrusion: [ ] fissure", set()),
        ("L4-5: bulge [x]  protrusion [ ]", {"bulge"}),
        ("L4-5: [x] bulge  [ ] protrusion", {"bulge"}),
        ("L4-5: Bulge: [x]  Protrusion: [ ]", {"bulge"}),
    ],
)
def test_boxes_of_which_some_stand_before_and_some_behind_are_not_read(text: str, read: set[str]) -> None:
    reading = read_text(text)
    assert {f.value for f in reading.findings} == read
    assert read or reading.unread


@each_row(
    ("text", "kinds"),
    [
        ("Mr Doe was imaged. L4-5: bulge.", set()),
        ("MR lumbar spine. L4-5: bulge.", {"imaging_modality"}),
        ("Unable to tolerate supine. L4-5: bulge.", set()),
        ("The patient could not be imaged upright. L4-5: bulge.", set()),
        ("No flexion-extension views. L4-5: bulge.", set()),
        ("Imaged supine. L4-5: bulge.", {"imaging_posture"}),
        ("No instability on flexion-extension views. L4-5: bulge.", {"imaging_posture"}),
    ],
)
def test_a_name_is_no_modality_and_what_could_not_be_no_posture(text: str, kinds: set[str]) -> None:
    assert of_study(text) == kinds


@each_row(
    ("sentence", "denied"),
    [
        ("Metastases: none new.", False),
        ("Metastases: none.", True),
        ("Fractures: none acute.", False),
        ("Fractures: none recent.", False),
        ("Fractures: none.", True),
        ("Fractures: none. Acute pain.", True),
    ],
)
def test_a_denial_of_some_is_no_denial_of_all(sentence: str, denied: bool) -> None:
    told = {f.element: f.entry.value for f in facts(read_text(f"L4-5: bulge. {sentence}"))}
    element = "tumour_or_mass_on_imaging" if "Metas" in sentence else "fracture_on_imaging"
    assert (told.get(element) is False) is denied


@each_row(
    ("text", "value"),
    [
        ("L4-5: lateral recess stenosis - none on the left, mild on the right.", "mild"),
        ("L4-5: lateral recess stenosis: L none, R mild.", "mild"),
        ("L4-5: no right recess stenosis. Mild right lateral recess stenosis.", None),
        ("L4-5: no lateral recess stenosis. Mild right lateral recess stenosis.", None),
    ],
)
def test_one_side_denied_does_not_gainsay_the_other(text: str, value: str | None) -> None:
    (told,) = (f.entry for f in facts(read_text(text)) if f.element == "recess_stenosis")
    assert told.value == value
    assert (told.unknown is None) is (value is not None)


def test_behind_a_denial_another_thing_is_spoken_of() -> None:
    assert not read_text("L4-5: Modic I endplate oedema, no paraspinal collection.").outside
    assert read_text("L4-5: bulge. Paraspinal oedema, no collection.").outside


@each_row(
    ("text", "sides"),
    [
        ("L4-5: B/L foraminal stenosis.", ("left", "right")),
        ("L4-5: mild b/l foraminal stenosis.", ("left", "right")),
        ("L4-5: R/L foraminal stenosis.", ("left", "right")),
        ("L4-5: L foraminal stenosis.", ("left",)),
        ("L4-5: R foraminal stenosis.", ("right",)),
    ],
)
def test_letters_of_both_sides_are_both(text: str, sides: tuple[str, ...]) -> None:
    (finding,) = (f for f in read_text(text).findings if f.kind == "foraminal_stenosis")
    assert finding.sides == sides


def test_fluid_in_a_disc_is_not_passed_over_beside_a_denial_of_infection() -> None:
    reading = read_text(
        "No evidence of discitis, but the L3-4 endplates enhance and there's fluid in the disc."
    )
    assert any("fluid in the disc" in reading.words_missed(a) for a in reading.unread)
    told = {f.element: f.entry for f in facts(reading)}
    assert told["infection_sign_on_imaging"].value is None


@each_row(
    ("sentence", "denied"),
    [
        ("No surgical lesion.", False),
        ("No degenerative lesion.", False),
        ("No fracture or surgical lesion.", False),
        ("No lesion.", True),
        ("No definite focal lesion.", True),
        ("No fracture, infection, or suspicious lesion.", True),
    ],
)
def test_a_lesion_of_one_sort_denied_leaves_others_open(sentence: str, denied: bool) -> None:
    told = {f.element: f.entry.value for f in facts(read_text(f"L4-5: bulge. {sentence}"))}
    assert (told.get("tumour_or_mass_on_imaging") is False) is denied


def test_otherwise_denies_nothing_of_the_disc_just_named() -> None:
    reading = read_text("IMPRESSION: Moderate L4-5 stenosis; otherwise no stenosis.")
    assert [f.status for f in reading.findings if f.disc == "L4-L5"] == ["present"]
    assert not reading.contradictions
    beside = read_text("L4-5: mild bulge, otherwise no stenosis.")
    assert {f.status for f in beside.findings if f.kind == "canal_stenosis"} == {"absent"}


def test_a_protocol_is_no_finding() -> None:
    assert not {"fracture", "tumour"} & of_study("Spine fracture protocol. Tumour protocol. L4-5: bulge.")
    assert "fracture" in of_study("Fracture of L2. L4-5: bulge.")


def test_all_levels_below_this_are_not_all_levels() -> None:
    reading = read_text("L2-L3: unremarkable. Below this, bulges at all levels.")
    assert [(f.disc, f.status) for f in reading.findings] == [("L2-L3", "absent")]
    assert reading.unread
    assert {f.disc for f in read_text("Bulges at all levels.").findings} == {*UPPER, "L5-S1"}


def test_both_of_two_discs_are_no_sides() -> None:
    found = [
        f
        for f in read_text("Neither L4-5 nor L5-S1 is stenotic, but both bulge.").findings
        if f.status == "present"
    ]
    assert [(f.disc, f.value, f.sides) for f in found] == [("L4-L5", "bulge", ()), ("L5-S1", "bulge", ())]
    dark = read_text("Neither L4-5 nor L5-S1 is herniated; both are desiccated.").findings
    assert [f.sides for f in dark if f.kind == "desiccation"] == [(), ()]
    narrowed = read_text("L4-5: foramina: both are narrowed.").findings
    assert {f.sides for f in narrowed if f.kind == "foraminal_stenosis"} == {("left", "right")}
    pressed = read_text("L4-5: nerve roots: both are compressed.").findings
    assert {f.sides for f in pressed if f.kind == "neural_compression"} == {("left", "right")}
    narrowed = read_text("L4-5: the bulge narrows both foramina.").findings
    assert {f.sides for f in narrowed if f.kind == "foraminal_stenosis"} == {("left", "right")}


STENOSES = {"canal_stenosis": "canal", "recess_stenosis": "recess", "foraminal_stenosis": "foramen"}


@each_row(
    ("words", "sides"),
    [
        ("mild canal and moderate right recess stenosis", {"canal": (), "recess": ("right",)}),
        ("left foraminal and right recess stenosis", {"foramen": ("left",), "recess": ("right",)}),
        (
            "canal, right recess and left foraminal stenosis",
            {"canal": (), "recess": ("right",), "foramen": ("left",)},
        ),
        ("bilateral foraminal and canal stenosis", {"foramen": ("left", "right"), "canal": ()}),
        ("narrowing of the left recess and the canal", {"recess": ("left",), "canal": ()}),
        ("narrowing of both the canal and the right recess", {"canal": (), "recess": ("right",)}),
        ("right foramen patent, left recess narrowed", {"foramen": ("right",), "recess": ("left",)}),
        ("the stenosis of the recess is on the left", {"recess": ("left",)}),
    ],
)
def test_a_side_is_of_the_thing_it_stands_with(words: str, sides: dict[str, tuple[str, ...]]) -> None:
    found = read_text(f"L4-5: {words}.").findings
    assert {STENOSES[f.kind]: f.sides for f in found if f.kind in STENOSES} == sides


@each_row(
    ("text", "element", "value"),
    [
        ("no right foraminal stenosis", "foraminal_stenosis", None),
        ("the left foramen is patent", "foraminal_stenosis", None),
        ("right foramen patent. Left foramen patent", "foraminal_stenosis", "none"),
        ("both foramina are patent", "foraminal_stenosis", "none"),
        ("right foramen patent, left foramen severely narrowed", "foraminal_stenosis", "severe"),
        ("moderate left foraminal and no right foraminal narrowing", "foraminal_stenosis", None),
        ("no left facet arthropathy", "facet_arthropathy", None),
        ("no right pars defect", "pars_defect", None),
        ("no protrusion on the left", "displacement", None),
        ("no left S1 root compression", "neural_compression", None),
    ],
)
def test_a_denial_of_one_side_leaves_the_other_open(text: str, element: str, value: str | None) -> None:
    (told,) = (f.entry for f in facts(read_text(f"L4-5: {text}.")) if f.element == element)
    assert told.value == value
    assert (told.unknown is None) is (value is not None)
    assert not told.one_of


@each_row(
    "sentence",
    [
        "Above L4 there is no canal stenosis.",
        "No canal stenosis is seen above L4.",
        "No disc herniation down to L4.",
        "Below L4, no herniation.",
        "No herniation at L4.",
        "No compression of the L5 nerve root.",
        "No recurrent herniation.",
        "I do not see a residual herniation.",
        "No herniation in the upper lumbar spine.",
        "The lower lumbar levels show no canal stenosis.",
    ],
)
def test_what_is_denied_of_some_discs_is_not_said_of_all(sentence: str) -> None:
    assert not [f for f in facts(read_text(sentence)) if f.subject != "patient"]


def test_a_vertebra_that_another_finding_names_limits_no_denial() -> None:
    for sentence in ("No herniation or L2 fracture.", "Haemangioma in L2, no herniation."):
        assert {f.subject for f in facts(read_text(sentence))} >= {*UPPER, "L5-S1"}


@each_row("number", ["1/2", "(1/2)", ": 2", "right 1"])
def test_a_number_of_no_scale_is_shown(number: str) -> None:
    reading = read_text(f"L4-5: foraminal stenosis {number}.")
    assert number.strip("(): right") in " ".join(reading.words_missed(a) for a in reading.unread)


def test_what_otherwise_normal_speaks_of_is_shown_as_unread() -> None:
    for text in ("L4-5: bulge, otherwise normal.", "L4-5: bulge. Otherwise normal."):
        reading = read_text(text)
        assert not reading.contradictions
        assert any("therwise normal" in reading.words_missed(a) for a in reading.unread)


def test_each_side_keeps_the_grade_that_stands_behind_it() -> None:
    for text in (
        "L4-5: foramina R moderately, L mildly narrowed.",
        "L4-5: moderate right and mild left foraminal stenosis.",
    ):
        found = [f for f in read_text(text).findings if f.kind == "foraminal_stenosis"]
        assert {(f.sides, f.value) for f in found} == {
            (("right",), ("moderate",)),
            (("left",), ("mild",)),
        }, text


def test_a_side_that_an_addendum_corrects_is_a_conflict() -> None:
    reading = read_text(
        "FINDINGS: L4-5: left paracentral protrusion.\nADDENDUM: The protrusion at L4-5 is on the right."
    )
    assert ("L4-L5", "displacement") in {(c.disc, c.kind) for c in reading.contradictions}
    (told,) = (f.entry for f in facts(reading) if f.element == "displacement")
    assert told.unknown == "conflicting"


def test_what_stands_against_a_denial_is_shown() -> None:
    reading = read_text("L4-5: narrowing not of the canal but of the foramina.")
    assert any("foramina" in reading.words_missed(a) for a in reading.unread)


@each_row(
    ("words", "sides", "site"),
    [
        ("protrusion measuring 8 mm, left subarticular zone", ("left",), "subarticular"),
        ("5 mm protrusion in the left foraminal zone, contacting L4", ("left",), "foraminal"),
        ("left foraminal zone protrusion", ("left",), "foraminal"),
        ("protrusion, left foraminal", ("left",), "foraminal"),
        ("protrusion (central)", (), "central"),
        ("protrusion, left greater than right", ("left", "right"), None),
        # what stands behind the comma names another thing
        ("protrusion, left foramen narrowed", (), None),
        ("protrusion, foramen patent", (), None),
        ("protrusion, central canal patent", (), None),
        ("protrusion 5 mm, left foraminal stenosis", (), None),
    ],
)
def test_the_site_and_side_behind_a_displaced_disc(
    words: str, sides: tuple[str, ...], site: str | None
) -> None:
    findings = read_text(f"L4-5: {words}.").findings
    assert [f.sides for f in findings if f.kind == "displacement"] == [sides]
    assert next((f.value for f in findings if f.kind == "displacement_site"), None) == site


def test_a_site_that_no_finding_takes_up_is_shown() -> None:
    reading = read_text("L4-5: protrusion 8 x 6 mm (AP x CC), left subarticular zone.")
    missed = [reading.text[s.start : s.end] for a in reading.ledger for s in a.missed]
    assert any("subarticular zone" in words for words in missed)


def test_a_root_displaced_and_not_compressed_is_a_conflict_but_not_where_the_sides_differ() -> None:
    reading = read_text("L5-S1: protrusion displacing but not compressing the S1 nerve root.")
    assert [c.kind for c in reading.contradictions] == ["neural_compression"]
    reading = read_text("L5-S1: compressing the left S1 root but not compressing the right S1 root.")
    assert not reading.contradictions


def test_a_side_behind_a_comma_is_not_of_the_root_before_it() -> None:
    reading = read_text("L5-S1: right S1 root compressed, left not compressed.")
    assert [f.sides for f in reading.findings if f.status == "present"] == [("right",)]
    assert [reading.words_missed(a) for a in reading.unread] == ["left"]


@each_row(
    ("words", "kind", "sides"),
    [
        ("recess stenosis, left not narrowed", "recess_stenosis", ()),
        ("fissure, left paracentral protrusion", "annular_fissure", ()),
        ("fissure, left", "annular_fissure", ("left",)),
        ("moderate foraminal stenosis, left", "foraminal_stenosis", ("left",)),
    ],
)
def test_a_side_behind_a_comma_is_that_of_what_it_closes(
    words: str, kind: str, sides: tuple[str, ...]
) -> None:
    findings = read_text(f"L4-5: {words}.").findings
    assert [f.sides for f in findings if f.kind == kind] == [sides]
