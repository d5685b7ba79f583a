"""The Outcomes page: the counts of the command, masked until asked, and beside the spread of the rule set."""

from datetime import date

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
pytest.importorskip("statsmodels", reason="counting outcomes is an optional part")

from candidacy.foundation.shipped import demo_cases_folder
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.document import document
from candidacy.outcomes.practice import read_practice
from candidacy.rules.libraries import shipped

VIEW = "outcomes.page.outcomes"
YEAR = demo_cases_folder() / "clinic_year"
DAY = "2026-11-30"


def unmask(page):
    next(each for each in page.at.toggle if each.key == "kept-outcomes-masked").set_value(False)
    return page.run()


def test_the_page_shows_what_the_command_counts(screen) -> None:
    page = screen(VIEW, **{"outcomes-as-of": DAY})
    assert "Upload course records" in page.text
    page.press("outcomes-year")
    assert "120 files: the invented year of a clinic" in page.text
    assert "all stand equal" in page.text
    assert "shown as <11" in page.text
    assert "CY-0" not in page.text
    page.pick("kept-outcomes-declared", "pain_half")
    unmask(page)
    found = Outcomes(read_practice(YEAR, date.fromisoformat(DAY)), shipped(), declared="pain_half")
    told = document(found, 0)
    first = told["definitions"][0]["counts"]
    assert f"(declared) {first['responded']} {first['known']} {first['complete']['share']:.0%}" in page.text
    for view, words in (("Change", "outside error at 95 %"), ("Later interventions", "Kaplan-Meier"), ("By criterion", "35 kg/m2 and above"),
                        ("Running checks", "expected 6.2%"), ("Records", "CY-012"), ("Files", "registry table")):  # fmt: skip
        page.tap("kept-outcomes-view", view)
        assert words in page.text, view
    page.press("outcomes-remove")
    assert "Upload course records" in page.text


def test_uploads_with_mistakes_are_told_and_the_rest_is_counted(screen) -> None:
    page = screen(VIEW, **{"outcomes-as-of": DAY, "outcomes-masked": False, "outcomes-view": "Records"})
    files = [
        (path.name, path.read_bytes(), "application/yaml")
        for path in sorted((YEAR / "with_mistakes").glob("*.yaml"))
    ]
    page.at.get("file_uploader")[0].set_value(files)
    page.run()
    assert "4 patients with a session that is counted" in page.text
    assert "2 files set aside; the others are counted" in page.text
    assert "CY-004.course.yaml" in page.text
    page.type("kept-outcomes-as-of", "2026-02-30")
    assert "E207" in page.text
    page.type("kept-outcomes-as-of", "")
    assert "4 patients with a session that is counted" in page.text


def test_only_case_records_are_refused_with_the_way_out(screen) -> None:
    page = screen(VIEW)
    page.at.get("file_uploader")[0].set_value(
        [("a.yaml", (YEAR / "CY-001.yaml").read_bytes(), "application/yaml")]
    )
    page.run()
    assert "no course records among these files" in page.text
    page.at.get("file_uploader")[0].set_value(
        [("a.course.yaml", (YEAR / "CY-001.course.yaml").read_bytes(), "application/yaml")]
    )
    page.run()
    assert "no course records" not in page.text
    assert "2 files" in page.text


def test_the_rule_set_page_puts_ones_own_data_beside_the_spread_masked(screen) -> None:
    kept = {"outcomes-files": {path.name: path.read_text(encoding="utf-8") for path in sorted(YEAR.glob("*.yaml"))},
            "outcomes-as-of": DAY, "outcomes-masked": False}  # fmt: skip
    plain = screen("rule_sets.rule_sets")
    assert "In this practice" not in plain.text
    none = screen("rule_sets.rule_sets", **kept)
    assert "In this practice" not in none.text
    page = screen("rule_sets.rule_sets", **kept, **{"outcomes-declared": "pain_half"})
    assert (
        "In this practice: Pain fell by half or more, at twelve months, by bmi upper limit. below 30 kg/m2: 11 of 22 known"
        in page.text
    )
    assert "35 kg/m2 and above: <11 of <11 known, not shown" in page.text
    assert "no proof: no comparison, nothing adjusted" in page.text
    page.pick("kept-rules", "wide_screen")
    assert "In this practice" not in page.text
