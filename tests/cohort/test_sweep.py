"""Every point of a sweep is what screening with that trial of the rule set says."""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise, product
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.assessment.assess import Assessment
from candidacy.case.load import Case
from candidacy.cohort import screen
from candidacy.foundation.errors import Code, RuleError, TableError
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import STANDINGS
from tests.cohort.screened import each_assessed, records
from tests.deep import only_deep
from tests.strategies import AS_OF

BMI = "body_mass_index_limit.bmi_upper_limit"
GRADE_AGE = "degeneration_grade_window.imaging_max_age"
# By what the parameter is, and how many different answers the values must give, so that agreement says something.
RANGES: dict[str, tuple[dict[str, list[Any]], int]] = {
    "a number of the patient": ({BMI: [25, 30, 32.5, 40]}, 3),
    "a parameter by its own name": ({"bmi_upper_limit": [28, 40]}, 2),
    "a code of a disc": ({"degeneration_grade_window.original_lowest": ["I", "II", "III", "IV"]}, 1),
    "a list of codes of a disc": (
        {"displacement_limit.excluded_displacement": [
            ("extrusion",), ("sequestration", "extrusion"), ("bulge", "protrusion", "extrusion", "none")]},
        2,
    ),
    "how old imaging may be": ({GRADE_AGE: [1, 12, 36]}, 2),
    "how old an answer may be": ({"pregnancy_present.answer_max_age": [0, 30, 60]}, 1),
    "a count of discs": ({"number_of_discs_to_treat.most_discs": [1, 2, 5]}, 2),
    "an age": ({"age_upper_limit.highest_age": [50, 70, 100]}, 1),
    "what decides nothing": ({"odi_maximum.highest_odi": [50, 90]}, 1),
    "two of the patient": ({BMI: [28, 40], "age_upper_limit.highest_age": [50, 70, 80]}, 4),
    "two of the patient, in a window": ({BMI: [28, 40], "odi_minimum.lowest_odi": [20, 30, 60]}, 3),
    "one of the patient and one of a disc": ({BMI: [28, 40], GRADE_AGE: [1, 36]}, 3),
    "two of a disc and a count": (
        {GRADE_AGE: [1, 24], "displacement_limit.imaging_max_age": [1, 24],
         "number_of_discs_to_treat.most_discs": [1, 3]},
        4,
    ),
}  # fmt: skip


def _points(ranges: Mapping[str, Sequence[Any]], rules: RuleSet) -> list[dict[tuple[str, str], Any]]:
    known = {p: (item.id, p) for item in rules.criteria for p in item.parameters}
    keys = [tuple(name.split(".")) if "." in name else known[name] for name in ranges]
    return [dict(zip(keys, values, strict=True)) for values in product(*ranges.values())]


def _recounted(
    given: Sequence[Assessment], rules: RuleSet, point: Mapping[tuple[str, str], Any]
) -> dict[str, int]:
    found = each_assessed([each.case for each in given], rules.with_trial(point), given)
    counted = Counter(assessment.standing for assessment in found)
    return {standing: counted[standing] for standing in STANDINGS}


def _agree(
    cohort: Any, given: Sequence[Assessment], rules: RuleSet, ranges: Mapping[str, Sequence[Any]]
) -> int:
    rows = records(cohort.sweep(ranges))
    points = _points(ranges, rules)
    assert len(rows) == len(points)
    for row, point in zip(rows, points, strict=True):
        assert {s: row[s] for s in STANDINGS} == _recounted(given, rules, point), point
        for (criterion, parameter), value in point.items():
            shown = ", ".join(value) if isinstance(value, tuple) else value
            assert row[f"{criterion}.{parameter}"] == shown
    return len({tuple(row[s] for s in STANDINGS) for row in rows})


# Others of the same kinds are tried in deep runs.
ALWAYS = (
    "a number of the patient",
    "a list of codes of a disc",
    "what decides nothing",
    "two of a disc and a count",
)


@pytest.mark.parametrize(
    "what", [pytest.param(what, marks=() if what in ALWAYS else only_deep) for what in RANGES]
)
def test_each_point_equals_reading_every_case_with_that_trial(
    what: str, cohort: Any, assessed: Sequence[Assessment], some_rules: RuleSet
) -> None:
    ranges, different = RANGES[what]
    assert _agree(cohort, assessed, some_rules, ranges) >= different


@only_deep
def test_a_point_equals_screening_anew(cohort: Any, case_folder: Path, some_rules: RuleSet) -> None:
    (row,) = records(cohort.sweep({BMI: [28], GRADE_AGE: [6]}))
    trial = some_rules.with_trial(_points({BMI: [28], GRADE_AGE: [6]}, some_rules)[0])
    with screen(case_folder, trial, AS_OF) as anew:
        assert {r["standing"]: r["cases"] for r in records(anew.standings())} == {
            s: row[s] for s in STANDINGS
        }


