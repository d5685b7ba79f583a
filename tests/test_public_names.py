"""The public names of the package: each resolves, and to a function or class, whatever was imported before."""

import types

import candidacy
import candidacy.assessment.assess  # a module of the package must not hide a public name


def test_every_public_name_resolves_to_no_module():
    for name in candidacy.__all__:
        assert not isinstance(getattr(candidacy, name), types.ModuleType), name
    assert set(candidacy.__all__) == set(dir(candidacy))


def test_a_case_is_assessed_by_public_names_alone():
    from datetime import date

    text = 'schema_version: "1"\nid: x\npatient: {back_pain_nrs_average: 7}\n'
    case = candidacy.parse_case(text)
    found = candidacy.assess_case(case, candidacy.load_rule_set("practice_baseline"), date(2026, 11, 25))
    assert candidacy.build_document(found).standing == "incomplete"
