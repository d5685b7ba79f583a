"""Every shipped criterion is in use, and every possible emergency in every set that judges a patient."""

import pytest

from candidacy.rules.libraries import shipped

LIBRARY = shipped()
SETS = list(LIBRARY.rule_set_files())


def selected(rules: str) -> set[str]:
    return {item.id for item in LIBRARY.rule_set(rules).criteria}


def test_every_shipped_criterion_is_selected_by_a_shipped_set() -> None:
    everywhere = set().union(*(selected(rules) for rules in SETS))
    assert set(LIBRARY.criterion_files()) - everywhere == set()


@pytest.mark.parametrize("rules", [name for name in SETS if name != "report_completeness"])
def test_a_set_about_patients_reads_every_possible_emergency(rules: str) -> None:
    stops = {name for name in LIBRARY.criterion_files() if LIBRARY.criterion(name).force == "stop"}
    assert stops - selected(rules) == set()
