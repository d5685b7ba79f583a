"""Where something said ends: a disc's line, a study that was only advised, an operation and what it was."""

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts

WIDE = "L5-S1: There is a broad-based disc bulge and there is facet arthropathy here."
ANEW = ["There is a disc extrusion.", "Disc extrusion is present.", "A large extrusion is seen.", "Extrusion.", "Mild canal stenosis.", "Severe foraminal stenosis.", "There is an annular fissure.", "The disc is desiccated.", "Loss of disc height is noted.", "Modic type 1 changes are seen."]  # fmt: skip


@pytest.mark.parametrize("anew", ANEW)
def test_a_new_sentence_below_a_wide_line_gets_no_disc(anew: str) -> None:
    reading = read_text(f"{WIDE}\n{anew}")
    below = [f for f in reading.findings if f.evidence.start > len(WIDE)]
    assert below
    assert {f.disc for f in below} == {""}
    assert reading.questions


@pytest.mark.parametrize(
    "rest",
    [
        " and\nthere is a disc extrusion.",
        "\nwith a disc extrusion.",
        ",\nand a disc extrusion.",
        " with a\ndisc extrusion.",
        " causing a\ndisc extrusion.",
        ".\nAt this level there is a disc extrusion.",
        ".\nAt the same level, disc extrusion.",
        ".\nHere there is a disc extrusion at this level.",
        ". There is a disc extrusion.",
        ".\nThe extrusion is large.",
    ],
)
def test_a_sentence_that_goes_on_or_refers_back_keeps_its_disc(rest: str) -> None:
    reading = read_text(WIDE.rstrip(".") + rest)
    assert ("L5-S1", "extrusion") in {(f.disc, f.value) for f in reading.findings}


ADVICE = ["CT advised.", "CT recommended.", "Recommend MRI with contrast.", "Consider MRI.", "Suggest CT for further evaluation.", "Further evaluation with MRI is suggested.", "Correlation with CT is advised.", "MRI may be considered.", "CT myelogram could be helpful.", "Follow-up MRI in 6 months.", "Lumbar MRI would be useful.", "If symptoms persist, obtain an MRI.", "Comparison: CT 2019."]  # fmt: skip


@pytest.mark.parametrize("advice", ADVICE)
@pytest.mark.parametrize("before", ["", "L4-5: disc bulge.\n"])
def test_a_study_that_is_advised_or_compared_with_is_not_this_one(advice: str, before: str) -> None:
    found = {f.kind for f in read_text(before + advice).findings}
    assert not found & {"imaging_modality", "mri_contrast_given", "field_strength"}


@pytest.mark.parametrize("advice", ADVICE)
def test_the_study_of_the_title_stays(advice: str) -> None:
    (found,) = [
        f
        for f in read_text(f"MRI LUMBAR SPINE WITHOUT CONTRAST\nL4-5: disc bulge.\n{advice}").findings
        if f.kind == "imaging_modality"
    ]
    assert found.value == "mri"


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Fusion at L4-5.", "fusion"),
        ("Prior L4-5 posterior fusion.", "fusion"),
        ("L4-5: status post TLIF.", "fusion"),
        ("L4-5: prior discectomy.", "discectomy"),
        ("Status post L4-5 microdiscectomy.", "discectomy"),
        ("Status post L4-5 laminectomy and microdiscectomy.", "discectomy"),
        ("L4-5: disc arthroplasty.", "disc_replacement"),
        ("Laminectomy at L4-5.", ("discectomy", "decompression")),
        ("Status post L4-5 hemilaminectomy.", ("discectomy", "decompression")),
        ("Foraminotomy at L4-5.", ("discectomy", "decompression")),
        ("Discectomy and fusion at L4-5.", None),
        ("Postoperative changes at L4-5.", None),
        ("No laminectomy at L4-5.", None),
        ("Laminectomy.", None),
        ("Laminectomy at L4-5 is planned.", None),
        ("Possible laminectomy at L4-5.", None),
    ],
)
def test_the_kind_of_an_operation_at_a_disc_is_its_name(
    text: str, kind: str | tuple[str, ...] | None
) -> None:
    found = {
        f.subject: f.entry.value or f.entry.one_of
        for f in facts(read_text(text))
        if f.element == "prior_surgery_kind_at_level"
    }
    assert found == ({} if kind is None else {"L4-L5": kind})


@pytest.mark.parametrize("heading", ["HISTORY", "INDICATION", "CLINICAL INFORMATION"])
def test_surgery_of_no_named_place_in_the_history_is_no_surgery_of_the_spine(heading: str) -> None:
    for text, wanted in (("Prior surgery.", set()), ("Prior lumbar surgery.", {"present"}), ("No prior surgery.", {"absent"})):  # fmt: skip
        reading = read_text(f"{heading}: {text}\nFINDINGS:\nL4-5: disc bulge.")
        assert {f.status for f in reading.findings if f.kind == "prior_surgery"} == wanted, text