def test_a_sweep_changes_nothing_of_the_cohort(cohort: Any) -> None:
    before = records(cohort.standings()), records(cohort.tallies())
    first = records(cohort.sweep({BMI: [28, 40]}))
    assert records(cohort.sweep({GRADE_AGE: [1]})) != first
    assert records(cohort.sweep({BMI: [28, 40]})) == first
    assert (records(cohort.standings()), records(cohort.tallies())) == before


@only_deep
def test_the_distributed_engine_sweeps_alike(
    spark_cohort: Any, few_cases: Sequence[Case], few_rules: RuleSet
) -> None:
    ranges = {BMI: [25, 40], "displacement_limit.excluded_displacement": [("extrusion",), ("protrusion", "bulge")],
              "number_of_discs_to_treat.most_discs": [1, 2]}  # fmt: skip
    assert _agree(spark_cohort, each_assessed(few_cases, few_rules), few_rules, ranges) >= 2


def test_numbers_of_a_sweep_are_whole_and_codes_are_text(cohort: Any) -> None:
    kinds = cohort.sweep({BMI: [30, 32.5]}).dtypes.astype(str)
    assert kinds[BMI] == "Float64"
    assert set(kinds[list(STANDINGS)]) == {"Int64"}
    kinds = cohort.sweep({"displacement_limit.excluded_displacement": [("extrusion",)]}).dtypes.astype(str)
    assert kinds["displacement_limit.excluded_displacement"] == "string"


@pytest.mark.parametrize(
    ("ranges", "code"),
    [
        ({"no_such_limit": [1]}, Code.UNKNOWN_PARAMETER),
        ({"body_mass_index_limit.no_such": [1]}, Code.UNKNOWN_PARAMETER),
        ({"no_such.bmi_upper_limit": [1]}, Code.UNKNOWN_PARAMETER),
        ({"": [1]}, Code.UNKNOWN_PARAMETER),
        ({"imaging_max_age": [6]}, Code.UNKNOWN_PARAMETER),  # of several criteria
        ({}, Code.USAGE),
        ({BMI: []}, Code.USAGE),
        ({BMI: [30], GRADE_AGE: []}, Code.USAGE),
        ({BMI: [30 + n / 100 for n in range(501)]}, Code.USAGE),
        ({BMI: list(range(20, 50)), GRADE_AGE: list(range(1, 31))}, Code.USAGE),
    ],
)
def test_names_and_ranges_that_cannot_be_swept_are_refused(
    cohort: Any, ranges: dict[str, list[Any]], code: Code
) -> None:
    with pytest.raises(TableError) as caught:
        cohort.sweep(ranges)
    assert [problem.code for problem in caught.value.problems] == [code]


def test_a_name_of_several_criteria_is_refused_with_all_of_them(cohort: Any) -> None:
    with pytest.raises(TableError) as caught:
        cohort.sweep({"imaging_max_age": [6]})
    assert {"degeneration_grade_window.imaging_max_age", "displacement_limit.imaging_max_age"} <= set(
        caught.value.problems[0].expected.split(", ")
    )


@pytest.mark.parametrize(
    ("name", "value"),
    [
        (BMI, "30"), (BMI, True), (BMI, None), (BMI, 1000), (BMI, float("inf")),
        ("displacement_limit.excluded_displacement", "extrusion"),
        ("displacement_limit.excluded_displacement", ("no_such",)),
        ("displacement_limit.excluded_displacement", ()),
        ("degeneration_grade_window.original_lowest", "VI"),
        ("number_of_discs_to_treat.most_discs", 0),  # below the fewest
    ],
)  # fmt: skip
def test_a_value_that_the_parameter_does_not_allow_is_refused(cohort: Any, name: str, value: Any) -> None:
    with pytest.raises(RuleError):
        cohort.sweep({name: [value]})
    with pytest.raises(RuleError):
        cohort.rule_set.with_trial({tuple(name.split(".")): value})


def test_no_number_is_no_value(cohort: Any) -> None:
    with pytest.raises(RuleError):
        cohort.rule_set.with_trial({("body_mass_index_limit", "bmi_upper_limit"): float("nan")})


def test_one_parameter_under_two_names_is_refused(cohort: Any) -> None:
    with pytest.raises(TableError):
        cohort.sweep({"bmi_upper_limit": [30, 35], BMI: [40]})


def test_five_hundred_points_are_counted_in_one_go(cohort: Any) -> None:
    rows = records(cohort.sweep({BMI: [25 + n / 50 for n in range(500)]}))
    assert len(rows) == 500
    assert {sum(row[s] for s in STANDINGS) for row in rows} == {cohort.cases}
    # the higher the limit, the fewer are borderline because of it
    assert rows[0]["candidate"] < rows[-1]["candidate"]
    assert all(a["candidate"] <= b["candidate"] for a, b in pairwise(rows))
