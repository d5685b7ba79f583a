"""A library of one's own on the command line: what `rules check` accepts every command accepts, and the other way round."""

import copy
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from candidacy.cli import main
from candidacy.rules.in_use import own_library
from candidacy.rules.libraries import shipped
from tests.rules.own import CHANGES, LOCAL, Edit, content, replaced_criterion, write

BMI = shipped().criterion("body_mass_index_limit").version
REASON = "Our table carries more."


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    status = 0
    try:
        main([str(each) for each in arguments])
    except SystemExit as stop:
        status = int(stop.code or 0)
    captured = capsys.readouterr()
    assert own_library() is None, "a library stays in use"
    return status, captured.out, captured.err


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.yaml"
    record = {
        "schema_version": "1", "id": "own-1", "as_of": "2026-11-28", "invented": True,
        "documents": {"note": {"kind": "clinic_note", "date": "2026-11-20"}},
        "patient": {"needle_path_depth": {"value": 20, "unit": "cm", "source": "note"},
                    "age": {"value": 44, "unit": "year", "source": "note"}},
    }  # fmt: skip
    path.write_text(yaml.safe_dump(record), encoding="utf-8")
    return path


def to(place: str, *steps: Any) -> Edit:
    """An edit that puts a value at a place inside a file: steps, then the value; `...` drops what is there."""

    def edit(files: dict[str, Any]) -> None:
        *path, last, value = steps
        data = files[place]
        for step in path:
            data = data[step]
        if value is ...:
            del data[last]
        else:
            data[last] = value

    return edit


ELEMENTS, RELATIONS = "elements/needle.yaml", "relations/needle.yaml"
CRITERION = "criteria/who/needle_path_not_too_deep.yaml"
CASES = "criteria/who/needle_path_not_too_deep.cases.yaml"
SET = "sets/our_practice/ruleset.yaml"


def element(*steps: Any) -> Edit:
    return to(ELEMENTS, "elements", 0, *steps)


def move(old: str, new: str) -> Edit:
    def edit(files: dict[str, Any]) -> None:
        for place in list(files):
            if place.startswith(old):
                files[place.replace(old, new, 1)] = files.pop(place)

    return edit


def also(place: str, data: Any) -> Edit:
    def edit(files: dict[str, Any]) -> None:
        files[place] = data

    return edit


def shipped_text(place: str, **more: Any) -> str:
    text = (shipped().folder / place).read_text(encoding="utf-8")
    return text + (yaml.safe_dump(more) if more else "")


def own_order(*rules: tuple[str, ...], **edits: Any) -> Edit:
    """The set decides by an order of its own: the shipped one, of which these rules are left out."""

    def edit(files: dict[str, Any]) -> None:
        order = yaml.safe_load(shipped_text("decisions/screen_order.yaml"))
        order["id"] = "our_order"
        order["rules"] = [rule for rule in order["rules"] if rule["id"] not in rules]
        order["names"] |= edits.get("names", {})
        order["rules"][0] |= edits.get("first", {})
        files["decisions/our_order.yaml"] = order
        files[SET]["decisions"] = "our_order"

    return edit


def own_setting(name: str, **more: Any) -> Edit:
    """The library has a setting, a shipped one with its declared replacement."""
    found = yaml.safe_load(shipped_text("settings.yaml"))["settings"].get(name)
    data = (
        {"value": 1, "meaning": "x", "cites": [LOCAL]}
        if found is None
        else found | {"replaces": {"reason": REASON}}
    )
    return also("settings.yaml", {"settings": {name: data | more}})


def own_table(edit_table: Callable[[dict[str, Any]], object]) -> Edit:
    """The library replaces a shipped table, edited."""
    table = yaml.safe_load(shipped_text("tables/meyerding_grades.yaml"))
    table["replaces"] = {"version": table["version"], "reason": REASON}
    edit_table(table)
    return also("tables/meyerding_grades.yaml", table)


def replaced_element(files: dict[str, Any], name: str, **changed: Any) -> None:
    """The library replaces a shipped data element, of which this is changed."""
    shelf = shipped().catalogue()
    element = (
        shelf[name].model_dump(mode="json", exclude_unset=True) | changed | {"replaces": {"reason": REASON}}
    )
    files["elements/theirs.yaml"] = {"group": shelf.group_of(name), "elements": [element]}


