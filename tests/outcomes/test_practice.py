"""Folders of records: what does not fit is told, nothing is lost, and the rest is counted."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from candidacy.case.load import load_case
from candidacy.course.load import course_from_mapping
from candidacy.foundation.errors import CourseError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.document import document
from candidacy.outcomes.practice import practice_of, read_practice
from candidacy.rules.libraries import shipped
from tests.outcomes.made import INJECTED, MONTH_12, TODAY, course, outcomes, practice, visit
from tests.quick_yaml import read_yaml

YEAR = demo_cases_folder() / "clinic_year"


def test_the_year_holds_what_can_happen(year: Outcomes) -> None:
    found = year.practice
    assert found.invented
    assert not found.set_aside
    assert not found.told
    assert len(found.treated) == len(found.patients) == 60
    counts = year.response("pain_half").counts
    assert all(counts[each] for each in ("responded", "not_responded", "missing", "died", "open"))
    assert year.later.count("event") >= 3
    assert year.later.count("elsewhere") == 1
    assert {"borderline, treated after the conference"} < set(year.standings.members.values())
    assert any(visit.kind == "unplanned" for p in found.patients for visit in p.record.visits)
    assert not [words for words in year.again.told if "not assessed again" in words[0]]
    assert sum(f.stat().st_size for f in YEAR.rglob("*.yaml")) < 420_000


def test_the_order_of_files_and_their_names_change_nothing(year: Outcomes, tmp_path: Path) -> None:
    files = sorted(YEAR.glob("*.yaml"), reverse=True)
    for number, path in enumerate(files):
        ending = ".course.yaml" if path.name.endswith(".course.yaml") else ".yaml"
        shutil.copy(path, tmp_path / f"{number:03d}{ending}")
    again = Outcomes(read_practice(tmp_path, TODAY), shipped(), declared="pain_half")
    told, retold = document(year, 0), document(again, 0)
    told["name"] = retold["name"] = ""
    assert told == retold


def test_mistakes_are_told_and_the_rest_is_counted() -> None:
    found = Outcomes(read_practice(YEAR / "with_mistakes", TODAY), shipped())
    assert [patient.reference for patient in found.patients] == ["CY-001", "CY-003", "CY-006", "CY-007"]
    assert [patient.reference for patient in found.practice.kept_out] == ["CY-002"]
    assert [each.file for each in found.practice.set_aside] == ["CY-004.course.yaml", "CY-005.course.yaml"]
    told = "\n".join(f"{reference}: {words}" for reference, words in found.told)
    for part in (
        "CY-001: The visit of",
        "CY-002: L",
        "CY-003: The visit months_12",
        "CY-006: There is no case record",
    ):
        assert part in told
    counts = document(found, 0)["patients"]
    assert (counts["treated"], counts["kept_out"], counts["files_set_aside"]) == (4, 1, 2)
    assert found.states("call")["kept_out"] == 1
    assert found.states("months_12")["kept_out"] == 1


def test_a_visit_kept_out_is_not_called_missing() -> None:
    backwards = course(
        visit("2025-06-12", "months_6", pain_average_week=1),
        visit("2025-06-08", "months_12", pain_average_week=1),
    )
    assert outcomes(backwards).answers("pain_half") == ("kept_out",)


def test_a_second_session_never_takes_the_place_of_a_first_that_is_held() -> None:
    """A disc injected twice in one session, without a reason, holds it."""
    disc = {"level": "L4-L5", "material": "donated disc tissue"}
    sessions = [
        {"id": 1, "date": INJECTED, "discs": [disc, disc]},
        {"id": 2, "date": "2025-09-10", "discs": [{**disc, "level": "L5-S1"}]},
    ]
    found = outcomes(course(visit("2026-09-12", pain_average_week=1), injections=sessions))
    assert [patient.reference for patient in found.practice.kept_out] == ["M-1"]
    assert found.patients == ()


def test_two_courses_of_one_patient_are_both_set_aside(tmp_path: Path) -> None:
    for name in ("a", "b"):
        shutil.copy(YEAR / "CY-001.course.yaml", tmp_path / f"{name}.course.yaml")
    shutil.copy(YEAR / "CY-002.course.yaml", tmp_path / "c.course.yaml")
    found = read_practice(tmp_path, TODAY)
    assert [patient.reference for patient in found.patients] == ["CY-002"]
    assert [each.file for each in found.set_aside] == ["a.course.yaml", "b.course.yaml"]
    assert "more than once" in found.set_aside[0].words


def test_a_case_without_a_course_is_named_and_not_counted(tmp_path: Path) -> None:
    for name in ("CY-001.yaml", "CY-001.course.yaml", "CY-002.yaml"):
        shutil.copy(YEAR / name, tmp_path / name)
    found = read_practice(tmp_path, TODAY)
    assert len(found.treated) == 1
    assert found.told == ("Case records without a course record, not counted as treated: CY-002.",)


@pytest.mark.parametrize("make", [False, True])
def test_a_folder_without_records_is_refused(make: bool, tmp_path: Path) -> None:
    folder = tmp_path / "none"
    if make:
        folder.mkdir()
        (folder / "notes.txt").write_text("nothing", encoding="utf-8")
    with pytest.raises(CourseError) as refused:
        read_practice(folder, TODAY)
    assert refused.value.problems[0].code.value == ("E109" if make else "E101")


def test_later_entries_are_not_counted_before_their_day() -> None:
    two = (
        course(visit(MONTH_12, pain_average_week=2)),
        course(visit(MONTH_12, pain_average_week=2), injected="2025-03-20", case="M-2"),
    )
    seen = practice(*two, on=date(2025, 3, 15))
    assert [patient.reference for patient in seen.treated] == ["M-1"]
    assert all("after the day looked at" in " ".join(patient.notices) for patient in seen.patients)


def test_an_assessment_that_is_not_at_hand_is_said_masked_or_not() -> None:
    """A version that is gone, a rule set that is gone, no assessment, and a standing that comes out otherwise."""
    pairs = []
    for number, assessed in enumerate((
        {"on": "2024-12-26", "rule_set": "practice_baseline", "version": "0.0.9", "standing": "borderline"},
        {"on": "2024-12-26", "rule_set": "gone_{set}", "version": "1.0.0", "standing": "candidate"},
        None,
    ), 1):  # fmt: skip
        name = f"CY-{number:03d}"
        data = read_yaml((YEAR / f"{name}.course.yaml").read_text(encoding="utf-8"))
        data["injections"][0]["assessed"] = assessed
        data["injections"][0]["went_on"] = {"because": "conference", "reason": "weighed"}
        pairs.append((course_from_mapping(data), load_case(YEAR / f"{name}.yaml")))
    found = Outcomes(practice_of(pairs, TODAY), shipped())
    told = "\n".join(document(found, 0)["assessed_again"])
    assert "practice_baseline 0.0.9 is not at hand: 1 patient assessed under" in told
    assert "recorded as borderline, candidate when made again: 1 patient" in told
    assert "the rule set gone_{set} is not at hand: 1 patient not assessed again" in told
    assert "no assessment is recorded for the injection: 1 patient not assessed again" in told
    assert "0.0.9 is not at hand: <11 patients assessed under" in "\n".join(
        document(found, 11)["assessed_again"]
    )
