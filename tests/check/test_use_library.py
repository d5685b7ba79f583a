"""A library of one's own in Python: open for as long as it is used, one at a time, with formulas of one's own."""

import os
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import candidacy
from candidacy.case.catalogue import catalogue, shipped_catalogue
from candidacy.check.elements import element_misfits
from candidacy.derive.base import FORMULAS, Inputs
from candidacy.foundation.errors import Code, RuleError
from candidacy.foundation.values import Span, Value
from candidacy.rules.layout import root_of
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from tests.rows import each_row
from tests.rules.own import write

DAY = date(2026, 11, 28)


def test_its_elements_are_those_of_every_record_while_it_is_open_and_no_longer(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine")
    with candidacy.use_library(folder) as library:
        assert library.rule_set_names()[0] == "our_practice"
        assert "needle_path_depth" in catalogue()
        with candidacy.use_library(folder / "sets" / "our_practice") as again:  # the same once more
            assert again is library
        assert "needle_path_depth" in catalogue()
    assert catalogue() is shipped_catalogue()


def test_a_second_one_is_refused_until_the_first_is_closed(tmp_path: Path) -> None:
    one, other = write(tmp_path / "one"), write(tmp_path / "other")
    with candidacy.use_library(one):
        with pytest.raises(RuleError) as caught, candidacy.use_library(other):
            pass
        assert [p.code for p in caught.value.problems] == [Code.USAGE]
    with candidacy.use_library(other) as library:
        assert library.folder == other


def test_it_is_closed_where_its_use_fails(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), candidacy.use_library(write(tmp_path / "mine")):
        raise ZeroDivisionError
    assert catalogue() is shipped_catalogue()


def test_a_set_that_needs_elements_not_in_use_says_how_to_open_them(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine")
    with pytest.raises(RuleError) as caught:
        candidacy.load_rule_set(str(folder / "sets" / "our_practice" / "ruleset.yaml"))
    (problem,) = caught.value.problems
    assert problem.code is Code.USAGE
    assert "use_library" in problem.next_step


def test_a_set_named_by_its_path_is_refused_for_whatever_is_wrong_in_its_library(tmp_path: Path) -> None:
    folder = write(tmp_path / "mine")
    for path in (folder / "elements", folder / "criteria", folder / "relations"):
        shutil.rmtree(path, ignore_errors=True)
    file = folder / "sets" / "our_practice" / "ruleset.yaml"
    file.write_text(
        "id: our_practice\nversion: '0.1.0'\nextends: practice_baseline\nreason: Invented for a test.\n"
        "changes: [{version: '0.1.0', date: '2026-11-28', change: First draft.}]\n"
    )
    assert candidacy.load_rule_set(file).id == "our_practice"
    (folder / "criterias").mkdir()
    (folder / "criterias" / "one.yaml").write_text("id: one\n")
    with pytest.raises(RuleError) as caught:
        candidacy.load_rule_set(file)
    assert [p.message for p in caught.value.problems] == ["nothing reads this"]
    assert candidacy.check_rules(folder) == caught.value.problems


def test_reports_are_read_under_the_red_flags_in_use(tmp_path: Path) -> None:
    text = "FINDINGS: L4-5: high intensity zone."
    assert candidacy.read_report(text).red_flags == ()
    table = """
id: report_red_flags
version: "0.1.0"
title: Invented
meaning: Invented for a test.
replaces: {version: "0.2.0", reason: Invented for a test.}
columns: {says: words, scales: table}
rows: [{key: %s, values: {says: Look here, scales: null}, cites: [{source: common_practice, supports: use, tag: common practice}]}]
changes: [{version: "0.1.0", date: "2026-11-28", change: First draft.}]
"""
    folder = tmp_path / "mine"
    (folder / "tables").mkdir(parents=True)
    (folder / "tables" / "report_red_flags.yaml").write_text(table % "high_intensity_zone")
    with candidacy.use_library(folder):
        assert [flag.about for flag in candidacy.read_report(text).red_flags] == ["Look here"]
    assert candidacy.read_report(text).red_flags == ()
    # an element that no report is read for could never head one
    (folder / "tables" / "report_red_flags.yaml").write_text(table % "odi_percent")
    with candidacy.use_library(folder), pytest.raises(RuleError) as caught:
        candidacy.read_report(text)
    assert [(p.code, p.field) for p in caught.value.problems] == [(Code.UNKNOWN_ELEMENT, "odi_percent")]


def test_a_formula_of_ones_own_works_out_an_element_of_ones_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def twice(inputs: Inputs) -> Value | None:
        depth = inputs.span("needle_path_depth")
        return None if depth is None else Span(2 * depth.low, 2 * depth.high)

    monkeypatch.setitem(FORMULAS, "needle_path_both_ways", twice)

    def edit(files: dict[str, Any]) -> None:
        first = files["elements/needle.yaml"]["elements"][0]
        extra = {key: first[key] for key in ("scope", "kind", "unit", "found_in", "burden")} | {
            "name": "needle_path_both_ways", "meaning": "Depth there and back.", "ask": "Depth, twice", "derived": True,
            "statable": False, "reads": ["needle_path_depth"], "possible": {"low": 20, "high": 800},
        }  # fmt: skip
        files["elements/needle.yaml"]["elements"].append(extra)
        place = "criteria/who/needle_path_not_too_deep.yaml"
        files[place]["when"]["element"] = "needle_path_both_ways"
        files[place]["parameters"]["longest"]["value"] = 360

    case = {
        "schema_version": "1", "id": "own-1", "documents": {"note": {"kind": "clinic_note", "date": "2026-11-20"}},
        "patient": {"needle_path_depth": {"value": 20, "unit": "cm", "source": "note"}},
    }  # fmt: skip
    with candidacy.use_library(write(tmp_path / "mine", edit)):
        record = candidacy.CaseRecord.model_validate(case)
        document = candidacy.assess(record, "our_practice", as_of=DAY, engine="direct").document
    (row,) = [c for c in document.criteria if c.id == "needle_path_not_too_deep"]
    assert row.outcome == "fail"
    assert {f.element: f.value for f in document.facts}["needle_path_both_ways"] == "400 mm"


@pytest.mark.parametrize(("place", "root"), [
    ("sets/our_practice/ruleset.yaml", "."), ("sets/our_practice", "."), ("criteria/who/needle_path_not_too_deep.yaml", "."),
    ("sources.yaml", "."), (".", "."), ("elements", "."), ("../alone/ruleset.yaml", "../alone"),
])  # fmt: skip
def test_the_root_is_found_from_any_file(
    place: str, root: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(tmp_path / "mine")
    (tmp_path / "alone").mkdir()
    (tmp_path / "alone" / "ruleset.yaml").write_text("id: x\n", encoding="utf-8")
    (folder / "notes.yaml").unlink(missing_ok=True)
    assert root_of(folder / place).resolve() == (folder / root).resolve()
    monkeypatch.chdir(folder)
    assert root_of(Path(place)).resolve() == (folder / root).resolve()
    if place.endswith("ruleset.yaml"):
        monkeypatch.chdir((folder / place).parent)
        assert root_of(Path("ruleset.yaml")).resolve() == (folder / root).resolve()


def test_a_folder_that_cannot_be_listed_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = write(tmp_path / "mine")
    (folder / "tables").mkdir()

    listed = os.scandir

    def refuse(place: Path) -> Any:
        if Path(place).name == "tables":
            raise PermissionError(13, "Permission denied")
        return listed(place)

    monkeypatch.setattr("candidacy.rules.layout.os.scandir", refuse)
    with pytest.raises(RuleError) as caught:
        Library(folder, base=shipped())
    (problem,) = caught.value.problems
    assert (problem.code, problem.file) == (Code.UNREADABLE, str(folder / "tables"))


@each_row("element", shipped_catalogue().all, ids=lambda element: element.name)
def test_shipped_elements_keep_the_rules_of_the_check(element: Any) -> None:
    assert element_misfits(element, shipped_catalogue(), shipped().sources()) == []
