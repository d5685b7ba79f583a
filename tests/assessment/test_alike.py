"""What is taken over from an earlier assessment of the same case changes nothing of the next one."""

from collections.abc import Sequence
from datetime import date, timedelta
from random import Random

import pytest

from candidacy.assessment.alike import alike
from candidacy.assessment.assess import assess
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.case.load import Case, case_from_record, load_case
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import RuleSet
from tests.strategies import AS_OF, FULL, STANDARD_LEVELS, elements_read, hints_of, random_case

BASELINE = "practice_baseline"


def rule_set(name: str = BASELINE) -> RuleSet:
    return shipped().rule_set(name)


def trial() -> RuleSet:
    return rule_set().with_trial({("body_mass_index_limit", "bmi_upper_limit"): 31})


def cases(of: RuleSet) -> Sequence[Case]:
    elements, hints = elements_read(of), hints_of(of)
    records = [
        random_case(Random(1), elements, hints=hints),
        random_case(Random(2), elements, hints=hints, mix=FULL, levels=STANDARD_LEVELS),
    ]
    return [case_from_record(record) for record in records]


@pytest.mark.parametrize("other", [name for name in shipped().rule_set_names() if name != BASELINE])
def test_an_assessment_beside_another_is_the_same_as_alone(other: str) -> None:
    for case in (*cases(rule_set()), *cases(rule_set(other))):
        for one, next_one in ((rule_set(), rule_set(other)), (rule_set(other), rule_set())):
            first = assess(case, one, AS_OF)
            beside = assess(case, next_one, AS_OF, beside=first)
            assert beside == assess(case, next_one, AS_OF)


@pytest.mark.parametrize("stem", ["no-control-disc", "morning-with-reasons-to-wait", "anticoagulated"])
def test_companions_are_what_their_rule_sets_say_by_themselves(stem: str) -> None:
    found = assess(load_case(demo_cases_folder() / f"{stem}.yaml"), rule_set(), AS_OF)
    applying = [c for c in found.companions if c.assessment is not None]
    assert applying
    for companion in applying:
        assert companion.rule_set is not None
        assert companion.assessment == assess(found.case, companion.rule_set, AS_OF)


def test_what_both_read_alike_is_not_read_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    # what other tests made ready may be of the same content, but of criteria of another library
    monkeypatch.setattr("candidacy.assessment.assess._ready", {})
    first = assess(load_case(demo_cases_folder() / "no-control-disc.yaml"), rule_set(), AS_OF)
    other = rule_set("disc_source")
    same = alike(other, rule_set())
    assert same is not None
    shared = same.criteria & {i.id for i in other.criteria if any(i is item for item in rule_set().criteria)}
    assert len(shared) >= 10
    read: list[str] = []
    reading = CompiledCriterion.read

    def noted(self: CompiledCriterion, *given: object) -> object:
        read.append(self.resolved.id)
        return reading(self, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(CompiledCriterion, "read", noted)
    assess(first.case, other, AS_OF, beside=first)
    assert set(read) == {i.id for i in other.criteria} - shared


@pytest.mark.parametrize("change", ["another day", "another case"])
def test_nothing_is_taken_over_from_another_day_or_case(change: str) -> None:
    case = load_case(demo_cases_folder() / "stale-mri.yaml")
    earlier: date = AS_OF - timedelta(days=700) if change == "another day" else AS_OF
    before = case if change == "another day" else load_case(demo_cases_folder() / "no-control-disc.yaml")
    first = assess(before, rule_set(), earlier)
    assert assess(case, rule_set(), AS_OF, beside=first) == assess(case, rule_set(), AS_OF)


def test_a_local_trial_reads_again_what_it_changes_and_nothing_else() -> None:
    changed = trial()
    same = alike(changed, rule_set())
    assert same is not None
    assert same.otherwise == {"disc_standing"}
    for case in cases(rule_set()):
        first = assess(case, rule_set(), AS_OF)
        assert assess(case, changed, AS_OF, beside=first) == assess(case, changed, AS_OF)


def test_settings_that_differ_keep_everything_that_is_worked_out_apart() -> None:
    same = alike(rule_set("report_completeness"), rule_set())
    assert same is not None
    assert {"discography_class", "considered_for_treatment"} <= same.otherwise
