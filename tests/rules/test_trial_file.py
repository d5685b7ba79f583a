"""A local trial becomes a rule set file that loads, differs only where it was changed, and says so."""

import pytest

from candidacy.foundation.errors import RuleError
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.trial_file import trial_file, value_from_text

BASE = load_rule_set("practice_baseline")
LIMIT = ("body_mass_index_limit", "bmi_upper_limit")


def _values(rule_set):
    return {(i.id, n): p.value for i in rule_set.criteria for n, p in i.parameters.items()}


def test_the_written_set_loads_and_differs_only_in_what_was_tried(tmp_path):
    text = trial_file(BASE.with_trial({LIMIT: 38}), "our_practice", "2026-11-25")
    path = tmp_path / "our_practice.yaml"
    path.write_text(text, encoding="utf-8")
    loaded = load_rule_set(str(path))
    assert loaded.id == "our_practice"
    assert loaded.file.status == "draft"
    assert loaded.file.extends == BASE.id
    old, new = _values(BASE), _values(loaded)
    assert {key for key in new if new[key] != old[key]} == {LIMIT}
    assert [c.tag for c in loaded.criterion(LIMIT[0]).parameters[LIMIT[1]].cites] == ["local"]


def test_a_set_without_a_trial_or_with_the_same_id_is_refused():
    with pytest.raises(RuleError, match="E305"):
        trial_file(BASE, "our_practice", "2026-11-25")
    with pytest.raises(RuleError, match="E301"):
        trial_file(BASE.with_trial({LIMIT: 38}), BASE.id, "2026-11-25")


def test_every_parameter_reads_its_own_value_back_from_text():
    for item in BASE.criteria:
        for parameter in item.parameters.values():
            values = parameter.value if isinstance(parameter.value, tuple) else (parameter.value,)
            text = ", ".join(("yes" if v else "no") if isinstance(v, bool) else str(v) for v in values)
            assert value_from_text(parameter, text) == parameter.value


@pytest.mark.parametrize("text", ["", "heavy", "38 kg", "1e2", "3 8"])
def test_text_of_another_kind_is_refused(text):
    with pytest.raises(RuleError, match="E203"):
        value_from_text(BASE.criterion(LIMIT[0]).parameters[LIMIT[1]], text)
