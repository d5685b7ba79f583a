"""Formulas that have a form in columns: each row is answered as its case is, and the formula itself is asked of no row."""

from datetime import date
from pathlib import Path
from random import Random
from typing import Any

import duckdb
import pytest

from candidacy.assessment.assess import assess
from candidacy.assessment.relate import view_of
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import CaseFacts, Fact, Provenance
from candidacy.cohort import screen
from candidacy.cohort.columns import element_columns
from candidacy.cohort.columns.derived_columns import form_of
from candidacy.cohort.columns.fact_columns import FactColumn, Numbers
from candidacy.foundation.values import Span, point
from candidacy.rules.libraries import shipped
from tests.cohort.agreement import differences, of_assessment
from tests.deep import DEEP

AS_OF = date(2026, 11, 25)
RULE_SET = "practice_baseline"
LASTED, ENDED = "pain_duration [month]", "conservative_care_last_date"
HEAD = f"case_id,birth_date,{LASTED},{ENDED}"


def _table(path: Path, head: str, rows: list[str]) -> Path:
    path.write_text("\n".join([head, *(f"R-{n},{row}" for n, row in enumerate(rows))]), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("head", "row", "asked"),
    [
        (f"case_id,{LASTED}", "8", False),  # nothing that it could be held against
        (f"case_id,{LASTED},{ENDED}", "8,2020-01-31", False),
        (f"case_id,{LASTED},{ENDED},pain_onset_date", "8,2020-01-31,2026-03-01", True),
    ],
)
def test_a_beginning_is_worked_out_by_its_formula_only_where_a_column_tells_the_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, head: str, row: str, asked: bool
) -> None:
    names: list[str] = []
    real = element_columns.work_out
    monkeypatch.setattr(
        element_columns, "work_out", lambda name, *given: names.append(name) or real(name, *given)
    )
    with screen(_table(tmp_path / "table.csv", head, [row] * 20), RULE_SET, AS_OF) as cohort:
        assert len(cohort.outcomes()) == 20
    assert ("pain_began" in names) == asked


def _row(random: Random) -> str:
    """Lengths of whole quarters, of whole and of broken months, longer than the life of some, with care that ended about then."""
    months = random.choice(
        [random.randint(0, 40) * 3, random.randint(0, 130), round(random.uniform(0, 60), 1)]
    )
    began = AS_OF.toordinal() - int(months * 30.4375)
    about = random.choice([-400, -20, -15, -14, -13, -1, 0, 1, 30]) - random.choice([0, 31, int(months * 8)])
    ended = date.fromordinal(min(began + about, AS_OF.toordinal()))
    born = random.choice(["", "1984-05-17", "2020-01-01"])
    return f"{born},{random.choice([months, months, ''])},{random.choice([ended, ended, ended, ''])}"


@pytest.mark.parametrize("seed", range(12) if DEEP else range(3))
def test_care_that_ended_before_the_pain_began(tmp_path: Path, seed: int) -> None:
    random = Random(seed)
    rows = [f"{_row(random)},{random.choice(['true', 'false', ''])}" for _ in range(120)]
    care = _answered_as_cases(_table(tmp_path / "table.csv", f"{HEAD},failed_conservative_care", rows))
    assert len({found["conservative_care_failed"] for found in care}) > 1, (
        "some ended before it, some did not"
    )


def test_an_age_beside_the_day_of_birth(tmp_path: Path) -> None:
    """Birthdays about the as-of date, leap days, and those that no age fits."""
    born = [
        "1966-11-24",
        "1966-11-25",
        "1966-11-26",
        "1984-02-29",
        "2008-11-25",
        "2008-11-26",
        "1906-11-25",
        "1899-01-01",
    ]
    rows = [
        f"{day},{age}"
        for day in [*born, ""]
        for age in (17, 18, 41, 42, 43, 58, 59, 60, 61, 65, 119, 120, "")
    ]
    found = _answered_as_cases(_table(tmp_path / "table.csv", "case_id,birth_date,age [year]", rows))
    assert {each["age_lower_limit"] for each in found} == {"pass", "fail", "undetermined"}


def _answered_as_cases(table: Path) -> list[dict[str, Any]]:
    """What every row of a table comes to, held against an assessment of its case."""
    rule_set = shipped().rule_set(RULE_SET)
    with screen(table, RULE_SET, AS_OF) as cohort:
        answers: list[dict[str, Any]] = cohort.outcomes().to_dict("records")
        cases = [cohort.open_case(row["case_id"]).case for row in answers]
    expected = {case.record.id: of_assessment(assess(case, rule_set, AS_OF, "direct")) for case in cases}
    assert differences(expected, answers) == []
    return answers


class _Shelf:
    """The columns of a table that holds how long the pain has lasted, and the day of it."""

    def __init__(self) -> None:
        self.rule_set, self.as_of = shipped().rule_set(RULE_SET), AS_OF

    def fact(self, name: str, subject: str) -> tuple[FactColumn, ...]:
        told = FactColumn(catalogue()[name], subject, Numbers("months"), day="told")
        return (told,) if name == "pain_duration" else ()

    def define(self, expression: str) -> str:
        return expression


def test_both_ends_of_a_beginning_are_those_of_the_formula() -> None:
    form = form_of("pain_began", "patient", _Shelf())  # type: ignore[arg-type]
    assert form is not None
    assert isinstance(form.cells, Numbers)
    today, relations = AS_OF.toordinal(), shipped().rule_set(RULE_SET)
    lengths = [0, 0.25, 0.5, 1, 1.5, 3, 6, 6.5, 7, 12, 35.9, 36, 120, 599.5]
    rows = [(months, day) for months in lengths for day in (None, today, today - 31, today - 400)]
    cells = ", ".join(f"({m}::DOUBLE, {'NULL' if d is None else d}::DOUBLE)" for m, d in rows)
    told = duckdb.sql(
        f"SELECT {form.cells.low}, {form.cells.high} FROM (VALUES {cells}) AS t(months, told)"
    ).fetchall()
    for (months, day), ends in zip(rows, told, strict=True):
        dated = Provenance(day=None if day is None else point(day))
        lasted = Fact("pain_duration", "patient", point(months), provenance=dated)
        view = view_of(CaseFacts("one", {"pain_duration": lasted}), AS_OF, relations)
        began = view.fact("pain_began", "patient").value
        assert isinstance(began, Span)
        assert ends == (began.low, began.high), (months, day)
