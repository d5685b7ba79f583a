"""The reading grade against worked values, and the counter against counted texts."""

import pytest

from candidacy.letters.readability import Counts, counts, grade, syllables
from tests.letters.cases import DEMOS, demo, letters_of

# Words, sentences, syllables -> grade by the formula of Kincaid and others 1975.
WORKED = [((6, 1, 6), -1.45), ((9, 1, 9), -0.28), ((100, 5, 140), 8.73), ((120, 8, 168), 6.78)]
TEXTS = {
    "The cat sat on the mat.": (6, 1, 6),
    "You may have more pain for a few days.": (9, 1, 9),
    "Call us. Do you have a fever? Then call today!": (10, 3, 12),
    "It's the patient's own blood": (5, 1, 6),
}


@pytest.mark.parametrize(("found", "expected"), WORKED)
def test_the_formula_gives_the_worked_values(found: tuple[int, int, int], expected: float) -> None:
    assert grade(Counts(*found)) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("text", "expected"), TEXTS.items())
def test_texts_are_counted_as_by_hand(text: str, expected: tuple[int, int, int]) -> None:
    assert counts(text) == expected


@pytest.mark.parametrize("text", ["", " \n", "2026-12-10 (12.5)"])
def test_a_text_without_words_has_no_grade(text: str) -> None:
    assert grade(counts(text)) is None


# Words with their syllables, as a dictionary divides them.
SYLLABLES = {
    1: "aim bones brace care change chills come dose done drive ease gave guess have herbs home hours leave legs made more once "
       "pause phone place price rare rash rule same score side site sore use used want weak which whole worse caused stopped planned",
    2: "able about agreed allowed answers before better cannot common decide doctor donor effect even fever lasted needed needle "
       "nothing only people patient person pregnant reading record severe sixteen standing stated table taken tissue treated trial "
       "treatment unless urine water weekends writing bowel saline surgeon nervous lumbar cautious",
    3: "allergic anyone area discomfort exercise infected infection insurer interval medicine moderate physical policy radio "
       "serious several soreness therapy understood uncertain various injections radiate",
    4: "emergency experience ibuprofen temperature usually operation discography",
    5: "antibiotic imaginary anticoagulant",
    6: "investigational rehabilitation",
}  # fmt: skip


@pytest.mark.parametrize("number", SYLLABLES)
def test_syllables_are_those_of_the_dictionary(number: int) -> None:
    wrong = {word: syllables(word) for word in SYLLABLES[number].split() if syllables(word) != number}
    assert wrong == {}


@pytest.mark.parametrize("name", DEMOS)
def test_sheets_as_given_are_within_the_grade(name: str) -> None:
    """The composed sheet, with the days, discs and medicines of the case in it."""
    for kind in ("patient_before", "patient_after"):
        (letter,) = letters_of(kind, demo(name))
        found = grade(counts(" ".join(line.text for section in letter.sections for line in section.lines)))
        assert found is not None
        assert found <= 8
