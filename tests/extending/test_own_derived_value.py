"""A value of one's own making, in two ways.

Stated: worked out in a script, stated with where it comes from, and read like any other fact. Derived: an element of one's
own library (`candidacy.use_library`) with a formula, worked out for every case and traced to what it read.

Here the week's average of a pain diary. What the script cannot work out it states as unknown with the reason: it fills no gap,
and a value without its sources would not be traceable.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

import candidacy
from candidacy.derive import FORMULAS, Inputs, derives
from candidacy.foundation.values import Span

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


# --- derived: an element in a library of one's own, and its formula

LIBRARY = {
    "sources.yaml": "sources: {our_protocol: {title: Protocol of an invented practice}}",
    "elements/needle.yaml": """
group: needle_access
title: Needle access
elements:
  - {name: skin_to_disc, scope: patient, kind: number, unit: mm, possible: {low: 10, high: 400},
     meaning: Depth from skin to disc along the planned path., found_in: imaging, ask: Depth from skin to disc, burden: imaging}
  - {name: needle_needed, scope: patient, kind: number, unit: mm, possible: {low: 10, high: 500}, derived: true, statable: false,
     reads: [skin_to_disc], meaning: Depth from skin to disc and a length for the hub., found_in: worked out, ask: Needle length, burden: imaging}
""",
    "relations/needle.yaml": """
id: needle
version: 0.1.0
title: Needle access
unrelated: [{elements: [skin_to_disc], because: Nothing else in a record measures it.}]
""",
    "criteria/who/needle_long_enough.yaml": """
id: needle_long_enough
kind: inclusion
title: Needle long enough
subject: patient
group: who
force: relative
status: draft
version: 0.1.0
checked_on: 2026-11-28
why: The needles of the practice are no longer.
when: {element: needle_needed, op: at_most, value: {parameter: longest}}
parameters:
  longest: {value: 180, unit: mm, meaning: Longest needle, cites: [{source: our_protocol, supports: value, tag: local}]}
found: {pass: Needle long enough, fail: Needle too short}
mendable: {how: "no"}
if_unknown: ask
ask_for: Depth from skin to disc
cites: [{source: our_protocol, supports: use, tag: local}]
changes: [{version: 0.1.0, date: 2026-11-28, change: First draft.}]
""",
    "criteria/who/needle_long_enough.cases.yaml": """
- {name: reaches, given: {skin_to_disc: {value: 160, unit: mm}}, expect: pass}
- {name: too short, given: {skin_to_disc: {value: 161, unit: mm}}, expect: fail}
- {name: unknown, expect: undetermined}
""",
    "sets/ours/ruleset.yaml": """
id: ours
version: 0.1.0
extends: wide_screen
reason: The needles of the practice reach only so far.
criteria: [{id: needle_long_enough}]
changes: [{version: 0.1.0, date: 2026-11-28, change: First draft.}]
""",
}


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Path]:
    for place, text in LIBRARY.items():
        (tmp_path / place).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / place).write_text(text.lstrip(), encoding="utf-8")

    @derives("needle_needed")
    def with_hub(inputs: Inputs) -> Span | None:
        """Depth and 20 mm for the hub, as imprecise as the depth; none where the depth is not known."""
        depth = inputs.span("skin_to_disc")
        return None if depth is None else Span(depth.low + 20, depth.high + 20)

    yield tmp_path
    del FORMULAS["needle_needed"]


@pytest.mark.parametrize(("fact", "outcome"), [
    ({"value": 15, "unit": "cm"}, "pass"), ({"value": 170, "unit": "mm"}, "fail"), ({"at_most": 160, "unit": "mm"}, "pass"),
    ({"between": [150, 170], "unit": "mm"}, "undetermined"), ({"unknown": "not_asked"}, "undetermined"),
])  # fmt: skip
def test_an_element_of_ones_own_is_worked_out_and_traced(
    library: Path, fact: dict[str, object], outcome: str
):
    assert candidacy.check_rules(library) == ()
    record = yaml.safe_load("{schema_version: '1', id: x}") | {"patient": {"skin_to_disc": fact}}
    with candidacy.use_library(library):
        answer = candidacy.assess(record, "ours", as_of=DAY)
    assert (
        answer.criterion("needle_long_enough").outcome == outcome
    )  # an answer stays whole when the library is closed
    assert "needle_long_enough" in answer.to_text(full=True) + answer.to_html()
    assert "skin_to_disc" in answer.case._repr_html_()
    read = next(f for f in answer.document.facts if f.element == "needle_needed")
    assert len(read.worked_out_from) == 1
    assert read.known is (outcome != "undetermined" or "between" in fact)


def test_it_cannot_be_stated_and_is_unknown_elsewhere(library: Path):
    record = {"schema_version": "1", "id": "x", "patient": {"needle_needed": {"value": 150, "unit": "mm"}}}
    with candidacy.use_library(library), pytest.raises(candidacy.CaseError, match="worked out"):
        candidacy.load_case(record)
    with pytest.raises(candidacy.CaseError, match="E204"):
        candidacy.load_case(record)
