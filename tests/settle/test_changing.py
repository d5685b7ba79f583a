"""What would change a standing: every change offered is tried, as small as it may be, and nothing is offered that is history."""

from datetime import timedelta
from functools import cache
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.assessment.assess import Assessment, assess
from candidacy.case.load import case_from_mapping, load_case
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import RuleError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import point
from candidacy.rules.libraries import shipped
from candidacy.settle.changing import MEASURED, Change, change
from candidacy.settle.situation import Reply
from candidacy.settle.suppose import Supposing
from tests.reads import AS_OF, criterion
from tests.settle.made import bare


@cache
def demo(name: str) -> tuple[Assessment, Change]:
    case = load_case(demo_cases_folder() / f"{name}.yaml")
    found = assess(case, shipped().rule_set("practice_baseline"), AS_OF, "direct")
    return found, change(found)


NAMES = (
    "heavy-patient-for-conference", "older-patient-for-conference", "extruded-disc", "pregnant", "stale-mri",
    "discography-nine-days-ago", "three-discs-considered", "morning-with-reasons-to-wait", "cauda-equina-signs",
)  # fmt: skip


def _outcome(found: Assessment, criterion: str, subject: str) -> str:
    return next(r.outcome for r in found.results if (r.id, r.subject) == (criterion, subject))


@pytest.mark.parametrize("name", NAMES)
def test_every_change_that_is_offered_makes_its_criterion_pass(name: str) -> None:
    found, told = demo(name)
    if found.standing == "urgent":
        assert told == Change("urgent")
        return
    aside = {d.level for d in found.discs if d.considered is Truth.NOT_MET}
    failing = {
        (r.id, r.subject)
        for r in found.results
        if r.outcome == "fail" and r.resolved.force != "advisory" and r.subject not in aside
    }
    by_discs = {key for key, m in found.outlook.mendings.items() if m.how == "discs" and m.outcome == "fail"}
    told_of = {(c.mending.criterion, c.mending.subject) for c in told.mendable}
    told_of |= {(r.id, r.subject) for r in told.not_mendable}
    assert told_of | by_discs & failing == failing
    for each in told.mendable:
        key = each.mending.criterion, each.mending.subject
        if each.shown_by == "day":
            assert each.day is not None
            assert _outcome(assess(found.case, found.rule_set, each.day), *key) == "pass"
            assert _outcome(assess(found.case, found.rule_set, each.day - timedelta(1)), *key) == "fail"
        elif each.shown_by == "fact":
            assert _outcome(_with(found, *each.replies), *key) == "pass"
        if each.element:
            assert each.element in MEASURED
            assert each.needed is not None
            step = MEASURED[each.element] * (1 if each.at_most else -1)
            less = Reply(each.element, "patient", point(round(each.needed + step, 6)))
            assert _outcome(_with(found, less), *key) != "pass"
    for limit in told.limits:
        toward = 1 if limit.lower else -1
        key = limit.criterion, limit.subject
        fails = _tried(found, limit.criterion, limit.parameter.name, limit.value + toward * 1e-4)
        assert fails is None or _outcome(fails, *key) == "fail"
        does = _tried(found, limit.criterion, limit.parameter.name, limit.value - toward * 1e-4)
        at = _tried(found, limit.criterion, limit.parameter.name, limit.value)
        if limit.allowed:
            assert limit.standing is not None
            assert does is None or _outcome(does, *key) == "pass"
            assert at is None or (_outcome(at, *key) == "pass") == limit.included


def _with(found: Assessment, *replies: Reply) -> Assessment:
    case = replace(found.case, facts=Supposing(found).facts(replies))
    return assess(case, found.rule_set, found.as_of)


def _tried(found: Assessment, criterion: str, parameter: str, value: float) -> Assessment | None:
    try:
        rules = found.rule_set.with_trial(
            {(criterion, parameter): int(value) if float(value).is_integer() else value}
        )
    except RuleError:
        return None
    return found.again(rule_set=rules)


def test_the_weight_is_told_at_this_height_and_the_limit_that_decides() -> None:
    found, told = demo("heavy-patient-for-conference")
    (weight,) = told.mendable
    height = found.view.fact("body_height", "patient").value
    assert weight.element == "body_weight"
    assert weight.at_most
    assert weight.needed is not None
    assert height is not None
    assert weight.needed / (height.low / 100) ** 2 < 35 <= (weight.needed + 0.1) / (height.low / 100) ** 2  # type: ignore[union-attr]
    assert told.together == "candidate"
    (limit,) = told.limits
    assert (limit.parameter.name, limit.included, limit.standing) == ("bmi_upper_limit", False, "candidate")
    assert round(limit.value, 1) == 38.4


def test_an_age_is_not_offered_as_a_change_but_the_limit_is_named() -> None:
    _, told = demo("older-patient-for-conference")
    assert told.mendable == ()
    assert [r.id for r in told.not_mendable] == ["age_upper_limit"]
    (limit,) = told.limits
    assert (limit.value, limit.included, limit.lower, limit.standing) == (74, True, False, "candidate")


@given(
    limit=st.integers(50, 90),
    value=st.integers(40, 140),
    op=st.sampled_from(("at_most", "less_than", "at_least")),
)
@settings(max_examples=25, deadline=None)
def test_the_amount_is_the_least_that_does(limit: int, value: int, op: str) -> None:
    # a high value of the first is a danger, which a criterion that asks for at least so much does not weigh
    element, unit, by = ("body_mass_index", "kg/m2", 2) if op == "at_least" else ("hba1c", "%", 10)
    item = criterion(
        f"{{element: {element}, op: {op}, value: {{parameter: wanted}}}}", kind="inclusion", force="relative", id="made_limit",
        parameters={"wanted": (limit / by, unit)},
        mendable={"how": "time", "act": "a new value is within the limit", "who": "treating_clinician"},
    )  # fmt: skip
    rules = replace(bare(), criteria=(item,), companions=())
    case = case_from_mapping(
        {"schema_version": "1", "id": "made", "patient": {element: {"value": value / by, "unit": unit}}}
    )
    found = assess(case, rules, AS_OF, "direct")
    told = change(found)
    if found.standing != "borderline":
        assert told.mendable == ()
        assert told.limits == ()
        return
    (each,) = told.mendable
    wanted = {"at_most": limit, "less_than": limit - 1, "at_least": limit}[op]
    assert each.needed == wanted / by
    assert each.at_most == (op != "at_least")
    assert told.together == "candidate"
    (boundary,) = told.limits
    assert boundary.value == value / by
    assert boundary.included == (op != "less_than")
    assert boundary.standing == "candidate"


def test_no_score_no_duration_and_no_history_is_among_what_can_be_measured_otherwise() -> None:
    history = {"age", "pain_duration", "conservative_care_duration", "odi_percent", "phq9_total", "gad7_total",
               "back_pain_nrs_average", "cancer_free_duration"}  # fmt: skip
    assert not history & set(MEASURED)
    rng = Random(1)
    item = criterion(
        "{element: phq9_total, op: less_than, value: {parameter: most}}", force="relative", id="made_score",
        parameters={"most": 20}, mendable={"how": "act", "act": "it has been treated", "who": "treating_clinician"},
    )  # fmt: skip
    case = case_from_mapping(
        {"schema_version": "1", "id": "made", "patient": {"phq9_total": {"value": rng.randint(20, 27)}}}
    )
    told = change(assess(case, replace(bare(), criteria=(item,), companions=()), AS_OF, "direct"))
    (each,) = told.mendable
    assert each.element == ""
    assert each.needed is None
