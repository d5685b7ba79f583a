"""Side by side and Rule sets: the same answers as the functions behind them, and trials that stay local."""

from candidacy.rules.libraries import load_rule_set
from tests.ui.conftest import demo


def test_one_case_under_two_rule_sets_shows_both_standings(screen):
    page = screen(
        "side_by_side.side_by_side",
        demo("one-disc-candidate"),
        compare=["practice_baseline", "report_completeness"],
    )
    assert "Practice baseline" in page.text
    assert "Report completeness" in page.text
    assert "Criteria that differ" in page.text


def test_a_trial_beside_the_shipped_set_names_the_parameter_that_makes_the_difference(screen):
    page = screen("side_by_side.side_by_side", demo("heavy-patient-for-conference"))
    page.desk.trials["practice_baseline"] = {("body_mass_index_limit", "bmi_upper_limit"): 45}
    page.desk.kept["compare"] = ["practice_baseline", "practice_baseline + local trial"]
    page.run()
    table = next(b for b in page.bodies if "What makes the difference" in b)
    assert "bmi_upper_limit" in table.split("Criteria that not every")[0]
    first = (
        "Deciding difference: body mass index less than 35 kg/m2 under Practice baseline, less than 45 kg/m2 under "
        "Practice baseline (local trial); the patient: 38.41 kg/m2."
    )
    assert page.text.index(first) < page.text.index("Borderline under Practice baseline")


def test_several_cases_become_a_table_and_one_opens(screen):
    page = screen(
        "side_by_side.side_by_side", compare=["practice_baseline"], **{"compare-view": "Several cases"}
    )
    page.press("many-demo")
    table = page.at.dataframe[0].value
    assert len(table) > 15
    assert "‼ Urgent" in set(table["practice_baseline"])
    assert "mixed-scales: refused" in page.text
    place = list(table["file"]).index("pregnant")
    page.pick("open-case-None", place).press("open-case")
    assert page.desk.record == demo("pregnant")


def test_a_rule_set_reads_as_a_document(screen):
    page = screen("rule_sets.rule_sets")
    rule_set = load_rule_set("practice_baseline")
    for item in rule_set.criteria:
        assert item.criterion.title in page.text
    assert rule_set.digest in page.text


def test_a_rule_set_is_proved_when_somebody_asks(screen):
    page = screen("rule_sets.rule_sets")
    page.desk.rules = "report_completeness"
    page.run()
    assert "No fault found." not in page.text
    page.press("prove-go")
    assert "No fault found." in page.text
    assert "state each fact exactly" in page.text


def test_a_trial_shows_its_effect_and_leaves_the_shipped_set_alone(screen):
    page = screen("rule_sets.rule_sets", demo("heavy-patient-for-conference"))
    before = load_rule_set("practice_baseline").digest
    page.pick("kept-trial-criterion", "body_mass_index_limit")
    page.type("trial-value", "45").press("trial-go")
    assert "Local trial" in page.text
    assert "35" in page.text
    clause = "if “body mass index that is itself too high” were 45 kg/m2 (shipped 35 kg/m2)"
    assert f"≈ Borderline → ✓ Candidate {clause}" in page.text
    assert load_rule_set("practice_baseline").digest == before
    page.press("trial-drop")
    assert "instead of" not in page.text


def test_a_value_out_of_bounds_or_of_the_wrong_kind_is_refused(screen):
    page = screen("rule_sets.rule_sets", demo("heavy-patient-for-conference"))
    page.pick("kept-trial-criterion", "body_mass_index_limit")
    for wrong in ("4000", "heavy", ""):
        page.type("trial-value", wrong).press("trial-go")
        assert page.desk.trials == {}
        assert "Refused" in page.text
