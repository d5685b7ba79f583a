"""Whatever words correct, in a report, a note or a letter, what stood before them is no longer asserted; look-alikes take nothing back."""

from typing import Any

import pytest

from candidacy.reading import read_text
from candidacy.reading.letters.read import read_letter
from candidacy.reading.notes.read import read_note

CORRECTS = [
    "Correction: {}",
    "Correction, {}",
    "Corrected: {}",
    "Amended to read {}",
    "Amended: {}",
    "Should read: {}",
    "Should have said {}",
    "Scratch that, {}",
    "Scratch that. {}",
    "Strike that, {}",
    "Strike that. {}",
    "Strike the last sentence. {}",
    "Erratum: {}",
    "I misspoke, {}",
    "I misspoke. {}",
    "I mean {}",
    "Sorry, {}",
    "Oops, {}",
    "Make that {}",
    "Let me correct that: {}",
    "Please disregard. {}",
    "Dictation error: {}",
    "Actually {}",
    "In fact, {}",
    "No, {}",
    "Rather, {}",
    "On further review, {}",
    "EDIT: {}",
    "Clarification: {}",
    "Wait, {}",
    "My apologies, {}",
    "Correcting myself: {}",
    "Let me restate: {}",
    "Well, actually {}",
]


@pytest.mark.parametrize("words", CORRECTS)
def test_a_report_does_not_say_what_it_corrects(words: str) -> None:
    reading = read_text(
        f"FINDINGS: L2-3 canal stenosis. L4-5 protrusion. {words.format('L5-S1 protrusion')}."
    )
    held = {c.disc for c in reading.contradictions}
    asserted = {f.disc for f in reading.findings if f.kind == "displacement" and f.status == "present"}
    assert "L4-L5" not in asserted - held
    assert {f.kind for f in reading.findings if f.disc == "L2-L3"} == {"canal_stenosis"}


@pytest.mark.parametrize("words", CORRECTS)
def test_a_note_does_not_say_what_it_corrects(words: str) -> None:
    reading = read_note(
        f"L3-4 no pain. L4-5 exact pain 8/10. {words.format('L5-S1 exact pain 8/10')}.", "discography"
    )
    said = {f.subject for f in reading.facts if f.form == {"value": "exact"}}
    assert said <= {"L5-S1"}
    assert any("value" not in f.form for f in reading.facts if f.subject == "L4-L5")


@pytest.mark.parametrize("words", CORRECTS)
def test_a_letter_does_not_say_what_it_corrects(words: str) -> None:
    reading = read_letter(f"She takes warfarin 5 mg daily. BMI 28. {words.format('BMI 38')}.")
    said = {f.element: f.form.get("value") for f in reading.facts}
    assert said["body_mass_index"] in (None, 38.0)
    assert said["medicine_name"] == "warfarin"
    assert "BMI 28" in " ".join(reading.words(s) for a in reading.unread for s in a.missed)


def test_a_medicine_that_is_corrected_is_shown_and_not_listed() -> None:
    reading = read_letter("She takes warfarin 5 mg daily. I misspoke, she takes aspirin 81 mg daily.")
    assert {f.form["value"] for f in reading.facts if f.element == "medicine_name"} == {"aspirin"}
    assert reading.unread[0].danger == "warfarin"


@pytest.mark.parametrize("words", ["EDIT: stopped.", "Actually stopped.", "In fact it was stopped in May."])
def test_a_medicine_that_was_stopped_after_all_is_not_listed(words: str) -> None:
    reading = read_letter(f"He takes warfarin. {words}")
    assert reading.facts == ()
    assert reading.unread[0].danger == "warfarin"


def test_a_moved_response_takes_its_score_and_pressure_along() -> None:
    reading = read_note(
        "L4-5: exact pain 8/10 at 38 psi. L5-S1: no pain. Correction: L5-S1 exact pain 8/10 at 38 psi.",
        "discography",
    )
    assert {f.form.get("unknown") for f in reading.facts if f.subject == "L4-L5"} == {"conflicting"}


