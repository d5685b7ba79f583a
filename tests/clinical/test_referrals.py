"""Referrals written from the reference sheets and clinical knowledge before any was run: their standing and why.

The expectation is the physician's; where the program differs, the program is looked at first. An expectation is changed only
where it is not defensible on a second reading, and then says so (``revised``).
"""

from functools import cache

from candidacy.assessment.assess import Assessment, Assessor
from candidacy.engine.decision import Decision
from candidacy.foundation.dates import day
from candidacy.foundation.truth import Truth
from candidacy.rules.libraries import shipped
from tests.clinical.referral import case, referrals
from tests.rows import each_row

REFERRALS = referrals()


@cache
def assessor(rules: str) -> Assessor:
    return Assessor(shipped().rule_set(rules))


@cache
def assessment(name: str) -> Assessment:
    referral = REFERRALS[name]
    read = case(referral)
    assert read.record.as_of is not None
    return assessor(referral.rules).assess(read, day(read.record.as_of))


def _because(decision: Decision) -> set[str]:
    """Criteria and facts that made the deciding rule fire; a fact of a disc without its disc."""
    fired = next(fired for fired in decision.fired if fired.rule == decision.rule)
    return {reason.rpartition(": ")[2] for reason in fired.because}


def named(found: Assessment) -> set[str]:
    """Everything that an assessment names as deciding: grounds, missing facts, conflicts, unread dangers."""
    names = _because(found.decision)
    for disc in found.discs:
        if disc.considered is not Truth.NOT_MET:
            names |= _because(disc.decision)
    for missing in found.missing:
        if missing.weight != "no":
            names |= {missing.element, *missing.criteria}
    names |= {fact.element for fact in found.conflicts}
    return names | {unread.fact.element for unread in found.unread if unread.dangers}


def test_there_are_enough_and_of_every_standing() -> None:
    # the promise: at least 120, of which at least 20 are genuine candidates
    assert len(REFERRALS) >= 120
    assert sum(r.expect == ["candidate"] for r in REFERRALS.values()) >= 20
    only = {r.expect[0] for r in REFERRALS.values() if len(r.expect) == 1}
    assert only == {"urgent", "not_candidate", "incomplete", "borderline", "candidate"}


@each_row("name", REFERRALS)
def test_standing_and_what_decides(name: str) -> None:
    referral, found = REFERRALS[name], assessment(name)
    why = f"{referral.because} [{referral.source}]"
    assert found.standing in referral.expect, f"{why} named: {sorted(named(found))}"
    if found.standing != "candidate" and referral.deciding:
        assert named(found) & set(referral.deciding), f"{why} named: {sorted(named(found))}"


def test_none_is_a_candidate_that_should_not_be() -> None:
    wrong = [
        name for name, referral in REFERRALS.items()
        if "candidate" not in referral.expect and assessment(name).standing == "candidate"
    ]  # fmt: skip
    assert wrong == []


def test_none_is_held_back_that_is_a_plain_candidate() -> None:
    wrong = {
        name: assessment(name).standing for name, referral in REFERRALS.items()
        if referral.expect == ["candidate"] and assessment(name).standing != "candidate"
    }  # fmt: skip
    assert wrong == {}
