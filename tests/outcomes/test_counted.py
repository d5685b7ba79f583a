# ruff: noqa: E402
"""Counts of the invented year against a recount in plain Python and in pandas; groups, changes, running checks, tables."""

import csv
import io
import json
from datetime import date, timedelta
from html import escape
from pathlib import Path
from typing import Any

import pytest

pd = pytest.importorskip("pandas", reason="the recount is made in pandas")
pytest.importorskip("statsmodels", reason="counting outcomes is an optional part")

from candidacy.foundation.errors import InputError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.outcomes.change import important
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.document import document
from candidacy.outcomes.figures import figures_of
from candidacy.outcomes.page import page_of
from candidacy.outcomes.registry import DICTIONARY, dictionary_of, table_of
from candidacy.outcomes.survival import kaplan_meier
from candidacy.outcomes.text import text_of
from candidacy.outcomes.writing import registry_csv, tables_of, write_outcomes
from candidacy.rules.libraries import shipped
from tests.outcomes.made import MONTH_12, TODAY, course, outcomes, visit
from tests.quick_yaml import read_yaml

YEAR = demo_cases_folder() / "clinic_year"
BELOW = 11


@pytest.fixture(scope="module")
def records() -> list[dict[str, Any]]:
    return [read_yaml(path.read_text(encoding="utf-8")) for path in sorted(YEAR.glob("*.course.yaml"))]


def _rows(records: list[dict[str, Any]]) -> Any:
    """One row for each patient, worked out from the files without any code of the program."""
    rows = []
    for record in records:
        start = date.fromisoformat(record["injections"][0]["date"])
        due = date(start.year + 1, start.month, start.day)
        low, high = due - timedelta(days=30), due + timedelta(days=60)
        inside = [
            v
            for v in record["visits"]
            if v.get("of") == "months_12" and low <= date.fromisoformat(v["date"]) <= high
        ]
        baseline = next(v for v in record["visits"] if v["kind"] == "baseline")
        contact = record.get("last_contact", {})
        rows.append({
            "case": record["case"], "before": baseline["answers"].get("pain_average_week"),
            "after": inside[0]["answers"].get("pain_average_week") if inside else None,
            "pending": not inside and high >= TODAY, "died": contact.get("state") == "died",
        })  # fmt: skip
    return pd.DataFrame(rows)


def test_a_recount_in_pandas_gives_the_same(year: Outcomes, records: list[dict[str, Any]]) -> None:
    frame = _rows(records)
    known = frame[frame.before.notna() & frame.after.notna()]
    responded = int((2 * (known.before - known.after) >= known.before).sum())
    found = year.response("pain_half")
    assert found.responded == responded
    assert found.known == len(known) + int(frame.died.sum())
    assert found.pending == int(frame.pending.sum())
    assert found.unknown == len(frame) - found.known - found.pending
    change = next(each for each in year.changes if each.measure.id == "pain_average_week")
    assert change.mean == pytest.approx((known.before - known.after).mean())
    assert change.spread == pytest.approx((known.before - known.after).std())
    assert change.pairs == len(known)


def test_every_division_loses_nobody(year: Outcomes) -> None:
    whole = year.response("pain_half")
    for split in (year.standings, *year.outcomes, *year.values):
        groups = [response for _, response in year.grouped(split, "pain_half")]
        assert sum(group.people for group in groups) == whole.people
        assert sum(group.responded for group in groups) == whole.responded


def test_by_criterion_says_who_failed_and_was_treated_after_the_conference(year: Outcomes) -> None:
    split = next(each for each in year.outcomes if each.criterion == "body_mass_index_limit")
    heavy = {patient.reference for patient in year.patients if _mass_index(patient.case) >= 35}
    assert {
        name for name, group in split.members.items() if group == "failed, treated after the conference"
    } == heavy
    values = next(each for each in year.values if each.parameter == "bmi_upper_limit")
    assert values.limits == (30, 35)
    assert {name for name, group in values.members.items() if group == "35 kg/m2 and above"} == heavy


