"""The Cohort page: the numbers of the cohort functions, and a row opens with the same outcomes."""

from datetime import date

import pytest

pytest.importorskip("duckdb", reason="cohorts need the cohort extra")
from candidacy.cohort import screen as screen_table
from candidacy.shipped import demo_cases_folder
from tests.ui.conftest import demo

VIEW = "cohort.cohort"
CSV = b"ref,Sex,BMI\na,M,29\nb,F,41.5\nc,F,heavy\n"
MAPPING = """version: '1'
confirmed: true
patients:
  case_id: ref
  columns:
    BMI: {element: body_mass_index, unit: kg/m2}
    Sex: {element: sex, codes: {M: male, F: female}}
"""


def test_the_demonstration_cases_give_the_counts_of_the_function_and_one_opens(screen):
    page = screen(VIEW).press("cohort-demo").press("cohort-go")
    with screen_table(demo_cases_folder(), "practice_baseline", date(2026, 11, 25)) as cohort:
        expected = {r["standing"]: r["cases"] for r in cohort.standings().to_dict("records")}
    shown = next(b for b in page.bodies if "Cases by standing" in b)
    for standing, count in expected.items():
        assert f'{standing}">' in shown
        assert f"<td>{count}</td>" in shown
    page.tap("kept-cohort-view", "Cases")
    page.type("cohort-case", "pregnant").press("cohort-open")
    assert page.desk.record.patient == demo("pregnant").patient


def test_foreign_headers_are_refused_until_a_person_confirms_a_mapping(screen):
    page = screen(VIEW)
    page.at.get("file_uploader")[0].set_value(("referrals.csv", CSV, "text/csv"))
    page.run().press("cohort-propose")
    assert "confirmed: false" in page.at.text_area[0].value
    page.press("cohort-go")
    assert "nobody has confirmed this mapping" in page.text or "not a unit" in page.text
    page.at.text_area[0].set_value(MAPPING)
    page.run().press("cohort-go")
    assert "1 rows set aside" in page.text
    page.tap("kept-cohort-view", "Set aside")
    assert "heavy" in page.at.dataframe[0].value.to_string()


def test_limits_are_tried_and_a_wrong_value_is_refused(screen):
    page = screen(VIEW).press("cohort-demo").press("cohort-go")
    page.tap("kept-cohort-view", "What if")
    page.type("kept-what-if-values", "30, 45").press("what-if-go")
    table = page.at.dataframe[0].value
    assert list(table.iloc[:, 0]) == [30, 45]
    page.type("kept-what-if-values", "30, heavy").press("what-if-go")
    assert "Refused" in page.text
