"""What a screening is measured by: the queries by hand answer every criterion, and nothing is worked out that no answer needs."""

from pathlib import Path

import pytest

from candidacy.cohort import screen
from candidacy.cohort.columns import element_columns
from candidacy.rules.libraries import load_rule_set
from tests.bench.cohort_by_hand import DISC_SQL, PATIENT_SQL
from tests.strategies import AS_OF

_COUNTED = {
    "number_of_discs_to_treat",
    "considered_disc_borderline_or_open",
}  # made of what the discs come to


def test_every_criterion_is_written_by_hand() -> None:
    of = {
        subject: {
            item.id
            for item in load_rule_set("practice_baseline").criteria
            if item.criterion.subject == subject
        }
        for subject in ("patient", "disc")
    }
    assert of["patient"] == set(PATIENT_SQL) | _COUNTED
    assert of["disc"] == set(DISC_SQL)


def test_what_ends_a_time_that_no_column_begins_is_not_worked_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    real = element_columns.work_out
    monkeypatch.setattr(
        element_columns, "work_out", lambda name, *given: asked.append(name) or real(name, *given)
    )
    table = tmp_path / "table.csv"
    head, care = "case_id,pain_duration [month]", "conservative_care_last_date"
    for columns, cell, wanted in ((head, "", False), (f"{head},{care}", ",2020-01-31", True)):
        table.write_text("\n".join([columns, *(f"R-{n},{n + 6}{cell}" for n in range(20))]), encoding="utf-8")
        with screen(table, "practice_baseline", AS_OF) as cohort:
            assert len(cohort.outcomes()) == 20
        assert ("pain_began" in asked) == wanted