@pytest.mark.parametrize(
    "words",
    [
        "Correction of scoliosis with rods.",
        "The needle was corrected.",
        "Sorry for the late report.",
        "Findings corrected for motion.",
        "In the prior report levels were switched.",
        "Scoliosis correction in 2010.",
        "The prior report was amended to read normal.",
        "In fact, all is stable.",
        "Update: the patient feels better.",
        "No, this is not new.",
    ],
)
def test_look_alikes_take_nothing_back(words: str) -> None:
    assert read_text(f"FINDINGS: L4-5 bulge. {words} L5-S1 protrusion.").contradictions == ()
    note = read_note(f"L4-5 exact pain 8/10. {words} L5-S1 no pain.", "discography")
    assert {f.subject for f in note.facts if "value" in f.form} == {"L4-L5", "L5-S1"}
    letter = read_letter(f"BMI 28. {words} She denies fever.")
    assert {f.element: f.form.get("value") for f in letter.facts} == {"body_mass_index": 28.0, "fever": False}


@pytest.mark.parametrize(
    "words",
    [
        "The level injected was L5-S1.",
        "On review the discs injected were L2-3, L3-4 and L4-5.",
        "The numbering differs by one from that of the MRI.",
        "Levels L4-5 and L5-S1 were swapped.",
        "In the above, L4-5 is L5-S1.",
    ],
)
def test_an_addendum_that_renames_discs_leaves_their_responses_open(words: str) -> None:
    reading = read_note(f"L4-5 exact pain 8/10. L5-S1 no pain.\nAddendum: {words}", "discography")
    assert [f for f in reading.facts if f.subject == "L4-L5" and "value" in f.form] == []


def test_an_addendum_that_adds_leaves_what_stands() -> None:
    reading = read_note(
        "L4-5 exact pain 8/10.\nAddendum: L5-S1 opening pressure 20 psi, no pain.", "discography"
    )
    assert [f.form for f in reading.facts if f.subject == "L4-L5"] == [{"value": "exact"}, {"value": 8.0}]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Addendum: she has fever.", {"unknown": "conflicting"}),
        ("ADDENDUM 3/12/2026: she felt feverish.", {"unknown": "uncertain_in_source"}),
        ("Her husband told me that she had a fever last night.", {"unknown": "uncertain_in_source"}),
        ("Her husband had a fever last night.", {"value": False}),
    ],
)
def test_what_is_added_or_told_of_the_patient_gainsays_a_denial(words: str, wanted: dict[str, Any]) -> None:
    reading = read_letter(f"No fever.\n{words}")
    assert [f.form for f in reading.facts if f.element == "fever"] == [wanted]


@pytest.mark.parametrize(
    "words",
    [
        "None taken.",
        "Not taking any of these.",
        "None of the above are taken.",
        "All stopped.",
        "Takes none of them.",
    ],
)
def test_a_list_that_is_not_taken_is_shown_and_not_asserted(words: str) -> None:
    reading = read_letter(f"Medications:\n- warfarin 5 mg daily\n- naproxen 500 mg bd\n{words}")
    assert [f for f in reading.facts if f.subject.startswith("medicines")] == []
    assert reading.unread[0].danger == "warfarin"


@pytest.mark.parametrize(
    "words", ["None taken today.", "None missed.", "No other medications.", "All taken."]
)
def test_a_list_that_is_taken_stays(words: str) -> None:
    reading = read_letter(f"Medications:\n- warfarin 5 mg daily\n- naproxen 500 mg bd\n{words}")
    assert {f.form["value"] for f in reading.facts if f.element == "medicine_name"} == {
        "warfarin",
        "naproxen",
    }


@pytest.mark.parametrize(
    "words",
    [
        "This is uncertain.",
        "The above finding is doubtful.",
        "I am not sure of this.",
        "That may be artifact.",
        "The latter is questionable.",
        "All findings are tentative.",
        "The second finding may be artifact.",
        "Doubtful.",
        "Could be artifact.",
        "Low confidence.",
        "This is not real.",
        "The above was dictated in error.",
        "Wrong patient.",
        "The above is of another patient.",
    ],
)
def test_what_the_next_sentence_doubts_is_held(words: str) -> None:
    reading = read_text(f"FINDINGS: Bulge at L4-5. Fissure at L5-S1. {words}")
    assert ("L5-S1", "annular_fissure") in {(c.disc, c.kind) for c in reading.contradictions}


