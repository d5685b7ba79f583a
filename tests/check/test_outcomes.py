"""Files that outcomes are counted by: what is wrong with one's own is told with its place."""

import shutil
from pathlib import Path

import pytest

from candidacy.check.library import check_library
from candidacy.foundation.shipped import rulesets_folder
from candidacy.rules.libraries import open_folder, shipped
from candidacy.rules.outcome_files import MODELS, outcome_file


def _own(folder: Path, name: str, old: str, new: str) -> list[str]:
    place = folder / "outcomes"
    place.mkdir()
    source = rulesets_folder() / "outcomes" / f"{name}.yaml"
    text = source.read_text(encoding="utf-8").replace(old, new, 1)
    text += 'replaces: {version: "0.1.0", reason: the practice asks otherwise}\n'
    (place / f"{name}.yaml").write_text(text, encoding="utf-8")
    return [f"{p.code.value} {p.field} {p.message} {p.expected}" for p in check_library(open_folder(folder))]


def test_the_shipped_files_are_read_whole() -> None:
    assert sorted(shipped().care_files("outcomes")) == sorted(MODELS)
    for name in MODELS:
        assert outcome_file(shipped(), name).id == name


@pytest.mark.parametrize(
    ("name", "old", "new", "told"),
    [
        ("responders", "source: levi_2025", "source: nobody_2025", "E307 definitions.0 not in sources.yaml"),
        ("responders", "measures: [pain_average_week]", "measures: [pain]", "E204 definitions.3.tests.0.measures not a measure"),
        ("responders", "measures: [pain_average_week]", "measures: [promis_physical_function]", "E301 definitions.3.tests.0.measures"),
        ("responders", "value: months_12", "value: month_12", "E208 usual_visit.value no such planned visit"),
        ("responders", "fall_percent_at_least: 50", "fall_percent: 50", "E201 definitions.0.tests.0.fall_percent unknown key"),
        ("responders", "id: pain_third", "id: pain_half", "E105 definitions stands twice"),
        ("running_checks", "value: 0.0625", "value: 1.5", "expected is a share above 0 and below 1"),
        ("running_checks", "response: pain_half", "response: pain", "E208 checks.1.response no such definition"),
        ("running_checks", "value: 11", "value: 1", "mask_below is a whole number from 3"),
        ("registry", "of: course.reference", "of: course.name", "E301 columns.0.of a column cannot be read from this"),
        ("registry", "variable: sex", "variable: record_id", "E105 columns stands twice"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told(name: str, old: str, new: str, told: str, tmp_path: Path) -> None:
    found = _own(tmp_path, name, old, new)
    assert [each for each in found if told in each], found


def test_ones_own_file_must_say_what_it_replaces(tmp_path: Path) -> None:
    place = tmp_path / "outcomes"
    place.mkdir()
    shutil.copy(rulesets_folder() / "outcomes" / "responders.yaml", place)
    shutil.copy(rulesets_folder() / "outcomes" / "registry.yaml", place / "mine.yaml")
    found = [f"{p.code.value} {p.message}" for p in check_library(open_folder(tmp_path))]
    assert any(each.startswith("E314 there is a shipped file of outcomes") for each in found)
    assert any("nothing reads a file of this name" in each for each in found)
