"""Files about the time after an injection: what is wrong is told with its place, and a practice may set its own."""

from datetime import date
from pathlib import Path

import pytest

from candidacy.check.course import check_course
from candidacy.cli import main
from candidacy.course.content import content
from candidacy.course.due import visits_of
from candidacy.course.load import course_to_yaml
from candidacy.foundation.errors import Code
from candidacy.rules.in_use import using
from candidacy.rules.libraries import open_folder, shipped
from tests.course.courses import course

SHIPPED = shipped().folder / "course"


def library(tmp_path: Path, name: str, old: str = "", new: str = ""):
    text = (SHIPPED / f"{name}.yaml").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "course").mkdir()
    (tmp_path / "course" / f"{name}.yaml").write_text(text.replace(old, new, 1), encoding="utf-8")
    return open_folder(tmp_path)


def test_the_shipped_files_are_whole():
    assert check_course(shipped()) == []


@pytest.mark.parametrize(
    ("name", "old", "new", "code"),
    [
        ("visits", "forms: [danger_signs, pain_now]", "forms: [danger_sings]", Code.BAD_RULE),
        ("visits", "id: weeks_2", "id: call", Code.DUPLICATE_KEY),
        ("visits", "forms: [danger_signs, pain, work", "forms: [pain, work", Code.CONTRADICTORY_RULES),
        ("forms", "element: saddle_numbness", "needed: false", Code.CONTRADICTORY_RULES),
        ("forms", "id: danger_signs", "id: signs_of_danger", Code.CONTRADICTORY_RULES),
        ("visits", "days_before: 4", "days_before: -4", Code.WRONG_TYPE),
        ("visits", "source: common_practice", "source: somebody", Code.UNKNOWN_SOURCE),
        ("visits", 'version: "0.1.0"\n', 'version: "0.2.0"\n', Code.BAD_VERSION),
        ("forms", "lowest: 0, highest: 10, worse", "lowest: 1, highest: 10, worse", Code.CONTRADICTORY_RULES),
        ("forms", "unit: mg/L", "unit: mg/dL", Code.UNIT_CONFUSED),
        ("forms", "student: Student", "pupil: Pupil", Code.CONTRADICTORY_RULES),
        ("forms", "score_of: oswestry_disability_index", "score_of: pain_now", Code.BAD_RULE),
        ("events", "- grade: 2", "- grade: 1", Code.BAD_RULE),
        ("events", "id: disc_extrusion", "id: discitis", Code.DUPLICATE_KEY),
        ("triage", "- {criterion: after_injection_fever, outcome: fail}", "", Code.UNDECIDED),
        ("triage", "- {criterion: after_injection_fever, outcome: undetermined}", "", Code.UNDECIDED),
        ("triage", "- after_injection_fever", "- fever_after_all", Code.UNKNOWN_CRITERION),
        ("triage", "  - after_injection_fever\n", "", Code.CONTRADICTORY_RULES),
        ("triage", "when: []", "when: [{criterion: after_injection_fever, outcome: pass}]", Code.UNDECIDED),
    ],
)
def test_what_is_wrong_with_a_file_is_told(tmp_path, name, old, new, code):
    assert code in {problem.code for problem in check_course(library(tmp_path, name, old, new))}


def test_a_file_that_nothing_reads_is_told(tmp_path):
    found = library(tmp_path, "visits")
    (tmp_path / "course" / "visist.yaml").write_text("id: visist\n", encoding="utf-8")
    assert any("nothing reads" in problem.message for problem in check_course(open_folder(found.folder)))


def test_a_practice_sets_its_own_visits_and_the_output_says_so(tmp_path):
    own = library(tmp_path, "visits", "after: {amount: 2, unit: week}", "after: {amount: 10, unit: day}")
    with using(own):
        rows = {row.visit: row.on for row in visits_of(course(), date(2026, 3, 2)) if row.injection == 1}
        assert rows["weeks_2"] == "2026-03-12"
        assert content().of_ones_own == ("visits",)
    assert content().of_ones_own == ()


def test_a_title_that_looks_like_a_formula_is_text_in_the_table(tmp_path, capsys):
    (tmp_path / "own").mkdir()
    own = library(tmp_path / "own", "visits", "title: Two weeks", 'title: "=1+1"')
    (tmp_path / "one.yaml").write_text(course_to_yaml(course().record), encoding="utf-8")
    asked = [
        "follow",
        "due",
        str(tmp_path / "one.yaml"),
        "--all",
        "--format",
        "csv",
        "--library",
        str(own.folder),
    ]
    main([*asked, "--on", "2026-03-16"])
    assert ",weeks_2,'=1+1,done," in capsys.readouterr().out