def _mass_index(case: Any) -> float:
    patient = case.record.patient
    return float(patient["body_weight"].value / (patient["body_height"].value / 100) ** 2)


def test_change_stands_against_importance_and_error_with_their_sources(year: Outcomes) -> None:
    told = next(c for c in document(year, 0)["changes"] if c["measure"] == "pain_average_week")
    kinds = {bar["kind"] for bar in told["bars"]}
    assert kinds == {"important_change", "measurement_error"}
    assert all("[" in bar["cites"] for bar in told["bars"])
    change = next(each for each in year.changes if each.measure.id == "pain_average_week")
    two = next(
        bar
        for bar in change.bars
        if bar.key == "german_nrs_all" or bar.words.startswith("at least 2 points, ")
    )
    assert two.reached.yes == sum(fall >= 2 for fall in change.improvements)
    beyond = next(bar for bar in change.bars if bar.words.startswith("more than 3.6"))
    assert beyond.reached.yes == sum(fall > 3.6 for fall in change.improvements)
    assert 0 < told["important_within_error"] < two.reached.yes


def test_masked_nothing_small_is_told_anywhere(year: Outcomes, tmp_path: Path) -> None:
    told = document(year, BELOW)
    text = text_of(told)
    page = page_of(told, figures_of(year, told))
    assert "CY-0" not in json.dumps(told) + text + page
    assert not told["later"]["times"]
    for check in told["checks"]:
        assert not check["line"]
        assert not check["quarters"]

    def counts(part: Any, key: str = "") -> None:
        if isinstance(part, dict):
            for name, each in part.items():
                counts(each, name)
        elif isinstance(part, list):
            for each in part:
                counts(each, key)
        elif key in (
            "responded",
            "not_responded",
            "unknown",
            "pending",
            "known",
            "people",
            "without_answer",
            "reached",
            "pairs",
        ):
            assert isinstance(part, str), key
            assert part == f"<{BELOW}" or int(part) % BELOW == 0

    counts({name: told[name] for name in ("definitions", "visits", "changes", "groups", "checks")})
    for group in (row for g in told["groups"] for d in g["by_definition"] for row in d["groups"]):
        if group["complete"] is not None:
            assert not group["responded"].startswith("<")
    assert "does not make counts anonymous" in told["mask_words"]


def test_none_is_preferred_unless_it_was_declared(year: Outcomes) -> None:
    open_one = year.looked_at()
    told = document(open_one, 0)
    assert not told["declared"]
    assert "all stand equal" in told["declared_words"]
    assert [each["id"] for each in told["definitions"]] == list(open_one.definitions)
    assert not any(each["declared"] for each in told["definitions"])
    assert {len(g["by_definition"]) for g in told["groups"]} == {10}
    assert document(year, 0)["definitions"][0]["id"] == "pain_half"


def test_a_number_needed_stands_only_beside_a_comparison_group(year: Outcomes) -> None:
    told = document(year, 0)
    assert all("no comparison group" in each["number_needed"] for each in told["definitions"])
    worked = [each["difference"] for each in told["published"] if each["difference"]]
    assert worked == [
        "difference 12.2% (-8.0% to 31.1%), NNTB 8.2 (NNTB 3.2 to infinity to NNTH 12.4), derived"
    ]
    assert [words for words in told["cautions"] if "fall by 7.6 on average" in words]


def test_response_before_and_now_is_compared_in_the_same_patients(year: Outcomes) -> None:
    earlier, counts = year.lasting("pain_half")
    now = dict(zip((p.reference for p in year.patients), year.answers("pain_half"), strict=True))
    before = dict(zip(now, year.answers("pain_half", "months_6"), strict=True))
    known = {"responded", "not_responded", "died"}
    both = [name for name in now if now[name] in known and before[name] in known]
    assert earlier == "months_6"
    assert sum(counts) == len(both)
    assert counts[0] == sum(now[name] == before[name] == "responded" for name in both)
    assert counts[1] == sum(now[name] != "responded" and before[name] == "responded" for name in both)
    assert year.looked_at(at="call").lasting("pain_half")[0] is None
    told = document(year, BELOW)["definitions"][0]
    assert told["lasting"] is None  # a count below the threshold is among them


