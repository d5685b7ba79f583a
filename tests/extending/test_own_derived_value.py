"""A value of one's own making: worked out in a script, stated with where it comes from, and read like any other fact.

Here the week's average of a pain diary. What the script cannot work out it states as unknown with the reason: it fills no gap,
and a value without its sources would not be traceable.
"""

import pytest

import candidacy

DAY = "2026-12-02"
DIARY = {
    "2026-11-24": 6,
    "2026-11-25": 7,
    "2026-11-26": 8,
    "2026-11-27": 7,
    "2026-11-28": 6,
    "2026-11-29": 7,
    "2026-11-30": 8,
}


def with_diary_average(case: candidacy.Case, diary: dict[str, int]) -> candidacy.Case:
    """The case with the average pain of seven days in a row, dated at the last of them."""
    case = case.with_document("diary", "questionnaire", date=max(diary, default=None), title="Pain diary")
    if len(diary) < 7:
        return case.with_fact(
            "back_pain_nrs_average", unknown="not_readable", source="diary", note="fewer than seven days"
        )
    words = ", ".join(f"{day}: {score}" for day, score in sorted(diary.items()))
    return case.with_fact("back_pain_nrs_average", sum(diary.values()) / len(diary), source="diary", words=words,
                          by="script", note="average of seven days")  # fmt: skip


@pytest.fixture
def case() -> candidacy.Case:
    return candidacy.load_case(candidacy.demo_cases()["one-disc-candidate"])


def reading(answer: candidacy.Answer) -> set[str]:
    return {
        c.outcome
        for c in answer.criteria
        if c.subject == "patient"
        and "back_pain_nrs_average" in {t.element for t in (c.tests, *c.tests.parts)}
    }


def test_the_value_is_read_with_its_words_and_date(case: candidacy.Case):
    answer = candidacy.assess(with_diary_average(case, DIARY), as_of=DAY)
    assert reading(answer) == {"pass"}
    fact = next(
        f for f in answer.document.facts if f.element == "back_pain_nrs_average" and f.subject == "patient"
    )
    assert (fact.value, fact.date, fact.recorded_by, fact.document_kind) == (
        "7",
        "2026-11-30",
        "script",
        "questionnaire",
    )
    assert fact.words.startswith("2026-11-24: 6, ")


def test_too_little_gives_no_value_and_no_pass(case: candidacy.Case):
    answer = candidacy.assess(with_diary_average(case, dict(list(DIARY.items())[:6])), as_of=DAY)
    assert reading(answer) == {"undetermined"}
    assert answer.standing == "incomplete"
    assert "back_pain_nrs_average" in {m.element for m in answer.missing}


def test_an_impossible_result_is_refused_with_its_field(case: candidacy.Case):
    with pytest.raises(candidacy.CaseError) as error:
        with_diary_average(case, dict.fromkeys(DIARY, 60))
    assert (error.value.problems[0].code, error.value.problems[0].field) == (
        candidacy.Code.IMPOSSIBLE_VALUE, "patient.back_pain_nrs_average")  # fmt: skip
