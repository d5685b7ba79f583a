# ruff: noqa: E402
"""Who moves between two rule sets, and because of what, is what two assessments of every case say."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import pytest

pytest.importorskip("duckdb", reason="cohort screening is an optional part")
pd = pytest.importorskip("pandas", reason="cohort screening is an optional part")

from candidacy.assessment.assess import Assessment
from candidacy.case.load import Case
from candidacy.cohort import screen
from candidacy.engine.decision import Decision
from candidacy.rules.resolved import ResolvedCriterion, RuleSet
from candidacy.rules.tree import elements_of
from tests.cohort.screened import FEW, each_assessed, part_of, records, shipped
from tests.deep import only_deep
from tests.strategies import AS_OF

Label = tuple[str, str, str]  # disc or nothing, criterion, what changed


# --- the documented rule, from two assessments


def _behind(decision: Decision) -> set[str]:
    """The criteria (or discs) whose outcomes make the deciding rule fire."""
    return next(set(fired.because) for fired in decision.fired if fired.rule == decision.rule)


def _place(decision: Decision, rules: RuleSet) -> int:
    return [rule.id for rule in rules.decisions.rules].index(decision.rule)


def _words(before: tuple[ResolvedCriterion, str] | None, after: tuple[ResolvedCriterion, str] | None) -> str:
    if before is None:
        assert after is not None
        return f"newly asked, {after[1]}"
    if after is None:
        return f"no longer asked, was {before[1]}"
    outcome = after[1] if before[1] == after[1] else f"{before[1]} becomes {after[1]}"
    forces = before[0].force, after[0].force
    return outcome + (f", {forces[0]} becomes {forces[1]}" if forces[0] != forces[1] else "")


def _of_subject(one: Assessment, other: Assessment, level: str) -> set[Label]:
    sides = []
    for assessment in (one, other):
        decision = assessment.decision
        if level:
            (decision,) = [disc.decision for disc in assessment.discs if disc.level == level]
        results = {r.id: (r.resolved, r.outcome) for r in assessment.of_subject(level or "patient")}
        sides.append((decision, _place(decision, assessment.rule_set), results))
    (first, first_place, ours), (second, second_place, theirs) = sides
    same_order = one.rule_set.decisions == other.rule_set.decisions
    names: set[str] = set()
    if not same_order or first_place <= second_place:
        names |= _behind(first) & set(ours)
    if not same_order or second_place <= first_place:
        names |= _behind(second) & set(theirs)
    found = set()
    for name in names:
        a, b = ours.get(name), theirs.get(name)
        if a is not None and b is not None and a[0].force == b[0].force and a[1] == b[1]:
            continue
        found.add((level, name, _words(a, b)))
    return found


def _counts_discs(name: str, rules: RuleSet) -> bool:
    for item in rules.criteria:
        if item.id == name and "disc_standing" in elements_of(*item.conditions):
            return True
    return False


def _looks_at_discs(assessment: Assessment) -> bool:
    place = _place(assessment.decision, assessment.rule_set)
    return any(pattern.any_disc for pattern in assessment.rule_set.decisions.rules[place].when)


def causes(one: Assessment, other: Assessment) -> set[Label]:
    """Why a case moves."""
    found = _of_subject(one, other, "")
    through_discs = any(_counts_discs(n, a.rule_set) for _, n, _ in found for a in (one, other))
    if through_discs or _looks_at_discs(one) or _looks_at_discs(other):
        for disc in one.discs:
            found |= _of_subject(one, other, disc.level)
    return found


def _expected(before: Sequence[Assessment], other: RuleSet) -> dict[str, tuple[str, str, set[Label]]]:
    found = {}
    after = each_assessed([each.case for each in before], other, before)
    for a, b in zip(before, after, strict=True):
        if a.standing != b.standing:
            found[a.case.record.id] = a.standing, b.standing, causes(a, b)
    return found


def _labels(because: str) -> set[Label]:
    found = set()
    for text in because.split("; ") if because else ():
        name, words = text.rsplit(": ", 1)
        level, _, criterion = name.rpartition(": ")
        found.add((level, criterion, words))
    return found


def _agree(comparison: Any, before: Sequence[Assessment], other: RuleSet) -> int:
    expected = _expected(before, other)
    rows = records(comparison.cases)
    shown = {
        row["case_id"]: (row["standing_one"], row["standing_other"], _labels(row["because"])) for row in rows
    }
    assert shown == expected
    assert [row["case_id"] for row in rows] == sorted(expected)
    counted: Counter[tuple[str, str, str, str]] = Counter()
    for start, end, labels in expected.values():
        counted.update({(start, end, name, words) for _, name, words in labels} or {(start, end, "", "")})
    moves = records(comparison.moves)
    assert {(r["from"], r["to"], r["criterion"], r["change"]): r["cases"] for r in moves} == counted
    assert [r["cases"] for r in moves] == sorted(counted.values(), reverse=True)
    assert (comparison.one, comparison.other, comparison.count) == (
        before[0].rule_set.id,
        other.id,
        len(expected),
    )
    assert set(comparison.cases.dtypes.astype(str)) == {"string"}
    assert comparison.moves.dtypes.astype(str)["cases"] == "Int64"
    return len(expected)


@pytest.mark.parametrize("name", ["wide_screen", "report_completeness"])
def test_moves_to_another_rule_set_are_those_of_the_single_assessments(
    name: str, cohort: Any, assessed: Sequence[Assessment]
) -> None:
    other = shipped(name)
    assert _agree(cohort.compare(other), assessed, other) > 20


def test_a_trial_moves_cases_because_of_what_was_tried_alone(
    cohort: Any, assessed: Sequence[Assessment], some_rules: RuleSet
) -> None:
    trial = some_rules.with_trial(
        {("body_mass_index_limit", "bmi_upper_limit"): 25, ("number_of_discs_to_treat", "most_discs"): 1}
    )
    comparison = cohort.compare(trial)
    assert _agree(comparison, assessed, trial) > 2
    tried = {"body_mass_index_limit", "number_of_discs_to_treat"}
    assert {row["criterion"] for row in records(comparison.moves)} <= tried


def test_a_trial_of_a_disc_names_its_disc(
    cohort: Any, assessed: Sequence[Assessment], some_rules: RuleSet
) -> None:
    trial = some_rules.with_trial({("degeneration_grade_window", "imaging_max_age"): 1})
    comparison = cohort.compare(trial)
    assert _agree(comparison, assessed, trial) > 2
    named = {level for row in records(comparison.cases) for level, _, _ in _labels(row["because"]) if level}
    assert named >= {"L4-L5"}


@only_deep
def test_the_distributed_engine_says_the_same(
    spark_cohort: Any, few_cases: Sequence[Case], few_rules: RuleSet
) -> None:
    other = part_of(
        shipped("wide_screen"), ("age_lower_limit", "displacement_limit", "number_of_discs_to_treat")
    )
    assert _agree(spark_cohort.compare(other), each_assessed(few_cases, few_rules), other) > 3


def test_a_rule_set_compared_with_itself_moves_nobody(cohort: Any, some_rules: RuleSet) -> None:
    comparison = cohort.compare(some_rules)
    assert len(comparison.cases) == 0
    assert list(comparison.cases.columns) == ["case_id", "standing_one", "standing_other", "because"]
    assert len(comparison.moves) == 0
    assert {"from", "to", "criterion", "change", "cases"} == set(comparison.moves.columns)


REFERENCES = ("four o'clock", 'the "second"', "a, b; c", "L4-L5: x; y: z", "Größe 椎間盤", "=1+1", "%s {0} \\n \\", "x y",
              "-5", "007")  # fmt: skip


@pytest.fixture(scope="module")
def odd() -> Any:
    frame = pd.DataFrame(
        {"case_id": REFERENCES, "cauda_equina_signs": ["false"] * 10, "age [year]": ["40"] * 10,
         "body_mass_index [kg/m2]": ["36"] * 9 + ["28"], "discs_under_consideration": ["L4-L5"] * 10,
         "L4-L5 displacement": ["bulge"] * 10, "facts_date": ["2026-11-01"] * 10}
    )  # fmt: skip
    with screen(frame, part_of(shipped("practice_baseline"), FEW), AS_OF) as cohort:
        yield cohort


def test_odd_case_references_stay_as_they_are(odd: Any) -> None:
    assert set(odd.outcomes()["case_id"]) == set(REFERENCES)
    trial = odd.rule_set.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
    cases = odd.compare(trial).cases.set_index("case_id")
    assert set(cases.index) == set(REFERENCES) - {"007"}
    assert set(cases["because"]) == {"body_mass_index_limit: fail becomes pass"}


def test_an_odd_case_reference_opens_its_own_row(odd: Any) -> None:
    standing = odd.outcomes().set_index("case_id")["standing"]
    for reference in REFERENCES:
        assert odd.open_case(reference).standing == standing[reference], reference
    assert standing["007"] != standing["-5"]
