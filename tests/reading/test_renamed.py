"""Sentences of running text that give a level another name hold what is said of it; look-alikes hold nothing."""

import pytest

from candidacy.reading import read_text
from candidacy.reading.elements import facts

SAID = "L4-5: annular fissure. L5-S1: annular fissure. L3-4: bulge. "
BOTH = {"L4-L5", "L5-S1"}
RENAMED = [
    "Correction: for L4-5 read L5-S1.",
    "L4-5 above should read L5-S1.",
    "Please note the level should be L5-S1, not L4-5.",
    "Read L5-S1 for L4-5 throughout.",
    "Where it says L4-5 it should say L5-S1.",
    "The above finding is at L5-S1 rather than L4-5.",
    "The L4-5 level mentioned is actually L5-S1.",
    "Amend L4-5 to L5-S1.",
    "Change L4-5 to L5-S1.",
    "L4-5 is a typographical error for L5-S1.",
    "(L4-5 was dictated for L5-S1.)",
    "L5-S1 intended rather than L4-5.",
    "[L4-5 -> L5-S1]",
    "Levels L4-5 and L5-S1 are transposed.",
    "ADDENDUM: For L4-5 read L5-S1.",
    "ADDENDUM: The fissure should read bulge.",
    "ADDENDUM: The second point is withdrawn.",
    "In the above, L4-5 is L5-S1.",
    "What I called L5-S1 is L4-5.",
    "Note: L4-5 above = L5-S1 by the iliolumbar ligament.",
    "Wherever L4-5 appears above, understand L5-S1.",
    "Dictation error above; levels reversed.",
    "Errata: swap the two levels above.",
    "The levels above were mixed up.",
    "The above refers to L5-S1, not L4-5.",
    "Not L4-5 but L5-S1.",
    "That was L5-S1.",
]
NOT_RENAMED = [
    "The prior report mislabeled L4-5 as L5-S1.",
    "The best seen level is L5-S1, not L4-5.",
    "The level of interest is L4-5 and not L5-S1.",
    "The patient's pain is from L5-S1 rather than L4-5.",
    "Injection should be at L5-S1 rather than L4-5.",
    "Facet arthropathy is worse at L5-S1 than L4-5.",
    "Images read with prior MRI for L4-5.",
    "Conus at L1-2, not L2-3.",
    "Scoliosis correction L4-5 to L5-S1.",
    "By mistake a needle was left between L4-5 and L5-S1.",
    "Reversed lordosis at the upper levels.",
    "Left and right are drawn as usual.",
    "L5-S1 here corresponds to L4-5 of the prior report.",
    "Signal at L4-5 is equal to L5-S1.",
    "L4-5 is wider than L5-S1.",
    "The above refers to the lumbar spine.",
    "That was discussed with the surgeon.",
]


@pytest.mark.parametrize("words", RENAMED)
def test_what_is_said_of_a_renamed_level_is_held(words: str) -> None:
    reading = read_text(SAID + words)
    assert {c.disc for c in reading.contradictions} >= BOTH
    held = {f.subject for f in facts(reading) if f.element == "annular_fissure" and f.entry.value is True}
    assert held == set()


@pytest.mark.parametrize("words", NOT_RENAMED)
def test_what_only_names_two_levels_holds_nothing(words: str) -> None:
    reading = read_text(SAID + words)
    assert reading.contradictions == ()
    assert {f.subject for f in facts(reading) if f.element == "annular_fissure"} == BOTH


def test_a_level_named_alone_holds_all() -> None:
    assert {c.disc for c in read_text(SAID + "I meant L2-3.").contradictions} == {"L3-L4", *BOTH}


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("L4-5: no significant disc bulge or herniation.", ("none", "bulge")),
        ("L4-5: no disc bulge or herniation.", None),
    ],
)
def test_no_significant_bulge_leaves_a_slight_one_open(text: str, entry: tuple[str, ...] | None) -> None:
    fact = next(f for f in facts(read_text(text)) if f.element == "displacement")
    assert fact.entry.one_of == entry
    assert fact.entry.value == (None if entry else "none")


def test_a_correction_of_an_item_holds_what_the_items_say_of_the_same_thing() -> None:
    report = "IMPRESSION:\n1. L4-5 annular fissure.\n2. L5-S1 disc bulge.\n\nADDENDUM:\nItem 1 should read L3-4 annular fissure."
    reading = read_text(report)
    assert {(c.disc, c.kind) for c in reading.contradictions} == {("L4-L5", "annular_fissure")}


@pytest.mark.parametrize(
    ("words", "given"),
    [
        ("L4-5: tear with contrast extending to the outer annulus.", set()),
        ("MRI lumbar spine with contrast.", {True}),
    ],
)
def test_contrast_that_leaves_a_disc_was_not_given_into_a_vein(words: str, given: set[bool]) -> None:
    assert {f.entry.value for f in facts(read_text(words)) if f.element == "mri_contrast_given"} == given


SIDED = "FINDINGS:\nL4-L5: Extrusion on the left.\nL5-S1: Bulge.\n"


@pytest.mark.parametrize(
    "words",
    [
        "Addendum 3/12/2026: Sides in the body were flipped; please read right wherever left is mentioned.",
        "Please read right for left throughout.",
        "Left should read right.",
        "ADDENDUM: For left read right.",
        "ADDENDUM: The laterality is incorrect; it is right sided.",
        "ADDENDUM: The extrusion is on the right.",
    ],
)
def test_sides_that_were_mixed_up_hold_what_has_a_side(words: str) -> None:
    assert {c.disc for c in read_text(SIDED + words).contradictions} == {"L4-L5"}


@pytest.mark.parametrize(
    "words",
    [
        "Left and right are marked on the film.",
        "The left foramen is wider than the right.",
        "The right side is correct in the prior report, left was in error there.",
        "ADDENDUM: The extrusion on the left is large.",
    ],
)
def test_sides_that_are_only_named_hold_nothing(words: str) -> None:
    assert read_text(SIDED + words).contradictions == ()