def replaced_relation(files: dict[str, Any], name: str, **changed: Any) -> None:
    """The library replaces a shipped relation, of which this is changed."""
    relation = shipped().relations()[name].model_dump(mode="json", exclude_unset=True, by_alias=True)
    relation |= changed | {"replaces": {"reason": REASON}}
    files["relations/theirs.yaml"] = {
        "id": "theirs",
        "version": "0.1.0",
        "title": "Theirs",
        "relations": [relation],
    }


def time_since(date: str, unit: str, limit: float) -> Edit:
    """The criterion asks for the time since a date."""

    def edit(files: dict[str, Any]) -> None:
        files[CRITERION]["when"] = {
            "elapsed": {"since": date, "unit": unit, "op": "less_than", "value": {"parameter": "longest"}}
        }
        files[CRITERION]["parameters"]["longest"] |= {"value": limit, "unit": unit}

    return edit


def another_depth(files: dict[str, Any], op: str, limit: float) -> None:
    """The set has one criterion more about the depth of the needle path."""
    criterion = copy.deepcopy(files[CRITERION])
    criterion |= {"id": "deep_enough", "title": "Deep enough", "when": {**criterion["when"], "op": op}}
    criterion["parameters"]["longest"]["value"] = limit
    files["criteria/who/deep_enough.yaml"] = criterion
    given = [
        ({"value": limit + 1, "unit": "mm"}, "pass"),
        ({"value": limit - 1, "unit": "mm"}, "fail"),
        ({}, "undetermined"),
    ]
    files["criteria/who/deep_enough.cases.yaml"] = [
        {"name": outcome, "given": {"needle_path_depth": depth} if depth else {}, "expect": outcome} for depth, outcome in given
    ]  # fmt: skip
    files[SET]["criteria"].append({"id": "deep_enough"})


SOUND: dict[str, Edit] = {
    "two criteria that meet at a narrow range": lambda files: another_depth(files, "more_than", 179),
    "a retired criterion that no set selects": lambda files: (to(CRITERION, "status", "retired")(files), to(SET, "criteria", [])(files)),
    "a replacing element with another range and one more danger": lambda files: replaced_element(
        files, "field_strength", likely={"low": 0.05, "high": 3},
        danger=[{"op": "at_least", "value": 11, "why": "No such scanner is near.", "source": "our_protocol", "tag": "local"}]),
    "a replacing element with another limit of its danger": lambda files: replaced_element(files, "body_temperature", likely={"low": 35, "high": 40}),
    "a replacing relation in words of ones own": lambda files: replaced_relation(files, "suicidal_thoughts", because="Ours."),
    "as it is": lambda files: None,
    "a criterion that declares what it replaces": lambda files: replaced_criterion(files, {"version": BMI, "reason": REASON}),
    "notes beside the rules": also("README.md", "Notes."),
    "the same source once more": to("sources.yaml", "sources", "local_trial", yaml.safe_load(
        (shipped().folder / "sources.yaml").read_text(encoding="utf-8"))["sources"]["local_trial"]),
    "an element among the shipped groups": lambda files: files[ELEMENTS].update(group="person", title="Person"),
    "one setting changed in the set": to(SET, "settings", {}),
    "an order of decision rules with its own names": own_order(names={"candidate": "May be offered"}),
    "a setting with another value": own_setting("old_age_from", value=80),
    "a table with another value": own_table(lambda table: (table["rows"][0]["values"].update(to=20), table["rows"][1]["values"].update(above=20))),
    "a setting that may name a table of one's own": lambda files: (
        files.update({"tables/our_holds.yaml": shipped_text("tables/holds_pain_2018.yaml").replace("id: holds_pain_2018", "id: our_holds")}),
        own_setting("antithrombotic_guideline", choices={"holds_pain_2018": "x", "our_holds": "Ours"})(files),
    ),
}  # fmt: skip

