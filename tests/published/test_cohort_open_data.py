"""Cohort screening of real, openly licensed tables; every count is made again by independent pandas code.

Sources: van der Graaf et al., SPIDER, DOI 10.5281/zenodo.10159290, CC BY 4.0 (half of the patients);
UCI Vertebral Column, DOI 10.24432/C5K89B, CC BY 4.0.

Screening here checks counting and nothing else: these tables were not collected for such a decision.
"""

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from candidacy.cohort import Mapping, screen
from candidacy.rules.libraries import load_rule_set

pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")
pytest.importorskip("duckdb", reason="cohort screening is an optional part")

DATA = Path(__file__).parents[2].parent / "shared" / "data"
AS_OF = date(2026, 11, 25)
GRADES = {"1": "I", "2": "II", "3": "III", "4": "IV", "5": "V"}
# Levels that a lumbar record has; the table also grades discs of the chest.
LUMBAR = ["T11/T12", "T12/L1", "L1/L2", "L2/L3", "L3/L4", "L4/L5", "L5/S1"]


def _data(name: str) -> Path:
    path = DATA / name
    if not path.is_file():
        pytest.skip(f"open data are not here: {name}")
    return path


def _gradings_mapping() -> Mapping:
    return Mapping.model_validate(
        {
            "version": "1",
            "confirmed": True,
            "patients": {"case_id": "Patient", "columns": {}, "facts_date": "2026-11-01"},
            "discs": {
                "case_id": "Patient",
                "disc": "level",
                "facts_date": "2026-11-01",  # the table has no dates; this day stands for "recent"
                "columns": {
                    # the table's description names the five-grade scale of Pfirrmann
                    "Pfirrman grade": {"element": "pfirrmann_grade", "codes": GRADES},
                    "Modic": {"element": "modic_type"},
                    "Disc bulging": {"element": "displacement", "codes": {"1": "bulge"}, "unknown": {"0": "not_stated"}},
                },
                "ignore": ["IVD label", "UP endplate", "LOW endplate", "Spondylolisthesis", "Disc herniation", "Disc narrowing"],
            },
        }
    )  # fmt: skip


@pytest.fixture(scope="module")
def gradings() -> Any:
    return pd.read_csv(_data("spider_gradings/gradings.csv"))