def test_running_checks_say_look_and_never_stop() -> None:
    harmed = [
        course(case=f"H-{n:02d}", injected=f"2025-0{1 + n // 9}-{1 + n % 9:02d}", events=[
            {"id": 1, "what": "pain_flare", "began": f"2025-0{1 + n // 9}-{2 + n % 9:02d}",
             "learned": f"2025-0{1 + n // 9}-{3 + n % 9:02d}", "grade": 2, "serious": []}])
        for n in range(12)
    ]  # fmt: skip
    harm = outcomes(*harmed).watched[0]
    assert harm.count == 12
    assert harm.signal
    assert harm.run.signals == (4, 8, 12)  # each time 4 * 0.6325 reaches the limit, and the sum starts again
    assert harm.outside
    assert harm.words.startswith("Look at")
    quiet = outcomes(
        *(
            course(case=f"Q-{n}", last_contact={"date": "2025-09-01", "state": "in_follow_up"})
            for n in range(5)
        )
    ).watched[0]
    assert (quiet.count, quiet.signal) == (0, False)
    assert "does not show that all is well" in quiet.words


def test_a_patient_not_heard_of_is_not_counted_as_unharmed() -> None:
    silent = outcomes(course()).watched[0]
    assert (silent.happened, silent.not_counted) == (
        (),
        {"not known until the end of the days in which it is counted": 1},
    )
    early = outcomes(course(), on=date(2025, 3, 20)).watched[0]
    assert early.not_counted == {"the days in which it is counted are not over": 1}


def test_a_second_injection_of_the_disc_and_surgery_of_unknown_level_are_interventions() -> None:
    again = course()
    disc = {"level": "L4-L5", "material": "donated disc tissue", "again_because": "pain came back"}
    again["injections"] = [*again["injections"], {"id": 2, "date": "2025-10-10", "discs": [disc]}]
    unclear = course(case="M-2", procedures=[{"date": "2025-11-01", "kind": "surgery"}])
    later = outcomes(again, unclear).later
    assert (later.count("event"), later.unclear) == (2, 1)
    assert [each.days for each in later.people] == [214, 236]


def test_the_registry_table_and_its_dictionary_agree(year: Outcomes) -> None:
    columns, rows = table_of(year)
    table, dictionary = registry_csv(year)
    read = list(csv.DictReader(io.StringIO(table)))
    words = list(csv.DictReader(io.StringIO(dictionary)))
    assert [line["variable"] for line in words] == list(read[0])
    assert list(words[0]) == list(DICTIONARY)
    assert len(read) == len(rows) == 60
    for column in columns:
        if column.choices:
            assert {row[column.variable] for row in read} - {""} <= set(column.choices), column.variable
    by_name = {row["record_id"]: row for row in read}
    record = read_yaml((YEAR / "CY-019.course.yaml").read_text(encoding="utf-8"))
    assert by_name["CY-019"]["months_12_state"] == "died"
    assert by_name["CY-019"]["injected_on"] == record["injections"][0]["date"]
    assert len(dictionary_of(year.registry)) == len(columns)


def test_with_days_no_date_leaves(year: Outcomes) -> None:
    table, dictionary = registry_csv(year, as_days=True)
    assert ",0," in table
    assert not any(part in table for part in ("2024-", "2025-", "2026-"))
    assert "date" not in {line["field_type"] for line in csv.DictReader(io.StringIO(dictionary))}