# Edits that spoil it, with a code that both name and a word of the place.
UNSOUND: dict[str, tuple[Edit, str, str]] = {
    "a misspelt folder": (move("criteria/", "criterias/"), "E301", "criterias"),
    "a file with another ending": (move(CASES, CASES.replace(".yaml", ".yml")), "E301", ".yml"),
    "a stray file": (also("source.yaml", {"sources": {}}), "E301", "closest is sources.yaml"),
    "cases of no criterion": (also("criteria/who/nobody.cases.yaml", []), "E301", "nobody.cases.yaml"),
    "a set that names a missing criterion": (to(SET, "criteria", [{"id": "needle_path_not_to_deep"}]), "E303", "closest is"),
    "a set without its reason": (to(SET, "reason", ...), "E202", "reason"),
    "a set that extends nothing there": (to(SET, "extends", "wide_scren"), "E302", f"{SET}:3:10: E302 no such rule set\n  field     extends\n  found     wide_scren\n  expected  closest is wide_screen"),
    "a criterion that no set selects": (to(SET, "criteria", []), "E301", "no rule set selects this criterion"),
    "an order that no set decides by": (lambda f: (own_order()(f), f[SET].pop("decisions")), "E301", "no rule set decides by this order"),
    "a criterion left out that is not there": (to(SET, "leaves_out", [{"id": "age_lower_limt", "reason": "x"}]), "E314", "closest is age_lower_limit"),
    "two criteria that no case can pass together": (lambda f: another_depth(f, "more_than", 200), "E316", "deep_enough can never both pass"),
    "a source with a misspelt key": (to(CRITERION, "cites", 0, "source", "our_protocl"), "E307", "field     cites.0.source\n  found     our_protocl\n  expected  closest is our_protocol\n  next "),
    "a misspelt element in a case": (lambda f: f[CASES].append({"name": "odd", "given": {"needle_path_dept": 1}, "expect": "fail"}), "E309", "field     cases.3.given.needle_path_dept\n  found     needle_path_dept\n  expected  closest is needle_path_depth"),
    "a relation that reads the standing of a disc": (lambda f: f[RELATIONS].update(relations=[
        {"element": "needle_path_depth", "because": "x.", "implied": [{"says": "x", "limits": {"high": 100}, "infer": False,
         "when": {"any_disc": {"that": {"element": "disc_standing", "op": "is", "value": "candidate"}}}}]}], unrelated=[]), "E310", "reads the standing of a disc"),
    "a misspelt date": (time_since("lumbar_mri_dat", "day", 90), "E204", "field     when.elapsed.since\n  found     lumbar_mri_dat\n  expected  closest is lumbar_mri_date"),
    "a part of a month": (time_since("lumbar_mri_date", "month", 5.5), "E301", "5.5 month\n  expected  a whole number"),
    "a time below zero to the as-of date": (time_since("lumbar_mri_date", "day", -90), "E315", "-90 day\n  expected  0 or more"),
    "several values where one is compared with": (to(CRITERION, "when", {"element": "sex", "op": "is_not", "value": ["female"]}), "E301", "one_of or none_of or one value"),
    "a table with a fault, which cases read": (own_table(lambda table: table.pop("meaning")), "E202", "tables/meyerding_grades.yaml:1:1: E202 a required key is missing\n  field     meaning"),
    "an age of what never bears a date": (lambda f: f[CRITERION].update(
        when={"any_disc": {"that": {"element": "disc_standing", "op": "is", "value": "urgent"}}},
        parameters={"old": {"value": 90, "unit": "day", "meaning": "x", "cites": [LOCAL]}},
        recency={"max_age": {"parameter": "old"}, "elements": ["disc_standing"]}), "E301", "never bears a date"),
    "a set in a folder of another name": (move("sets/our_practice", "sets/their_practice"), "E301", "their_practice"),
    "a shipped set id": (lambda f: (move("sets/our_practice", "sets/disc_source")(f), to("sets/disc_source/ruleset.yaml", "id", "disc_source")(f)), "E314", "disc_source"),
    "a shipped criterion id": (lambda f: replaced_criterion(f, None), "E314", "body_mass_index_limit"),
    "a replacement of another version": (lambda f: replaced_criterion(f, {"version": "9.0.0", "reason": REASON}), "E213", "9.0.0"),
    "a replacement without a reason": (lambda f: replaced_criterion(f, {"version": BMI}), "E202", "reason"),
    "a replacement of nothing": (to(CRITERION, "replaces", {"version": "0.1.0", "reason": REASON}), "E301", "replaces nothing"),
    "a shipped table id": (also("tables/meyerding_grades.yaml", shipped_text("tables/meyerding_grades.yaml")), "E314", "meyerding_grades"),
    "a shipped decision order id": (also("decisions/screen_order.yaml", shipped_text("decisions/screen_order.yaml")), "E314", "screen_order"),
    "a relation of a shipped element that has one": (also("relations/mind.yaml", shipped_text("relations/mind.yaml")), "E314", "suicidal_thoughts"),
    "a shipped source key": (to("sources.yaml", "sources", "local_trial", {"title": "Another"}), "E314", "local_trial"),
    "a shipped element name": (element("name", "body_mass_index"), "E314", "body_mass_index"),
    "a replacing element of another unit": (lambda f: f[ELEMENTS]["elements"][0].update(name="body_mass_index", replaces={"reason": REASON}), "E314", "kg/m2"),
    "a unit that is none": (element("unit", "furlong"), "E203", "furlong"),
    "a likely range outside the possible one": (element("likely", {"low": 5, "high": 200}), "E315", "10 to 400"),
    "words that are missing": (element("ask", ...), "E202", "ask"),
    "a danger of no known source": (element("danger", 0, "source", "nobody"), "E307", "nobody"),
    "a danger no value can show": (element("danger", 0, "value", 500), "E315", "500"),
    "a danger that does not fit": (element("danger", 0, "op", "contains_any"), "E301", "contains_any"),
    "a synonym another element has": (element("synonyms", ["bmi"]), "E105", "body_mass_index"),
    "an element worked out by no formula": (element("derived", True), "E301", "Python interface"),
    "a name with its unit": (element("name", "needle_path_mm"), "E301", "unit"),
    "an element no relation accounts for": (to(RELATIONS, "unrelated", [{"elements": ["needle_path_dept"], "because": "x."}]), "E301", "needle_path_depth"),
    "a new group without a title": (to(ELEMENTS, "title", ...), "E202", "title"),
    "a safety element without its danger": (lambda f: (f[ELEMENTS].update(group="red_flags", title="Red flags"), element("danger", [])(f)), "E202", "no_danger"),
    "a criterion without cases": (lambda f: f.pop(CASES), "E308", "needle_path_not_too_deep"),
    "a case that differs": (lambda f: f[CASES].append({"name": "odd", "given": {"needle_path_depth": {"value": 179, "unit": "mm"}}, "expect": "fail"}), "E309", "odd"),
    "a number without a source": (to(CRITERION, "when", "value", 180), "E306", "180"),
    "an unknown source": (to(CRITERION, "cites", [{"source": "nobody", "supports": "use", "tag": "local"}]), "E307", "nobody"),
    "a file that is no text": (also("tables/odd.yaml", "\x00"), "E103", "odd.yaml"),
    "an order that passes over a danger": (own_order("danger_not_read"), "E314", "unread_danger"),
    "an order that passes over a conflict": (own_order("record_contradicts_itself"), "E314", "conflict"),
    "an order that passes what is open": (own_order("deciding_fact_missing"), "E314", "force absolute, outcome undetermined"),
    "an order by which a possible emergency is none": (own_order(first={"standing": "borderline"}), "E314", "not call a possible emergency urgent"),
    "an order that lets pass before anything else": (own_order(first={"standing": "candidate"}), "E314", "force stop, outcome fail"),
    "two standings of one name": (own_order(names={"not_candidate": "Worth a work-up"}), "E314", "bear one name"),
    "an order of nobody's": (to(SET, "decisions", "screen_ordr"), "E301", "screen_order"),
    "a setting that nothing reads": (own_setting("old_age_form"), "E305", "old_age_from"),
    "a setting in another unit": (own_setting("old_age_from", value=840, unit="month", allowed=None), "E311", "year"),
    "a setting of another kind": (own_setting("old_age_from", value="seventy"), "E203", "a number"),
    "a choice that no formula knows": (own_setting("meyerding_edge", choices={"in_lower_grade": "x", "in_upper_grade": "x", "between": "x"}), "E208", "between"),
    "a table without a column": (own_table(lambda table: (table["columns"].pop("to"), [row["values"].pop("to") for row in table["rows"]])), "E314", "grade, above, to"),
    "a table with words for a number": (own_table(lambda table: table["rows"][0]["values"].update(above="zero")), "E203", "above"),
    "a table with a gap between two bands": (own_table(lambda table: table["rows"][0]["values"].update(to=20)), "E314", "20, then 25"),
    "a table of two bands that overlap": (own_table(lambda table: table["rows"][1]["values"].update(above=10)), "E314", "25, then 10"),
    "an element that is stated and that nobody supplies": (element("supplied_by", "derived"), "E301", "nobody would be asked"),
    "a criterion in the folder of another group": (move("criteria/who/", "criteria/timing/"), "E301", "criteria/who/needle_path_not_too_deep.yaml"),
    "two criteria of one id": (lambda f: f.update({CRITERION.replace("who", "safety"): f[CRITERION]}), "E105", "two criteria have this id"),
    "a table without a row": (own_table(lambda table: table["rows"].pop(2)), "E314", "grade_3"),
    "a table with a row twice": (own_table(lambda table: table["rows"].append(dict(table["rows"][0]))), "E105", "grade_1"),
    "a day that there is not": (to(CRITERION, "checked_on", "2026-02-30"), "E203", "there is no such day"),
    "nothing to ask for": (to(CRITERION, "ask_for", " "), "E203", "text that is not empty"),
    "a history that goes backwards": (to(CRITERION, "changes", [{"version": "0.2.0", "date": "2026-11-27", "change": "x"}, {"version": "0.1.0", "date": "2026-11-28", "change": "x"}]), "E213", "0.2.0 or later"),
    "a misspelt key beneath another": (to(CRITERION, "found", {"pass": "x", "fail": "y", "fial": "z"}), "E201", "closest is fail"),
    "a replacing element without a danger": (lambda f: replaced_element(f, "fever", danger=[], no_danger="We see to it."), "E314", "without is True"),
    "a replacing element that may lie ahead": (lambda f: replaced_element(f, "lumbar_mri_date", past=False), "E314", "past"),
    "a replacing element that nothing contradicts": (lambda f: replaced_element(f, "field_strength", unlike=[]), "E314", "without imaging_modality"),
    "a replacing element without the days around it": (lambda f: replaced_element(f, "planned_procedure_date", near={"before": 30}), "E314", "near"),
    "a replacing element in which nothing is unlikely": (lambda f: replaced_element(f, "body_temperature", likely=None), "E314", "likely"),
    "a replacing relation that does not act": (lambda f: replaced_relation(f, "suicidal_thoughts", acts=False), "E314", "acts: true"),
    "a replacing relation that is told by less": (lambda f: replaced_relation(f, "suicidal_thoughts", implied=[], parameters={}), "E314", "without phq9_item9"),
    "a replacing relation without its parameter": (lambda f: replaced_relation(f, "suicidal_thoughts", parameters={}), "E304", "parameter"),
    "a retired criterion in a set": (to(CRITERION, "status", "retired"), "E314", "retired"),
    "two cases of one name": (lambda f: f[CASES].append(dict(f[CASES][0])), "E105", "two cases have this name"),
    "a list with what nothing is called": (own_setting("risk_class_raised_by", value=["old_aeg"]), "E208", "old_age"),
    "a list in the set with what nothing is called": (to(SET, "settings", {"risk_class_raised_by": {"value": ["old_aeg"], "reason": "x", "cites": [LOCAL]}}), "E208", "old_age"),
    "a value in the set that is cited for its use alone": (to(SET, "settings", {"old_age_from": {"value": 80, "unit": "year", "reason": "x", "cites": [LOCAL | {"supports": "use"}]}}), "E306", "supports: value"),
    "an empty word on the sheet of the day": (also("course/day_checklist.yaml", shipped_text("course/day_checklist.yaml").replace("\n  stop: STOP\n", "\n  stop: ''\n", 1)), "E203", "text that is not empty"),
    "a setting of nobody's": (to(SET, "settings", {"no_such": {"value": 1, "reason": "x", "cites": [{"source": "our_protocol", "supports": "value", "tag": "local"}]}}), "E304", "no_such"),
}  # fmt: skip


