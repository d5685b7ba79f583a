"""Levels named by where they lie, by what is left out, or by how many they are."""

import pytest

from candidacy.reading import read_text
from tests.rows import each_row

DISCS = ["L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1"]
WRITTEN = [("L2-3", 1), ("L3/4", 2), ("L3-L4", 2), ("L4-5", 3)]
ABOVE_DENIED = [
    "No herniation above {d}.",
    "No disc herniation above {d}.",
    "No disc herniation above the {d} level.",
    "There is no herniation above {d}.",
    "The discs above {d} show no herniation.",
    "The levels above {d} show no herniation.",
    "The discs above {d} are without herniation.",
    "No herniation at any level above {d}.",
    "No evidence of herniation above {d}.",
    "All discs above {d} are without herniation.",
]
FROM = [
    "Disc desiccation from {d} down.",
    "Disc desiccation from {d} downward.",
    "Disc desiccation from {d} downwards.",
    "Disc desiccation at {d} and below.",
    "There is disc desiccation from {d} down.",
    "There is disc desiccation at {d} and below.",
    "Desiccation from the {d} disc and below.",
    "Disc desiccation of {d} and below.",
    "From {d} down there is disc desiccation.",
    "Disc desiccation is seen at {d} and below.",
]
BUT = [
    "Desiccation at all but {d}.",
    "Disc desiccation at all levels but {d}.",
    "All discs but {d} are desiccated.",
    "Disc desiccation at all levels with the exception of {d}.",
    "All discs are desiccated except {d}.",
    "All discs are desiccated with the exception of {d}.",
    "All lumbar discs are desiccated apart from {d}.",
    "Desiccation at every level but {d}.",
    "Disc desiccation at all levels except for {d}.",
    "Disc desiccation at all lumbar levels other than {d}.",
]
UNTOLD = [
    "{d}: bulge. No herniation at the level above.",
    "{d}: bulge. The levels above show no herniation.",
    "Disc herniation above {d}.",
    "Bulge at {d}. Disc herniation at the level below.",
    "Bulge at {d}. The disc above shows a herniation.",
    "{d}: bulge. Herniation at the adjacent level.",
    "With the exception of {d}, the discs show herniation.",
    "Apart from {d}, the discs show herniation.",
    "Bulge at {d}. Herniation at all three levels.",
    "Bulge at {d}. No herniation at all three levels.",
    "Bulge at {d}. No herniation at both of these.",
    "No herniation of the lowest four lumbar discs except {d}.",
]
THESE = [
    "Bulges at {a}, {b} and {c}. Mild canal stenosis at all three levels.",
    "Bulges at {a}, {b} and {c}. No canal stenosis at all three levels.",
    "Bulges at {a}, {b} and {c}. There is canal stenosis at each of these levels.",
    "Bulges at {a}, {b} and {c}. There is no canal stenosis at each of these levels.",
    "Bulges at {a}, {b}, and {c}. Canal stenosis at all of these levels.",
    "Bulges at {a}, {b}, {c}. Canal stenosis at these three levels.",
    "There are bulges at {a}, {b} and {c}. Canal stenosis at all 3 levels.",
    "Bulges at {a}, {b} and {c}. Canal stenosis is seen at all three of these levels.",
    "Bulges at {a}, {b} and {c}. At all three levels there is canal stenosis.",
    "Bulges at {a}, {b} and {c}. Moderate canal stenosis at all these levels.",
]
KEPT = [
    "{d}: extrusion migrating below the disc level.",
    "Disc extrusion at {d} migrated superiorly above the disc.",
    "The {d} disc shows an extrusion extending above the endplate.",
    "{d}: extrusion with a fragment 5 mm below the disc level.",
]


def at(text: str, kind: str) -> dict[str, str]:
    return {f.disc: f.status for f in read_text(text).findings if f.kind == kind}


@pytest.mark.parametrize(("d", "i"), WRITTEN)
@each_row("form", ABOVE_DENIED)
def test_a_denial_above_or_below_a_level_is_not_of_that_level(form, d, i):
    assert at(form.format(d=d), "displacement") == dict.fromkeys(DISCS[:i], "absent")
    assert at(form.replace("above", "below").format(d=d), "displacement") == dict.fromkeys(
        DISCS[i + 1 :], "absent"
    )


@pytest.mark.parametrize(("d", "i"), WRITTEN)
@each_row("form", FROM)
def test_from_a_level_down_includes_it(form, d, i):
    assert at(form.format(d=d), "desiccation") == dict.fromkeys(DISCS[i:], "present")
    up = form.replace("below", "above").replace("down", "up")
    assert at(up.format(d=d), "desiccation") == dict.fromkeys(DISCS[: i + 1], "present")


@pytest.mark.parametrize(("d", "i"), WRITTEN)
@each_row("form", BUT)
def test_what_is_left_out_receives_nothing(form, d, i):
    want = dict.fromkeys(DISCS[:i] + DISCS[i + 1 :], "present")
    assert at(form.format(d=d), "desiccation") == want


@pytest.mark.parametrize(("d", "i"), WRITTEN)
@each_row("form", UNTOLD)
def test_where_the_words_leave_the_disc_open_none_is_given(form, d, i):
    reading = read_text(form.format(d=d))
    found = [f for f in reading.findings if f.value == "herniation"]
    assert found or reading.not_understood
    assert all(f.disc == "" and (f.status != "absent" or f.placed == "left_out") for f in found)


@pytest.mark.parametrize("names", [(0, 1, 2), (2, 3, 4), (4, 3, 2), (0, 2, 4)])
@each_row("form", THESE)
def test_all_these_levels_are_those_just_named(form, names):
    a, b, c = (DISCS[n] for n in names)
    status = "absent" if "no canal" in form.lower() else "present"
    assert at(form.format(a=a, b=b, c=c), "canal_stenosis") == dict.fromkeys((a, b, c), status)


@pytest.mark.parametrize(("d", "i"), WRITTEN)
@pytest.mark.parametrize("form", KEPT)
def test_how_far_something_reaches_is_no_other_level(form, d, i):
    assert at(form.format(d=d), "displacement") == {DISCS[i]: "present"}


def test_a_vertebra_counts_from_its_own_disc_down():
    assert at("Disc desiccation from L3 down.", "desiccation") == dict.fromkeys(DISCS[2:], "present")
    assert at("The discs above L4 show no herniation.", "displacement") == dict.fromkeys(DISCS[:3], "absent")


def test_one_disc_above_a_level_is_not_all_of_them():
    for words in ("The disc above L4-5 shows no herniation.", "The level below L3-4 shows no herniation."):
        assert at(words, "displacement") == {}
