"""Every shipped criterion is in use, and every possible emergency in every set that judges a patient."""

import pytest

from candidacy.course.content import content
from candidacy.rules.libraries import shipped

LIBRARY = shipped()
SETS = list(LIBRARY.rule_set_files())


def selected(rules: str) -> set[str]:
    return {item.id for item in LIBRARY.rule_set(rules).criteria}


def test_every_shipped_criterion_is_selected_by_a_shipped_set() -> None:
    everywhere = set().union(*(selected(rules) for rules in SETS))
    # those of the weeks after an injection are read by their triage, which names each of them
    after = {name for name in LIBRARY.criterion_files() if LIBRARY.criterion(name).group == "after_injection"}
    assert after == set(content(LIBRARY).triage.criteria)
    assert set(LIBRARY.criterion_files()) - everywhere == after


@pytest.mark.parametrize("rules", [name for name in SETS if name != "report_completeness"])
def test_a_set_about_patients_reads_every_possible_emergency(rules: str) -> None:
    every = [LIBRARY.criterion(name) for name in LIBRARY.criterion_files()]
    stops = {each.id for each in every if each.force == "stop" and each.group != "after_injection"}
    assert stops - selected(rules) == set()