def test_a_folder_is_whole_or_absent(tmp_path: Path) -> None:
    found = outcomes(course(visit(MONTH_12, pain_average_week=2)), course(case="M-2"), declared="pain_half")
    folder = tmp_path / "results"
    write_outcomes(found, folder, BELOW, registry=True)
    frame = pd.read_parquet(folder / "registry" / "registry.parquet")
    read = pd.read_csv(folder / "registry" / "registry.csv")
    assert list(frame.columns) == list(read.columns)
    assert frame["months_12_pain"].dropna().tolist() == read["months_12_pain"].dropna().tolist()
    assert json.loads((folder / "run.json").read_text(encoding="utf-8"))["declared"] == "pain_half"
    with pytest.raises(InputError):
        write_outcomes(found, folder, BELOW)
    write_outcomes(found, folder, 0, replace=True)
    assert not (folder / "registry").exists()
    assert (folder / "figures" / "later_intervention.svg").exists()
    assert not [each for each in tmp_path.iterdir() if each.name.startswith(".")]
    other = tmp_path / "other"
    other.mkdir()
    with pytest.raises(InputError):
        write_outcomes(found, other, 0, replace=True)
    assert not list(other.iterdir())
    blocked = tmp_path / "file"
    blocked.write_text("x", encoding="utf-8")
    with pytest.raises(InputError):
        write_outcomes(found, blocked / "inside", 0)


def test_every_figure_says_in_words_what_it_shows(year: Outcomes) -> None:
    told = document(year, 0)
    figures = figures_of(year, told)
    names = {figure.name for figure in figures}
    assert {
        "responses",
        "later_intervention",
        "improvement_pain_average_week",
        "running_harm",
        "funnel_harm",
    } <= names
    page = page_of(told, figures)
    for figure in figures:
        assert len(figure.words) > 20
        assert f'aria-label="{escape(figure.title)}: ' in page
    assert page.count("<figure>") == page.count("aria-label=") == len(figures)
    assert "<script" not in page


def test_foreign_text_is_escaped_and_no_cell_is_a_formula() -> None:
    odd = course(visit(MONTH_12, pain_average_week=2))
    odd["injections"][0]["discs"][0]["material"] = "=cmd|'<b>x</b>"
    found = outcomes(odd)
    told = document(found, 0)
    assert "<b>x</b>" not in page_of(told, figures_of(found, told))
    assert "'=cmd" in registry_csv(found)[0]
    assert all(
        text.startswith(("definition", "visit", "kind", "measure")) for text in tables_of(told).values()
    )


def test_an_event_without_grade_or_day_and_a_death_are_counted_neither_as_harm_nor_as_none() -> None:
    event = {"id": 1, "what": "pain", "began": "2025-03-20", "learned": "2025-05-01", "injection": 1}
    coarse = event | {"began": "2025", "grade": 3}
    for more in (
        {"events": [event]},
        {"events": [coarse]},
        {"last_contact": {"date": "2025-03-20", "state": "died"}},
    ):
        harm = outcomes(course(**more)).watched[0]
        assert harm.happened == ()
        assert sum(harm.not_counted.values()) == 1


def test_nothing_is_known_of_a_time_to_which_nobody_was_followed() -> None:
    curve = kaplan_meier([30, 60, 90], [False, True, False])
    assert (curve.known_at(90), curve.known_at(91)) == (0.5, None)
    assert kaplan_meier([30, 60], [True, True]).known_at(365) == 0  # all had it
    assert kaplan_meier([], []).known_at(1) is None


def test_surgery_elsewhere_before_a_later_intervention_is_what_ended_the_time() -> None:
    elsewhere = {"date": "2025-05-01", "kind": "surgery", "levels": ["L1-L2"]}
    again = {"date": "2025-08-01", "kind": "surgery", "because_of_treated_disc": "yes"}
    for procedures, ending in (
        ([elsewhere, again], "elsewhere"),
        ([again], "event"),
        ([elsewhere], "elsewhere"),
    ):
        later = outcomes(course(procedures=procedures)).later
        assert later.count(ending) == 1, procedures


def test_a_value_after_treatment_that_counts_by_itself_counts() -> None:
    """Glassman 2008 calls a final index below 31.3 a substantial benefit by itself; 18.8 points or 36.8 % are not reached."""
    row = next(each for each in shipped().table("important_change").rows if each.key == "odi_glassman")
    measure = outcomes(course()).content.measures["oswestry_disability_index"]
    words, meets = important(row, measure)
    assert words == (
        "at least 18.8 percentage points or 36.8 % of the baseline or ending below 31.3 percentage points, substantial"
    )
    assert (meets(36, 6), meets(36, 4), meets(60, 19)) == (True, False, True)