@pytest.fixture(scope="module")
def screened(gradings: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    patients = tmp_path_factory.mktemp("spider") / "patients.csv"
    table = gradings[["Patient"]].drop_duplicates().assign(comment="")
    table.to_csv(patients, index=False)
    with screen(
        patients,
        "wide_screen",
        AS_OF,
        discs=_data("spider_gradings/gradings.csv"),
        mapping=_gradings_mapping(),
    ) as cohort:
        yield cohort


def test_every_graded_lumbar_disc_has_outcomes(screened: Any, gradings: Any) -> None:
    lumbar = gradings[gradings.level.isin(LUMBAR)]
    discs = screened.discs()
    assert screened.cases == gradings.Patient.nunique() == 107
    assert len(discs) == len(lumbar)
    assert screened.discs_set_aside == len(gradings) - len(lumbar)
    counted = discs.groupby("disc").size().to_dict()
    assert counted == lumbar.groupby(lumbar.level.str.replace("/", "-")).size().to_dict()


def test_outcomes_on_modic_changes_are_counted_as_pandas_counts(screened: Any, gradings: Any) -> None:
    lumbar = gradings[gradings.level.isin(LUMBAR)]
    criterion = load_rule_set("wide_screen").criterion("endplate_change_type")
    (excluded,) = [p.value for name, p in criterion.parameters.items() if name != "imaging_max_age"]
    fails = lumbar.Modic.astype(str).isin(list(excluded)).sum()
    row = screened.tallies().set_index("criterion").loc["endplate_change_type"]
    assert (row["fail"], row["pass"], row["undetermined"]) == (fails, len(lumbar) - fails, 0)


def test_grades_outside_the_window_are_counted_as_pandas_counts(screened: Any, gradings: Any) -> None:
    lumbar = gradings[gradings.level.isin(LUMBAR)]
    window = load_rule_set("wide_screen").criterion("degeneration_grade_window").parameters
    order = list(GRADES.values())
    low, high = (order.index(str(window[f"original_{end}"].value)) + 1 for end in ("lowest", "highest"))
    passes = int(lumbar["Pfirrman grade"].between(low, high).sum())
    row = screened.tallies().set_index("criterion").loc["degeneration_grade_window"]
    assert (row["pass"], row["fail"], row["undetermined"]) == (passes, len(lumbar) - passes, 0)
    by_level = (
        screened.discs()
        .groupby("disc")["degeneration_grade_window"]
        .apply(lambda o: int((o == "pass").sum()))
    )
    wanted = lumbar["Pfirrman grade"].between(low, high).groupby(lumbar.level.str.replace("/", "-")).sum()
    assert by_level.to_dict() == wanted.to_dict()


def test_every_patient_opens_with_the_same_outcomes(screened: Any, gradings: Any) -> None:
    rows = screened.outcomes().set_index("case_id")
    for patient in gradings.Patient.drop_duplicates().head(12):
        assessment = screened.open_case(str(patient))
        row = rows.loc[str(patient)]
        assert assessment.standing == row["standing"]
        for result in assessment.results:
            column = result.id if result.subject == "patient" else f"{result.subject}: {result.id}"
            assert row[column] == result.outcome, (patient, column)


def test_measured_slips_outside_the_possible_range_are_not_read_and_listed(tmp_path: Path) -> None:
    """The table does not state a unit for ``degree_spondylolisthesis``; percent is declared here to exercise
    screening and says nothing about these patients."""
    given = pd.read_csv(_data("vertebral_column/column_3C.csv"))
    table = tmp_path / "column.csv"
    given.assign(case_id=[f"row{n}" for n in range(len(given))]).to_csv(table, index=False)
    mapping = Mapping.model_validate(
        {
            "version": "1",
            "confirmed": True,
            "patients": {
                "columns": {
                    "degree_spondylolisthesis": {"element": "slip_percent", "disc": "L5-S1", "unit": "%"}
                },
                "facts_date": "2026-11-01",
                "ignore": [c for c in given.columns if c != "degree_spondylolisthesis"],
            },
        }
    )
    slips = given.degree_spondylolisthesis
    possible = (slips >= 0) & (slips <= 400)
    with screen(table, "practice_baseline", AS_OF, mapping=mapping) as cohort:
        assert (cohort.rows, cohort.set_aside) == (len(given), 0)
        rows = cohort.unread_cells()
        assert len(rows) == cohort.cells_not_read == int((~possible).sum())
        assert sorted(int(n) for n in rows["row"]) == [n + 2 for n in given.index[~possible]]
        assert rows["reason"].str.contains("outside the possible range").all()
        assert cohort.notes == ()
        opened = cohort.open_case("row5")
        assert opened.standing == cohort.outcomes().set_index("case_id").loc["row5", "standing"]


def test_meyerding_outcomes_are_counted_as_pandas_counts(tmp_path: Path) -> None:
    """Grades by quarters of the endplate (Meyerding 1932; common practice): grade II and more from a quarter on.

    No slip of the table is exactly 25 percent, where wordings differ.
    """
    given = pd.read_csv(_data("vertebral_column/column_3C.csv"))
    slips = given.degree_spondylolisthesis
    table = tmp_path / "column.parquet"
    kept = given[(slips >= 0) & (slips <= 400)]
    frame = pd.DataFrame(
        {
            "case_id": [f"row{n}" for n in kept.index],
            "L5-S1 slip_percent [%]": kept.degree_spondylolisthesis.to_numpy(),
            "L5-S1 slip_direction": "anterior",
            "facts_date": date(2026, 11, 1),
        }
    )
    frame.to_parquet(table)
    rules = load_rule_set("practice_baseline")
    with screen(table, rules, AS_OF) as cohort:
        row = cohort.tallies().set_index("criterion").loc["slip_grade_limit"]
        assert rules.criterion("slip_grade_limit").parameters["excluded_from"].value == "II"
        fails = int((kept.degree_spondylolisthesis > 25).sum())
        assert (row["fail"], row["pass"], row["undetermined"]) == (fails, len(kept) - fails, 0)
        assert 0 < fails < len(kept)
