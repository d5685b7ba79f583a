"""What a note says of all discs but one is said of none by name."""

import pytest

from candidacy.reading.notes.elements import note_facts
from candidacy.reading.notes.read import read_note

DISCS = "Discography of L3-4, L4-5 and L5-S1. "


@pytest.mark.parametrize(
    "words",
    [
        "All but L4-5 were painless.",
        "All discs but L4-5 were painless.",
        "Every disc but L4-5 was painless.",
        "All except L4-5 were painless.",
        "All but the L4-5 disc had concordant pain.",
        "No disc but L4-5 reproduced pain.",
        "All of the discs but L4-5 were painless.",
        "Each of the injected discs but L4-5 was painless.",
        "All lumbar discs save L4-5 were painless.",
        "All three discs but L4-5 leaked.",
        "All bar L4-5 were painless.",
        "All, L4-5 aside, were painless.",
        "The other discs but L4-5 were painless.",
    ],
)
def test_all_but_one_says_nothing_of_that_one(words: str) -> None:
    reading = read_note(DISCS + words, "discography")
    assert [f for f in note_facts(reading) if f.subject == "L4-L5"] == []


def test_but_between_two_discs_parts_what_is_said_of_each() -> None:
    reading = read_note(f"{DISCS}L4-5 was painless but L5-S1 was concordant.", "discography")
    said = {
        f.subject: f.entry.value or f.entry.one_of
        for f in note_facts(reading)
        if f.element == "discography_concordance"
    }
    assert said == {"L4-L5": "none", "L5-S1": ("similar", "exact")}


@pytest.mark.parametrize(
    "words",
    [
        "The other discs were painless.",
        "All others were painless.",
        "Other levels: no pain.",
        "The remaining discs were painless.",
        "The rest were painless.",
    ],
)
def test_what_the_other_discs_did_is_not_said_of_the_one_named_before(words: str) -> None:
    reading = read_note(f"{DISCS}L4-5 was concordant. {words}", "discography")
    said = {f.element: f.entry.one_of for f in note_facts(reading) if f.subject == "L4-L5"}
    assert said == {"discography_concordance": ("similar", "exact")}


def test_a_disc_named_beside_the_others_is_still_gainsaid() -> None:
    reading = read_note(
        f"{DISCS}L4-5 was concordant. L4-5 was painless, the others were concordant.", "discography"
    )
    (fact,) = [
        f for f in note_facts(reading) if f.element == "discography_concordance" and f.subject == "L4-L5"
    ]
    assert fact.entry.unknown == "conflicting"
