"""When the pain began, in columns: the formula is asked only where a column tells its day, and both say the same of every row."""

from datetime import date
from pathlib import Path
from random import Random
from typing import Any

import pytest

from candidacy.assessment.assess import assess
from candidacy.cohort import screen
from candidacy.cohort.columns import element_columns
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
def test_the_formula_is_asked_only_where_a_column_tells_the_day(
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
def test_each_row_is_answered_as_its_case_is(tmp_path: Path, seed: int) -> None:
    random = Random(seed)
    rows = [f"{_row(random)},{random.choice(['true', 'false', ''])}" for _ in range(120)]
    table = _table(tmp_path / "table.csv", f"{HEAD},failed_conservative_care", rows)
    rule_set = shipped().rule_set(RULE_SET)
    with screen(table, RULE_SET, AS_OF) as cohort:
        answers: list[dict[str, Any]] = cohort.outcomes().to_dict("records")
        cases = [cohort.open_case(row["case_id"]).case for row in answers]
    expected = {case.record.id: of_assessment(assess(case, rule_set, AS_OF, "direct")) for case in cases}
    assert differences(expected, answers) == []
    care = {found["conservative_care_failed"] for found in expected.values()}
    assert len(care) > 1, "some care ended before the pain began, and some did not"