@pytest.mark.parametrize(
    "words",
    [
        "This study is limited by artifact.",
        "These findings are of uncertain significance.",
        "It is uncertain whether he had surgery.",
        "There is no artifact at this level.",
        "Questionable bulge at L3-4.",
        "Uncertain significance.",
        "Likely chronic.",
        "Actually mild facet arthropathy.",
        "Wait times were short.",
        "Another patient was seen first.",
    ],
)
def test_a_doubt_of_something_else_holds_nothing(words: str) -> None:
    assert read_text(f"FINDINGS: Bulge at L4-5. Fissure at L5-S1. {words}").contradictions == ()


@pytest.mark.parametrize(
    ("words", "held"),
    [
        ("Manometer faulty.", {"pressure"}),
        ("Pressure readings invalid.", {"pressure"}),
        ("Manometer was not faulty.", set()),
        ("Patient was confused.", {"concordance", "pain_nrs"}),
        ("Patient could not tell which level hurt.", {"concordance", "pain_nrs"}),
        ("Patient was never asleep.", set()),
        ("Patient was not oversedated.", set()),
    ],
)
def test_what_voids_answers_or_pressures_without_a_level_is_of_every_disc(words: str, held: set[str]) -> None:
    text = f"L4-5 opening pressure 12 psi, exact pain 8/10. L5-S1 opening pressure 15 psi, exact pain 7/10. {words}"
    for disc in ("discs[L4-L5]", "discs[L5-S1]"):
        facts = [f for f in read_note(text, "discography").facts if f.subject in (disc, disc[6:-1])]
        unknown = {
            f.element.removeprefix("discography_").removeprefix("opening_")
            for f in facts
            if "unknown" in f.form
        }
        assert (bool(facts), unknown) == (True, held)


def test_a_repeat_that_reproduced_the_pain_speaks_against_none() -> None:
    reading = read_note("L4-5 opening pressure 12 psi, no pain. Repeat reproduced the pain.", "discography")
    (concordance,) = [f for f in reading.facts if f.element == "discography_concordance"]
    assert "unknown" in concordance.form


@pytest.mark.parametrize(
    ("words", "held"),
    [
        ("The transducer was found miscalibrated.", {"discography_opening_pressure"}),
        ("Pressures are unreliable because of a leak in the line.", {"discography_opening_pressure"}),
        ("Patient was oversedated and could not answer reliably.", {"discography_concordance"}),
        ("The patient answered reliably.", set()),
        ("The line was flushed without difficulty.", set()),
    ],
)
def test_a_passage_that_voids_an_answer_or_a_pressure_is_heard(words: str, held: set[str]) -> None:
    reading = read_note(f"L4-5 opening pressure 12 psi, exact pain. {words}", "discography")
    assert {f.element for f in reading.facts if "unknown" in f.form} == held


@pytest.mark.parametrize("words", ["(pus aspirated)", "with purulent return", "(patient febrile today)"])
def test_what_stands_in_brackets_of_a_note_is_shown_with_its_danger(words: str) -> None:
    reading = read_note(f"L4-5: exact pain 8/10 at 28 psi {words}.", "discography")
    assert [a.danger for a in reading.unread] == ["infection"]
    assert {f.element for f in reading.facts} >= {"discography_concordance", "discography_pain_pressure"}


def test_a_correction_within_a_sentence_takes_nothing_back_before_it() -> None:
    letter = read_letter("ODI 31/50. He is on rivaroxaban - correction - apixaban 5 mg bd.")
    assert [(f.element, f.form["value"]) for f in letter.facts] == [("odi_percent", 62.0)]
    report = read_text("FINDINGS: L3-4 fissure. L4-5 protrusion, I mean L5-S1 protrusion.")
    assert {c.disc for c in report.contradictions} == {"L4-L5"}


def test_pain_that_a_repeat_did_not_reproduce_is_no_longer_known() -> None:
    reading = read_note("L4-5: concordant pain. On repeat injection pain was not reproduced.", "discography")
    assert [f.form for f in reading.facts] == [{"unknown": "conflicting"}]


@pytest.mark.parametrize(
    "words", ["L4-5 (dictated as L5-S1): exact pain 8/10.", "L4-5, in error for L5-S1, exact pain 8/10."]
)
def test_a_response_under_two_names_is_of_neither(words: str) -> None:
    reading = read_note(f"L3-4 no pain. {words}", "discography")
    assert {f.subject for f in reading.facts if "value" in f.form} == {"L3-L4"}
    assert [a.why for a in reading.unread] == ["a disc is given another name"]
