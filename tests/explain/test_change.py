"""What an edit changed is the difference of the two documents, no more and no less."""

from datetime import date

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.change import changes
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set

RULES = load_rule_set("practice_baseline")
RECORD = load_case(demo_cases_folder() / "two-discs-candidate.yaml").record


def _document(record):
    return build_document(assess(case_from_record(record), RULES, date(2026, 11, 25)))


def test_nothing_differs_from_itself():
    assert changes(_document(RECORD), _document(RECORD)) == []


def test_the_standing_comes_first_and_only_real_differences_are_named():
    before, after = (
        _document(RECORD),
        _document(with_fact(RECORD, "patient", "body_weight", FactEntry(value=190, unit="kg"))),
    )
    found = changes(before, after)
    assert found[0].kind == "standing"
    assert (found[0].before, found[0].after) == (before.standing, after.standing)
    old = {(c.id, c.subject): c.outcome for c in before.criteria}
    new = {(c.id, c.subject): c.outcome for c in after.criteria}
    assert {(c.id, c.subject) for c in found if c.kind == "criterion"} == {
        key for key in new if old[key] != new[key]
    }


def test_a_disc_that_came_or_went_is_told_once():
    more = with_fact(RECORD, "L1-L2", "disc_desiccation", FactEntry(value=False))
    before, after = _document(RECORD), _document(more)
    assert [(c.kind, c.before) for c in changes(before, after) if c.subject == "L1-L2"] == [("disc", "")]
    assert [(c.kind, c.after) for c in changes(after, before) if c.subject == "L1-L2"] == [("disc", "")]
