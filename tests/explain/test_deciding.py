"""Side by side: the deciding difference first, in every form, across criteria of other ids that ask the same thing."""

from datetime import date

import pytest

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.compact import compact_comparison
from candidacy.explain.compare import compare
from candidacy.explain.compare_text import print_comparison
from candidacy.explain.page import comparison_page
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from tests.explain.test_forms import parsed, printed

BASE, WIDE = load_rule_set("practice_baseline"), load_rule_set("wide_screen")
DAY = date(2026, 11, 25)


def comparison(*rule_sets, case="one-disc-candidate", **facts):
    record = load_case(demo_cases_folder() / f"{case}.yaml").record
    for element, entry in facts.items():
        record = with_fact(record, "patient", element, FactEntry(**entry) if entry else None)
    case = case_from_record(record)
    return compare([build_document(assess(case, rules, DAY)) for rules in rule_sets])


def test_an_age_limit_that_decides_is_told_with_both_limits_and_the_age():
    tried = BASE.with_trial({("age_upper_limit", "highest_age"): 65})
    found = comparison(BASE, tried, birth_date={"value": "1958-05-02", "source": "letter"})
    assert [d.standing for d in found.assessments] == ["candidate", "borderline"]
    assert found.deciding == [
        "Deciding difference: age at most 70 years under Practice baseline, at most 65 years under "
        "Practice baseline (local trial); the patient: 68 years."
    ]


def test_it_is_found_across_ids_and_stands_in_one_row():
    found = comparison(BASE, WIDE, body_mass_index={"value": 36, "unit": "kg/m2", "source": "letter"}, body_weight=None,
                       height=None)  # fmt: skip
    assert found.deciding[0] == (
        "Deciding difference: body mass index less than 35 kg/m2 under Practice baseline, at most 38 kg/m2 under "
        "Wide screen; the patient: 36 kg/m2."
    )
    rows = [row for row in found.rows if "body_mass_index_limit" in row.ids]
    assert [row.ids for row in rows] == [["body_mass_index_limit", "body_mass_index_limit_inclusive"]]
    assert rows[0].outcomes == ["fail", "pass"]
    assert "limit: less than 35 kg/m2 / at most 38 kg/m2" in rows[0].differs_by


def test_where_only_the_force_differs_no_limit_is_named_as_the_cause():
    found = comparison(BASE, load_rule_set("trial_style_strict"), case="heavy-patient-for-conference")
    first = found.deciding[0]
    assert "Body mass index is 38.41 kg/m2" in first
    assert "counts as relative under Practice baseline, absolute under “Trial-style, narrow end”" in first


def test_what_one_set_does_not_ask_is_said():
    found = comparison(WIDE, BASE, case="leaking-disc")
    assert found.deciding[0] == (
        "Deciding difference: L4-L5: contrast left the disc at discography (Discography leak of L4-L5: yes) counts as "
        "relative under Practice baseline; not asked under Wide screen."
    )


def test_equal_standings_have_no_deciding_difference():
    assert comparison(BASE, BASE).deciding == [
        "No deciding difference: the standing is “Candidate” under all of them."
    ]
    assert comparison(BASE, WIDE).deciding == [
        "No deciding difference: “Candidate” under Practice baseline, “Worth a work-up” under Wide screen are "
        "standings of one kind."
    ]


@pytest.mark.parametrize("case", ["older-patient-for-conference", "stale-mri", "three-discs-considered"])
def test_every_form_begins_with_it(case):
    found = comparison(BASE, load_rule_set("trial_style_strict"), WIDE, case=case)
    assert found.deciding[0].startswith("Deciding difference: ")
    assert found.deciding == compact_comparison(found)["deciding"]
    text = " ".join(printed(lambda console: print_comparison(console, found), width=4000).split())
    html = " ".join(parsed(comparison_page(found)).text.split())
    for form in (text, html):
        assert form.index(found.deciding[0]) < form.index(found.assessments[0].reason[0])
        for line in found.deciding:
            assert line in form


def test_each_criterion_stands_in_exactly_one_row():
    found = comparison(BASE, load_rule_set("procedural_safety"), WIDE, load_rule_set("trial_style_strict"))
    for place, assessed in enumerate(found.assessments):
        placed = [(row.ids[place], row.subject) for row in found.rows if row.ids[place]]
        assert sorted(placed) == sorted((c.id, c.subject) for c in assessed.criteria)
