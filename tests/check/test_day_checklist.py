"""The checklist of the day as content: what it names must exist, and a practice's own stands in the place of the shipped one."""

from pathlib import Path

import pytest

import candidacy
from candidacy.check.day import check_day
from candidacy.day.checklist import FILE, checklist, of_ones_own
from candidacy.day.sheet_text import sheet_text
from candidacy.foundation.errors import Code
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.libraries import open_folder, shipped
from tests.day.cases import demo, sheet

SHIPPED = (rulesets_folder() / "course" / f"{FILE}.yaml").read_text("utf-8")


def own(folder: Path, text: str) -> Path:
    (folder / "course").mkdir()
    (folder / "course" / f"{FILE}.yaml").write_text(text, "utf-8")
    return folder


def test_the_shipped_one_is_sound() -> None:
    assert check_day(shipped()) == []


@pytest.mark.parametrize(
    ("old", "new", "code", "found"),
    [
        ("able_to_consent,", "able_to_consnt,", Code.UNKNOWN_CRITERION, "able_to_consnt"),
        ("shows: [inr, ", "shows: [irn, ", Code.UNKNOWN_ELEMENT, "irn"),
        ("is: \"true\"", "is: \"maybe\"", Code.BAD_CHOICE, "maybe"),
        ("source: lidocaine_label", "source: lidocaine_lable", Code.UNKNOWN_SOURCE, ""),
        ("rule_set: procedural_safety", "rule_set: procedural", Code.UNKNOWN_RULE_SET, "procedural"),
        ("Tip of the needle in the middle of {disc}", "Tip of the needle in {level}", Code.BAD_RULE, "{level}"),
        ('version: "0.1.0"\ntitle', 'version: "0.2.0"\ntitle', Code.BAD_VERSION, "0.1.0"),
        ("id: time_out", "id: identity", Code.WRONG_TYPE, ""),
        ("    part: room\n    asked: leaving", "    part: cellar\n    asked: leaving", Code.WRONG_TYPE, ""),
        ("word: stop", "word: halt", Code.WRONG_TYPE, ""),
        ("asked: arrival", "askd: arrival", Code.UNKNOWN_KEY, "askd"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_line(
    tmp_path: Path, old: str, new: str, code: Code, found: str
) -> None:
    assert old in SHIPPED
    library = open_folder(own(tmp_path, SHIPPED.replace(old, new, 1)))
    problems = check_day(library)
    assert code in {problem.code for problem in problems}, problems
    problem = next(each for each in problems if each.code is code)
    assert found in problem.found
    assert problem.line


def test_a_practice_puts_its_own_in_the_place_of_the_shipped_one_and_the_sheet_says_so(
    tmp_path: Path,
) -> None:
    text = SHIPPED.replace("Somebody is named who takes the patient home", "A driver waits in the hall")
    with candidacy.use_library(own(tmp_path, text)):
        assert of_ones_own()
        lines = checklist()
        said = sheet_text(sheet(demo("morning-of-the-procedure")), lines)
    assert "A driver waits in the hall" in said
    assert "Checklist of the practice's own library." in said
    assert not of_ones_own()
