"""Lists of things with their grades: read where nothing else is said, and left alone where it is open what a grade is of.

The lines are invented; what they mean follows from the words alone.
"""

import pytest

from candidacy.reading import read_text
from candidacy.reading.lexer import tokenise
from candidacy.reading.lexicon import lexicon
from candidacy.reading.list_forms import listed_grades
from candidacy.reading.model import ABSENT

READ = [
    ("L4-5: Canal: Mild.", {("canal_stenosis", ()): "mild"}),
    ("L4-5: R foramen: None.", {("foraminal_stenosis", ("right",)): "none"}),
    ("L5-S1: Foramina: R none, L mild.",
     {("foraminal_stenosis", ("right",)): "none", ("foraminal_stenosis", ("left",)): "mild"}),
]  # fmt: skip
OPEN = ["L4-5: R foramen: none, left mild.", "L4-5: lateral mild."]


@pytest.mark.parametrize(("line", "wanted"), READ)
def test_each_thing_gets_the_grade_that_stands_with_it(
    line: str, wanted: dict[tuple[str, tuple[str, ...]], str]
) -> None:
    said = {
        (f.kind, f.sides): "none" if f.status == ABSENT else f.value[0]
        for f in read_text(f"FINDINGS: {line}").findings
        if f.kind.endswith("_stenosis")
    }
    assert said == wanted


@pytest.mark.parametrize("line", OPEN)
def test_a_grade_that_may_be_of_two_things_is_shown_as_not_read(line: str) -> None:
    reading = read_text(f"FINDINGS: {line}")
    assert reading.findings == ()
    assert reading.unread


def test_a_sentence_with_any_other_word_is_no_list() -> None:
    line = "L4-5: The canal is mild in its appearance."
    assert listed_grades(tokenise(line, 0, len(line), lexicon()), lexicon()) == []