@pytest.mark.parametrize("name", SOUND)
def test_what_the_check_accepts_assess_accepts(
    name: str, tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine", SOUND[name])
    status, out, err = run(capsys, "rules", "check", folder)
    assert (status, err) == (0, "")
    assert "data element" in out
    assert run(capsys, "assess", case, "--library", folder, "--rules", "our_practice")[0] == 0
    by_path = run(capsys, "assess", case, "--rules", folder / SET, "--format", "json")
    by_id = run(capsys, "assess", case, "--library", folder, "--rules", "our_practice", "--format", "json")
    assert by_path == by_id


@pytest.mark.parametrize("name", UNSOUND)
def test_what_the_check_refuses_assess_refuses_for_the_same_reasons(
    name: str, tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit, code, words = UNSOUND[name]
    folder = write(tmp_path / "mine", edit)
    status, out, _ = run(capsys, "rules", "check", folder)
    assert status == 1
    told = next((part for part in re.split(r"\n(?=\S)", out) if f" {code} " in part and words in part), None)
    assert told, out
    refused, printed, errors = run(capsys, "assess", case, "--library", folder, "--rules", "our_practice")
    assert (refused, printed) == (2, "")
    assert errors.startswith(out)


def test_a_faulty_relation_is_told_by_itself_and_not_by_every_case_that_is_read_with_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # each case beside each criterion had been said to lack its outcomes, before the relation was named
    implied = {"says": "x", "when": {"element": "needle_path_depth", "op": "known"}, "limits": {"low": 20}}
    relation = {"element": "needle_path_depth", "because": "It bears on itself.", "implied": [implied]}
    edit = to(RELATIONS, "relations", [relation])
    out = run(capsys, "rules", "check", write(tmp_path / "mine", edit))[1]
    assert RELATIONS in out
    assert "cases.yaml" not in out


def test_a_name_that_is_neither_set_nor_criterion_is_told_what_it_may_be(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine")
    status, _, err = run(capsys, "rules", "show", "needle_path_not_to_deep", "--library", folder)
    assert (status, "closest is needle_path_not_too_deep" in err) == (2, True)
    status, _, err = run(capsys, "rules", "show", "needle_path_depth", "--library", folder)
    assert (status, "candidacy elements needle_path_depth" in err) == (2, True)


def test_the_check_says_what_it_checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write(tmp_path / "mine")
    for path in (folder, folder / SET, folder / CRITERION, folder / "sources.yaml"):
        out = run(capsys, "rules", "check", path)[1]
        assert out == (
            f"Nothing wrong in {folder}: 1 criterion, 1 case file, 1 rule set, 1 data element, 1 source.\n"
        )


@pytest.mark.parametrize(
    "commands", [("rules", "check"), ("rules", "list", "--library"), ("elements", "--library")]
)
@pytest.mark.parametrize(("make", "words"), [
    ("none", "E101 there is no such folder"), ("file", "E101"), ("empty", "E109 no rule content in this folder"),
])  # fmt: skip
def test_what_is_no_library_is_told_plainly(
    commands: tuple[str, ...], make: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = tmp_path / "mine"
    if make == "empty":
        place.mkdir()
    if make == "file":
        place.write_bytes(b"\xff\xfe")
    status, out, err = run(capsys, *commands, place)
    assert status in (1, 2)
    assert words.split()[0] in out + err or make == "file"
    assert str(place) in out + err
    assert "Nothing wrong" not in out


# --- an answer under a library of one's own


def test_an_own_element_is_read_weighed_explained_and_asked_for(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine")
    _, out, _ = run(
        capsys, "assess", case, "--library", folder, "--rules", "our_practice", "--format", "json", "--full"
    )
    found = json.loads(out)
    (row,) = [c for c in found["criteria"] if c["id"] == "needle_path_not_too_deep"]
    assert (row["outcome"], row["parameters"][0]["value"]) == ("fail", "180 mm")
    (fact,) = [f for f in found["facts"] if f["element"] == "needle_path_depth"]
    assert (fact["value"], fact["as_written"]) == ("200 mm", "20 cm")
    assert found["rule_set"]["extends"].startswith("wide_screen ")
    assert found["rule_set"]["status"] == "draft"
    assert found["rule_set"]["title"] == "Wide screen, extended as our_practice"
    record = yaml.safe_load(case.read_text(encoding="utf-8"))
    del record["patient"]["needle_path_depth"]
    case.write_text(yaml.safe_dump(record), encoding="utf-8")
    _, out, _ = run(
        capsys, "assess", case, "--library", folder, "--rules", "our_practice", "--format", "json", "--full"
    )
    asked = {m["element"]: m for m in json.loads(out)["missing"]}
    assert asked["needle_path_depth"]["ask"] == "Depth from skin to disc on the imaging"


def test_an_own_danger_is_not_passed_over_by_a_shipped_set(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record = yaml.safe_load(case.read_text(encoding="utf-8"))
    record["patient"]["needle_path_depth"]["value"] = 26
    case.write_text(yaml.safe_dump(record), encoding="utf-8")
    folder = write(tmp_path / "mine")
    _, out, _ = run(capsys, "assess", case, "--library", folder, "--rules", "wide_screen", "--format", "json")
    assert [u["fact"]["element"] for u in json.loads(out)["unread"]] == ["needle_path_depth"]


def test_without_its_library_an_own_element_is_no_element(
    case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, _, err = run(capsys, "assess", case)
    assert status == 2
    assert "E204" in err


def test_the_library_may_be_named_in_the_environment_and_serves_every_command(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write(tmp_path / "mine")
    monkeypatch.setenv("CANDIDACY_LIBRARY", str(folder))
    assert run(capsys, "rules", "list")[1].startswith("our_practice ")
    assert "needle_path_not_too_deep" in run(capsys, "rules", "list", "--criteria")[1]
    assert "The needles of the practice reach only so far." in run(capsys, "rules", "show", "our_practice")[1]
    assert "needle_path_depth" in run(capsys, "rules", "show", "needle_path_not_too_deep")[1].replace(
        " ", "_"
    )
    assert f"Nothing wrong in {folder}" in run(capsys, "rules", "check")[1]
    assert "Needle access\n" in run(capsys, "elements", "skin_to_disc")[1]
    assert "needle_path_depth" in json.loads(run(capsys, "schema")[1])["$defs"]["patient"]["properties"]
    assert "our_practice" in run(capsys, "demo", "--rules", "our_practice")[1]
    table = tmp_path / "table.csv"
    table.write_text("case_id,age [year],needle_path_depth [cm]\nA,44,20\nB,44,10\n", encoding="utf-8")
    status, out, _ = run(
        capsys, "screen", table, "--rules", "our_practice", "--case", "A", "--as-of", "2026-11-28"
    )
    assert status == 0
    assert "Needle path too deep" in out


def test_an_answer_is_reproducible_and_its_digest_covers_what_was_used(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def answer(name: str, edit: Edit = lambda files: None) -> tuple[str, str]:
        folder = write(tmp_path / name, edit)
        out = run(capsys, "assess", case, "--library", folder, "--rules", "our_practice", "--format", "json")[
            1
        ]
        return json.loads(out)["rule_set"]["digest"], out

    first, whole = answer("one")
    assert answer("two") == (first, whole)
    others = [
        answer("three", element("danger", 0, "value", 240))[0],
        answer("four", to(CRITERION, "why", "Another reason."))[0],
        answer("five", to("sources.yaml", "sources", "our_protocol", "title", "Another"))[0],
        answer("six", element("ask", "Depth to the disc"))[0],
    ]
    assert len({first, *others}) == 5


def test_a_replacement_is_shown_in_every_answer(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine", lambda f: replaced_criterion(f, {"version": BMI, "reason": REASON}))
    said = f"Replaces body_mass_index_limit {BMI} of the shipped library: {REASON}"
    notice = f"replaces the shipped {BMI}: {REASON}"
    for rules in ("practice_baseline", folder / SET):
        arguments = ("assess", case, "--library", folder, "--rules", rules)
        found = json.loads(run(capsys, *arguments, "--format", "json", "--full")[1])
        short = json.loads(run(capsys, *arguments, "--format", "json")[1])
        assert short["rule_set"]["replaced"] == found["rule_set"]["replaced"]
        assert [c["replaces_shipped"] for c in short["criteria"].values() if "replaces_shipped" in c] == [
            c["replaces"] for c in found["criteria"] if c["replaces"]
        ]
        if str(rules) == "practice_baseline":
            (each,) = found["rule_set"]["replaced"]
            assert each == {"kind": "criterion", "id": "body_mass_index_limit", "version": BMI,
                            "replaced_version": BMI, "reason": REASON}  # fmt: skip
            (row,) = [c for c in found["criteria"] if c["id"] == "body_mass_index_limit"]
            assert row["replaces"] == said
            assert said in row["rule"]
        listed = any(c["id"] == "body_mass_index_limit" for c in found["criteria"])
        assert (notice in " ".join(run(capsys, *arguments)[1].split())) is listed
        for form in (("text", "--full"), ("html",)):
            page = " ".join(run(capsys, *arguments, "--format", *form)[1].split())
            assert (notice in page) is listed
            assert (said in page) is listed
    shown = " ".join(run(capsys, "rules", "show", "practice_baseline", "--library", folder)[1].split())
    assert notice in shown
    assert said in shown


def test_what_a_set_changes_of_the_one_it_extends_is_said_in_every_answer(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def changed(files: dict[str, Any]) -> None:
        own = {"reason": REASON, "cites": [LOCAL]}
        files[SET] |= {
            "extends": "practice_baseline",
            "leaves_out": [{"id": "age_lower_limit", "reason": "All are grown up."}],
            "criteria": [
                {
                    "id": "body_mass_index_limit",
                    "parameters": {"bmi_upper_limit": {"value": 40, "unit": "kg/m2", **own}},
                },
                {"id": "age_upper_limit", "force": {"value": "advisory", **own}},
                {"id": "needle_path_not_too_deep"},
            ],
            "settings": {"old_age_from": {"value": 80, "unit": "year", **own}},
        }
        own_order(names={"candidate": "Candidate"})(files)
        files["sets/our_other/ruleset.yaml"] = {
            "id": "our_other", "version": "0.1.0", "extends": "our_practice", "reason": REASON, "changes": CHANGES,
            "criteria": [{"id": "body_mass_index_limit", "parameters": {"bmi_upper_limit": {"value": 38, "unit": "kg/m2", **own}}}],
        }  # fmt: skip

    folder = write(tmp_path / "mine", changed)
    first = (
        "without age_lower_limit; bmi_upper_limit 40 kg/m2 in place of 35 kg/m2; age_upper_limit is advisory in place of "
        "relative; old_age_from 80 year in place of 75 year; decides by our_order in place of standing_order"
    )
    for rules, before, words in (
        ("our_practice", "practice_baseline", f"{first}."),
        ("our_other", "our_practice", f"{first}; bmi_upper_limit 38 kg/m2 in place of 40 kg/m2."),
    ):
        said = f"The rule set {rules} departs from {before} "
        for command in (("assess", case), ("assess", case, "--full"), ("assess", case, "--format", "html"),
                        ("letter", "referrer", case), ("plan", case, "--on", "2026-12-14")):  # fmt: skip
            status, out, err = run(capsys, *command, "--library", folder, "--rules", rules)
            assert status == 0, err
            told = " ".join(out.split())
            assert said in told, command
            # a letter cuts what is very long, and says so
            assert words in told or (command[0] == "letter" and first[:200] in told), command
    untouched = run(capsys, "assess", case, "--library", folder, "--rules", "practice_baseline")[1]
    assert "departs from" not in untouched


def test_a_table_of_own_elements_without_the_library_says_how_they_are_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, table, mapping = write(tmp_path / "mine"), tmp_path / "t.csv", tmp_path / "map.yaml"
    table.write_text("case,needle_path_depth (cm)\nA,18\nB,17.9\n", encoding="utf-8")
    library = ("--library", folder, "--rules", "our_practice")
    assert run(capsys, "screen", table, *library, "--suggest-mapping", mapping)[0] == 0
    mapping.write_text(
        mapping.read_text(encoding="utf-8").replace("confirmed: false", "confirmed: true"), encoding="utf-8"
    )
    assert run(capsys, "screen", table, *library, "--mapping", mapping, "--out", tmp_path / "out")[0] == 0
    status, _, err = run(capsys, "screen", table, "--mapping", mapping, "--out", tmp_path / "other")
    assert status == 2
    assert "found     needle_path_depth" in err
    assert "those of your own with --library" in err


def test_a_second_library_with_elements_is_refused(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, other = write(tmp_path / "one"), write(tmp_path / "other")
    status, _, err = run(capsys, "assess", case, "--library", one, "--rules", other / SET)
    assert status == 2
    assert "E601 another library is in use" in err


def test_a_set_alone_in_its_folder_extends_the_library_in_use(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine")
    alone = tmp_path / "alone" / "ours.yaml"
    alone.parent.mkdir()
    limit = {"value": 210, "unit": "mm", "reason": "Longer needles.", "cites": [{"source": "our_protocol", "supports": "value", "tag": "local"}]}  # fmt: skip
    data = content()[SET] | {
        "id": "longer_needles", "extends": "our_practice", "reason": "Longer needles.",
        "criteria": [{"id": "needle_path_not_too_deep", "parameters": {"longest": limit}}],
    }  # fmt: skip
    alone.write_text(yaml.safe_dump(data), encoding="utf-8")
    status, out, _ = run(
        capsys, "assess", case, "--library", folder, "--rules", alone, "--format", "json", "--full"
    )
    assert status == 0
    (row,) = [c for c in json.loads(out)["criteria"] if c["id"] == "needle_path_not_too_deep"]
    assert row["outcome"] == "pass"
    assert run(capsys, "assess", case, "--rules", alone)[0] == 2


def test_a_table_of_answers_tells_what_stands_in_the_place_of_shipped_rules(
    tmp_path: Path, case: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = write(tmp_path / "mine", lambda f: replaced_criterion(f, {"version": BMI, "reason": REASON}))
    asked = ("assess", case, "--library", folder, "--rules", "practice_baseline", "--format")
    assert (
        "in the place of shipped content: criterion body_mass_index_limit" in run(capsys, *asked, "table")[1]
    )
    (row,) = map(json.loads, run(capsys, *asked, "jsonl")[1].splitlines())
    assert row["in_place_of_shipped"] == "criterion body_mass_index_limit"
